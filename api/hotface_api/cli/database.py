"""The commands that work on the database of this machine: load, check, serve."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from hotface_api.cli import NOT_YES
from hotface_api.cli.session import LocalError
from hotface_api.cli.tables import lines

if TYPE_CHECKING:
    from hotface_api.store.database import Database

__all__ = ["COMMANDS", "Progress", "opened", "shown_url"]

_PACKAGE: Final = "datapackage.json"
_LOAD_EXAMPLE: Final = """\
\b
  HOTFACE_DATABASE_URL=sqlite:///club.sqlite3 hotface load
"""


class Progress:
    """Shows how far a long work is, on standard error: a bar on a terminal, else a line a part.

    Parameters
    ----------
    what : str
        What is counted.
    """

    def __init__(self, what: str = "rows") -> None:
        self._what = what
        self._name = ""
        self._bar: Any = None
        self._done = 0

    def __call__(self, name: str, done: int, total: int) -> None:
        """Take the news: the part that is worked on, how much of it is done, and of how much."""
        if name != self._name:
            self.close()
            self._name, self._done = name, 0
            if sys.stderr.isatty():
                self._bar = click.progressbar(length=total, label=f"{name:<22}", file=sys.stderr)
                self._bar.render_progress()
        if self._bar is not None:
            self._bar.update(done - self._done)
        self._done = done

    def close(self) -> None:
        """End the table that is done."""
        if self._bar is not None:
            self._bar.render_finish()
        elif self._name and self._done:
            click.echo(f"{self._name}: {self._done} {self._what}", err=True)
        self._bar, self._name = None, ""


@contextmanager
def opened() -> Iterator[Database]:
    """Open the database of the settings; what goes wrong is told without a trace."""
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415 - loads the whole service

    from hotface_api.load.package import PackageError  # noqa: PLC0415
    from hotface_api.settings import Settings, SettingsError  # noqa: PLC0415
    from hotface_api.store.database import Database, DatabaseError  # noqa: PLC0415

    try:
        database = Database(Settings.from_environment().database_url)
        try:
            yield database
        finally:
            database.close()
    except (DatabaseError, PackageError, SettingsError) as error:
        raise LocalError(str(error)) from error
    except SQLAlchemyError as error:
        cause = getattr(error, "orig", None) or error
        raise LocalError(
            f"the database cannot be used ({cause}); check HOTFACE_DATABASE_URL"
        ) from (error)


def shown_url(database: Database) -> str:
    """Give the address of a database without its password."""
    return database.url.render_as_string(hide_password=True)


@click.command(epilog=_LOAD_EXAMPLE)
@click.argument("package", required=False, type=click.Path(exists=True, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def load(package: Path | None, as_json: bool) -> None:
    """Bring the database to this version and load a data PACKAGE into it, whole or not at all.

    PACKAGE is a folder or its datapackage.json; left out, the published data that came with this
    program. Loading the same data again changes nothing.
    """
    from hotface_api.load.loader import load as load_package  # noqa: PLC0415
    from hotface_api.store.schema import migrate  # noqa: PLC0415
    from hotface_seed import PACKAGE_PATH  # noqa: PLC0415

    place = PACKAGE_PATH if package is None else package
    descriptor = place / _PACKAGE if place.is_dir() else place
    progress = Progress()
    with opened() as database:
        migrate(database)
        report = load_package(database, descriptor, progress)
        progress.close()
        if as_json:
            click.echo(json.dumps(report._asdict()))
            return
        news = f"{report.opened} rows new, {report.closed} closed" if report.changed else "no news"
        click.echo(f"{shown_url(database)} is at revision {report.revision}: {news}")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(as_json: bool) -> None:
    """Tell whether the database is migrated and loaded; leaves with 3 if not."""
    with opened() as database:
        found = _findings(database)
    ready = found["migrated"] and found["revision"] is not None
    if as_json:
        click.echo(json.dumps({**found, "ready": ready}))
    else:
        click.echo(
            lines(
                [
                    ("database", found["database"]),
                    ("migrated", "yes" if found["migrated"] else "no"),
                    ("revision", found["revision"] or "nothing loaded"),
                    ("published data", found["package_version"]),
                    ("ready", "yes" if ready else "no: run  hotface load"),
                ]
            )
        )
    if not ready:
        raise SystemExit(NOT_YES)


def _findings(database: Database) -> dict[str, Any]:
    """Look without changing anything; a missing SQLite file is not made."""
    from sqlalchemy import select  # noqa: PLC0415 - loads the whole service

    from hotface_api.store.models import Revision  # noqa: PLC0415
    from hotface_api.store.schema import is_current  # noqa: PLC0415

    found: dict[str, Any] = {
        "database": shown_url(database),
        "migrated": False,
        "revision": None,
        "package_version": None,
    }
    if database.is_sqlite and not Path(str(database.url.database)).expanduser().exists():
        return found
    newest = Revision.number.desc()
    seeds = select(Revision.package_version).where(Revision.kind == "seed")
    with database.read() as connection:
        found["migrated"] = is_current(connection)
        if found["migrated"]:
            found["revision"] = connection.scalar(select(Revision.number).order_by(newest).limit(1))
            found["package_version"] = connection.scalar(seeds.order_by(newest).limit(1))
    return found


COMMANDS: Final = (load, check)
