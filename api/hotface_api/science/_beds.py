"""Conductivity of loose beds of grains. Public through `conductivity`."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, not_negative, positive

SPHERE_DEFORMATION = 1.25
NEAR_ONE = 1e-12
SERIES_TERMS = 14
SERIES_BELOW = 0.1
OPEN_PACKING, OPEN_CONTACT = 0.476, 0.22
CLOSE_PACKING, CLOSE_CONTACT = 0.26, 0.05


def zehner_schluender(
    k_solid: ArrayLike, k_gas: ArrayLike, void_fraction: ArrayLike, radiation: ArrayLike = 0.0
) -> FloatArray:
    r"""Bed of touching grains in a gas, point contacts.

    .. math:: \frac{k}{k_g} = 1-\sqrt{1-e} + \frac{2\sqrt{1-e}}{N}\left(
        \frac{(1-L)B}{N^2}\ln\frac{1}{LB} - \frac{B+1}{2} - \frac{B-1}{N}\right)

    with :math:`L = k_g/k_s`, :math:`N = 1-LB`, :math:`B = 1.25\,((1-e)/e)^{10/9}`.

    Parameters
    ----------
    k_solid : array_like
        Conductivity of the grains, their own pores included, above zero [W/(m.K)].
    k_gas : array_like
        Conductivity of the gas, above zero [W/(m.K)].
    void_fraction : array_like
        Volume share e of the gas between the grains, 0 to 1 [-].
    radiation : array_like
        Conductivity that radiation adds to the gas between the grains, zero or above [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity or the void fraction is not usable.

    Notes
    -----
    Read in an abstract: compared with data at grain to gas ratios of 8 to 1200, good below about
    2000, solids up to about 0.8 of the volume. Near ``N = 0`` the closed form is 0/0 and its power
    series is used. Radiation is simply added to the gas, our choice.
    Source: Zehner and Schluender (1970); recalled form, not checked against the paper (its limits
    are: equal phases give that phase). Validity: Kandula, packed beds of uniform spheres.

    Examples
    --------
    >>> round(float(zehner_schluender(1.1, 0.026, 0.4)), 6)
    0.173906
    """
    solid = positive(k_solid, "k_solid")
    gas = positive(k_gas, "k_gas") + not_negative(radiation, "radiation")
    void = np.clip(checked(void_fraction, "void_fraction", 0.0, 1.0), NEAR_ONE, 1.0 - NEAR_ONE)
    form = SPHERE_DEFORMATION * ((1.0 - void) / void) ** (10.0 / 9.0)
    root = np.sqrt(1.0 - void)
    return floats(gas * (1.0 - root + 2.0 * root * _cell(gas / solid, form)))


def _cell(ratio: FloatArray, form: FloatArray) -> FloatArray:
    """Conductivity of the unit cell over that of the gas; `ratio` is gas over solid."""
    gap = 1.0 - ratio * form
    small = np.abs(gap) < SERIES_BELOW
    safe = np.where(small, 1.0, gap)
    closed = (
        (1.0 - ratio) * form / safe**2 * -np.log(ratio * form)
        - (form + 1.0) / 2.0
        - (form - 1.0) / safe
    ) / safe
    near = np.where(small, gap, 0.0)
    series = np.zeros_like(near)
    for order in range(SERIES_TERMS, -1, -1):
        series = series * near + (form - 1.0) / (order + 3) + 1.0 / (order + 2)
    return np.where(small, series, closed)


def kunii_smith(
    k_solid: ArrayLike,
    k_gas: ArrayLike,
    void_fraction: ArrayLike,
    radiation: ArrayLike = 0.0,
) -> FloatArray:
    r"""Bed of spheres with a thin gas film about each contact.

    .. math:: \frac{k}{k_g} = e + \frac{1-e}{\phi + \tfrac23 k_g/k_s}

    Parameters
    ----------
    k_solid : array_like
        Conductivity of the grains, above zero [W/(m.K)].
    k_gas : array_like
        Conductivity of the gas, above zero [W/(m.K)].
    void_fraction : array_like
        Volume share e of the gas between the grains, 0.26 to 0.476 [-].
    radiation : array_like
        Conductivity that radiation adds to the gas between the grains, zero or above [W/(m.K)].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a conductivity or the void fraction is not usable.

    Notes
    -----
    For round grains between the closest and the loosest cubic packing. The film thickness is taken
    on a straight line from 0.05 at 0.26 to 0.22 at 0.476 of voids, for grains that conduct much
    better than the gas; for equal phases it does not return that phase.
    Source: Kunii and Smith, AIChE J. 6, 71 (1960); recalled form, not checked against the paper.
    """
    solid = positive(k_solid, "k_solid")
    gas = positive(k_gas, "k_gas") + not_negative(radiation, "radiation")
    void = checked(void_fraction, "void_fraction", CLOSE_PACKING, OPEN_PACKING)
    openness = (void - CLOSE_PACKING) / (OPEN_PACKING - CLOSE_PACKING)
    film = CLOSE_CONTACT + openness * (OPEN_CONTACT - CLOSE_CONTACT)
    return floats(gas * (void + (1.0 - void) / (film + 2.0 / 3.0 * gas / solid)))
