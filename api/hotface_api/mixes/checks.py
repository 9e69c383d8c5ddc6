"""What makes no sense is refused before anything is looked up, with a pointer to the place."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from hotface_api.mixes.request import (
    MAX_CONSTITUENTS,
    MAX_RETURNED,
    MAX_TEMPERATURES,
    OWN_PROPERTIES,
    STATE_KINDS,
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    MixError,
    Mould,
    Triple,
)
from hotface_api.mixes.rules import check_rule

__all__ = ["check"]

WATER_BOILS: Final = 373.15
_SPAN: Final = (250.0, 1800.0)
"""Temperatures answered, kelvin: the span of the correlation for air."""
_LOWEST_FIRING: Final = 373.15
_FILLS: Final = ("poured", "shaken", "compacted")
_SMALLEST_DENSITY: Final = 1.0
"""No heap or grain is lighter, aerogels included; air alone weighs as much."""
_LARGEST_DENSITY: Final = 25000.0
"""Nothing on a builder's yard is heavier, kg/m3; figures above it are slips of unit."""
_MOST_CONDUCTING: Final = 2500.0
_LEAST_CONDUCTING: Final = 0.010
"""Below still air (0.026) only grains of nanometre pores get, and they stay above this."""
_SHARES: Final = ("loss_on_ignition",)
_MOST_WATER: Final = 20.0
"""Water a grain can soak up or a binder hold, kg/kg: aerogels and expanded perlite stay below."""
_HEAT: Final = (50.0, 5000.0)
"""Below the heaviest metals hot and cold, and above wet wood and plastics, J/(kg.K)."""
_COARSEST: Final = 0.5
"""No grain or pore of a cast part is larger, m."""
_LARGEST_MOULD: Final = 1000.0
_THICKEST: Final = 5.0


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
    _check_state(request)
    _check_measured(request.measured)
    _check_answer(request)
    if request.mould is not None:
        _check_mould(request.mould)
    if request.rule is not None:
        check_rule(request.rule, request.rule_options)


def _check_constituent(part: Constituent, pointer: str, seen: set[str]) -> None:
    if not part.amount > 0 or not math.isfinite(part.amount):
        raise MixError(f"{pointer}/amount", "an amount must be above zero")
    if part.material in seen:
        raise MixError(
            f"{pointer}/material", f"{part.material} stands twice; add its amounts together"
        )
    seen.add(part.material)
    _check_grains(part, pointer)
    if part.bucket is not None and not all(0 < side < math.inf for side in part.bucket):
        raise MixError(f"{pointer}/bucket", "a bucket needs its mass and volume, both above zero")
    for name, triple in part.properties.items():
        _check_own(name, triple, f"{pointer}/properties/{name}")
    _check_densities(part, pointer)


def _check_grains(part: Constituent, pointer: str) -> None:
    """Hold what is said of the grains themselves to what is possible."""
    if part.fill is not None and part.fill not in _FILLS:
        raise MixError(f"{pointer}/fill", f"give one of {', '.join(_FILLS)}", _FILLS)
    if part.crush_factor is not None and not 0 < part.crush_factor <= 1:
        raise MixError(f"{pointer}/crush_factor", "a crush factor lies above 0 and is at most 1")
    if not 0 <= part.moisture <= _MOST_WATER:
        message = f"moisture is kilograms of water a kilogram dry, 0 to {_MOST_WATER:.0f}"
        raise MixError(f"{pointer}/moisture", message)
    for name in ("pore_size", "grain_size"):
        size: Triple | None = getattr(part, name)
        if size is not None:
            _check_triple(size, f"{pointer}/{name}")
            if not size.low > 0:
                what = name.replace("_", " ")
                raise MixError(f"{pointer}/{name}", f"a {what} must be above zero")
            if size.high > _COARSEST:
                message = f"a {name.replace('_', ' ')} above {_COARSEST} m is a slip"
                raise MixError(f"{pointer}/{name}", message)
    pore, grain = part.pore_size, part.grain_size
    if pore is not None and grain is not None and pore.low > grain.high:
        raise MixError(f"{pointer}/pore_size", "a pore cannot be larger than its grain")


def _check_triple(triple: Triple, pointer: str) -> None:
    if not 0 <= triple.low <= triple.typical <= triple.high < math.inf:
        raise MixError(pointer, "low, typical and high must be in order and not negative")


def _check_own(name: str, triple: Triple, pointer: str) -> None:
    """Hold one of the caller's own figures to what is possible at all."""
    if name not in OWN_PROPERTIES:
        raise MixError(pointer, f"give one of {', '.join(OWN_PROPERTIES)}", OWN_PROPERTIES)
    _check_triple(triple, pointer)
    plain = name.replace("_", " ")
    if name.endswith("_density"):
        if not triple.low > 0:
            raise MixError(pointer, "a density must be above zero")
        if triple.low < _SMALLEST_DENSITY:
            raise MixError(pointer, f"a {plain} below {_SMALLEST_DENSITY:.0f} kg/m3 is a slip")
        if triple.high > _LARGEST_DENSITY:
            raise MixError(pointer, f"a {plain} above {_LARGEST_DENSITY:.0f} kg/m3 is a slip")
    elif name == "thermal_conductivity" and not (
        triple.typical >= _LEAST_CONDUCTING and 0 < triple.low <= triple.high <= _MOST_CONDUCTING
    ):
        message = (
            f"a conductivity lies above {_LEAST_CONDUCTING} W/(m.K), less than half that of still"
            " air, and below that of diamond"
        )
        raise MixError(pointer, message)
    elif name == "specific_heat_capacity" and not (
        _HEAT[0] <= triple.low <= triple.high <= _HEAT[1]
    ):
        message = f"a heat capacity of a solid lies from {_HEAT[0]:.0f} to {_HEAT[1]:.0f} J/(kg.K)"
        raise MixError(pointer, message)
    elif name in _SHARES and triple.high > 1:
        raise MixError(pointer, f"{plain} is a share of the mass, 0 to 1")
    elif name in ("water_absorption", "bound_water") and triple.high > _MOST_WATER:
        raise MixError(pointer, f"{plain} is kilograms a kilogram, at most {_MOST_WATER:.0f}")


