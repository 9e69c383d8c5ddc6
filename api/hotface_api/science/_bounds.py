"""Rigorous bounds on the conductivity of a mixture. Public through `conductivity`."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import TINY, FloatArray, mixture, total


def referenced(fractions: FloatArray, values: FloatArray, reference: FloatArray) -> FloatArray:
    r"""Mean of `values` with weights ``fraction / (value + 2 reference)``.

    This is :math:`1/\sum_i \varphi_i/(k_i + 2 k_r) - 2 k_r` written as a sum of positive terms, so
    it loses no digits and cannot leave the range of the phases.
    """
    weights = fractions / np.maximum(values + 2.0 * reference[..., None], TINY)
    return total(weights * values) / total(weights)


def wiener_parallel(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Upper limit of any structure: layers along the heat flow.

    .. math:: k = \sum_i \varphi_i k_i

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
    Valid for every structure, also one with a direction; far too wide to estimate with.
    Source: Wiener (1912), cited and not seen.

    Examples
    --------
    >>> float(wiener_parallel([0.5, 0.5], [1.0, 0.026]))
    0.513
    """
    parts, each = mixture(fractions, conductivities)
    return total(parts * each)


def wiener_series(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Lower limit of any structure: layers across the heat flow.

    .. math:: 1/k = \sum_i \varphi_i / k_i

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase, zero or above [W/(m.K)].

    Returns
    -------
    ndarray, shape (...)
        Conductivity [W/(m.K)]; 0 if a phase that is present conducts nothing.

    Raises
    ------
    ValueError
        If the fractions or conductivities are not usable.

    Notes
    -----
    Valid for every structure, also one with a direction; far too wide to estimate with.
    Source: Wiener (1912), cited and not seen.

    Examples
    --------
    >>> round(float(wiener_series([0.5, 0.5], [1.0, 0.026])), 7)
    0.0506823
    """
    parts, each = mixture(fractions, conductivities)
    return referenced(parts, each, np.zeros(each.shape[:-1]))


def hashin_shtrikman_lower(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Lowest conductivity an isotropic mixture can have.

    .. math:: \frac{1}{k + 2 k_r} = \sum_i \frac{\varphi_i}{k_i + 2 k_r}, \quad k_r = \min_i k_i

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
    Valid for any isotropic mixture with perfect contact. Contact resistance and cracks can put a
    real body lower.
    Source: Hashin and Shtrikman, J. Appl. Phys. 33, 3125 (1962); the N-phase form as read in
    McCartney, Properties for Design of Composite Structures, section 3.2.
    """
    parts, each = mixture(fractions, conductivities)
    return referenced(parts, each, np.min(each, axis=-1))


def hashin_shtrikman_upper(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    r"""Highest conductivity an isotropic mixture can have.

    .. math:: \frac{1}{k + 2 k_r} = \sum_i \frac{\varphi_i}{k_i + 2 k_r}, \quad k_r = \max_i k_i

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
    Valid for any isotropic mixture; reached when the best conductor surrounds all the rest.
    Source: Hashin and Shtrikman, J. Appl. Phys. 33, 3125 (1962); the N-phase form as read in
    McCartney, Properties for Design of Composite Structures, section 3.2.
    """
    parts, each = mixture(fractions, conductivities)
    return referenced(parts, each, np.max(each, axis=-1))


def clamp(estimate: ArrayLike, fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    """Bring an estimate inside the Hashin-Shtrikman bounds of its inputs.

    Parameters
    ----------
    estimate : array_like, shape (...)
        Conductivity from any rule [W/(m.K)].
    fractions, conductivities : array_like, shape (..., n)
        What the rule was given.

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
    Use it before a rule error is applied, never after: real bodies do fall outside the bounds of
    inexact inputs.
    """
    low = hashin_shtrikman_lower(fractions, conductivities)
    high = hashin_shtrikman_upper(fractions, conductivities)
    return np.clip(np.asarray(estimate, dtype=np.float64), low, high)
