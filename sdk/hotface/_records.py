"""Rows of the service as frozen objects: values, sources, specimens, revisions and the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from typing import Any

from hotface._decode import decode, listed, point, span
from hotface._quantities import Figure
from hotface._ranges import Magnitudes, Range

_NAMED = 2

__all__ = [
    "Caution",
    "Condition",
    "Printed",
    "PropertyDefinition",
    "Revision",
    "Source",
    "Specimen",
    "SpecimenPart",
    "Value",
]


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard: what it is, when it applies, our advice, and who says so."""

    id: str
    hazard: str
    trigger: str
    fact: str
    figure: str | None
    advice: str
    jurisdiction: str | None
    issued: str | None
    source: str | None
    basis: str

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Caution:
        """Read a caution of an answer; many answers carry the same few."""
        try:
            return _caution(tuple(document.items()))
        except TypeError:  # a newer service may say more than plain words
            return decode(cls, document)

    def __str__(self) -> str:
        return f"{self.hazard}: {self.fact} {self.advice}"


@lru_cache(maxsize=512)
def _caution(items: tuple[tuple[str, str | None], ...]) -> Caution:
    return decode(Caution, dict(items))


@dataclass(frozen=True, slots=True)
class Condition:
    """What a value holds for; ``None`` where the source does not say."""

    form: str | None = None
    state: str | None = None
    fill: str | None = None
    grain_size: Range | None = None
    treatment_temperature: Figure | None = None
    reference_temperature: Figure | None = None
    duration: Figure | None = None
    age: Figure | None = None
    moisture: Figure | None = None
    specimen_density: Range | None = None
    with_: str | None = None
    place: str | None = None
    load: Figure | None = None
    atmosphere: str | None = None
    direction: str | None = None
    text: str | None = None
    temperature: Range | None = None
    role: str | None = None
    event_kind: str | None = None
    specimen_density_from: Figure | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Condition:
        """Read the condition of a value or an answer."""
        spans = dict.fromkeys(("grain_size", "specimen_density", "temperature"), span)
        figures = dict.fromkeys(
            (
                "treatment_temperature",
                "reference_temperature",
                "duration",
                "age",
                "moisture",
                "load",
                "specimen_density_from",
            ),
            point,
        )
        return decode(cls, document, **spans, **figures)

    def __str__(self) -> str:
        said: list[str] = []
        for one in fields(self):
            value = getattr(self, one.name)
            if value is not None:
                label = one.name.rstrip("_").replace("_", " ")
                said.append(f"{label} {value}" if one.name != "text" else str(value))
        return ", ".join(said) or "condition not stated"


@dataclass(frozen=True, slots=True)
class Printed:
    """The figures and unit as the source prints them, as text, and the code they were read as."""

    low: str | None
    typical: str | None
    high: str | None
    unit: str
    code: str

    def __str__(self) -> str:
        numbers = [one for one in (self.low, self.typical, self.high) if one is not None]
        return f"{' / '.join(numbers)} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Value:
    """One published or contributed figure with everything that says what it is worth."""

    id: str
    material: str
    property: str
    range: Range
    bound: str
    role: str | None
    printed: Printed
    temperature: Range | None
    condition: Condition
    method: str | None
    source: str | None
    source_type: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    origin: str | None
    specimen: str | None
    contributor: str | None
    licence: str | None
    status: str
    from_revision: int | None
    to_revision: int | None
    replaces: str | None
    note: str | None
    uncertainty: Mapping[str, Any] | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Value:
        """Read a value row."""
        return decode(
            cls,
            {**document, "range": document},
            range=_flat_range,
            printed=lambda raw: decode(Printed, raw),
            temperature=span,
            condition=Condition.from_json,
        )

    def __str__(self) -> str:
        known = f"{self.source}, {self.locator}" if self.source else f"basis {self.basis}"
        return f"{self.material} {self.property}: {self.range} ({self.condition}; {known})"


def _flat_range(document: Mapping[str, Any]) -> Range:
    numbers = Magnitudes(document["low"], document["typical"], document["high"])
    return Range(numbers, document["unit"])


@dataclass(frozen=True, slots=True)
class Source:
    """A cited text: its kind, the origin its figures count under, and the CSL-JSON item."""

    id: str
    source_type: str
    origin: str | None
    seen: str | None
    citation: Mapping[str, Any]

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Source:
        """Read a source row."""
        return decode(cls, document)

    @property
    def title(self) -> str:
        """The title of the cited text."""
        return str(self.citation.get("title") or self.id)

    @property
    def year(self) -> str | None:
        """The year it was issued, if stated."""
        parts = (self.citation.get("issued") or {}).get("date-parts") or [[]]
        return str(parts[0][0]) if parts[0] else None

    @property
    def authors(self) -> str:
        """Who wrote or issued it, in short."""
        named = self.citation.get("author") or self.citation.get("editor") or []
        names = [str(one.get("family") or one.get("literal") or one.get("given")) for one in named]
        if len(names) > _NAMED:
            return f"{names[0]} and others"
        return " and ".join(names) or str(self.citation.get("publisher") or "")

    def __str__(self) -> str:
        year = f" ({self.year})" if self.year else ""
        named = f"{self.authors}{year}: {self.title}" if self.authors else f"{self.title}{year}"
        return f"{named} [{self.source_type}; {self.id}]"


@dataclass(frozen=True, slots=True)
class SpecimenPart:
    """One line of a specimen's recipe."""

    material: str
    part: str
    mass_percent: float | None
    volume_percent: float | None


@dataclass(frozen=True, slots=True)
class Specimen:
    """One measured body or one published curve; ``values`` only when asked for by id."""

    id: str
    material: str
    kind: str
    name: str
    proportions: str | None
    constituents: tuple[SpecimenPart, ...]
    water_binder_ratio: float | None
    state: str | None
    treatment_temperature: Figure | None
    age: Figure | None
    moisture: Figure | None
    method: str | None
    source: str | None
    locator: str | None
    basis: str
    quoted_in: str | None
    recalled_source: str | None
    origin: str | None
    note: str | None
    values: tuple[Value, ...] = ()

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Specimen:
        """Read a specimen row."""
        return decode(
            cls,
            document,
            constituents=listed(lambda raw: decode(SpecimenPart, raw)),
            treatment_temperature=point,
            age=point,
            moisture=point,
            values=listed(Value.from_json),
        )


@dataclass(frozen=True, slots=True)
class Revision:
    """One accepted change of what is served."""

    number: int
    made_at: datetime
    kind: str
    summary: str
    package_version: str | None
    content_digest: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Revision:
        """Read a revision row."""
        return decode(cls, document, made_at=datetime.fromisoformat)


@dataclass(frozen=True, slots=True)
class PropertyDefinition:
    """What a property means, its units and the rules of its ranges."""

    id: str
    name: str
    definition: str
    standard: str | None
    unit: str
    unit_us: str
    quantity_kind: str | None
    temperature_kind: str | None
    group: str
    forms: tuple[str, ...]
    canonical_condition: Mapping[str, Any] | None
    scale: str
    spread_floor: float | None
    varies_with_temperature: bool
    minimum: float | None
    maximum: float | None
    need: int | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> PropertyDefinition:
        """Read a property row."""
        return decode(cls, document, forms=tuple)
