"""Engines, transactions and the revision probe.

Two kinds of transaction and no third: ``read`` (a deferred ``BEGIN``; takes no write lock) and
``write`` (``BEGIN IMMEDIATE`` on SQLite, one advisory lock on PostgreSQL: writers stand in line on
both, so that a revision number or a link of the audit chain is never taken twice). The driver's
own transaction handling is switched off: left on, a SELECT runs outside the transaction that later
updates, and concurrent writers lose each other's changes silently; a deferred BEGIN that upgrades
later fails at once with "database is locked" instead of waiting.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.pool import NullPool

from hotface_api.store.quick import run

__all__ = ["Database", "DatabaseError"]

_BUSY_MILLISECONDS = 5000
_TURN_SECONDS = 10
_WRITER_LOCK = 7_041_963_202  # any constant; migrations use the one before
_LATEST = "SELECT number FROM revision ORDER BY number DESC LIMIT 1"


class DatabaseError(RuntimeError):
    """The database cannot be used; the message says what to do next."""


def _read_url(url: str) -> URL:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise DatabaseError(
            "HOTFACE_DATABASE_URL is not a database address; write it like"
            " sqlite:///file.sqlite3 or postgresql://user@host/name"
        ) from error
    if parsed.drivername in ("postgresql", "postgres"):
        parsed = parsed.set(drivername="postgresql+psycopg")
    if parsed.get_backend_name() not in ("sqlite", "postgresql"):
        raise DatabaseError("HOTFACE_DATABASE_URL must be of kind sqlite or postgresql")
    if parsed.get_backend_name() == "sqlite" and parsed.database in (None, "", ":memory:"):
        raise DatabaseError(
            "an SQLite database in memory exists once a connection; name a file instead"
        )
    return parsed


def _through_toolkit(connection: Connection, sql: str) -> Sequence[Any]:
    """Run a statement so that what goes wrong is one of the toolkit's errors."""
    return connection.exec_driver_sql(sql).all()


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        for pragma in (
            f"busy_timeout = {_BUSY_MILLISECONDS}",  # first: the others may have to wait
            "journal_mode = WAL",
            "synchronous = FULL",  # what was acknowledged outlives a power cut; only commits pay
            "foreign_keys = ON",
            "secure_delete = ON",  # whoever is erased is gone from the file too, on any build
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        statement = connection.get_execution_options().get("hotface_begin", "BEGIN")
        if statement:
            connection.exec_driver_sql(statement)


class Database:
    """One database: its engine and the only ways to read and write it.

    Parameters
    ----------
    url : str
        ``sqlite:///file`` or ``postgresql://...``. A missing SQLite folder is made.

    Raises
    ------
    DatabaseError
        If the address cannot be used or its driver is not installed.
    """

    def __init__(self, url: str) -> None:
        self.url = _read_url(url)
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        if self.is_sqlite:
            folder = Path(str(self.url.database)).expanduser().resolve().parent
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise DatabaseError(
                    f"the folder {folder} cannot be made ({error.strerror});"
                    " set HOTFACE_DATABASE_URL to a place that can be written"
                ) from error
        try:
            self.engine = create_engine(self.url, pool_size=16, max_overflow=16)
            self._keeping = create_engine(self.url, poolclass=NullPool)
        except (NoSuchModuleError, ModuleNotFoundError) as error:
            raise DatabaseError(
                "the PostgreSQL driver is not installed; install hotface[postgresql]"
            ) from error
        if self.is_sqlite:
            _prepare_sqlite(self.engine)
            _prepare_sqlite(self._keeping)
        self._kept: deque[Connection] = deque()
        self._turn = threading.Lock()

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Open a connection for reading one consistent state."""
        with self.engine.connect() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Open a transaction that holds the write lock from its first statement."""
        with self._in_turn(), self.engine.connect() as plain:
            connection = plain.execution_options(hotface_begin="BEGIN IMMEDIATE")
            with connection.begin():
                if not self.is_sqlite:
                    connection.exec_driver_sql(f"SET LOCAL lock_timeout = {_BUSY_MILLISECONDS}")
                    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITER_LOCK})")
                yield connection

    @contextmanager
    def _in_turn(self) -> Iterator[None]:
        """Let the writers of this process go one by one, before any takes a connection.

        SQLite's own waiting is by trying again, and one of many writers may never hit the moment.
        """
        if not self.is_sqlite:
            yield
            return
        if not self._turn.acquire(timeout=_TURN_SECONDS):
            raise PoolTimeoutError("too many writers wait for their turn")
        try:
            yield
        finally:
            self._turn.release()

    @contextmanager
    def look(self) -> Iterator[Connection]:
        """Give a connection that is kept open, for reading what holds at one revision.

        Each statement stands alone: there is no transaction to open and close, which costs as much
        as a small answer. Rows of a revision do not change, so several statements agree all the
        same; what does change (pending values, keys) is read with ``read``.

        Kept connections are shared, not a thread's own, and are none of the pool's: with one a
        thread, threads that ended would leak theirs and many threads would empty the pool.
        """
        connection = self._take()
        try:
            yield connection
        except SQLAlchemyError:
            self._discard(connection)
            self.forget_probe()
            raise
        except BaseException:
            self._kept.append(connection)
            raise
        self._kept.append(connection)

    def _take(self) -> Connection:
        try:
            return self._kept.pop()
        except IndexError:
            return self._keeping.connect().execution_options(
                isolation_level="AUTOCOMMIT", hotface_begin=""
            )

    @staticmethod
    def _discard(connection: Connection) -> None:
        connection.invalidate()
        connection.close()

    def revision(self) -> int:
        """Give the latest revision number; 0 before anything is loaded.

        Runs one statement on a connection that is kept open, so that a warm answer costs one cheap
        look at the database and every worker notices another's change.
        """
        try:
            return self._newest(run)
        except (SQLAlchemyError, self.engine.dialect.loaded_dbapi.Error):
            self.forget_probe()
            return self._newest(_through_toolkit)

    def _newest(self, read: Callable[[Connection, str], Sequence[Any]]) -> int:
        connection = self._take()
        try:
            rows = read(connection, _LATEST)
        except BaseException:
            self._discard(connection)
            raise
        self._kept.append(connection)
        return int(rows[0][0]) if rows else 0

    def forget_probe(self) -> None:
        """Drop the connections that are kept open and idle."""
        while self._kept:
            try:
                self._discard(self._kept.pop())
            except IndexError:  # another thread took the last
                return

    def ping(self) -> bool:
        """Tell whether the database answers."""
        try:
            with self.read() as connection:
                connection.execute(text("SELECT 1"))
        except OperationalError:
            return False
        return True

    def close(self) -> None:
        """Close every pooled connection."""
        self.forget_probe()
        self.engine.dispose()
