"""Conductivity of a host and one other phase, by named relations. Public through `conductivity`.

Most of these are recalled forms: they are kept for comparison with published work, not as defaults.
"""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, fraction, positive

SPHERE_SHAPE = 1.5
RANDOM_PACKING = 0.637


def russell(k_solid: ArrayLike, k_pore: ArrayLike, porosity: ArrayLike) -> FloatArray:
    r"""Cubic pores on a lattice with flat isotherms.

    .. math:: k = k_s \frac{c + (1-c)/v}{c - P + (1+P-c)/v}, \quad c = P^{2/3},\ v = k_p/k_s

    Parameters
    ----------
    k_solid, k_pore : array_like
        Conductivity of solid and of pore, above zero [W/(m.K)].
    porosity : array_like
        Volume share P of the pores, 0 to 1 [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity or the porosity is not usable.

    Notes
    -----
    For cellular brick and only as an upper value: it lies 1 to 7 % above the upper
    Hashin-Shtrikman bound, which an isotropic body cannot do.
    Source: Russell, J. Am. Ceram. Soc. 18, 1 (1935); recalled form, not checked against the paper.

    Examples
    --------
    >>> round(float(russell(1.0, 0.026, 0.5)), 6)
    0.442421
    """
    solid, pore = positive(k_solid, "k_solid"), positive(k_pore, "k_pore")
    share = fraction(porosity, "porosity")
    face, contrast = np.cbrt(share) ** 2, solid / pore
    above = face + (1.0 - face) * contrast
    below = face - share + (1.0 + share - face) * contrast
    return floats(solid * above / below)


def lewis_nielsen(
    k_host: ArrayLike,
    k_filler: ArrayLike,
    filler_fraction: ArrayLike,
    shape: ArrayLike = SPHERE_SHAPE,
    packing: ArrayLike = RANDOM_PACKING,
) -> FloatArray:
    r"""Filler grains that crowd towards a densest packing.

    .. math:: k = k_m \frac{1 + A B \varphi}{1 - B \psi \varphi}, \quad
        B = \frac{r-1}{r+A},\ r = \frac{k_f}{k_m},\
        \psi = 1 + \frac{1-\varphi_m}{\varphi_m^2}\varphi

    Parameters
    ----------
    k_host, k_filler : array_like
        Conductivity of host and filler, above zero [W/(m.K)].
    filler_fraction : array_like
        Volume share of the filler, 0 to `packing` [-].
    shape : array_like
        A, above zero; 1.5 for spheres [-].
    packing : array_like
        Densest volume share of the filler; 0.637 for equal spheres poured at random [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity, the shape or a share is not usable.

    Notes
    -----
    For dense aggregate in a castable and pores in a fired body. It breaks down near the densest
    packing; poor for foams. With A = 1.5 the first few spheres count for less or more than exact
    (A = 2 would make them right), so it can leave the rigorous bounds.
    Source: Lewis and Nielsen (1970); recalled form, not checked against the paper.

    Examples
    --------
    >>> round(float(lewis_nielsen(1.0, 0.026, 0.5)), 6)
    0.356593
    """
    host, filler = positive(k_host, "k_host"), positive(k_filler, "k_filler")
    form, limit = positive(shape, "shape"), positive(packing, "packing")
    share = fraction(filler_fraction, "filler_fraction")
    if np.any(share > limit):
        raise ValueError("filler_fraction must not be above packing")
    ratio = filler / host
    strength = (ratio - 1.0) / (ratio + form)
    crowding = 1.0 + (1.0 - limit) / limit**2 * share
    return floats(host * (1.0 + form * strength * share) / (1.0 - strength * crowding * share))


def hamilton_crosser(
    k_host: ArrayLike,
    k_inclusion: ArrayLike,
    inclusion_fraction: ArrayLike,
    sphericity: ArrayLike = 1.0,
) -> FloatArray:
    r"""Inclusions that are not round: Maxwell's form with :math:`n = 3/\text{sphericity}`.

    .. math:: k = k_m \frac{k_f + (n-1)k_m + (n-1)\varphi(k_f-k_m)}
        {k_f + (n-1)k_m - \varphi(k_f-k_m)}

    Parameters
    ----------
    k_host, k_inclusion : array_like
        Conductivity of host and inclusion, above zero [W/(m.K)].
    inclusion_fraction : array_like
        Volume share of the inclusions, 0 to 1 [-].
    sphericity : array_like
        Surface of the sphere of equal volume over the surface of the grain, above 0 to 1 [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity, the share or the sphericity is not usable.

    Notes
    -----
    For angular or fibrous grains that conduct better than the host. For pores the correction has
    the wrong sign: do not use it there.
    Source: Hamilton and Crosser (1962); the values of n read in a table, the paper not seen.

    Examples
    --------
    >>> round(float(hamilton_crosser(1.0, 0.026, 0.5, sphericity=0.5)), 5)
    0.46998
    """
    host, other = positive(k_host, "k_host"), positive(k_inclusion, "k_inclusion")
    share = fraction(inclusion_fraction, "inclusion_fraction")
    form = 3.0 / positive(checked(sphericity, "sphericity", 0.0, 1.0), "sphericity") - 1.0
    difference = share * (other - host)
    base = other + form * host
    return floats(host * (base + form * difference) / (base - difference))


def exponential_pore_relation(k0: ArrayLike, porosity: ArrayLike) -> FloatArray:
    r"""Measured decline of starch-burnt alumina with porosity.

    .. math:: k = k_0 \exp\left(\frac{-1.5 P}{1-P}\right)

    Parameters
    ----------
    k0 : array_like
        Conductivity of the body without pores, zero or above [W/(m.K)].
    porosity : array_like
        Volume share P of the pores, 0 to 0.5 [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If the porosity is outside 0 to 0.5 or a conductivity is negative.

    Notes
    -----
    Fitted to P from 0.06 to 0.47; what the pores hold is ignored.
    Source: Zivcova, Gregorova, Pabst and others (2009), abstract read.

    Examples
    --------
    >>> round(float(exponential_pore_relation(1.0, 0.4)), 6)
    0.367879
    """
    share = checked(porosity, "porosity", 0.0, 0.5)
    body = checked(k0, "k0", 0.0, np.inf)
    return floats(body * np.exp(-1.5 * share / (1.0 - share)))


def cube_in_host(
    k_host: ArrayLike, k_inclusion: ArrayLike, inclusion_fraction: ArrayLike
) -> FloatArray:
    r"""One cube of aggregate inside a cube of paste, heat in parallel strips.

    .. math:: k = k_m (2M - M^2) + \frac{k_m k_a (1-M)^2}{k_a M + k_m (1-M)}, \quad
        M = 1 - \varphi^{1/3}

    Parameters
    ----------
    k_host, k_inclusion : array_like
        Conductivity of paste and aggregate, above zero [W/(m.K)].
    inclusion_fraction : array_like
        Volume share of the aggregate, 0 to 1 [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity or the share is not usable.

    Notes
    -----
    For concrete with dense aggregate. The strips forbid sideways flow, so it stays below the value
    with flat isotherms; like that one it is not tied to the isotropic bounds.
    Source: Campbell-Allen and Thorne (1963); recalled form, not checked against the paper.
    """
    host, other = positive(k_host, "k_host"), positive(k_inclusion, "k_inclusion")
    side = np.cbrt(fraction(inclusion_fraction, "inclusion_fraction"))
    around = 1.0 - side
    strip = host * other * side**2 / (other * around + host * side)
    return floats(host * around * (1.0 + side) + strip)
