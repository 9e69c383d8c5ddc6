"""The small tables every answer needs, read once a revision and kept.

Materials, properties, source types, cautions and phases change only with a revision, so they are
read when a revision is first asked for and shared by all later answers: an answer then costs the
statements for its own values and no more.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Table, and_, or_, select

from hotface_api.store.base import Base
from hotface_api.store.database import Database
from hotface_api.store.models import (
    Caution,
    Family,
    Material,
    Origin,
    Phase,
    Property,
    Setting,
    Source,
)
from hotface_api.store.read import bytewise

__all__ = ["Reference", "ReferenceCache", "RevisionUnknownError", "holds_at", "read_reference"]

Row = Mapping[str, Any]
_KEPT: Final = 4


class RevisionUnknownError(LookupError):
    """A revision that does not exist (yet); carries the latest one."""

    def __init__(self, asked: int, latest: int) -> None:
        super().__init__(f"revision {asked} does not exist; the latest is {latest}")
        self.asked = asked
        self.latest = latest


def holds_at(table: Table, revision: int | ColumnElement[int]) -> ColumnElement[bool]:
    """Tell which rows of a dated table hold at a revision."""
    return and_(
        table.c.from_revision <= revision,
        or_(table.c.to_revision.is_(None), table.c.to_revision > revision),
    )


@dataclass(frozen=True, slots=True)
class Reference:
    """The reference tables as they stood at one revision. Numbers are SI."""

    revision: int
    database_id: str
    materials: Mapping[str, Row]
    properties: Mapping[str, Row]
    families: Mapping[str, Row]
    source_types: Mapping[str, str]
    origins: Mapping[str, Row]
    cautions: tuple[Row, ...]
    phases: tuple[Row, ...]

    def family_of(self, material: str | None) -> str | None:
        """Give the family of a material, if it has one."""
        row = self.materials.get(material or "")
        return None if row is None else row["family"]

    def grades(self, material: str) -> tuple[str, ...]:
        """Give the other members of a material's family."""
        family = self.family_of(material)
        if family is None:
            return ()
        members = (key for key, row in self.materials.items() if row["family"] == family)
        return tuple(key for key in members if key != material)


def _rows(connection: Connection, model: type[Base], revision: int) -> dict[str, Row]:
    table: Table = model.__table__  # type: ignore[assignment]
    statement = select(table).where(holds_at(table, revision)).order_by(bytewise(table.c.id))
    return {row["id"]: dict(row) for row in connection.execute(statement).mappings()}


def read_reference(connection: Connection, revision: int) -> Reference:
    """Read the reference tables as they stood at a revision, on a connection at hand."""
    source = Source.__table__
    types = select(source.c.id, source.c.source_type).where(holds_at(source, revision))  # type: ignore[arg-type]
    database_id = connection.scalar(select(Setting.value).where(Setting.name == "database_id"))
    return Reference(
        revision=revision,
        database_id=database_id or "",
        materials=_rows(connection, Material, revision),
        properties=_rows(connection, Property, revision),
        families=_rows(connection, Family, revision),
        source_types={row.id: row.source_type for row in connection.execute(types)},
        origins=_rows(connection, Origin, revision),
        cautions=tuple(_rows(connection, Caution, revision).values()),
        phases=tuple(_rows(connection, Phase, revision).values()),
    )


class ReferenceCache:
    """Keeps the last few revisions' references of one database; safe between threads."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._kept: OrderedDict[int, Reference] = OrderedDict()
        self._lock = threading.Lock()

    def latest(self) -> Reference:
        """Give the reference at the latest revision."""
        return self.at(self._database.revision())

    def at(self, revision: int, latest: int | None = None) -> Reference:
        """Give the reference at a revision.

        Raises
        ------
        RevisionUnknownError
            If the revision lies beyond the latest, or nothing is loaded.
        """
        with self._lock:
            kept = self._kept.get(revision)
            if kept is not None:
                self._kept.move_to_end(revision)
                return kept
        newest = self._database.revision() if latest is None else latest
        if not 1 <= revision <= newest:
            raise RevisionUnknownError(revision, newest)
        with self._database.read() as connection:
            made = read_reference(connection, revision)
        with self._lock:
            self._kept[revision] = made
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return made
