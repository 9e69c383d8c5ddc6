"""The ledger of one database: its transactions, its clock and its view of the reference tables.

Every change goes through ``write``: one writer at a time on both databases, all or nothing, and
whatever goes wrong with the database itself comes out as ``UnavailableError`` with nothing written.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Final

from sqlalchemy import Connection, select
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from hotface_api.catalogue.reference import Reference, ReferenceCache, read_reference
from hotface_api.ledger.errors import Code, UnavailableError
from hotface_api.store.database import Database
from hotface_api.store.models import Revision

__all__ = ["Ledger", "latest_revision"]

Clock = Callable[[], datetime]
_SQLITE_WAITS: Final = frozenset({5, 6, 7, 8, 10, 13, 14, 15})
"""Busy, locked, out of memory, read-only, input/output, full, cannot open, locking protocol."""
_POSTGRESQL_WAITS: Final = ("08", "25006", "40", "53", "55P03", "57", "58")
"""Connection, read-only, rolled back, out of room, lock not had, stopped by hand, system."""
_NO_TABLE: Final = "42P01"


def _now() -> datetime:
    return datetime.now(UTC)


def latest_revision(connection: Connection) -> int:
    """Give the newest revision a transaction sees; 0 before anything is loaded."""
    newest = select(Revision.number).order_by(Revision.number.desc()).limit(1)
    return connection.scalar(newest) or 0


class Ledger:
    """What every function of the ledger works with.

    Parameters
    ----------
    database : Database
        Migrated and loaded.
    references : ReferenceCache, optional
        Shared with the rest of the service; one of its own by default.
    clock : callable, optional
        Gives the present moment, with its zone; for tests.
    """

    def __init__(
        self, database: Database, references: ReferenceCache | None = None, clock: Clock = _now
    ) -> None:
        self.database = database
        self.references = references or ReferenceCache(database)
        self.clock = clock

    def now(self) -> datetime:
        """Give the present moment in UTC."""
        return self.clock().astimezone(UTC)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Open a connection for reading.

        Raises
        ------
        UnavailableError
            If the database is locked or away.
        """
        with _told(), self.database.read() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Open the one writing transaction there is at a time.

        Raises
        ------
        UnavailableError
            If the database is locked, full or away; nothing is written then.
        """
        with _told(), self.database.write() as connection:
            yield connection

    def reference(self) -> Reference:
        """Give the reference tables at the latest revision.

        Raises
        ------
        UnavailableError
            If the database is away or holds nothing yet.
        """
        with _told():
            number = self.database.revision()
            if number == 0:
                raise UnavailableError(
                    "the database holds no data yet; run `hotface load`",
                    code=Code.NOT_READY,
                    retry_after=5,
                )
            return self.references.at(number, number)

    def reference_in(self, connection: Connection, known: Reference) -> Reference:
        """Give the reference as a transaction sees it: the known one if nothing moved since.

        A second connection is never taken inside a transaction: with every pooled connection
        waiting for the lock its holder would wait for them.
        """
        latest = latest_revision(connection)
        return known if latest == known.revision else read_reference(connection, latest)


@contextmanager
def _told() -> Iterator[None]:
    """Turn what the database cannot do now into one error that says so; let the rest through."""
    try:
        yield
    except PoolTimeoutError as error:
        raise UnavailableError(_reason(error)) from error
    except DBAPIError as error:
        trouble = _trouble(error)
        if trouble is None:
            raise
        raise UnavailableError(_reason(error), code=trouble) from error


def _trouble(error: DBAPIError) -> Code | None:
    """Tell whether waiting may mend it (locked, full, away), loading would, or neither."""
    cause = error.orig
    state = getattr(cause, "sqlstate", None)
    if isinstance(cause, sqlite3.Error):
        waits = (cause.sqlite_errorcode or 0) & 0xFF in _SQLITE_WAITS
        unmade = str(cause).startswith("no such table")
    else:
        waits = str(state or "").startswith(_POSTGRESQL_WAITS)
        waits = waits or (state is None and isinstance(error, OperationalError))
        unmade = state == _NO_TABLE
    if waits or error.connection_invalidated:
        return Code.UNAVAILABLE
    return Code.NOT_READY if unmade else None


def _reason(error: Exception) -> str:
    cause = str(getattr(error, "orig", None) or error).strip().split("\n")[0]
    return f"the database cannot take this now ({cause}); nothing was written, try again"
