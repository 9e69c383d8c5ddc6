"""Curves over temperature: low, typical and high with the bounds of an estimate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

from hotface._errors import BadQuantity, NoAnswer, OutsideSpan
from hotface._frames import data_frame
from hotface._functions import CurveFunction, Outside
from hotface._quantities import QuantityLike, plain_temperature
from hotface._ranges import Magnitudes, Range
from hotface._show import html_table, show_number, show_unit
from hotface.units import UNITS, convert, find_unit

__all__ = ["Curve", "Which"]

Which = Literal[
    "low", "typical", "high", "lower_bound", "upper_bound", "series_bound", "parallel_bound"
]
_WAYS: Final[tuple[str, ...]] = get_args(Outside)
_LINES: Final[tuple[Which, ...]] = ("low", "typical", "high")
_BOUNDS: Final = ("lower_bound", "upper_bound", "series_bound", "parallel_bound")
_Numbers = tuple[float | None, ...]


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

    def at(self, temperature: float | QuantityLike, outside: Outside = "raise") -> Range:
        """Give the range at one temperature, each line read straight between its points.

        Parameters
        ----------
        temperature : quantity or float
            Such as ``"600 degC"``; a plain number is in ``temperature_unit``.
        outside : {"raise", "clamp", "extrapolate"}
            What to do outside the evidence; see ``CurveFunction``.

        Returns
        -------
        Range
            An end is ``None`` where nothing is held for it.

        Raises
        ------
        OutsideSpan
            At a temperature where no line is held.
        NoAnswer
            If the curve has no point at all.
        """
        number = plain_temperature(temperature, self.temperature_unit)
        refused: NoAnswer | OutsideSpan | None = None
        found: dict[str, float | None] = dict.fromkeys(_LINES)
        for name in _LINES:
            try:
                found[name] = self.function(outside, which=name)(number)
            except (NoAnswer, OutsideSpan) as error:
                refused = refused or error
        if refused is not None and all(value is None for value in found.values()):
            raise refused
        return Range(Magnitudes(found["low"], found["typical"], found["high"]), self.unit)

    def to_dataframe(self) -> Any:
        """Give the points as a pandas data frame; units are in ``frame.attrs``.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        frame = data_frame(self.rows())
        frame.attrs["unit"] = self.unit
        frame.attrs["temperature_unit"] = self.temperature_unit
        return frame

    def figure(self, name: str = "") -> Any:
        """Draw the curve with its band and bounds.

        Parameters
        ----------
        name : str
            What it is of; the title.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        NotInstalled
            If matplotlib is not installed.
        """
        from hotface import _figures  # noqa: PLC0415 - drawn only when asked for

        return _figures.curve_figure(self, name)

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
        outside : {"raise", "clamp", "extrapolate"}
            What to do outside the evidence; see ``CurveFunction``.
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
        if outside not in _WAYS:
            raise ValueError(f"outside must be one of {', '.join(_WAYS)}, not {outside!r}")
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
