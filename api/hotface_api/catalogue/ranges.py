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

from hotface.units import UNITS
from hotface_api.catalogue.evidence import centre, edges, weight
from hotface_api.catalogue.reference import Reference
from hotface_api.science import expected

__all__ = [
    "DEFAULT_COVERAGE",
    "PRIOR_DOF",
    "Range",
    "Scale",
    "Summary",
    "Use",
    "Vote",
    "bounded",
    "observed_of",
    "origin_of",
    "outliers",
    "row_centre",
    "row_spread",
    "scale_of",
    "summarise",
    "usable",
    "uses",
]

Row = Mapping[str, Any]
DEFAULT_COVERAGE: Final = 0.9
PRIOR_DOF: Final = 4.0
"""Degrees of freedom of Student's t for a single origin; our judgement."""
_OUTLIER_ORIGINS: Final = 8
_OUTLIER_SCORE: Final = 3.5
_LARGEST_LOG: Final = 700.0
"""Beyond it the exponential overflows; the property's maximum cuts long before."""
_RECTANGULAR: Final = 1 / (2 * math.sqrt(3))
_SEVERAL: Final = frozenset({"transformation_temperature", "decomposition_temperature"})
"""Under these a material has as many temperatures as it has events: no middle is taken of them."""


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
        return math.exp(min(value, _LARGEST_LOG)) if self.logarithmic else value


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
    kept: list[Row] = []
    left_out: list[tuple[str, str]] = []
    for row in rows:
        reason = _unusable(row, scale, cited=cited)
        if reason is None:
            kept.append(row)
        else:
            left_out.append((row["id"], reason))
    return kept, left_out


def _unusable(row: Row, scale: Scale, *, cited: bool) -> str | None:
    if row["bound"] != "is":
        sense = "floor" if row["bound"] == "at_least" else "ceiling"
        return f"a {sense} bounds and has no midpoint"
    if row["basis"] == "memory" and cited:
        return "from memory; cited values are held"
    if scale.logarithmic and edges(row)[0] <= 0:
        return "zero or negative on a logarithmic scale"
    return None


def row_spread(row: Row, scale: Scale) -> float:
    """Give a row's own standard deviation: its stated range read as rectangular (GUM 4.3.7).

    A stated standard uncertainty is added to it.
    """
    low, high = edges(row)
    stated = float(row["uncertainty_standard"] or 0.0)
    if low == high:
        return stated / low if scale.logarithmic and stated else stated
    if scale.logarithmic:
        stated /= centre(row)
    return math.hypot((scale.to(high) - scale.to(low)) * _RECTANGULAR, stated)


def row_centre(row: Row, scale: Scale) -> float:
    """Give what a row says on the scale: its typical figure, else the middle of its range."""
    typical = row["typical"]
    if typical is not None:
        return scale.to(typical)
    low, high = edges(row)
    return (scale.to(low) + scale.to(high)) / 2


def origin_of(row: Row) -> str:
    """Name the origin a row votes with; each recalled figure stands alone."""
    return row["origin"] or f"memory:{row['id']}"


def cast_votes(rows: Sequence[Row], scale: Scale, reference: Reference) -> list[Vote]:
    """Give each origin one vote: the mean of its rows, their scatter folded into its spread."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(origin_of(row), []).append(row)
    return [_vote(origin, members, scale, reference) for origin, members in sorted(grouped.items())]


def _vote(origin: str, rows: Sequence[Row], scale: Scale, reference: Reference) -> Vote:
    if len(rows) == 1:
        (row,) = rows
        level, spread = row_centre(row, scale), row_spread(row, scale)
        return Vote(origin, level, spread, weight(row, reference), (row["id"],))
    centres = [row_centre(row, scale) for row in rows]
    mean = sum(centres) / len(centres)
    between = sum((value - mean) ** 2 for value in centres) / len(centres)
    within = sum(row_spread(row, scale) ** 2 for row in rows) / len(rows)
    best = max(weight(row, reference) for row in rows)
    ids = tuple(row["id"] for row in rows)
    return Vote(origin, mean, math.sqrt(between + within), best, ids)


def outliers(votes: Sequence[Vote], scale: Scale) -> tuple[str, ...]:
    """Flag the values of origins far from the rest; never hidden, only named."""
    if len(votes) < _OUTLIER_ORIGINS:
        return ()
    scores = expected.robust_scores([vote.centre for vote in votes], least=scale.floor or 1e-12)
    far = [vote for vote, score in zip(votes, scores, strict=True) if abs(score) > _OUTLIER_SCORE]
    return tuple(value for vote in far for value in vote.values)


def uses(votes: Sequence[Vote]) -> tuple[Use, ...]:
    """Share the vote out over the values that cast it; the shares add up to one."""
    total = sum(vote.weight for vote in votes)
    return tuple(
        Use(
            value,
            None if vote.origin.startswith("memory:") else vote.origin,
            vote.weight / total / len(vote.values),
        )
        for vote in votes
        for value in vote.values
    )


def observed_of(rows: Sequence[Row], kept: Sequence[Row]) -> Range | None:
    """Give the envelope of the figures that state the quantity, else of those that bound it."""
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
        [vote.centre for vote in votes],
        [vote.spread for vote in votes],
        [vote.weight for vote in votes],
        floor=scale.floor,
        coverage=coverage,
        prior_dof=PRIOR_DOF,
    )
    low, typical, high = (scale.back(x) for x in (found.low, found.centre, found.high))
    return Range(low, typical, high, coverage), found.spread


def bounded(found: Range, property_row: Row) -> Range:
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
    observed: Range | None,
    votes: Sequence[Vote],
    left_out: Sequence[tuple[str, str]],
    reason: str,
    *,
    unverified: bool,
) -> Summary:
    return Summary(
        interval=None,
        observed=observed,
        votes=tuple(votes),
        spread=0.0,
        used=uses(votes),
        left_out=tuple(left_out),
        outliers=(),
        unverified=unverified,
        reason=reason,
    )


def summarise(
    rows: Sequence[Row],
    property_row: Row,
    reference: Reference,
    *,
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
    observed = observed_of(rows, kept)
    unverified = all(row["basis"] == "memory" for row in kept or rows)
    votes = cast_votes(kept, scale, reference)
    reason = _no_middle(kept, property_row)
    if reason is not None:
        return _without_middle(observed, votes, left_out, reason, unverified=unverified)
    found, spread = interval_of(votes, scale, coverage)
    return Summary(
        bounded(found, property_row),
        observed,
        tuple(votes),
        spread,
        uses(votes),
        tuple(left_out),
        outliers(votes, scale),
        unverified,
        None,
    )


def _no_middle(kept: Sequence[Row], property_row: Row) -> str | None:
    """Say why there is no middle to expect a further origin about, or None if there is."""
    if not kept:
        return "Only one-sided figures are held; they bound the quantity and give no middle."
    if property_row["scale"] == "ordinal":
        return "An ordinal scale has an observed envelope and no interval."
    if property_row["id"] in _SEVERAL and all(row["role"] == "event" for row in kept):
        return "Several events may stand here; their temperatures are listed, not averaged."
    return None
