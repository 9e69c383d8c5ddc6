"""Conductivity in three steps and heat capacity by mass, at every draw and temperature.

Gas and shell make the grain, solid and pores the paste, grains and entrapped voids in the paste
the body. One step over all phases is wrong for light mixes: it lets the gas inside a grain meet
the paste. Each step has a rule by structure and two edges; where between the edges a body lies is
drawn, and what all rules miss is drawn on top, after the physical bounds were applied.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.draws import Batch, Streams
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.request import EstimateRequest, Triple
from hotface_api.science import conductivity as rules
from hotface_api.science import heat, pores, sampling

__all__ = ["METHOD", "Heat", "Thermal", "heat_capacity", "thermal_conductivity"]

FloatArray = NDArray[np.float64]
_LIQUID_TOP = 372.0
_TRACE: Final = 1e-3
_STATE_INDEX: Final = {"fresh": 0, "demoulded": 1, "air-dry": 2, "dried": 2, "fired": 3}

METHOD: Final = (
    "in steps: grain by the log mean of Maxwell-Eucken and differential rule, paste likewise,"
    " body by the Maxwell rule for many kinds of grain in the paste; pore air with radiation"
)


@dataclass(frozen=True, slots=True)
class Thermal:
    """Conductivity, shape (draws, temperatures), and bounds, shape (temperatures,)."""

    draws: FloatArray
    lower_bound: FloatArray
    upper_bound: FloatArray


@dataclass(frozen=True, slots=True)
class Heat:
    """Specific heat capacity draws, or None with the reason."""

    draws: FloatArray | None
    reason: str | None


def _between(
    low: FloatArray, middle: FloatArray, high: FloatArray, share: FloatArray
) -> FloatArray:
    """Go from edge to edge on logarithms, through the default rule at one half."""
    weight = share[:, None]
    below = np.log(low) + 2 * weight * (np.log(middle) - np.log(low))
    above = np.log(middle) + (2 * weight - 1) * (np.log(high) - np.log(middle))
    return np.asarray(np.exp(np.where(weight < 0.5, below, above)))  # noqa: PLR2004 - a half


def _two(
    solid_share: FloatArray, solid: FloatArray, pore: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Stack a solid host and its pores as phases."""
    share = np.broadcast_to(solid_share, solid.shape)
    fractions = np.stack([share, 1.0 - share], -1)
    return fractions, np.stack([solid, np.broadcast_to(pore, solid.shape)], -1)


def _cellular(
    solid_share: FloatArray, solid: FloatArray, pore: FloatArray, u: FloatArray
) -> FloatArray:
    """Close pores in a solid: log mean of Maxwell-Eucken and differential, edges the two."""
    fractions, each = _two(solid_share, solid, pore)
    upper, lower = rules.maxwell(fractions, each), rules.differential(fractions, each)
    return _between(lower, np.sqrt(lower * upper), upper, u)


def _paste(
    solid_share: FloatArray, solid: FloatArray, pore: FloatArray, u: FloatArray
) -> FloatArray:
    """Take a binder paste by the same default, the effective medium as lower edge."""
    fractions, each = _two(solid_share, solid, pore)
    upper, middle = rules.maxwell(fractions, each), rules.differential(fractions, each)
    lower = np.minimum(rules.effective_medium(fractions, each), middle)
    return _between(lower, np.sqrt(middle * upper), upper, u)


def _curve(part: Part, streams: Streams) -> FloatArray:
    """Draw a conductivity curve of one part: one draw shifts the whole curve."""
    curve = part.conductivity
    assert curve is not None  # noqa: S101 - only the binder has none, and it is paste
    normals = streams.normals(f"{part.constituent.material}:thermal_conductivity")
    return sampling.two_piece_lognormal(
        curve[:, 0], curve[:, 1], curve[:, 2], normals[:, None], 0.9
    )


def _pore(at: FloatArray, size: FloatArray, water_share: FloatArray) -> FloatArray:
    """Conductivity of pores partly full of water: the two side by side in parallel.

    Water sits in the finest pores and bridges the rest, so parallel is the usual upper figure;
    the error is part of the rule's.
    """
    gas = pores.pore_conductivity(at, size[:, None])
    if not np.any(water_share > 0):
        return gas
    water = pores.water_conductivity(np.clip(at, 274.0, _LIQUID_TOP))
    share = water_share[:, None]
    return np.asarray(share * water + (1 - share) * gas)


