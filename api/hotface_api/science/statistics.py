"""Quantiles, and the interval to expect from a few disagreeing origins."""

import math
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, not_negative, positive, total

NORMAL_PER_MAD = 1.482602218505602
"""Standard deviation of a normal distribution over its median absolute deviation."""

NORMAL_PER_MEAN_DEVIATION = math.sqrt(math.pi / 2.0)
"""Standard deviation of a normal distribution over its mean absolute deviation."""

_LARGEST_DOF = 1e6
_NEWTON_STEPS = 40
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


def normal_quantile(p: ArrayLike) -> FloatArray:
    """Quantile of the standard normal distribution.

    Parameters
    ----------
    p : array_like
        Probability, above 0 and below 1.

    Returns
    -------
    ndarray
        Quantile [-].

    Raises
    ------
    ValueError
        If a probability is not inside 0 to 1.

    Notes
    -----
    To about 1e-15 of itself: the standard library's, element by element.

    Examples
    --------
    >>> round(float(normal_quantile(0.95)), 6)
    1.644854
    """
    chance = _probability(p)
    quantile = NormalDist().inv_cdf
    found = [math.nan if math.isnan(each) else quantile(each) for each in chance.flat]
    return np.array(found, dtype=np.float64).reshape(chance.shape)


def student_t_quantile(p: ArrayLike, dof: ArrayLike) -> FloatArray:
    r"""Quantile of Student's t distribution.

    Parameters
    ----------
    p : array_like
        Probability, above 0 and below 1.
    dof : array_like
        Degrees of freedom, 1 or more, need not be whole; above 1e6 counts as 1e6.

    Returns
    -------
    ndarray
        Quantile [-].

    Raises
    ------
    ValueError
        If a probability is not inside 0 to 1 or the degrees of freedom are below 1.

    Notes
    -----
    With :math:`t = \sqrt{\nu} \tan\theta` the distribution is an integral of
    :math:`\cos^{\nu-1}\theta`, taken by Gauss-Legendre quadrature. It is concave in
    :math:`\theta`, so Newton's method from the normal quantile converges from below. Agrees with a
    reference library to 1e-6 of itself (1e-5 below 2 degrees) for p from 1e-4 to 1 - 1e-4; further
    out the digits thin, to 1e-4 at 1e-10 for up to 30 degrees.

    Examples
    --------
    >>> round(float(student_t_quantile(0.95, 4.0)), 5)
    2.13185
    """
    chance, freedom = np.broadcast_arrays(_probability(p), floats(dof))
    if np.any(freedom < 1):
        raise ValueError("dof must be 1 or more")
    freedom = np.minimum(freedom, _LARGEST_DOF)
    upper = np.maximum(chance, 1.0 - chance)
    scale = np.exp(_log_gamma((freedom + 1.0) / 2.0) - _log_gamma(freedom / 2.0))
    target = (upper - 0.5) * math.sqrt(math.pi) / scale
    angle = np.arctan(normal_quantile(upper) / np.sqrt(freedom))
    for _ in range(_NEWTON_STEPS):
        missing = target - _cosine_power_integral(angle, freedom - 1.0)
        angle = angle + missing / np.cos(angle) ** (freedom - 1.0)
    return floats(np.sign(chance - 0.5) * np.sqrt(freedom) * np.tan(angle))


def _cosine_power_integral(angle: FloatArray, power: FloatArray) -> FloatArray:
    """Integral of ``cos(x)**power`` from 0 to `angle`."""
    half = angle[..., None] / 2.0
    return floats(angle / 2.0 * total(_WEIGHTS * np.cos(half * (1.0 + _NODES)) ** power[..., None]))


def _log_gamma(values: FloatArray) -> FloatArray:
    found = [math.lgamma(each) for each in values.flat]
    return np.array(found, dtype=np.float64).reshape(values.shape)


def _probability(p: ArrayLike) -> FloatArray:
    return checked(p, "probability", np.nextafter(0.0, 1.0), np.nextafter(1.0, 0.0))


class Interval(NamedTuple):
    """What to expect from a further origin.

    Attributes
    ----------
    low, typical, high : ndarray, shape (...)
        Ends and middle, in the unit of the centres.
    """

    low: FloatArray
    typical: FloatArray
    high: FloatArray


