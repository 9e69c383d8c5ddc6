"""Migration 0002: up and down with data, and nothing left to migrate."""

from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, text

from hotface_api.ledger.review import review
from hotface_api.ledger.submit import submit
from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.base import Base
from hotface_api.store.database import Database
from support.contributions import BODY, DENSITY, LID, found_club, one, prepared


def test_the_tables_are_those_of_the_models(empty_database):
    schema.migrate(empty_database)
    with empty_database.read() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def rows(database: Database, statement):
    with database.read() as connection:
        return [tuple(row) for row in connection.execute(text(statement))]


def test_down_and_up_again_with_data(empty_database, package):
    prepared(empty_database, package)
    club = found_club(empty_database)
    value = submit(club.ledger, club.ann, one(DENSITY, specimen=LID, material=BODY)).items[0].value
    review(club.ledger, club.cleo, value, "accept", version=1)
    count = "SELECT count(*), max(from_revision) FROM value"
    values = rows(empty_database, count)
    before = constraints(empty_database)
    schema.migrate(empty_database, "0001")
    names = set(inspect(empty_database.engine).get_table_names())
    assert "audit" not in names
    assert "material" in names
    assert rows(empty_database, count) == values
    schema.migrate(empty_database)
    assert rows(empty_database, count) == values
    assert constraints(empty_database) == before
    assert rows(empty_database, "SELECT count(*) FROM audit") == [(0,)]
    assert not load(empty_database, package).changed


def constraints(database):
    """List what the old tables are held to, which a rebuilt table could lose."""
    found = {}
    seen = inspect(database.engine)
    for name in ("material", "origin", "source", "specimen", "specimen_constituent"):
        checks = sorted(check["name"] for check in seen.get_check_constraints(name))
        indexes = sorted(
            (i["name"], i["unique"], sorted(str(v) for v in i.get("dialect_options", {}).values()))
            for i in seen.get_indexes(name)
        )
        foreign = sorted(key["name"] for key in seen.get_foreign_keys(name))
        found[name] = (checks, indexes, foreign, sorted(c["name"] for c in seen.get_columns(name)))
    return found
