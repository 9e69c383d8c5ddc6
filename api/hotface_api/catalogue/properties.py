"""The answer to "what is known of this property of this material": range, curve, derivation."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import Connection

from hotface.units import UNITS
from hotface_api.catalogue.conditions import Condition, condition_of, is_canonical
from hotface_api.catalogue.curves import ROOM, Curve, CurvePoint, curve_of, holds_near, is_room
from hotface_api.catalogue.evidence import weighed_rows
from hotface_api.catalogue.ranges import DEFAULT_COVERAGE, Range, Summary, scale_of, summarise
from hotface_api.catalogue.reference import Reference

__all__ = ["Asked", "Derivation", "Other", "PropertyAnswer", "answer_rows", "property_answer"]

Row = Mapping[str, Any]
_ZERO: Final = 273.15

RULE: Final = "one vote an origin, weighted by source type, spread between origins with a floor"


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked beyond material and property; temperatures in kelvin."""

    at: tuple[float, ...] = ()
    form: str | None = None
    state: str | None = None
    with_: str | None = None
    extrapolate: bool = False
    coverage: float = DEFAULT_COVERAGE


@dataclass(frozen=True, slots=True)
class Other:
    """The same property under another condition."""

    condition: Condition
    summary: Summary
    temperature: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Derivation:
    """How the range came about."""

    rule: str
    text: str
    origins: int
    spread: float
    spread_floor: float


@dataclass(frozen=True, slots=True)
class PropertyAnswer:
    """The answer; numbers SI, temperatures kelvin. A hole is an answer with ``reason``."""

    material: str
    property: str
    revision: int
    condition: Condition | None
    temperature: tuple[float, float] | None
    summary: Summary | None
    range: Range | None
    observed: Range | None
    others: tuple[Other, ...]
    points: tuple[CurvePoint, ...] | None
    band: tuple[CurvePoint, ...] | None
    derivation: Derivation | None
    unverified: bool
    reason: str | None
    citations: tuple[str, ...]


def property_answer(
    connection: Connection,
    reference: Reference,
    material: str,
    property_: str,
    asked: Asked | None = None,
) -> PropertyAnswer:
    """Answer one property of one material with one statement."""
    rows = weighed_rows(connection, reference, material, property_)
    return answer_rows(rows, reference, material, property_, asked or Asked())


def _matches(condition: Condition, asked: Asked, reference: Reference) -> bool:
    """Tell whether a condition is asked for; a partner's family speaks to each of its grades."""
    partners = {asked.with_, reference.family_of(asked.with_)} - {None}
    return (
        (asked.form is None or condition.form == asked.form)
        and (asked.state is None or condition.state == asked.state)
        and (asked.with_ is None or condition.with_ in partners)
    )


def _choose(
    groups: Mapping[Condition, Sequence[Row]],
    property_row: Row,
    reference: Reference,
    asked: Asked,
) -> Condition | None:
    """Choose the condition to answer: asked for, canonical, else the one with most origins.

    A condition known from memory only, one that speaks of no use, one with bounds only and one
    that holds with a partner nobody asked about come after all others.
    """
    fitting = [condition for condition in groups if _matches(condition, asked, reference)]
    if not fitting:
        return None

    def rank(condition: Condition) -> tuple[Any, ...]:
        rows = groups[condition]
        cited = {row["origin"] for row in rows if row["basis"] != "memory"}
        return (
            not cited,
            condition.role not in (None, "use_limit"),
            not any(row["bound"] == "is" for row in rows),
            condition.with_ not in (None, asked.with_),
            not is_canonical(condition, property_row),
            condition.form != property_row["canonical_form"],
            -len(cited),
            -len(rows),
            condition.sort_key(),
        )

    return min(fitting, key=rank)


def answer_rows(
    rows: Sequence[Row], reference: Reference, material: str, property_: str, asked: Asked
) -> PropertyAnswer:
    """Answer from rows already read: values of one material and one property."""
    property_row = reference.properties[property_]
    groups: dict[Condition, list[Row]] = {}
    for row in rows:
        groups.setdefault(condition_of(row, property_row), []).append(row)
    chosen = _choose(groups, property_row, reference, asked)
    if chosen is None:
        return _nothing(rows, reference, material, property_, groups, asked)
    members = groups[chosen]
    summary, temperature, curve = _level(members, property_row, reference, asked)
    points, band = _over_temperature(members, property_row, reference, curve, summary, asked)
    shown = {row["source"] for row in members if row["source"] and row["basis"] != "memory"}
    return PropertyAnswer(
        material,
        property_,
        reference.revision,
        chosen,
        temperature,
        summary,
        summary.interval,
        summary.observed,
        _others(groups, chosen, property_row, reference, asked),
        points,
        band,
        _derivation(summary, property_row, curve),
        summary.unverified,
        summary.reason,
        tuple(sorted(shown)),
    )


def _level(
    rows: Sequence[Row], property_row: Row, reference: Reference, asked: Asked
) -> tuple[Summary, tuple[float, float] | None, Curve | None]:
    """Give the single range: at room temperature where held, else at the lowest one held.

    Where a curve is held it is read off the curve, so that range and curve never disagree.
    """
    if not property_row["varies_with_temperature"]:
        return summarise(rows, property_row, reference, coverage=asked.coverage), None, None
    curve = curve_of(rows, property_row, reference, asked.coverage)
    if curve is not None:
        return curve.summary(), curve.start()[1], curve
    near, span = _lowest(rows)
    summary = summarise(near, property_row, reference, coverage=asked.coverage)
    away = tuple(_away(row) for row in rows if row not in near)
    return replace(summary, left_out=(*summary.left_out, *away)), span, None


