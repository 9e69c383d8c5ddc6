"""One curve over temperature from several series and single values.

Averaging the values of series that end at different temperatures puts a jump wherever one ends.
Here the slopes are averaged instead: between two neighbouring knots the curve rises by the
weighted mean of the rises of the series that reach across, so that a series that ends only stops
having a say. The level is then the weighted mean offset of all values from that shape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hotface_api.science._arrays import FloatArray, floats

__all__ = ["REACH", "Fit", "Series", "fit_curve"]

_SAME: Final = 0.5
"""Temperatures nearer than this, in kelvin, share a knot."""
_CLOSE: Final = 20.0
"""Neighbouring points of a series at most this far apart, in kelvin, can show a step as it is."""
_STEEP: Final = 5.0
"""How many times steeper than its series on average a step is."""
REACH: Final = 150.0
"""How far, in kelvin, a shape is trusted beyond the series it comes from; our judgement."""


@dataclass(frozen=True, slots=True)
class Series:
    """Values of one body or one published curve.

    Attributes
    ----------
    temperatures : ndarray, shape (n,)
        Kelvin, in any order; equal temperatures are allowed.
    values : ndarray, shape (n,)
        The property on the scale it is compared on (logarithm or plain).
    weight : float
        Weight of the series as a whole.
    """

    temperatures: FloatArray
    values: FloatArray
    weight: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A piecewise linear curve; called with temperatures in kelvin, NaN outside ``span``."""

    knots: FloatArray
    levels: FloatArray

    @property
    def span(self) -> tuple[float, float]:
        """Give the lowest and highest temperature of the evidence, kelvin."""
        return float(self.knots[0]), float(self.knots[-1])

    def __call__(self, temperatures: ArrayLike) -> FloatArray:
        """Evaluate the curve."""
        asked = np.asarray(temperatures, dtype=np.float64)
        low, high = self.span
        found = np.interp(asked, self.knots, self.levels)
        inside = (asked >= low - _SAME) & (asked <= high + _SAME)
        return floats(np.where(inside, found, np.nan))


def fit_curve(observed: Sequence[Series]) -> Fit:
    """Fit one curve: shape from the series of two or more temperatures, level from all.

    Parameters
    ----------
    observed : sequence of Series
        At least one must hold two temperatures more than 0.5 K apart. The others are single
        values; they move the level.

    Returns
    -------
    Fit
        Its span is that of all that was observed.

    Raises
    ------
    ValueError
        If no series holds two temperatures.

    Notes
    -----
    Valid as an interpolation only. Each series has one vote on the level, through the mean of its
    offsets from the shape. A step that a series shows with points close to both sides of it (the
    573 Cel inversion of quartz) is kept whole: series with wider gaps are read as running
    alongside it, not straight through it.

    Single values up to ``REACH`` from the series meet the shape continued with its last slope.
    What lies further off (a room value and a furnace curve from 400 Cel) is levelled apart and
    joined by a straight line, since no series says how the property runs between.
    """
    merged = [_means(one) for one in observed]
    if all(len(one.temperatures) == 1 for one in merged):
        raise ValueError("a curve needs one series with two temperatures")
    parts = [_fit_part(part) for part in _parts(merged)]
    return Fit(
        np.concatenate([part.knots for part in parts]),
        np.concatenate([part.levels for part in parts]),
    )


def _means(one: Series) -> Series:
    """Average values of one series at the same temperature, so that it is a function."""
    order = np.argsort(one.temperatures, kind="stable")
    temperatures, values = one.temperatures[order], one.values[order]
    new = np.concatenate([[True], np.diff(temperatures) > _SAME])
    group = np.cumsum(new) - 1
    counts = np.bincount(group)
    return Series(
        np.bincount(group, temperatures) / counts, np.bincount(group, values) / counts, one.weight
    )


def _parts(merged: Sequence[Series]) -> list[list[Series]]:
    """Split what was observed where more than ``REACH`` lies between, lowest first."""
    parts: list[list[Series]] = []
    reached = -np.inf
    for one in sorted(merged, key=lambda one: float(one.temperatures[0])):
        if one.temperatures[0] > reached + REACH:
            parts.append([])
        parts[-1].append(one)
        reached = max(reached, float(one.temperatures[-1]))
    return parts


