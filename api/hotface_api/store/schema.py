"""Bring a database to the schema this code expects, and tell whether it is there.

Alembic is loaded to migrate only. Every start asks whether the database is current, and that needs
no more than the name of the newest migration and one row.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import Connection, inspect, text

from hotface_api.store.database import Database

if TYPE_CHECKING:
    from alembic.config import Config

__all__ = ["config", "head", "is_current", "migrate"]

_ADVISORY_LOCK = 7_041_963_201  # any constant: two processes must not migrate at once
_MIGRATIONS: Final = Path(__file__).parent / "migrations"
_NAMED: Final = re.compile(r"^(revision|down_revision)\b.*?= *['\"]([^'\"]+)['\"]", re.MULTILINE)


def config(connection: Connection | None = None) -> Config:
    """Give the Alembic configuration; scripts are found beside this file."""
    from alembic.config import Config  # noqa: PLC0415 - see the module docstring

    found = Config()
    found.set_main_option("script_location", str(_MIGRATIONS))
    found.attributes["connection"] = connection
    return found


@cache
def head() -> str:
    """Name the newest migration in the package: the one that no other comes after."""
    named = [
        dict(_NAMED.findall(file.read_text(encoding="utf-8")))
        for file in (_MIGRATIONS / "versions").glob("*.py")
    ]
    before = {one.get("down_revision") for one in named}
    newest: str
    (newest,) = {one["revision"] for one in named if "revision" in one} - before
    return newest


def is_current(connection: Connection) -> bool:
    """Tell whether the database stands at the newest migration."""
    if not inspect(connection).has_table("alembic_version"):
        return False
    rows = connection.execute(text("SELECT version_num FROM alembic_version"))
    return rows.scalars().all() == [head()]


def migrate(database: Database, target: str = "head") -> None:
    """Upgrade (or downgrade) inside one transaction that no second process can enter.

    SQLite rebuilds a table to change it; with foreign keys enforced that would delete the rows of
    child tables, so enforcement is off for this connection, and must be switched before BEGIN.
    """
    from alembic import command  # noqa: PLC0415 - see the module docstring

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
