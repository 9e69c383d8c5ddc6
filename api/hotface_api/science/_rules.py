"""Conductivity of mixtures of any number of phases. Public through `conductivity`."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import (
    TINY,
    FloatArray,
    floats,
    fraction,
    mixture,
    not_negative,
    total,
)
from hotface_api.science._bounds import referenced, wiener_parallel, wiener_series

NEWTON_STEPS = 20
RUNGE_KUTTA_STEPS = 64
LEAST_HOST = 1e-12


def maxwell(fractions: ArrayLike, conductivities: ArrayLike, host: int = 0) -> FloatArray:
    r"""Separate inclusions of any kinds in one continuous host.

    .. math:: \frac{1}{k + 2 k_h} = \sum_i \frac{\varphi_i}{k_i + 2 k_h}

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].
    host : int
        Index of the phase that surrounds the others.

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.
    IndexError
        If there is no such phase.

    Notes
    -----
    Exact to first order in the inclusions; for two phases one of the Hashin-Shtrikman bounds, for
    more it lies between them. Up to 0.4 of spheres in a face-centred array it is within 0.4 % of
    the exact value for pores and for ten times better spheres, within 0.8 % for perfect ones
    (computed). The N-phase form is the Mori-Tanaka mean for spheres.
    Source: Maxwell (1873) and Eucken (1932), cited and not seen.

    Examples
    --------
    >>> round(float(maxwell([0.5, 0.5], [1.0, 0.026])), 6)
    0.418623
    """
    parts, each = mixture(fractions, conductivities)
    return referenced(parts, each, each[..., host])


def effective_medium(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""All phases as grains in the mixture itself; none is the host (Bruggeman, symmetric).

    .. math:: \sum_i \varphi_i \frac{k_i - k}{k_i + 2k} = 0

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.

    Notes
    -----
    For open, connected pores. Empty pores give ``1 - 1.5 P``, nothing at all from P = 2/3 on, so
    do not use it alone above P of about 0.55 unless the pores conduct more than a tenth of the
    solid.

    Solved as :math:`1/g(k) = 3` with :math:`g = \sum \varphi_i k_i/(k_i+2k)`. The left side is
    increasing and concave, so Newton's method from zero converges from below for every input; 20
    steps reach 1e-12 for phases up to a factor of 1e8 apart.
    Source: Bruggeman (1935), Landauer (1952), cited and not seen; form confirmed by a description.

    Examples
    --------
    >>> round(float(effective_medium([0.5, 0.5], [1.0, 0.026])), 6)
    0.299854
    """
    parts, each = mixture(fractions, conductivities)
    result = np.zeros(each.shape[:-1])
    for _ in range(NEWTON_STEPS):
        below = np.maximum(each + 2.0 * result[..., None], TINY)
        terms = parts * each / below
        mean = total(terms)
        slope = 2.0 * total(terms / below)
        rise = (3.0 * mean - 1.0) * mean
        step = np.divide(rise, slope, out=np.zeros_like(rise), where=slope != 0)
        result = np.maximum(result + step, 0.0)
    return result


def differential(fractions: ArrayLike, conductivities: ArrayLike, host: int = 0) -> FloatArray:
    r"""Inclusions of many sizes stirred in little by little (Bruggeman, asymmetric).

    .. math:: \frac{dk}{d\varphi} =
        \frac{1}{1-\varphi} \sum_i x_i (k_i - k) \frac{3k}{k_i + 2k}

    with :math:`x_i` the share of each kind among the inclusions. For two phases this is
    :math:`(k_2-k)/(k_2-k_1)\,(k_1/k)^{1/3} = 1-\varphi_2`.

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].
    host : int
        Index of the phase that stays connected.

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.
    IndexError
        If there is no such phase.

    Notes
    -----
    The host stays connected at any amount; empty pores give ``(1-P)**1.5``. For a wide grading,
    with all kinds added in proportion. Integrated over ``-ln`` of the host's share in ``ln k`` by
    64 fixed Runge-Kutta steps: within 1e-6 of the closed two-phase equation for phases up to a
    factor of 8000 apart and a host of 0.001 or more (computed). A host below 1e-12 counts as
    1e-12.
    Source: Bruggeman (1935); recalled form, not checked against the paper.

    Examples
    --------
    >>> round(float(differential([0.5, 0.5], [1.0, 0.026])), 5)
    0.37818
    """
    parts, each = mixture(fractions, conductivities)
    host = range(each.shape[-1])[host]
    start, kept = each[..., host], np.maximum(parts[..., host], LEAST_HOST)
    others = np.delete(parts, host, axis=-1)
    added = np.delete(each, host, axis=-1)
    others = others / np.maximum(total(others), TINY)[..., None]
    width = -np.log(kept) / RUNGE_KUTTA_STEPS
    ratios = added / np.maximum(start, TINY)[..., None]
    pulls = 4.5 * others * ratios
    log_k = np.zeros(each.shape[:-1])
    for _ in range(RUNGE_KUTTA_STEPS):
        one = _growth(pulls, ratios, log_k)
        two = _growth(pulls, ratios, log_k + width / 2 * one)
        three = _growth(pulls, ratios, log_k + width / 2 * two)
        four = _growth(pulls, ratios, log_k + width * three)
        log_k = log_k + width / 6 * (one + 2 * two + 2 * three + four)
    return start * np.exp(log_k)