def _fit_part(part: Sequence[Series]) -> Fit:
    """Fit what lies within reach of each other: one shape, one level."""
    every = np.sort(np.concatenate([one.temperatures for one in part]))
    knots = every[np.concatenate([[True], np.diff(every) > _SAME])]
    shape = Fit(knots, _shape(part, knots))
    offsets = [float(np.mean(one.values - shape(one.temperatures))) for one in part]
    level = float(np.average(offsets, weights=[one.weight for one in part]))
    return Fit(knots, shape.levels + level)


def _shape(part: Sequence[Series], knots: FloatArray) -> FloatArray:
    """Add up the rises from knot to knot: steps as they are shown, between them mean slopes.

    Between the steps a series rises by what is left of its rise once the steps are taken out of
    it, so that one with no points near a step is not read as a slope across it.
    """
    if len(knots) == 1:
        return np.zeros(1)
    lengths = np.diff(knots)
    steps = _step_rises(part, knots)
    is_step = ~np.isnan(steps)
    base = _summed(np.where(is_step, steps, 0.0))
    clock = _summed(np.where(is_step, 0.0, lengths))  # stands still in a step
    rise = _mean_rise(part, knots, clock, base)
    rise = _continued(np.where(is_step, np.nan, rise), lengths)
    return base + _summed(np.where(is_step, 0.0, rise))


def _summed(rises: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(rises)])


def _step_rises(part: Sequence[Series], knots: FloatArray) -> FloatArray:
    """Give the mean rise in each stretch that belongs to a step, NaN in the others.

    On a step only the series that show it have a say.
    """
    shown = [_shows_step(one, knots) for one in part]
    is_step = np.any(shown, axis=0)
    found = np.full(len(is_step), np.nan)
    ends = np.flatnonzero(np.diff(np.concatenate([[False], is_step, [False]])))
    for start, stop in zip(ends[::2], ends[1::2], strict=True):
        members = [one for one, here in zip(part, shown, strict=True) if here[start:stop].any()]
        rises = _mean_rise(members, knots, knots, np.zeros_like(knots))
        found[start:stop] = rises[start:stop]
    return found


def _shows_step(one: Series, knots: FloatArray) -> NDArray[np.bool_]:
    """Tell in which stretches a series shows a step: close points and a steep rise."""
    gaps, rises = np.diff(one.temperatures), np.diff(one.values)
    if len(gaps) < 2:  # noqa: PLR2004 - with one rise there is nothing to be steeper than
        return np.zeros(len(knots) - 1, dtype=bool)
    usual = np.abs(rises).sum() / gaps.sum()
    steep = (gaps <= _CLOSE) & (np.abs(rises) > _STEEP * (1 + 1e-6) * usual * gaps)
    middles = (knots[:-1] + knots[1:]) / 2
    after = np.searchsorted(one.temperatures, middles)
    inside = (after > 0) & (after < len(one.temperatures))
    shown: NDArray[np.bool_] = inside & steep[np.where(inside, after - 1, 0)]
    return shown


def _mean_rise(
    part: Sequence[Series], knots: FloatArray, clock: FloatArray, base: FloatArray
) -> FloatArray:
    """Average the rises above ``base`` over the stretches between knots; NaN where none runs.

    A series runs through a stretch if two of its points lie to both sides of it; it then rises
    evenly from the one to the other by ``clock``.
    """
    middles = (knots[:-1] + knots[1:]) / 2
    rise, total = np.zeros(len(middles)), np.zeros(len(middles))
    for one in part:
        above = one.values - np.interp(one.temperatures, knots, base)
        times = np.interp(one.temperatures, knots, clock)
        after = np.searchsorted(one.temperatures, middles)
        runs = (after > 0) & (after < len(one.temperatures))
        before, after = np.where(runs, after - 1, 0), np.where(runs, after, 0)
        taken = times[after] - times[before]
        slope = np.divide(
            above[after] - above[before], taken, out=np.zeros_like(taken), where=taken > 0
        )
        rise += np.where(runs, one.weight * slope * np.diff(clock), 0.0)
        total += np.where(runs, one.weight, 0.0)
    return floats(np.divide(rise, total, out=np.full(len(middles), np.nan), where=total > 0))


def _continued(rise: FloatArray, lengths: FloatArray) -> FloatArray:
    """Fill stretches no series runs through with the slope of the nearest one that does."""
    known = np.flatnonzero(~np.isnan(rise))
    if len(known) == 0:
        return np.zeros_like(rise)
    places = np.arange(len(rise))
    nearest = known[np.argmin(np.abs(places[:, None] - known[None, :]), axis=1)]
    return floats(np.where(np.isnan(rise), rise[nearest] / lengths[nearest] * lengths, rise))
