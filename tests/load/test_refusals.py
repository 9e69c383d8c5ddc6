"""A broken package is refused whole, naming file, row and column; nothing of it is written."""

from __future__ import annotations

import json

import pytest

from hotface_api.load.convert import store_rows
from hotface_api.load.loader import load
from hotface_api.load.package import PackageError, read_package
from support.packages import small_package

VALUE = "demo-perlite.loose_bulk_density.1"  # stands in row 2
LIMIT = "demo-perlite.service_limit.1"


def set_cell(key, **cells):
    def change(rows):
        assert any(row["id"] == key for row in rows)
        return [{**row, **cells} if row["id"] == key else row for row in rows]

    return change


def faults_of(path):
    """What is wrong with a package, whether its files or its figures show it."""
    with pytest.raises(PackageError) as caught:
        store_rows(read_package(path))
    return [(fault.file, fault.row, fault.column) for fault in caught.value.faults]


CELLS = [  # a kind of fault, the table, the row, what is put there, the column named
    ("not a number", "values", VALUE, {"temperature_low": "warm"}, "temperature_low"),
    ("not finite", "values", VALUE, {"moisture": "1e999"}, "moisture"),
    ("not a figure", "values", VALUE, {"printed_typical": "12O"}, "printed_typical"),
    ("another alphabet's digits", "values", VALUE, {"printed_typical": "١٢٠"}, "printed_typical"),
    ("not one of the words", "values", VALUE, {"form": "pile"}, "form"),
    ("not a whole number", "values", VALUE, {"uncertainty_n": "2.5"}, "uncertainty_n"),
    ("below the least", "values", VALUE, {"moisture": "-0.1"}, "moisture"),
    ("required and blank", "values", VALUE, {"bound": ""}, "bound"),
    ("not of the form", "materials", "demo-perlite", {"id": "Demo Perlite"}, "id"),
    ("an unknown unit", "values", VALUE, {"unit": "stone/bushel"}, "unit"),
    ("a unit of another kind", "values", VALUE, {"unit": "Cel"}, "unit"),
    ("out of order", "values", VALUE, {"printed_low": "150"}, "printed_low"),
    ("no figure at all", "values", VALUE, {"printed_typical": ""}, "printed_typical"),
    ("beyond the possible", "values", VALUE, {"printed_typical": "99999"}, "printed_typical"),
    ("one end of a temperature", "values", VALUE, {"temperature_low": "20"}, "temperature_low"),
    ("leads nowhere", "values", VALUE, {"material": "unobtainium"}, "material"),
    ("an unknown source", "values", VALUE, {"source": "nobody-2020"}, "source"),
    ("an unknown partner", "values", VALUE, {"with": "unobtainium"}, "with"),
    ("read but no place", "values", VALUE, {"locator": ""}, "locator"),
    ("quoted but not where", "values", VALUE, {"basis": "quoted"}, "quoted_in"),
    ("memory that cites", "values", VALUE, {"basis": "memory", "origin": ""}, "source"),
    ("cited without origin", "values", VALUE, {"origin": ""}, "origin"),
    ("a role where none belongs", "values", VALUE, {"role": "use_limit"}, "role"),
    ("a limit without role", "values", LIMIT, {"role": ""}, "role"),
    ("an event without kind", "values", LIMIT, {"role": "event"}, "event_kind"),
    ("a form that cannot have it", "values", VALUE, {"form": "paste"}, "form"),
    ("a place in no text", "specimens", "demo-cast-1", {"locator": ""}, "locator"),
    ("an origin nobody knows", "source_notes", "demo-journal-1", {"origin": "x"}, "origin"),
    ("an output unit unknown", "properties", "loose_bulk_density", {"unit": "zork"}, "unit"),
    ("output units unlike", "properties", "loose_bulk_density", {"unit_us": "[degF]"}, "unit_us"),
]


