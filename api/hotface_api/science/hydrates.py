"""Water that calcium aluminate hydrates bind, by stoichiometry.

Cement notation: C is CaO, A is Al2O3, H is H2O. Everything is computed from standard atomic
weights; nothing here says how far or how fast a real cement reacts.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, floats, fraction, positive

HYDROGEN, OXYGEN, ALUMINIUM, CALCIUM = 1.008, 15.999, 26.9815385, 40.078
"""Standard atomic weights [g/mol]."""

LIME = (CALCIUM + OXYGEN) / 1000.0
"""Molar mass of CaO [kg/mol]."""

ALUMINA = (2.0 * ALUMINIUM + 3.0 * OXYGEN) / 1000.0
"""Molar mass of Al2O3 [kg/mol]."""

WATER = (2.0 * HYDROGEN + OXYGEN) / 1000.0
"""Molar mass of H2O [kg/mol]."""

BOUND_WATER_MOLAR_VOLUME = 15e-6
"""Volume a mole of crystal water takes in a hydrate, about; read in an abstract [m3/mol]."""


class Formula(NamedTuple):
    """Moles of CaO, Al2O3 and H2O in a mole of a compound."""

    lime: float
    alumina: float
    water: float


COMPOUNDS: Mapping[str, Formula] = MappingProxyType(
    {
        "CA": Formula(1, 1, 0),
        "CAH10": Formula(1, 1, 10),
        "C2AH8": Formula(2, 1, 8),
        "C2AH7.5": Formula(2, 1, 7.5),
        "C3AH6": Formula(3, 1, 6),
        "AH3": Formula(0, 1, 3),
    }
)
"""The aluminate and its hydrates."""

# What one mole of CA becomes with water, in moles of product.
_ROUTES: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "CAH10": {"CAH10": 1.0},
        "C2AH8": {"C2AH8": 1.0 / 2.0, "AH3": 1.0 / 2.0},
        "C3AH6": {"C3AH6": 1.0 / 3.0, "AH3": 2.0 / 3.0},
    }
)


def molar_mass(name: str) -> float:
    """Molar mass of a compound of `COMPOUNDS`.

    Parameters
    ----------
    name : str
        Its name, as ``"C3AH6"``.

    Returns
    -------
    float
        Molar mass [kg/mol].

    Raises
    ------
    KeyError
        If the compound is not listed.

    Examples
    --------
    >>> round(1000 * molar_mass("C3AH6"), 3)
    378.281
    """
    formula = COMPOUNDS[name]
    return formula.lime * LIME + formula.alumina * ALUMINA + formula.water * WATER


def ignition_loss(name: str) -> float:
    """Mass a pure hydrate loses when all its water leaves.

    Parameters
    ----------
    name : str
        Name in `COMPOUNDS`.

    Returns
    -------
    float
        Lost mass over the mass of the hydrate [kg/kg].

    Raises
    ------
    KeyError
        If the compound is not listed.

    Examples
    --------
    >>> round(ignition_loss("AH3"), 4)
    0.3464
    """
    return COMPOUNDS[name].water * WATER / molar_mass(name)


def water_per_ca(route: str) -> float:
    """Water bound by a unit mass of CA when it has reacted completely.

    Parameters
    ----------
    route : {"CAH10", "C2AH8", "C3AH6"}
        The lime-bearing hydrate formed: CA + 10 H -> CAH10; 2 CA + 11 H -> C2AH8 + AH3;
        3 CA + 12 H -> C3AH6 + 2 AH3.

    Returns
    -------
    float
        Water [kg/kg].

    Raises
    ------
    KeyError
        If the route is not listed.

    Examples
    --------
    >>> [round(water_per_ca(route), 3) for route in ("CAH10", "C2AH8", "C3AH6")]
    [1.14, 0.627, 0.456]
    """
    water = sum(moles * COMPOUNDS[name].water for name, moles in _ROUTES[route].items())
    return water * WATER / molar_mass("CA")


def stable_bound_water(ca_share: ArrayLike, reacted: ArrayLike = 1.0) -> FloatArray:
    """Water still bound in a warmed cement, a unit mass of cement.

    Parameters
    ----------
    ca_share : array_like
        Mass share of CA in the cement, 0 to 1 [-].
    reacted : array_like
        Share of the CA that has reacted, 0 to 1 [-].

    Returns
    -------
    ndarray
        Water [kg/kg].

    Raises
    ------
    ValueError
        If a share is outside 0 to 1.

    Notes
    -----
    0.456 kg a kg of CA: 3 CA + 12 H -> C3AH6 + 2 AH3, the pair that remains once the part has been
    warm (about 60 Cel, recalled). Other phases of the cement are taken to bind none; a part kept
    cold and wet can hold up to 1.14 a kg.
    """
    share = fraction(ca_share, "ca_share") * fraction(reacted, "reacted")
    return floats(water_per_ca("C3AH6") * share)


def conversion_mass_kept() -> float:
    """Solid mass left when CAH10 converts: 3 CAH10 -> C3AH6 + 2 AH3 + 18 H.

    Returns
    -------
    float
        Mass of the products over the mass of CAH10 [kg/kg].

    Examples
    --------
    >>> round(conversion_mass_kept(), 3)
    0.68
    """
    return (molar_mass("C3AH6") + 2.0 * molar_mass("AH3")) / (3.0 * molar_mass("CAH10"))


def conversion_volume_kept(cah10: ArrayLike, c3ah6: ArrayLike, ah3: ArrayLike) -> FloatArray:
    """Solid volume left when CAH10 converts: 3 CAH10 -> C3AH6 + 2 AH3 + 18 H.

    Parameters
    ----------
    cah10, c3ah6, ah3 : array_like
        Densities of the hydrates, above zero [kg/m3].

    Returns
    -------
    ndarray
        Volume of the products over the volume of CAH10 [m3/m3].

    Raises
    ------
    ValueError
        If a density is not above zero.

    Notes
    -----
    With recalled densities of 1720, 2520 and 2420 about 0.47: more than half the solid volume
    turns into pores.
    """
    before = 3.0 * molar_mass("CAH10") / positive(cah10, "cah10")
    garnet = molar_mass("C3AH6") / positive(c3ah6, "c3ah6")
    return floats((garnet + 2.0 * molar_mass("AH3") / positive(ah3, "ah3")) / before)
