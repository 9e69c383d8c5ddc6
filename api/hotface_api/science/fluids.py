"""Air and water: correlations fitted to a reference library, with their span and misfit."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked

AIR_SPAN = (250.0, 1800.0)
"""Temperatures the air correlations hold at [K]."""

WATER_SPAN = (273.15, 373.15)
"""Temperatures the water correlation holds at [K]."""

# Fitted here (smallest largest relative error) to CoolProp 8.0.0, dry air at 101.325 kPa,
# 600 temperatures evenly spaced in ln T; x = ln(T / 1000 K).
_AIR_LOG_CONDUCTIVITY = (-2.6929, 0.74923, -0.0025388, 0.020693)
_AIR_LOG_VISCOSITY = (-10.048, 0.65452, -0.017868, 0.019314)
_AIR_HEAT_CAPACITY = (1139.7, 192.13, 6.8475, -81.693, -26.35)
# Likewise, least squares, liquid water at 101.325 kPa; x = (T - 323.15 K) / 50 K.
_WATER_CONDUCTIVITY = (0.64083, 0.055811, -0.023759, 0.0047661)


def _polynomial(coefficients: Sequence[float], x: FloatArray) -> FloatArray:
    """Value of a polynomial, lowest power first."""
    result = np.zeros_like(x)
    for coefficient in reversed(coefficients):
        result = result * x + coefficient
    return result


def _log_temperature(temperature: ArrayLike) -> FloatArray:
    kelvin = checked(temperature, "temperature in kelvin", *AIR_SPAN)
    return np.log(kelvin / 1000.0)


def air_conductivity(temperature: ArrayLike) -> FloatArray:
    r"""Thermal conductivity of dry air at 101.325 kPa.

    .. math:: \ln k = a_0 + a_1 x + a_2 x^2 + a_3 x^3, \quad x = \ln(T / 1000\,\mathrm{K})

    Parameters
    ----------
    temperature : array_like
        Temperature, 250 to 1800 [K].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a temperature is outside 250 to 1800 K.

    Notes
    -----
    Basis computed: fitted here to values of the CoolProp 8.0.0 reference library; largest
    difference from it 0.03 %. The uncertainty of the library itself comes
    on top. Hardly depends on pressure in pores much wider than the mean free path.

    Examples
    --------
    >>> round(float(air_conductivity(300.0)), 4)
    0.0264
    """
    return np.exp(_polynomial(_AIR_LOG_CONDUCTIVITY, _log_temperature(temperature)))


def air_viscosity(temperature: ArrayLike) -> FloatArray:
    """Dynamic viscosity of dry air at 101.325 kPa.

    Parameters
    ----------
    temperature : array_like
        Temperature, 250 to 1800 [K].

    Returns
    -------
    ndarray
        Viscosity [Pa.s].

    Raises
    ------
    ValueError
        If a temperature is outside 250 to 1800 K.

    Notes
    -----
    Basis computed: the same form and library as `air_conductivity`; largest difference 0.07 %.
    """
    return np.exp(_polynomial(_AIR_LOG_VISCOSITY, _log_temperature(temperature)))


def air_heat_capacity(temperature: ArrayLike) -> FloatArray:
    r"""Isobaric heat capacity of dry air at 101.325 kPa.

    .. math:: c_p = \sum_{i=0}^{4} a_i x^i, \quad x = \ln(T / 1000\,\mathrm{K})

    Parameters
    ----------
    temperature : array_like
        Temperature, 250 to 1800 [K].

    Returns
    -------
    ndarray
        Heat capacity [J/(kg.K)].

    Raises
    ------
    ValueError
        If a temperature is outside 250 to 1800 K.

    Notes
    -----
    Basis computed: fitted here to values of the CoolProp 8.0.0 reference library; largest
    difference from it 0.13 %.

    Examples
    --------
    >>> round(float(air_heat_capacity(1000.0)))
    1140
    """
    return _polynomial(_AIR_HEAT_CAPACITY, _log_temperature(temperature))


def water_conductivity(temperature: ArrayLike) -> FloatArray:
    r"""Thermal conductivity of liquid water at 101.325 kPa.

    .. math:: k = \sum_{i=0}^{3} a_i x^i, \quad x = (T - 323.15\,\mathrm{K}) / 50\,\mathrm{K}

    Parameters
    ----------
    temperature : array_like
        Temperature, 273.15 to 373.15 [K].

    Returns
    -------
    ndarray
        Conductivity [W/(m.K)].

    Raises
    ------
    ValueError
        If a temperature is outside 273.15 to 373.15 K.

    Notes
    -----
    Basis computed: fitted here to values of the CoolProp 8.0.0 reference library; largest
    difference from it 0.16 %.

    Examples
    --------
    >>> round(float(water_conductivity(293.15)), 3)
    0.598
    """
    kelvin = checked(temperature, "temperature in kelvin", *WATER_SPAN)
    return _polynomial(_WATER_CONDUCTIVITY, (kelvin - 323.15) / 50.0)
