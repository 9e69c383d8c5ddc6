"""What an estimate answers: plain records in SI, which doors write in any units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from hotface_api.catalogue.ranges import Range
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.classes import ClosestClass
from hotface_api.mixes.drying import DryingPractice
from hotface_api.mixes.request import EstimateRequest
from hotface_api.mixes.service import ServiceLimit
from hotface_api.mixes.strength import StrengthClass
from hotface_api.mixes.validation import Validation

__all__ = [
    "CastPart",
    "Casting",
    "Composition",
    "CurvePoint",
    "Doubt",
    "Draws",
    "Estimate",
    "Share",
    "Validation",
    "points_of",
    "range_of",
    "ranges_of",
]

Row = Mapping[str, Any]
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Share:
    """One constituent's share of the dry mass and of the fresh volume (medians).

    ``dry_mass`` is kilograms in the mix as given; None for amounts in parts, which have no size.
    """

    material: str
    mass_fraction: float
    volume_fraction: float
    dry_mass: Range | None = None


@dataclass(frozen=True, slots=True)
class Composition:
    """Shares, porosity of the state asked about, and yield (m3, or m3/kg dry with parts).

    ``pack_factor`` is the yield over the sum of the loose volumes: below one where fines fill the
    gaps of coarse grains.
    """

    constituents: tuple[Share, ...]
    porosity: Range
    yield_: Range
    yield_per_dry_mass: bool
    water: Range
    pack_factor: Range | None = None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One temperature (kelvin) of a curve; bounds only where they exist.

    ``lower_bound`` and ``upper_bound`` are Hashin-Shtrikman's at corner inputs, ``series_bound``
    and ``parallel_bound`` Wiener's.
    """

    temperature: float
    range: Range
    lower_bound: float | None = None
    upper_bound: float | None = None
    series_bound: float | None = None
    parallel_bound: float | None = None


@dataclass(frozen=True, slots=True)
class Doubt:
    """An input, its share of the doubt in an output, and what would help."""

    input: str
    share: float
    advice: str
    output: str = "thermal_conductivity"


@dataclass(frozen=True, slots=True)
class CastPart:
    """What to weigh or measure of one constituent so that a mould is filled.

    ``amount`` is kilograms or cubic metres by ``amount_kind``, in the measure the mix was given in
    (a volume is ``loose`` or ``absolute`` by ``measured_as``); what is damp counts its water.
    """

    material: str
    dry_mass: Range
    amount: Range
    amount_kind: Literal["mass", "volume"]
    measured_as: str | None


@dataclass(frozen=True, slots=True)
class Casting:
    """What fills a mould, its spare share included; from the same draws as everything else.

    Attributes
    ----------
    mould_volume, spare : float
        As asked, m3 and share.
    batches : Range or None
        How many times the mix as given fills it; None for amounts in parts.
    one_part : Range or None
        Size of one part: m3 for parts by volume, kilograms for parts by mass.
    constituents : tuple of CastPart
    water : Range
        Water to pour in, kilograms; what damp constituents bring is not in it.
    piece : mapping
        Mass of the piece itself, without the spare, in each state, kilograms.
    drying : DryingPractice or None
        What is printed on drying a wall of the stated thickness.
    """

    mould_volume: float
    spare: float
    batches: Range | None
    one_part: Range | None
    constituents: tuple[CastPart, ...]
    water: Range
    piece: Mapping[str, Range]
    drying: DryingPractice | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """The draws behind the intervals, the first so many; place i is one possible mix throughout.

    Curves have shape (temperatures, draws), kelvin and SI; None has its reason in the estimate.
    The service limit is not drawn.
    """

    temperatures: tuple[float, ...]
    bulk_density: FloatArray
    densities: Mapping[str, FloatArray]
    thermal_conductivity: FloatArray
    specific_heat_capacity: FloatArray | None
    thermal_strain: FloatArray | None

    @property
    def count(self) -> int:
        """Give how many there are."""
        return len(self.bulk_density)

    def __eq__(self, other: object) -> bool:
        """Tell whether every draw is the same."""
        if not isinstance(other, Draws) or self.temperatures != other.temperatures:
            return False
        return all(
            (one is None and two is None)
            or (one is not None and two is not None and np.array_equal(one, two))
            for one, two in zip(self._arrays(), other._arrays(), strict=True)
        )

    __hash__ = None  # type: ignore[assignment] # arrays have none

    def _arrays(self) -> list[FloatArray | None]:
        return [
            self.bulk_density,
            *(self.densities[name] for name in sorted(self.densities)),
            self.thermal_conductivity,
            self.specific_heat_capacity,
            self.thermal_strain,
        ]


@dataclass(frozen=True, slots=True)
class Estimate:
    """The answer, all numbers SI. What is None has its reason under the same name.

    ``moisture`` is liquid water by mass of what is not, in the state asked about; ``narrowed_by``
    tells by what share what was measured (on the piece, or of its constituents) narrowed the
    log-width of an interval; below zero where the caller's figure is less sure. ``draws`` and
    ``casting`` only where asked for.
    """

    request: EstimateRequest
    revision: int
    composition: Composition
    densities: Mapping[str, Range]
    bulk_density: Range
    thermal_conductivity: tuple[CurvePoint, ...]
    method: str
    specific_heat_capacity: tuple[CurvePoint, ...] | None
    service_limit: ServiceLimit
    doubt_shares: tuple[Doubt, ...]
    assumptions: tuple[Assumption, ...]
    cautions: tuple[Row, ...]
    citations: tuple[str, ...]
    reasons: Mapping[str, str]
    thermal_strain: tuple[CurvePoint, ...] | None = None
    permanent_change: Range | None = None
    strength_class: StrengthClass | None = None
    closest_class: ClosestClass | None = None
    nearest_specimens: tuple[Any, ...] = ()
    narrowed_by: Mapping[str, float] = field(default_factory=dict)
    validated_on: Validation | None = None
    moisture: Range | None = None
    draws: Draws | None = None
    casting: Casting | None = None


def range_of(draws: FloatArray, coverage: float) -> Range:
    """Give the interval of equal tails and the median of one set of draws."""
    return ranges_of([draws], coverage)[0]


def ranges_of(rows: Sequence[FloatArray], coverage: float) -> list[Range]:
    """Give the intervals of many sets of draws at once."""
    count = max(len(row) for row in rows)
    block = np.empty((len(rows), count))
    for place, row in zip(block, rows, strict=True):
        place[:] = row
    block.sort(axis=-1)
    tail = (1.0 - coverage) / 2.0
    spots = np.array([tail, 0.5, 1.0 - tail]) * (count - 1)
    below = np.floor(spots).astype(int)
    part = spots - below
    above = np.minimum(below + 1, count - 1)
    found = block[:, below] * (1.0 - part) + block[:, above] * part
    return [Range(float(low), float(mid), float(high), coverage) for low, mid, high in found]


def points_of(at: Sequence[float], draws: FloatArray, coverage: float) -> tuple[CurvePoint, ...]:
    """Give a curve from draws of shape (temperatures, draws)."""
    found = ranges_of(list(np.asarray(draws)[: len(at)]), coverage)
    return tuple(CurvePoint(t, each) for t, each in zip(at, found, strict=True))
