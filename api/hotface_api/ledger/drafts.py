"""What is handed in: typed, SI, nothing checked yet.

Temperatures are in kelvin, times in seconds, sizes in metres, pressures in pascal, densities in
kg/m3: the doors convert once. The figures themselves stay text with their unit, as printed,
because that is what a reader can hold against the source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from hotface_api.ledger.errors import Fault

__all__ = [
    "BibtexSource",
    "ConstituentDraft",
    "CslSource",
    "DoiSource",
    "HeldSource",
    "MaterialDraft",
    "Measured",
    "OwnMeasurement",
    "SourceDraft",
    "SpecimenDraft",
    "SubmissionDraft",
    "UncertaintyDraft",
    "UnreadDraft",
    "ValueDraft",
]


@dataclass(frozen=True, slots=True)
class HeldSource:
    """A source that is held already, by its id."""

    id: str


@dataclass(frozen=True, slots=True)
class DoiSource:
    """A text by its DOI alone; a held source with that DOI is used, else a new one is made."""

    doi: str
    source_type: str | None = None


@dataclass(frozen=True, slots=True)
class CslSource:
    """A text as one CSL-JSON item (its ``id`` is ignored; ours is given)."""

    item: Mapping[str, Any]
    source_type: str | None = None


@dataclass(frozen=True, slots=True)
class BibtexSource:
    """A text as BibTeX with one entry."""

    text: str
    source_type: str | None = None


@dataclass(frozen=True, slots=True)
class OwnMeasurement:
    """The contributor's own measurement: what was measured, with what, when."""

    specimen: str
    instrument: str
    date: date


SourceDraft = HeldSource | DoiSource | CslSource | BibtexSource | OwnMeasurement


@dataclass(frozen=True, slots=True, kw_only=True)
class UncertaintyDraft:
    """An uncertainty as the GUM has it, in the unit of the figure, as printed.

    Exactly one of ``standard`` (standard uncertainty), ``expanded`` (with ``coverage_factor``),
    ``half_width`` (limits ``±a``; with ``distribution`` rectangular, triangular or normal) and
    ``standard_si`` (standard uncertainty in the SI unit, as data packages carry it).
    """

    standard: str | None = None
    standard_si: float | None = None
    expanded: str | None = None
    coverage_factor: float | None = None
    half_width: str | None = None
    kind: str = "B"
    distribution: str | None = None
    degrees_of_freedom: float | None = None
    n: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueDraft:
    """One figure. ``low``, ``typical``, ``high`` as printed; the rest in SI.

    ``source`` defaults to the submission's; ``quoted_in`` is the text the figure was seen in where
    ``source`` was not seen itself.
    """

    material: str
    property: str
    unit: str
    low: str | None = None
    typical: str | None = None
    high: str | None = None
    printed_unit: str | None = None
    bound: str = "is"
    role: str | None = None
    event_kind: str | None = None
    temperature_low: float | None = None
    temperature_high: float | None = None
    form: str | None = None
    state: str | None = None
    fill: str | None = None
    grain_size_low: float | None = None
    grain_size_high: float | None = None
    treatment_temperature: float | None = None
    reference_temperature: float | None = None
    duration: float | None = None
    age: float | None = None
    moisture: float | None = None
    specimen_density_low: float | None = None
    specimen_density_high: float | None = None
    with_: str | None = None
    place: str | None = None
    load: float | None = None
    atmosphere: str | None = None
    direction: str | None = None
    condition_text: str | None = None
    method: str | None = None
    source: SourceDraft | None = None
    locator: str | None = None
    quoted_in: SourceDraft | None = None
    specimen: str | None = None
    uncertainty: UncertaintyDraft | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class UnreadDraft:
    """One figure that the door could not read at all: why, with pointers below the value."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstituentDraft:
    """One line of a recipe; shares in percent of the dry mass or of the volume."""

    material: str
    part: str
    mass_percent: float | None = None
    volume_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenDraft:
    """A measured body with its recipe; the submission's values belong to it."""

    material: str
    name: str
    kind: str = "specimen"
    constituents: tuple[ConstituentDraft, ...] = ()
    proportions: str | None = None
    water_binder_ratio: float | None = None
    state: str | None = None
    treatment_temperature: float | None = None
    age: float | None = None
    moisture: float | None = None
    method: str | None = None
    locator: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialDraft:
    """A material that is not held yet: a generic class, no brand."""

    id: str
    name: str
    kind: str
    description: str
    family: str | None = None
    also_known_as: str | None = None
    solid: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Who measured, where it is not the holder of the key."""

    name: str
    orcid: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SubmissionDraft:
    """One act of submitting: values under one licence, with what they need besides."""

    values: tuple[ValueDraft | UnreadDraft, ...]
    licence: str
    source: SourceDraft | None = None
    specimen: SpecimenDraft | None = None
    material: MaterialDraft | None = None
    measured_by: Measured | None = None
