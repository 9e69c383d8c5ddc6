"""The answer to "what is known of this property of this material": range, curve, derivation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.conditions import Condition, condition_of, is_canonical
from hotface_api.catalogue.curves import ROOM, Curve, CurvePoint, curve_of, is_room
from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.ranges import DEFAULT_COVERAGE, Range, Summary, scale_of, summarise
from hotface_api.catalogue.reference import Reference

__all__ = ["Asked", "Derivation", "Other", "PropertyAnswer", "answer_rows", "property_answer"]

Row = Mapping[str, Any]
_NEAR: Final = 25.0

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
    connection: Connection, reference: Reference, material: str, property_: str,
    asked: Asked | None = None,
) -> PropertyAnswer:
    """Answer one property of one material with one statement."""
    rows = material_rows(connection, reference, (material,), (property_,))
    return answer_rows(rows, reference, material, property_, asked or Asked())


def _matches(condition: Condition, asked: Asked) -> bool:
    return (
        (asked.form is None or condition.form == asked.form)
        and (asked.state is None or condition.state == asked.state)
        and (asked.with_ is None or condition.with_ == asked.with_)
    )


def _choose(
    groups: Mapping[Condition, Sequence[Row]], property_row: Row, asked: Asked
) -> Condition | None:
    """Choose the condition to answer: asked for, canonical, else the one with most origins."""
    fitting = [condition for condition in groups if _matches(condition, asked)]
    if not fitting:
        return None

    def rank(condition: Condition) -> tuple[Any, ...]:
        rows = groups[condition]
        cited = {row["origin"] for row in rows if row["basis"] != "memory"}
        has_middle = any(row["bound"] == "is" for row in rows)
        canonical = is_canonical(condition, property_row)
        form_first = condition.form == property_row["canonical_form"]
        use = condition.role in (None, "use_limit")
        return (
            not cited, not use, not has_middle, not canonical, not form_first, -len(cited),
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
    chosen = _choose(groups, property_row, asked)
    if chosen is None:
        return _nothing(rows, reference, material, property_, groups, asked)
    members = groups[chosen]
    curve = None
    if property_row["varies_with_temperature"]:
        curve = curve_of(members, property_row, reference, asked.coverage)
    summary, found, temperature = _level(members, property_row, reference, curve, asked)
    points, band = _over_temperature(property_row, curve, found, asked)
    shown = {row["source"] for row in members if row["source"] and row["basis"] != "memory"}
    return PropertyAnswer(
        material, property_, reference.revision, chosen, temperature, summary, found,
        summary.observed, _others(groups, chosen, property_row, reference, asked),
        points, band, _derivation(summary, property_row, curve), summary.unverified,
        summary.reason, tuple(sorted(shown)),
    )


def _level(
    rows: Sequence[Row], property_row: Row, reference: Reference, curve: Curve | None, asked: Asked
) -> tuple[Summary, Range | None, tuple[float, float] | None]:
    """Give the single range: at room temperature where held, else at the curve's low end."""
    if not property_row["varies_with_temperature"]:
        summary = summarise(rows, property_row, reference, coverage=asked.coverage)
        return summary, summary.interval, None
    room = [row for row in rows if is_room(row)]
    if room:
        summary = summarise(room, property_row, reference, coverage=asked.coverage)
        if summary.interval is not None:
            return summary, summary.interval, ROOM
    if curve is not None:
        start = curve.span[0]
        near = [row for row in rows if _is_near(row, start)]
        summary = summarise(near, property_row, reference, coverage=asked.coverage)
        return summary, curve.at([start])[0].range, (start, start)
    dated = sorted((row for row in rows), key=lambda row: (row["temperature_low"] or 0, row["id"]))
    first = dated[0]
    start = first["temperature_low"]
    near = list(rows) if start is None else [row for row in rows if _is_near(row, start)]
    summary = summarise(near, property_row, reference, coverage=asked.coverage)
    span = None if start is None else (start, start)
    return summary, summary.interval, span


def _is_near(row: Row, temperature: float) -> bool:
    low, high = row["temperature_low"], row["temperature_high"]
    return low is not None and low - _NEAR <= temperature <= high + _NEAR


def _over_temperature(
    property_row: Row, curve: Curve | None, level: Range | None, asked: Asked
) -> tuple[tuple[CurvePoint, ...] | None, tuple[CurvePoint, ...] | None]:
    """Give the points asked for, or the whole curve."""
    if not asked.at:
        band = None if curve is None else tuple(curve.at(curve.grid()))
        return None, band
    if curve is not None:
        return tuple(curve.at(asked.at, extrapolate=asked.extrapolate)), None
    if not property_row["varies_with_temperature"]:
        reason = "this property is not given over temperature"
        flat = (CurvePoint(t, level, extrapolated=False, reason=reason) for t in asked.at)
        return tuple(flat), None
    return tuple(_flat_point(t, level, asked) for t in asked.at), None


def _flat_point(temperature: float, level: Range | None, asked: Asked) -> CurvePoint:
    """Answer a temperature where no curve is held: room values speak for room temperature."""
    if ROOM[0] <= temperature <= ROOM[1]:
        return CurvePoint(temperature, level, extrapolated=False, reason=None)
    reason = "no curve is held, only values about one temperature"
    held = level if asked.extrapolate else None
    return CurvePoint(temperature, held, extrapolated=held is not None, reason=reason)


def _others(
    groups: Mapping[Condition, Sequence[Row]], chosen: Condition, property_row: Row,
    reference: Reference, asked: Asked,
) -> tuple[Other, ...]:
    found = []
    for condition in sorted(groups, key=Condition.sort_key):
        if condition == chosen:
            continue
        curve = None
        if property_row["varies_with_temperature"]:
            curve = curve_of(groups[condition], property_row, reference, asked.coverage)
        summary, _, temperature = _level(groups[condition], property_row, reference, curve, asked)
        found.append(Other(condition, summary, temperature))
    return tuple(found)


def _derivation(summary: Summary, property_row: Row, curve: Curve | None) -> Derivation:
    text = (
        f"{len(summary.votes)} origins; spread between origins {summary.spread:.3g}"
        f" on the {property_row['scale']} scale (floor {property_row['spread_floor'] or 0:.3g})."
    )
    if curve is not None:
        text += f" Over temperature: shape from {curve.series} series, level from {curve.origins}"
        text += " origins."
        if curve.room_values:
            text += (
                f" {curve.room_values} values state no temperature and are taken as room values,"
                " 10 to 35 Cel."
            )
    floor = scale_of(property_row).floor
    return Derivation(RULE, text, len(summary.votes), summary.spread, floor)


def _nothing(
    rows: Sequence[Row], reference: Reference, material: str, property_: str,
    groups: Mapping[Condition, Sequence[Row]], asked: Asked,
) -> PropertyAnswer:
    """Answer with a hole: nothing is lent from another material, form or state to fill it."""
    property_row = reference.properties[property_]
    if rows:
        forms = sorted({f"{c.form}, {c.state or 'state not stated'}" for c in groups})
        reason = f"Nothing is held under the condition asked; held: {'; '.join(forms)}."
    else:
        reason = f"Nothing is held on {property_row['name'].lower()} of {material}."
    chosen = Condition("none")
    others = _others(groups, chosen, property_row, reference, asked)
    points = tuple(CurvePoint(t, None, extrapolated=False, reason=reason) for t in asked.at) or None
    return PropertyAnswer(
        material, property_, reference.revision, None, None, None, None, None, others, points,
        None, None, unverified=False, reason=reason, citations=(),
    )
