"""Conductivity in steps, at every draw and temperature.

Gas and shell make the grain, solid and pores the paste, voids and then grains in the paste the
body. One step over all phases is wrong for light mixes: it lets the gas inside a grain meet the
paste. Each step has a rule by structure and two edges; where between the edges a body lies is
drawn, and what all rules miss is drawn on top, after the physical bounds were applied.

Arrays have shape (temperatures, draws).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes import steps
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.latent import Latent, stretched
from hotface_api.mixes.priors import MIDDLE_LIGHT, Priors
from hotface_api.mixes.request import EstimateRequest, Triple
from hotface_api.mixes.rules import apply_rule, bounds, rule_text
from hotface_api.mixes.skeleton import Solid, curve_solid, paste_skeleton, sintered, solved
from hotface_api.mixes.structure import Structure
from hotface_api.science import pores

__all__ = ["Bounds", "Thermal", "method_of", "thermal_conductivity"]

FloatArray = NDArray[np.float64]
_BOILING: Final = 373.15
_ROOM: Final = 293.15
_LEAST: Final = 1e-9

METHOD: Final = (
    "in steps: grain and paste by the log mean of Maxwell-Eucken and differential rule (sintered"
    " paste by the symmetric rule at low porosity), voids in the paste likewise, body by the"
    " Maxwell rule for many kinds of grain in the paste; pore air with radiation at each"
    " temperature"
)


class Phase(NamedTuple):
    """One phase of the whole body: its share and its conductivity, drawn and at its ends."""

    share: FloatArray
    solid: Solid


@dataclass(slots=True)
class Bounds:
    """Limits no isotropic body (Hashin-Shtrikman) and no body (Wiener) of these parts passes.

    Shape (temperatures,); every input stands at its low or at its high end together.
    """

    lower: FloatArray
    upper: FloatArray
    series: FloatArray
    parallel: FloatArray


@dataclass(slots=True)
class Thermal:
    """Conductivity of every draw, shape (temperatures, draws), before and after what rules miss."""

    draws: FloatArray
    by_rule: FloatArray
    phases: list[Phase]

    def bounds(self) -> Bounds:
        """Give the bounds at corner inputs: the rules rise with every conductivity."""
        shares = [phase.share for phase in self.phases]
        series, lower, _, _ = bounds(shares, [phase.solid.low for phase in self.phases])
        _, _, upper, parallel = bounds(shares, [phase.solid.high for phase in self.phases])
        return Bounds(lower.min(-1), upper.max(-1), series.min(-1), parallel.max(-1))


def method_of(request: EstimateRequest) -> str:
    """Say by which rules a request is answered."""
    return METHOD if request.rule is None else rule_text(request.rule)


def _pore(at: FloatArray, size: FloatArray, water: FloatArray) -> FloatArray:
    """Conductivity of pores of a size partly full of water: the two side by side.

    Water sits in the finest pores and bridges the rest, so parallel is the usual upper figure; the
    error is part of the rule's. From 100 Cel on there is none left.
    """
    gas = pores.pore_conductivity(at, size)
    if not np.any(water > 0):
        return gas
    liquid = pores.water_conductivity(np.clip(at, 273.15, _BOILING))
    share = np.where(at < _BOILING, water, 0.0)
    return np.asarray(share * liquid + (1.0 - share) * gas)


@dataclass(slots=True)
class _Body:
    """What the steps share, and the phases they have met."""

    request: EstimateRequest
    gathered: Gathered
    structure: Structure
    latent: Latent
    priors: Priors
    at: FloatArray
    phases: list[Phase] = field(default_factory=list)

    def pore(self, name: str, size: Triple, water: FloatArray) -> Solid:
        """Draw what pores of a size conduct."""
        drawn = _pore(self.at, self.latent.positive(name, size), water)
        low, high = (_pore(self.at, np.full(1, end), water) for end in (size.low, size.high))
        return Solid(drawn, low, high)

    def pair(
        self,
        solid: FloatArray,
        host: FloatArray,
        inner: FloatArray,
        rule: steps.PairRule,
        name: str,
    ) -> FloatArray:
        """Put one phase into another: by the structure's rules, or by the one asked for."""
        if self.request.rule is not None:
            shares, values = [solid, 1.0 - solid], [host, inner]
            return apply_rule(self.request.rule, self.request.rule_options, shares, values)
        return steps.between(rule(solid, host, inner), self.latent.weight(f"rule:{name}"))


def thermal_conductivity(
    request: EstimateRequest,
    gathered: Gathered,
    structure: Structure,
    latent: Latent,
    priors: Priors,
) -> Thermal:
    """Homogenise step by step at the temperatures of the request's grid."""
    at = np.asarray(request.grid(), dtype=np.float64)[:, None]
    body = _Body(request, gathered, structure, latent, priors, at)
    matrix = _with_voids(body, _paste(body))
    shares, grains = _grains(body)
    by_rule = _in_matrix(body, matrix, shares, grains)
    missed = priors.rule_spread * latent.normal("rule:spread")
    missed = missed + priors.rule_slope * latent.normal("rule:slope") * np.log(at / _ROOM)
    return Thermal(np.asarray(by_rule * np.exp(missed)), by_rule, body.phases)