@dataclass(slots=True)
class _Body:
    """Everything the steps share."""

    request: EstimateRequest
    gathered: Gathered
    batch: Batch
    streams: Streams
    at: FloatArray

    @property
    def state(self) -> int:
        return _STATE_INDEX[self.request.state.kind]

    def shrink(self) -> FloatArray:
        """Volume in the state over the fresh volume."""
        volume = self.batch.account.volume
        return np.asarray(volume[:, self.state] / volume[:, 0])

    def kept(self) -> FloatArray:
        """Share of each constituent's solid still there in the state."""
        shape = self.batch.masses.shape
        if self.request.state.kind != "fired":
            return np.ones(shape)
        rest = np.ones(shape)
        for index, part in enumerate(self.gathered.parts):
            loss = part.triples.get("loss_on_ignition")
            if loss is not None:
                rest[:, index] = 1.0 - min(loss.typical, 1.0)
        return rest

    def solid_volume(self) -> FloatArray:
        """Pore-free volume of each constituent over the body's volume in the state."""
        volume = self.batch.account.volume[:, self.state][:, None]
        return np.asarray(self.batch.masses / self.batch.true * self.kept() / volume)

    def grain_share(self) -> FloatArray:
        """Volume share of each constituent, its own pores included."""
        return np.asarray(self.batch.account.volume_fractions / self.shrink()[:, None])

    def water_share(self) -> FloatArray:
        """Share of the pores that holds water."""
        kind = self.request.state.kind
        if kind in ("dried", "fired"):
            return np.zeros(self.streams.draws)
        account = self.batch.account
        porosity = np.maximum(account.porosity[:, self.state], 1e-3)
        density = account.density[:, self.state]
        if kind == "air-dry":
            return np.minimum(self.batch.drying_moisture * density / 1000.0 / porosity, 1.0)
        dry = account.density[:, 2]
        return np.clip((density - dry) / 1000.0 / porosity, 0.0, 1.0)


def thermal_conductivity(
    request: EstimateRequest, gathered: Gathered, batch: Batch, streams: Streams
) -> Thermal:
    """Homogenise step by step at every temperature of the request."""
    body = _Body(request, gathered, batch, streams, np.array(request.temperatures()))
    grains, shares, phases = _grains(body)
    paste_share, paste = _paste_step(body, shares, phases)
    air = np.asarray(batch.account.air_fraction)
    air_k = _pore(body.at, streams.positive("mix:void_size", take.GRAIN_PORES), np.zeros(len(air)))
    fractions = np.stack([paste_share, *shares, air], -1)
    fractions /= fractions.sum(-1, keepdims=True)
    each = np.stack([paste, *grains, air_k], -1)
    mixed = _mix(fractions[:, None, :], each, streams.uniforms("rule:body"))
    bounded = _clamped(mixed, phases)
    spread = np.exp(take.RULE_SPREAD * streams.normals("rule:spread"))
    lower, upper = _corner_bounds(phases)
    return Thermal(bounded * spread[:, None], lower, upper)


def _mix(fractions: FloatArray, each: FloatArray, u: FloatArray) -> FloatArray:
    """Put grains and voids in the paste: Maxwell, edges differential and Hashin-Shtrikman upper.

    The upper bound takes the best conductor as host however little of it there is; a trace is
    therefore given the paste's conductivity in it, or a pinch of a mineral would move the edge.
    """
    parts = np.broadcast_to(fractions, each.shape)
    upper_each = np.where(parts < _TRACE, each[..., :1], each)
    middle = rules.maxwell(parts, each)
    lower = np.minimum(rules.differential(parts, each), middle)
    upper = np.maximum(rules.hashin_shtrikman_upper(parts, upper_each), middle)
    return _between(lower, middle, upper, u)


def _grains(body: _Body) -> tuple[list[FloatArray], list[FloatArray], list[Any]]:
    """First step: conductivity and volume share of each aggregate."""
    shares, grains, phases = [], [], []
    whole = body.grain_share()
    solids = body.solid_volume()
    for index, part in enumerate(body.gathered.parts):
        if part.is_powder:
            continue
        name = part.constituent.material
        share = np.clip(whole[:, index], 1e-9, None)
        solid_share = np.clip(solids[:, index] / share, 0.0, 1.0)
        size = part.constituent.pore_size or take.GRAIN_PORES
        pore = _pore(body.at, body.streams.positive(f"{name}:pore_size", size), body.water_share())
        skeleton = _curve(part, body.streams)
        if part.conductivity_is_grain:
            grain = skeleton
        else:
            u = body.streams.uniforms(f"rule:{name}")
            grain = _cellular(solid_share[:, None], skeleton, pore, u)
        grains.append(grain)
        shares.append(share)
        if part.conductivity_is_grain:
            phases.append((share, skeleton))
        else:
            phases += [(share * solid_share, skeleton), (share * (1 - solid_share), pore)]
    return grains, shares, phases


