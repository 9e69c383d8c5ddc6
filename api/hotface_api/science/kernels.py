"""Inner loops of the mixture rules: no checks, phases given one by one, closed forms.

`conductivity` has the same rules with checks and phases on the last axis. Here every phase is an
array of its own, so that shares of shape (draws,) and conductivities of shape (temperatures,
draws) meet without being copied into one block. Callers pass shares that sum to one and
conductivities above zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "pair_differential",
    "pair_effective",
    "pair_maxwell",
    "parallel",
    "rank_scores",
    "referenced",
    "series",
    "spread_differential",
]

FloatArray = NDArray[np.float64]
_NEWTON_STEPS: Final = 5
_RUNGE_KUTTA_STEPS: Final = 12


def referenced(
    shares: Sequence[FloatArray], values: Sequence[FloatArray], reference: FloatArray
) -> FloatArray:
    r"""Mean of the phases with weights ``share / (k + 2 reference)``.

    .. math:: \frac{1}{k + 2 k_r} = \sum_i \frac{\varphi_i}{k_i + 2 k_r}

    Parameters
    ----------
    shares, values : sequence of ndarray
        Volume share and conductivity of each phase [-], [W/(m.K)].
    reference : ndarray
        Host for Maxwell's rule, smallest or largest of the phases for the bounds [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Notes
    -----
    Source as `conductivity.maxwell` and `conductivity.hashin_shtrikman_lower`.
    """
    twice = 2.0 * reference
    below: FloatArray | float = 0.0
    above: FloatArray | float = 0.0
    for share, value in zip(shares, values, strict=True):
        weight = share / (value + twice)
        below = below + weight
        above = above + weight * value
    return np.asarray(above / below)


def parallel(shares: Sequence[FloatArray], values: Sequence[FloatArray]) -> FloatArray:
    """Volume mean: layers along the heat flow; see `conductivity.wiener_parallel`.

    Parameters
    ----------
    shares, values : sequence of ndarray
        Volume share and conductivity of each phase [-], [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].
    """
    products = [share * value for share, value in zip(shares, values, strict=True)]
    return np.asarray(sum(products[1:], products[0]))


def series(shares: Sequence[FloatArray], values: Sequence[FloatArray]) -> FloatArray:
    """Harmonic mean: layers across the heat flow; see `conductivity.wiener_series`.

    Parameters
    ----------
    shares, values : sequence of ndarray
        Volume share and conductivity of each phase [-], [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].
    """
    parts = [share / value for share, value in zip(shares, values, strict=True)]
    return np.asarray(1.0 / sum(parts[1:], parts[0]))


def pair_maxwell(other_share: FloatArray, host: FloatArray, other: FloatArray) -> FloatArray:
    r"""Separate inclusions of one kind in a host.

    .. math:: k = k_h \frac{2k_h + k_o + 2\varphi(k_o-k_h)}{2k_h + k_o - \varphi(k_o-k_h)}

    Parameters
    ----------
    other_share : ndarray
        Volume share of the inclusions [-].
    host, other : ndarray
        Conductivities [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Examples
    --------
    >>> import numpy as np
    >>> round(float(pair_maxwell(np.array(0.5), np.array(1.0), np.array(0.026))), 6)
    0.418623
    """
    base = 2.0 * host + other
    push = other_share * (other - host)
    return np.asarray(host * (base + 2.0 * push) / (base - push))


def pair_effective(first_share: FloatArray, first: FloatArray, second: FloatArray) -> FloatArray:
    r"""Two phases as grains in their own mixture: the positive root of a quadratic.

    .. math:: k = \frac{b + \sqrt{b^2 + 8 k_1 k_2}}{4}, \quad
        b = (3\varphi_1 - 1) k_1 + (2 - 3\varphi_1) k_2

    Parameters
    ----------
    first_share : ndarray
        Volume share of the first phase [-].
    first, second : ndarray
        Conductivities [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Notes
    -----
    Source as `conductivity.effective_medium`. Where ``b`` is negative the root is taken by its
    conjugate, so that it loses no digits.

    Examples
    --------
    >>> import numpy as np
    >>> round(float(pair_effective(np.array(0.5), np.array(1.0), np.array(0.026))), 6)
    0.299854
    """
    tripled = 3.0 * first_share
    middle = (tripled - 1.0) * first + (2.0 - tripled) * second
    product = first * second
    root = np.sqrt(middle * middle + 8.0 * product)
    total = np.abs(middle) + root
    return np.where(middle >= 0, 0.25 * total, 2.0 * product / total)


def pair_differential(other_share: FloatArray, host: FloatArray, other: FloatArray) -> FloatArray:
    r"""Inclusions of many sizes and one kind: the positive root of a cubic.

    .. math:: x^3 + (r-1)(1-\varphi)\,x - r = 0, \quad r = k_o/k_h,\ x = (k/k_h)^{1/3}

    Parameters
    ----------
    other_share : ndarray
        Volume share of the inclusions [-].
    host, other : ndarray
        Conductivities [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Notes
    -----
    The closed equation of `conductivity.differential` for two phases. Newton's method starts above
    the root, where the cubic is convex, and falls to it; five steps reach the last
    digits for phases up to a factor of 1e6 apart (computed).

    Examples
    --------
    >>> import numpy as np
    >>> round(float(pair_differential(np.array(0.5), np.array(1.0), np.array(0.026))), 6)
    0.378181
    """
    ratio = other / host
    slope = (ratio - 1.0) * (1.0 - other_share)
    cube = np.cbrt(ratio)
    x = np.where(ratio < 1.0, np.sqrt(np.maximum(cube * cube - slope, 0.0)), cube)
    for _ in range(_NEWTON_STEPS):
        square = x * x
        x = (2.0 * square * x + ratio) / (3.0 * square + slope)
    return np.asarray(host * x * x * x)


def spread_differential(
    shares: Sequence[FloatArray],
    values: Sequence[FloatArray],
    host_share: FloatArray,
    host: FloatArray,
    steps: int = _RUNGE_KUTTA_STEPS,
) -> FloatArray:
    """Inclusions of many sizes and several kinds, added in proportion.

    Parameters
    ----------
    shares, values : sequence of ndarray
        Volume share and conductivity of each kind of inclusion [-], [W/(m.K)].
    host_share : ndarray
        Volume share of the host, above zero [-].
    host : ndarray
        Conductivity of the host [W/(m.K)].
    steps : int
        Runge-Kutta steps.

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Notes
    -----
    The equation of `conductivity.differential` in few steps. One kind takes the closed form. With
    12 steps within 1e-4 (6 steps: 2e-3) for inclusions from a fiftieth to fifty times the host and
    a host of at least a tenth (computed).
    """
    if len(shares) == 1:
        return pair_differential(1.0 - host_share, host, values[0])
    added = sum(shares[1:], shares[0])
    inverse = 1.0 / np.maximum(added, 1e-300)
    ratios = [value / host for value in values]
    pulls = [4.5 * share * inverse * ratio for share, ratio in zip(shares, ratios, strict=True)]
    width = -np.log(host_share) / steps
    half, sixth = width / 2.0, width / 6.0
    k = np.ones(np.broadcast_shapes(np.shape(width), *(np.shape(r) for r in ratios)))
    for _ in range(steps):
        one = _growth(pulls, ratios, k)
        two = _growth(pulls, ratios, k + half * one)
        three = _growth(pulls, ratios, k + half * two)
        four = _growth(pulls, ratios, k + width * three)
        k = k + sixth * (one + four + 2.0 * (two + three))
    return np.asarray(host * k)


def _growth(pulls: Sequence[FloatArray], ratios: Sequence[FloatArray], k: FloatArray) -> FloatArray:
    """Slope of k over ``-ln(host share)``, both as ratios to the host."""
    twice = 2.0 * k
    pull = pulls[0] / (ratios[0] + twice)
    for each, ratio in zip(pulls[1:], ratios[1:], strict=True):
        pull = pull + each / (ratio + twice)
    return np.asarray(k * (pull - 1.5))


def rank_scores(rows: FloatArray) -> FloatArray:
    """Ranks along the last axis with mean 0 and length 1; a row that does not vary is all 0.

    Parameters
    ----------
    rows : ndarray, shape (..., draws)
        Draws; ties are ranked in any order.

    Returns
    -------
    ndarray, shape (..., draws)
        Scores [-].
    """
    count = rows.shape[-1]
    order = np.argsort(rows, axis=-1)
    ranks = np.empty(rows.shape)
    centred = np.arange(count) - (count - 1) / 2.0
    for row, places in zip(ranks.reshape(-1, count), order.reshape(-1, count), strict=True):
        row[places] = centred
    varies = np.ptp(rows, axis=-1, keepdims=True) > 0
    length = np.sqrt(count * (count * count - 1) / 12.0)
    return np.where(varies, ranks / length, 0.0)
