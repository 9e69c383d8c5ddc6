"""A property as a function of temperature, for other programs to call.

A function takes plain numbers, NumPy arrays or pint quantities and answers in kind. NumPy is never
imported: whoever passes an array has loaded it already.
"""

from __future__ import annotations

import sys
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Literal, TypeAlias, overload

from hotface._errors import BadQuantity, OutsideSpan
from hotface._quantities import QuantityLike, is_pint, pint_numbers, pint_quantity, read_quantity
from hotface._show import show_number, show_unit

if TYPE_CHECKING:
    import numpy as np
    import pint
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

__all__ = ["CurveFunction", "Outside"]

Outside = Literal["raise", "clamp", "extrapolate"]


@dataclass(frozen=True, slots=True)
class CurveFunction:
    """A property as a function of temperature, linear between the points it rests on.

    Plain numbers and arrays are in ``temperature_unit`` and come back in ``unit``; a pint quantity
    (or ``"600 degC"``) may be in any temperature unit and comes back as a pint quantity.

    Attributes
    ----------
    temperatures, values : tuple of float
        The points. Two points at one temperature make a step; there the upper one holds.
    gaps : tuple of bool
        Whether nothing is known between a point and the next.
    outside : str
        ``raise`` outside the span, ``clamp`` to the value at its end, or ``extrapolate`` along the
        straight line through the last two points, which no evidence carries; where that line would
        leave the sign of the curve it raises. Gaps always raise.
    """

    temperatures: tuple[float, ...]
    values: tuple[float, ...]
    gaps: tuple[bool, ...]
    temperature_unit: str
    unit: str
    outside: Outside = "raise"

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest temperature of the evidence, in ``temperature_unit``."""
        return self.temperatures[0], self.temperatures[-1]

    @overload
    def __call__(self, temperature: float) -> float: ...
    @overload
    def __call__(self, temperature: list[float]) -> list[float]: ...
    @overload
    def __call__(self, temperature: Array) -> Array: ...
    @overload
    def __call__(self, temperature: QuantityLike) -> pint.Quantity[Any]: ...
    def __call__(self, temperature: Any) -> Any:
        """Evaluate at a temperature or many.

        Raises
        ------
        OutsideSpan
            At a temperature without evidence, unless clamped or extrapolated.
        """
        if is_pint(temperature):
            numbers = pint_numbers(temperature, self.temperature_unit, "temperature")
            return pint_quantity(self._plain(numbers), self.unit)
        if isinstance(temperature, (str, tuple)) or hasattr(temperature, "to_json"):
            figure = read_quantity(temperature, "temperature", "temperature")
            return pint_quantity(self._one(figure.to(self.temperature_unit).value), self.unit)
        return self._plain(temperature)

    def _plain(self, temperature: Any) -> Any:
        if isinstance(temperature, (int, float)):
            return self._one(float(temperature))
        if hasattr(temperature, "__array__"):
            return self._array(temperature)
        if isinstance(temperature, Iterable):
            return [self._one(float(one)) for one in temperature]
        raise BadQuantity(
            f"{temperature!r} is no temperature: give a number, an array or a quantity"
        )

    def _refuse(self, temperature: float) -> OutsideSpan:
        low, high = self.span
        inside = low <= temperature <= high
        why = "lies in a gap of the evidence" if inside else "is outside the evidence"
        unit = show_unit(self.temperature_unit)
        return OutsideSpan(
            f"{show_number(temperature)} {unit} {why}, which spans {show_number(low)} to"
            f" {show_number(high)} {unit}; ask inside it"
            + ("" if inside else ", or use function(outside='clamp') if an end value will do")
        )

    def _slope(self, *, upper: bool) -> float:
        """Give the slope at an end, past a step there."""
        order = range(len(self.temperatures) - 1)
        for left in reversed(order) if upper else order:
            width = self.temperatures[left + 1] - self.temperatures[left]
            if width > 0 and not self.gaps[left]:
                return (self.values[left + 1] - self.values[left]) / width
        raise OutsideSpan("the curve rests on one temperature; it has no slope to go on with")

    def _beyond(self, temperature: float) -> float:
        """Go on straight outside the span."""
        upper = temperature > self.span[1]
        end = -1 if upper else 0
        value = self.values[end]
        found = value + self._slope(upper=upper) * (temperature - self.temperatures[end])
        if min(self.values) > 0 >= found or max(self.values) < 0 <= found:
            raise OutsideSpan(
                f"{show_number(temperature)} {show_unit(self.temperature_unit)} is so far outside"
                " the evidence that the straight line leaves the sign of the curve; ask nearer it"
            )
        return found

    def _one(self, temperature: float) -> float:
        low, high = self.span
        if self.outside == "clamp":
            temperature = low if temperature < low else min(temperature, high)
        if not low <= temperature <= high:
            if self.outside == "extrapolate" and isfinite(temperature):
                return self._beyond(temperature)
            raise self._refuse(temperature)
        right = bisect_right(self.temperatures, temperature)
        if right == len(self.temperatures):
            return self.values[-1]
        start, end = self.temperatures[right - 1], self.temperatures[right]
        if self.gaps[right - 1] and temperature != start:
            raise self._refuse(temperature)
        share = (temperature - start) / (end - start)
        return self.values[right - 1] + share * (self.values[right] - self.values[right - 1])

    def _array(self, temperature: Any) -> Any:
        numpy: Any = sys.modules["numpy"]
        asked = numpy.asarray(temperature, dtype=float)
        low, high = self.span
        if self.outside == "clamp":
            asked = numpy.clip(asked, low, high)
        outside = ~((asked >= low) & (asked <= high))
        if outside.any() and self.outside == "extrapolate":
            inside = self._array(numpy.clip(asked, low, high))
            far = [self._one(float(one)) for one in asked[outside]]
            inside = numpy.array(inside, dtype=float)
            inside[outside] = far
            return inside
        if outside.any():
            raise self._refuse(float(asked[outside].flat[0]))
        if any(self.gaps):
            right = numpy.searchsorted(self.temperatures, asked, side="right") - 1
            known = numpy.asarray(self.temperatures)[right]
            lost = numpy.asarray(self.gaps)[right] & (asked != known)
            if lost.any():
                raise self._refuse(float(asked[lost].flat[0]))
        return numpy.interp(asked, self.temperatures, self.values)
