"""Strength against porosity: a ratio to a reference body, then a class, never a promised value."""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, checked, floats, fraction, not_negative

CLASS_UNIT = 1.0e6
"""Classes are bounded by this strength times powers of two [Pa]."""


def porosity_ratio(
    porosity: ArrayLike, reference_porosity: ArrayLike, exponent: ArrayLike = 4.0
) -> FloatArray:
    r"""Strength of a body over that of a like body of another porosity.

    .. math:: \frac{s}{s_r} = \left(\frac{1-P}{1-P_r}\right)^m

    Parameters
    ----------
    porosity : array_like
        Volume share P of the pores, 0 to 1 [-].
    reference_porosity : array_like
        The same of the reference body, 0 to below 1 [-].
    exponent : array_like
        m, 4 give or take 1 [-].

    Returns
    -------
    ndarray
        Ratio [-].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Only between bodies of one binder, state and kind of grain, and only to choose a class.
    Source: Balshin's power form; recalled, with m from 3 to 6, not checked against the paper.
    """
    solid = 1.0 - fraction(porosity, "porosity")
    reference = 1.0 - checked(reference_porosity, "reference_porosity", 0.0, np.nextafter(1.0, 0.0))
    return floats((solid / reference) ** not_negative(exponent, "exponent"))


def strength_class(strength: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Class, a factor of two wide, that a strength falls in.

    Parameters
    ----------
    strength : array_like
        Strength, zero or above [Pa].

    Returns
    -------
    low, high : ndarray
        Bounds ``low <= strength < high``: neighbouring powers of two of 1 MPa; both 0 for no
        strength [Pa].

    Raises
    ------
    ValueError
        If a strength is negative or infinite.

    Notes
    -----
    Our own ladder; no standard has these classes.

    Examples
    --------
    >>> low, high = strength_class(5.0e6)
    >>> float(low), float(high)
    (4000000.0, 8000000.0)
    """
    value = not_negative(strength, "strength")
    _, power = np.frexp(value / CLASS_UNIT)
    high = np.where(value > 0, np.ldexp(CLASS_UNIT, power), value)
    return high / 2.0, high


def ryshkewitch(dense: ArrayLike, porosity: ArrayLike, decline: ArrayLike) -> FloatArray:
    r"""Strength of a sintered body with pores.

    .. math:: s = s_0 \exp(-b P)

    Parameters
    ----------
    dense : array_like
        Strength without pores, zero or above [Pa].
    porosity : array_like
        Volume share P of the pores, 0 to 1 [-].
    decline : array_like
        b; 4 to 7 recalled, 3.75 read for the bending strength of magnesia [-].

    Returns
    -------
    ndarray
        Strength [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    For sintered ceramics of one kind; fit b first. It does not vanish at full porosity.
    Source: Ryshkewitch (1953), not seen; form and 3.75 read in worked solutions to a textbook.

    Examples
    --------
    >>> round(float(105.0 / ryshkewitch(1.0, 0.05, 3.75)), 1)
    126.7
    """
    share, fall = fraction(porosity, "porosity"), not_negative(decline, "decline")
    return floats(not_negative(dense, "dense") * np.exp(-fall * share))


def gel_space_strength(
    gel_space_ratio: ArrayLike, intrinsic: ArrayLike = 240.0e6, exponent: ArrayLike = 3.0
) -> FloatArray:
    r"""Strength of Portland cement paste from how far gel fills its space.

    .. math:: s = A X^n

    Parameters
    ----------
    gel_space_ratio : array_like
        X, 0 to 1 [-].
    intrinsic : array_like
        A, zero or above; 240 MPa on a teaching page [Pa].
    exponent : array_like
        n; 2.6 to 3.0 in a report [-].

    Returns
    -------
    ndarray
        Strength [Pa].

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Portland cement only, not calcium aluminate cement; kept to judge mixes that hold Portland.
    Source: Powers, not seen; constants as said above.

    Examples
    --------
    >>> round(float(gel_space_strength(0.589)) / 1e6, 2)
    49.04
    """
    ratio = fraction(gel_space_ratio, "gel_space_ratio")
    power = not_negative(exponent, "exponent")
    return floats(not_negative(intrinsic, "intrinsic") * ratio**power)
