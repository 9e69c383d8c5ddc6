"""Draws of every uncertain input, and the accounting they lead to.

Each input has a stream of its own, named after constituent and quantity, so that adding a
constituent leaves the draws of the others as they were. Densities of grains are drawn through the
void share of their heap: the grade decides loose and grain density together, and no draw has a
heap heavier than its grains.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.request import EstimateRequest, Triple
from hotface_api.science import accounting, densities, sampling

__all__ = ["Batch", "Streams", "draw_batch"]

FloatArray = NDArray[np.float64]
_INPUT_COVERAGE = 0.9
_LEAST_VOID, _MOST_VOID = 0.22, 0.75
_OF_TRUE = 0.985
"""A grain with its own pores stays below its pore-free density by at least this share."""


@dataclass(slots=True)
class Streams:
    """Draws named inputs and keeps them, so that doubt can be shared out afterwards."""

    seed: int
    draws: int
    kept: dict[str, FloatArray] = field(default_factory=dict)

    def normals(self, name: str) -> FloatArray:
        """Draw standard normals of one named input."""
        found = sampling.normals(self.seed, name, self.draws)
        self.kept[name] = found
        return found

    def positive(self, name: str, triple: Triple) -> FloatArray:
        """Draw a positive quantity; a triple that touches zero draws a share of its top."""
        if triple.high <= 0:
            return np.zeros(self.draws)
        low = max(triple.low, 1e-3 * triple.high)
        typical = max(triple.typical, low)
        if low == triple.high:
            return np.full(self.draws, triple.high)
        return sampling.two_piece_lognormal(
            low, typical, triple.high, self.normals(name), _INPUT_COVERAGE
        )

    def share(self, name: str, triple: Triple) -> FloatArray:
        """Draw a share between 0 and 1."""
        return sampling.two_piece_fraction(
            triple.low, triple.typical, triple.high, self.normals(name), _INPUT_COVERAGE
        )

    def uniforms(self, name: str) -> FloatArray:
        """Draw uniform numbers of one named input."""
        found = sampling.uniforms(self.seed, name, self.draws)
        self.kept[name] = found
        return found


@dataclass(slots=True)
class Batch:
    """Drawn inputs, shape (draws, constituents), and the account they lead to."""

    loose: FloatArray
    particle: FloatArray
    true: FloatArray
    masses: FloatArray
    account: accounting.Account
    drying_moisture: FloatArray


def _clip(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _void(part: Part) -> Triple:
    """Give the void share of a poured heap: about its own two densities, else as assumed."""
    loose, grain = part.triples.get("loose_bulk_density"), part.triples.get("particle_density")
    if loose is None or grain is None:
        return take.VOID_SHARE
    middle = _clip(1 - loose.typical / grain.typical, 0.30, 0.60)
    return Triple(middle - 0.06, middle, middle + 0.06)


def _grain_densities(part: Part, streams: Streams) -> tuple[FloatArray, FloatArray]:
    """Draw loose and particle density of an aggregate together."""
    name = part.constituent.material
    loose, grain = part.triples.get("loose_bulk_density"), part.triples.get("particle_density")
    own = part.constituent.properties
    void = np.clip(streams.share(f"{name}:void_share", _void(part)), _LEAST_VOID, _MOST_VOID)
    grain_first = loose is None or (
        "particle_density" in own and "loose_bulk_density" not in own
    )
    if grain_first and grain is not None:
        drawn = streams.positive(f"{name}:particle_density", grain)
        return densities.loose_from_void(void, drawn), drawn
    if loose is None:  # pragma: no cover - inputs.gather asks for one of the two
        raise AssertionError
    heap = streams.positive(f"{name}:loose_bulk_density", loose)
    if "particle_density" in own and grain is not None:
        return heap, np.maximum(streams.positive(f"{name}:particle_density", grain), heap)
    return heap, heap / (1.0 - void)


def _powder_densities(part: Part, streams: Streams) -> tuple[FloatArray, FloatArray]:
    name = part.constituent.material
    true = streams.positive(f"{name}:true_density", part.triples["particle_density"])
    loose = part.triples.get("loose_bulk_density")
    if loose is None:
        return np.full(streams.draws, np.nan), true
    heap = streams.positive(f"{name}:loose_bulk_density", loose)
    return np.minimum(heap, 0.8 * true), true


def _true_density(part: Part, particle: FloatArray, streams: Streams) -> FloatArray:
    if part.is_powder:
        return particle
    name = f"{part.constituent.material}:true_density"
    drawn = streams.positive(name, part.triples["true_density"])
    return np.maximum(drawn, particle / _OF_TRUE)


def _mass(part: Part, loose: FloatArray, particle: FloatArray, parts_by: str | None) -> FloatArray:
    constituent = part.constituent
    amount = constituent.amount
    if constituent.amount_kind == "mass" or (
        constituent.amount_kind == "parts" and parts_by == "mass"
    ):
        return np.full(len(particle), amount)
    by_loose = parts_by == "loose" if parts_by else constituent.measured_as == "loose"
    if by_loose:
        return densities.mass_from_loose(amount, loose)
    return amount * particle


def draw_batch(request: EstimateRequest, gathered: Gathered, streams: Streams) -> Batch:
    """Draw densities and masses and follow the batch from the mixer to the kiln."""
    parts = gathered.parts
    columns: dict[str, list[FloatArray]] = {"loose": [], "particle": [], "true": [], "mass": []}
    for part in parts:
        draw = _powder_densities if part.is_powder else _grain_densities
        loose, particle = draw(part, streams)
        columns["mass"].append(_mass(part, loose, particle, request.mix.parts_by))
        if part.constituent.crush_factor is not None and not part.is_powder:
            particle = densities.crushed_density(particle, part.constituent.crush_factor)
        columns["loose"].append(loose)
        columns["true"].append(_true_density(part, particle, streams))
        columns["particle"].append(particle)
    loose, particle, true, masses = _stacked(columns)
    account = _account(request, gathered, streams, masses, particle, true)
    moisture = _moisture(request, streams)
    return Batch(loose, particle, true, masses, account, moisture)


def _stacked(columns: dict[str, list[FloatArray]]) -> tuple[FloatArray, ...]:
    return tuple(np.stack(columns[key], -1) for key in ("loose", "particle", "true", "mass"))


def _moisture(request: EstimateRequest, streams: Streams) -> FloatArray:
    if request.state.kind != "air-dry":
        return np.zeros(streams.draws)
    if request.state.moisture is not None:
        return np.full(streams.draws, request.state.moisture)
    return streams.positive("mix:moisture", take.AIR_DRY_MOISTURE)


def _account(
    request: EstimateRequest, gathered: Gathered, streams: Streams, masses: FloatArray,
    particle: FloatArray, true: FloatArray,
) -> accounting.Account:
    parts = gathered.parts
    hydraulic = np.array([part.is_hydraulic for part in parts])
    water = np.full(streams.draws, request.mix.water)
    if request.mix.water_kind == "ratio_to_binder":
        water = request.mix.water * masses[:, hydraulic].sum(-1)

    def column(name: str, default: float) -> FloatArray:
        drawn = [
            streams.positive(f"{part.constituent.material}:{name}", part.triples[name])
            if name in part.triples
            else np.full(streams.draws, default)
            for part in parts
        ]
        return np.stack(drawn, -1)

    soaked = streams.share("mix:soaked_pores", take.SOAKED_PORES)
    pores = np.maximum(1.0 / particle - 1.0 / true, 0.0)
    return accounting.account(
        masses, particle, true, water,
        absorption=soaked[:, None] * pores * accounting.WATER_DENSITY,
        bound_water=column("bound_water", 0.0),
        loss_on_ignition=np.minimum(column("loss_on_ignition", 0.0), 1.0),
        air=streams.share("mix:entrapped_air", take.ENTRAPPED_AIR),
        early_loss=streams.share("mix:early_loss", take.EARLY_LOSS),
        drying_change=-streams.positive("mix:drying_shrinkage", take.DRYING_SHRINKAGE),
        permanent_change=-streams.positive("mix:firing_shrinkage", take.FIRING_SHRINKAGE),
    )
