"""The draws behind an estimate, for a calculation of one's own."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from hotface._errors import NoAnswer, NotInstalled
from hotface._frames import load_pandas
from hotface._quantities import QuantityLike, plain_temperature
from hotface._show import html_table, show_number, show_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

__all__ = ["Draws"]

_NEITHER: Final = frozenset({"count", "temperatures", "temperature_unit", "densities"})
_NEAR: Final = 1e-6
_PERCENTS: Final = (5, 50, 95)


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Draws of an estimate as arrays, correlated as drawn.

    Draw number 7 is one and the same chance piece in every array: its density, its conductivity at
    each temperature and its heat capacity belong together. Take them together in a calculation of
    your own, and the spread of its results is right.

    Attributes
    ----------
    count : int
        Number of draws.
    temperatures : tuple of float
        Of the columns of a curve, in ``temperature_unit``.
    arrays : mapping of str to ndarray
        By property: ``(count,)``, or ``(count, temperatures)`` for a curve. Read-only. Densities
        in the several states are ``fresh_density``, ``demoulded_density`` and so on.
    units : mapping of str to str
        UCUM code by property.
    """

    count: int
    temperatures: tuple[float, ...]
    temperature_unit: str
    arrays: Mapping[str, Array]
    units: Mapping[str, str]

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> Draws | None:
        """Read the draws of an answer; ``None`` stays ``None``.

        Raises
        ------
        NotInstalled
            If NumPy is not installed.
        """
        if document is None:
            return None
        states = document.get("densities") or {}
        flat = {**document, **{f"{state}_density": one for state, one in states.items()}}
        named = {
            name: one for name, one in flat.items() if name not in _NEITHER and one is not None
        }
        arrays = {name: _array(one["values"]) for name, one in named.items()}
        return cls(
            int(document["count"]),
            tuple(float(one) for one in document["temperatures"]),
            str(document["temperature_unit"]),
            arrays,
            {name: str(one["unit"]) for name, one in named.items()},
        )

    def __len__(self) -> int:
        return self.count

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Draws):
            return NotImplemented
        mine = (self.count, self.temperatures, self.temperature_unit, dict(self.units))
        theirs = (other.count, other.temperatures, other.temperature_unit, dict(other.units))
        return mine == theirs and all(
            bool((self.arrays[name] == other.arrays[name]).all()) for name in self.arrays
        )

    __hash__ = None  # type: ignore[assignment]

    def __getitem__(self, name: str) -> Array:
        """Give the array of a property.

        Raises
        ------
        NoAnswer
            If the draws do not hold it; the message names what they hold.
        """
        if name not in self.arrays:
            raise NoAnswer(f"the draws hold no {name!r}; they hold {', '.join(self.arrays)}")
        return self.arrays[name]

    @property
    def bulk_density(self) -> Array:
        """Mass per volume, one figure a draw."""
        return self["bulk_density"]

    @property
    def thermal_conductivity(self) -> Array:
        """Conductivity, a row a draw and a column a temperature."""
        return self["thermal_conductivity"]

    @property
    def specific_heat_capacity(self) -> Array:
        """Heat capacity, a row a draw and a column a temperature."""
        return self["specific_heat_capacity"]

    def at(self, name: str, temperature: float | QuantityLike) -> Array:
        """Give the draws of a curve at one of its temperatures.

        Parameters
        ----------
        name : str
            Property.
        temperature : quantity or float
            Such as ``"600 degC"``; a plain number is in ``temperature_unit``.

        Raises
        ------
        NoAnswer
            If the curve has no draws, or the estimate was not asked at that temperature.
        """
        found = self[name]
        if found.ndim == 1:
            raise NoAnswer(f"{name.replace('_', ' ')} is one figure a draw, at no temperature")
        wanted = plain_temperature(temperature, self.temperature_unit)
        for place, each in enumerate(self.temperatures):
            if abs(each - wanted) <= _NEAR * max(1.0, abs(each)):
                column: Array = found[:, place]
                return column
        held = ", ".join(show_number(one) for one in self.temperatures)
        unit = show_unit(self.temperature_unit)
        raise NoAnswer(
            f"there are no draws at {show_number(wanted)} {unit}, only at {held} {unit}; ask the"
            " estimate at that temperature"
        )

    def to_dataframe(self) -> Any:
        """Give the draws as a pandas data frame: a row a draw; a curve has a column a temperature.

        Columns are pairs of property and temperature (none for a single figure), so that
        ``frame["thermal_conductivity"]`` is the curve. Units are in ``frame.attrs["units"]``.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        columns: list[tuple[str, float | None]] = []
        series: list[Array] = []
        for name, array in self.arrays.items():
            if array.ndim == 1:
                columns.append((name, None))
                series.append(array)
                continue
            columns += [(name, temperature) for temperature in self.temperatures]
            series += list(array.T)
        pandas: Any = load_pandas()
        numpy: Any = importlib.import_module("numpy")
        index = pandas.MultiIndex.from_tuples(columns, names=["property", "temperature"])
        frame = pandas.DataFrame(numpy.column_stack(series), columns=index)
        frame.index.name = "draw"
        frame.attrs["units"] = dict(self.units)
        frame.attrs["temperature_unit"] = self.temperature_unit
        return frame

    def _lines(self) -> list[list[object]]:
        numpy: Any = importlib.import_module("numpy")
        rows: list[list[object]] = []
        for name, array in self.arrays.items():
            label, unit = name.replace("_", " "), show_unit(self.units[name])
            columns = (
                [(None, array)]
                if array.ndim == 1
                else list(zip(self.temperatures, array.T, strict=True))
            )
            for temperature, column in columns:
                figures = [show_number(float(one)) for one in numpy.percentile(column, _PERCENTS)]
                at = None if temperature is None else show_number(temperature)
                rows.append([label, at, *figures, unit])
        return rows

    def __repr__(self) -> str:
        return f"<{self.count} draws of {', '.join(self.arrays)}>"

    def _repr_html_(self) -> str:
        head = ["", f"at {show_unit(self.temperature_unit)}", "5 %", "50 %", "95 %", "unit"]
        return html_table(f"{self.count} draws, correlated as drawn", head, self._lines())


def _array(values: Any) -> Any:
    try:
        numpy: Any = importlib.import_module("numpy")
    except ImportError as error:
        raise NotInstalled("draws come as arrays and need NumPy: pip install numpy") from error
    array = numpy.array(values, dtype=float)
    array.setflags(write=False)
    return array