@pytest.mark.parametrize(
    ("table", "key", "cells", "column"),
    [case[1:] for case in CELLS],
    ids=[case[0].replace(" ", "-") for case in CELLS],
)
def test_a_faulty_cell_is_named_by_file_row_and_column(tmp_path, table, key, cells, column):
    path = small_package(tmp_path, {table: set_cell(key, **cells)})
    rows = (tmp_path / f"{table}.csv").read_text(encoding="utf-8").splitlines()
    number = next(n for n, row in enumerate(rows, 1) if row.startswith(cells.get("id", key)))
    assert (f"{table}.csv", number, column) in faults_of(path)


def test_the_small_package_itself_is_sound(tmp_path):
    assert store_rows(read_package(small_package(tmp_path)))["values"]


def test_an_id_given_twice_is_named_with_its_first_row(tmp_path):
    path = small_package(tmp_path, {"values": lambda rows: [*rows, rows[0]]})
    with pytest.raises(PackageError) as caught:
        read_package(path)
    fault = caught.value.faults[0]
    assert (fault.file, fault.column) == ("values.csv", "id")
    assert "row 2" in fault.message


def test_a_position_in_a_recipe_given_twice_is_named(tmp_path):
    twice = {"specimen_constituents": lambda rows: [{**row, "position": "1"} for row in rows]}
    assert ("specimen_constituents.csv", 3, "position") in faults_of(small_package(tmp_path, twice))


@pytest.mark.parametrize("name", ["values.csv", "sources.json", "left_out.csv"])
def test_a_missing_file_is_named(tmp_path, name):
    path = small_package(tmp_path)
    (tmp_path / name).unlink()
    assert (name, None, None) in faults_of(path)


def test_every_fault_is_listed_and_no_more_than_fifty(tmp_path):
    path = small_package(
        tmp_path, {"values": lambda rows: [{**row, "bound": "is it"} for row in rows]}
    )
    with pytest.raises(PackageError) as caught:
        read_package(path)
    assert len(caught.value.faults) == 50
    assert "and " in str(caught.value)


def rewrite(path, change):
    path.write_bytes(change(path.read_bytes()))


@pytest.mark.parametrize(
    ("change", "row"),
    [
        (lambda text: text.replace(b"printed_unit", b"printed_units", 1), 1),
        (lambda text: text.replace(b"id,material", b"material,id", 1), 1),
        (lambda text: text.replace(b",heap,", b",heap,,", 1), 2),
        (lambda text: text.replace(b"demo-perlite,", b'"demo-perlite,', 1), None),
        (lambda text: text.replace(b"demo", b"d\xffmo", 1), None),
        (lambda _text: b"", 1),
    ],
    ids=["header", "order", "cells", "quote", "encoding", "empty"],
)
def test_a_file_that_is_no_such_table_is_named(tmp_path, change, row):
    path = small_package(tmp_path)
    rewrite(tmp_path / "values.csv", change)
    found = [fault for fault in faults_of(path) if fault[0] == "values.csv"]
    assert found
    assert row is None or found[0][1] == row


ITEMS = [
    ("id", {"id": 7}),
    ("type", {"type": "scroll"}),
    ("title", {"title": ""}),
    ("author", {"author": "Müller"}),
    ("author", {"author": [{"given": "Ann"}]}),
    ("issued", {"issued": {"date-parts": [["last year"]]}}),
    ("issued", {"issued": "1999"}),
    ("DOI", {"DOI": "doi:10.1000/x"}),
    ("URL", {"URL": "example"}),
    ("volume", {"volume": ["7"]}),
]


@pytest.mark.parametrize(("field", "cells"), ITEMS, ids=[f"{c}" for _, c in ITEMS])
def test_a_bad_citation_is_named_by_its_place_and_field(tmp_path, field, cells):
    path = small_package(tmp_path)
    items = json.loads((tmp_path / "sources.json").read_text(encoding="utf-8"))
    items[1] |= cells
    (tmp_path / "sources.json").write_text(json.dumps(items), encoding="utf-8")
    assert ("sources.json", 2, field) in faults_of(path)


