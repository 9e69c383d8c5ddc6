"""Counters of requests in the service's own database, for the ``limits`` library.

A module of its own, so that a process without limits does not load that library.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, Final

from limits.storage import Storage
from limits.storage.base import SlidingWindowCounterSupport
from sqlalchemy import Connection, delete, func, select
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.exc import SQLAlchemyError

from hotface_api.store.database import Database
from hotface_api.store.ledger_models import RateWindow
from hotface_api.store.read import table

__all__ = ["DatabaseWindows"]

_SWEEP: Final = 500


class DatabaseWindows(Storage, SlidingWindowCounterSupport):
    """Counters in the service's own database, for ``limits``.

    One row a caller and window, raised by one upsert; no lock is held beyond it. On SQLite every
    counted request then writes: right for a few workers on one machine, not for many readers.
    """

    STORAGE_SCHEME = None  # made from a Database, not from an address

    def __init__(self, database: Database, clock: Callable[[], float] = time.time) -> None:
        super().__init__()
        self._database = database
        self._clock = clock
        self._since_sweep = 0

    @property
    def base_exceptions(self) -> type[Exception] | tuple[type[Exception], ...]:
        """Name what a failing store raises."""
        return SQLAlchemyError

    def acquire_sliding_window_entry(
        self, key: str, limit: int, expiry: int, amount: int = 1
    ) -> bool:
        """Count a request if it still fits."""
        now = self._clock()
        with self._write() as connection:
            # Raised first: its row is then locked, so that two workers cannot both take the rest.
            self._raise(connection, key, expiry, now, amount)
            before, current = self._counts(connection, key, expiry, now)
            left = 1 - (now % expiry) / expiry
            fits = before * left + current <= limit
            if not fits:
                self._raise(connection, key, expiry, now, -amount)
        return fits

    def get_sliding_window(self, key: str, expiry: int) -> tuple[int, float, int, float]:
        """Give count and remaining life of the window before and of this one."""
        now = self._clock()
        with self._database.read() as connection:
            before, current = self._counts(connection, key, expiry, now)
        left = expiry - now % expiry
        return before, left, current, left + expiry

    def clear_sliding_window(self, key: str, expiry: int) -> None:
        """Forget a caller."""
        del expiry
        self.clear(key)

    def _write(self) -> Any:
        return (
            self._database.engine.begin()
            if not self._database.is_sqlite
            else (self._database.write())
        )

    def _counts(self, connection: Connection, key: str, expiry: int, now: float) -> tuple[int, int]:
        columns = table(RateWindow).c
        window = int(now // expiry)
        statement = select(columns.window, columns.hits).where(
            columns.key == key, columns.window.in_((window - 1, window))
        )
        found = {row.window: row.hits for row in connection.execute(statement)}
        return found.get(window - 1, 0), found.get(window, 0)

    def _raise(
        self, connection: Connection, key: str, expiry: int, now: float, amount: int
    ) -> None:
        make = sqlite_insert if self._database.is_sqlite else postgresql_insert
        window = int(now // expiry)
        statement = make(table(RateWindow)).values(
            key=key, window=window, hits=amount, expires_at=(window + 2) * float(expiry)
        )
        connection.execute(
            statement.on_conflict_do_update(
                index_elements=["key", "window"],
                set_={"hits": table(RateWindow).c.hits + amount},
            )
        )
        self._since_sweep += 1
        if self._since_sweep >= _SWEEP:
            self._since_sweep = 0
            connection.execute(
                delete(table(RateWindow)).where(table(RateWindow).c.expires_at < now)
            )

    def incr(self, key: str, expiry: int, amount: int = 1) -> int:
        """Raise a plain counter; part of the library's interface."""
        now = self._clock()
        with self._write() as connection:
            self._raise(connection, key, expiry, now, amount)
            return self._counts(connection, key, expiry, now)[1]

    def get(self, key: str) -> int:
        """Sum what is counted for a key; part of the library's interface."""
        columns = table(RateWindow).c
        statement = select(func.coalesce(func.sum(columns.hits), 0)).where(
            columns.key == key, columns.expires_at >= self._clock()
        )
        with self._database.read() as connection:
            return int(connection.scalar(statement) or 0)

    def get_expiry(self, key: str) -> float:
        """Give when a key's counters end; part of the library's interface."""
        columns = table(RateWindow).c
        statement = select(func.max(columns.expires_at)).where(columns.key == key)
        with self._database.read() as connection:
            return float(connection.scalar(statement) or self._clock())

    def check(self) -> bool:
        """Tell whether the database answers."""
        return self._database.ping()

    def reset(self) -> int | None:
        """Forget every caller."""
        with self._write() as connection:
            done: int = connection.execute(delete(table(RateWindow))).rowcount
            return done

    def clear(self, key: str) -> None:
        """Forget one key."""
        with self._write() as connection:
            connection.execute(delete(table(RateWindow)).where(table(RateWindow).c.key == key))
