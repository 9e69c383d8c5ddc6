"""Bring a database to the schema this code expects, and tell whether it is there."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from hotface_api.store.database import Database

__all__ = ["config", "head", "is_current", "migrate"]

_ADVISORY_LOCK = 7_041_963_201  # any constant: two processes must not migrate at once


def config(connection: Connection | None = None) -> Config:
    """Give the Alembic configuration; scripts are found beside this file."""
    found = Config()
    found.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    found.attributes["connection"] = connection
    return found


def head() -> str:
    """Name the newest migration in the package."""
    name = ScriptDirectory.from_config(config()).get_current_head()
    if name is None:  # pragma: no cover - the package always holds one
        raise RuntimeError("the package holds no migration")
    return name


def is_current(connection: Connection) -> bool:
    """Tell whether the database stands at the newest migration."""
    return MigrationContext.configure(connection).get_current_revision() == head()


def migrate(database: Database, target: str = "head") -> None:
    """Upgrade (or downgrade) inside one transaction that no second process can enter.

    SQLite rebuilds a table to change it; with foreign keys enforced that would delete the rows of
    child tables, so enforcement is off for this connection, and must be switched before BEGIN.
    """
    with database.engine.connect() as plain:
        if database.is_sqlite:
            plain.execution_options(hotface_begin="").exec_driver_sql("PRAGMA foreign_keys = OFF")
            plain.rollback()
        connection = plain.execution_options(hotface_begin="BEGIN IMMEDIATE")
        with connection.begin():
            if not database.is_sqlite:
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ADVISORY_LOCK})")
            if target == "head":
                command.upgrade(config(connection), target)
            else:
                command.downgrade(config(connection), target)
        if database.is_sqlite:
            plain.execution_options(hotface_begin="").exec_driver_sql("PRAGMA foreign_keys = ON")
