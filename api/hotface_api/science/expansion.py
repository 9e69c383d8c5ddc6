"""Reversible thermal expansion of mixtures.

The rules are linear in the expansions, so a strain to a temperature may stand wherever a
coefficient does. Pores change nothing. Shrinkage of the binder on first heating is another matter
and never part of this.
"""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, floats, mixture, not_negative, positive, total


def volume_mean_expansion(fractions: ArrayLike, expansions: ArrayLike) -> FloatArray:
    r"""Volume mean of the expansions.

    .. math:: \alpha = \sum_i \varphi_i \alpha_i

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions of the solids, summing to 1 over the last axis [-].
    expansions : array_like, shape (..., n)
        Strain or coefficient of each [-] or [1/K].

    Returns
    -------
    ndarray, shape (...)
        Strain or coefficient, as given.

    Raises
    ------
    ValueError
        If the fractions are not usable or the shapes do not fit.

    Notes
    -----
    Exact when all phases have one bulk modulus; otherwise one edge of what to expect.
    """
    even = np.ones(np.shape(expansions)[-1:])
    return _weighted(fractions, expansions, even, even)


def turner_expansion(
    fractions: ArrayLike, expansions: ArrayLike, bulk_moduli: ArrayLike
) -> FloatArray:
    r"""Mean of the expansions by stiffness, all phases strained alike.

    .. math:: \alpha = \frac{\sum_i \varphi_i K_i \alpha_i}{\sum_i \varphi_i K_i}

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    expansions : array_like, shape (..., n)
        Strain or coefficient of each [-] or [1/K].
    bulk_moduli : array_like, shape (..., n)
        Bulk modulus of each, zero or above, not all zero [Pa].

    Returns
    -------
    ndarray, shape (...)
        Strain or coefficient, as given.

    Raises
    ------
    ValueError
        If an argument is not usable.

    Notes
    -----
    Uniform strain is the extreme edge of what to expect.
    Source: Turner (1946), cited and not seen.
    """
    moduli = not_negative(bulk_moduli, "bulk_moduli")
    return _weighted(fractions, expansions, moduli, moduli)


def maxwell_expansion(
    fractions: ArrayLike, expansions: ArrayLike, bulk_moduli: ArrayLike, host_shear: ArrayLike
) -> FloatArray:
    r"""Expansion of spheres of any kinds in one host.

    .. math:: \frac{\alpha}{1/K + 3/(4 G_m)} =
        \sum_i \varphi_i \frac{\alpha_i}{1/K_i + 3/(4 G_m)}

    with :math:`K` of the mixture by the same model.

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    expansions : array_like, shape (..., n)
        Strain or coefficient of each [-] or [1/K].
    bulk_moduli : array_like, shape (..., n)
        Bulk modulus of each, zero or above, not all zero [Pa].
    host_shear : array_like, shape (...)
        Shear modulus of the host, above zero [Pa].

    Returns
    -------
    ndarray, shape (...)
        Strain or coefficient, as given.

    Raises
    ------
    ValueError
        If an argument is not usable.

    Notes
    -----
    Separate grains in an uncracked host. Soft light grains hardly count.
    Source: McCartney, Properties for Design of Composite Structures, section 3 (read); for two
    phases said to be the same as Kerner (1956).
    """
    moduli = not_negative(bulk_moduli, "bulk_moduli")
    shear = positive(host_shear, "host_shear")[..., None]
    return _weighted(fractions, expansions, moduli, moduli / (1.0 + 0.75 * moduli / shear))


def levin_expansion(
    expansion_host: ArrayLike,
    expansion_other: ArrayLike,
    bulk_host: ArrayLike,
    bulk_other: ArrayLike,
    bulk_mixture: ArrayLike,
) -> FloatArray:
    r"""Expansion of a two-phase body of known bulk modulus.

    .. math:: \alpha = \alpha_m + (\alpha_p - \alpha_m) \frac{1/K - 1/K_m}{1/K_p - 1/K_m}

    Parameters
    ----------
    expansion_host, expansion_other : array_like
        Strain or coefficient of the two phases [-] or [1/K].
    bulk_host, bulk_other, bulk_mixture : array_like
        Bulk modulus of the phases and of the body, above zero [Pa].

    Returns
    -------
    ndarray
        Strain or coefficient, as given.

    Raises
    ------
    ValueError
        If a modulus is not above zero or the phases have the same.

    Notes
    -----
    Exact for any two-phase structure without cracks. As the other phase turns into a void the host
    alone remains.
    Source: Levin's relation, as read in McCartney.

    Examples
    --------
    >>> round(float(levin_expansion(22.5, 3.2988, 80.56, 259.69, 106.42)), 3)
    15.736
    """
    host, other = positive(bulk_host, "bulk_host"), positive(bulk_other, "bulk_other")
    body = positive(bulk_mixture, "bulk_mixture")
    if np.any(host == other):
        raise ValueError(
            "phases of one bulk modulus leave the relation undetermined; use the volume mean"
        )
    share = (1.0 / body - 1.0 / host) / (1.0 / other - 1.0 / host)
    start = floats(expansion_host)
    return floats(start + (floats(expansion_other) - start) * share)


def _weighted(
    fractions: ArrayLike, expansions: ArrayLike, moduli: FloatArray, weights: FloatArray
) -> FloatArray:
    """Mean of the expansions with ``fraction * weight``; `moduli` are only checked."""
    parts, _ = mixture(fractions, moduli, "bulk_moduli")
    each = floats(expansions)
    if each.ndim == 0 or each.shape[-1] != parts.shape[-1]:
        raise ValueError(
            "expansions and fractions must have the same number of phases on the last axis"
        )
    share = floats(parts * weights)
    if np.any(total(share) <= 0):
        raise ValueError("bulk_moduli must not all be zero")
    return floats(total(floats(share * each)) / total(share))
