"""Backup and restore of an SQLite database while it is in use, and the commands for PostgreSQL.

SQLite's online backup copies a consistent state page by page while others read and write. A
backup is written beside its target, checked (pages, schema, audit) and only then put in place.
"""

from __future__ import annotations

import os
import sqlite3
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import delete, select, update
from sqlalchemy.engine import URL

from hotface_api.ledger import audit
from hotface_api.ledger.check import AuditReport, check_connection
from hotface_api.ledger.core import Ledger, latest_revision
from hotface_api.ledger.errors import BackupRefusedError, UnavailableError
from hotface_api.ledger.keys import revoke_key
from hotface_api.ledger.people import OPERATOR, erase_person
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_api.store.ledger_models import ApiKey, Contributor, Remark, WebSession
from hotface_api.store.models import Setting
from hotface_api.store.read import table

__all__ = ["BackupReport", "backup", "dump_command", "restore", "restore_command", "verify"]

Progress = Callable[[int, int], None]
_PAGES: Final = 512
_WAIT_SECONDS: Final = 10.0


@dataclass(frozen=True, slots=True)
class BackupReport:
    """What a backup or restored database holds: its id, latest revision, audit, and size."""

    path: str
    database_id: str
    revision: int
    audit: AuditReport
    size: int


def _silent(_done: int, _total: int) -> None:
    return


