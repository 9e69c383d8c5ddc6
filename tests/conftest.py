"""Shared fixtures: the loaded seed on every database the suite runs on.

SQLite always; PostgreSQL when ``HOTFACE_TEST_POSTGRESQL`` names a server. Without it those tests
are skipped with a loud line, or fail under ``HOTFACE_REQUIRE_ALL=1``.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import create_engine, event, make_url, text

from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH

SERVER = os.environ.get("HOTFACE_TEST_POSTGRESQL", "")
REQUIRE_ALL = os.environ.get("HOTFACE_REQUIRE_ALL", "") == "1"
BACKENDS = ("sqlite", "postgresql")


def pytest_report_header():
    if SERVER:
        return "databases: sqlite, postgresql"
    return "databases: sqlite only - set HOTFACE_TEST_POSTGRESQL to a server to test postgresql too"


def need_postgresql():
    """Skip, or fail under HOTFACE_REQUIRE_ALL=1, where no PostgreSQL server is named."""
    if SERVER:
        return
    message = "POSTGRESQL NOT TESTED: set HOTFACE_TEST_POSTGRESQL=postgresql://user@host/name"
    if REQUIRE_ALL:
        pytest.fail(message)
    pytest.skip(message)


@contextmanager
def fresh_url(backend: str, folder) -> Iterator[str]:
    """Give the address of an empty database, dropped afterwards."""
    if backend == "sqlite":
        yield f"sqlite:///{folder / f'{uuid.uuid4().hex}.sqlite3'}"
        return
    need_postgresql()
    name = f"hotface_test_{os.getpid()}_{uuid.uuid4().hex[:8]}"
    server = make_url(SERVER).set(drivername="postgresql+psycopg")
    admin = create_engine(server, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f'CREATE DATABASE "{name}"'))
    try:
        yield make_url(SERVER).set(database=name).render_as_string(hide_password=False)
    finally:
        with admin.connect() as connection:
            connection.execute(text(f'DROP DATABASE "{name}" WITH (FORCE)'))
        admin.dispose()


@pytest.fixture(params=BACKENDS)
def empty_database(request, tmp_path):
    """An unmigrated database of each kind."""
    with fresh_url(request.param, tmp_path) as url:
        database = Database(url)
        yield database
        database.close()


@pytest.fixture(scope="session", params=BACKENDS)
def database(request, tmp_path_factory):
    """The whole seed, loaded once a session; tests only read it."""
    with fresh_url(request.param, tmp_path_factory.mktemp("seed")) as url:
        database = Database(url)
        schema.migrate(database)
        load(database, PACKAGE_PATH)
        yield database
        database.close()


@pytest.fixture
def statements():
    """Count the SQL statements a block runs: ``with statements(database) as counted``."""

    @contextmanager
    def counting(database: Database) -> Iterator[list[str]]:
        counted: list[str] = []

        def note(_connection, _cursor, statement, *_rest):
            if not statement.startswith("BEGIN"):
                counted.append(statement)

        event.listen(database.engine, "before_cursor_execute", note)
        try:
            yield counted
        finally:
            event.remove(database.engine, "before_cursor_execute", note)

    return counting