def _lowest(rows: Sequence[Row]) -> tuple[list[Row], tuple[float, float]]:
    """Choose the room values, else what holds about the lowest temperature stated."""
    room = [row for row in rows if is_room(row)]
    stated = [row for row in rows if row["bound"] == "is"]
    if room and (not stated or any(row["bound"] == "is" for row in room)):
        return room, ROOM
    dated = [row for row in stated or rows if not is_room(row)]
    start = min(float(row["temperature_low"]) for row in dated)
    return [row for row in rows if not is_room(row) and holds_near(row, start)], (start, start)


def _away(row: Row) -> tuple[str, str]:
    if row["temperature_low"] is None:
        return row["id"], "a room value; the range answers another temperature"
    return row["id"], f"holds at {row['temperature_low'] - _ZERO:.0f} Cel, not where the range does"


def _over_temperature(
    rows: Sequence[Row],
    property_row: Row,
    reference: Reference,
    curve: Curve | None,
    summary: Summary,
    asked: Asked,
) -> tuple[tuple[CurvePoint, ...] | None, tuple[CurvePoint, ...] | None]:
    """Give the points asked for, or the whole curve."""
    if not asked.at:
        band = None if curve is None else tuple(curve.at(curve.grid()))
        return None, band
    if curve is not None:
        return tuple(curve.at(asked.at, extrapolate=asked.extrapolate)), None
    if not property_row["varies_with_temperature"]:
        reason = "this property is not given over temperature"
        level = summary.interval
        flat = (CurvePoint(t, level, extrapolated=False, reason=reason) for t in asked.at)
        return tuple(flat), None
    points = (_point(t, rows, property_row, reference, summary, asked) for t in asked.at)
    return tuple(points), None


def _point(
    temperature: float,
    rows: Sequence[Row],
    property_row: Row,
    reference: Reference,
    summary: Summary,
    asked: Asked,
) -> CurvePoint:
    """Answer a temperature where no curve is held: values speak for their own temperature."""
    in_room = ROOM[0] <= temperature <= ROOM[1]
    near = [row for row in rows if (in_room and is_room(row)) or holds_near(row, temperature)]
    found = summarise(near, property_row, reference, coverage=asked.coverage) if near else None
    if found is not None and found.interval is not None:
        return CurvePoint(temperature, found.interval, extrapolated=False, reason=None)
    reason = "no curve is held, and no value near this temperature"
    held = summary.interval if asked.extrapolate else None
    return CurvePoint(temperature, held, extrapolated=held is not None, reason=reason)


def _others(
    groups: Mapping[Condition, Sequence[Row]],
    chosen: Condition | None,
    property_row: Row,
    reference: Reference,
    asked: Asked,
) -> tuple[Other, ...]:
    found = []
    for condition in sorted(groups, key=Condition.sort_key):
        if condition == chosen:
            continue
        summary, temperature, _ = _level(groups[condition], property_row, reference, asked)
        found.append(Other(condition, summary, temperature))
    return tuple(found)


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"


def _spread(value: float, property_row: Row) -> str:
    """Write a spread between origins as people read it."""
    if property_row["scale"] == "log":
        return f"a factor of {math.exp(value):.3g}"
    unit = UNITS[property_row["unit"]]
    code = "K" if property_row["temperature_kind"] == "point" else unit.code
    return f"{value / unit.factor:.3g} {code}"


def _derivation(summary: Summary, property_row: Row, curve: Curve | None) -> Derivation:
    floor = scale_of(property_row).floor
    text = _count(len(summary.votes), "origin", "origins")
    if summary.interval is not None:
        spread, least = _spread(summary.spread, property_row), _spread(floor, property_row)
        text += f"; spread between origins taken as {spread}, at least {least}"
    text += "."
    if curve is not None:
        text += (
            f" Over temperature: shape from {curve.series} series, level from"
            f" {_count(curve.origins, 'origin', 'origins')}."
        )
        if curve.room_values:
            values = _count(curve.room_values, "value states", "values state")
            text += f" {values} no temperature: taken as holding at room temperature, 10 to 35 Cel."
    return Derivation(RULE, text, len(summary.votes), summary.spread, floor)


def _nothing(
    rows: Sequence[Row],
    reference: Reference,
    material: str,
    property_: str,
    groups: Mapping[Condition, Sequence[Row]],
    asked: Asked,
) -> PropertyAnswer:
    """Answer with a hole: nothing is lent from another material, form or state to fill it."""
    property_row = reference.properties[property_]
    if rows:
        forms = sorted({f"{c.form}, {c.state or 'state not stated'}" for c in groups})
        reason = f"Nothing is held under the condition asked; held: {'; '.join(forms)}."
    else:
        reason = f"Nothing is held on {property_row['name'].lower()} of {material}."
    others = _others(groups, None, property_row, reference, asked)
    points = tuple(CurvePoint(t, None, extrapolated=False, reason=reason) for t in asked.at) or None
    return PropertyAnswer(
        material,
        property_,
        reference.revision,
        None,
        None,
        None,
        None,
        None,
        others,
        points,
        None,
        None,
        unverified=False,
        reason=reason,
        citations=(),
    )