def backup(database: Database, target: Path, progress: Progress = _silent) -> BackupReport:
    """Copy an SQLite database in use into a file, and check the copy.

    Parameters
    ----------
    database : Database
    target : Path
        Must not exist; its folder must.
    progress : callable, optional
        Called with pages done and pages in all.

    Returns
    -------
    BackupReport

    Raises
    ------
    BackupRefusedError
        If the database is not SQLite, the target exists, or the copy does not pass.
    UnavailableError
        If there is no room or the database is locked; no file is left then.
    """
    source = _path(database)
    if target.exists():
        raise BackupRefusedError(f"{target} exists; a backup never overwrites")
    part = target.with_name(f"{target.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        _copy(source, part, progress)
        report = verify(part)
        _settle(part)
        part.rename(target)
    finally:
        for leftover in (part, *_companions(part)):
            leftover.unlink(missing_ok=True)
    return BackupReport(str(target), report.database_id, report.revision, report.audit, report.size)


def _path(database: Database) -> Path:
    if not database.is_sqlite:
        raise BackupRefusedError(
            "this is a PostgreSQL database; back it up with pg_dump (see docs/backup.md)"
        )
    return Path(str(database.url.database))


def _companions(path: Path) -> tuple[Path, Path]:
    return path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")


def _copy(source: Path, target: Path, progress: Progress) -> None:
    def tell(_status: int, remaining: int, total: int) -> None:
        progress(total - remaining, total)

    with (
        _sqlite_told(),
        closing(sqlite3.connect(source, timeout=_WAIT_SECONDS)) as old,
        closing(sqlite3.connect(target, timeout=_WAIT_SECONDS)) as new,
    ):
        old.backup(new, pages=_PAGES, progress=tell, sleep=0.05)


@contextmanager
def _sqlite_told() -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise UnavailableError(f"the copy failed ({error}); nothing was changed") from error


def _settle(path: Path) -> None:
    """Bring a file and its name to the disk before it counts as a backup."""
    for place in (path, path.parent):
        handle = os.open(place, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def verify(path: Path) -> BackupReport:
    """Check a backup: every page, the schema, the audit and every contribution against it.

    Raises
    ------
    BackupRefusedError
        If anything is wrong; the message says what.
    """
    if not path.is_file():
        raise BackupRefusedError(f"there is no file {path}")
    _check_pages(path)
    database = Database(f"sqlite:///{path}")
    try:
        with database.read() as connection:
            if not schema.is_current(connection):
                raise BackupRefusedError(
                    f"{path} has the schema of another version; restore it with that version and"
                    " let `hotface load` bring it up to date"
                )
            report = check_connection(connection)
            name = select(table(Setting).c.value).where(table(Setting).c.name == "database_id")
            found = connection.scalar(name)
            revision = latest_revision(connection)
    finally:
        database.close()
    if not report.intact:
        raise BackupRefusedError(f"{path}: the audit does not fit: {report.faults[0]}")
    return BackupReport(str(path), found or "", revision, report, path.stat().st_size)


def _check_pages(path: Path) -> None:
    try:
        with closing(sqlite3.connect(path, timeout=_WAIT_SECONDS)) as connection:
            told = connection.execute("PRAGMA integrity_check(5)").fetchall()
            foreign = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.Error as error:
        raise BackupRefusedError(f"{path} is not a whole SQLite database: {error}") from error
    if told != [("ok",)]:
        raise BackupRefusedError(f"{path} is damaged: {told[0][0]}")
    if foreign:
        raise BackupRefusedError(f"{path}: a row of {foreign[0][0]} points at nothing")


def restore(
    source: Path, database: Database, *, overwrite: bool = False, progress: Progress = _silent
) -> BackupReport:
    """Put a checked backup in the place of a database.

    Stop the service first: workers keep what they read of a revision. Where the present database
    has gone on since the backup, its later revisions are lost, so the restored one gets a new
    ``database_id``: the same revision number may then mean something else than before. Keys that
    were revoked and people who were erased in the present database stay so in the restored one, and
    every session of the pages ends.

    Parameters
    ----------
    source : Path
        A backup.
    database : Database
        What is replaced.
    overwrite : bool
        Must be True where the database holds anything.
    progress : callable, optional

    Raises
    ------
    BackupRefusedError
        If the backup does not pass, or the database holds data and ``overwrite`` is False.
    UnavailableError
    """
    target = _path(database)
    kept = verify(source)
    present = _present_revision(database)
    if present is not None and not overwrite:
        raise BackupRefusedError(
            f"{target} holds data (revision {present}); say overwrite to replace it"
        )
    gone = _taken_away(database) if present else _Gone()
    database.close()
    _copy(source, target, progress)
    ledger = Ledger(database)
    if present is not None and present > kept.revision:
        _new_identity(ledger, kept, present)
    _take_away(ledger, gone)
    report = verify(target)
    database.close()
    return report


def _present_revision(database: Database) -> int | None:
    """Give the revision a database stands at; None if there is nothing to lose."""
    if not Path(str(database.url.database)).exists():
        return None
    with database.read() as connection:
        if not schema.is_current(connection):
            names = connection.exec_driver_sql("SELECT name FROM sqlite_master").fetchall()
            return 0 if names else None
        return latest_revision(connection) or None


@dataclass(frozen=True, slots=True)
class _Gone:
    """What must not come back with a backup: keys and people by id, and whose texts are blank."""

    keys: frozenset[str] = frozenset()
    people: frozenset[str] = frozenset()
    silent: frozenset[str] = frozenset()


def _taken_away(database: Database) -> _Gone:
    """Read which keys are revoked and who is erased."""
    keys, people, said = table(ApiKey).c, table(Contributor).c, table(Remark).c
    with database.read() as connection:
        return _Gone(
            frozenset(connection.scalars(select(keys.id).where(keys.revoked_at.is_not(None)))),
            frozenset(connection.scalars(select(people.id).where(people.erased_at.is_not(None)))),
            frozenset(connection.scalars(select(said.author).where(said.text.is_(None)))),
        )


def _take_away(ledger: Ledger, gone: _Gone) -> None:
    """Revoke and erase again what a backup brought back."""
    keys, people = table(ApiKey).c, table(Contributor).c
    with ledger.write() as connection:
        connection.execute(delete(table(WebSession)))
        named = set(connection.scalars(select(people.id).where(people.erased_at.is_(None))))
        live = set(connection.scalars(select(keys.id).where(keys.revoked_at.is_(None))))
    for person in sorted(gone.people & named):
        erase_person(ledger, person, remarks=person in gone.silent)
    for key in sorted(gone.keys & live):
        revoke_key(ledger, key)


def _new_identity(ledger: Ledger, kept: BackupReport, present: int) -> None:
    made = str(uuid.uuid4())
    columns = table(Setting).c
    with ledger.write() as connection:
        connection.execute(
            update(table(Setting)).where(columns.name == "database_id").values(value=made)
        )
        facts = {"from_revision": present, "to_revision": kept.revision, "was": kept.database_id}
        audit.append(connection, ledger.now(), OPERATOR, "restore", made, facts)


def _plain(url: URL) -> str:
    return url.set(drivername="postgresql").render_as_string(hide_password=False)


def dump_command(database: Database, target: Path) -> list[str]:
    """Give the command that backs a PostgreSQL database up: consistent, while in use."""
    return ["pg_dump", "--format=custom", f"--file={target}", "--no-owner", _plain(database.url)]


def restore_command(database: Database, source: Path) -> list[str]:
    """Give the command that restores such a backup into an empty PostgreSQL database."""
    return [
        "pg_restore",
        "--no-owner",
        "--exit-on-error",
        "--single-transaction",
        f"--dbname={_plain(database.url)}",
        str(source),
    ]
