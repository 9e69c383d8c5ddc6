"""Is one result different from others: standard uncertainties, E_n, robust mean and score."""

import math
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, not_negative, positive

__all__ = ["Robust", "e_n", "limits_uncertainty", "robust_mean", "robust_z"]

_WINSOR = 1.5
_STEPS = 200
_CLOSE = 1e-12
_DIVISORS = {"rectangular": math.sqrt(3.0), "triangular": math.sqrt(6.0)}


def limits_uncertainty(half_width: ArrayLike, distribution: str = "rectangular") -> FloatArray:
    r"""Give the standard uncertainty of a quantity known only to lie within limits.

    Parameters
    ----------
    half_width : array_like
        Half of the distance between the limits, zero or above, in the unit of the quantity.
    distribution : str
        ``rectangular`` where every value between the limits is as likely; ``triangular`` where
        those near the middle are likelier.

    Returns
    -------
    ndarray
        Standard uncertainty, in the unit of the quantity.

    Raises
    ------
    ValueError
        If the half width is negative or the distribution is another one.

    Notes
    -----
    Type B evaluation: :math:`u = a/\sqrt{3}` (rectangular) and :math:`u = a/\sqrt{6}`
    (triangular), JCGM 100:2008, 4.3.7 and 4.3.9.

    Examples
    --------
    The thermal expansion coefficient of copper, known to 0.40e-6 1/K (JCGM 100:2008, 4.3.7):

    >>> float(round(limits_uncertainty(0.40e-6) * 1e6, 2))
    0.23
    """
    if distribution not in _DIVISORS:
        raise ValueError("distribution must be rectangular or triangular")
    return floats(not_negative(half_width, "half_width") / _DIVISORS[distribution])


def e_n(
    first: ArrayLike, second: ArrayLike, first_expanded: ArrayLike, second_expanded: ArrayLike
) -> FloatArray:
    r"""Difference of two results over what their uncertainties allow.

    Parameters
    ----------
    first, second : array_like
        Two results, same unit.
    first_expanded, second_expanded : array_like
        Their expanded uncertainties (coverage factor 2), not both zero; same unit.

    Returns
    -------
    ndarray
        :math:`E_n` [-]; at most 1 says that the results agree within their uncertainties.

    Raises
    ------
    ValueError
        If an uncertainty is negative or both are zero.

    Notes
    -----
    :math:`E_n = |x_1 - x_2| / \sqrt{U_1^2 + U_2^2}`, for results that share no common error;
    ISO 13528.

    Examples
    --------
    >>> float(e_n(10.0, 13.0, 3.0, 4.0))
    0.6
    """
    allowed = np.hypot(
        not_negative(first_expanded, "first_expanded"),
        not_negative(second_expanded, "second_expanded"),
    )
    return floats(np.abs(floats(first) - floats(second)) / positive(allowed, "uncertainty"))


class Robust(NamedTuple):
    """A robust mean and standard deviation, in the unit of the results."""

    mean: float
    spread: float


def robust_mean(values: ArrayLike) -> Robust:
    r"""Mean and standard deviation that a few stray results hardly move.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, two or more.

    Returns
    -------
    Robust
        Mean and standard deviation; the latter 0 where more than half the results are equal.

    Raises
    ------
    ValueError
        If there are fewer than two results.

    Notes
    -----
    Algorithm A of ISO 5725-5 and ISO 13528: from median and scaled median deviation, results
    farther than :math:`\delta = 1.5 s^*` from :math:`x^*` are drawn in to :math:`x^* \pm \delta`,
    mean and standard deviation taken anew (the latter times the factor that makes it right for
    normal results, 1.134 as printed; here to full precision), until nothing moves. It is Huber's
    proposal 2. Breaks down when more than about a quarter of the results stray.

    Examples
    --------
    >>> found = robust_mean([9.8, 10.0, 10.1, 10.2, 30.0])
    >>> round(found.mean, 2), round(found.spread, 2)
    (10.23, 0.38)
    """
    array = floats(values).ravel()
    if array.size < 2:  # noqa: PLR2004 - a spread needs two
        raise ValueError("a robust mean needs two results or more")
    mean = float(np.median(array))
    spread = float(np.median(np.abs(array - mean))) / NormalDist().inv_cdf(0.75)
    factor = _winsor_factor()
    for _ in range(_STEPS):
        if spread == 0.0:
            break
        drawn = np.clip(array, mean - _WINSOR * spread, mean + _WINSOR * spread)
        before = spread
        mean, spread = float(np.mean(drawn)), factor * float(np.std(drawn, ddof=1))
        if abs(spread - before) <= _CLOSE * spread:
            break
    return Robust(mean, spread)


def _winsor_factor() -> float:
    """Give one over the standard deviation of a normal variable drawn in to 1.5 of its own."""
    normal = NormalDist()
    inside = 2.0 * normal.cdf(_WINSOR) - 1.0
    variance = inside + _WINSOR**2 * (1.0 - inside) - 2.0 * _WINSOR * normal.pdf(_WINSOR)
    return 1.0 / math.sqrt(variance)


def robust_z(value: ArrayLike, centre: ArrayLike, spread: ArrayLike) -> FloatArray:
    """How many standard deviations a result lies from the rest.

    Parameters
    ----------
    value : array_like
        The result.
    centre : array_like
        Robust mean of the others, same unit.
    spread : array_like
        Their robust standard deviation, above zero; same unit.

    Returns
    -------
    ndarray
        z score [-]. ISO 13528 calls up to 2 satisfactory, 3 or more unsatisfactory.

    Raises
    ------
    ValueError
        If the spread is not above zero.

    Examples
    --------
    >>> float(robust_z(12.0, 10.0, 0.5))
    4.0
    """
    scale = checked(spread, "spread", np.nextafter(0.0, 1.0), np.inf)
    return floats((floats(value) - floats(centre)) / scale)
