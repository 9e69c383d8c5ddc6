"""The operator's commands on the record: backup, restore, and the check of the audit."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from hotface_api.cli import NOT_YES
from hotface_api.cli.database import Progress, opened
from hotface_api.cli.operator import as_json, held_database, open_ledger, print_json, refusals
from hotface_api.cli.session import LocalError
from hotface_api.cli.tables import lines

if TYPE_CHECKING:
    from hotface_api.store.database import Database

__all__ = ["COMMANDS"]

_BACKUP_EXAMPLE: Final = """\
\b
Every Monday, while the club's service runs:
  hotface backup club-monday.sqlite3
"""
_RESTORE_EXAMPLE: Final = """\
\b
Try a backup beside the service, without touching what it serves:
  HOTFACE_DATABASE_URL=sqlite:///trial.sqlite3 hotface restore club-monday.sqlite3
"""
_AUDIT_EXAMPLE: Final = """\
\b
Write down the head that is printed, somewhere else, and give it again next month:
  hotface audit
  hotface audit --expect 128:0b6f...
"""


def _own_tools(
    database: Database, file: Path, command: Callable[[Database, Path], list[str]], what: str
) -> LocalError:
    """Tell the command that does it on PostgreSQL, without the password."""
    words = command(database, file)
    if database.url.password:
        secret = database.url.set(drivername="postgresql")
        whole = secret.render_as_string(hide_password=False)
        bare = secret.render_as_string(hide_password=True).replace(":***@", "@")
        words = [word.replace(whole, bare) for word in words]
    return LocalError(
        f"this is a PostgreSQL database; {what} with its own tools, of the server's version or"
        f" newer (password in PGPASSWORD or ~/.pgpass):\n  {shlex.join(words)}\n"
        "then check the record with  hotface audit"
    )


def _pages(progress: Progress) -> Callable[[int, int], None]:
    return lambda done, total: progress("copied", done, total)


@click.command(epilog=_BACKUP_EXAMPLE)
@click.argument("file", type=click.Path(path_type=Path))
@as_json
def backup(file: Path, as_json: bool) -> None:
    """Copy the SQLite database to a FILE while it is in use, and check the copy.

    A backup never overwrites a file, and a copy that does not pass its check is not left behind.
    """
    progress = Progress("pages")
    with refusals(), held_database() as database:
        from hotface_api.ledger import backup as copies  # noqa: PLC0415 - whole service

        if not database.is_sqlite:
            raise _own_tools(database, file, copies.dump_command, "back it up")
        _check_folder(file)
        try:
            report = copies.backup(database, file, _pages(progress))
        finally:
            progress.close()
    _tell(report, "is a checked copy", as_json=as_json)


def _check_folder(file: Path) -> None:
    """Tell a folder that is not there before anything is copied."""
    if not file.parent.is_dir():
        raise LocalError(f"there is no folder {file.parent}; make it first")


@click.command(epilog=_RESTORE_EXAMPLE)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace a database that holds data.")
@as_json
def restore(file: Path, overwrite: bool, as_json: bool) -> None:
    """Put the backup of a FILE in the place of the SQLite database. Stop the service first.

    The backup is checked before anything is touched. A database that holds data is replaced only
    with --overwrite.
    """
    progress = Progress("pages")
    with refusals(), opened() as database:
        from hotface_api.ledger import backup as copies  # noqa: PLC0415 - whole service
        from hotface_api.ledger.errors import BackupRefusedError  # noqa: PLC0415

        if not database.is_sqlite:
            raise _own_tools(database, file, copies.restore_command, "restore into an empty one")
        try:
            report = copies.restore(file, database, overwrite=overwrite, progress=_pages(progress))
        except BackupRefusedError as error:
            raise LocalError(
                error.message.replace("say overwrite to replace it", "--overwrite replaces it")
            ) from error
        finally:
            progress.close()
    _tell(report, "is restored and checked", as_json=as_json)


def _tell(report: Any, what: str, *, as_json: bool) -> None:
    if as_json:
        print_json({**asdict(report), "intact": report.audit.intact})
        return
    entries = report.audit.entries
    counted = f"revision {report.revision}, {entries} audit entries, {report.size} bytes"
    click.echo(f"{report.path} {what}: {counted}")
    _tell_head(report.audit.head)


@click.command(epilog=_AUDIT_EXAMPLE)
@click.option("--expect", metavar="NUMBER:HASH", help="A head noted earlier that must be there.")
@as_json
def audit(expect: str | None, as_json: bool) -> None:
    """Check the record of contributions against its chain; leaves with 3 if it does not fit.

    Nothing is changed. Keep the head that is printed somewhere else: with --expect a record whose
    end was cut off is noticed too.
    """
    expected = _head(expect)
    with open_ledger() as ledger:
        from hotface_api.ledger.check import check_audit  # noqa: PLC0415 - whole service

        report = check_audit(ledger, expected=expected)
    if as_json:
        print_json({**asdict(report), "intact": report.intact})
    else:
        click.echo(
            lines(
                [
                    ("intact", "yes" if report.intact else "no"),
                    ("entries", report.entries),
                    ("contributed values", report.contributions),
                    *(("fault", fault) for fault in report.faults),
                ]
            )
        )
        _tell_head(report.head)
    if not report.intact:
        raise SystemExit(NOT_YES)


def _tell_head(head: tuple[int, str] | None) -> None:
    """Print the head in a line of its own, never wrapped: it is there to be copied."""
    if head is not None:
        click.echo(f"head {head[0]}:{head[1]}")


def _head(expect: str | None) -> tuple[int, str] | None:
    if expect is None:
        return None
    number, _, value = expect.partition(":")
    if not (number.isascii() and number.isdigit() and value):
        raise click.BadParameter("write it as it was printed, NUMBER:HASH", param_hint="--expect")
    return int(number), value


COMMANDS: Final = (backup, restore, audit)
