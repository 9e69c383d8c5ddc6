"""Backup while in use, restore, and what the audit says afterwards."""

import os
import subprocess
import threading
from pathlib import Path

import pytest
from sqlalchemy import text

from hotface_api.catalogue.properties import property_answer
from hotface_api.ledger.backup import backup, dump_command, restore, restore_command, verify
from hotface_api.ledger.check import check_audit
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import (
    BackupRefusedError,
    Code,
    KeyRefusedError,
    UnavailableError,
)
from hotface_api.ledger.keys import authenticate, revoke_key
from hotface_api.ledger.people import erase_person, list_people
from hotface_api.ledger.reading import mine, view
from hotface_api.ledger.review import review, withdraw
from hotface_api.ledger.sessions import close_session, find_session, open_session
from hotface_api.ledger.submit import submit
from hotface_api.store import schema
from hotface_api.store.database import Database
from support.contributions import SQLITE_ONLY, one, perlite, raised
from support.databases import fresh_url
from support.programs import need_program


def some(club, count=3, first=100):
    values = []
    for number in range(count):
        club.clock.forward(seconds=1)
        draft = one(perlite(f"{first + number}"))
        values.append(submit(club.ledger, club.ann, draft).items[0].value)
    review(club.ledger, club.cleo, values[0], "accept", version=1)
    return values


def database_id(database):
    with database.read() as connection:
        return connection.scalar(text("SELECT value FROM setting WHERE name = 'database_id'"))


@SQLITE_ONLY
def test_a_backup_is_whole_and_restores(club, tmp_path):
    values, seen = some(club), []
    report = backup(
        club.database, tmp_path / "kept.sqlite3", lambda done, total: seen.append((done, total))
    )
    assert report.revision == 2
    assert report.audit.intact
    assert report.audit.contributions == 3
    assert seen[-1][0] == seen[-1][1] > 0
    assert sorted(path.name for path in tmp_path.glob("kept*")) == ["kept.sqlite3"]

    fresh = Database(f"sqlite:///{tmp_path / 'new' / 'restored.sqlite3'}")
    restored = restore(tmp_path / "kept.sqlite3", fresh)
    assert restored.audit.head == report.audit.head
    assert database_id(fresh) == report.database_id
    ledger = Ledger(fresh, clock=club.clock)
    assert [entry.row["id"] for entry in mine(ledger, club.ann).items] == values
    with fresh.read() as new, club.database.read() as old:
        assert property_answer(
            new, ledger.reference(), "expanded-perlite", "loose_bulk_density"
        ) == property_answer(old, club.ledger.reference(), "expanded-perlite", "loose_bulk_density")
    fresh.close()


@SQLITE_ONLY
def test_a_backup_taken_while_others_write_is_one_consistent_state(club, tmp_path):
    done = threading.Event()

    def writes():
        number = 0
        while not done.is_set():
            number += 1
            submit(club.ledger, club.ann, one(perlite(f"{100 + number / 100:.2f}")))

    thread = threading.Thread(target=writes)
    thread.start()
    try:
        reports = [backup(club.database, tmp_path / f"{n}.sqlite3") for n in range(4)]
    finally:
        done.set()
        thread.join()
    assert all(report.audit.intact for report in reports)
    counts = [report.audit.contributions for report in reports]
    assert counts == sorted(counts)


@SQLITE_ONLY
def test_a_backup_never_overwrites_and_leaves_nothing_when_it_fails(club, tmp_path):
    target = tmp_path / "kept.sqlite3"
    target.write_text("precious")
    with raised(BackupRefusedError):
        backup(club.database, target)
    assert target.read_text() == "precious"
    with pytest.raises((UnavailableError, BackupRefusedError)):
        backup(club.database, tmp_path / "no" / "such" / "folder.sqlite3")
    some(club)
    with club.database.write() as connection:
        connection.execute(text("UPDATE audit SET facts = '{}' WHERE action = 'submit'"))
    with raised(BackupRefusedError) as caught:
        backup(club.database, tmp_path / "bad.sqlite3")
    assert "audit" in caught[0].message
    assert not list(tmp_path.glob("bad*"))


@SQLITE_ONLY
def test_a_restore_does_not_replace_data_unasked(club, tmp_path):
    some(club)
    backup(club.database, tmp_path / "kept.sqlite3")
    with raised(BackupRefusedError) as caught:
        restore(tmp_path / "kept.sqlite3", club.database)
    assert "overwrite" in caught[0].message


