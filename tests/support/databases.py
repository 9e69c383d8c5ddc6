"""Empty databases of each kind, made for a test run and dropped after it."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import create_engine, make_url, text

SERVER = os.environ.get("HOTFACE_TEST_POSTGRESQL", "")
REQUIRE_ALL = os.environ.get("HOTFACE_REQUIRE_ALL", "") == "1"
BACKENDS = ("sqlite", "postgresql")


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
