"""The measured bodies nearest to a mix: stronger evidence than any rule of mixtures.

How far a body is from a mix is a sum of parts, each written down with the answer and each zero for
a match:

- ``binder``: what the binders have not in common (0.2 for grades of one family, 1 if unlike);
- ``rest``: the same for aggregates and all else (0.4 for kin such as expanded clay and expanded
  shale, 0.8 for unlike ones of one kind);
- ``binder_share``: the difference of the binders' mass shares;
- ``shares_not_stated``: 0.1 where the body's recipe names materials without amounts;
- ``density``: the logarithm of the ratio of densities, 1 for a factor of e;
- ``state``: 0.3 where one is fired and the other is not, 0.1 where a state is not stated or the
  two differ otherwise;
- ``kind``: 0.1 for suppliers' class data and ends of a range, which no single body need have.

The weights are our judgement. A body further off than ``FARTHEST`` is not like the mix at all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from hotface_api.catalogue.evidence import centre
from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.reference import Reference
from hotface_api.store import read
from hotface_api.store.models import Specimen, SpecimenConstituent, Value

__all__ = ["FARTHEST", "NONE_NEAR", "NearSpecimen", "nearest_specimens"]

Row = Mapping[str, Any]
Shares = Mapping[str, float]

FARTHEST: Final = 0.9
"""Distance beyond which a body is not like the mix: short of a wholly unlike binder."""
_ROUNDING: Final = 1e-6
NONE_NEAR: Final = "no measured mix like this is held"

_MEASURED: Final = frozenset(
    {"specimen", "typical", "range-end", "series-extreme", "supplier", "series"}
)
"""Kinds of specimen that somebody measured; design values and limits are left out."""
_LOOSELY: Final = frozenset({"range-end", "series-extreme", "supplier"})
_SAME_FAMILY: Final = 0.8
_KIN: Final = 0.6
_SAME_KIND: Final = 0.2
_SLIGHT: Final = 0.1
_FIRED_OR_NOT: Final = 0.3
_KINDRED: Final = (
    frozenset({"expanded-clay", "expanded-shale", "expanded-slate", "sintered-fly-ash"}),
    frozenset({"chamotte", "crushed-firebrick", "porous-chamotte", "crushed-clay-brick"}),
    frozenset({"pumice", "scoria", "foamed-slag"}),
    frozenset({"basalt", "trap-rock", "gabbro"}),
    frozenset({"tabular-alumina", "fused-alumina", "calcined-bauxite"}),
    frozenset({"expanded-perlite", "expanded-obsidian"}),
)
"""Materials and families that do the same job in a mix; our judgement."""
_SMALL_KINDS: Final = frozenset({"fibre", "admixture"})
"""Where a recipe gives no amounts these are taken to be a trace."""


@dataclass(frozen=True, slots=True)
class NearSpecimen:
    """A measured body, how far it is from the mix and why, its recipe and its values."""

    specimen: Row
    distance: float
    parts: Mapping[str, float]
    constituents: tuple[Row, ...]
    values: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class _Recipe:
    """Shares of the binders and of the rest, each adding up to one; ``binder`` is their mass."""

    binders: Shares
    rest: Shares
    binder: float | None


def nearest_specimens(
    connection: Connection,
    reference: Reference,
    *,
    composition: Shares,
    density: float | None = None,
    state: str | None = None,
    limit: int = 5,
) -> list[NearSpecimen]:
    """Find the measured bodies nearest to a mix, the nearest first.

    Parameters
    ----------
    connection : Connection
    reference : Reference
    composition : mapping
        Material id to share of the dry mass; need not add up to one, all above zero.
    density : float, optional
        Bulk density in kg/m3, in the state asked for.
    state : str, optional
        ``fired``, ``dried``, ``air-dry`` and so on.
    limit : int
        How many at most.

    Returns
    -------
    list of NearSpecimen
        Empty where nothing lies nearer than ``FARTHEST``: then say ``NONE_NEAR``.

    Raises
    ------
    ValueError
        If the composition is empty or holds a share that is not above zero.

    Notes
    -----
    Three statements the first time a revision is asked, none after: the bodies are kept. The parts
    of the distance stand at the top of this module.
    """
    if not composition or min(composition.values()) <= 0:
        raise ValueError("the composition needs shares above zero")
    mix = _recipe_of_mix(composition, reference)
    found = []
    for body in _bodies(connection, reference):
        of_body = _body_parts(body, density, state)
        binder = _apart(mix.binders, body.recipe.binders, reference)
        if binder + sum(of_body.values()) > FARTHEST + _ROUNDING:
            continue  # of another binder, state or density: look no further
        parts = _recipe_parts(mix, body, reference, binder)
        if sum(parts.values()) > FARTHEST:
            continue
        whole = {**parts, **of_body}
        distance = round(sum(whole.values()), 9)
        if distance <= FARTHEST:
            found.append(NearSpecimen(body.row, distance, whole, body.constituents, body.values))
    return sorted(found, key=lambda near: (near.distance, near.specimen["id"]))[:limit]


@dataclass(frozen=True, slots=True)
class _Body:
    """One measured body as it is compared with mixes."""

    row: Row
    constituents: tuple[Row, ...]
    recipe: _Recipe
    values: tuple[Row, ...]
    density: float | None


_KEPT: Kept[tuple[_Body, ...]] = Kept(4)


def _bodies(connection: Connection, reference: Reference) -> tuple[_Body, ...]:
    """Read every measured body with a recipe, by id; kept for the revision."""
    key = (reference.database_id, reference.revision)
    kept = _KEPT.get(key)
    if kept is not None:
        return kept
    recipes = _recipes(connection, reference)
    rows = {
        row["id"]: row
        for row in read.held(connection, Specimen, reference.revision)
        if row["id"] in recipes and row["kind"] in _MEASURED
    }
    values = _values(connection, reference, sorted(rows))
    found = tuple(
        _Body(
            rows[name],
            tuple(recipes[name]),
            _recipe_of_body(recipes[name], reference),
            tuple(values[name]),
            _density(values[name]),
        )
        for name in sorted(rows)
    )
    return _KEPT.put(key, found) if reference.database_id else found


def _recipes(connection: Connection, reference: Reference) -> dict[str, list[Row]]:
    """Read every recipe that holds, by specimen."""
    recipe = read.table(SpecimenConstituent)
    statement = (
        select(recipe)
        .where(read.dated(SpecimenConstituent, reference.revision))
        .order_by(recipe.c.specimen, recipe.c.position)
    )
    found: dict[str, list[Row]] = {}
    for row in connection.execute(statement).mappings():
        found.setdefault(row["specimen"], []).append(dict(row))
    return found


def _values(
    connection: Connection, reference: Reference, specimens: Sequence[str]
) -> dict[str, list[Row]]:
    """Read the values of some specimens."""
    value = read.table(Value)
    statement = (
        select(value)
        .where(value.c.specimen.in_(specimens), read.dated(Value, reference.revision))
        .order_by(read.bytewise(value.c.id))
    )
    found: dict[str, list[Row]] = {key: [] for key in specimens}
    for row in connection.execute(statement).mappings():
        found[row["specimen"]].append(dict(row))
    return found


def _scaled(amounts: Shares) -> Shares:
    total = sum(amounts.values())
    return {key: amount / total for key, amount in amounts.items()} if total > 0 else {}


def _kind(material: str, reference: Reference) -> str | None:
    row = reference.materials.get(material)
    return None if row is None else row["kind"]


def _recipe_of_mix(composition: Shares, reference: Reference) -> _Recipe:
    binders = {m: a for m, a in composition.items() if _kind(m, reference) == "binder"}
    rest = {m: a for m, a in composition.items() if m not in binders}
    share = sum(binders.values()) / sum(composition.values())
    return _Recipe(_scaled(binders), _scaled(rest), share)


def _recipe_of_body(constituents: Sequence[Row], reference: Reference) -> _Recipe:
    """Read a body's recipe; without amounts each group is shared out evenly."""
    amounts: dict[str, float] = {}
    stated = all(row["mass_percent"] is not None for row in constituents)
    for row in constituents:
        trace = not stated and _kind(row["material"], reference) in _SMALL_KINDS
        amount = row["mass_percent"] if stated else float(not trace)
        amounts[row["material"]] = amounts.get(row["material"], 0.0) + amount
    binding = {row["material"] for row in constituents if row["part"] == "binder"}
    binders = {m: a for m, a in amounts.items() if m in binding}
    rest = {m: a for m, a in amounts.items() if m not in binding}
    whole = sum(amounts.values())
    share = sum(binders.values()) / whole if stated and whole > 0 else None
    return _Recipe(_scaled(binders), _scaled(rest), share)


