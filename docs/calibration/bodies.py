"""The measured bodies the estimator is held against, and the request each of them becomes.

A body is taken if somebody measured it (kinds ``specimen``, ``typical`` and ``range-end``), its
conductivity and its density or porosity are held, and its constituents are named. Design values,
suppliers' class data and limits are left out. What a body's recipe does not state is sought: the
proportion of binder to aggregate that gives the measured density.

A fifth of the bodies, chosen by the hash of their id before anything was fitted, is kept apart.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from sqlalchemy import Connection

from hotface_api.catalogue.evidence import centre
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.assumptions import SILICATE_DENSITY
from hotface_api.mixes.inputs import gather
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.model import Case, run
from hotface_api.mixes.priors import CALIBRATED
from hotface_api.mixes.request import (
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    MixError,
    State,
    Triple,
)

KINDS = ("specimen", "typical", "range-end")
BLIND_SHARE = 0.2
ROOM = 296.15

FAMILIES: Mapping[str, tuple[str, ...]] = {
    "perlite or vermiculite concrete": (
        "portland-perlite-concrete",
        "perlite-concrete",
        "concrete-perlite-vermiculite",
        "portland-vermiculite-concrete",
        "vermiculite-concrete",
    ),
    "concrete with other light grains": (
        "expanded-glass-concrete",
        "pumice-concrete",
        "scoria-concrete",
        "diatomite-concrete",
        "lightweight-mortar",
        "expanded-clay-concrete",
        "cac-expanded-clay-castable",
    ),
    "cement paste and foamed concrete": ("portland-cement", "foamed-concrete"),
    "geopolymer foam": ("geopolymer-foam", "geopolymer-concrete"),
    "silicate or phosphate bonded": (
        "silicate-bonded-perlite-board",
        "phosphate-bonded-castable",
        "phosphate-bonded-vermiculite",
    ),
    "gypsum": (
        "gypsum-plaster",
        "gypsum-perlite-concrete",
        "gypsum-wood-board",
        "gypsum-composite",
    ),
    "light earth": ("light-earth",),
    "fired clay or ceramic": (
        "anorthite-insulating-firebrick",
        "porous-mullite",
        "porous-mullite-cenosphere",
        "diatomite-brick",
        "porous-chamotte-castable",
        "porous-calcium-hexaluminate-castable",
    ),
}
"""Kinds of body that are judged together, by the material they are held under."""

LEFT_OUT: Mapping[str, str] = {
    "husk-plaster-0": "its own note: use the ratio to the other plaster only",
    "husk-plaster-20": "its own note: use the ratio to the other plaster only",
}
"""Bodies of the kinds above that are left out, and why."""

STATED: Mapping[str, Mapping[str, Mapping[str, float]]] = {
    "light-earth-hemp-3": {
        "loam": {"density": 1891, "k": 0.57},
        "hemp-shiv": {"particle": 248, "k": 0.055},
    },
    "light-earth-hemp-6": {
        "loam": {"density": 1891, "k": 0.57},
        "hemp-shiv": {"particle": 248, "k": 0.055},
    },
    "light-earth-sunflower-bark": {
        "clay": {"density": 900, "k": 0.27},
        "sunflower-bark": {"particle": 425, "k": 0.055},
    },
    "light-earth-sunflower-pith": {
        "clay": {"density": 900, "k": 0.27},
        "sunflower-pith": {"particle": 56, "k": 0.06},
    },
}
"""Figures of the constituents that the text of a recipe states, as a caller would give his own:
density of the dry binder in kg/m3, of a grain, conductivities in W/(m.K) (mean of directions)."""

FINE = Triple(2e-6, 1e-5, 5e-5)
"""Grain size of powders that are sintered, gel-cast or bonded as powders, m; our reading."""
POWDERS = ("mullite",)
FOAMED = 1.25
"""How much heavier than a body the lightest unfoamed one must be for it to count as a foam."""
HEAVIER = 1.05
"""How much heavier than the heaviest mix of its named constituents a body may be."""
PLANT = Triple(1300.0, 1450.0, 1550.0)
"""Pore-free density of plant matter, kg/m3; our judgement."""
LACKING = (
    "clay",
    "loam",
    "sodium-silicate",
    "metakaolin-geopolymer",
    "perlite-geopolymer",
    "fly-ash-geopolymer",
    "phosphoric-acid",
    "magnesia-phosphate",
    "metakaolin",
    "polymer-additive",
    "aerogel",
)
"""Binders and fillers of which no density is held: that of a silicate is given as one's own."""
WET = 0.40
"""Kilograms of water to a kilogram of fine parts where a recipe states none, a tenth more for each
litre of loose aggregate: what the recipes that state it use; our reading."""
AMOUNTS = {"filler": 0.2, "pore-former": 0.03}
"""Kilograms to a kilogram of binder where a recipe names a part without its amount; our reading."""
POWDER_HEAP = 1300.0
"""Kilograms a cubic metre of loose binder, to set water by; our reading."""
BURNT = ("paper-waste", "sawdust")
"""Burnt out, and of no held density: their pores come from the measured density."""


