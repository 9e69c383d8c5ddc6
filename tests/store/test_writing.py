"""Writers of one process go in turn, and wait with empty hands."""

import threading

import pytest
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from hotface_api.store import database as module
from hotface_api.store.database import Database


@pytest.fixture
def file(tmp_path):
    found = Database(f"sqlite:///{tmp_path / 'file.sqlite3'}")
    yield found
    found.close()


def test_a_writer_that_waits_for_its_turn_holds_no_connection(file):
    wrote, begins = threading.Event(), threading.Event()

    def write():
        begins.set()
        with file.write():
            wrote.set()

    other = threading.Thread(target=write)
    with file.write():
        other.start()
        assert begins.wait(10)
        other.join(0.2)
        assert other.is_alive()
        assert file.engine.pool.checkedout() == 1
        with file.read() as connection:
            assert connection.exec_driver_sql("SELECT 1").scalar() == 1
    other.join(10)
    assert wrote.is_set()


def test_a_writer_whose_turn_never_comes_is_told(file, monkeypatch):
    monkeypatch.setattr(module, "_TURN_SECONDS", 0.05)
    told = []

    def write():
        try:
            with file.write():
                pass
        except PoolTimeoutError as error:
            told.append(error)

    other = threading.Thread(target=write)
    with file.write():
        other.start()
        other.join(10)
    assert len(told) == 1
    with file.write():
        pass


def test_what_is_deleted_leaves_the_file(file):
    with file.read() as connection:
        assert connection.exec_driver_sql("PRAGMA secure_delete").scalar() == 1
