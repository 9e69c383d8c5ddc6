"""Array types and input checks shared by the formulas."""

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray: TypeAlias = NDArray[np.float64]

TINY = 1e-290
"""Smallest divisor used, so that an empty pore (conductivity 0) never divides by zero."""

FRACTION_TOLERANCE = 1e-6
"""How far a set of volume or mass fractions may be from 1 in sum."""


def floats(values: ArrayLike) -> FloatArray:
    """Return `values` as an array of floats."""
    return np.asarray(values, dtype=np.float64)


def total(values: FloatArray) -> FloatArray:
    """Return the sum over the last axis."""
    result: FloatArray = np.sum(values, axis=-1)
    return result


def checked(values: ArrayLike, name: str, low: float, high: float) -> FloatArray:
    """Return `values` as an array, all inside ``low <= value <= high``; NaN passes.

    Raises
    ------
    ValueError
        If any value is outside.
    """
    array = floats(values)
    if np.any(array < low) or np.any(array > high):
        raise ValueError(f"{name} must lie between {low:g} and {high:g}")
    return array


def positive(values: ArrayLike, name: str) -> FloatArray:
    """Return `values` as an array, all above zero and finite; NaN passes.

    Raises
    ------
    ValueError
        If any value is zero, negative or infinite.
    """
    array = floats(values)
    if np.any(array <= 0) or np.any(np.isinf(array)):
        raise ValueError(f"{name} must be above zero and finite")
    return array


def not_negative(values: ArrayLike, name: str) -> FloatArray:
    """Return `values` as an array, all zero or above and finite; NaN passes.

    Raises
    ------
    ValueError
        If any value is negative or infinite.
    """
    array = floats(values)
    if np.any(array < 0) or np.any(np.isinf(array)):
        raise ValueError(f"{name} must be zero or above and finite")
    return array


def fraction(values: ArrayLike, name: str) -> FloatArray:
    """Return `values` as an array, all inside 0 to 1; NaN passes.

    Raises
    ------
    ValueError
        If any value is outside.
    """
    return checked(values, name, 0.0, 1.0)


def shares(values: ArrayLike, name: str = "fractions") -> FloatArray:
    """Return fractions whose last axis sums to one.

    Raises
    ------
    ValueError
        If there is no last axis, a fraction is outside 0 to 1, or a sum is not 1.
    """
    array = checked(values, name, 0.0, 1.0 + FRACTION_TOLERANCE)
    if array.ndim == 0 or array.shape[-1] == 0:
        raise ValueError(f"{name} need a last axis with one entry a phase")
    if np.any(np.abs(total(array) - 1.0) > FRACTION_TOLERANCE):
        raise ValueError(f"{name} must sum to 1 over the last axis")
    return array


def mixture(
    fractions: ArrayLike, values: ArrayLike, name: str = "conductivities"
) -> tuple[FloatArray, FloatArray]:
    """Return checked fractions and a non-negative property, broadcast to one shape (..., n).

    Raises
    ------
    ValueError
        If the fractions do not sum to 1, a property is negative or infinite, or the two do not
        have the same number of phases.
    """
    parts = shares(fractions)
    each = not_negative(values, name)
    if each.ndim == 0 or each.shape[-1] != parts.shape[-1]:
        raise ValueError(
            f"{name} and fractions must have the same number of phases on the last axis"
        )
    both = np.broadcast_arrays(parts, each)
    return both[0], both[1]
