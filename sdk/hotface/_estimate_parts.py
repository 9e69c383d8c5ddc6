"""The parts of an estimate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hotface._curves import Curve
from hotface._decode import Columns, decode, listed, point
from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._records import Specimen
from hotface._survival import MeltPoint

__all__ = [
    "Assumption",
    "ClosestClass",
    "Composition",
    "DoubtShare",
    "EstimateState",
    "MixShare",
    "NearSpecimen",
    "ServiceLimit",
    "StrengthClass",
    "Validation",
    "estimate_property",
]


@dataclass(frozen=True, slots=True)
class MixShare:
    """A constituent's share of the dry mass and of the volume."""

    material: str
    mass_fraction: float | None
    volume_fraction: float | None
    dry_mass: Range | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> MixShare:
        """Read one constituent of a composition."""
        return decode(cls, document, dry_mass=Range.from_json)


@dataclass(frozen=True, slots=True)
class Composition:
    """What the mix is made of, its pores, and how much of it there will be."""

    constituents: tuple[MixShare, ...]
    porosity: Range | None
    yield_: Range | None
    water: Range | None = None
    pack_factor: Range | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Composition:
        """Read the composition of an estimate."""
        return decode(
            cls,
            document,
            constituents=listed(MixShare.from_json),
            porosity=Range.from_json,
            yield_=Range.from_json,
            water=Range.from_json,
            pack_factor=Range.from_json,
        )


@dataclass(frozen=True, slots=True)
class EstimateState(Columns):
    """The state the properties hold for; ``water`` is liquid water by mass of the rest."""

    kind: str
    temperature: Figure | None
    moisture: Figure | None
    water: Range | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> EstimateState:
        """Read the state of an estimate."""
        return decode(cls, document, temperature=point, moisture=point, water=Range.from_json)

    def __str__(self) -> str:
        return self.kind if self.temperature is None else f"{self.kind} at {self.temperature}"


@dataclass(frozen=True, slots=True)
class ClosestClass(Columns):
    """The published class whose limits the mix comes nearest to. Not tested, not certified."""

    standard: str
    name: str
    edition: str | None
    density_at_most: Figure | None
    shrinkage_temperature: Figure | None
    text: str
    unverified: bool
    citations: tuple[str, ...]

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> ClosestClass | None:
        """Read the closest class of an estimate; ``None`` stays ``None``."""
        if document is None:
            return None
        return decode(
            cls, document, density_at_most=point, shrinkage_temperature=point, citations=tuple
        )

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Validation(Columns):
    """The measured bodies this kind of mix was tried on, and how that went."""

    family: str | None
    bodies: int
    sources: int
    median_error: float | None
    coverage: float | None
    text: str

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> Validation | None:
        """Read what stands behind an estimate; ``None`` stays ``None``."""
        return None if document is None else decode(cls, document)

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class ServiceLimit:
    """How hot the piece may be used: the limit of the weakest part that has to stay.

    Attributes
    ----------
    range : Range
        ``low`` is ``None`` where the limit of some part is not known; ``unknown`` names it.
    limited_by : str or None
        The constituent that sets the limit.
    event : str or None
        What happens to it there.
    first_melt_possible_from : MeltPoint or None
        Lowest published liquid among the oxides that meet; a caution, not a limit.
    """

    range: Range
    limited_by: str | None
    event: str | None = None
    unknown: tuple[str, ...] = ()
    first_melt_possible_from: MeltPoint | None = None
    values: tuple[str, ...] = ()
    citations: tuple[str, ...] = ()

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> ServiceLimit:
        """Read the service limit of an estimate."""
        return decode(
            cls,
            {**document, "range": document},
            range=Range.from_json,
            unknown=tuple,
            first_melt_possible_from=MeltPoint.from_json,
            values=tuple,
            citations=tuple,
        )

    def __str__(self) -> str:
        if self.range.is_empty:
            return f"not known; nothing is held of {', '.join(self.unknown) or 'the parts'}"
        by = f", set by {self.limited_by}" if self.limited_by else ""
        open_end = f"; nothing is held of {', '.join(self.unknown)}" if self.unknown else ""
        return f"{self.range}{by}{open_end}"


@dataclass(frozen=True, slots=True)
class StrengthClass:
    """Class of cold strength, after a measured body like this mix. Not for load."""

    range: Range
    reference_mix: str
    reference_strength: Figure | None = None
    reference_density: Figure | None = None
    source: str | None = None
    text: str | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> StrengthClass:
        """Read the strength class of an estimate."""
        return decode(
            cls,
            {**document, "range": document},
            range=Range.from_json,
            reference_strength=point,
            reference_density=point,
        )

    def __str__(self) -> str:
        return f"{self.range}, after {self.reference_mix}; not for load"


@dataclass(frozen=True, slots=True)
class NearSpecimen:
    """A measured body close to the mix: how far it is, and which part of that comes from what."""

    specimen: Specimen
    distance: float
    because: Mapping[str, float]

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> NearSpecimen:
        """Read a near specimen of an estimate."""
        return decode(cls, {**document, "specimen": document}, specimen=Specimen.from_json)

    def __str__(self) -> str:
        return f"{self.specimen.name} (distance {self.distance:.2g}; {self.specimen.source})"


@dataclass(frozen=True, slots=True)
class DoubtShare:
    """How much of the doubt comes from one input, and what to measure to lessen it."""

    input: str
    share: float
    advice: str | None
    output: str | None = None

    def __str__(self) -> str:
        return f"{self.input} ({self.share:.0%}){f': {self.advice}' if self.advice else ''}"


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something taken as given, with its stable code."""

    code: str
    text: str


def estimate_property(raw: Any) -> Any:
    """Read a curve, a range or what else a property of the estimate is."""
    if raw is None:
        return None
    if "points" in raw:
        return Curve.from_points(raw["points"], raw["unit"], raw.get("method"))
    if "limited_by" in raw:
        return ServiceLimit.from_json(raw)
    return StrengthClass.from_json(raw) if "reference_mix" in raw else Range.from_json(raw)
