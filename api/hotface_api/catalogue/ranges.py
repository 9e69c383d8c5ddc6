"""From the cited values of one condition to a range: what was published, and what to expect.

``observed`` is the envelope of the published figures. ``interval`` is where a further, independent
origin is expected with the stated coverage: one vote an origin, weighted by source type, on the
property's scale (logarithmic for densities, conductivities, heat capacities and strengths), with a
spread between origins that is never below the property's floor. One source alone therefore gives
an interval of honest width, not a point.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from hotface.units import UNITS
from hotface_api.catalogue.evidence import centre, edges, weight
from hotface_api.catalogue.reference import Reference
from hotface_api.science import expected

__all__ = ["DEFAULT_COVERAGE", "Range", "Scale", "Summary", "Use", "Vote", "scale_of", "summarise"]

Row = Mapping[str, Any]
DEFAULT_COVERAGE: Final = 0.9
PRIOR_DOF: Final = 4.0
"""How many degrees of freedom the spread floor is worth; our judgement."""
_OUTLIER_ORIGINS: Final = 8
_OUTLIER_SCORE: Final = 3.5
_RECTANGULAR: Final = 1 / (2 * math.sqrt(3))


@dataclass(frozen=True, slots=True)
class Range:
    """Low, typical and high in SI. ``coverage`` is None for an observed envelope."""

    low: float | None
    typical: float | None
    high: float | None
    coverage: float | None


@dataclass(frozen=True, slots=True)
class Scale:
    """How a property is compared: on logarithms or as it is, with its floor of spread."""

    logarithmic: bool
    floor: float

    def to(self, value: float) -> float:
        """Map an SI value onto the scale."""
        return math.log(value) if self.logarithmic else value

    def back(self, value: float) -> float:
        """Map a number on the scale back to SI."""
        return math.exp(value) if self.logarithmic else value


@dataclass(frozen=True, slots=True)
class Vote:
    """What one origin says: centre and standard deviation on the scale, weight, its rows."""

    origin: str
    centre: float
    spread: float
    weight: float
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Use:
    """A value that was used: its origin and its share of the vote."""

    value: str
    origin: str | None
    weight: float


@dataclass(frozen=True, slots=True)
class Summary:
    """A condition's range with everything it rests on."""

    interval: Range | None
    observed: Range | None
    votes: tuple[Vote, ...]
    spread: float
    used: tuple[Use, ...]
    left_out: tuple[tuple[str, str], ...]
    outliers: tuple[str, ...]
    unverified: bool
    reason: str | None


def scale_of(property_row: Row) -> Scale:
    """Give the scale of a property; a linear floor is stored in the output unit."""
    floor = property_row["spread_floor"] or 0.0
    if property_row["scale"] == "log":
        return Scale(logarithmic=True, floor=floor)
    return Scale(logarithmic=False, floor=floor * UNITS[property_row["unit"]].factor)


def usable(rows: Sequence[Row], scale: Scale) -> tuple[list[Row], list[tuple[str, str]]]:
    """Split rows into those that have a midpoint and those left out, with the reason."""
    cited = any(row["basis"] != "memory" and row["bound"] == "is" for row in rows)
    kept, left_out = [], []
    for row in rows:
        if row["bound"] != "is":
            sense = "floor" if row["bound"] == "at_least" else "ceiling"
            left_out.append((row["id"], f"a {sense} bounds and has no midpoint"))
        elif row["basis"] == "memory" and cited:
            left_out.append((row["id"], "from memory; cited values are held"))
        elif scale.logarithmic and edges(row)[0] <= 0:
            left_out.append((row["id"], "zero or negative on a logarithmic scale"))
        else:
            kept.append(row)
    return kept, left_out


def row_spread(row: Row, scale: Scale) -> float:
    """Give a row's own standard deviation: its stated range read as rectangular (GUM 4.3.7)."""
    low, high = edges(row)
    return (scale.to(high) - scale.to(low)) * _RECTANGULAR


def row_centre(row: Row, scale: Scale) -> float:
    low, high = edges(row)
    if row["typical"] is None and low != high:
        return (scale.to(low) + scale.to(high)) / 2
    return scale.to(centre(row))


