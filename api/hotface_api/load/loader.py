"""Put a package into the store as one revision, changing only what changed.

Loading the same package twice changes nothing. A newer package closes the rows it no longer holds
or holds differently, opens the new ones, and leaves alone what was contributed and what
contributions rest on (unless it carries their ids: then it takes them over); all in one
transaction, so that a reader sees the old data or the new and nothing between.
"""

from __future__ import annotations

import math
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection, Table, insert, select, update
from sqlalchemy.exc import DataError, IntegrityError

from hotface_api.load.convert import store_rows
from hotface_api.load.kept import rests_on
from hotface_api.load.package import Fault, Package, PackageError, package_digest, read_package
from hotface_api.store.database import Database
from hotface_api.store.models import RESOURCES, Revision, Setting

__all__ = ["LoadReport", "Progress", "load", "loaded_revision"]

Row = dict[str, Any]
Progress = Callable[[str, int, int], None]
_BATCH = 500
_BOOKKEEPING = frozenset({"row", "from_revision", "to_revision"})
_REVIEWED = frozenset({"status", "version"})
"""Columns that reviews count up; a row is the same row whatever they say."""


class LoadReport(NamedTuple):
    """What a load did: the revision served now and how many rows were opened and closed."""

    revision: int
    opened: int
    closed: int
    changed: bool


def _silent(_resource: str, _done: int, _total: int) -> None:
    return


def load(database: Database, path: Path, progress: Progress = _silent) -> LoadReport:
    """Load a data package, whole or not at all.

    Parameters
    ----------
    database : Database
        A migrated database.
    path : Path
        The package's ``datapackage.json``, or the package as a ``.zip``.
    progress : callable, optional
        Called with resource name, rows done and rows in all.

    Returns
    -------
    LoadReport

    Raises
    ------
    PackageError
        If the package is faulty; nothing is written.
    """
    package = read_package(path)
    rows = store_rows(package)
    with database.write() as connection:
        latest = _latest(connection)
        if latest is not None and _loaded_digest(connection) == package.digest:
            return LoadReport(latest, 0, 0, changed=False)
        number = (latest or 0) + 1
        _open_revision(connection, number, package)
        opened = closed = 0
        kept = rests_on(connection)
        for name, model in RESOURCES.items():
            table: Table = model.__table__  # type: ignore[assignment]
            stays = kept["specimens" if name == "specimen_constituents" else name]
            new, gone = _renew(
                connection,
                table,
                rows[name],
                number,
                stays,
                package.files.get(name, name),
                lambda done, total, name=name: progress(name, done, total),  # type: ignore[misc]
            )
            opened, closed = opened + new, closed + gone
    return LoadReport(number, opened, closed, changed=True)


def loaded_revision(connection: Connection, path: Path) -> int | None:
    """Give the latest revision if the package loaded last is this one, byte for byte, else None.

    Nothing is parsed and nothing locked, so that a start on data already loaded is quick and waits
    for nobody.

    Raises
    ------
    PackageError
        If a file of the package is missing.
    """
    latest = _latest(connection)
    if latest is None or _loaded_digest(connection) != package_digest(path):
        return None
    return latest


def _latest(connection: Connection) -> int | None:
    return connection.scalar(select(Revision.number).order_by(Revision.number.desc()).limit(1))


def _loaded_digest(connection: Connection) -> str | None:
    """Give the digest of the seed loaded last; contributions since then do not matter."""
    return connection.scalar(
        select(Revision.content_digest)
        .where(Revision.kind == "seed")
        .order_by(Revision.number.desc())
        .limit(1)
    )


def _open_revision(connection: Connection, number: int, package: Package) -> None:
    if number == 1:
        connection.execute(insert(Setting).values(name="database_id", value=str(uuid.uuid4())))
    connection.execute(
        insert(Revision).values(
            number=number,
            made_at=datetime.now(UTC),
            kind="seed",
            summary=f"published data, package version {package.version}",
            package_version=package.version,
            content_digest=package.digest,
        )
    )


def _key(row: Row) -> tuple[Any, ...]:
    return (row["id"],) if "id" in row else (row["specimen"], row["position"])


def _renew(
    connection: Connection,
    table: Table,
    rows: list[Row],
    number: int,
    stays: set[str],
    file: str,
    progress: Callable[[int, int], None],
) -> tuple[int, int]:
    """Close rows that are gone or differ, open the new ones; return how many of each."""
    columns = [column.name for column in table.columns if column.name not in _BOOKKEEPING]
    held = _held(connection, table)
    overruled = _overruled(connection, table)
    fresh: list[Row] = []
    gone: list[int] = []
    for row in rows:
        wanted = {column: row.get(column) for column in columns}
        key = _key(wanted)
        old = held.pop(key, None)
        if _same(old or overruled.get(key), wanted):
            continue
        fresh.append(wanted)
        if old is not None:
            gone.append(old["row"])
    gone += [old["row"] for key, old in held.items() if _is_ours(key, old, stays)]
    for start in range(0, len(gone), _BATCH):
        batch = table.c.row.in_(gone[start : start + _BATCH])
        connection.execute(update(table).where(batch).values(to_revision=number))
    total = len(fresh)
    for start in range(0, total, _BATCH):
        batch_rows = [{**row, "from_revision": number} for row in fresh[start : start + _BATCH]]
        _insert(connection, table, batch_rows, file)
        progress(min(start + _BATCH, total), total)
    return total, len(gone)


def _same(old: Row | None, wanted: Row) -> bool:
    return old is not None and all(
        _equal(old[column], cell) for column, cell in wanted.items() if column not in _REVIEWED
    )


def _equal(old: Any, new: Any) -> bool:
    """Tell whether two cells say the same; a unit there and back may cost the last digit."""
    if isinstance(old, float) and isinstance(new, float):
        return math.isclose(old, new, rel_tol=1e-14)
    return bool(old == new)


def _insert(connection: Connection, table: Table, rows: list[Row], file: str) -> None:
    """Insert rows; what the database itself refuses is a fault of the package too."""
    try:
        connection.execute(insert(table), rows)
    except (IntegrityError, DataError) as error:
        message = f"the database refuses a row: {error.orig}"
        raise PackageError([Fault(file, None, None, message)]) from error


def _is_ours(key: tuple[Any, ...], old: Row, stays: set[str]) -> bool:
    """Tell whether a row no package holds any more may be closed by one."""
    return old.get("contributor") is None and key[0] not in stays


def _held(connection: Connection, table: Table) -> dict[tuple[Any, ...], Row]:
    open_rows = select(table).where(table.c.to_revision.is_(None))
    return {_key(dict(row)): dict(row) for row in connection.execute(open_rows).mappings()}


def _overruled(connection: Connection, table: Table) -> dict[tuple[Any, ...], Row]:
    """Rows closed by a correction or withdrawal rather than by a package, as they stood."""
    decided = select(Revision.number).where(Revision.kind != "seed")
    closed = select(table).where(table.c.to_revision.in_(decided)).order_by(table.c.row)
    return {_key(dict(row)): dict(row) for row in connection.execute(closed).mappings()}
