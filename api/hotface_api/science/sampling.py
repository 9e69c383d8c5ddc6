"""Seeded draws, what they spread to, whom to blame, and learning from a measurement."""

import hashlib
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, positive
from hotface_api.science._ensemble import ensemble_update, rank_shares
from hotface_api.science.statistics import normal_quantile

__all__ = [
    "Quantiles",
    "ensemble_update",
    "normals",
    "quantiles",
    "rank_shares",
    "stream",
    "two_piece_fraction",
    "two_piece_lognormal",
    "two_piece_normal",
    "uniforms",
]


def stream(seed: int, name: str) -> np.random.Generator:
    """Random generator of its own for a named input.

    Parameters
    ----------
    seed : int
        Seed of the whole estimate, zero or above.
    name : str
        Name of the input; another name gives an independent stream.

    Returns
    -------
    numpy.random.Generator
        Generator that depends on seed and name only, on every platform.

    Raises
    ------
    ValueError
        If the seed is negative.

    Notes
    -----
    An input added to or taken from a mix leaves the draws of all others as they were.
    """
    if seed < 0:
        raise ValueError("seed must be zero or above")
    digest = hashlib.sha256(name.encode()).digest()
    words = [int.from_bytes(digest[start : start + 4], "little") for start in range(0, 32, 4)]
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, *words])))


def normals(seed: int, name: str, size: int | tuple[int, ...]) -> FloatArray:
    """Draw standard normals for a named input.

    Parameters
    ----------
    seed : int
        Seed of the whole estimate, zero or above.
    name : str
        Name of the input.
    size : int or tuple of int
        Shape of the draws.

    Returns
    -------
    ndarray, shape `size`
        Draws [-].

    Raises
    ------
    ValueError
        If the seed is negative.

    Notes
    -----
    Made from the raw bits of the stream, whose values NumPy promises not to change, by the normal
    quantile: the same in every version.
    """
    return normal_quantile(uniforms(seed, name, size))


def uniforms(seed: int, name: str, size: int | tuple[int, ...]) -> FloatArray:
    """Draw uniforms for a named input, above 0 and below 1.

    Parameters
    ----------
    seed : int
        Seed of the whole estimate, zero or above.
    name : str
        Name of the input.
    size : int or tuple of int
        Shape of the draws.

    Returns
    -------
    ndarray, shape `size`
        Draws [-].

    Raises
    ------
    ValueError
        If the seed is negative.

    Notes
    -----
    Made from the raw bits of the stream, whose values NumPy promises not to change.
    """
    count = int(np.prod(size, dtype=np.int64))
    bits = stream(seed, name).bit_generator.random_raw(count)
    whole = (np.asarray(bits, dtype=np.uint64) >> np.uint64(12)).astype(np.float64)
    return ((whole + 0.5) * 2.0**-52).reshape(size)


def two_piece_lognormal(
    low: ArrayLike,
    typical: ArrayLike | None,
    high: ArrayLike,
    normals: ArrayLike,
    coverage: float = 0.9,
) -> FloatArray:
    """Draws of a positive quantity with a typical value and a range, log-normal on each side.

    Parameters
    ----------
    low, high : array_like
        Ends that hold `coverage` of the draws between them, above zero; both 0 draws 0.
    typical : array_like or None
        Median, ``low <= typical <= high``; None or NaN is ``sqrt(low * high)``.
    normals : array_like
        Standard normal draws; shapes broadcast.
    coverage : float
        Chance to fall between `low` and `high`, above 0 and below 1.

    Returns
    -------
    ndarray
        Draws, in the unit of the ends.

    Raises
    ------
    ValueError
        If the ends are not in order, not above zero or not finite.

    Notes
    -----
    Equal ends draw that value. Each side has its own width, so the density has a step at the
    median unless `typical` is the geometric mean.

    Examples
    --------
    >>> [round(float(x), 6) for x in two_piece_lognormal(1.0, 2.0, 8.0, [-1.6448536, 0, 1.6448536])]
    [1.0, 2.0, 8.0]
    """
    bottom, top = floats(low), floats(high)
    nothing = (bottom == 0) & (top == 0)
    logs = np.log(positive(np.where(nothing, 1.0, bottom), "low"))
    upper = np.log(positive(np.where(nothing, 1.0, top), "high"))
    middle = None
    if typical is not None:
        given = np.where(nothing & (floats(typical) == 0), 1.0, floats(typical))
        middle = np.log(positive(given, "typical"))
    drawn = np.exp(_two_piece(logs, middle, upper, normals, coverage))
    return np.where(nothing, 0.0, drawn)


