"""What a contributor is told at once: how a figure stands against what is held.

Nothing here refuses anything. Like is compared with like: values of the same material, property
and condition, near the same temperature. A figure far from the rest is worth a second look, not
wrong; a figure inside the rest is not thereby right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any, Final

from hotface.units import UNITS
from hotface_api.catalogue.conditions import Condition, condition_of
from hotface_api.catalogue.curves import curve_of, holds_near, is_room
from hotface_api.catalogue.evidence import edges
from hotface_api.catalogue.ranges import (
    DEFAULT_COVERAGE,
    Range,
    Scale,
    Vote,
    cast_votes,
    row_centre,
    scale_of,
    summarise,
    usable,
)
from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.slips import Slip, find_slips
from hotface_api.ledger.wording import all_words, further_words
from hotface_api.science import comparison

__all__ = ["Agreement", "Grounds", "Told", "tell"]

Row = Mapping[str, Any]
_EXPANDED: Final = 2.0
_ENOUGH: Final = 5
"""From how many origins on their own robust spread is used for the score."""
_MOST_NAMED: Final = 12
_ALIKE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Agreement:
    """How the figure agrees with one held value, where both state an uncertainty."""

    value: str
    e_n: float
    agrees: bool


@dataclass(frozen=True, slots=True)
class Told:
    """How one figure stands against what is held. Numbers SI.

    Attributes
    ----------
    position : str
        ``inside``, ``outside`` or ``not compared``.
    low, typical, high, coverage : float or None
        The interval held, where a further origin is expected.
    beyond : float or None
        How far past the nearest end: a ratio above 1 on a logarithmic scale, else a distance.
    z : float or None
        Robust score against the origins held; told where no held value states an uncertainty.
    origins : int
        How many origins it is compared with.
    agreements : tuple of Agreement
    known_origin : tuple of str
        Held values that count under the same origin: the figure adds no independent vote.
    same_figure : tuple of str
        Held values of other origins with exactly this figure: one may have copied the other.
    slips : tuple of Slip
        Readings under which an outside figure would fit.
    words : tuple of str
        All of it in sentences.
    property : str
        Whose numbers these are.
    """

    position: str
    low: float | None
    typical: float | None
    high: float | None
    coverage: float | None
    beyond: float | None
    z: float | None
    origins: int
    agreements: tuple[Agreement, ...]
    known_origin: tuple[str, ...]
    same_figure: tuple[str, ...]
    slips: tuple[Slip, ...]
    words: tuple[str, ...]
    property: str


@dataclass(frozen=True, slots=True)
class Ground:
    """What figures of one condition and temperature are compared with.

    ``spread`` holds robust mean and spread of the origins, where there are enough.
    """

    alike: Sequence[Row]
    near: Sequence[Row]
    interval: Range | None
    votes: Sequence[Vote]
    reason: str | None
    spread: tuple[float, float] | None


Grounds = dict[tuple[Any, ...], Ground]


def tell(
    row: Row,
    held: Sequence[Row],
    property_row: Row,
    reference: Reference,
    grounds: Grounds | None = None,
) -> Told:
    """Compare one figure with the held values of its material and property.

    Parameters
    ----------
    row : row
        The contributed value, in the store's columns, SI.
    held : sequence of rows
        Accepted values of the same material and property, whatever their condition.
    property_row : row
    reference : Reference
    grounds : dict, optional
        Kept from one figure to the next against the same data: a batch mostly says the same things
        of the same material.

    Returns
    -------
    Told
    """
    scale = scale_of(property_row)
    kept: Grounds = {} if grounds is None else grounds
    condition = condition_of(row, property_row)
    key = (row["material"], row["property"], condition, _temperature(row))
    ground = kept.get(key)
    if ground is None:
        ground = kept[key] = _ground(row, condition, held, property_row, reference)
    interval, reason = ground.interval, ground.reason
    if interval is not None and scale.logarithmic and edges(row)[0] <= 0:
        interval, reason = None, "zero or less is not on the scale this property is compared on"
    if interval is None:
        return _not_compared(row, ground, reason, held, property_row)
    inside, beyond = _position(row, interval, scale)
    agreements = _agreements(row, ground.near)
    scored = row["bound"] == "is" and not agreements
    z = _score(row, ground.spread, interval, scale) if scored else None
    slips = () if inside else _slips(row, interval, property_row)
    told = Told(
        "inside" if inside else "outside",
        interval.low,
        interval.typical,
        interval.high,
        interval.coverage,
        beyond,
        z,
        len(ground.votes),
        agreements,
        _known_origin(row, ground.alike),
        _same_figure(row, ground.near),
        slips,
        (),
        str(property_row["id"]),
    )
    return replace(told, words=all_words(told, property_row))


def _ground(
    row: Row,
    condition: Condition,
    held: Sequence[Row],
    property_row: Row,
    reference: Reference,
) -> Ground:
    alike = [other for other in held if condition_of(other, property_row) == condition]
    near = [other for other in alike if _is_near(row, other, property_row)]
    interval, votes, reason = _interval(row, alike, near, property_row, reference)
    spread = None
    if len(votes) >= _ENOUGH:
        robust = comparison.robust_mean([vote.centre for vote in votes])
        spread = (robust.mean, robust.spread)
    return Ground(alike, near, interval, votes, reason, spread)


def _temperature(row: Row) -> float | None:
    low, high = row["temperature_low"], row["temperature_high"]
    return None if low is None else float(low + high) / 2


def _is_near(row: Row, other: Row, property_row: Row) -> bool:
    if not property_row["varies_with_temperature"]:
        return True
    temperature = _temperature(row)
    return is_room(other) if temperature is None else holds_near(other, temperature)


def _interval(
    row: Row, alike: Sequence[Row], near: Sequence[Row], property_row: Row, reference: Reference
) -> tuple[Range | None, list[Vote], str | None]:
    """Give the interval held where the figure is, the votes near it, or why there is none."""
    if not alike:
        return None, [], None
    scale = scale_of(property_row)
    kept, _ = usable(near, scale)
    votes = cast_votes(kept, scale, reference) if kept else []
    temperature = _temperature(row)
    if property_row["varies_with_temperature"]:
        curve = curve_of(alike, property_row, reference, DEFAULT_COVERAGE)
        if curve is not None:
            start = curve.start()[0] if temperature is None else temperature
            point = curve.at([start])[0]
            if point.range is not None:
                return point.range, votes or list(curve.votes), None
            return None, [], point.reason
    if not near:
        return None, [], "no held value is near this temperature"
    found = summarise(near, property_row, reference)
    return found.interval, votes, found.reason


def _not_compared(
    row: Row, ground: Ground, reason: str | None, held: Sequence[Row], property_row: Row
) -> Told:
    if reason is None:
        others = {_condition_words(condition_of(other, property_row)) for other in held}
        listed = "; ".join(sorted(others)[:_MOST_NAMED])
        reason = "nothing is held under this condition"
        reason += f" (held: {listed})" if listed else " or any other: this is the first"
    told = Told(
        "not compared",
        None,
        None,
        None,
        None,
        None,
        None,
        0,
        _agreements(row, ground.near),
        _known_origin(row, ground.alike),
        _same_figure(row, ground.near),
        (),
        (),
        str(property_row["id"]),
    )
    words = (f"Not compared: {reason}.", *further_words(told))
    return replace(told, words=words)


def _condition_words(condition: Condition) -> str:
    parts = [condition.form, condition.fill, condition.state, condition.role]
    if condition.with_:
        parts.append(f"with {condition.with_}")
    if condition.density_band is not None:
        parts.append(f"{condition.density_band:.0f} kg/m3 and up")
    return ", ".join(part for part in parts if part)


def _position(row: Row, interval: Range, scale: Scale) -> tuple[bool, float | None]:
    """Tell whether the figure lies inside, and how far beyond the nearest end if not."""
    low, high = float(interval.low or 0.0), float(interval.high or 0.0)
    first, last = edges(row)
    middle = scale.back(row_centre(row, scale))
    bottom, top = {
        "is": (middle, middle),
        "at_least": (first, math.inf),
        "at_most": (-math.inf, last),
    }[row["bound"]]
    if top >= low and bottom <= high:
        return True, None
    nearest, value = (low, top) if top < low else (high, bottom)
    if scale.logarithmic:
        return False, max(value, nearest) / min(value, nearest)
    return False, abs(value - nearest)


def _agreements(row: Row, near: Sequence[Row]) -> tuple[Agreement, ...]:
    if row["uncertainty_standard"] is None or row["bound"] != "is":
        return ()
    found = []
    for other in near:
        if other["uncertainty_standard"] is None or other["bound"] != "is":
            continue
        score = float(
            comparison.e_n(
                sum(edges(row)) / 2 if row["typical"] is None else row["typical"],
                sum(edges(other)) / 2 if other["typical"] is None else other["typical"],
                _EXPANDED * row["uncertainty_standard"],
                _EXPANDED * other["uncertainty_standard"],
            )
        )
        found.append(Agreement(other["id"], score, score <= 1.0))
    return tuple(found[:_MOST_NAMED])


def _score(
    row: Row, robust: tuple[float, float] | None, interval: Range, scale: Scale
) -> float | None:
    """Score against the origins' own robust spread, else against the interval held."""
    value = row_centre(row, scale)
    if robust is not None:
        spread = max(robust[1], scale.floor)
        if spread > 0:
            return float(comparison.robust_z(value, robust[0], spread))
    low, typical, high = (
        scale.to(float(end or 0.0)) for end in (interval.low, interval.typical, interval.high)
    )
    half = (high - low) / 2
    if not math.isfinite(half) or half <= 0:
        return None
    return (value - typical) / (half / _normal_edge(interval.coverage))