def _similarity(one: str, other: str, reference: Reference) -> float:
    """Tell how far two materials can stand for each other; unlike binders not at all."""
    if one == other:
        return 1.0
    family = reference.family_of(one)
    if family is not None and family == reference.family_of(other):
        return _SAME_FAMILY
    names = {family or one, reference.family_of(other) or other}
    if any(names <= kindred for kindred in _KINDRED):
        return _KIN
    kind = _kind(one, reference)
    return _SAME_KIND if kind == _kind(other, reference) and kind != "binder" else 0.0


def _apart(one: Shares, other: Shares, reference: Reference) -> float:
    """Give the share of one group that the other has nothing alike for.

    The most alike materials are paired off first, each as far as both shares reach.
    """
    if not one and not other:
        return 0.0
    pairs = sorted(((_similarity(a, b, reference), a, b) for a in one for b in other), reverse=True)
    left, right = dict(one), dict(other)
    common = 0.0
    for alike, a, b in pairs:
        moved = min(left[a], right[b])
        left[a] -= moved
        right[b] -= moved
        common += alike * moved
    return max(1.0 - common, 0.0)


def _recipe_parts(
    mix: _Recipe, body: _Body, reference: Reference, binder: float
) -> dict[str, float]:
    """Give the parts of the distance that recipes alone decide."""
    recipe = body.recipe
    unknown = recipe.binder is None
    return {
        "binder": binder,
        "rest": _apart(mix.rest, recipe.rest, reference),
        "binder_share": 0.0 if unknown else abs((recipe.binder or 0.0) - (mix.binder or 0.0)),
        "shares_not_stated": _SLIGHT if unknown else 0.0,
        "kind": _SLIGHT if body.row["kind"] in _LOOSELY else 0.0,
    }


def _body_parts(body: _Body, density: float | None, state: str | None) -> dict[str, float]:
    """Give the parts of the distance that the body itself decides."""
    parts = {
        "state": 0.0 if state is None else _state_part(body.row["state"], state),
        "density": 0.0,
    }
    if density is not None:
        held = body.density
        parts["density"] = _FIRED_OR_NOT if held is None else abs(math.log(density / held))
    return parts


def _state_part(held: str | None, asked: str) -> float:
    if held == asked:
        return 0.0
    if held is not None and "fired" in (held, asked):
        return _FIRED_OR_NOT
    return _SLIGHT


def _density(values: Sequence[Row]) -> float | None:
    """Give a body's density: as measured, else as its other values state it."""
    measured = [centre(row) for row in values if row["property"] == "bulk_density"]
    if measured:
        return math.exp(sum(map(math.log, measured)) / len(measured))
    stated = [
        (row["specimen_density_low"] + row["specimen_density_high"]) / 2
        for row in values
        if row["specimen_density_low"] is not None
    ]
    return sum(stated) / len(stated) if stated else None
