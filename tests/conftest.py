"""Shared fixtures: the loaded seed on every database the suite runs on.

SQLite always; PostgreSQL when ``HOTFACE_TEST_POSTGRESQL`` names a server. Without it those tests
are skipped with a loud line, or fail under ``HOTFACE_REQUIRE_ALL=1``.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from hotface_api.app import create_app
from hotface_api.load.loader import load
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH
from support.databases import BACKENDS, SERVER, fresh_url


def pytest_report_header():
    if SERVER:
        return "databases: sqlite, postgresql"
    return "databases: sqlite only - set HOTFACE_TEST_POSTGRESQL to a server to test postgresql too"


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

        engines = (database.engine, database._keeping)
        for engine in engines:
            event.listen(engine, "before_cursor_execute", note)
        try:
            yield counted
        finally:
            for engine in engines:
                event.remove(engine, "before_cursor_execute", note)

    return counting


@pytest.fixture(scope="session")
def app(database):
    """The application over the loaded seed, answers kept."""
    return create_app(Settings(database.url.render_as_string(hide_password=False)), database)


@pytest.fixture
def client(app):
    return app.test_client()
