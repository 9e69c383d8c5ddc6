"""Put a package into the store as one revision, changing only what changed.

Loading the same package twice changes nothing. A newer package closes the rows it no longer holds
or holds differently, opens the new ones, and leaves contributed values alone; all in one
transaction, so that a reader sees the old data or the new and nothing between.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection, Table, insert, select, update

from hotface_api.load.convert import store_rows
from hotface_api.load.package import Package, read_package
from hotface_api.store.database import Database
from hotface_api.store.models import RESOURCES, Revision, Setting

__all__ = ["LoadReport", "Progress", "load"]

Row = dict[str, Any]
Progress = Callable[[str, int, int], None]
_BATCH = 500
_BOOKKEEPING = frozenset({"row", "from_revision", "to_revision"})


class LoadReport(NamedTuple):
    """What a load did: the revision served now and how many rows were opened and closed."""

    revision: int
    opened: int
    closed: int
    changed: bool


def _silent(_resource: str, _done: int, _total: int) -> None:
    return


def load(database: Database, descriptor: Path, progress: Progress = _silent) -> LoadReport:
    """Load a data package, whole or not at all.

    Parameters
    ----------
    database : Database
        A migrated database.
    descriptor : Path
        The package's ``datapackage.json``.
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
    package = read_package(descriptor)
    rows = store_rows(package)
    with database.write() as connection:
        latest = _latest(connection)
        if latest is not None and _loaded_digest(connection) == package.digest:
            return LoadReport(latest, 0, 0, changed=False)
        number = (latest or 0) + 1
        _open_revision(connection, number, package)
        opened = closed = 0
        for name, model in RESOURCES.items():
            new, gone = _renew(connection, model.__table__, rows[name], number, name, progress)  # type: ignore[arg-type]
            opened, closed = opened + new, closed + gone
    return LoadReport(number, opened, closed, changed=True)


def _latest(connection: Connection) -> int | None:
    return connection.scalar(
        select(Revision.number).order_by(Revision.number.desc()).limit(1)
    )


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
    connection: Connection, table: Table, rows: list[Row], number: int, name: str,
    progress: Progress,
) -> tuple[int, int]:
    """Close rows that are gone or differ, open the new ones; return how many of each."""
    columns = [column.name for column in table.columns if column.name not in _BOOKKEEPING]
    held = _held(connection, table)
    fresh: list[Row] = []
    for row in rows:
        wanted = {column: row.get(column) for column in columns}
        old = held.pop(_key(wanted), None)
        if old is None:
            fresh.append(wanted)
        elif {column: old[column] for column in columns} != wanted:
            held[_key(wanted)] = old  # differs: stays in `held` to be closed
            fresh.append(wanted)
    gone = [old["row"] for old in held.values() if old.get("contributor") is None]
    for start in range(0, len(gone), _BATCH):
        batch = table.c.row.in_(gone[start : start + _BATCH])
        connection.execute(update(table).where(batch).values(to_revision=number))
    total = len(fresh)
    for start in range(0, total, _BATCH):
        batch_rows = [{**row, "from_revision": number} for row in fresh[start : start + _BATCH]]
        connection.execute(insert(table), batch_rows)
        progress(name, min(start + _BATCH, total), total)
    return total, len(gone)


def _held(connection: Connection, table: Table) -> dict[tuple[Any, ...], Row]:
    open_rows = select(table).where(table.c.to_revision.is_(None))
    return {_key(dict(row)): dict(row) for row in connection.execute(open_rows).mappings()}