def weighted_interval(
    centres: ArrayLike,
    half_widths: ArrayLike,
    weights: ArrayLike,
    spread_floor: ArrayLike,
    coverage: ArrayLike = 0.9,
    prior_dof: ArrayLike = 4.0,
) -> Interval:
    r"""Interval that a further origin should fall in, linear scale.

    Parameters
    ----------
    centres : array_like, shape (..., n)
        Middle of what each origin says.
    half_widths : array_like, shape (..., n)
        Half of the range each origin gives, 0 for a single figure; same unit.
    weights : array_like, shape (..., n)
        Weight of each origin, zero or above, not all zero.
    spread_floor : array_like, shape (...)
        Standard deviation between origins that is assumed at least, above zero; same unit.
    coverage : array_like, shape (...)
        Chance to fall inside, above 0 and below 1.
    prior_dof : array_like, shape (...)
        How many origins' worth of belief the floor carries, 1 or more.

    Returns
    -------
    Interval
        Low, typical and high.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    The middle is the weighted mean :math:`\bar c`. With :math:`n_e = (\sum w)^2 / \sum w^2`
    effective origins and floor :math:`f`, the variance between origins is

    .. math:: s^2 = \max\left(f^2,
        \frac{\nu_0 f^2 + (n_e - 1)\, \hat s^2}{\nu_0 + n_e - 1}\right), \quad
        \hat s^2 = \frac{n_e}{n_e - 1} \frac{\sum w (c - \bar c)^2}{\sum w}

    The variance for a further origin is :math:`s^2 (1 + 1/n_e)` plus the mean of
    :math:`h^2/3`, the variance inside an origin's range taken as uniform. The ends are a t quantile
    with :math:`\nu_0 + n_e - 1` degrees of freedom away. One origin has the full width of the
    floor; agreement never narrows it below. Our own model; the floor is what has to be justified.
    """
    centre, half, weight = np.broadcast_arrays(
        floats(centres), not_negative(half_widths, "half_widths"), not_negative(weights, "weights")
    )
    if centre.ndim == 0 or np.any(total(weight) <= 0):
        raise ValueError("an interval needs a last axis of origins and a weight above zero")
    floor = positive(spread_floor, "spread_floor") ** 2
    prior = checked(prior_dof, "prior_dof", 1.0, np.inf)
    share = weight / total(weight)[..., None]
    # n_e - 1 as a sum of w_i (1 - w_i) / sum w^2: exactly zero for one origin.
    squared = total(share**2)
    further = total(share * (1.0 - share)) / squared
    middle = total(share * centre)
    scatter = (further + 1.0) * total(share * (centre - middle[..., None]) ** 2)
    between = np.maximum(floor, (prior * floor + scatter) / (prior + further))
    within = total(share * half**2) / 3.0
    spread = np.sqrt(between * (1.0 + squared) + within)
    tail = student_t_quantile(0.5 + _probability(coverage) / 2.0, prior + further)
    reach = tail * spread
    return Interval(floats(middle - reach), middle, floats(middle + reach))


def weighted_log_interval(
    centres: ArrayLike,
    half_widths: ArrayLike,
    weights: ArrayLike,
    spread_floor: ArrayLike,
    coverage: ArrayLike = 0.9,
    prior_dof: ArrayLike = 4.0,
) -> Interval:
    """Interval that a further origin should fall in, log scale.

    Parameters
    ----------
    centres : array_like, shape (..., n)
        Middle of what each origin says, above zero; of a range ``sqrt(low * high)``.
    half_widths : array_like, shape (..., n)
        Half of the log of each range, ``ln(high / low) / 2``, 0 for a single figure [-].
    weights : array_like, shape (..., n)
        Weight of each origin, zero or above, not all zero.
    spread_floor : array_like, shape (...)
        Standard deviation of the log between origins assumed at least, above zero [-].
    coverage : array_like, shape (...)
        Chance to fall inside, above 0 and below 1.
    prior_dof : array_like, shape (...)
        How many origins' worth of belief the floor carries, 1 or more.

    Returns
    -------
    Interval
        Low, typical and high, in the unit of the centres.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    `weighted_interval` of the logarithms; typical is the weighted geometric mean.

    Examples
    --------
    >>> one = weighted_log_interval([0.3], [0.0], [1.0], spread_floor=0.1)
    >>> [round(float(end), 3) for end in one]
    [0.222, 0.3, 0.406]
    """
    logs = np.log(positive(centres, "centres"))
    found = weighted_interval(logs, half_widths, weights, spread_floor, coverage, prior_dof)
    return Interval(*(np.exp(end) for end in found))


def robust_scores(values: ArrayLike) -> FloatArray:
    """How far each value stands out, in robust standard deviations.

    Parameters
    ----------
    values : array_like, shape (..., n)
        Values, on the scale on which they should be alike; logarithms as a rule.

    Returns
    -------
    ndarray, shape (..., n)
        ``(value - median) / (1.4826 MAD)`` [-]; 0 for all if they are all equal.

    Notes
    -----
    Meant for 8 origins or more; fewer say little. If more than half the values are equal the
    median deviation is zero and the mean deviation stands in.
    """
    array = floats(values)
    away = array - np.median(array, axis=-1, keepdims=True)
    size = np.abs(away)
    typical = NORMAL_PER_MAD * np.median(size, axis=-1, keepdims=True)
    mean = NORMAL_PER_MEAN_DEVIATION * np.mean(size, axis=-1, keepdims=True)
    scale = np.where(typical > 0, typical, mean)
    return np.divide(away, scale, out=np.zeros_like(away), where=scale > 0)
