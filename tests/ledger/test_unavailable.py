"""Disk full, database locked, database gone and back: one clear error, and no half write."""

import shutil
import subprocess

import pytest
from sqlalchemy import create_engine, event, make_url, text
from sqlalchemy.exc import DBAPIError

from hotface_api.ledger.check import check_audit
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import Code, UnavailableError
from hotface_api.ledger.keys import authenticate, make_key
from hotface_api.ledger.reading import mine
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import review
from hotface_api.ledger.submit import submit
from hotface_api.store import schema
from hotface_api.store.database import Database
from support.contributions import SQLITE_ONLY, one, perlite, raised
from support.trouble import held_lock, impatient

LONG = "x" * 3900


def test_a_locked_database_is_told_and_nothing_is_written(club, ledger_url):
    submit(club.ledger, club.ann, one(perlite("101")))
    asked = Idempotency("k", "a" * 64)
    with held_lock(club, ledger_url), impatient(club):
        with raised(UnavailableError, Code.UNAVAILABLE) as caught:
            submit(club.ledger, club.ann, one(), idempotency=asked)
        assert caught[0].retry_after > 0
        assert len(mine(club.ledger, club.ann).items) == 1  # reads go on
    receipt = submit(club.ledger, club.ann, one(), idempotency=asked)
    assert not receipt.replayed
    assert len(mine(club.ledger, club.ann).items) == 2
    assert check_audit(club.ledger).intact


def test_a_key_is_good_while_the_database_is_locked_for_writing(club, ledger_url):
    token = make_key(club.ledger, club.ann.contributor, "contributor").token
    with held_lock(club, ledger_url), impatient(club):
        assert authenticate(club.ledger, token).contributor == club.ann.contributor


@SQLITE_ONLY
def test_a_full_disk_is_told_and_nothing_is_half_written(club):
    with club.database.read() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()

    def limit(connection, _record, _proxy):
        connection.execute(f"PRAGMA max_page_count = {pages + 12}")

    event.listen(club.database.engine, "checkout", limit)
    written, refused = 0, None
    for number in range(200):
        try:
            submit(club.ledger, club.ann, one(perlite(f"{100 + number / 10:.1f}", note=LONG)))
            written += 1
        except UnavailableError as error:
            refused = error
            break
    assert refused is not None, "the disk never filled"
    assert written > 0
    assert "full" in refused.message
    assert len(mine(club.ledger, club.ann, limit=200).items) == written
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    assert report.contributions == written
    event.remove(club.database.engine, "checkout", limit)

    def free(connection, _record, _proxy):
        connection.execute("PRAGMA max_page_count = 1073741823")

    event.listen(club.database.engine, "checkout", free)
    submit(club.ledger, club.ann, one(perlite("190", note=LONG)))  # room again: on it goes
    assert check_audit(club.ledger).contributions == written + 1


@SQLITE_ONLY
def test_a_small_file_system_that_fills_up(club, tmp_path):
    """The same on a real full file system, where one can be made."""
    place = tmp_path / "small"
    place.mkdir()
    if (
        shutil.which("mount") is None
        or subprocess.run(  # noqa: S603
            ["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(place)],  # noqa: S607
            check=False,
            capture_output=True,
        ).returncode
    ):
        pytest.skip("no small file system can be made here")
    try:
        source = make_url(str(club.database.url)).database
        target = place / "full.sqlite3"
        shutil.copy(source, target)
        database = Database(f"sqlite:///{target}")
        ledger = Ledger(database, clock=club.clock)
        (place / "ballast").write_bytes(b"\0" * _room(place, 400_000))
        written, refused = _until_full(ledger, club.ann)
        assert refused is not None, "the file system never filled"
        report = check_audit(ledger)
        assert report.intact, report.faults
        assert report.contributions == written
        (place / "ballast").unlink()
        submit(ledger, club.ann, one(perlite("190", note=LONG)))
        assert check_audit(ledger).contributions == written + 1
        database.close()
    finally:
        subprocess.run(["umount", str(place)], check=True)  # noqa: S603, S607


def _room(place, keep):
    return max(0, shutil.disk_usage(place).free - keep)


def _until_full(ledger, actor):
    written = 0
    for number in range(400):
        try:
            submit(ledger, actor, one(perlite(f"{100 + number / 10:.1f}", note=LONG)))
            written += 1
        except UnavailableError as error:
            return written, error
    return written, None


def test_a_database_that_is_gone_and_comes_back(club):
    value = submit(club.ledger, club.ann, one()).items[0].value
    if club.database.is_sqlite:
        path = make_url(str(club.database.url)).database
        club.database.close()
        shutil.move(path, f"{path}.away")
        with raised(UnavailableError):
            review(club.ledger, club.cleo, value, "accept", version=1)
        club.database.close()
        for leftover in (path, f"{path}-wal", f"{path}-shm"):
            shutil.rmtree(leftover, ignore_errors=True)
        shutil.move(f"{path}.away", path)
    else:
        with raised(UnavailableError), club.ledger.write() as connection:
            connection.execute(text("UPDATE contribution SET state = 'accepted'"))
            kill_connections(club)
            connection.execute(text("UPDATE contribution SET state = 'accepted'"))
        kill_connections(club)  # the pool is full of dead connections now
    assert review(club.ledger, club.cleo, value, "accept", version=1).revision == 2
    assert check_audit(club.ledger).intact


def kill_connections(club):
    """End the server's side of every connection to the club's database."""
    url = club.database.url
    admin = create_engine(url.set(database="postgres"), isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(
            text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = :name"),
            {"name": url.database},
        )
    admin.dispose()


def test_an_empty_database_is_not_ready(empty_database, club):
    schema.migrate(empty_database)
    with raised(UnavailableError, Code.NOT_READY) as caught:
        submit(Ledger(empty_database), club.ann, one())
    assert "hotface load" in caught[0].message


def test_other_faults_of_the_database_are_not_hidden(club):
    """Only what a later try can mend is called unavailable."""
    with pytest.raises(DBAPIError), club.ledger.read() as connection:
        connection.exec_driver_sql("SELECT nonsense FROM revision")
    with raised(UnavailableError, Code.NOT_READY), club.ledger.read() as connection:
        connection.exec_driver_sql("SELECT * FROM not_made_yet")
