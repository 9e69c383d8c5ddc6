"""Quantities in and out: text, pairs and pint quantities to numbers with a UCUM unit, and back.

Text is read with the unit table only, never with pint's parser: unit text can be written so that a
parser of expressions does not come back. pint is loaded when a quantity is first asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

from hotface._errors import BadQuantity
from hotface._show import show_number, show_unit
from hotface.units import UNITS, Unit, UnitError, convert, find_unit, parse_quantity

if TYPE_CHECKING:
    import pint

__all__ = [
    "Figure",
    "QuantityLike",
    "is_pint",
    "pint_numbers",
    "pint_quantity",
    "pint_unit",
    "plain_quantity",
    "plain_temperature",
    "read_quantity",
    "several",
    "temperature_text",
]

QuantityLike: TypeAlias = "str | tuple[float, str] | Figure | pint.Quantity[Any]"
"""What is taken wherever a quantity is wanted: ``"1050 degC"``, ``(1050, "degC")`` or pint's."""

_EXAMPLES = {
    "temperature": "'1050 degC'",
    "mass": "'25 kg'",
    "volume": "'11 L'",
    "length": "'2 mm'",
    "density": "'1150 kg/m3'",
}
_DELTAS = {"K": "delta_degree_Celsius", "[degR]": "delta_degree_Fahrenheit"}


def pint_unit(code: str, *, difference: bool = False) -> str:
    """Give pint's name of a UCUM code of the unit table."""
    unit = UNITS.get(code)
    if unit is None:
        raise BadQuantity(
            f"the service sent the unit {code!r}, which this hotface does not know: use the plain"
            " numbers, or update hotface"
        )
    return _DELTAS.get(code, unit.pint) if difference else unit.pint


def pint_quantity(value: Any, code: str, *, difference: bool = False) -> pint.Quantity[Any]:
    """Make a pint quantity in the application registry, so that it mixes with the caller's."""
    import pint  # noqa: PLC0415 - costs three times the rest of the SDK; see the module docstring

    registry: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
    quantity: pint.Quantity[Any] = registry.Quantity(value, pint_unit(code, difference=difference))
    return quantity


def is_pint(value: object) -> bool:
    """Tell a pint quantity without importing pint."""
    return hasattr(value, "magnitude") and hasattr(value, "units") and hasattr(value, "to")


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its unit (a UCUM code).

    ``difference`` marks a temperature difference, which converts without offset.
    """

    value: float
    unit: str
    difference: bool = False

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any] | None, *, difference: bool = False
    ) -> Figure | None:
        """Read ``{"value", "unit"}``; ``None`` stays ``None``."""
        if document is None:
            return None
        return cls(float(document["value"]), str(document["unit"]), difference)

    def to_json(self) -> dict[str, Any]:
        """Give ``{"value", "unit"}`` as the service takes it."""
        return {"value": self.value, "unit": self.unit}

    def to_query(self) -> str:
        """Give the figure as a query takes it: ``1050 Cel``."""
        number = int(self.value) if self.value.is_integer() else self.value
        return f"{number!r} {self.unit}"

    def to(self, unit: str) -> Figure:
        """Convert to another unit, given as UCUM code or common spelling."""
        code = _target(self.unit, unit, difference=self.difference)
        value = convert(self.value, self.unit, code, difference=self.difference)
        return Figure(value, code, self.difference)

    @property
    def quantity(self) -> pint.Quantity[Any]:
        """The figure as a pint quantity of the application registry."""
        return pint_quantity(self.value, self.unit, difference=self.difference)

    def __str__(self) -> str:
        return f"{show_number(self.value)} {show_unit(self.unit)}".rstrip()


def _target(source: str, unit: str, *, difference: bool) -> str:
    """Find the unit to convert to; a difference cannot go to a scale with a zero of its own."""
    try:
        found = find_unit(unit, find_unit(source).dimension)
    except UnitError as error:
        raise BadQuantity(str(error), error.nearest) from None
    if difference and found.kind == "point":
        raise BadQuantity(f"this is a temperature difference; ask for 'K' or 'degR', not {unit!r}")
    return found.code


def _unit_of(text: str, what: str, dimensions: tuple[str, ...]) -> Unit:
    try:
        unit = find_unit(text)
    except UnitError as error:
        known = tuple(c for c, u in UNITS.items() if u.dimension in dimensions)
        raise BadQuantity(
            f"{what}: {error}", error.nearest if not dimensions else known[:6]
        ) from None
    if dimensions and unit.dimension not in dimensions:
        measured = "has no unit" if unit.code == "1" else f"measures {unit.dimension}"
        example = _EXAMPLES.get(dimensions[0])
        hint = f"; write it like {example}" if example else ""
        known = tuple(c for c, u in UNITS.items() if u.dimension in dimensions)
        raise BadQuantity(
            f"{what}: {text!r} {measured}; here {' or '.join(dimensions)} is wanted{hint}",
            known[:6],
        )
    return unit


def _finite(value: Any, what: str) -> float:
    if isinstance(value, bool):
        raise BadQuantity(f"{what}: True and False are not numbers")
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise BadQuantity(f"{what}: {str(value)[:40]!r} is not one number") from None
    if not math.isfinite(number):
        raise BadQuantity(f"{what}: the number must be finite, not {number}")
    return number


def read_quantity(
    value: QuantityLike, what: str, *dimensions: str, difference: bool = False
) -> Figure:
    """Read a quantity in any of its forms.

    Parameters
    ----------
    value : str, tuple, Figure or pint.Quantity
        For example ``"1050 degC"`` or ``(1050, "degC")``.
    what : str
        What it is for; opens the error message.
    *dimensions : str
        Dimensions that make sense here; none given means any.
    difference : bool
        Whether a temperature difference is wanted (``"50 K"``) and not a point.

    Returns
    -------
    Figure
        With the UCUM code of the unit.

    Raises
    ------
    BadQuantity
        If it cannot be read or is of another dimension.
    """
    if isinstance(value, Figure):
        number, text = value.value, value.unit
    elif is_pint(value):
        return _from_pint(value, what, dimensions, difference=difference)
    elif isinstance(value, str):
        try:
            number, text = parse_quantity(value)
        except UnitError as error:
            raise BadQuantity(f"{what}: {error}") from None
    elif isinstance(value, tuple) and len(value) == 2 and isinstance(value[1], str):  # noqa: PLR2004
        number, text = _finite(value[0], what), value[1]
    else:
        example = _EXAMPLES.get(dimensions[0] if dimensions else "", "'25 kg'")
        raise BadQuantity(
            f"{what}: {str(value)[:40]!r} has no unit; write it like {example} or give a pint"
            " quantity"
        )
    unit = _unit_of(text, what, dimensions)
    if difference and unit.kind == "point":
        raise BadQuantity(f"{what} is a temperature difference; write it like '50 K' or '90 degR'")
    return Figure(_finite(number, what), unit.code, difference)


def _from_pint(value: Any, what: str, dimensions: tuple[str, ...], *, difference: bool) -> Figure:
    """Find the unit of the table that says the same as the quantity's own, else convert to SI."""
    name = _pint_kind(value, what, difference=difference)
    units = [unit for unit in UNITS.values() if not dimensions or unit.dimension in dimensions]
    same = [unit for unit in units if _says_the_same(value, unit, difference=difference)]
    fits = same or [unit for unit in units if value.is_compatible_with(unit.pint)]
    if not fits:
        known = tuple(unit.code for unit in units)
        raise BadQuantity(f"{what}: {name!r} does not measure what is wanted here", known[:6])
    wanted = pint_unit(fits[0].code, difference=difference)
    number = value.magnitude if same else value.to(wanted).magnitude
    return Figure(_finite(number, what), fits[0].code, difference)