def _paste_step(
    body: _Body, shares: list[FloatArray], phases: list[Any]
) -> tuple[FloatArray, FloatArray]:
    """Second step: the paste between the grains."""
    air = np.asarray(body.batch.account.air_fraction)
    room = np.clip(1.0 - sum(shares, np.zeros(len(air))) - air, 0.02, 1.0)
    powders = [i for i, part in enumerate(body.gathered.parts) if part.is_powder]
    solids = body.solid_volume()[:, powders].sum(-1)
    if body.request.state.kind in ("demoulded", "air-dry", "dried"):
        volume = body.batch.account.volume[:, body.state]
        solids = solids + body.batch.account.water_bound * _BOUND_VOLUME / volume
    solid_share = np.clip(solids / room, 0.05, 0.95)
    normals = body.streams.normals("mix:paste_skeleton")
    skeleton = _flat(take.PASTE_SKELETON, normals, len(body.at))
    size = body.streams.positive("mix:paste_pores", take.PASTE_PORES)
    pore = _pore(body.at, size, body.water_share())
    phases += [
        (room * solid_share, skeleton), (room * (1 - solid_share), pore),
        (air, _pore(body.at, np.full(len(air), take.GRAIN_PORES.typical), np.zeros(len(air)))),
    ]
    u = body.streams.uniforms("rule:paste")
    return room, _paste(solid_share[:, None], skeleton, pore, u)


_BOUND_VOLUME: Final = 15e-6 / 0.018015
"""Volume of crystal water, about 15 cm3 a mole, m3/kg."""


def _flat(triple: Triple, normals: FloatArray, count: int) -> FloatArray:
    drawn = sampling.two_piece_lognormal(triple.low, triple.typical, triple.high, normals, 0.9)
    return np.repeat(drawn[:, None], count, axis=1)


def _stack(phases: list[Any]) -> tuple[FloatArray, FloatArray]:
    fractions = np.stack([share for share, _ in phases], -1)
    fractions /= fractions.sum(-1, keepdims=True)
    each = np.stack([value for _, value in phases], -1)
    return np.broadcast_to(fractions[:, None, :], each.shape), each


def _clamped(mixed: FloatArray, phases: list[Any]) -> FloatArray:
    """Keep every draw inside the bounds of its own phases."""
    fractions, each = _stack(phases)
    return np.asarray(rules.clamp(mixed, fractions, each))


def _corner_bounds(phases: list[Any]) -> tuple[FloatArray, FloatArray]:
    """Give Hashin-Shtrikman bounds with every input at its low or high corner.

    The rules rise with every conductivity, so the corners are all conductivities low with the
    least solid, and all high with the most: the widest a body of these parts can be.
    """
    fractions, each = _stack(phases)
    low, high = (np.quantile(each, q, axis=0) for q in (0.05, 0.95))
    solid = np.argsort([float(np.median(value)) for _, value in phases])[::-1]
    leading = fractions[:, 0, solid[: len(solid) // 2]].sum(-1)
    least, most = (int(np.argmin(np.abs(leading - np.quantile(leading, q)))) for q in (0.05, 0.95))
    lower = rules.hashin_shtrikman_lower(fractions[least], low)
    upper = rules.hashin_shtrikman_upper(fractions[most], high)
    return np.asarray(lower), np.asarray(upper)


def heat_capacity(
    request: EstimateRequest, gathered: Gathered, batch: Batch, streams: Streams
) -> Heat:
    """Give the specific heat capacity by mass of what is there in the state."""
    at = np.array(request.temperatures())
    missing = [
        part.name for part in gathered.parts if part.heat_capacity is None and not part.leaves
    ]
    if missing:
        return Heat(None, f"no specific heat capacity is held of {', '.join(missing)}")
    body = _Body(request, gathered, batch, streams, at)
    masses = batch.masses * body.kept()
    columns, weights = [], []
    for index, part in enumerate(gathered.parts):
        if part.heat_capacity is None:
            continue
        curve = part.heat_capacity
        normals = streams.normals(f"{part.constituent.material}:specific_heat_capacity")
        columns.append(
            sampling.two_piece_lognormal(
                curve[:, 0], curve[:, 1], curve[:, 2], normals[:, None], 0.9
            )
        )
        weights.append(masses[:, index])
    water = _water_mass(body)
    columns.append(np.full((streams.draws, len(at)), _WATER_HEAT))
    weights.append(water)
    fractions = np.stack(weights, -1)
    fractions /= fractions.sum(-1, keepdims=True)
    each = np.stack(columns, -1)
    shares = np.broadcast_to(fractions[:, None, :], each.shape)
    return Heat(np.asarray(heat.mix_heat_capacity(shares, each)), None)


_WATER_HEAT: Final = 4186.0
"""Liquid water near room temperature, J/(kg.K)."""


def _water_mass(body: _Body) -> FloatArray:
    """Liquid water in the state; bound water is counted with its solid's error."""
    account = body.batch.account
    kind = body.request.state.kind
    if kind == "air-dry":
        return np.asarray(body.batch.drying_moisture * account.mass[:, 2])
    if kind in ("fresh", "demoulded"):
        return np.clip(account.mass[:, body.state] - account.mass[:, 2], 0.0, None)
    return np.zeros(body.streams.draws)