@pytest.mark.parametrize("text", ["", "{", "[1]", "{}", '[{"title": "no id"}]', "[" * 100_000])
def test_sources_that_are_no_list_of_citations_are_refused(tmp_path, text):
    path = small_package(tmp_path)
    (tmp_path / "sources.json").write_text(text, encoding="utf-8")
    assert any(fault[0] in ("sources.json", "source_notes.csv") for fault in faults_of(path))


def test_a_source_stands_in_both_files_or_in_none(tmp_path):
    path = small_package(tmp_path)
    items = json.loads((tmp_path / "sources.json").read_text(encoding="utf-8"))
    extra = {**items[0], "id": "demo-extra-1"}
    (tmp_path / "sources.json").write_text(json.dumps([*items[1:], extra]), encoding="utf-8")
    found = faults_of(path)
    assert ("source_notes.csv", 2, "id") in found
    assert ("sources.json", None, "id") in found


def descriptor_without(resource):
    def change(content):
        content["resources"] = [r for r in content["resources"] if r["name"] != resource]

    return change


def fields(content, resource):
    return next(r for r in content["resources"] if r["name"] == resource)["schema"]["fields"]


def drop_column(content):
    fields(content, "values")[:] = [f for f in fields(content, "values") if f["name"] != "bound"]


def add_column(content):
    fields(content, "values").append({"name": "mood", "type": "string"})


def change_type(content):
    next(f for f in fields(content, "values") if f["name"] == "moisture")["type"] = "string"


def lose_schema(content):
    del next(r for r in content["resources"] if r["name"] == "cones")["schema"]["primaryKey"]


@pytest.mark.parametrize(
    ("change", "column"),
    [
        (descriptor_without("origins"), None),
        (descriptor_without("sources"), None),
        (drop_column, "bound"),
        (add_column, "mood"),
        (change_type, "moisture"),
        (lose_schema, None),
    ],
    ids=["no-table", "no-sources", "no-column", "unknown-column", "other-type", "no-key"],
)
def test_a_descriptor_of_other_tables_is_refused(tmp_path, change, column):
    path = small_package(tmp_path)
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content), encoding="utf-8")
    assert ("datapackage.json", None, column) in faults_of(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"resources": 3}', "{" * 100_000])
def test_a_descriptor_that_is_none_is_refused(tmp_path, text):
    path = small_package(tmp_path)
    path.write_text(text, encoding="utf-8")
    assert faults_of(path) == [("datapackage.json", None, None)]


@pytest.mark.parametrize("name", ["../values.csv", "/etc/passwd", "a/values.csv", "", "C:x.csv"])
def test_a_resource_outside_the_package_is_not_read(tmp_path, name):
    path = small_package(tmp_path / "package")
    (tmp_path / "values.csv").write_bytes((tmp_path / "package" / "values.csv").read_bytes())
    content = json.loads(path.read_text(encoding="utf-8"))
    next(r for r in content["resources"] if r["name"] == "values")["path"] = name
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(PackageError, match="plain file name"):
        read_package(path)


def test_nothing_is_written_of_a_refused_package(migrated, tmp_path):
    broken = small_package(tmp_path, {"values": set_cell(VALUE, unit="stone/bushel")})
    with pytest.raises(PackageError, match=r"values\.csv, row 2, column unit"):
        load(migrated, broken)
    assert migrated.revision() == 0
    assert load(migrated, small_package(tmp_path)).revision == 1


def test_what_only_the_database_refuses_is_a_fault_too(migrated, tmp_path):
    path = small_package(tmp_path, {"values": set_cell(VALUE, fill="thrown")})
    content = json.loads(path.read_text(encoding="utf-8"))
    del next(f for f in fields(content, "values") if f["name"] == "fill")["constraints"]
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(PackageError, match=r"values\.csv: the database refuses a row"):
        load(migrated, path)
    assert migrated.revision() == 0