def _pint_kind(value: Any, what: str, *, difference: bool) -> str:
    """Give the name of a quantity's unit, refusing a point for a difference and the reverse."""
    name = str(value.units)
    if difference and name in ("degree_Celsius", "degree_Fahrenheit"):
        raise BadQuantity(f"{what} is a temperature difference; give it in K or delta_degC")
    if not difference and name in ("delta_degree_Celsius", "delta_degree_Fahrenheit"):
        raise BadQuantity(f"{what} is a temperature, not a difference; give it in degC, degF or K")
    return name


def pint_numbers(value: Any, code: str, what: str) -> Any:
    """Give the magnitude (a number or an array) of a pint quantity in a unit of the table."""
    name = _pint_kind(value, what, difference=False)
    wanted = pint_unit(code)
    if not value.is_compatible_with(wanted):
        raise BadQuantity(f"{what}: {name!r} does not measure {UNITS[code].dimension}", (code,))
    return value.to(wanted).magnitude


def _says_the_same(value: Any, unit: Unit, *, difference: bool) -> bool:
    registry = value._REGISTRY  # noqa: SLF001 - two registries cannot be mixed: ask its own
    return bool(value.units == registry.Unit(pint_unit(unit.code, difference=difference)))


def several(at: Any) -> Iterable[QuantityLike]:
    """Take one temperature as a list of one."""
    pair = isinstance(at, tuple) and len(at) == 2 and isinstance(at[0], (int, float))  # noqa: PLR2004
    if pair or isinstance(at, (str, Figure)):
        return [at]
    if is_pint(at) and not hasattr(at.magnitude, "__len__"):
        return [at]
    several: Iterable[QuantityLike] = at
    return several


def temperature_text(temperature: QuantityLike, what: str) -> str:
    """Write a temperature the way a query takes it."""
    return read_quantity(temperature, what, "temperature").to_query()


def plain_temperature(temperature: float | QuantityLike, unit: str) -> float:
    """Give a temperature as a number in a unit; a plain number is in that unit already."""
    if isinstance(temperature, (int, float)):
        return _finite(temperature, "temperature")
    return read_quantity(temperature, "temperature", "temperature").to(unit).value


def plain_quantity(value: Any) -> Any:
    """Take the service's ``{"value", "unit"}`` wherever it stands in a document."""
    if isinstance(value, Mapping):
        if set(value) == {"value", "unit"}:
            return value["value"], value["unit"]
        return {key: plain_quantity(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain_quantity(inner) for inner in value]
    return value
