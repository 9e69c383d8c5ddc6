"""Selects run straight on the driver read what the toolkit reads, on every database."""

from __future__ import annotations

import threading

import pytest
from sqlalchemy import bindparam, event, select
from sqlalchemy.exc import SQLAlchemyError

from hotface_api.store import read
from hotface_api.store.models import RESOURCES, Revision, Source, Value
from hotface_api.store.quick import Quick, run

VALUES = read.table(Value)
SOME = select(VALUES).where(VALUES.c.form.in_(bindparam("forms", expanding=True)))


@pytest.mark.parametrize("name", sorted(RESOURCES))
def test_every_table_is_read_alike(database, name):
    """Times, texts of JSON and truth values are what they are through the toolkit."""
    table = read.table(RESOURCES[name])
    statement = select(table).order_by(*table.primary_key.columns)
    with database.look() as connection:
        quick = Quick(statement).rows(connection)
        slow = read.listed(connection, statement)
    assert quick == slow
    assert [list(map(type, row.values())) for row in quick[:50]] == [
        list(map(type, row.values())) for row in slow[:50]
    ]


@pytest.mark.parametrize("model", [Revision, Source])
def test_times_and_items_are_read_alike(database, model):
    statement = select(read.table(model))
    with database.look() as connection:
        quick, slow = Quick(statement).rows(connection), read.listed(connection, statement)
    assert quick == slow
    assert quick


@pytest.mark.parametrize("forms", [(), ("heap",), ("heap", "grain"), ["solid", "body", "paste"]])
def test_lists_of_any_length_are_bound(database, forms):
    quick = Quick(SOME.order_by(VALUES.c.row))
    with database.look() as connection:
        found = quick.rows(connection, forms=forms)
        assert found == read.listed(connection, quick.statement, forms=forms)
    assert {row["form"] for row in found} == set(forms)


def test_a_limit_is_bound(database):
    quick = Quick(select(VALUES.c.id).order_by(VALUES.c.row).limit(bindparam("most")))
    with database.look() as connection:
        assert len(quick.rows(connection, most=3)) == 3
        assert len(quick.rows(connection, most=5)) == 5


def test_what_is_planned_is_bounded(database):
    quick = Quick(SOME)
    with database.look() as connection:
        for length in range(1, 150):
            quick.rows(connection, forms=[f"form-{number}" for number in range(length)])
    assert len(quick._plans) <= 64


def test_listeners_are_told(database):
    told = []

    def note(_connection, _cursor, statement, parameters, _context, _many):
        told.append((statement, parameters))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        with database.read() as connection:
            assert run(connection, "SELECT 1") == [(1,)]
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
    assert ("SELECT 1", ()) in told


def test_a_fault_is_told_as_the_toolkit_tells_it(empty_database):
    """The table is missing: the driver's own error never comes out."""
    quick = Quick(select(VALUES.c.id))
    with pytest.raises(SQLAlchemyError), empty_database.look() as connection:
        quick.rows(connection)
    with pytest.raises(SQLAlchemyError):
        empty_database.revision()


def test_a_lost_connection_is_noticed_and_replaced(database):
    latest = database.revision()
    with database.look() as connection:
        connection.connection.driver_connection.close()
    assert database.revision() == latest


def test_many_threads_read_at_once(database):
    quick = Quick(SOME.order_by(VALUES.c.row))
    found, faults = [], []

    def reading():
        try:
            with database.look() as connection:
                found.append(len(quick.rows(connection, forms=("heap",))))
        except Exception as error:  # noqa: BLE001 - told below
            faults.append(error)

    threads = [threading.Thread(target=reading) for _ in range(24)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert len(set(found)) == 1
