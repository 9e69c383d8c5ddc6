"""Sources as a reader meets them: a short name beside a number, a full line on their own page."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from sqlalchemy import Connection

from hotface_api.site import words
from hotface_api.store import read
from hotface_api.store.models import Source

__all__ = ["Cited", "Shelf", "cited", "full_line", "outside_address"]

Item = Mapping[str, Any]
_KEPT: Final = 4
_SHORT: Final = 60
_NUMBERED: Final = ("standard", "legislation", "patent")
_SCHEMES: Final = ("https://", "http://")


@dataclass(frozen=True, slots=True)
class Cited:
    """A source as it stands beside a number."""

    id: str
    short: str
    title: str
    type: str
    seen: str | None


def _year(item: Item) -> str:
    parts = (item.get("issued") or {}).get("date-parts") or [[]]
    return str(parts[0][0]) if parts[0] else "no date"


def _name(person: Item) -> str:
    return str(person.get("family") or person.get("literal") or person.get("given") or "")


def _people(item: Item) -> str:
    """Name the authors: up to three, then the first and others."""
    names = [name for name in map(_name, item.get("author") or ()) if name]
    if len(names) > 3:  # noqa: PLR2004 - what a line holds
        return f"{names[0]} and others"
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1] if names else ""


def _cut(text: str, length: int) -> str:
    """Shorten at a word, and show that it was shortened."""
    if len(text) <= length:
        return text
    return text[:length].rsplit(" ", 1)[0].rstrip(",;:") + "…"


def _title(item: Item) -> str:
    """Give the title; a contributor may know of a text no more than its DOI."""
    if item.get("title"):
        return str(item["title"])
    return f"DOI {item['DOI']}" if item.get("DOI") else str(item["id"])


def _short(item: Item) -> str:
    """Name a standard by its number, else a source by who and when, or by its title."""
    if item.get("number") and item.get("type") in _NUMBERED:
        return str(item["number"])
    who = _people(item) or _cut(_title(item), _SHORT)
    return f"{who}, {_year(item)}"


def cited(row: Mapping[str, Any]) -> Cited:
    """Write a stored source as it stands beside a number."""
    item = row["item"]
    return Cited(
        id=row["id"],
        short=_short(item),
        title=_title(item),
        type=words.SOURCE_TYPES[row["source_type"]],
        seen=row["seen"],
    )


def full_line(item: Item) -> str:
    """Write a citation in one line: who, title, where it appeared, when."""
    volume = " ".join(str(item[name]) for name in ("volume", "issue") if item.get(name))
    where = [
        str(item[name])
        for name in ("container-title", "publisher", "number", "edition")
        if item.get(name)
    ]
    if volume:
        where.append(f"vol. {volume}")
    if item.get("page"):
        where.append(f"pp. {item['page']}")
    year = _year(item) if item.get("issued") else ""
    pieces = [_people(item), _title(item), ", ".join(where), year]
    return ". ".join(piece.rstrip(".") for piece in pieces if piece) + "."


def outside_address(item: Item) -> str | None:
    """Give the address of the source itself, if one is held; never followed by us."""
    if item.get("DOI"):
        return "https://doi.org/" + quote(str(item["DOI"]), safe="/.()-_;:")
    address = str(item.get("URL") or "")
    return address if address.startswith(_SCHEMES) else None


class Shelf:
    """Every source of a revision, read once and kept; safe between threads."""

    def __init__(self) -> None:
        self._kept: OrderedDict[int, Mapping[str, Cited]] = OrderedDict()
        self._lock = threading.Lock()

    def at(self, connection: Connection, revision: int) -> Mapping[str, Cited]:
        """Give the sources of a revision by id."""
        with self._lock:
            found = self._kept.get(revision)
        if found is not None:
            return found
        rows = read.held(connection, Source, revision)
        made = {row["id"]: cited(row) for row in rows}
        with self._lock:
            self._kept[revision] = made
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return made