def _normal_edge(coverage: float | None) -> float:
    """Give how many standard deviations of a normal the half of an interval is."""
    return NormalDist().inv_cdf((1 + (coverage or DEFAULT_COVERAGE)) / 2)


def _known_origin(row: Row, alike: Sequence[Row]) -> tuple[str, ...]:
    same = [other["id"] for other in alike if other["origin"] == row["origin"]]
    return tuple(same[:_MOST_NAMED])


def _same_figure(row: Row, near: Sequence[Row]) -> tuple[str, ...]:
    ends = ("low", "typical", "high")
    return tuple(
        other["id"]
        for other in near
        if other["origin"] != row["origin"] and all(_equal(row[e], other[e]) for e in ends)
    )[:_MOST_NAMED]


def _equal(first: float | None, second: float | None) -> bool:
    if first is None or second is None:
        return first is second
    return math.isclose(first, second, rel_tol=_ALIKE)


def _slips(row: Row, interval: Range, property_row: Row) -> tuple[Slip, ...]:
    said = UNITS[row["unit"]]
    difference = property_row["temperature_kind"] == "difference"
    printed = [
        float(row[f"printed_{end}"])
        for end in ("low", "typical", "high")
        if row[f"printed_{end}"] is not None
    ]
    figure = sum(printed) / len(printed)
    low, high = float(interval.low or 0.0), float(interval.high or 0.0)
    return find_slips(
        figure,
        said,
        float(interval.typical or 0.0),
        lambda value: low <= value <= high,
        difference=difference,
    )
