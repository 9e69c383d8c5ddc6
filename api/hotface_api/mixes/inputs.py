"""The parts of a mix: what is held of each constituent, with the caller's own figures before it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import assumptions as take
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.dense import GRAIN_POROSITY
from hotface_api.mixes.desk import POWDERS, Held, Wanted
from hotface_api.mixes.held import prepare
from hotface_api.mixes.own import check_own
from hotface_api.mixes.priors import binder_of
from hotface_api.mixes.request import Constituent, EstimateRequest, MixError, Triple

__all__ = ["Gathered", "Part", "gather", "gather_many"]

FloatArray = NDArray[np.float64]
_FINE: Final = 1e-4
"""Grains below a tenth of a millimetre count as part of the paste; our judgement."""
_KINDS: Final = (
    "binder",
    "aggregate",
    "filler",
    "fibre",
    "pore-former",
    "admixture",
    "body",
    "mineral",
)


@dataclass(slots=True)
class Part:
    """One constituent with its inputs. Curves are (low, typical, high), shape (T, 3)."""

    constituent: Constituent
    kind: str
    name: str
    binder: str
    is_powder: bool
    leaves: bool
    triples: dict[str, Triple] = field(default_factory=dict)
    curves: dict[str, FloatArray] = field(default_factory=dict)
    conductivity_is_grain: bool = False
    oxides: Mapping[str, float] = field(default_factory=dict)

    @property
    def material(self) -> str:
        """Give the id the constituent goes by."""
        return self.constituent.material

    @property
    def held_as(self) -> str:
        """Give the id of the held material it is or is like."""
        return self.constituent.like or self.constituent.material

    @property
    def is_taken_dense(self) -> bool:
        """Tell whether its grain density is taken from its pore-free one, less a few pores."""
        return GRAIN_POROSITY in self.triples

    @property
    def is_hydraulic(self) -> bool:
        """Tell whether it sets with water, so that a ratio of water to binder means it."""
        return self.kind == "binder" and self.binder in ("hydraulic", "gypsum")


@dataclass(slots=True)
class Gathered:
    """All parts, what was assumed, and the sources the figures come from."""

    parts: list[Part]
    assumptions: list[Assumption]
    citations: set[str]

    def assume(self, code: str, text: str) -> None:
        """Note an assumption once."""
        note = Assumption(code, text)
        if note not in self.assumptions:
            self.assumptions.append(note)


def gather(connection: Connection, reference: Reference, request: EstimateRequest) -> Gathered:
    """Find every input of a mix, with at most one statement.

    Raises
    ------
    MixError
        If a material is unknown, or a density it needs is neither held nor given.
    """
    wanted = _wanted(reference, request)
    held = prepare(connection, reference, [each for each in wanted if each is not None])
    return _gathered(request, wanted, held)


def gather_many(
    connection: Connection, reference: Reference, requests: Iterable[EstimateRequest]
) -> None:
    """Prepare what several mixes need with one statement; faults are told later, mix by mix."""
    every: set[Wanted] = set()
    for request in requests:
        try:
            every |= {each for each in _wanted(reference, request) if each is not None}
        except MixError:
            continue
    prepare(connection, reference, every)


def _wanted(reference: Reference, request: EstimateRequest) -> list[Wanted | None]:
    """Name what has to be prepared; None for a material wholly of the caller's own."""
    at = request.grid()
    found: list[Wanted | None] = []
    for index, part in enumerate(request.mix.constituents):
        pointer = f"#/mix/constituents/{index}"
        name = part.like or part.material
        if name in reference.materials:
            if part.material in reference.materials or part.kind is not None or part.like:
                found.append(Wanted(name, part.fill or "poured", at))
                continue
        elif part.like is None and part.kind is not None:
            if part.kind not in _KINDS:
                raise MixError(f"{pointer}/kind", f"give one of {', '.join(_KINDS)}", _KINDS)
            found.append(None)
            continue
        near = tuple(get_close_matches(name, list(reference.materials), 3))
        where = "like" if part.like else "material"
        message = f"the material {name!r} is not known"
        if where == "material":
            message += "; give its kind and densities if it is your own"
        raise MixError(f"{pointer}/{where}", message, near)
    return found


def _gathered(
    request: EstimateRequest, wanted: list[Wanted | None], held: Mapping[Wanted, Held]
) -> Gathered:
    found = Gathered([], [], set())
    count = len(request.grid())
    for index, (constituent, want) in enumerate(zip(request.mix.constituents, wanted, strict=True)):
        pointer = f"#/mix/constituents/{index}"
        known = held[want] if want is not None else _own_material(constituent, count)
        part = _part(constituent, known, count)
        loose = _is_loose(constituent, request.mix.parts_by)
        _check_densities(part, pointer, loose=loose)
        if want is not None:
            check_own(part, known, pointer)
        found.parts.append(part)
        _note(found, known, part, loose=loose)
    return found


