"""Mixes as text for people: what one will be, what to weigh out, which are worth trying."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from hotface import NoAnswer
from hotface_api.cli.answers import cautions, curve_table, unit_words, words
from hotface_api.cli.tables import blocks, heading, lines, listed, number, table, wrapped

if TYPE_CHECKING:
    from hotface import Casting, Drying, Estimate, MixSearch, Range, WorthTrying

__all__ = ["estimate", "search"]


def _held(found: Estimate, name: str) -> str:
    """Give a property of an estimate, or why there is none."""
    value = found.get(name)
    return str(value) if value is not None else f"none: {found.reasons.get(name, 'not held')}"


def _conductivity(found: Estimate) -> str:
    try:
        curve = found.thermal_conductivity
    except NoAnswer as error:
        return str(error)
    return f"thermal conductivity, {unit_words(curve.unit)}\n{curve_table(curve)}"


def estimate(found: Estimate) -> str:
    """Write an estimate."""
    state = found.state.get("kind", "")
    peak = found.state.get("temperature")
    sentence = f"{state}{'' if peak is None else f' at {peak}'}: {_held(found, 'bulk_density')}"
    others = [
        name for name in found.properties if name not in ("bulk_density", "thermal_conductivity")
    ]
    about: list[tuple[str, object]] = [(words(name), _held(found, name)) for name in others]
    about += [(f"density, {name}", value) for name, value in found.densities.items()]
    about += [
        ("porosity", found.composition.porosity),
        ("yield", found.composition.yield_),
        ("like", None if found.closest_class is None else found.closest_class.get("text")),
    ]
    about += [("most doubt from", one) for one in found.doubt_shares[:3]]
    about += [("measured bodies near", one) for one in found.nearest_specimens[:3]]
    about += [("assumed", one.text) for one in found.assumptions]
    about += cautions(found.cautions)
    about += [("sources", listed(found.citations))]
    head = heading(f"{sentence} ({found.coverage:.0%} interval)")
    return blocks(head, _casting(found.casting), _conductivity(found), lines(about))


def _casting(casting: Casting | None) -> str:
    """Write what to weigh out to fill the mould, and what the piece will weigh."""
    if casting is None:
        return ""
    title = f"for a mould of {casting.mould_volume} and {casting.spare:.0%} spare"
    rows = [_weighing(one.material, one.amount, one.measured_as) for one in casting.constituents]
    rows.append(_weighing("water to pour in", casting.water, None))
    after: list[tuple[str, object]] = [
        ("batches as given", casting.batches),
        ("one part is", casting.one_part),
        *((f"the piece, {state}", mass) for state, mass in casting.piece.items()),
    ]
    head = ["material", "typical", "low", "high", "unit", "as"]
    weighed = f"{wrapped(title)}\n{table(head, rows)}\n{lines(after)}".rstrip()
    return blocks(weighed, _drying(casting.drying))


def _weighing(name: str, amount: Range | None, measured_as: str | None) -> list[object]:
    """Write a line of what to weigh out; a range, because the yield is uncertain."""
    if amount is None:
        return [name, None, None, None, None, measured_as]
    spread = amount.magnitudes
    figures = (number(one) for one in (spread.typical, spread.low, spread.high))
    return [name, *figures, unit_words(amount.unit), measured_as]


def _drying(drying: Drying | None) -> str:
    """Write what is published on drying a piece of this thickness; the promise comes first."""
    if drying is None:
        return ""
    said: list[tuple[str, object]] = [
        ("promises", drying.promise),
        ("water to leave", drying.water_unbound),
        ("water bound", drying.water_bound),
        *((f"step {place}", one) for place, one in enumerate(drying.steps, start=1)),
        ("takes at least", drying.takes_at_least),
        ("no steps", drying.reason),
        *(("but", one) for one in drying.others),
    ]
    return f"{wrapped(f'drying a piece {drying.thickness} thick')}\n{lines(said)}"


def search(found: MixSearch) -> str:
    """Write the mixes of a search: each with its parts and what it will be."""
    sentence = f"{len(found)} mixes worth trying of {found.looked_at} looked at"
    met = [(f"met {words(name)}", count) for name, count in found.met.items()]
    tried = [
        f"{wrapped(f'{place}. {one}')}\n{lines(_tried(one))}"
        for place, one in enumerate(found, start=1)
    ]
    hazards = dict.fromkeys(one.hazard for each in found for one in each.estimate.cautions)
    warned = f"{'; '.join(hazards)}. What to do about each stands in the estimate of a mix."
    return blocks(
        heading(sentence),
        lines([("because", found.reason), *met]),
        *tried,
        lines([("cautions", warned)]) if hazards else "",
    )


def _tried(one: WorthTrying) -> list[tuple[str, object]]:
    """Give the figures of one mix: parts, density, conductivity and limit."""
    found = one.estimate
    curve = found.get("thermal_conductivity")
    parts = [f"{name} {_amount(amount)}" for name, amount in one.amounts().items()]
    points = () if curve is None else curve
    sign = "" if curve is None else unit_words(curve.temperature_unit)
    return [
        ("parts", listed(parts)),
        ("bulk density", _held(found, "bulk_density")),
        *((f"conductivity at {number(at)} {sign}", spread) for at, spread in points),
        ("service limit", _held(found, "service_limit")),
    ]


def _amount(amount: Mapping[str, Any]) -> str:
    unit = "" if amount["unit"] == "1" else f" {amount['unit']}"
    return f"{number(amount['value'])}{unit}"
