"""What a pore conducts: gas in narrow pores and radiation across.

The correlations for air and water stand in `fluids` and are offered here too.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, not_negative, positive
from hotface_api.science.fluids import (
    air_conductivity,
    air_heat_capacity,
    air_viscosity,
    water_conductivity,
)

__all__ = [
    "ATMOSPHERE",
    "PORE_SHAPES",
    "STEFAN_BOLTZMANN",
    "air_conductivity",
    "air_heat_capacity",
    "air_viscosity",
    "bed_radiation",
    "knudsen_gas",
    "mean_free_path",
    "pore_conductivity",
    "radiation_in_pore",
    "rosseland",
    "water_conductivity",
]

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant, CODATA 2018, exact to the digits given [W/(m2.K4)]."""

GAS_CONSTANT = 8.314462618
"""Molar gas constant, CODATA 2018 [J/(mol.K)]."""

AIR_MOLAR_MASS = 0.02896546
"""Molar mass of dry air [kg/mol]."""

ATMOSPHERE = 101325.0
"""Standard pressure [Pa]."""

PORE_SHAPES: Mapping[str, float] = MappingProxyType(
    {"sphere": 2.0 / 3.0, "laminar": 1.0, "cylinder": math.pi / 4.0}
)
"""Loeb's shape factor: sphere, flat gap across the flow, cylinder across the flow."""


def mean_free_path(temperature: ArrayLike, pressure: ArrayLike = ATMOSPHERE) -> FloatArray:
    r"""Mean free path of the molecules of dry air.

    .. math:: \ell = \frac{\mu}{p} \sqrt{\frac{\pi R T}{2 M}}

    Parameters
    ----------
    temperature : array_like
        Temperature, 250 to 1800 [K].
    pressure : array_like
        Pressure, above zero [Pa].

    Returns
    -------
    ndarray
        Mean free path [m].

    Raises
    ------
    ValueError
        If a temperature is outside 250 to 1800 K or a pressure is not above zero.

    Notes
    -----
    Kinetic theory with the viscosity of `air_viscosity`, which hardly depends on pressure up to a
    few atmospheres.

    Examples
    --------
    >>> f"{mean_free_path(300.0):.2e}"
    '6.73e-08'
    """
    viscosity = air_viscosity(temperature)
    speed = np.sqrt(math.pi * GAS_CONSTANT * floats(temperature) / (2.0 * AIR_MOLAR_MASS))
    return floats(viscosity / positive(pressure, "pressure") * speed)


def knudsen_gas(
    k_gas: ArrayLike, free_path: ArrayLike, pore_size: ArrayLike, beta: ArrayLike = 1.6
) -> FloatArray:
    r"""Conductivity of a gas in pores not much wider than its mean free path.

    .. math:: k = \frac{k_g}{1 + 2 \beta \ell / d}

    Parameters
    ----------
    k_gas : array_like
        Conductivity of the free gas [W/(m.K)].
    free_path : array_like
        Mean free path of its molecules [m].
    pore_size : array_like
        Width d of the pore, above zero [m].
    beta : array_like
        Exchange of energy at the wall; about 1.6 for air [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If an argument is negative or the pore size is not above zero.

    Notes
    -----
    Matters below about 10 micrometres: gel pores and microporous boards, not castable voids.
    Source: recalled form and beta, not checked against a paper.

    Examples
    --------
    >>> round(float(knudsen_gas(0.02638, 6.73e-8, 1e-6, beta=1.63)), 5)
    0.02163
    """
    gas, path = not_negative(k_gas, "k_gas"), not_negative(free_path, "free_path")
    wall = not_negative(beta, "beta")
    return floats(gas / (1.0 + 2.0 * wall * path / positive(pore_size, "pore_size")))


