"""What an estimate is asked: the mix, its state, what was measured. Everything in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

__all__ = [
    "MAX_CONSTITUENTS",
    "MAX_RETURNED",
    "MAX_TEMPERATURES",
    "OWN_PROPERTIES",
    "STATE_KINDS",
    "Constituent",
    "EstimateRequest",
    "Measured",
    "Mix",
    "MixError",
    "Mould",
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
    "loose_bulk_density",
    "particle_density",
    "true_density",
    "thermal_conductivity",
    "specific_heat_capacity",
    "loss_on_ignition",
    "water_absorption",
    "bound_water",
)
MAX_CONSTITUENTS: Final = 30
MAX_TEMPERATURES: Final = 50
MAX_RETURNED: Final = 2000
"""Draws that can be had with an answer."""
FIRING: Final = 1273.15
DRYING: Final = 383.15
"""Taken where a fired or dried state comes without its temperature, kelvin."""


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

    def scaled(self, factor: Triple | float) -> Triple:
        """Multiply, end by end."""
        by = factor if isinstance(factor, Triple) else Triple(factor, factor, factor)
        return Triple(self.low * by.low, self.typical * by.typical, self.high * by.high)


@dataclass(frozen=True, slots=True)
class Constituent:
    """One part of the mix.

    ``amount`` is kilograms, cubic metres or parts by ``amount_kind``. ``properties`` are the
    caller's own figures (SI) and stand before the held ones. A material that is not held needs
    its ``kind`` and densities; ``like`` names a held material that fills what it leaves open.
    ``bucket`` is the mass and volume of one weighed bucket of it. ``grain_size`` and ``pore_size``
    in metres; grains below a tenth of a millimetre count as part of the paste. ``crush_factor``:
    volume of the grains after mixing over before. ``moisture`` is the water the material already
    holds, kilograms a kilogram of it dry: it is part of what was weighed (an amount in mass, a
    bucket) and comes on top of the water of the mix; densities given or held are of dry material.
    """

    material: str
    amount: float
    amount_kind: AmountKind
    measured_as: MeasuredAs = "loose"
    fill: str | None = None
    properties: Mapping[str, Triple] = field(default_factory=dict)
    pore_size: Triple | None = None
    crush_factor: float | None = None
    grain_size: Triple | None = None
    bucket: tuple[float, float] | None = None
    kind: str | None = None
    like: str | None = None
    moisture: float = 0.0


@dataclass(frozen=True, slots=True)
class Mix:
    """Constituents and water. ``water`` is kilograms, or a ratio to hydraulic binder by mass."""

    constituents: tuple[Constituent, ...]
    water: float
    water_kind: Literal["mass", "ratio_to_binder"] = "mass"
    parts_by: PartsBy | None = None


@dataclass(frozen=True, slots=True)
class State:
    """The state asked about; temperature of the firing (or drying) in kelvin.

    ``moisture`` is liquid water by mass of dry body, for the air-dry state.
    """

    kind: StateKind = "fired"
    temperature: float | None = None
    moisture: float | None = None

    @property
    def treated_at(self) -> float:
        """Give the highest temperature the body has seen, kelvin."""
        if self.temperature is not None:
            return self.temperature
        return {"fired": FIRING, "dried": DRYING}.get(self.kind, 293.15)


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured on the piece; SI.

    ``bulk_density`` and ``thermal_conductivity`` in the state asked about; ``densities`` by the
    name of any state. ``spread`` is the relative standard uncertainty taken for each.
    """

    bulk_density: float | None = None
    thermal_conductivity: float | None = None
    thermal_conductivity_at: float | None = None
    densities: Mapping[str, float] = field(default_factory=dict)
    spread: float = 0.03


@dataclass(frozen=True, slots=True)
class Mould:
    """What is to be filled: m3, the spare share on top, and the thickest wall in metres if known.

    The thickness tells only what is printed on drying by thickness.
    """

    volume: float
    spare: float = 0.1
    thickness: float | None = None


@dataclass(frozen=True, slots=True)
class EstimateRequest:
    """One whole request; ``at`` in kelvin, empty for the default temperatures.

    ``rule`` names one conductivity rule to be used at every step in place of the defaults, with
    its ``rule_options``. ``draws`` is how many are made, ``returned_draws`` how many of them the
    answer carries.
    """

    mix: Mix
    state: State = State()
    at: tuple[float, ...] = ()
    measured: Measured = Measured()
    coverage: float = 0.9
    seed: int = 1
    draws: int = 2000
    rule: str | None = None
    rule_options: Mapping[str, float] = field(default_factory=dict)
    returned_draws: int = 0
    mould: Mould | None = None

    def temperatures(self) -> tuple[float, ...]:
        """Give the temperatures asked for, or 20, 200, 400 ... 1400 Cel up to the state's."""
        if self.at:
            return self.at
        if self.state.kind in ("fresh", "demoulded"):
            return (293.15,)
        top = self.state.treated_at
        if self.state.kind in ("dried", "air-dry") and self.state.temperature is None:
            top = 473.15
        steps = [200.0 * step + 273.15 for step in range(1, 8)]  # air is known to 1526 Cel
        return (293.15, *(t for t in steps if t <= top + 1e-6))

    def grid(self) -> tuple[float, ...]:
        """Give the temperatures to evaluate at: those asked for and the measurement's, last."""
        at = self.temperatures()
        extra = self.measured.thermal_conductivity_at
        return at if extra is None else (*at, extra)


def check(request: EstimateRequest) -> None:
    """Refuse what makes no sense before anything is looked up; see ``mixes.checks``."""
    from hotface_api.mixes import checks  # noqa: PLC0415 - the checks read these classes

    checks.check(request)
