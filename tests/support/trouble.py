"""A database that is locked, as another process would lock it."""

from __future__ import annotations

import threading
from contextlib import contextmanager

from sqlalchemy import event

from hotface_api.store.database import Database


@contextmanager
def impatient(club):
    """Wait a tenth of a second for a lock instead of five."""
    if club.database.is_sqlite:
        listener = _short_wait_sqlite
        event.listen(club.database.engine, "checkout", listener)
    else:
        listener = _short_wait_postgresql
        event.listen(club.database.engine, "before_cursor_execute", listener, retval=True)
    try:
        yield
    finally:
        name = "checkout" if club.database.is_sqlite else "before_cursor_execute"
        event.remove(club.database.engine, name, listener)


def _short_wait_sqlite(connection, _record, _proxy):
    connection.execute("PRAGMA busy_timeout = 100")


def _short_wait_postgresql(_c, _cursor, statement, parameters, _context, _many):
    return statement.replace("lock_timeout = 5000", "lock_timeout = 100"), parameters


@contextmanager
def held_lock(club, url):
    """Let another connection hold the write lock."""
    other = Database(url)
    ready, done = threading.Event(), threading.Event()

    def hold():
        with other.write():
            ready.set()
            done.wait(20)

    thread = threading.Thread(target=hold)
    thread.start()
    assert ready.wait(10)
    try:
        yield
    finally:
        done.set()
        thread.join()
        other.close()