def _growth(pulls: FloatArray, ratios: FloatArray, log_k: FloatArray) -> FloatArray:
    """Slope of ``ln k`` over ``-ln(host share)``; conductivities as ratios to the host."""
    parts = 1.0 / (ratios + 2.0 * np.exp(log_k)[..., None])
    result: FloatArray = np.vecdot(pulls, parts) - 1.5
    return result


def log_mean(a: ArrayLike, b: ArrayLike, weight: ArrayLike = 0.5) -> FloatArray:
    """Point between two estimates on the log scale.

    Parameters
    ----------
    a, b : array_like
        Two estimates, zero or above, same unit.
    weight : array_like
        Share of `b`, 0 to 1.

    Returns
    -------
    ndarray
        ``a**(1 - weight) * b**weight``.

    Raises
    ------
    ValueError
        If an estimate is negative or infinite, or a weight is outside 0 to 1.

    Notes
    -----
    A weight drawn from 0 to 1 spreads an estimate between two edge rules.
    """
    share = fraction(weight, "weight")
    first, second = not_negative(a, "a"), not_negative(b, "b")
    return floats(first ** (1.0 - share) * second**share)


def lichtenecker(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Geometric mean of the phases.

    .. math:: k = \prod_i k_i^{\varphi_i}

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.

    Notes
    -----
    No structure stands behind it. Only where all phases are within a factor of 3, as the minerals
    of a dense rock are; wrong by half when one phase is air.
    Source: known as Lichtenecker's rule; no text seen.
    """
    parts, each = mixture(fractions, conductivities)
    result: FloatArray = np.prod(each**parts, axis=-1)
    return result


def krischer(
    fractions: ArrayLike, conductivities: ArrayLike, series_share: ArrayLike
) -> FloatArray:
    r"""Series and parallel layers, themselves in series with a fitted share.

    .. math:: 1/k = (1-f)/k_\parallel + f/k_\perp

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].
    series_share : array_like, shape (...)
        Share f of the series part, 0 to 1; has to be fitted to measurements, 0.05 to 0.3 as a
        rule.

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions, conductivities or share are not usable.

    Notes
    -----
    Only to interpolate one's own measurements; unfitted it is worth little.
    Source: known as Krischer's model; no text seen.
    """
    share = fraction(series_share, "series_share")
    along = wiener_parallel(fractions, conductivities)
    across = wiener_series(fractions, conductivities)
    layers = np.stack(np.broadcast_arrays(along, across), axis=-1)
    return wiener_series(np.stack([1.0 - share, share], axis=-1), layers)


def co_continuous(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Phases that each run through the whole body.

    .. math:: k = \frac{k_\perp}{2}\left(\sqrt{1 + 8 k_\parallel/k_\perp} - 1\right)

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.

    Notes
    -----
    Too low for castables and bricks (error near one half on the trial bodies).
    Source: Wang et al. (2008), abstract read; recalled form, not checked against the paper.
    """
    along = wiener_parallel(fractions, conductivities)
    across = wiener_series(fractions, conductivities)
    return 0.5 * (np.sqrt(across * (across + 8.0 * along)) - across)
