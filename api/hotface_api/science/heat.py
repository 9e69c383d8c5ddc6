"""Heat capacity of mixtures."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import (
    FloatArray,
    floats,
    mixture,
    not_negative,
    positive,
    total,
)


def mix_heat_capacity(mass_fractions: ArrayLike, heat_capacities: ArrayLike) -> FloatArray:
    r"""Heat capacity of a mixture by mass.

    .. math:: c_p = \sum_i w_i c_{p,i}

    Parameters
    ----------
    mass_fractions : array_like, shape (..., n)
        Mass fractions, summing to 1 over the last axis [-].
    heat_capacities : array_like, shape (..., n)
        Heat capacity of each part at one temperature, zero or above [J/(kg.K)].

    Returns
    -------
    ndarray, shape (...)
        Heat capacity [J/(kg.K)].

    Raises
    ------
    ValueError
        If the fractions or heat capacities are not usable.

    Notes
    -----
    Within 2 to 3 % for cement pastes. Leave the gas in the pores out; count water if it is there.
    Heats of dehydration and of the quartz transformation are enthalpies and do not belong in it.
    Source: conservation of energy; compared with measured pastes by Bentz (read).

    Examples
    --------
    >>> round(float(mix_heat_capacity([0.3 / 1.3, 1 / 1.3], [4180.0, 750.0])), 1)
    1541.5
    """
    parts, each = mixture(mass_fractions, heat_capacities, "heat_capacities")
    return total(parts * each)


def neumann_kopp(
    moles: ArrayLike, molar_heat_capacities: ArrayLike, molar_masses: ArrayLike
) -> FloatArray:
    r"""Heat capacity of a compound from that of its oxides.

    .. math:: c_p = \frac{\sum_i \nu_i C_{p,i}}{\sum_i \nu_i M_i}

    Parameters
    ----------
    moles : array_like, shape (..., n)
        Moles of each oxide in the compound, zero or above [mol].
    molar_heat_capacities : array_like, shape (..., n)
        Molar heat capacity of each oxide, zero or above [J/(mol.K)].
    molar_masses : array_like, shape (n,)
        Molar mass of each oxide, above zero [kg/mol].

    Returns
    -------
    ndarray, shape (...)
        Heat capacity of the compound [J/(kg.K)].

    Raises
    ------
    ValueError
        If an argument is outside its range or there are no moles.

    Notes
    -----
    For solids from about room temperature up, a few per cent; oxides and compound have to be free
    of transformations at that temperature.
    Source: the rule of Neumann and Kopp; recalled form, not checked against a paper.
    """
    amounts = not_negative(moles, "moles")
    weights = positive(molar_masses, "molar_masses")
    mass = total(floats(amounts * weights))
    heat = total(floats(amounts * not_negative(molar_heat_capacities, "molar_heat_capacities")))
    if np.any(mass <= 0):
        raise ValueError("moles must not all be zero")
    return floats(heat / mass)


def volumetric_heat_capacity(density: ArrayLike, heat_capacity: ArrayLike) -> FloatArray:
    """Heat a unit volume of a body stores for a kelvin.

    Parameters
    ----------
    density : array_like
        Bulk density, zero or above [kg/m3].
    heat_capacity : array_like
        Heat capacity by mass, zero or above [J/(kg.K)].

    Returns
    -------
    ndarray
        ``density * heat_capacity`` [J/(m3.K)].

    Raises
    ------
    ValueError
        If an argument is negative or infinite.

    Notes
    -----
    Definition; both in the same state of moisture.
    """
    mass = not_negative(density, "density")
    return floats(mass * not_negative(heat_capacity, "heat_capacity"))


def integral_mean(temperatures: ArrayLike, values: ArrayLike) -> FloatArray:
    r"""Mean of a property over a temperature span, as a steady heat flow sees it.

    .. math:: \bar y = \frac{1}{T_n - T_1} \int_{T_1}^{T_n} y\, dT

    Parameters
    ----------
    temperatures : array_like, shape (m,)
        Temperatures, rising, two or more [K].
    values : array_like, shape (..., m)
        The property at them; linear in between.

    Returns
    -------
    ndarray, shape (...)
        Mean, in the unit of the values.

    Raises
    ------
    ValueError
        If the temperatures do not rise.

    Notes
    -----
    A wall's heat flow is this mean of the conductivity times the difference over the thickness.
    The conductivity at the mean temperature was 8 % low on a cubic one.
    """
    kelvin = floats(temperatures)
    if kelvin.ndim != 1 or kelvin.size <= 1 or np.any(np.diff(kelvin) <= 0):
        raise ValueError("temperatures must be two or more, rising")
    area = np.trapezoid(floats(values), kelvin, axis=-1)
    return floats(area / (kelvin[-1] - kelvin[0]))
