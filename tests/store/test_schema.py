"""Whether a database is current, told without Alembic and as Alembic tells it."""

from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from hotface_api.store import schema


def by_alembic(connection):
    newest = ScriptDirectory.from_config(schema.config()).get_current_head()
    return newest, MigrationContext.configure(connection).get_current_revision() == newest


def test_the_newest_migration_is_the_one_alembic_finds(empty_database):
    with empty_database.read() as connection:
        assert schema.head() == by_alembic(connection)[0]


def test_a_database_is_current_when_alembic_says_so(empty_database):
    with empty_database.read() as connection:
        assert schema.is_current(connection) is by_alembic(connection)[1] is False
    schema.migrate(empty_database)
    with empty_database.read() as connection:
        assert schema.is_current(connection) is by_alembic(connection)[1] is True
    schema.migrate(empty_database, "0001")
    with empty_database.read() as connection:
        assert schema.is_current(connection) is by_alembic(connection)[1] is False
