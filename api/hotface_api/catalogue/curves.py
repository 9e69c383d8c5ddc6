"""A property over temperature: shape from series, level from everything.

A series is what one source measured on one body at two or more temperatures. Averaging the values
of series that end at different temperatures would put a jump wherever one ends; averaging their
slopes does not, so the shape is built from slopes and the level from all values, one vote an
origin. Values with no temperature stated are taken as room values (10 to 35 Cel), and the
derivation says so. Outside the span of the evidence the answer is null unless extrapolation is
asked for, and then it is marked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from hotface_api.catalogue.evidence import weight
from hotface_api.catalogue.ranges import (
    PRIOR_DOF,
    Range,
    Scale,
    Summary,
    Vote,
    bounded,
    observed_of,
    origin_of,
    outliers,
    row_centre,
    row_spread,
    scale_of,
    usable,
    uses,
)
from hotface_api.catalogue.reference import Reference
from hotface_api.science import expected
from hotface_api.science import series as science_series

__all__ = ["NEAR", "ROOM", "Curve", "CurvePoint", "curve_of", "holds_near", "is_room"]

Row = Mapping[str, Any]
ROOM: Final = (283.15, 308.15)
"""What counts as room temperature, kelvin: 10 to 35 Cel."""
NEAR: Final = 25.0
"""How far, in kelvin, a value speaks beyond the temperature it is stated at; our judgement."""
_ROOM_MIDDLE: Final = 295.15
_ZERO: Final = 273.15
_EXTRAPOLATED: Final = 2.0
"""How much wider the interval is taken outside the span of the evidence; our judgement."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The range at one temperature (kelvin); ``range`` is None outside the evidence."""

    temperature: float
    range: Range | None
    extrapolated: bool
    reason: str | None


@dataclass(frozen=True, slots=True)
class Curve:
    """What the values of one condition say over temperature.

    ``span`` in kelvin; ``votes`` are the origins' mean distances from the curve on the scale.
    """

    span: tuple[float, float]
    scale: Scale
    series: int
    origins: int
    room_values: int
    coverage: float
    votes: tuple[Vote, ...]
    left_out: tuple[tuple[str, str], ...]
    _rows: tuple[Row, ...]
    _property: Row
    _fit: science_series.Fit
    _about: expected.Expected

    def at(self, temperatures: Sequence[float], *, extrapolate: bool = False) -> list[CurvePoint]:
        """Evaluate at temperatures in kelvin."""
        levels = self._levels(temperatures)
        return [
            self._point(float(t), level, extrapolate=extrapolate)
            for t, level in zip(temperatures, levels, strict=True)
        ]

    def _point(self, temperature: float, level: float, *, extrapolate: bool) -> CurvePoint:
        inside = self._holds(temperature)
        if not inside and not extrapolate:
            low, high = (end - _ZERO for end in self.span)
            reason = f"the evidence spans {low:.0f} to {high:.0f} Cel"
            return CurvePoint(temperature, None, extrapolated=False, reason=reason)
        found = self._range(level, 1.0 if inside else _EXTRAPOLATED)
        told = None if inside else "held at the value of the nearest end of the evidence"
        return CurvePoint(temperature, found, extrapolated=not inside, reason=told)

    def _holds(self, temperature: float) -> bool:
        """Tell whether the evidence reaches a temperature; room temperature is one place."""
        low, high = self.span
        if ROOM[0] <= temperature <= ROOM[1] and low <= ROOM[1] and high >= ROOM[0]:
            return True
        return low - 1e-6 <= temperature <= high + 1e-6

    def _levels(self, temperatures: Sequence[float]) -> list[float]:
        """Read the curve off at temperatures, beyond its ends at its ends."""
        levels: list[float] = self._fit(np.clip(temperatures, *self.span)).tolist()
        return levels

    def _range(self, level: float, wider: float = 1.0) -> Range:
        about = self._about
        low, typical, high = (
            self.scale.back(level + about.centre + wider * (edge - about.centre))
            for edge in (about.low, about.centre, about.high)
        )
        return bounded(Range(low, typical, high, self.coverage), self._property)

    def start(self) -> tuple[float, tuple[float, float]]:
        """Give the temperature answered first, and the span it stands for: room or the low end."""
        if any(is_room(row) for row in self._rows):
            return min(max(_ROOM_MIDDLE, self.span[0]), self.span[1]), ROOM
        return self.span[0], (self.span[0], self.span[0])

    def summary(self) -> Summary:
        """Summarise at the temperature answered first; every value of the curve is used."""
        temperature, about = self.start()
        (level,) = self._levels([temperature])
        near = [row for row in self._rows if about == ROOM and is_room(row)]
        near = near or [row for row in self._rows if holds_near(row, temperature)]
        votes = tuple(
            Vote(vote.origin, vote.centre + level, vote.spread, vote.weight, vote.values)
            for vote in self.votes
        )
        return Summary(
            interval=self._range(level),
            observed=observed_of(near, near),
            votes=votes,
            spread=self._about.spread,
            used=uses(votes),
            left_out=self.left_out,
            outliers=outliers(votes, self.scale),
            unverified=all(row["basis"] == "memory" for row in self._rows),
            reason=None,
        )

    def grid(self) -> list[float]:
        """Give the temperatures the whole curve is shown at: its ends and even hundreds of Cel."""
        low, high = self.span
        first = math.ceil((low - _ZERO) / 100.0)
        last = math.floor((high - _ZERO) / 100.0)
        inner = [step * 100.0 + _ZERO for step in range(first, last + 1)]
        return sorted({low, high, *(t for t in inner if low < t < high)})


