"""Export: the seed comes back byte for byte, and so does what was exported and loaded again."""

from __future__ import annotations

import csv
import io
import json
import math
import zipfile
from datetime import UTC, datetime

import frictionless
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import insert

from hotface.units import UNITS, to_si
from hotface_api.http.bibtex import entries
from hotface_api.load.export import BIBLIOGRAPHY, RevisionError, _number, export
from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_api.store.models import Revision, Value
from hotface_api.store.read import find, table
from hotface_seed import PACKAGE_PATH
from support.packages import small_package

CONTRIBUTION = {
    "id": "c-1",
    "contributor": "ann",
    "licence": "CC0-1.0",
    "basis": "measured",
    "printed_typical": "7.5",
    "printed_unit": "pcf",
    "unit": "[lb_av]/[cft_i]",
    "typical": 7.5 * 0.45359237 / 0.3048**3,
    "condition_text": 'poured, "as it fell", dry\nshaken',
    "duration": 420.0,
    "age": 1 / 3 * 86400,
    "grain_size_low": 0.1 / 3,
    "load": 1e5 / 7,
    "temperature_low": 293.15,
    "temperature_high": 296.483333333333,
    "status": "accepted",
    "version": 2,
    "uncertainty_standard": 0.1 + 0.2,
    "method": '=HYPERLINK("http://example.org")',
    "locator": "'-page",
    "note": "-4.5",
}


def exported(database, revision=None):
    target = io.BytesIO()
    export(database, revision or database.revision(), target, entries)
    return target.getvalue()