def two_piece_normal(
    low: ArrayLike,
    typical: ArrayLike | None,
    high: ArrayLike,
    normals: ArrayLike,
    coverage: float = 0.9,
) -> FloatArray:
    """Draws of a quantity of either sign, normal on each side of its typical value.

    Parameters
    ----------
    low, high : array_like
        Ends that hold `coverage` of the draws between them.
    typical : array_like or None
        Median, ``low <= typical <= high``; None or NaN is the middle.
    normals : array_like
        Standard normal draws; shapes broadcast.
    coverage : float
        Chance to fall between `low` and `high`, above 0 and below 1.

    Returns
    -------
    ndarray
        Draws, in the unit of the ends.

    Raises
    ------
    ValueError
        If the ends are not in order.

    Notes
    -----
    For changes of length and expansions, which may be negative or zero.
    """
    middle = None if typical is None else floats(typical)
    return _two_piece(floats(low), middle, floats(high), normals, coverage)


def two_piece_fraction(
    low: ArrayLike,
    typical: ArrayLike | None,
    high: ArrayLike,
    normals: ArrayLike,
    coverage: float = 0.9,
) -> FloatArray:
    """Draws of a share that stays above 0 and below 1: normal on each side of its logit.

    Parameters
    ----------
    low, high : array_like
        Ends that hold `coverage` of the draws between them, above 0 and below 1 [-].
    typical : array_like or None
        Median, ``low <= typical <= high``; None or NaN is the middle of the logits.
    normals : array_like
        Standard normal draws; shapes broadcast.
    coverage : float
        Chance to fall between `low` and `high`, above 0 and below 1.

    Returns
    -------
    ndarray
        Draws [-].

    Raises
    ------
    ValueError
        If the ends are not in order or not inside 0 to 1.

    Notes
    -----
    For void shares, emissivities and the like. With the void share drawn, no loose density passes
    its particle density.
    """
    middle = None if typical is None else _logit(typical, "typical")
    drawn = _two_piece(_logit(low, "low"), middle, _logit(high, "high"), normals, coverage)
    return 1.0 / (1.0 + np.exp(-drawn))


def _logit(values: ArrayLike, name: str) -> FloatArray:
    share = checked(values, name, np.nextafter(0.0, 1.0), np.nextafter(1.0, 0.0))
    return floats(np.log(share) - np.log1p(-share))


def _two_piece(
    low: FloatArray,
    middle: FloatArray | None,
    high: FloatArray,
    draws: ArrayLike,
    coverage: float,
) -> FloatArray:
    """Draws on a scale where each side of the median is normal."""
    centre = (low + high) / 2.0
    if middle is not None:
        centre = np.where(np.isnan(middle), centre, middle)
    slack = 1e-12 * (np.abs(low) + np.abs(high))
    if np.any(low > centre + slack) or np.any(centre > high + slack):
        raise ValueError("a range must be in order: low, typical, high")
    reach = normal_quantile(0.5 + coverage / 2.0)
    step = floats(draws)
    width = np.where(step < 0, np.maximum(centre - low, 0.0), np.maximum(high - centre, 0.0))
    return floats(centre + width / reach * step)


class Quantiles(NamedTuple):
    """Ends and middle of a set of draws.

    Attributes
    ----------
    low, typical, high : ndarray
        Lower end, median and upper end.
    """

    low: FloatArray
    typical: FloatArray
    high: FloatArray


def quantiles(draws: ArrayLike, coverage: float = 0.9, axis: int = 0) -> Quantiles:
    """Interval of equal tails and the median of a set of draws.

    Parameters
    ----------
    draws : array_like
        Draws, along `axis`.
    coverage : float
        Share of the draws between the ends, above 0 and below 1.
    axis : int
        Axis of the draws.

    Returns
    -------
    Quantiles
        Low, typical and high without that axis; NaN where a draw is NaN.

    Raises
    ------
    ValueError
        If the coverage is not inside 0 to 1.
    """
    tail = float(checked(coverage, "coverage", 0.0, 1.0)) / 2.0
    found = np.quantile(floats(draws), [0.5 - tail, 0.5, 0.5 + tail], axis=axis)
    return Quantiles(found[0], found[1], found[2])
