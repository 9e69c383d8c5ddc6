"""Which conductivity rule for which structure: a middle estimate between two edge rules.

Chosen on 50 published bodies; the choice was made after seeing the errors, so expect 10 to 15 % as
a typical error, not the few per cent of that trial. Work in steps: gas and shell to grain, solid
and pores to paste, grains and trapped voids to castable. One step over all phases at once is wrong
for light mixes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, floats, shares
from hotface_api.science.conductivity import (
    clamp,
    differential,
    effective_medium,
    hashin_shtrikman_upper,
    log_mean,
    maxwell,
    zehner_schluender,
)

OPEN_UNTIL, CLOSED_FROM = 0.45, 0.65
"""Porosities between which a sintered body's estimate leaves the symmetric rule."""


class Band(NamedTuple):
    """An estimate between two edge rules.

    Attributes
    ----------
    low, typical, high : ndarray, shape (...)
        Conductivity [W/(m.K)].
    """

    low: FloatArray
    typical: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True)
class Structure:
    """A kind of structure and its three rules.

    Attributes
    ----------
    name : str
        Stable name.
    title : str
        Name for people.
    typical, low, high : callable
        ``function(fractions, conductivities)`` with the host or solid first.
    trial : str
        How the middle rule did on the trial bodies.
    """

    name: str
    title: str
    typical: Callable[[ArrayLike, ArrayLike], FloatArray]
    low: Callable[[ArrayLike, ArrayLike], FloatArray]
    high: Callable[[ArrayLike, ArrayLike], FloatArray]
    trial: str

    def band(self, fractions: ArrayLike, conductivities: ArrayLike) -> Band:
        """Estimate with its edges.

        Parameters
        ----------
        fractions : array_like, shape (..., n)
            Volume fractions, host or solid first, summing to 1 over the last axis [-].
        conductivities : array_like, shape (..., n)
            Conductivity of each phase, zero or above [W/(m.K)].

        Returns
        -------
        Band
            In order and inside the Hashin-Shtrikman bounds.

        Raises
        ------
        ValueError
            If the fractions or conductivities are not usable.

        Notes
        -----
        An edge rule that crosses the middle one is moved to it: the differential rule is the low
        edge for light grains in a matrix but lies above Maxwell's for dense ones.
        """
        middle = clamp(self.typical(fractions, conductivities), fractions, conductivities)
        low = clamp(self.low(fractions, conductivities), fractions, conductivities)
        high = clamp(self.high(fractions, conductivities), fractions, conductivities)
        return Band(np.minimum(low, middle), middle, np.maximum(high, middle))


def closed_pores(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    """Log mean of `maxwell` and `differential`: paste, foam, and structures not declared.

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, solid first, summing to 1 over the last axis [-].
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
    Hardened paste of porosity 0.2 to 0.5 and foamed matrices of 320 to 1600 kg/m3. Our choice.
    """
    return log_mean(maxwell(fractions, conductivities), differential(fractions, conductivities))


def thin_shell(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    """Log mean of `maxwell` and `effective_medium`: a porous grain of shell and gas.

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, shell first, summing to 1 over the last axis [-].
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
    For the grains of a loose fill. Weak: five trial points. Our choice.
    """
    return log_mean(maxwell(fractions, conductivities), effective_medium(fractions, conductivities))


def sintered_pores(fractions: ArrayLike, conductivities: ArrayLike) -> FloatArray:
    """`effective_medium`, from a porosity of 0.45 on blended into `thin_shell` at 0.65.

    Parameters
    ----------
    fractions : array_like, shape (..., n)
        Volume fractions, solid first, the rest pores, summing to 1 over the last axis [-].
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
    Fired bodies with open pores, from burnt-out matter or incomplete sintering. Our choice.
    """
    pores = 1.0 - shares(fractions)[..., 0]
    blend = np.clip((pores - OPEN_UNTIL) / (CLOSED_FROM - OPEN_UNTIL), 0.0, 1.0)
    symmetric = effective_medium(fractions, conductivities)
    return log_mean(symmetric, thin_shell(fractions, conductivities), blend)


def loose_fill(
    k_grain: ArrayLike,
    k_solid: ArrayLike,
    k_gas: ArrayLike,
    solid_fraction: ArrayLike,
    void_fraction: ArrayLike,
    radiation: ArrayLike = 0.0,
) -> Band:
    """Loose heap of porous grains.

    Parameters
    ----------
    k_grain : array_like
        Conductivity of a grain with its own pores, by `thin_shell` as a rule, above zero
        [W/(m.K)].
    k_solid : array_like
        Conductivity of the grain's shell, above zero [W/(m.K)].
    k_gas : array_like
        Conductivity of the gas, above zero [W/(m.K)].
    solid_fraction : array_like
        Share of shell in the whole heap, 0 to 1 [-].
    void_fraction : array_like
        Share of the heap between the grains, 0 to 1 [-].
    radiation : array_like
        Conductivity radiation adds between the grains, zero or above [W/(m.K)].

    Returns
    -------
    Band
        Low without radiation, typical with it, high the upper bound of shell and gas.

    Raises
    ------
    ValueError
        If a conductivity or share is not usable.

    Notes
    -----
    Weak: median error 16 %, worst 40 %, biased low, on five trial points.
    """
    still = zehner_schluender(k_grain, k_gas, void_fraction)
    middle = zehner_schluender(k_grain, k_gas, void_fraction, radiation)
    share = floats(solid_fraction)
    parts = np.stack([share, 1.0 - share], axis=-1)
    gas = floats(k_gas) + floats(radiation)
    phases = np.stack(np.broadcast_arrays(floats(k_solid), gas), axis=-1)
    return Band(still, middle, np.maximum(hashin_shtrikman_upper(parts, phases), middle))


_ALL = (
    Structure(
        name="paste",
        title="Hardened binder paste, closed or fine pores",
        typical=closed_pores,
        low=effective_medium,
        high=maxwell,
        trial="12 dry pastes from their wet value: median 3.7 %, worst 15 %",
    ),
    Structure(
        name="cellular",
        title="Foamed or cellular matrix, closed cells",
        typical=closed_pores,
        low=differential,
        high=maxwell,
        trial="foam concretes of 320 to 1600 kg/m3: median 2.4 %, worst 19 %",
    ),
    Structure(
        name="sintered",
        title="Fired body, burnt-out or sintered open pores",
        typical=sintered_pores,
        low=effective_medium,
        high=maxwell,
        trial="bricks 5.7 %, starch-burnt alumina 3.1 %",
    ),
    Structure(
        name="grains",
        title="Grains in a matrix",
        typical=maxwell,
        low=differential,
        high=hashin_shtrikman_upper,
        trial="expanded clay 0.9 %, perlite and vermiculite 7.5 % and low",
    ),
    Structure(
        name="shell",
        title="Porous grain",
        typical=thin_shell,
        low=effective_medium,
        high=maxwell,
        trial="only inside loose fill",
    ),
    Structure(
        name="undeclared",
        title="Structure not declared",
        typical=closed_pores,
        low=effective_medium,
        high=maxwell,
        trial="all bulk bodies without mullite foam: median 6.4 %, ninth tenth 19 %",
    ),
)

STRUCTURES: Mapping[str, Structure] = MappingProxyType({each.name: each for each in _ALL})
"""Every structure by name."""