def radiation_in_pore(
    temperature: ArrayLike,
    pore_size: ArrayLike,
    emissivity: ArrayLike = 0.9,
    shape: str = "sphere",
) -> FloatArray:
    r"""Conductivity that radiation across a pore adds to its gas.

    .. math:: k_r = 4 \gamma \varepsilon \sigma d T^3

    Parameters
    ----------
    temperature : array_like
        Mean temperature, zero or above [K].
    pore_size : array_like
        Width d of the pore along the flow, zero or above [m].
    emissivity : array_like
        Emissivity of the walls, 0 to 1 [-].
    shape : {"sphere", "laminar", "cylinder"}
        Pore shape; its factor is 2/3, 1 or pi/4.

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If an argument is outside its range or the shape is not known.

    Notes
    -----
    Walls have to be opaque and the pore small beside the wall; not for translucent walls or pores
    of more than a few millimetres. At furnace heat this term rules, so pore size has to be known.
    Source: Loeb, J. Am. Ceram. Soc. 37, 96 (1954); cited in a report that was read.

    Examples
    --------
    >>> round(float(radiation_in_pore(1000.0, 1e-3)), 6)
    0.136089
    """
    if shape not in PORE_SHAPES:
        raise ValueError(f"shape must be one of {', '.join(PORE_SHAPES)}")
    kelvin = not_negative(temperature, "temperature in kelvin")
    width = not_negative(pore_size, "pore_size")
    walls = checked(emissivity, "emissivity", 0.0, 1.0)
    return floats(4.0 * PORE_SHAPES[shape] * walls * STEFAN_BOLTZMANN * width * kelvin**3)


def pore_conductivity(
    temperature: ArrayLike,
    pore_size: ArrayLike,
    emissivity: ArrayLike = 0.9,
    shape: str = "sphere",
    pressure: ArrayLike = ATMOSPHERE,
) -> FloatArray:
    """Conductivity of an air-filled pore: gas, slowed in narrow pores, plus radiation.

    Parameters
    ----------
    temperature : array_like
        Mean temperature, 250 to 1800 [K].
    pore_size : array_like
        Width of the pore, above zero [m].
    emissivity : array_like
        Emissivity of the walls, 0 to 1 [-].
    shape : {"sphere", "laminar", "cylinder"}
        Pore shape for radiation.
    pressure : array_like
        Pressure of the air, above zero [Pa].

    Returns
    -------
    ndarray
        Conductivity to give a mixture rule for the pores at this temperature [W/(m.K)].

    Raises
    ------
    ValueError
        If an argument is outside its range or the shape is not known.

    Notes
    -----
    Evaluate the mixture rule anew at every temperature with this; never scale a value at room
    temperature. Validity as `air_conductivity`, `knudsen_gas` and `radiation_in_pore`; convection
    is left out, which holds for pores below several millimetres.
    """
    free = air_conductivity(temperature)
    gas = knudsen_gas(free, mean_free_path(temperature, pressure), pore_size)
    return floats(gas + radiation_in_pore(temperature, pore_size, emissivity, shape))


def bed_radiation(
    temperature: ArrayLike, grain_size: ArrayLike, emissivity: ArrayLike = 0.9
) -> FloatArray:
    r"""Conductivity that radiation between the grains adds to a loose bed.

    .. math:: k_r = \frac{4 \sigma d T^3}{2/\varepsilon - 1}

    Parameters
    ----------
    temperature : array_like
        Mean temperature, zero or above [K].
    grain_size : array_like
        Grain diameter d, zero or above [m].
    emissivity : array_like
        Emissivity of the grains, above 0 to 1 [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Opaque grains of one size. Source: the radiation term of Zehner, Bauer and Schluender; recalled
    form, not checked against the paper.
    """
    kelvin = not_negative(temperature, "temperature in kelvin")
    size = not_negative(grain_size, "grain_size")
    walls = positive(checked(emissivity, "emissivity", 0.0, 1.0), "emissivity")
    return floats(4.0 * STEFAN_BOLTZMANN * size * kelvin**3 / (2.0 / walls - 1.0))


def rosseland(
    temperature: ArrayLike, extinction: ArrayLike, refractive_index: ArrayLike = 1.0
) -> FloatArray:
    r"""Radiative conductivity of an optically thick fibre or powder.

    .. math:: k_r = \frac{16 n^2 \sigma T^3}{3 \beta}

    Parameters
    ----------
    temperature : array_like
        Mean temperature, zero or above [K].
    extinction : array_like
        Extinction coefficient beta, above zero [1/m].
    refractive_index : array_like
        Refractive index n of the whole, above zero [-].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Only where many mean free paths of light fit in the layer: blankets and powders, not castables
    with opaque grains. The classical diffusion limit of radiation.

    Examples
    --------
    >>> round(float(rosseland(1000.0, 2000.0)), 5)
    0.15121
    """
    kelvin = not_negative(temperature, "temperature in kelvin")
    index = positive(refractive_index, "refractive_index")
    depth = positive(extinction, "extinction")
    return floats(16.0 * index**2 * STEFAN_BOLTZMANN * kelvin**3 / (3.0 * depth))
