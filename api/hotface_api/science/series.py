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

__all__ = ["Fit", "Series", "fit_curve"]

FloatArray = NDArray[np.float64]
_SAME: Final = 0.5
"""Temperatures nearer than this, in kelvin, share a knot."""


@dataclass(frozen=True, slots=True)
class Series:
    """Values of one body or one published curve.

    Attributes
    ----------
    temperatures : ndarray, shape (n,)
        Kelvin, ascending; equal temperatures are allowed.
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
        return np.where(inside, found, np.nan)


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


def _knots(series: Sequence[Series]) -> FloatArray:
    every = np.sort(np.concatenate([one.temperatures for one in series]))
    return every[np.concatenate([[True], np.diff(every) > _SAME])]


def _shape(series: Sequence[Series], knots: FloatArray) -> FloatArray:
    """Add up weighted mean rises from knot to knot; a gap no series spans stays level."""
    rise = np.zeros(len(knots) - 1)
    total = np.zeros(len(knots) - 1)
    for one in series:
        at = np.interp(knots, one.temperatures, one.values)
        low, high = one.temperatures[0] - _SAME, one.temperatures[-1] + _SAME
        spans = (knots[:-1] >= low) & (knots[1:] <= high)
        rise += np.where(spans, one.weight * np.diff(at), 0.0)
        total += np.where(spans, one.weight, 0.0)
    steps = np.divide(rise, total, out=np.zeros_like(rise), where=total > 0)
    return np.concatenate([[0.0], np.cumsum(steps)])


def fit_curve(observed: Sequence[Series]) -> Fit:
    """Fit one curve: shape from the series of two or more temperatures, level from all.

    Parameters
    ----------
    observed : sequence of Series
        At least one must hold two temperatures more than 0.5 K apart. The others (single values)
        move the level where they lie inside the span of the series.

    Returns
    -------
    Fit
        Its span is that of the series of two or more temperatures.

    Raises
    ------
    ValueError
        If no series holds two temperatures.

    Notes
    -----
    Valid as an interpolation only. Each series has one vote on the level, through the mean of its
    offsets from the shape.
    """
    merged = [_means(one) for one in observed]
    curves = [one for one in merged if len(one.temperatures) > 1]
    if not curves:
        raise ValueError("a curve needs one series with two temperatures")
    knots = _knots(curves)
    fit = Fit(knots, _shape(curves, knots))
    offsets, weights = [], []
    for one in merged:
        gap = one.values - fit(one.temperatures)
        if not np.all(np.isnan(gap)):
            offsets.append(float(np.nanmean(gap)))
            weights.append(one.weight)
    level = float(np.average(offsets, weights=weights))
    return Fit(knots, fit.levels + level)
