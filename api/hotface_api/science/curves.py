"""One curve over temperature from series and single values of several origins.

Series and single values disagree mostly in level, much less in shape. So the shape is pooled from
the slopes of the series and the level from everything. Averaging slopes instead of values keeps
the curve whole where a series begins or ends.
"""

from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, floats, not_negative

Series: TypeAlias = tuple[ArrayLike, ArrayLike, float]
"""Temperatures [K], log values and weight of one origin's curve."""

Singles: TypeAlias = tuple[ArrayLike, ArrayLike, ArrayLike]
"""Temperatures [K], log values and weights of single values, one origin each."""


class Curve(NamedTuple):
    """A piecewise linear curve and how far each origin is from it.

    Attributes
    ----------
    temperatures : ndarray, shape (knots,)
        Knots, rising [K].
    log_values : ndarray, shape (knots,)
        Log values at the knots.
    residuals : ndarray, shape (origins,)
        Mean of log value less curve for each series, then each single value.
    """

    temperatures: FloatArray
    log_values: FloatArray
    residuals: FloatArray


def pooled_curve(series: Sequence[Series], singles: Singles | None = None) -> Curve:
    """Fit one curve to series and single values.

    Parameters
    ----------
    series : sequence of (temperatures, log values, weight)
        Curves of at least two different temperatures each, any order of points [K].
    singles : (temperatures, log values, weights), optional
        Values without a curve of their own.

    Returns
    -------
    Curve
        Knots at every temperature given.

    Raises
    ------
    ValueError
        If there is no series, a series has one temperature only, lengths differ, a value is not
        finite, a weight is negative or all weights are zero.

    Notes
    -----
    Between two knots the slope is the weighted mean over the series that run there. Where none
    runs it is the mean slope of all stretches that are covered, lessened where the uncovered
    stretch is longer than the covered one so that the change over it is no larger. The level is
    the weighted mean over origins, a series counting once with the mean of its points. A single
    series without single values is reproduced exactly, steps included. Repeated temperatures of a
    series are averaged. Works as well on values that are not logs.
    Our own construction; piecewise linear in (T, log value).
    """
    lines = [_sorted(*each) for each in series]
    if not lines:
        raise ValueError("a curve needs at least one series; single values have no shape")
    at, values, weights = _points(singles)
    knots = np.unique(np.concatenate([*(line[0] for line in lines), at]))
    shape = _shape(knots, lines)
    offsets = [float(np.mean(line[1] - np.interp(line[0], knots, shape))) for line in lines]
    votes = np.concatenate([np.array([line[2] for line in lines]), weights])
    away = np.concatenate([np.array(offsets), values - np.interp(at, knots, shape)])
    level = float(np.sum(votes * away) / np.sum(votes))
    return Curve(knots, shape + level, away - level)


def curve_at(curve: Curve, at: ArrayLike) -> FloatArray:
    """Log value of a curve at given temperatures.

    Parameters
    ----------
    curve : Curve
        From `pooled_curve`.
    at : array_like
        Temperatures [K].

    Returns
    -------
    ndarray
        Log values; NaN outside the knots.
    """
    kelvin = floats(at)
    found = np.interp(kelvin, curve.temperatures, curve.log_values, left=np.nan, right=np.nan)
    return floats(found)


def fit_curve(series: Sequence[Series], singles: Singles | None, at: ArrayLike) -> FloatArray:
    """Log value at given temperatures, pooled from series and single values.

    Parameters
    ----------
    series : sequence of (temperatures, log values, weight)
        Curves of at least two different temperatures each [K].
    singles : (temperatures, log values, weights) or None
        Values without a curve of their own.
    at : array_like
        Temperatures [K].

    Returns
    -------
    ndarray
        Log values; NaN outside the span of all evidence.

    Raises
    ------
    ValueError
        As `pooled_curve`.

    Notes
    -----
    `pooled_curve` and `curve_at` in one call.

    Examples
    --------
    >>> one = ([300.0, 900.0], [0.0, 0.6], 1.0)
    >>> [round(float(y), 3) for y in fit_curve([one], ([300.0], [0.2], [1.0]), [300.0, 600.0])]
    [0.1, 0.4]
    """
    return curve_at(pooled_curve(series, singles), at)


def integral_mean(temperatures: ArrayLike, values: ArrayLike) -> FloatArray:
    r"""Mean of a property over a temperature span, as a steady heat flow sees it.

    .. math:: \bar y = \frac{1}{T_n - T_1} \int_{T_1}^{T_n} y\, dT

    Parameters
    ----------
    temperatures : array_like, shape (m,)
        Temperatures, rising, two or more [K].
    values : array_like, shape (..., m)
        The property at them; linear in between.

    Returns
    -------
    ndarray, shape (...)
        Mean, in the unit of the values.

    Raises
    ------
    ValueError
        If the temperatures do not rise.

    Notes
    -----
    A wall's heat flow is this mean of the conductivity times the difference over the thickness.
    The conductivity at the mean temperature was 8 % low on a cubic one.
    """
    kelvin = floats(temperatures)
    if kelvin.ndim != 1 or kelvin.size <= 1 or np.any(np.diff(kelvin) <= 0):
        raise ValueError("temperatures must be two or more, rising")
    area = np.trapezoid(floats(values), kelvin, axis=-1)
    return floats(area / (kelvin[-1] - kelvin[0]))


_Line: TypeAlias = tuple[FloatArray, FloatArray, float]


def _sorted(temperatures: ArrayLike, values: ArrayLike, weight: float) -> _Line:
    """Check a series; sort it and average what repeats."""
    kelvin, value, _ = _points((temperatures, values, np.full(np.shape(temperatures), weight)))
    knots, place, count = np.unique(kelvin, return_inverse=True, return_counts=True)
    if knots.size <= 1:
        raise ValueError("a series needs at least two different temperatures")
    return knots, floats(np.bincount(place, weights=value) / count), float(weight)


def _points(points: Singles | None) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Check points: three finite arrays of one length."""
    given: Singles = ([], [], []) if points is None else points
    kelvin, value, weight = (np.atleast_1d(floats(each)) for each in given)
    if not kelvin.shape == value.shape == weight.shape or kelvin.ndim != 1:
        raise ValueError("temperatures, log values and weights must be of one length")
    if not (np.all(np.isfinite(kelvin)) and np.all(np.isfinite(value))):
        raise ValueError("temperatures and log values must be finite")
    return kelvin, value, not_negative(weight, "weight")


def _shape(knots: FloatArray, lines: Sequence[_Line]) -> FloatArray:
    """Pooled shape at the knots, 0 at the first."""
    steps = np.diff(knots)
    slopes, votes = np.zeros_like(steps), np.zeros_like(steps)
    for kelvin, value, weight in lines:
        runs = (knots[:-1] >= kelvin[0]) & (knots[1:] <= kelvin[-1])
        rise = np.diff(np.interp(knots, kelvin, value)) / steps
        slopes += np.where(runs, weight * rise, 0.0)
        votes += np.where(runs, weight, 0.0)
    covered = votes > 0
    if not np.any(covered):
        raise ValueError("at least one series needs a weight above zero")
    slopes = np.divide(slopes, votes, out=np.zeros_like(slopes), where=covered)
    known, unknown = np.sum(steps[covered]), np.sum(steps[~covered])
    mean = np.sum((slopes * steps)[covered]) / known
    slopes = np.where(covered, slopes, mean * min(1.0, known / max(unknown, known)))
    return np.concatenate([[0.0], np.cumsum(slopes * steps)])
