"""How near the density comes from the mix alone, where a recipe states amounts and water.

Few held recipes do, and none of them tells that a bucket was weighed and a filled mould after it.
What is here is what there is: recipes whose amounts, water and loose or grain densities are stated,
each as a builder would give it, without the density of the piece. The trade tables of perlite
concrete are left out: their densities are computed by a rule, not measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from bodies import STATED, Body, Tables, is_blind
from sqlalchemy import Connection

from hotface_api.catalogue.evidence import centre
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.estimate import estimate
from hotface_api.mixes.request import Constituent, EstimateRequest, Measured, Mix, State

__all__ = ["density_lines"]

LITRE = 1e-3


def _weighed(material: str, litres: float, loose: float) -> Constituent:
    """Give a loose volume whose bucket was weighed."""
    volume = litres * LITRE
    return Constituent(material, volume, "volume", bucket=(loose * 0.010, 0.010))


def _mass(material: str, kilograms: float) -> Constituent:
    return Constituent(material, kilograms, "mass")


def _plaster(perlite: float, lime: float, cement: float) -> Mix:
    parts = (
        _mass("hydrated-lime", lime),
        _mass("portland-cement", cement),
        _weighed("expanded-perlite", perlite, 150.0),
    )
    return Mix(parts, 40.0)


RECIPES: dict[str, Mix] = {
    "expanded-clay-concrete-630": Mix(
        (_mass("portland-cement", 170.0), _weighed("expanded-clay-light", 1000.0, 360.0)), 100.0
    ),
    "lime-perlite-plaster-400": _plaster(125.0, 14.0, 5.5),
    "lime-perlite-plaster-450": _plaster(130.0, 15.0, 8.0),
    "lime-perlite-plaster-500": _plaster(135.0, 17.0, 9.5),
    "white-fused-castable-2009": Mix(
        (
            _mass("calcium-aluminate-cement", 5.0),
            _mass("fused-alumina-white", 77.0),
            _mass("alumina-powder", 10.0),
            _mass("microsilica", 8.0),
        ),
        5.6,
    ),
}
"""Recipes as the ``proportions`` of the specimens state them; water of the plasters the middle of
38 to 42 L."""
PASTES = {"portland-paste-025": 0.25, "portland-paste-035": 0.35, "portland-paste-040": 0.40}
"""Water to cement by mass; their porosity is held, not their density."""


@dataclass(frozen=True)
class _Compared:
    """One body: what is stated, what the mix alone gives; shares of solid for the pastes."""

    id: str
    origin: str
    what: str
    stated: float
    low: float
    middle: float
    high: float

    @property
    def missed(self) -> float:
        return math.log(self.stated / self.middle)


def _of_recipes(
    connection: Connection, reference: Reference, tables: Tables
) -> Iterator[_Compared]:
    for identity, mix in RECIPES.items():
        row = tables.specimens[identity]
        held = next(each for each in tables.values[identity] if each["property"] == "bulk_density")
        state = State(row["state"], row["treatment_temperature"])
        found = estimate(connection, reference, EstimateRequest(mix, state)).bulk_density
        yield _Compared(
            identity,
            row["origin"] or row["source"],
            f"{row['state']}, kg/m3",
            centre(held),
            found.low or 0.0,
            found.typical or 0.0,
            found.high or 0.0,
        )


def _of_stated(
    connection: Connection, reference: Reference, bodies: Sequence[Body]
) -> Iterator[_Compared]:
    """Take the light earths: volume shares, and densities of binder and grains, are stated."""
    for body in bodies:
        if body.id in STATED and not body.is_blind:
            request = replace(body.request, measured=Measured())
            found = estimate(connection, reference, request).bulk_density
            yield _Compared(
                body.id,
                body.origin,
                "dried, kg/m3",
                body.density,
                found.low or 0.0,
                found.typical or 0.0,
                found.high or 0.0,
            )


def _of_pastes(connection: Connection, reference: Reference, tables: Tables) -> Iterator[_Compared]:
    for identity, ratio in PASTES.items():
        if is_blind(identity):
            continue
        row = tables.specimens[identity]
        held = next(
            each for each in tables.values[identity] if each["property"] == "total_porosity"
        )
        mix = Mix((_mass("portland-cement", 1.0),), ratio)
        found = estimate(connection, reference, EstimateRequest(mix, State("dried")))
        pores = found.composition.porosity
        yield _Compared(
            identity,
            row["origin"] or row["source"],
            "dried, share of solid",
            1.0 - centre(held),
            1.0 - (pores.high or 0.0),
            1.0 - (pores.typical or 0.0),
            1.0 - (pores.low or 0.0),
        )


def density_lines(
    connection: Connection, reference: Reference, tables: Tables, bodies: Sequence[Body]
) -> Iterator[str]:
    """Write every comparison and a summary with one vote a source."""
    every = [
        *_of_recipes(connection, reference, tables),
        *_of_stated(connection, reference, bodies),
        *_of_pastes(connection, reference, tables),
    ]
    yield "| body | source | what | stated | estimated from the mix alone | off | inside |"
    yield "|---|---|---|---|---|---|---|"
    for each in every:
        digits = 2 if each.stated < 1 else 0
        span = " ".join(f"{end:.{digits}f}" for end in (each.low, each.middle, each.high))
        inside = "yes" if each.low <= each.stated <= each.high else "no"
        yield (
            f"| {each.id} | {each.origin} | {each.what} | {each.stated:.{digits}f} | {span} |"
            f" {100 * math.expm1(-each.missed):+.0f} % | {inside} |"
        )
    sources = sorted({each.origin for each in every})
    middles = [
        float(np.median([abs(each.missed) for each in every if each.origin == origin]))
        for origin in sources
    ]
    within = sum(abs(each.missed) <= math.log(1.1) for each in every)
    inside_all = sum(each.low <= each.stated <= each.high for each in every)
    yield ""
    yield (
        f"{len(every)} bodies of {len(sources)} sources: median miss"
        f" {100 * math.expm1(float(np.median(middles))):.0f} % (one vote a source), {within} within"
        f" 10 %, {inside_all} inside the 90 % interval."
    )
