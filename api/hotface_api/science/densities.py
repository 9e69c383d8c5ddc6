"""Loose, particle, true and bulk density, and what follows from two of them.

Loose volume becomes mass by the loose bulk density, mass becomes absolute volume by the particle
density; loose volumes are never added. Densities that bound each other (loose below particle,
particle below true) are drawn through the void share between them, so that no draw breaks the
order.
"""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import (
    FloatArray,
    checked,
    floats,
    fraction,
    not_negative,
    positive,
    total,
)

ROUNDING = 1e-9
"""How far a density may be above its upper limit before it is refused."""


def void_fraction_from(loose: ArrayLike, particle: ArrayLike) -> FloatArray:
    """Share of a heap that lies between its grains.

    Parameters
    ----------
    loose : array_like
        Loose bulk density, zero or above [kg/m3].
    particle : array_like
        Density of a grain with its own pores, above zero [kg/m3].

    Returns
    -------
    ndarray
        ``1 - loose / particle`` [-].

    Raises
    ------
    ValueError
        If the loose density is above the particle density.

    Notes
    -----
    Definition. With particle and true density it gives the closed share of a grain in the same
    way.

    Examples
    --------
    >>> round(float(void_fraction_from(110.0, 180.0)), 6)
    0.388889
    """
    heap, grain = not_negative(loose, "loose"), positive(particle, "particle")
    if np.any(heap > grain * (1.0 + ROUNDING)):
        raise ValueError("a loose density cannot be above the particle density")
    return floats(np.maximum(1.0 - heap / grain, 0.0))


def loose_from_void(void: ArrayLike, particle: ArrayLike) -> FloatArray:
    """Loose bulk density of grains of a density with a share of voids.

    Parameters
    ----------
    void : array_like
        Share of the heap between the grains, 0 to 1 [-].
    particle : array_like
        Density of a grain with its own pores, above zero [kg/m3].

    Returns
    -------
    ndarray
        ``particle * (1 - void)``, never above `particle` [kg/m3].

    Raises
    ------
    ValueError
        If the void share or the density is not usable.

    Notes
    -----
    Definition; the inverse of `void_fraction_from`.
    """
    return floats(positive(particle, "particle") * (1.0 - fraction(void, "void")))


def mass_from_loose(volume: ArrayLike, loose: ArrayLike) -> FloatArray:
    """Mass of a loose volume.

    Parameters
    ----------
    volume : array_like
        Volume of the heap [m3].
    loose : array_like
        Loose bulk density in the same way of filling [kg/m3].

    Returns
    -------
    ndarray
        Mass [kg].

    Raises
    ------
    ValueError
        If an argument is negative or infinite.

    Notes
    -----
    Definition. Poured and shaken loose densities differ by up to a third for powders.
    """
    return floats(not_negative(volume, "volume") * not_negative(loose, "loose"))


def absolute_volume(mass: ArrayLike, particle: ArrayLike) -> FloatArray:
    """Volume that grains take up in a mix.

    Parameters
    ----------
    mass : array_like
        Dry mass [kg].
    particle : array_like
        Particle density of grains, true density of powders, above zero [kg/m3].

    Returns
    -------
    ndarray
        Volume [m3].

    Raises
    ------
    ValueError
        If a mass is negative or a density is not above zero.

    Notes
    -----
    Definition. Grains that crush while mixing take less; see `crushed_density`.
    """
    return floats(not_negative(mass, "mass") / positive(particle, "particle"))


def crushed_density(particle: ArrayLike, crush_factor: ArrayLike) -> FloatArray:
    """Particle density of light grains after mixing.

    Parameters
    ----------
    particle : array_like
        Particle density before, above zero [kg/m3].
    crush_factor : array_like
        Volume of the grains after mixing over that before, above 0 to 1 [-].

    Returns
    -------
    ndarray
        Particle density after [kg/m3].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Definition. That perlite and vermiculite crush is a judgement; by how much is an input.
    """
    factor = positive(checked(crush_factor, "crush_factor", 0.0, 1.0), "crush_factor")
    return floats(positive(particle, "particle") / factor)


def porosity_from_density(
    bulk: ArrayLike, mass_fractions: ArrayLike, true_densities: ArrayLike
) -> FloatArray:
    """Share of a dry body that is not solid.

    Parameters
    ----------
    bulk : array_like, shape (...)
        Bulk density of the body [kg/m3].
    mass_fractions : array_like, shape (..., n)
        Mass share of each solid [-].
    true_densities : array_like, shape (..., n)
        True density of each solid, above zero [kg/m3].

    Returns
    -------
    ndarray, shape (...)
        ``1 - bulk * sum(w / true)`` [-]; negative if the inputs contradict each other.

    Raises
    ------
    ValueError
        If an argument is negative or a true density is not above zero.

    Notes
    -----
    Definition; open and closed pores alike.
    """
    parts = not_negative(mass_fractions, "mass_fractions")
    solids = total(floats(parts / positive(true_densities, "true_densities")))
    return floats(1.0 - not_negative(bulk, "bulk") * solids)
