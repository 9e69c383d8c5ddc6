"""Rows of the reference tables: cones, phases, classes, standards, and lines of the holdings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hotface._decode import Columns, decode, listed, point
from hotface._quantities import Figure

__all__ = ["ClassLimit", "Cone", "Held", "Holding", "Missing", "Phase", "Standard"]


@dataclass(frozen=True, slots=True)
class Cone(Columns):
    """The end point of a pyrometric cone, by one source at one heating rate."""

    id: str
    series: str
    cone: str
    heating_rate: Figure | None
    temperature: Figure
    source: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    note: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Cone:
        """Read a cone."""
        return decode(cls, document, heating_rate=point, temperature=point)

    def __str__(self) -> str:
        rate = "" if self.heating_rate is None else f" at {self.heating_rate}"
        return f"{self.series} {self.cone}{rate}: {self.temperature}"


@dataclass(frozen=True, slots=True)
class Phase(Columns):
    """A melting or invariant point of an oxide system."""

    id: str
    oxides: tuple[str, ...]
    phases: str
    kind: str
    temperature: Figure
    temperature_high: Figure | None
    composition: str | None
    source: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    note: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Phase:
        """Read a point."""
        return decode(cls, document, oxides=tuple, temperature=point, temperature_high=point)

    def __str__(self) -> str:
        high = "" if self.temperature_high is None else f" to {self.temperature_high}"
        return f"{self.temperature}{high}: {self.phases} ({'-'.join(self.oxides)}, {self.kind})"


@dataclass(frozen=True, slots=True)
class ClassLimit(Columns):
    """A limit by which a standard tells its classes apart, in the unit of the standard."""

    id: str
    standard: str
    edition: str | None
    class_: str
    quantity: str
    limit_low: float | None
    limit_high: float | None
    unit: str
    source: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    note: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> ClassLimit:
        """Read a limit."""
        return decode(cls, document)

    def __str__(self) -> str:
        ends = [one for one in (self.limit_low, self.limit_high) if one is not None]
        figures = " to ".join(f"{one:g}" for one in ends)
        return f"{self.standard}, {self.class_}: {self.quantity} {figures} {self.unit}"


@dataclass(frozen=True, slots=True)
class Standard(Columns):
    """What a standard fixes."""

    id: str
    number: str
    title: str
    fixes: str | None
    figures: str | None
    source: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    note: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Standard:
        """Read a standard."""
        return decode(cls, document)

    def __str__(self) -> str:
        return f"{self.number}: {self.title}"


@dataclass(frozen=True, slots=True)
class Held(Columns):
    """What is held of one property of a material, and up to which temperature."""

    property: str
    values: int
    origins: int
    forms: tuple[str, ...]
    curve: bool
    up_to: Figure | None
    unverified: bool

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Held:
        """Read what is held of a property."""
        return decode(cls, document, forms=tuple, up_to=point)


@dataclass(frozen=True, slots=True)
class Missing(Columns):
    """A property wanted for a kind of material and not held; the lower ``need``, the more."""

    property: str
    need: int | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Missing:
        """Read what is missing."""
        return decode(cls, document)


@dataclass(frozen=True, slots=True)
class Holding(Columns):
    """What is held of one material, and what is wanted and missing."""

    material: str
    kind: str
    held: tuple[Held, ...]
    missing: tuple[Missing, ...]

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Holding:
        """Read a line of the holdings."""
        return decode(cls, document, held=listed(Held.from_json), missing=listed(Missing.from_json))

    def __str__(self) -> str:
        held = ", ".join(one.property for one in self.held) or "nothing"
        missing = ", ".join(one.property for one in self.missing) or "nothing"
        return f"{self.material} ({self.kind}): held {held}; missing {missing}"