def _paste(body: _Body) -> FloatArray:
    """Homogenise the hardened binder: a skeleton with fine pores."""
    structure, parts = body.structure, body.gathered.parts
    state = body.request.state
    skeleton = _skeleton(body)
    pore = body.pore("mix:paste_pores", take.PASTE_PORES, structure.paste_water)
    rule = steps.paste_rule(sintered(parts, structure.solids, state))
    solid = structure.paste_solid
    own = _own_paste(body)
    if own is not None:
        dry = _pore(body.at, body.latent.positive("mix:paste_pores", take.PASTE_PORES), np.zeros(1))
        found = solved(lambda each: body.pair(solid, each, dry, rule, "paste"), own, skeleton.drawn)
        skeleton = Solid(found, found.min(-1, keepdims=True), found.max(-1, keepdims=True))
    body.phases += [
        Phase(structure.paste * solid, skeleton),
        Phase(structure.paste * (1.0 - solid), pore),
    ]
    return body.pair(solid, skeleton.drawn, pore.drawn, rule, "paste")


def _skeleton(body: _Body) -> Solid:
    """Draw the pore-free paste; with heat it rises or falls by a drawn power of temperature."""
    state, parts = body.request.state, body.gathered.parts
    volumes = body.structure.solids
    normals = body.latent.normal("mix:paste_skeleton")
    found = paste_skeleton(parts, volumes, state, body.priors, normals)
    slope = body.priors.skeleton_slope["fired" if state.kind == "fired" else "dried"]
    power = stretched(
        body.latent.normal("mix:skeleton_slope"), slope.low, slope.typical, slope.high
    )
    log_rise = np.log(body.at / _ROOM)
    steep, flat = np.exp(log_rise * slope.high), np.exp(log_rise * slope.low)
    thin = _thinned(body)
    return Solid(
        found.drawn * np.exp(log_rise * power) * thin,
        found.low * np.minimum(steep, flat) * thin,
        found.high * np.maximum(steep, flat) * thin,
    )


def _thinned(body: _Body) -> FloatArray:
    """Give the factor on a hardened skeleton whose paste is thin between voids and light grains."""
    if body.request.state.kind == "fresh":
        return np.ones(1)
    fall = body.priors.thinning
    drawn = stretched(body.latent.normal("mix:thinning"), fall.low, fall.typical, fall.high)
    return np.asarray(np.exp(-drawn * (body.structure.light - MIDDLE_LIGHT)))


def _own_paste(body: _Body) -> FloatArray | None:
    """Give the caller's own conductivity of the hardened, dry binder, its pores included."""
    for part in body.gathered.parts:
        if part.kind == "binder" and "thermal_conductivity" in part.constituent.properties:
            normals = body.latent.normal(f"{part.material}:thermal_conductivity")
            neat = curve_solid(part.curves["thermal_conductivity"], normals).drawn
            if all(other.is_powder for other in body.gathered.parts):
                return neat
            return neat * np.minimum(body.latent.positive("mix:paste_cracks", take.RESTRAINED), 1.0)
    return None


def _with_voids(body: _Body, paste: FloatArray) -> FloatArray:
    """Put entrapped and foamed air into the paste."""
    voids, room = body.structure.voids, body.structure.paste
    pore = body.pore("mix:void_size", take.VOIDS, np.zeros(1))
    body.phases.append(Phase(voids, pore))
    return body.pair(room / (room + voids), paste, pore.drawn, steps.cellular, "voids")


def _grains(body: _Body) -> tuple[list[FloatArray], list[FloatArray]]:
    """Homogenise each kind of grain: a shell with its own pores."""
    shares, grains = [], []
    for index, part in enumerate(body.gathered.parts):
        share = body.structure.grains[index]
        if part.is_powder:
            continue
        shares.append(share)
        grains.append(_grain(body, part, share, body.structure.solids[index]))
    return shares, grains


def _grain(body: _Body, part: Part, share: FloatArray, solids: FloatArray) -> FloatArray:
    name = part.material
    shell = curve_solid(
        part.curves["thermal_conductivity"], body.latent.normal(f"{name}:thermal_conductivity")
    )
    if part.conductivity_is_grain and not part.leaves:
        body.phases.append(Phase(share, shell))
        return shell.drawn
    solid = np.clip(solids / np.maximum(share, _LEAST), 0.0, 1.0)
    size = part.triples.get("pore_size", take.GRAIN_PORES)
    pore = body.pore(f"{name}:pore_size", size, body.structure.grain_water)
    body.phases += [Phase(share * solid, shell), Phase(share * (1.0 - solid), pore)]
    if not np.any(solid > 0):
        return pore.drawn
    return body.pair(solid, shell.drawn, pore.drawn, steps.cellular, name)


def _in_matrix(
    body: _Body, matrix: FloatArray, shares: list[FloatArray], grains: list[FloatArray]
) -> FloatArray:
    """Put the grains into the paste with its voids."""
    if not shares:
        return matrix
    stones = np.asarray(sum(shares[1:], shares[0]))
    room = body.structure.paste + body.structure.voids
    whole = room + stones
    parts = [share / whole for share in shares]
    if body.request.rule is not None:
        return apply_rule(
            body.request.rule,
            body.request.rule_options,
            [room / whole, *parts],
            [matrix, *grains],
        )
    edges = steps.grains_in(room / whole, matrix, parts, grains)
    return steps.between(edges, body.latent.weight("rule:body"))
