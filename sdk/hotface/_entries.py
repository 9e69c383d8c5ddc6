"""Contributed values as their owner and the curators see them, and what was decided on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from hotface._decode import Answered, Row, decode, listed
from hotface._receipts import Told
from hotface._records import Value
from hotface._show import html_table

__all__ = ["Entry", "KeyCard", "Remark", "Standing"]


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing said about a contributed value; ``text`` is ``None`` once blanked."""

    at: datetime
    author: str
    act: str
    text: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Remark:
        """Read one remark."""
        return decode(cls, document, at=datetime.fromisoformat)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M}, {self.author}, {self.act}: {self.text or '(blanked)'}"


@dataclass(frozen=True, slots=True)
class Entry(Answered):
    """A contributed value with its review, as its owner and the curators see it.

    Hand the entry itself to ``Client.review``, ``reply``, ``correct`` and ``withdraw``: it knows
    the version that was looked at, so that a change made meanwhile is not overrun.

    Attributes
    ----------
    value : Value
        The figure as it would be served.
    state : str
        Such as ``pending``, ``asked``, ``accepted``, ``declined``, ``withdrawn``, ``replaced``.
    acts : tuple of str
        What may be done in this state.
    version : int
    submitted_by : str or None
        The name behind the key, ``None`` once erased.
    measured_by : Row or None
        Name and ORCID of who measured, where that is another.
    proposed : mapping
        What was proposed with it: sources, a material, a specimen.
    remarks : tuple of Remark
    told : Told or None
        How it stands against what is held; while it waits, and only when asked for by id.
    """

    value: Value
    state: str
    acts: tuple[str, ...]
    version: int
    submission: str
    submitted_at: datetime
    contributor: str | None
    submitted_by: str | None
    measured_by: Row | None
    proposed: Mapping[str, Any] = field(hash=False)
    remarks: tuple[Remark, ...]
    told: Told | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> Entry:
        """Read an entry; an entry of a list keeps no text of its own."""
        return decode(
            cls,
            {**document, "text": text},
            value=Value.from_json,
            acts=tuple,
            submitted_at=datetime.fromisoformat,
            measured_by=lambda raw: None if raw is None else Row.from_json(raw),
            remarks=listed(Remark.from_json),
            told=Told.from_json,
        )

    @property
    def id(self) -> str:
        """The id of the value."""
        return self.value.id

    def _lines(self) -> list[tuple[str, object]]:
        measured = None if self.measured_by is None else self.measured_by.get("name")
        proposed = ", ".join(name for name, one in self.proposed.items() if one)
        lines: list[tuple[str, object]] = [
            ("printed", self.value.printed),
            ("holds for", self.value.condition),
            ("source", self.value.source or f"basis {self.value.basis}"),
            ("locator", self.value.locator),
            ("state", f"{self.state}, version {self.version}"),
            ("may be done", ", ".join(self.acts)),
            ("submitted", f"{self.submitted_at:%Y-%m-%d} by {self.submitted_by or 'erased'}"),
            ("measured by", measured),
            ("proposed with it", proposed),
            ("told", self.told),
            *(("said", remark) for remark in self.remarks),
        ]
        return [(label, value) for label, value in lines if value not in (None, "")]

    def _caption(self) -> str:
        value = self.value
        return f"{value.id}: {value.material}, {value.property.replace('_', ' ')}, {value.range}"

    def __str__(self) -> str:
        return "\n".join([self._caption(), *(f"  {name}: {one}" for name, one in self._lines())])

    def _repr_html_(self) -> str:
        return html_table(self._caption(), ["", ""], self._lines())


@dataclass(frozen=True, slots=True)
class Standing(Answered):
    """Where a contributed value stands after something was done to it.

    Attributes
    ----------
    value, state : str
    version : int
        What the next change names.
    revision : int or None
        Of the data, where the act made one.
    replayed : bool
        Whether this answer was given before, to the same request.
    """

    value: str
    state: str
    version: int
    revision: int | None
    replayed: bool = False

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> Standing:
        """Read a standing."""
        return decode(cls, {**document, "text": text})

    def __str__(self) -> str:
        counted = "" if self.revision is None else f"; the data are at revision {self.revision}"
        return f"{self.value} is {self.state}, version {self.version}{counted}"

    def _repr_html_(self) -> str:
        rows = [("state", self.state), ("version", self.version), ("revision", self.revision)]
        return html_table(self.value, ["", ""], rows)


@dataclass(frozen=True, slots=True)
class KeyCard(Answered):
    """A key as its holder sees it: whose, for what, how long; never the key itself."""

    contributor: str
    role: str
    prefix: str
    label: str | None
    made_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> KeyCard:
        """Read a key card."""
        return decode(
            cls,
            {**document, "text": text},
            made_at=datetime.fromisoformat,
            expires_at=_moment,
            last_used_at=_moment,
        )

    def _lines(self) -> list[tuple[str, object]]:
        lines: list[tuple[str, object]] = [
            ("of", self.contributor),
            ("role", self.role),
            ("for", self.label),
            ("made", f"{self.made_at:%Y-%m-%d}"),
            ("expires", "never" if self.expires_at is None else f"{self.expires_at:%Y-%m-%d}"),
            ("last used", self.last_used_at and f"{self.last_used_at:%Y-%m-%d %H:%M}"),
        ]
        return [(label, value) for label, value in lines if value not in (None, "")]

    def __str__(self) -> str:
        lines = (f"  {label}: {value}" for label, value in self._lines())
        return "\n".join([f"{self.prefix}...", *lines])

    def _repr_html_(self) -> str:
        return html_table(f"{self.prefix}...", ["", ""], self._lines())


def _moment(raw: str | None) -> datetime | None:
    return None if raw is None else datetime.fromisoformat(raw)
