"""Editions: what a newer package closes and opens, and what it must leave alone."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import func, insert, select, update

from hotface_api.load.loader import load
from hotface_api.store.models import RESOURCES, Cone, Revision, Value
from hotface_api.store.read import find, held, table
from hotface_seed import PACKAGE_PATH
from support.packages import small_package

MENDED = "demo-perlite.service_limit.2"
DROPPED = "demo-perlite.melting_temperature.1"


def mend(rows):
    """Change one figure, drop one row, add one."""
    kept = [
        {**row, "printed_typical": "961"} if row["id"] == MENDED else row
        for row in rows
        if row["id"] != DROPPED
    ]
    return [*kept, {**kept[0], "id": "demo-perlite.loose_bulk_density.77"}]


@pytest.fixture
def first(tmp_path):
    return small_package(tmp_path / "first")


@pytest.fixture
def second(tmp_path):
    return small_package(tmp_path / "second", {"values": mend})


def open_rows(database, model=Value):
    columns = table(model).c
    with database.read() as connection:
        rows = connection.execute(select(table(model)).where(columns.to_revision.is_(None)))
        return {row.id: row for row in rows}


def test_loading_twice_changes_nothing(migrated, first):
    once = load(migrated, first)
    again = load(migrated, first)
    assert once.changed
    assert once.opened > 100
    assert again == (once.revision, 0, 0, False)
    assert migrated.revision() == once.revision == 1


def test_line_ends_make_no_new_edition(migrated, first):
    load(migrated, first)
    for path in first.parent.glob("*.csv"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert not load(migrated, first).changed


def test_a_newer_package_closes_and_opens_only_what_changed(migrated, first, second):
    load(migrated, first)
    before = open_rows(migrated)
    report = load(migrated, second)
    assert report == (2, 2, 2, True)
    after = open_rows(migrated)
    assert set(before) - set(after) == {DROPPED}
    assert set(after) - set(before) == {"demo-perlite.loose_bulk_density.77"}
    moved = {key for key, row in after.items() if row.from_revision == 2}
    assert moved == {MENDED, "demo-perlite.loose_bulk_density.77"}


def test_each_revision_still_reads_as_it_did(migrated, first, second):
    load(migrated, first)
    with migrated.read() as connection:
        then = {
            name: held(connection, model, 1)
            for name, model in RESOURCES.items()
            if name != "specimen_constituents"
        }
    load(migrated, second)
    with migrated.read() as connection:
        for name, rows in then.items():
            now = held(connection, RESOURCES[name], 1)
            assert [without_end(r) for r in now] == [without_end(r) for r in rows], name
        assert find(connection, Value, 1, MENDED)["printed_typical"] != "961"
        assert find(connection, Value, 2, MENDED)["printed_typical"] == "961"
        assert find(connection, Value, 2, DROPPED) is None


def without_end(row):
    return {column: cell for column, cell in row.items() if column != "to_revision"}


def test_going_back_to_the_first_edition_opens_it_as_a_third_revision(migrated, first, second):
    load(migrated, first)
    load(migrated, second)
    assert load(migrated, first) == (3, 2, 2, True)


def contribute(database, **cells):
    """Write an accepted contribution as the ledger does: its own revision, and its row."""
    number = database.revision() + 1
    with database.write() as connection:
        connection.execute(
            insert(Revision).values(
                number=number,
                made_at=datetime.now(UTC),
                kind=cells.pop("kind", "contribution"),
                summary="a test",
                package_version=None,
                content_digest=None,
            )
        )
        base = find(connection, Value, number, "demo-perlite.loose_bulk_density.1")
        row = {**base, "id": "contributed-1", "contributor": "ann", "basis": "measured"}
        del row["row"]
        row |= {"from_revision": number, "status": "accepted", "version": 3, **cells}
        connection.execute(insert(table(Value)), [row])
    return number


def test_contributed_rows_survive_a_newer_package(migrated, first, second):
    load(migrated, first)
    contribute(migrated)
    load(migrated, second)
    row = open_rows(migrated)["contributed-1"]
    assert (row.contributor, row.version, row.to_revision) == ("ann", 3, None)


def test_what_a_contribution_rests_on_stays_open(migrated, first, tmp_path):
    load(migrated, first)
    contribute(migrated, material="demo-sand")
    bare = {
        "materials": lambda rows: [r for r in rows if r["id"] != "demo-sand"],
        "values": lambda rows: [r for r in rows if "demo-sand" not in (r["material"], r["with"])],
        "specimen_constituents": lambda rows: [r for r in rows if r["material"] != "demo-sand"],
        "cautions": lambda _rows: [],
    }
    load(migrated, small_package(tmp_path / "bare", bare))
    materials = open_rows(migrated, RESOURCES["materials"])
    assert materials["demo-sand"].to_revision is None


def close(database, key, kind):
    number = database.revision() + 1
    with database.write() as connection:
        connection.execute(
            insert(Revision).values(
                number=number,
                made_at=datetime.now(UTC),
                kind=kind,
                summary="a test",
                package_version=None,
                content_digest=None,
            )
        )
        columns = table(Value).c
        closed = update(table(Value)).where(columns.id == key, columns.to_revision.is_(None))
        connection.execute(closed.values(to_revision=number))


@pytest.mark.parametrize("kind", ["correction", "withdrawal"])
def test_what_was_withdrawn_is_not_brought_back_by_a_package_that_repeats_it(
    migrated, first, second, kind
):
    key = "demo-perlite.true_density.1"
    load(migrated, first)
    close(migrated, key, kind)
    load(migrated, second)
    assert key not in open_rows(migrated)


def test_what_was_withdrawn_comes_back_when_a_package_mends_it(migrated, first, tmp_path):
    key = "demo-perlite.true_density.1"
    load(migrated, first)
    close(migrated, key, "withdrawal")

    def mended(rows):
        return [{**row, "locator": "p. 2"} if row["id"] == key else row for row in rows]

    load(migrated, small_package(tmp_path / "mended", {"values": mended}))
    assert open_rows(migrated)[key].locator == "p. 2"


def test_progress_is_told_for_every_table_that_changes(migrated, first):
    told = []
    load(migrated, first, lambda *step: told.append(step))
    last = {name: (done, total) for name, done, total in told}
    assert set(last) == {name for name in RESOURCES if last.get(name)}
    assert {"values", "materials", "sources"} <= set(last)
    assert all(done == total > 0 for done, total in last.values())


def test_progress_over_the_seed_goes_up_in_steps(migrated):
    told = []
    load(migrated, PACKAGE_PATH, lambda *step: told.append(step))
    steps = [done for name, done, _ in told if name == "values"]
    assert steps == sorted(steps)
    assert len(steps) > 3


def test_the_whole_seed_arrives(migrated, statements):
    with statements(migrated) as run:
        report = load(migrated, PACKAGE_PATH)
    with migrated.read() as connection:
        for name, model in RESOURCES.items():
            assert connection.scalar(select(func.count()).select_from(table(model))) > 0, name
        assert connection.scalar(select(func.count()).select_from(table(Cone))) >= 300
    assert report.opened > 7000
    assert len(run) < 120  # batches, not rows