def _check_densities(part: Constituent, pointer: str) -> None:
    """Hold a caller's own densities to loose <= particle <= true."""
    order = ("loose_bulk_density", "particle_density", "true_density")
    given = [(name, part.properties[name]) for name in order if name in part.properties]
    for (lower, small), (upper, large) in pairwise(given):
        if small.typical > large.typical:
            message = f"{lower.replace('_', ' ')} cannot exceed {upper.replace('_', ' ')}"
            raise MixError(f"{pointer}/properties/{lower}", message)
    if part.bucket is not None:
        weighed = part.bucket[0] / (1.0 + part.moisture) / part.bucket[1]
        if not _SMALLEST_DENSITY <= weighed <= _LARGEST_DENSITY:
            raise MixError(f"{pointer}/bucket", f"a bucket of {weighed:.3g} kg/m3 is a slip")
        for name, triple in given:
            if name != "loose_bulk_density" and weighed > triple.high:
                message = f"the bucket weighs {weighed:.0f} kg/m3, more than the {name} given"
                raise MixError(f"{pointer}/bucket", message.replace("_", " "))


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
        raise MixError("#/mix/water", 'with parts, give the water as {"ratio_to_binder": 0.45}')


def _check_state(request: EstimateRequest) -> None:
    state = request.state
    if state.kind not in STATE_KINDS:
        raise MixError("#/state/kind", f"give one of {', '.join(STATE_KINDS)}", STATE_KINDS)
    if state.moisture is not None and not 0 <= state.moisture <= 1:
        raise MixError("#/state/moisture", "moisture is a mass fraction of dry, 0 to 1")
    if state.moisture and state.kind in ("dried", "fired"):
        message = f"a {state.kind} body holds no moisture; ask for air-dry"
        raise MixError("#/state/moisture", message, ("air-dry",))
    if state.temperature is not None and not _SPAN[0] <= state.temperature <= 2300.0:  # noqa: PLR2004 - hotter than any kiln of a builder
        raise MixError("#/state/temperature", "a state lies between -23 and 2027 Cel")
    if state.kind == "fired" and state.treated_at < _LOWEST_FIRING:
        raise MixError("#/state/temperature", "a body is fired above 100 Cel; ask for dried")
    for index, temperature in enumerate(request.at):
        if not _SPAN[0] <= temperature <= _SPAN[1]:
            raise MixError(f"#/at/{index}", "temperatures are answered from -23 to 1526 Cel")
        if state.kind in ("fresh", "demoulded") and temperature >= WATER_BOILS:
            raise MixError(f"#/at/{index}", f"a {state.kind} body boils at 100 Cel")


def _check_measured(measured: Measured) -> None:
    for name in ("bulk_density", "thermal_conductivity"):
        value = getattr(measured, name)
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise MixError(f"#/measured/{name}", "a measured value must be above zero")
    for state, density in measured.densities.items():
        if state not in STATE_KINDS:
            raise MixError(f"#/measured/densities/{state}", f"give one of {', '.join(STATE_KINDS)}")
        if not (density > 0 and math.isfinite(density)):
            raise MixError(f"#/measured/densities/{state}", "a measured value must be above zero")
    at = measured.thermal_conductivity_at
    if (measured.thermal_conductivity is None) != (at is None):
        raise MixError(
            "#/measured/thermal_conductivity_at",
            "a measured conductivity and its temperature go together",
        )
    if at is not None and not _SPAN[0] <= at <= _SPAN[1]:
        message = "temperatures are answered from -23 to 1526 Cel"
        raise MixError("#/measured/thermal_conductivity_at", message)
    if not 0 < measured.spread <= 1:
        raise MixError("#/measured/spread", "a relative uncertainty lies above 0 and is at most 1")


def _check_answer(request: EstimateRequest) -> None:
    if not 0.5 <= request.coverage <= 0.99:  # noqa: PLR2004 - below a half no interval helps
        raise MixError("#/coverage", "coverage lies between 0.5 and 0.99")
    if len(request.at) > MAX_TEMPERATURES:
        raise MixError("#/at", f"at most {MAX_TEMPERATURES} temperatures")
    if request.seed < 0:
        raise MixError("#/seed", "a seed is zero or above")
    if not 100 <= request.draws <= 20000:  # noqa: PLR2004 - fewer say nothing of the tails
        raise MixError("#/draws", "draws lie between 100 and 20000")
    if not 0 <= request.returned_draws <= MAX_RETURNED:
        raise MixError("#/draws", f"between 0 and {MAX_RETURNED} draws can be had with the answer")


def _check_mould(mould: Mould) -> None:
    if not 0 < mould.volume <= _LARGEST_MOULD:
        message = f"a mould holds more than 0 and at most {_LARGEST_MOULD:.0f} m3"
        raise MixError("#/mould/volume", message)
    if not 0 <= mould.spare <= 1:
        raise MixError("#/mould/spare", "the spare is a share of the mould, 0 to 1")
    if mould.thickness is not None and not 0 < mould.thickness <= _THICKEST:
        message = f"a wall is more than 0 and at most {_THICKEST:.0f} m thick"
        raise MixError("#/mould/thickness", message)