@dataclass(frozen=True)
class Body:
    """A measured body: what was measured and the request it becomes."""

    id: str
    family: str
    origin: str
    kind: str
    density: float
    conductivity: float
    at: float
    request: EstimateRequest

    @property
    def is_blind(self) -> bool:
        """Tell whether the body is kept apart."""
        return is_blind(self.id)


def is_blind(identity: str) -> bool:
    """Choose a fifth by the hash of the id."""
    return hashlib.sha256(identity.encode()).digest()[0] < 256 * BLIND_SHARE


def family_of(material: str) -> str | None:
    """Name the family a body's material is judged in."""
    for name, materials in FAMILIES.items():
        if material in materials:
            return name
    return None


@dataclass(frozen=True)
class Tables:
    """Rows of the store: specimens by id, their recipes and their values."""

    specimens: Mapping[str, Mapping[str, Any]]
    recipes: Mapping[str, list[Mapping[str, Any]]]
    values: Mapping[str, list[Mapping[str, Any]]]


def _first(rows: Iterable[Mapping[str, Any]], name: str) -> Mapping[str, Any] | None:
    for row in rows:
        if row["property"] == name and row["bound"] == "is":
            return row
    return None


def _conductivities(rows: Iterable[Mapping[str, Any]]) -> list[tuple[float, float]]:
    """Give temperature and conductivity of the dry body; saturated values are another state."""
    found = {}
    for row in rows:
        if row["property"] == "thermal_conductivity" and row["state"] != "saturated":
            at = row["temperature_low"] or ROOM
            ends = [row[end] for end in ("low", "typical", "high") if row[end] is not None]
            value = row["typical"] if row["typical"] is not None else math.sqrt(ends[0] * ends[-1])
            found.setdefault(at, value)
    return sorted(found.items())


def bodies_of(
    connection: Connection, reference: Reference, tables: Tables
) -> tuple[list[Body], dict[str, str]]:
    """Make every usable body; tell why the others are left out."""
    found: list[Body] = []
    left_out: dict[str, str] = {}
    for identity, row in sorted(tables.specimens.items()):
        if (
            row["kind"] not in KINDS
            or _first(tables.values[identity], "thermal_conductivity") is None
        ):
            continue
        try:
            found.append(_body(connection, reference, tables, identity))
        except (MixError, LookupError) as error:
            left_out[identity] = str(error).strip("'\"")
    return found, left_out


def _body(connection: Connection, reference: Reference, tables: Tables, identity: str) -> Body:
    row, values = tables.specimens[identity], tables.values[identity]
    family = family_of(row["material"])
    if identity in LEFT_OUT:
        raise LookupError(LEFT_OUT[identity])
    if family is None:
        raise LookupError(f"no family for {row['material']}")
    recipe = _Recipe(identity, tables.recipes.get(identity, []), row["water_binder_ratio"])
    at, conductivity = _conductivities(values)[0]
    middle = recipe.span[0] if recipe.span else 1.0
    base = EstimateRequest(recipe.mix(middle), _state(row), at=(at,))
    density = _density(connection, reference, base, values)
    _central(connection, reference, base)
    if recipe.span:
        base = _sought(connection, reference, recipe, base, density)
    spread = 0.05 if row["kind"] == "range-end" else 0.03
    request = replace(base, measured=Measured(bulk_density=density, spread=spread))
    origin = row["origin"] or row["source"]
    return Body(identity, family, origin, row["kind"], density, conductivity, at, request)


def _state(row: Mapping[str, Any]) -> State:
    """Take a body of no stated state as dried: laboratories dry before they measure."""
    kind = row["state"] or "dried"
    return State(kind, row["treatment_temperature"], row["moisture"])


def _own(identity: str, material: str, part: str) -> dict[str, Triple]:
    """Give what a caller would add: stated figures, or a silicate's density where none is held."""
    stated = STATED.get(identity, {}).get(material)
    if stated is not None and "density" in stated:
        return {
            "true_density": Triple.exactly(stated["density"], 0.03),
            "thermal_conductivity": Triple.exactly(stated["k"], 0.08),
        }
    if stated is not None:
        return {
            "particle_density": Triple.exactly(stated["particle"], 0.05),
            "true_density": PLANT,
            "thermal_conductivity": Triple.exactly(stated["k"], 0.2),
        }
    if material in LACKING and part != "aggregate":
        return {"true_density": SILICATE_DENSITY}
    return {}


