"""What an estimate is asked: the mix, its state, what was measured. Everything in SI."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal

__all__ = [
    "Constituent",
    "EstimateRequest",
    "Measured",
    "Mix",
    "MixError",
    "State",
    "Triple",
    "check",
]

AmountKind = Literal["mass", "volume", "parts"]
MeasuredAs = Literal["loose", "absolute"]
PartsBy = Literal["loose", "mass", "absolute"]
StateKind = Literal["fresh", "demoulded", "air-dry", "dried", "fired"]

STATE_KINDS: Final = ("fresh", "demoulded", "air-dry", "dried", "fired")
OWN_PROPERTIES: Final = (
    "loose_bulk_density", "particle_density", "true_density", "thermal_conductivity",
    "specific_heat_capacity", "loss_on_ignition", "water_absorption", "bound_water",
)
MAX_CONSTITUENTS: Final = 30
MAX_TEMPERATURES: Final = 50
WATER_BOILS: Final = 373.15


class MixError(ValueError):
    """A mix that cannot be estimated: what is wrong, where, and what would help."""

    def __init__(self, pointer: str, message: str, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.pointer = pointer
        self.message = message
        self.nearest = nearest


@dataclass(frozen=True, slots=True)
class Triple:
    """Low, typical and high of a positive quantity; equal ends for a figure taken as exact."""

    low: float
    typical: float
    high: float

    @classmethod
    def exactly(cls, value: float, spread: float = 0.0) -> Triple:
        """Make a triple about one value; ``spread`` is the relative half width."""
        return cls(value / (1 + spread), value, value * (1 + spread))


@dataclass(frozen=True, slots=True)
class Constituent:
    """One part of the mix.

    ``amount`` is kilograms, cubic metres or parts by ``amount_kind``. ``properties`` are the
    caller's own figures (SI) and stand before the held ones; a material that is not held needs
    its kind and densities there. ``crush_factor``: volume of the grains after mixing over before.
    """

    material: str
    amount: float
    amount_kind: AmountKind
    measured_as: MeasuredAs = "loose"
    fill: str | None = None
    properties: Mapping[str, Triple] = field(default_factory=dict)
    pore_size: Triple | None = None
    crush_factor: float | None = None


@dataclass(frozen=True, slots=True)
class Mix:
    """Constituents and water. ``water`` is kilograms, or a ratio to hydraulic binder by mass."""

    constituents: tuple[Constituent, ...]
    water: float
    water_kind: Literal["mass", "ratio_to_binder"] = "mass"
    parts_by: PartsBy | None = None


@dataclass(frozen=True, slots=True)
class State:
    """The state asked about; temperature of the firing (or drying) in kelvin."""

    kind: StateKind = "fired"
    temperature: float | None = None
    moisture: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured on the piece in the state asked about; SI."""

    bulk_density: float | None = None
    thermal_conductivity: float | None = None
    thermal_conductivity_at: float | None = None


@dataclass(frozen=True, slots=True)
class EstimateRequest:
    """One whole request; ``at`` in kelvin, empty for the default temperatures."""

    mix: Mix
    state: State = State()
    at: tuple[float, ...] = ()
    measured: Measured = Measured()
    coverage: float = 0.9
    seed: int = 1
    draws: int = 2000

    def temperatures(self) -> tuple[float, ...]:
        """Give the temperatures asked for, or 20, 200, 400 ... Cel up to the state's."""
        if self.at:
            return self.at
        if self.state.kind in ("fresh", "demoulded"):
            return (293.15,)
        top = 1273.15 if self.state.temperature is None else self.state.temperature
        if self.state.kind in ("dried", "air-dry") and self.state.temperature is None:
            top = 473.15
        steps = [200.0 * step + 273.15 for step in range(1, 9)]
        return (293.15, *(t for t in steps if t <= top + 1e-6))


def check(request: EstimateRequest) -> None:
    """Refuse what makes no sense before anything is looked up.

    Raises
    ------
    MixError
        With a JSON pointer into the request.
    """
    mix = request.mix
    if not mix.constituents:
        raise MixError("#/mix/constituents", "a mix needs at least one constituent")
    if len(mix.constituents) > MAX_CONSTITUENTS:
        raise MixError("#/mix/constituents", f"at most {MAX_CONSTITUENTS} constituents")
    seen: set[str] = set()
    for index, part in enumerate(mix.constituents):
        _check_constituent(part, f"#/mix/constituents/{index}", seen)
    _check_kinds(mix)
    if not mix.water > 0 or not math.isfinite(mix.water):
        raise MixError("#/mix/water", "a mix needs water; give its mass, volume or ratio to binder")
    _check_rest(request)