def is_room(row: Row) -> bool:
    """Tell whether a value holds at room temperature or states none."""
    low, high = row["temperature_low"], row["temperature_high"]
    return low is None or (low >= ROOM[0] and high <= ROOM[1])


def holds_near(row: Row, temperature: float) -> bool:
    """Tell whether a value speaks to a temperature; one without a temperature speaks to room."""
    low, high = row["temperature_low"], row["temperature_high"]
    if low is None:
        low, high = ROOM
        return bool(low <= temperature <= high)
    return bool(low - NEAR <= temperature <= high + NEAR)


def _temperature(row: Row) -> float:
    if row["temperature_low"] is None:
        return _ROOM_MIDDLE
    return float(row["temperature_low"] + row["temperature_high"]) / 2


def _series(rows: Sequence[Row]) -> list[list[Row]]:
    """Group rows into series; a row without company is a series of one."""
    grouped: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        key = (row["specimen"] or f"value:{row['id']}", origin_of(row))
        grouped.setdefault(key, []).append(row)
    return [grouped[key] for key in sorted(grouped)]


def _is_series(rows: Sequence[Row]) -> bool:
    temperatures = [_temperature(row) for row in rows]
    return max(temperatures) - min(temperatures) > 1.0


def curve_of(
    rows: Sequence[Row], property_row: Row, reference: Reference, coverage: float
) -> Curve | None:
    """Fit a curve to the values of one condition, or give None where no series is held."""
    scale = scale_of(property_row)
    kept, left_out = usable(rows, scale)
    groups = _series(kept)
    if not any(_is_series(group) for group in groups):
        return None
    share: dict[str, int] = {}
    for group in groups:
        origin = origin_of(group[0])
        share[origin] = share.get(origin, 0) + 1
    fit = science_series.fit_curve([_observed(g, scale, reference, share) for g in groups])
    votes = _votes(kept, fit, scale, reference)
    return Curve(
        span=fit.span,
        scale=scale,
        series=sum(_is_series(group) for group in groups),
        origins=len(votes),
        room_values=sum(row["temperature_low"] is None for row in kept),
        coverage=coverage,
        votes=votes,
        left_out=tuple(left_out),
        _rows=tuple(kept),
        _property=property_row,
        _fit=fit,
        _about=_about(votes, scale, coverage),
    )


def _observed(
    group: Sequence[Row], scale: Scale, reference: Reference, share: Mapping[str, int]
) -> science_series.Series:
    """Make a series of a group; the series of one origin share its vote."""
    return science_series.Series(
        temperatures=np.array([_temperature(row) for row in group]),
        values=np.array([row_centre(row, scale) for row in group]),
        weight=max(weight(row, reference) for row in group) / share[origin_of(group[0])],
    )


def _votes(
    rows: Sequence[Row], fit: science_series.Fit, scale: Scale, reference: Reference
) -> tuple[Vote, ...]:
    """Give each origin one vote: its mean distance from the curve, and its scatter about that."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(origin_of(row), []).append(row)
    votes = []
    for origin, members in sorted(grouped.items()):
        level = fit(np.array([_temperature(row) for row in members]))
        off = np.array([row_centre(row, scale) for row in members]) - level
        own = np.array([row_spread(row, scale) for row in members])
        spread = float(np.sqrt(off.var() + (own**2).mean()))
        best = max(weight(row, reference) for row in members)
        ids = tuple(row["id"] for row in members)
        votes.append(Vote(origin, float(off.mean()), spread, best, ids))
    return tuple(votes)


def _about(votes: Sequence[Vote], scale: Scale, coverage: float) -> expected.Expected:
    """Give the interval about the fitted shape, one vote an origin."""
    return expected.expected_interval(
        [vote.centre for vote in votes],
        [vote.spread for vote in votes],
        [vote.weight for vote in votes],
        floor=scale.floor,
        coverage=coverage,
        prior_dof=PRIOR_DOF,
    )
