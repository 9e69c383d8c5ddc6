"""Elastic moduli of mixtures and porous bodies. Castables crack: expect a factor of 1.5."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, fraction, mixture, not_negative
from hotface_api.science._arrays import positive as above_zero
from hotface_api.science._bounds import referenced


def bulk_modulus(young: ArrayLike, poisson: ArrayLike) -> FloatArray:
    """Bulk modulus of an isotropic solid.

    Parameters
    ----------
    young : array_like
        Young's modulus, zero or above [Pa].
    poisson : array_like
        Poisson's ratio, -1 to below 0.5 [-].

    Returns
    -------
    ndarray
        ``E / (3 (1 - 2 nu))`` [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Exact for isotropic linear elasticity.
    """
    ratio = checked(poisson, "poisson", -1.0, np.nextafter(0.5, 0.0))
    return floats(not_negative(young, "young") / (3.0 * (1.0 - 2.0 * ratio)))


def shear_modulus(young: ArrayLike, poisson: ArrayLike) -> FloatArray:
    """Shear modulus of an isotropic solid.

    Parameters
    ----------
    young : array_like
        Young's modulus, zero or above [Pa].
    poisson : array_like
        Poisson's ratio, above -1 to 0.5 [-].

    Returns
    -------
    ndarray
        ``E / (2 (1 + nu))`` [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Exact for isotropic linear elasticity.
    """
    ratio = checked(poisson, "poisson", np.nextafter(-1.0, 0.0), 0.5)
    return floats(not_negative(young, "young") / (2.0 * (1.0 + ratio)))


def mixed_bulk_modulus(
    fractions: ArrayLike, bulk_moduli: ArrayLike, host_shear: ArrayLike
) -> FloatArray:
    r"""Bulk modulus of spheres of any kinds in one host.

    .. math:: \frac{1}{K + \tfrac43 G_m} = \sum_i \frac{\varphi_i}{K_i + \tfrac43 G_m}

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    bulk_moduli : array_like, shape (..., n)
        Bulk modulus of each phase, zero or above [Pa].
    host_shear : array_like, shape (...)
        Shear modulus of the host, zero or above [Pa].

    Returns
    -------
    ndarray, shape (...)
        Bulk modulus [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    A rigorous bound when the host's shear modulus is the largest or smallest of all.
    Source: McCartney, Properties for Design of Composite Structures, section 3 (read).

    Examples
    --------
    >>> round(float(mixed_bulk_modulus([0.9, 0.1], [80.56, 259.7], 26.85)), 1)
    88.1
    """
    parts, each = mixture(fractions, bulk_moduli, "bulk_moduli")
    shear = np.broadcast_to(2.0 / 3.0 * not_negative(host_shear, "host_shear"), each.shape[:-1])
    return referenced(parts, each, shear)


def porous_modulus(dense: ArrayLike, porosity: ArrayLike) -> FloatArray:
    """Young's modulus of a sintered body with pores, quadratic form.

    Parameters
    ----------
    dense : array_like
        Modulus without pores, zero or above [Pa].
    porosity : array_like
        Volume share P of the pores, 0 to 1 [-].

    Returns
    -------
    ndarray
        ``dense * (1 - 1.9 P + 0.9 P**2)`` [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    For ceramics of low porosity. Source: as read in worked solutions to a textbook (Callister).

    Examples
    --------
    >>> round(float(240.0 / porous_modulus(1.0, 0.05)), 2)
    264.54
    """
    share = fraction(porosity, "porosity")
    return floats(not_negative(dense, "dense") * (1.0 - 1.9 * share + 0.9 * share**2))


def power_modulus(dense: ArrayLike, porosity: ArrayLike, exponent: ArrayLike = 2.0) -> FloatArray:
    """Young's modulus of a sintered body with pores, power form.

    Parameters
    ----------
    dense : array_like
        Modulus without pores, zero or above [Pa].
    porosity : array_like
        Volume share P of the pores, 0 to 1 [-].
    exponent : array_like
        About 2 for sintered ceramics, above zero [-].

    Returns
    -------
    ndarray
        ``dense * (1 - P)**exponent`` [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Source: a comment on Wagh and others, read in an abstract.
    """
    solid = 1.0 - fraction(porosity, "porosity")
    return floats(not_negative(dense, "dense") * solid ** above_zero(exponent, "exponent"))
