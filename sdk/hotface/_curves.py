"""Curves over temperature, and functions made of them for other programs to call.

A function takes plain numbers, NumPy arrays or pint quantities and answers in kind. NumPy is never
imported: whoever passes an array has loaded it already.
"""

from __future__ import annotations

import sys
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias, overload

from hotface._errors import BadQuantity, NoAnswer, OutsideSpan
from hotface._quantities import QuantityLike, is_pint, pint_numbers, pint_quantity, read_quantity
from hotface._ranges import Magnitudes, Range
from hotface._show import html_table, show_number, show_unit
from hotface.units import UNITS, convert, find_unit

if TYPE_CHECKING:
    import numpy as np
    import pint
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

__all__ = ["Curve", "CurveFunction", "Outside", "Which"]

Outside = Literal["raise", "clamp"]
Which = Literal[
    "low", "typical", "high", "lower_bound", "upper_bound", "series_bound", "parallel_bound"
]
_BOUNDS: Final = ("lower_bound", "upper_bound", "series_bound", "parallel_bound")
_Numbers = tuple[float | None, ...]


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
        ``raise`` outside the span, or ``clamp`` to the value at its end. Gaps always raise.
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
            At a temperature without evidence, unless clamped.
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

    def _one(self, temperature: float) -> float:
        low, high = self.span
        if self.outside == "clamp":
            temperature = low if temperature < low else min(temperature, high)
        if not low <= temperature <= high:
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
        if outside.any():
            raise self._refuse(float(asked[outside].flat[0]))
        if any(self.gaps):
            right = numpy.searchsorted(self.temperatures, asked, side="right") - 1
            known = numpy.asarray(self.temperatures)[right]
            lost = numpy.asarray(self.gaps)[right] & (asked != known)
            if lost.any():
                raise self._refuse(float(asked[lost].flat[0]))
        return numpy.interp(asked, self.temperatures, self.values)


@dataclass(frozen=True, slots=True)
class Curve:
    """A property over temperature with its low and high; ``None`` where nothing is held.

    Iterating gives ``(temperature, Range)`` pairs. The bounds are what physics
    allows an estimate to be; only estimates have them.
    """

    temperatures: tuple[float, ...]
    low: _Numbers
    typical: _Numbers
    high: _Numbers
    unit: str
    temperature_unit: str = "Cel"
    lower_bound: _Numbers | None = None
    upper_bound: _Numbers | None = None
    series_bound: _Numbers | None = None
    parallel_bound: _Numbers | None = None
    method: str | None = None
    extrapolated: tuple[bool, ...] | None = None

    @classmethod
    def from_band(cls, band: Mapping[str, Any], unit: str) -> Curve:
        """Read the columns of a property answer."""
        return cls(
            tuple(float(one) for one in band["temperature"]),
            _numbers(band["low"]),
            _numbers(band["typical"]),
            _numbers(band["high"]),
            unit,
            band["temperature_unit"],
        )

    @classmethod
    def from_points(
        cls, points: Sequence[Mapping[str, Any]], unit: str, method: str | None = None
    ) -> Curve:
        """Read a list of points, each with its temperature as a quantity."""
        temperatures = [point["temperature"] for point in points]
        marked = any("extrapolated" in point for point in points)

        def line(name: str) -> _Numbers:
            return _numbers(point[name] for point in points)

        return cls(
            tuple(float(one["value"]) for one in temperatures),
            line("low"),
            line("typical"),
            line("high"),
            unit,
            temperatures[0]["unit"] if temperatures else "Cel",
            **{name: line(name) for name in _BOUNDS if points and name in points[0]},
            method=method,
            extrapolated=tuple(bool(one["extrapolated"]) for one in points) if marked else None,
        )

    def __len__(self) -> int:
        return len(self.temperatures)

    def __iter__(self) -> Iterator[tuple[float, Range]]:
        for row in zip(self.temperatures, self.low, self.typical, self.high, strict=True):
            yield row[0], Range(Magnitudes(*row[1:]), self.unit)

    @property
    def span(self) -> tuple[float, float] | None:
        """Lowest and highest temperature at which something is held; ``None`` if nowhere."""
        known = [
            t for t, value in zip(self.temperatures, self.typical, strict=True) if value is not None
        ]
        return (known[0], known[-1]) if known else None

    def function(
        self,
        outside: Outside = "raise",
        *,
        which: Which = "typical",
        temperature_unit: str | None = None,
        unit: str | None = None,
    ) -> CurveFunction:
        """Make a function of temperature for another program to call.

        Parameters
        ----------
        outside : {"raise", "clamp"}
            What to do outside the evidence.
        which : str
            Which line: ``typical``, ``low``, ``high``, or a bound of an estimate.
        temperature_unit, unit : str, optional
            Units of plain numbers in and out; the curve's own by default.

        Returns
        -------
        CurveFunction

        Raises
        ------
        NoAnswer
            If the line has no point.
        """
        if outside not in ("raise", "clamp"):
            raise ValueError(f"outside must be 'raise' or 'clamp', not {outside!r}")
        line: _Numbers | None = getattr(self, which, None)
        if line is None or all(value is None for value in line):
            raise NoAnswer(f"nothing is held for the {which} line of this curve")
        code_in = _same_dimension(temperature_unit, self.temperature_unit)
        code_out = _same_dimension(unit, self.unit)
        knots: list[tuple[float, float]] = []
        gaps: list[bool] = []
        for temperature, value in zip(self.temperatures, line, strict=True):
            if value is not None:
                knots.append(
                    (
                        _converted(temperature, self.temperature_unit, code_in),
                        _converted(value, self.unit, code_out),
                    )
                )
                gaps.append(False)
            elif gaps:
                gaps[-1] = True
        gaps[-1] = False
        temperatures, values = zip(*knots, strict=True)
        return CurveFunction(temperatures, values, tuple(gaps), code_in, code_out, outside)

    def rows(self) -> list[dict[str, Any]]:
        """Give one dictionary a point, as for a data frame; columns carry no unit."""
        lines = {"low": self.low, "typical": self.typical, "high": self.high}
        for name in (*_BOUNDS, "extrapolated"):
            line = getattr(self, name)
            if line is not None:
                lines[name] = line
        return [
            {"temperature": temperature, **{name: line[place] for name, line in lines.items()}}
            for place, temperature in enumerate(self.temperatures)
        ]

    def __str__(self) -> str:
        span = self.span
        unit = show_unit(self.temperature_unit)
        if span is None:
            return "a curve without evidence"
        held = [value for value in self.typical if value is not None]
        return (
            f"{len(self)} points, {show_number(span[0])} to {show_number(span[1])} {unit},"
            f" {show_number(min(held))} to {show_number(max(held))} {show_unit(self.unit)}"
        )

    def _repr_html_(self) -> str:
        rows = self.rows()
        names = list(rows[0]) if rows else ["temperature"]
        unit = show_unit(self.unit) or "plain numbers"
        return html_table(
            f"in {unit}, temperature in {show_unit(self.temperature_unit)}",
            [name.replace("_", " ") for name in names],
            [[_shown(row[name]) for name in names] for row in rows],
        )


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return show_number(value)


def _numbers(values: Iterable[Any]) -> _Numbers:
    return tuple(None if value is None else float(value) for value in values)


def _converted(value: float, source: str, target: str) -> float:
    return value if source == target else convert(value, source, target)


def _same_dimension(unit: str | None, own: str) -> str:
    if unit is None or unit == own:
        return own
    dimension = UNITS[own].dimension if own in UNITS else None
    try:
        return find_unit(unit, dimension).code
    except ValueError as error:
        raise BadQuantity(str(error)) from None
