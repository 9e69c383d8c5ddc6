"""The package as a package: held against its own schema, the counts promised, and its canon."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import frictionless
import pytest

from hotface.units import UNITS, to_si
from hotface_api.load.convert import COLUMN_UNITS
from hotface_seed import PACKAGE_PATH

FOLDER = PACKAGE_PATH.parent
DESCRIPTOR = json.loads(PACKAGE_PATH.read_text(encoding="utf-8"))
TABLES = {r["name"]: r for r in DESCRIPTOR["resources"] if "schema" in r}


def read(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.filterwarnings("default")  # the validator's own dependencies warn
def test_an_independent_validator_finds_nothing_wrong():
    package = frictionless.Package(str(PACKAGE_PATH))
    report = package.validate()
    assert report.stats["tasks"] == len(DESCRIPTOR["resources"])
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])[:10]


@pytest.mark.filterwarnings("default")
def test_the_independent_validator_can_find_something_wrong(tmp_path):
    for name in ("datapackage.json", *(r["path"] for r in DESCRIPTOR["resources"])):
        (tmp_path / name).write_bytes((FOLDER / name).read_bytes())
    cones = (tmp_path / "cones.csv").read_text(encoding="utf-8").replace(",seger,", ",sieger,", 1)
    (tmp_path / "cones.csv").write_text(cones, encoding="utf-8")
    report = frictionless.Package(str(tmp_path / "datapackage.json")).validate()
    assert not report.valid


def test_the_data_set_is_as_large_as_promised(seed):
    held = {row["material"] for row in seed.rows["values"]}
    bodies = [row for row in seed.rows["specimens"] if row["kind"] != "curve"]
    assert len(held) >= 100
    assert len(seed.rows["values"]) >= 2000
    assert len(bodies) >= 200


def test_twenty_aggregates_hold_both_loose_and_grain_density(seed):
    both = [
        name
        for name, row in seed.materials.items()
        if row["kind"] == "aggregate"
        and any(v["basis"] != "memory" for v in seed.held(name, "loose_bulk_density"))
        and any(v["basis"] != "memory" for v in seed.held(name, "particle_density"))
    ]
    assert len(both) >= 20, both


@pytest.mark.parametrize("name", TABLES)
def test_rows_stand_in_the_order_of_their_keys(name):
    key = TABLES[name]["schema"]["primaryKey"]
    keys = [
        tuple(int(row[c]) if c == "position" else row[c].encode() for c in key)
        for row in read(name)
    ]
    assert keys == sorted(keys)


def shortest(cell, unit):
    wanted = to_si(float(cell), unit)
    for digits in range(1, 18):
        number = float(f"{float(cell):.{digits}g}")
        if to_si(number, unit) == wanted:
            return repr(number).removesuffix(".0")
    raise AssertionError


@pytest.mark.parametrize("name", TABLES)
def test_numbers_are_written_as_short_as_they_can_be(name):
    units = COLUMN_UNITS.get(name, {})
    columns = [f["name"] for f in TABLES[name]["schema"]["fields"] if f["type"] == "number"]
    for row in read(name):
        for column in columns:
            if row[column]:
                unit = UNITS[units.get(column, "1")]
                assert row[column] == shortest(row[column], unit), (row, column)


def test_files_are_plain_text_with_one_kind_of_line_end():
    for path in FOLDER.glob("*.csv"):
        content = path.read_bytes()
        assert b"\r" not in content, path.name
        assert not content.startswith(b"\xef\xbb\xbf"), path.name
        assert content.endswith(b"\n"), path.name
        content.decode("utf-8")


def test_texts_hold_no_stray_blanks():
    for name in TABLES:
        for row in read(name):
            for column, cell in row.items():
                assert cell == cell.strip(), (name, column, cell)
                assert "  " not in cell, (name, column, cell)


def test_every_column_of_lists_names_known_things(seed):
    kinds = {row["kind"] for row in seed.rows["materials"]}
    for row in seed.rows["cautions"]:
        for name in filter(None, (row["materials"] or "").split(";")):
            assert name in seed.materials, (row["id"], name)
        for kind in filter(None, (row["kinds"] or "").split(";")):
            assert kind in kinds, (row["id"], kind)
    for row in seed.rows["properties"]:
        assert row["canonical_form"] in (None, *row["forms"].split(";")), row["id"]


def test_units_of_the_reference_tables_are_known_codes(seed):
    known = {None, *UNITS, "h/(25.mm)", "mo"}  # a hold by thickness, months: never converted
    for name in ("classes", "practice"):
        for row in seed.rows[name]:
            assert row["unit"] in known, (row["id"], row["unit"])
    for row in seed.rows["properties"]:
        assert UNITS[row["unit"]].dimension == UNITS[row["unit_us"]].dimension, row["id"]


RULES = {
    "loose below grain below solid",
    "median densities in order",
    "porosity from densities",
    "oxides add up",
    "porous body below its solid",
    "no less than still air",
    "no brand",
    "density of the crystal cell",
    "density in x-ray tables",
    "melting points of other tables",
    "heat capacity of thermochemical tables",
    "heat capacity of a standard table",
}


def test_every_exception_names_its_rule_and_its_reason():
    with (Path(__file__).parent / "exceptions.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert {row["rule"] for row in table} <= RULES
    assert all(len(row["reason"]) > 20 for row in table)
    assert len({(row["rule"], row["row"]) for row in table}) == len(table)