def cast_votes(rows: Sequence[Row], scale: Scale, reference: Reference) -> list[Vote]:
    """Give each origin one vote: the mean of its rows, their scatter folded into its spread."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["origin"] or f"memory:{row['id']}", []).append(row)
    votes = []
    for origin, members in sorted(grouped.items()):
        centres = [row_centre(row, scale) for row in members]
        mean = sum(centres) / len(centres)
        between = sum((value - mean) ** 2 for value in centres) / len(centres)
        within = sum(row_spread(row, scale) ** 2 for row in members) / len(members)
        best = max(weight(row, reference) for row in members)
        ids = tuple(row["id"] for row in members)
        votes.append(Vote(origin, mean, math.sqrt(between + within), best, ids))
    return votes


def _outliers(votes: Sequence[Vote]) -> tuple[str, ...]:
    """Flag the values of origins far from the rest; never hidden, only named."""
    if len(votes) < _OUTLIER_ORIGINS:
        return ()
    scores = expected.robust_scores(np.array([vote.centre for vote in votes]))
    far = [vote for vote, score in zip(votes, scores, strict=True) if abs(score) > _OUTLIER_SCORE]
    return tuple(value for vote in far for value in vote.values)


def _observed(rows: Sequence[Row], kept: Sequence[Row]) -> Range | None:
    spans = [edges(row) for row in kept]
    if spans:
        return Range(min(low for low, _ in spans), None, max(high for _, high in spans), None)
    floors = [edges(row)[0] for row in rows if row["bound"] == "at_least"]
    ceilings = [edges(row)[1] for row in rows if row["bound"] == "at_most"]
    if not floors and not ceilings:
        return None
    return Range(min(floors, default=None), None, max(ceilings, default=None), None)


def interval_of(votes: Sequence[Vote], scale: Scale, coverage: float) -> tuple[Range, float]:
    """Give the interval of some votes and the spread between origins it used."""
    found = expected.expected_interval(
        np.array([vote.centre for vote in votes]),
        np.array([vote.spread for vote in votes]),
        np.array([vote.weight for vote in votes]),
        floor=scale.floor, coverage=coverage, prior_dof=PRIOR_DOF,
    )
    low, typical, high = (scale.back(float(x)) for x in (found.low, found.centre, found.high))
    return Range(low, typical, high, coverage), float(found.spread)


def _bounded(found: Range, property_row: Row) -> Range:
    """Keep an interval inside what the property can be at all."""
    unit = UNITS[property_row["unit"]]
    ends = []
    for value in (found.low, found.typical, found.high):
        number = float(value or 0.0)
        if property_row["minimum"] is not None:
            number = max(number, property_row["minimum"] * unit.factor + unit.offset)
        if property_row["maximum"] is not None:
            number = min(number, property_row["maximum"] * unit.factor + unit.offset)
        ends.append(number)
    return Range(ends[0], ends[1], ends[2], found.coverage)


def _without_middle(
    observed: Range | None, used: tuple[Use, ...], left_out: Sequence[tuple[str, str]], reason: str
) -> Summary:
    return Summary(
        interval=None, observed=observed, votes=(), spread=0.0, used=used,
        left_out=tuple(left_out), outliers=(), unverified=False, reason=reason,
    )


def summarise(
    rows: Sequence[Row], property_row: Row, reference: Reference, *,
    coverage: float = DEFAULT_COVERAGE,
) -> Summary:
    """Summarise the values of one condition.

    Parameters
    ----------
    rows : sequence of rows
        Values of one property under one condition, SI.
    property_row : row
        The property's definition: scale, floor, smallest and largest possible value.
    reference : Reference
    coverage : float
        Share of further origins the interval is to hold.

    Returns
    -------
    Summary
    """
    scale = scale_of(property_row)
    kept, left_out = usable(rows, scale)
    observed = _observed(rows, kept)
    if property_row["scale"] == "ordinal":
        reason = "An ordinal scale has an observed envelope and no interval."
        used = tuple(Use(row["id"], row["origin"], 1 / len(kept)) for row in kept)
        return _without_middle(observed, used, left_out, reason)
    if not kept:
        reason = "Only one-sided figures are held; they bound the quantity and give no middle."
        return _without_middle(observed, (), left_out, reason)
    votes = cast_votes(kept, scale, reference)
    found, spread = interval_of(votes, scale, coverage)
    total = sum(vote.weight for vote in votes)
    used = tuple(
        Use(value, None if vote.origin.startswith("memory:") else vote.origin,
            vote.weight / total / len(vote.values))
        for vote in votes
        for value in vote.values
    )
    unverified = all(row["basis"] == "memory" for row in kept)
    return Summary(
        _bounded(found, property_row), observed, tuple(votes), spread, used, tuple(left_out),
        _outliers(votes), unverified, None,
    )