@SQLITE_ONLY
def test_going_back_gives_the_database_another_identity(club, tmp_path):
    """The same revision number may mean something else now: caches must not be fooled."""
    some(club)
    kept = backup(club.database, tmp_path / "kept.sqlite3")
    some(club, first=200)
    report = restore(tmp_path / "kept.sqlite3", club.database, overwrite=True)
    assert report.audit.intact
    assert report.revision == 2
    assert report.database_id != kept.database_id
    same = restore(tmp_path / "kept.sqlite3", club.database, overwrite=True)
    assert same.database_id == kept.database_id  # nothing was lost that time


@SQLITE_ONLY
def test_a_backup_brings_back_no_key_person_or_session_that_is_gone(club, tmp_path):
    values, ann, ben = some(club), club.tokens[0], club.tokens[1]
    withdraw(club.ledger, club.ann, values[1], "the jug was Ann's own", version=1)
    session = open_session(club.ledger, club.tokens[2])
    kept = tmp_path / "kept.sqlite3"
    backup(club.database, kept)
    erase_person(club.ledger, club.ann.contributor, remarks=True)
    revoke_key(club.ledger, club.ben.key)
    close_session(club.ledger, session)
    report = restore(kept, club.database, overwrite=True)
    assert report.audit.intact
    for token in (ann, ben):
        with raised(KeyRefusedError, Code.KEY_REVOKED):
            authenticate(club.ledger, token)
    assert authenticate(club.ledger, club.tokens[2]) == club.cleo
    assert find_session(club.ledger, session) is None
    names = {card.contributor: card.name for card in list_people(club.ledger)}
    assert names[club.ann.contributor] is None
    assert names[club.ben.contributor] is not None
    assert [remark.text for remark in view(club.ledger, club.cleo, values[1]).remarks] == [None]


@SQLITE_ONLY
@pytest.mark.parametrize("harm", ["cut", "bytes", "text", "empty", "missing"])
def test_a_damaged_backup_is_not_restored(club, tmp_path, harm):
    some(club)
    kept = tmp_path / "kept.sqlite3"
    backup(club.database, kept)
    size = kept.stat().st_size
    if harm == "cut":
        os.truncate(kept, size // 2)
    elif harm == "bytes":
        with kept.open("r+b") as file:
            for place in range(size // 3, size // 3 + 200_000, 4096):
                file.seek(place)
                file.write(b"\xff" * 512)
    elif harm == "text":
        kept.write_text("not a database, but long enough to be one " * 100)
    elif harm == "empty":
        os.truncate(kept, 0)
    else:
        kept.unlink()
    before = check_audit(club.ledger).head
    with raised(BackupRefusedError):
        restore(kept, club.database, overwrite=True)
    assert check_audit(club.ledger).head == before


@SQLITE_ONLY
def test_a_backup_of_another_schema_is_not_restored(club, tmp_path):
    old = Database(f"sqlite:///{tmp_path / 'old.sqlite3'}")
    schema.migrate(old)
    schema.migrate(old, "0001")
    old.close()
    with raised(BackupRefusedError) as caught:
        verify(tmp_path / "old.sqlite3")
    assert "schema of another version" in caught[0].message


def test_postgresql_is_dumped_and_restored_by_its_own_tools(club, tmp_path):
    if club.database.is_sqlite:
        with raised(BackupRefusedError):
            backup(Database("postgresql://nobody@127.0.0.1:1/nothing"), tmp_path / "x")
        return
    need_program("pg_dump")
    values = some(club)
    head = check_audit(club.ledger).head
    target = tmp_path / "kept.dump"
    subprocess.run(dump_command(club.database, target), check=True, timeout=120)  # noqa: S603
    with fresh_url("postgresql", tmp_path) as url:
        fresh = Database(url)
        subprocess.run(restore_command(fresh, target), check=True, timeout=120)  # noqa: S603
        ledger = Ledger(fresh, clock=club.clock)
        report = check_audit(ledger, expected=head)
        assert report.intact, report.faults
        assert report.head == head
        assert [entry.row["id"] for entry in mine(ledger, club.ann).items] == values
        assert submit(ledger, club.ben, one()).items[0].state == "pending"
        fresh.close()


def test_the_page_shows_the_commands_that_are_tested(request, tmp_path):
    page = (Path(request.config.rootpath) / "docs" / "backup.md").read_text(encoding="utf-8")
    database = Database("postgresql://user@host/hotface")
    for command in (dump_command(database, tmp_path), restore_command(database, tmp_path)):
        for word in (command[0], *(w for w in command[1:] if w.startswith("--"))):
            assert word.partition("=")[0] in page