def _own_material(constituent: Constituent, count: int) -> Held:
    """Start an own material from its kind alone: the caller gives what is wanted."""
    kind = constituent.kind or "aggregate"
    own = Held(
        constituent.material,
        kind,
        constituent.material,
        binder_of(constituent.material, kind),
        is_powder=kind in POWDERS,
        leaves=kind == "pore-former",
    )
    if own.leaves:
        own.triples["loss_on_ignition"] = Triple.exactly(1.0)
    if own.is_powder:
        return own
    density = take.ORGANIC_DENSITY if own.leaves else take.SILICATE_DENSITY
    solid = take.ORGANIC_CONDUCTIVITY if own.leaves else take.SILICATE_CONDUCTIVITY
    own.triples["true_density"] = density
    own.curves["thermal_conductivity"] = np.tile([solid.low, solid.typical, solid.high], (count, 1))
    for quantity, triple in (("true_density", density), ("thermal_conductivity", solid)):
        plain = quantity.replace("_", " ")
        text = f"{own.name}: {plain} of its solid not given; {triple.low:g} to {triple.high:g} (SI)"
        own.notes[quantity] = [Assumption("own_solid_assumed", f"{text} taken.")]
    return own


def _part(constituent: Constituent, known: Held, count: int) -> Part:
    """Put the caller's own figures before the held ones."""
    fine = constituent.grain_size is not None and constituent.grain_size.high < _FINE
    part = Part(
        constituent,
        known.kind,
        known.name,
        known.binder,
        is_powder=known.is_powder or fine,
        leaves=known.leaves,
        triples=dict(known.triples),
        curves=dict(known.curves),
        conductivity_is_grain=known.conductivity_is_grain and not fine,
        oxides=known.oxides,
    )
    for name, own in constituent.properties.items():
        if name in ("thermal_conductivity", "specific_heat_capacity"):
            part.curves[name] = np.tile([own.low, own.typical, own.high], (count, 1))
        else:
            part.triples[name] = own
    if "thermal_conductivity" in constituent.properties:
        part.conductivity_is_grain = True
    if constituent.bucket is not None:
        dry = constituent.bucket[0] / (1.0 + constituent.moisture)
        weighed = dry / constituent.bucket[1]
        part.triples["loose_bulk_density"] = _about(weighed, take.OWN_SPREAD)
    if constituent.pore_size is not None:
        part.triples["pore_size"] = constituent.pore_size
    if constituent.crush_factor is not None:
        part.triples["crush_factor"] = Triple.exactly(constituent.crush_factor)
    _settle_densities(part)
    return part


def _about(value: float, sd: float) -> Triple:
    """Make the triple of a figure with a relative standard deviation: 90 % is 1.645 of them."""
    reach = float(np.exp(1.645 * sd))
    return Triple(value / reach, value, value * reach)


def _settle_densities(part: Part) -> None:
    """Leave a powder one density, without pores; a grain turned powder takes its true one.

    A grain whose own density is given needs no taken one. One of which a heap was weighed does:
    what is known of its solid tells more of the grain than a void share taken of its heap.
    """
    if part.is_powder or "particle_density" in part.triples:
        part.triples.pop(GRAIN_POROSITY, None)
    if part.is_powder:
        grain = part.triples.pop("particle_density", None)
        if "true_density" not in part.triples and grain is not None:
            part.triples["true_density"] = grain
        if "particle_density" in part.constituent.properties and grain is not None:
            part.triples["true_density"] = grain


def _is_loose(constituent: Constituent, parts_by: str | None) -> bool:
    if constituent.amount_kind == "parts":
        return parts_by == "loose"
    return constituent.amount_kind == "volume" and constituent.measured_as == "loose"


def _check_densities(part: Part, pointer: str, *, loose: bool) -> None:
    """Name the density that is missing, for what it is needed, and that an own one will do."""
    if loose and "loose_bulk_density" not in part.triples:
        _missing(part, pointer, "loose_bulk_density", "to turn a loose volume into mass")
    if part.is_powder and "true_density" not in part.triples:
        _missing(part, pointer, "true_density", "to turn mass into volume")
    grain = {"particle_density", "loose_bulk_density", GRAIN_POROSITY}
    if not part.is_powder and not grain & set(part.triples):
        _missing(part, pointer, "particle_density", "to turn mass into volume")


def _missing(part: Part, pointer: str, name: str, why: str) -> None:
    plain = name.replace("_", " ")
    help_ = "weigh one bucket of it, or " if name == "loose_bulk_density" else ""
    raise MixError(
        f"{pointer}/properties/{name}",
        f"no {plain} of {part.material} is held, and it is needed {why}; {help_}give your own under"
        " properties",
    )


def _note(found: Gathered, known: Held, part: Part, *, loose: bool) -> None:
    """Carry over the notes and sources of what is used, not of what the caller gave."""
    own = set(part.constituent.properties)
    own |= {"pore_size"} if part.constituent.pore_size is not None else set()
    own |= {"loose_bulk_density"} if part.constituent.bucket is not None else set()
    if not loose and "particle_density" in part.triples:
        own.add("loose_bulk_density")
    own |= set() if part.is_taken_dense else {GRAIN_POROSITY}
    if part.constituent.like is not None:
        found.assume("like", f"{part.material}: what is not given is taken from {known.name}.")
    for quantity, notes in known.notes.items():
        if quantity not in own:
            for note in notes:
                found.assume(note.code, note.text)
    for quantity, sources in known.citations.items():
        if quantity not in own:
            found.citations |= sources


def with_amounts(gathered: Gathered, amounts: Iterable[Any]) -> Gathered:
    """Give the same parts in other amounts: one array of candidates for each constituent."""
    parts = [
        replace(part, constituent=replace(part.constituent, amount=amount))
        for part, amount in zip(gathered.parts, amounts, strict=True)
    ]
    return Gathered(parts, list(gathered.assumptions), set(gathered.citations))
