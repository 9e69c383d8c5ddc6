"""Which published rows must outlive a newer package because contributions rest on them.

A package that no longer holds a material, source or specimen closes its row; a contributed value
that cites it would then point at nothing. So whatever open contributions refer to, directly or
through what they refer to, stays open.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sqlalchemy import Connection, Row, Table, select

from hotface_api.store.models import RESOURCES, Value
from hotface_api.store.read import table

__all__ = ["rests_on"]

_REFERENCES: Final[Mapping[str, Mapping[str, str]]] = {
    "values": {
        "material": "materials",
        "with": "materials",
        "property": "properties",
        "source": "sources",
        "quoted_in": "sources",
        "origin": "origins",
        "specimen": "specimens",
    },
    "specimens": {
        "material": "materials",
        "source": "sources",
        "quoted_in": "sources",
        "origin": "origins",
    },
    "specimen_constituents": {"material": "materials"},
    "sources": {"origin": "origins"},
    "materials": {"family": "families", "solid": "materials"},
}
_LIVE: Final = ("pending", "accepted")


def rests_on(connection: Connection) -> dict[str, set[str]]:
    """Give, by resource, the ids that open contributions need."""
    needed: dict[str, set[str]] = {name: set() for name in RESOURCES}
    fresh: list[tuple[str, str]] = []
    for name, references in _REFERENCES.items():
        source = table(RESOURCES[name])
        wanted = select(source).where(
            source.c.contributor.is_not(None), source.c.to_revision.is_(None)
        )
        if name == "values":
            wanted = wanted.where(table(Value).c.status.in_(_LIVE))
        for row in connection.execute(wanted):
            fresh += _named(row, references)
    while fresh:
        name, key = fresh.pop()
        if key not in needed[name]:
            needed[name].add(key)
            fresh += _further(connection, name, key)
    return needed


def _named(row: Row[tuple[object, ...]], references: Mapping[str, str]) -> list[tuple[str, str]]:
    found = row._mapping  # noqa: SLF001 - SQLAlchemy's public name for it
    return [(name, found[column]) for column, name in references.items() if found[column]]


def _further(connection: Connection, name: str, key: str) -> list[tuple[str, str]]:
    """Give what one needed row itself refers to."""
    found: list[tuple[str, str]] = []
    if name in _REFERENCES:
        found += _referring(connection, name, table(RESOURCES[name]).c.id == key)
    if name == "specimens":
        recipe = "specimen_constituents"
        found += _referring(connection, recipe, table(RESOURCES[recipe]).c.specimen == key)
    return found


def _referring(connection: Connection, name: str, fits: object) -> list[tuple[str, str]]:
    source: Table = table(RESOURCES[name])
    rows = connection.execute(select(source).where(fits, source.c.to_revision.is_(None)))  # type: ignore[arg-type]
    return [pair for row in rows for pair in _named(row, _REFERENCES[name])]
