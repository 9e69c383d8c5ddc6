"""The estimate: gather, draw, account, homogenise, summarise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import assumptions as take
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.draws import Batch, Streams, draw_batch
from hotface_api.mixes.inputs import Gathered, gather
from hotface_api.mixes.request import EstimateRequest, MixError, check
from hotface_api.mixes.service import ServiceLimit, service_limit
from hotface_api.mixes.thermal import (
    METHOD,
    Heat,
    Thermal,
    heat_capacity,
    thermal_conductivity,
)
from hotface_api.science import sampling

__all__ = ["Composition", "CurvePoint", "Doubt", "Estimate", "estimate"]

Row = Mapping[str, Any]
FloatArray = NDArray[np.float64]
_STATE_NAMES: Final = ("fresh", "demoulded", "dried", "fired")
_STATE_INDEX: Final = {"fresh": 0, "demoulded": 1, "air-dry": 2, "dried": 2, "fired": 3}
_SHOWN_DOUBTS: Final = 5
_OUTSIDE: Final = 3.0


@dataclass(frozen=True, slots=True)
class Share:
    """One constituent's share of the dry mass and of the fresh volume (medians)."""

    material: str
    mass_fraction: float
    volume_fraction: float


@dataclass(frozen=True, slots=True)
class Composition:
    """Shares, porosity of the state asked about, and yield (m3, or m3/kg dry with parts)."""

    constituents: tuple[Share, ...]
    porosity: Range
    yield_: Range
    yield_per_dry_mass: bool
    water: Range


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One temperature (kelvin) of a curve; bounds only where they exist."""

    temperature: float
    range: Range
    lower_bound: float | None = None
    upper_bound: float | None = None


@dataclass(frozen=True, slots=True)
class Doubt:
    """An input, its share of the doubt in an output, and what would help."""

    input: str
    share: float
    advice: str


@dataclass(frozen=True, slots=True)
class Estimate:
    """The answer, all numbers SI. What is None has its reason under the same name."""

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


def estimate(
    connection: Connection, reference: Reference, request: EstimateRequest
) -> Estimate:
    """Estimate the composite of a mix.

    Parameters
    ----------
    connection : Connection
        Two statements are run: the inputs, and the limits.
    reference : Reference
    request : EstimateRequest
        SI throughout; see ``mixes.request``.

    Returns
    -------
    Estimate

    Raises
    ------
    MixError
        If the mix makes no sense or a density is missing; the pointer says where.
    """
    check(request)
    gathered = gather(connection, reference, request)
    _check_binder(request, gathered)
    streams = Streams(request.seed, request.draws)
    batch = draw_batch(request, gathered, streams)
    _check_water(request, batch)
    thermal = thermal_conductivity(request, gathered, batch, streams)
    capacity = heat_capacity(request, gathered, batch, streams)
    density = _density(request, batch)
    learned = _learn(request, density, thermal, batch, capacity, gathered, streams)
    limit = service_limit(connection, reference, gathered)
    return _assemble(reference, request, gathered, learned, limit, streams)


@dataclass(slots=True)
class _Learned:
    """Draws after whatever was measured has been taken into account."""

    density: FloatArray
    thermal: Thermal
    batch: Batch
    capacity: Heat
    state_density: FloatArray
    porosity: FloatArray
    fresh_volume: FloatArray


def _check_binder(request: EstimateRequest, gathered: Gathered) -> None:
    if request.mix.water_kind == "ratio_to_binder" and not any(
        part.is_hydraulic for part in gathered.parts
    ):
        raise MixError("#/mix/water", "the mix holds no hydraulic binder to take the ratio to")


def _check_water(request: EstimateRequest, batch: Batch) -> None:
    """Refuse water that the constituents could never hold: more than ten times their volume."""
    dry = float(np.median(batch.account.absolute_volumes.sum(-1)))
    water = float(np.median(batch.account.water_free)) / 1000.0
    if water > 10.0 * dry:
        raise MixError("#/mix/water", "the water is more than ten times the volume of the solids")
    del request


def _density(request: EstimateRequest, batch: Batch) -> FloatArray:
    density = np.asarray(batch.account.density[:, _STATE_INDEX[request.state.kind]])
    if request.state.kind == "air-dry":
        return density * (1.0 + batch.drying_moisture)
    return density


def _learn(
    request: EstimateRequest, density: FloatArray, thermal: Thermal, batch: Batch, capacity: Heat,
    gathered: Gathered, streams: Streams,
) -> _Learned:
    """Move all draws together by what was measured: a log-linear ensemble update."""
    account = batch.account
    porosity = np.clip(account.porosity[:, _STATE_INDEX[request.state.kind]], 1e-4, 1 - 1e-4)
    columns = [np.log(density), *np.log(account.density.T), np.log(account.fresh_volume)]
    columns += [np.log(porosity / (1 - porosity)), *np.log(thermal.draws.T)]
    if capacity.draws is not None:
        columns += [*np.log(capacity.draws.T)]
    state = np.stack(columns, -1)
    found = _observations(request, density, thermal)
    if found:
        for observed, predicted in found:
            _note_outside(observed, predicted, gathered)
        noise = sampling.normals(request.seed, "mix:measured", (streams.draws, len(found)))
        state = sampling.ensemble_update(
            state, np.stack([predicted for _, predicted in found], -1),
            np.array([observed for observed, _ in found]), take.OWN_SPREAD, noise,
        )
    return _unpack(state, thermal, batch, capacity)


def _observations(
    request: EstimateRequest, density: FloatArray, thermal: Thermal
) -> list[tuple[float, FloatArray]]:
    measured = request.measured
    found = []
    if measured.bulk_density is not None:
        found.append((float(np.log(measured.bulk_density)), np.log(density)))
    if measured.thermal_conductivity is not None and measured.thermal_conductivity_at is not None:
        at = np.array(request.temperatures())
        logs = np.log(thermal.draws)
        predicted = np.array(
            [np.interp(measured.thermal_conductivity_at, at, row) for row in logs]
        )
        found.append((float(np.log(measured.thermal_conductivity)), predicted))
    return found


def _note_outside(observed: float, predicted: FloatArray, gathered: Gathered) -> None:
    centre, spread = float(np.median(predicted)), float(np.std(predicted))
    if abs(observed - centre) > _OUTSIDE * max(spread, 1e-3):
        low, high = np.exp(np.quantile(predicted, [0.001, 0.999]))
        gathered.assume(
            "measured_outside",
            f"What was measured ({np.exp(observed):.4g} in SI) lies outside what these constituents"
            f" allow ({low:.4g} to {high:.4g}); check units, moisture and amounts.",
        )


def _unpack(state: FloatArray, thermal: Thermal, batch: Batch, capacity: Heat) -> _Learned:
    count = thermal.draws.shape[1]
    logit = state[:, 6]
    heat = capacity
    if capacity.draws is not None:
        heat = Heat(np.exp(state[:, 7 + count :]), None)
    return _Learned(
        density=np.exp(state[:, 1:5]),
        thermal=Thermal(
            np.exp(state[:, 7 : 7 + count]), thermal.lower_bound, thermal.upper_bound
        ),
        batch=batch, capacity=heat, state_density=np.exp(state[:, 0]),
        porosity=1.0 / (1.0 + np.exp(-logit)), fresh_volume=np.exp(state[:, 5]),
    )


def _range(draws: FloatArray, coverage: float) -> Range:
    found = sampling.quantiles(draws, coverage)
    return Range(float(found.low), float(found.typical), float(found.high), coverage)


def _points(
    request: EstimateRequest, draws: FloatArray, thermal: Thermal | None = None
) -> tuple[CurvePoint, ...]:
    points = []
    for index, temperature in enumerate(request.temperatures()):
        lower = upper = None
        if thermal is not None:
            lower = float(thermal.lower_bound[index])
            upper = float(thermal.upper_bound[index])
        found = _range(draws[:, index], request.coverage)
        points.append(CurvePoint(temperature, found, lower, upper))
    return tuple(points)


def _composition(request: EstimateRequest, gathered: Gathered, learned: _Learned) -> Composition:
    account = learned.batch.account
    mass = np.median(account.mass_fractions, axis=0)
    volume = np.median(account.volume_fractions, axis=0)
    shares = tuple(
        Share(part.constituent.material, float(m), float(v))
        for part, m, v in zip(gathered.parts, mass / mass.sum(), volume, strict=True)
    )
    in_parts = request.mix.parts_by is not None
    dry = account.masses.sum(-1) if in_parts else 1.0
    water = account.water_free + account.water_absorbed
    return Composition(
        shares, _range(learned.porosity, request.coverage),
        _range(learned.fresh_volume / dry, request.coverage), in_parts,
        _range(np.asarray(water / dry), request.coverage),
    )


_ADVICE: Final = {
    "loose_bulk_density": "weigh one bucket of it, filled as you fill it, and give its loose bulk"
    " density",
    "particle_density": "measure its grain density by soaked weight and give it",
    "void_share": "measure its grain density by soaked weight and give it",
    "true_density": "give its pore-free density from the bag's sheet",
    "thermal_conductivity": "give its own conductivity if you have it",
    "specific_heat_capacity": "give its own heat capacity if you have it",
    "pore_size": "give the size of its pores, seen under a lens on a broken grain",
    "bound_water": "weigh a piece dried at 110 Cel and again after firing",
    "loss_on_ignition": "weigh a sample before and after firing",
    "paste_skeleton": "measure the conductivity of one piece, by comparison with a known one",
    "paste_pores": "measure the conductivity of one piece, by comparison with a known one",
    "void_size": "look at a broken face and give the size of the largest voids",
    "entrapped_air": "weigh a filled mould of known volume: the fresh density tells the air",
    "soaked_pores": "weigh a filled mould of known volume: the fresh density tells the water taken",
    "firing_shrinkage": "measure one piece before and after firing",
    "drying_shrinkage": "measure one piece before and after drying",
    "moisture": "weigh the piece, dry it at 110 Cel and weigh it again",
    "early_loss": "weigh the piece when it leaves the mould",
}


def _doubts(learned: _Learned, streams: Streams, request: EstimateRequest) -> tuple[Doubt, ...]:
    """Share the doubt in conductivity at the middle temperature among the inputs."""
    names = sorted(streams.kept)
    inputs = np.stack([streams.kept[name] for name in names], -1)
    middle = len(request.temperatures()) // 2
    shares = sampling.rank_shares(inputs, learned.thermal.draws[:, middle])
    order = sorted(range(len(names)), key=lambda i: (-float(shares[i]), names[i]))
    found = []
    for index in order[:_SHOWN_DOUBTS]:
        subject, _, quantity = names[index].partition(":")
        if subject == "rule":
            advice = "measure the conductivity of one piece: no input removes this"
        else:
            advice = _ADVICE.get(quantity, "measure it")
        found.append(Doubt(names[index].replace(":", " "), float(shares[index]), advice))
    return tuple(found)


_NOT_ANSWERED: Final = {
    "thermal_strain": "expansion of the composite is not estimated yet",
    "strength_class": "a strength class needs a cited reference mix; none is compared yet",
    "closest_class": "the mix is not compared with published classes yet",
}


def _assemble(
    reference: Reference, request: EstimateRequest, gathered: Gathered, learned: _Learned,
    limit: ServiceLimit, streams: Streams,
) -> Estimate:
    reasons = dict(_NOT_ANSWERED)
    heat_points = None
    if learned.capacity.draws is None:
        reasons["specific_heat_capacity"] = learned.capacity.reason or "not held"
    else:
        heat_points = _points(request, learned.capacity.draws)
    if limit.reason:
        reasons["service_limit"] = limit.reason
    materials = [part.constituent.material for part in gathered.parts]
    return Estimate(
        request=request,
        revision=reference.revision,
        composition=_composition(request, gathered, learned),
        densities={
            name: _range(learned.density[:, index], request.coverage)
            for index, name in enumerate(_STATE_NAMES)
        },
        bulk_density=_range(learned.state_density, request.coverage),
        thermal_conductivity=_points(request, learned.thermal.draws, learned.thermal),
        method=METHOD,
        specific_heat_capacity=heat_points,
        service_limit=limit,
        doubt_shares=_doubts(learned, streams, request),
        assumptions=(*gathered.assumptions, *_general(request)),
        cautions=matching_cautions(reference, materials, general=True),
        citations=tuple(sorted(gathered.citations | set(limit.citations))),
        reasons=reasons,
    )


def _general(request: EstimateRequest) -> list[Assumption]:
    """State what every estimate takes for granted."""
    found = [
        Assumption("entrapped_air", "Entrapped air taken as 1 to 8 % of the fresh volume."),
        Assumption("soaked_pores", "Grains take up water in 2 to 30 % of their own pores."),
        Assumption(
            "paste_skeleton",
            "The pore-free part of the paste is taken to conduct 0.55 to 1.9 W/(m.K), less than"
            " the dense minerals, because drying and firing crack it.",
        ),
        Assumption(
            "pore_size",
            "Pore sizes not given are taken by decades: grains 0.02 to 2 mm, paste 0.0001 to"
            " 0.1 mm.",
        ),
        Assumption("rule_spread", "What the rules miss is drawn with 12 % on top."),
    ]
    if request.state.kind == "fired":
        found.append(Assumption("firing_shrinkage", "Firing shrinkage taken as 0.05 to 1.5 %."))
    return found