class _Recipe:
    """A recipe as a builder would write it; what it leaves open is one number, ``free``.

    Amounts that are stated are kept. Where they are not, ``free`` is the loose volume of the
    aggregates to a kilogram of binder (litres), with water as light mixes need it; without
    aggregates it is the water to a kilogram of binder.
    """

    def __init__(self, identity: str, rows: list[Mapping[str, Any]], water: float | None) -> None:
        self.identity, self.water = identity, water
        self.rows = [row for row in rows if row["material"] not in BURNT]
        if not self.rows:
            raise LookupError("no constituents named")
        self.by_mass = all(row["mass_percent"] is not None for row in self.rows)
        self.by_volume = all(row["volume_percent"] is not None for row in self.rows)
        self.fine = [self._is_fine(row) for row in self.rows]
        if not any(self.fine):
            raise LookupError("no binder named")

    @staticmethod
    def _is_fine(row: Mapping[str, Any]) -> bool:
        return row["part"] != "aggregate" or row["material"] in POWDERS

    @property
    def span(self) -> tuple[float, float] | None:
        """Give the span of what is free, None where the recipe leaves nothing open."""
        if self.identity in STATED:
            return None
        if all(self.fine):
            return None if self.water is not None else (0.20, 0.60)
        return None if self.by_mass or self.by_volume else (0.2, 14.0)

    @property
    def is_bare(self) -> bool:
        """Tell whether the recipe has no aggregate."""
        return all(self.fine)

    def mix(self, free: float) -> Mix:
        """Write the mix for a value of what is free."""
        coarse = not all(self.fine)
        stated = self.by_mass or self.by_volume
        parts = tuple(
            self._part(row, free if coarse and not stated else 1.0, is_fine=is_fine)
            for row, is_fine in zip(self.rows, self.fine, strict=True)
        )
        binder = sum(self._mass(part) for part, fine in zip(parts, self.fine, strict=True) if fine)
        if self.identity in STATED:
            water = 0.03
        elif self.water is not None:
            water = self.water
        elif not coarse:
            water = free if self.span else WET
        else:
            water = WET + 0.1 * (free if not stated else 4.0)
        return Mix(parts, float(binder * water))

    @staticmethod
    def _mass(part: Constituent) -> float:
        return part.amount if part.amount_kind == "mass" else part.amount * POWDER_HEAP

    def _part(self, row: Mapping[str, Any], free: float, *, is_fine: bool) -> Constituent:
        material = row["material"]
        amount, kind, measured = (AMOUNTS.get(row["part"], 1.0), "mass", "loose")
        if not is_fine:
            amount, kind = free * 1e-3, "volume"
        if self.by_mass:
            amount, kind = row["mass_percent"], "mass"
        elif self.by_volume:
            amount, kind = row["volume_percent"] * 1e-3, "volume"
            measured = "absolute" if self.identity in STATED else "loose"
        return Constituent(
            material,
            amount,
            kind,
            measured,
            properties=_own(self.identity, material, row["part"]),
            grain_size=FINE if material in POWDERS else None,
        )


def _central(
    connection: Connection, reference: Reference, request: EstimateRequest
) -> tuple[float, float]:
    """Give density in the state and pore-free density of the solids, all inputs at their middle."""
    case = Case(request, gather(connection, reference, request), CALIBRATED)
    found = run(case, Latent(1, 1, centre=True))
    density = float(found.density(case)[0])
    solid = float(sum(found.structure.solids, np.zeros(1))[0] + found.structure.bound[0])
    return density, density / solid


def _density(
    connection: Connection,
    reference: Reference,
    base: EstimateRequest,
    values: list[Mapping[str, Any]],
) -> float:
    """Give the measured density, else that of the measured porosity."""
    density = _first(values, "bulk_density")
    if density is not None:
        return centre(density)
    porosity = _first(values, "total_porosity")
    if porosity is None:
        raise LookupError("neither density nor porosity held")
    return (1.0 - centre(porosity)) * _central(connection, reference, base)[1]


def _sought(
    connection: Connection,
    reference: Reference,
    recipe: _Recipe,
    base: EstimateRequest,
    density: float,
) -> EstimateRequest:
    """Seek what the recipe leaves open: the value that comes nearest to the measured density.

    A body without aggregate that is much lighter than any water makes it is a foam: its walls take
    the usual water and the rest of its lightness is air.
    """
    trials = []
    for free in np.geomspace(*(recipe.span or (1.0, 1.0)), 40):
        request = replace(base, mix=recipe.mix(float(free)))
        found = _central(connection, reference, request)[0]
        trials.append((abs(math.log(found / density)), float(free), request, found))
    if max(found for *_, found in trials) < density / HEAVIER:
        raise LookupError("heavier than its named constituents can be: a part is not named")
    if recipe.is_bare and min(found for *_, found in trials) > density * FOAMED:
        return replace(base, mix=recipe.mix(WET))
    return min(trials, key=lambda trial: trial[:2])[2]
