"""Quantities at the door: text and objects in, rounded numbers in the caller's units out.

Inside, every number is coherent SI. Units are converted here and in ``load`` and nowhere else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, Final, Literal

from marshmallow import ValidationError

from hotface.units import (
    MAX_QUANTITY_LENGTH,
    MAX_UNIT_LENGTH,
    UNITS,
    Unit,
    UnitError,
    find_unit,
    from_si,
    parse_quantity,
    to_si,
)
from hotface_api.http.reading import Reading

__all__ = [
    "MAX_MAGNITUDE",
    "QUANTITY",
    "Output",
    "QuantityField",
    "System",
    "read_quantity",
    "significant",
    "with_hint",
]

System = Literal["si", "us"]
Temperature = Literal["point", "difference"]
MAX_MAGNITUDE: Final = 1e15
"""No quantity of this trade is larger in any unit; beyond it arithmetic overflows, not answers."""
_DIGITS: Final = 6


def significant(value: float) -> float:
    """Round to six significant digits; a computed number means no more."""
    if not math.isfinite(value):
        raise ValueError("an answer holds a number that is not finite")
    return float(f"{value:.{_DIGITS}g}") + 0.0  # minus zero becomes zero


def _split(given: Any) -> tuple[float, str]:
    """Take a number and unit text out of ``"1050 Cel"`` or ``{"value", "unit"}``."""
    if isinstance(given, str):
        return parse_quantity(given)
    if not isinstance(given, dict):
        raise UnitError("write a quantity as {'value': 1050, 'unit': 'Cel'} or '1050 Cel'")
    odd = sorted(set(given) - {"value", "unit"})
    if odd:
        raise UnitError(f"a quantity has value and unit only, not {odd[0][:40]!r}")
    value, unit = given.get("value"), given.get("unit")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnitError("the value of a quantity must be a number")
    if not isinstance(unit, str):
        raise UnitError("the unit of a quantity must be a text such as 'kg'")
    return float(value), unit


def _find(text: str, dimension: str) -> Unit:
    if not text and dimension != "1":
        raise UnitError("a unit is missing", _codes(dimension))
    return find_unit(text, dimension)


def _codes(dimension: str) -> tuple[str, ...]:
    return tuple(code for code, unit in UNITS.items() if unit.dimension == dimension)[:6]


def read_quantity(
    given: Any, dimension: str, *, temperature: Temperature | None = None
) -> tuple[float, Unit]:
    """Read one quantity into coherent SI.

    Parameters
    ----------
    given : str or dict
        ``"1050 Cel"`` or ``{"value": 1050, "unit": "Cel"}``.
    dimension : str
        The dimension wanted, such as ``"temperature"`` or ``"density"``.
    temperature : {"point", "difference"}, optional
        Which of the two a temperature is.

    Returns
    -------
    float
        The number in coherent SI.
    Unit
        The unit it was given in.

    Raises
    ------
    UnitError
        If it cannot be read, is of another dimension, or lies below absolute zero.
    """
    value, text = _split(given)
    unit = _find(text, dimension)
    if abs(value) > MAX_MAGNITUDE:
        raise UnitError(f"{value:.6g} {unit.code} is too large to be meant")
    is_difference = temperature == "difference"
    if is_difference and unit.kind == "point":
        raise UnitError("a temperature difference is given in K or [degR]", ("K", "[degR]"))
    number = to_si(value, unit, difference=is_difference)
    if temperature == "point" and number < 0:
        raise UnitError(f"{value:.6g} {unit.code} lies below absolute zero")
    return number, unit


QUANTITY: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {
        "value": {"type": "number"},
        "unit": {"type": "string", "maxLength": MAX_UNIT_LENGTH},
    },
    "required": ["value", "unit"],
    "additionalProperties": False,
}
"""A quantity in JSON Schema."""


class QuantityField(Reading[float]):
    """A quantity in a query or a body, loaded as a float in coherent SI.

    Parameters
    ----------
    dimension : str
        The dimension wanted.
    temperature : {"point", "difference"}, optional
        Which of the two a temperature is.
    minimum : float, optional
        Smallest value in SI; with ``above`` set, the value must be larger.
    above : bool
        Whether the minimum itself is refused.
    """

    def __init__(
        self,
        dimension: str,
        *,
        temperature: Temperature | None = None,
        minimum: float | None = None,
        above: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.dimension = dimension
        self.temperature = temperature
        self.minimum = minimum
        self.above = above

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        text = {"type": "string", "maxLength": MAX_QUANTITY_LENGTH}
        return text if self.metadata.get("in_query") else {"anyOf": [QUANTITY, text]}

    def read(self, value: Any) -> float:
        """Read a quantity into coherent SI."""
        try:
            number, unit = read_quantity(value, self.dimension, temperature=self.temperature)
        except UnitError as error:
            raise ValidationError(with_hint(error)) from error
        low = self.minimum
        if low is not None and (number < low or (self.above and number == low)):
            wanted = "above" if self.above else "at least"
            raise ValidationError(f"must be {wanted} {from_si(low, unit):.6g} {unit.code}")
        return number


def with_hint(error: UnitError) -> str:
    """Write what is wrong with a quantity, and the units that fit."""
    if not error.nearest:
        return str(error)
    return f"{error}; units that fit: {', '.join(error.nearest)}"


_UNITS_OUT: Final[Mapping[str, tuple[str, str]]] = {
    "temperature": ("Cel", "[degF]"),
    "difference": ("K", "[degR]"),
    "heating rate": ("K/h", "[degR]/h"),
    "duration": ("h", "h"),
    "age": ("d", "d"),
    "length": ("mm", "[in_i]"),
    "density": ("kg/m3", "[lb_av]/[cft_i]"),
    "pressure": ("MPa", "[psi]"),
    "fraction": ("1", "1"),
    "strain": ("%", "%"),
    "mass": ("kg", "[lb_av]"),
    "volume": ("L", "[cft_i]"),
    "specific volume": ("L/kg", "[cft_i]/[lb_av]"),
}
"""The published table of output units for what is no property: SI and US customary."""


_OUT: Final[Mapping[str, Mapping[str, Unit]]] = {
    system: {what: UNITS[codes[column]] for what, codes in _UNITS_OUT.items()}
    for column, system in enumerate(("si", "us"))
}


@lru_cache(maxsize=16384)
def _written(value: float, factor: float, offset: float) -> float:
    """Convert and round; the same few temperatures and densities come again and again."""
    return significant((value - offset) / factor)


@lru_cache(maxsize=512)
def _writer(code: str, difference: bool) -> tuple[Callable[[float | None], float | None], str]:
    unit = UNITS[code]
    factor, offset = unit.factor, 0.0 if difference else unit.offset

    def write(value: float | None) -> float | None:
        return None if value is None else _written(value, factor, offset)

    return write, code


class Output:
    """Writes SI numbers in one of the two published systems of units.

    Parameters
    ----------
    system : {"si", "us"}
        Which column of the table of units to use.
    """

    def __init__(self, system: System) -> None:
        self.system = system
        self._units = _OUT[system]
        self._column = "unit_us" if system == "us" else "unit"

    def unit(self, what: str) -> Unit:
        """Give the unit for a kind of condition, such as ``age``."""
        return self._units[what]

    def of_property(self, row: Mapping[str, Any]) -> Unit:
        """Give the unit a property is served in."""
        return UNITS[row[self._column]]

    def writer(self, row: Mapping[str, Any]) -> tuple[Callable[[float | None], float | None], str]:
        """Give what writes the numbers of a property, and the code of their unit."""
        return _writer(row[self._column], row["temperature_kind"] == "difference")

    @staticmethod
    def number(value: float | None, unit: Unit, *, difference: bool = False) -> float | None:
        """Convert one number, or pass ``None`` on."""
        if value is None:
            return None
        return _written(value, unit.factor, 0.0 if difference else unit.offset)

    def quantity(self, what: str, value: float | None) -> dict[str, Any] | None:
        """Write ``{"value", "unit"}``; absent stays ``None``."""
        if value is None:
            return None
        unit = self._units[what]
        return {"value": _written(value, unit.factor, unit.offset), "unit": unit.code}

    def span(self, what: str, low: float | None, high: float | None) -> dict[str, Any] | None:
        """Write ``{"low", "high", "unit"}``; ``None`` if both ends are absent."""
        if low is None and high is None:
            return None
        unit = self._units[what]
        return {
            "low": None if low is None else _written(low, unit.factor, unit.offset),
            "high": None if high is None else _written(high, unit.factor, unit.offset),
            "unit": unit.code,
        }