def members(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def fresh(tmp_path, name):
    database = Database(f"sqlite:///{tmp_path / name}.sqlite3")
    schema.migrate(database)
    return database


def contribute(database, **cells):
    number = database.revision() + 1
    with database.write() as connection:
        connection.execute(
            insert(Revision).values(
                number=number,
                made_at=datetime.now(UTC),
                kind="contribution",
                summary="a test",
                package_version=None,
                content_digest=None,
            )
        )
        base = find(connection, Value, number, "demo-perlite.loose_bulk_density.1")
        row = {**base, **CONTRIBUTION, "from_revision": number, **cells}
        del row["row"]
        connection.execute(insert(table(Value)), [row])


@pytest.fixture
def contributed(migrated, tmp_path):
    load(migrated, small_package(tmp_path / "small"))
    contribute(migrated)
    return migrated


def test_the_freshly_loaded_seed_comes_back_byte_for_byte(database):
    files = members(exported(database))
    for resource in json.loads(PACKAGE_PATH.read_text(encoding="utf-8"))["resources"]:
        path = PACKAGE_PATH.parent / resource["path"]
        assert files[resource["path"]] == path.read_bytes(), resource["path"]


def test_the_descriptor_is_the_seeds_with_the_bibliography_added(database):
    files = members(exported(database))
    ours = json.loads(PACKAGE_PATH.read_text(encoding="utf-8"))
    theirs = json.loads(files["datapackage.json"])
    assert theirs["resources"][:-1] == ours["resources"]
    assert theirs["resources"][-1]["path"] == BIBLIOGRAPHY
    assert {k: v for k, v in theirs.items() if k != "resources"} == {
        k: v for k, v in ours.items() if k != "resources"
    }
    assert files[BIBLIOGRAPHY].decode().count("\n@") > 700


@pytest.mark.filterwarnings("default")
def test_an_independent_validator_accepts_what_is_exported(database, tmp_path):
    for name, content in members(exported(database)).items():
        (tmp_path / name).write_bytes(content)
    report = frictionless.Package(str(tmp_path / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "message"])[:10]


def test_exporting_twice_gives_the_same_bytes(database):
    assert exported(database) == exported(database)


def test_loaded_again_and_exported_again_it_is_the_same_bytes(contributed, tmp_path):
    content = exported(contributed)
    (tmp_path / "all.zip").write_bytes(content)
    second = fresh(tmp_path, "second")
    load(second, tmp_path / "all.zip")
    assert second.revision() == 1
    assert exported(second) == content
    second.close()


def test_the_seed_exported_and_loaded_over_itself_changes_nothing(database, tmp_path):
    (tmp_path / "all.zip").write_bytes(exported(database))
    second = fresh(tmp_path, "second")
    load(second, PACKAGE_PATH)
    assert not load(second, tmp_path / "all.zip").changed
    second.close()


def test_an_export_loaded_over_its_own_database_moves_no_row(contributed, tmp_path):
    (tmp_path / "all.zip").write_bytes(exported(contributed))
    report = load(contributed, tmp_path / "all.zip")
    assert (report.opened, report.closed) == (0, 0)


def test_what_was_contributed_is_in_it_with_its_contributor(contributed):
    text = members(exported(contributed))["values.csv"].decode()
    (line,) = [row for row in text.splitlines() if row.startswith("c-1,")]
    assert ",7.5,,pcf,[lb_av]/[cft_i]," in line
    assert "ann,CC0-1.0" in text


def test_a_formula_of_a_contributor_is_made_harmless_and_comes_back_as_it_was(
    contributed, tmp_path
):
    content = exported(contributed)
    rows = csv.DictReader(io.StringIO(members(content)["values.csv"].decode(), newline=""))
    told = {row["id"]: row for row in rows}["c-1"]
    assert told["method"] == f"'{CONTRIBUTION['method']}"
    assert (told["locator"], told["note"]) == ("''-page", "-4.5")
    package = tmp_path / "all.zip"
    package.write_bytes(content)
    again = fresh(tmp_path, "again")
    load(again, package)
    with again.read() as connection:
        held = find(connection, Value, 1, "c-1")
    assert {name: held[name] for name in ("method", "locator", "note")} == {
        name: CONTRIBUTION[name] for name in ("method", "locator", "note")
    }
    again.close()


def test_pending_and_withdrawn_rows_are_not_in_it(contributed):
    contribute(contributed, id="c-2", status="pending", from_revision=None)
    contribute(contributed, id="c-3", status="withdrawn", from_revision=1, to_revision=2)
    text = members(exported(contributed))["values.csv"].decode()
    assert "c-1," in text
    assert "c-2," not in text
    assert "c-3," not in text


def test_an_older_revision_is_exported_as_it_was(contributed):
    assert b"c-1," not in members(exported(contributed, 1))["values.csv"]
    assert b"c-1," in members(exported(contributed, 2))["values.csv"]


@pytest.mark.parametrize("revision", [0, -1, 99])
def test_a_revision_that_is_not_held_is_refused(contributed, revision):
    with pytest.raises(RevisionError, match="the latest is 2"):
        export(contributed, revision, io.BytesIO(), entries)


def test_an_empty_database_has_nothing_to_export(migrated):
    with pytest.raises(RevisionError, match="the latest is 0"):
        export(migrated, 1, io.BytesIO(), entries)


def test_a_file_is_replaced_only_when_the_package_is_whole(contributed, tmp_path):
    target = tmp_path / "out" / "all.zip"
    target.parent.mkdir()
    target.write_bytes(b"yesterday")

    def failing(_items):
        raise RuntimeError("no bibliography today")

    with pytest.raises(RuntimeError):
        export(contributed, 1, target, failing)
    assert target.read_bytes() == b"yesterday"
    assert list(target.parent.iterdir()) == [target]
    export(contributed, 1, target, entries)
    assert members(target.read_bytes())["values.csv"]
    assert list(target.parent.iterdir()) == [target]


def test_both_databases_export_the_same_bytes(contributed, tmp_path):
    other = fresh(tmp_path, "other")
    load(other, tmp_path / "small" / "datapackage.json")
    contribute(other)
    assert exported(other) == exported(contributed)
    other.close()


def test_members_tell_nothing_of_time_or_place(contributed):
    with zipfile.ZipFile(io.BytesIO(exported(contributed))) as archive:
        for member in archive.infolist():
            assert member.date_time == (1980, 1, 1, 0, 0, 0)
            assert member.extra == b""
            assert "/" not in member.filename


finite = st.floats(min_value=-1e12, max_value=1e12, allow_nan=False)


@given(finite, st.sampled_from(["1", "Cel", "mm", "h", "d", "MPa", "K/h"]))
def test_a_decimal_of_the_package_is_written_back_as_it_was(number, code):
    unit = UNITS[code]
    stored = to_si(float(f"{number:.9g}"), unit)
    written = _number(stored, unit)
    assert to_si(float(written), unit) == stored
    assert len(written) <= len(repr(float(f"{number:.9g}")).removesuffix(".0")) or "e" in written


@given(finite, st.sampled_from(["1", "Cel", "mm", "h", "d", "MPa", "K/h"]))
def test_any_stored_number_settles_after_one_writing(stored, code):
    unit = UNITS[code]
    once = _number(stored, unit)
    again = to_si(float(once), unit)
    assert math.isclose(again, stored, rel_tol=1e-15, abs_tol=1e-12)
    assert _number(again, unit) == once