def _check_constituent(part: Constituent, pointer: str, seen: set[str]) -> None:
    if not part.amount > 0 or not math.isfinite(part.amount):
        raise MixError(f"{pointer}/amount", "an amount must be above zero")
    if part.material in seen:
        raise MixError(
            f"{pointer}/material", f"{part.material} stands twice; add its amounts together"
        )
    seen.add(part.material)
    if part.crush_factor is not None and not 0 < part.crush_factor <= 1:
        raise MixError(f"{pointer}/crush_factor", "a crush factor lies above 0 and is at most 1")
    if part.pore_size is not None and not part.pore_size.low > 0:
        raise MixError(f"{pointer}/pore_size", "a pore size must be above zero")
    for name, triple in part.properties.items():
        place = f"{pointer}/properties/{name}"
        if name not in OWN_PROPERTIES:
            raise MixError(place, f"give one of {', '.join(OWN_PROPERTIES)}", OWN_PROPERTIES)
        if not 0 <= triple.low <= triple.typical <= triple.high < math.inf:
            raise MixError(place, "low, typical and high must be in order and not negative")
    _check_densities(part, pointer)


def _check_densities(part: Constituent, pointer: str) -> None:
    """Hold a caller's own densities to loose <= particle <= true."""
    order = ("loose_bulk_density", "particle_density", "true_density")
    given = [(name, part.properties[name]) for name in order if name in part.properties]
    for (lower, small), (upper, large) in pairwise(given):
        if small.typical > large.typical:
            message = f"{lower.replace('_', ' ')} cannot exceed {upper.replace('_', ' ')}"
            raise MixError(f"{pointer}/properties/{lower}", message)
    for name, triple in given:
        if not triple.low > 0:
            raise MixError(f"{pointer}/properties/{name}", "a density must be above zero")


def _check_kinds(mix: Mix) -> None:
    in_parts = [part.amount_kind == "parts" for part in mix.constituents]
    if any(in_parts) and not all(in_parts):
        index = in_parts.index(not in_parts[0])
        raise MixError(
            f"#/mix/constituents/{index}/amount",
            "give every constituent in parts, or every one in mass or volume",
        )
    if all(in_parts) and mix.parts_by is None:
        message = "parts need parts_by: loose, mass or absolute"
        raise MixError("#/mix/parts_by", message, ("loose", "mass", "absolute"))
    if not any(in_parts) and mix.parts_by is not None:
        raise MixError("#/mix/parts_by", "parts_by goes with amounts in parts (unit 1)")
    if all(in_parts) and mix.water_kind == "mass":
        raise MixError(
            "#/mix/water", 'with parts, give the water as {"ratio_to_binder": 0.45}'
        )


def _check_rest(request: EstimateRequest) -> None:
    if not 0.5 <= request.coverage <= 0.99:  # noqa: PLR2004 - below a half no interval helps
        raise MixError("#/coverage", "coverage lies between 0.5 and 0.99")
    if len(request.at) > MAX_TEMPERATURES:
        raise MixError("#/at", f"at most {MAX_TEMPERATURES} temperatures")
    for index, temperature in enumerate(request.at):
        if not 250.0 <= temperature <= 1800.0:  # noqa: PLR2004 - the span of the air table
            raise MixError(f"#/at/{index}", "temperatures are answered from -23 to 1526 Cel")
        wet = request.state.kind in ("fresh", "demoulded")
        if wet and temperature >= WATER_BOILS:
            raise MixError(f"#/at/{index}", f"a {request.state.kind} body boils at 100 Cel")
    moisture = request.state.moisture
    if moisture is not None and not 0 <= moisture <= 1:
        raise MixError("#/state/moisture", "moisture is a mass fraction of dry, 0 to 1")
    for name in ("bulk_density", "thermal_conductivity"):
        value = getattr(request.measured, name)
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise MixError(f"#/measured/{name}", "a measured value must be above zero")
