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
    row_centre,
    row_spread,
    scale_of,
    usable,
)
from hotface_api.catalogue.reference import Reference
from hotface_api.science import expected
from hotface_api.science import series as science_series

__all__ = ["ROOM", "Curve", "CurvePoint", "curve_of", "is_room"]

Row = Mapping[str, Any]
ROOM: Final = (283.15, 308.15)
_ROOM_MIDDLE: Final = 295.15
_NEAR: Final = 25.0
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
    """What the values of one condition say over temperature. ``span`` in kelvin."""

    span: tuple[float, float]
    scale: Scale
    series: int
    origins: int
    room_values: int
    _fit: science_series.Fit
    _low: float
    _centre: float
    _high: float
    coverage: float

    def at(self, temperatures: Sequence[float], *, extrapolate: bool = False) -> list[CurvePoint]:
        """Evaluate at temperatures in kelvin."""
        asked = np.asarray(temperatures, dtype=float)
        values = self._fit(np.clip(asked, *self.span))
        return [
            self._point(float(t), float(y), extrapolate=extrapolate)
            for t, y in zip(asked, values, strict=True)
        ]

    def _point(self, temperature: float, level: float, *, extrapolate: bool) -> CurvePoint:
        inside = self.span[0] - 1e-6 <= temperature <= self.span[1] + 1e-6
        if not inside and not extrapolate:
            low, high = (end - 273.15 for end in self.span)
            reason = f"the evidence spans {low:.0f} to {high:.0f} Cel"
            return CurvePoint(temperature, None, extrapolated=False, reason=reason)
        wider = 1.0 if inside else _EXTRAPOLATED
        ends = [
            self.scale.back(level + self._centre + wider * (edge - self._centre))
            for edge in (self._low, self._centre, self._high)
        ]
        reason_out = None if inside else "held at the value of the nearest end of the evidence"
        found = Range(ends[0], ends[1], ends[2], self.coverage)
        return CurvePoint(temperature, found, extrapolated=not inside, reason=reason_out)

    def grid(self) -> list[float]:
        """Give the temperatures the whole curve is shown at: its ends and even hundreds of Cel."""
        low, high = self.span
        first = math.ceil((low - 273.15) / 100.0)
        last = math.floor((high - 273.15) / 100.0)
        inner = [step * 100.0 + 273.15 for step in range(first, last + 1)]
        return sorted({low, high, *(t for t in inner if low < t < high)})


def is_room(row: Row) -> bool:
    """Tell whether a value holds at room temperature or states none."""
    low, high = row["temperature_low"], row["temperature_high"]
    return low is None or (low >= ROOM[0] and high <= ROOM[1])


def _temperature(row: Row) -> float:
    if row["temperature_low"] is None:
        return _ROOM_MIDDLE
    return float(row["temperature_low"] + row["temperature_high"]) / 2


def _series(rows: Sequence[Row]) -> list[list[Row]]:
    """Group rows into series; a row without company is a series of one."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["specimen"] or f"value:{row['id']}", []).append(row)
    return [grouped[key] for key in sorted(grouped)]


def _is_series(rows: Sequence[Row]) -> bool:
    return len({round(_temperature(row), 3) for row in rows}) > 1


def curve_of(
    rows: Sequence[Row], property_row: Row, reference: Reference, coverage: float
) -> Curve | None:
    """Fit a curve to the values of one condition, or give None where no series is held."""
    scale = scale_of(property_row)
    kept, _ = usable(rows, scale)
    groups = _series(kept)
    if not any(_is_series(group) for group in groups):
        return None
    share: dict[str, int] = {}
    for group in groups:
        share[_origin(group[0])] = share.get(_origin(group[0]), 0) + 1
    observed = [_observation(group, scale, reference, share) for group in groups]
    fit = science_series.fit_curve(observed)
    low, high, centre = _residual_interval(groups, fit, scale, reference, coverage)
    return Curve(
        span=fit.span, scale=scale,
        series=sum(_is_series(group) for group in groups),
        origins=len(share), room_values=sum(row["temperature_low"] is None for row in kept),
        _fit=fit, _low=low, _centre=centre, _high=high, coverage=coverage,
    )


def _origin(row: Row) -> str:
    return row["origin"] or f"memory:{row['id']}"


def _observation(
    group: Sequence[Row], scale: Scale, reference: Reference, share: Mapping[str, int]
) -> science_series.Series:
    ordered = sorted(group, key=_temperature)
    total = max(weight(row, reference) for row in group) / share[_origin(group[0])]
    return science_series.Series(
        temperatures=np.array([_temperature(row) for row in ordered]),
        values=np.array([row_centre(row, scale) for row in ordered]),
        weight=total,
    )


def _residual_interval(
    groups: Sequence[Sequence[Row]], fit: science_series.Fit, scale: Scale, reference: Reference,
    coverage: float,
) -> tuple[float, float, float]:
    """Give the interval about the fitted shape, one vote an origin."""
    by_origin: dict[str, list[Row]] = {}
    for group in groups:
        by_origin.setdefault(_origin(group[0]), []).extend(group)
    centres, spreads, weights = [], [], []
    for members in by_origin.values():
        at = np.clip([_temperature(row) for row in members], *fit.span)
        level = fit(at)
        off = np.array([row_centre(row, scale) for row in members]) - level
        own = np.array([row_spread(row, scale) for row in members])
        centres.append(float(off.mean()))
        spreads.append(float(np.sqrt(off.var() + (own**2).mean())))
        weights.append(max(weight(row, reference) for row in members))
    found = expected.expected_interval(
        np.array(centres), np.array(spreads), np.array(weights),
        floor=scale.floor, coverage=coverage, prior_dof=PRIOR_DOF,
    )
    return float(found.low), float(found.high), float(found.centre)
