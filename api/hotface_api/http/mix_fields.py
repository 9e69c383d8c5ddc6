"""Fields of mixes: amounts, figures with a spread, own properties, water."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Final

import marshmallow as ma

from hotface.units import MAX_QUANTITY_LENGTH, UnitError, from_si, parse_quantity
from hotface_api.http.parameters import MAX_TEXT
from hotface_api.http.problems import nearest
from hotface_api.http.quantities import QUANTITY, read_quantity, with_hint
from hotface_api.http.reading import Reading
from hotface_api.mixes.request import OWN_PROPERTIES, Triple
from hotface_api.mixes.rules import OPTIONS, SELECTABLE, rule_told

__all__ = [
    "AmountField",
    "ConductivityField",
    "Number",
    "OwnProperties",
    "RuleField",
    "RuleOptions",
    "TripleField",
    "WaterField",
    "percentage",
]

WATER_DENSITY: Final = 1000.0
"""Kilograms of water taken for a cubic metre: a litre is a kilogram to anyone with a bucket."""
_LEAST: Final = 1e-9
"""Least amount read, in kilograms, cubic metres or parts: arithmetic ends before mixes do."""
_DIMENSIONS: Final[Mapping[str, str]] = {
    "loose_bulk_density": "density",
    "particle_density": "density",
    "true_density": "density",
    "thermal_conductivity": "thermal conductivity",
    "specific_heat_capacity": "specific heat capacity",
    "loss_on_ignition": "1",
    "water_absorption": "1",
    "bound_water": "1",
}


_QUANTITY_OR_TEXT: Final = {
    "anyOf": [QUANTITY, {"type": "string", "maxLength": MAX_QUANTITY_LENGTH}]
}
_RANGE: Final = {
    "type": "object",
    "properties": {
        "low": {"type": "number"},
        "typical": {"type": ["number", "null"]},
        "high": {"type": "number"},
        "unit": {"type": "string"},
    },
    "required": ["low", "high", "unit"],
    "additionalProperties": False,
}


class Number(Reading[float]):
    """A JSON number; text and booleans are none."""

    def __init__(self, low: float, high: float, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.low = low
        self.high = high

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"type": "number", "minimum": self.low, "maximum": self.high}

    def read(self, value: Any) -> float:
        """Read a number; text and booleans are none."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ma.ValidationError("must be a number")
        if not self.low <= value <= self.high:
            raise ma.ValidationError(f"must lie between {self.low:g} and {self.high:g}")
        return float(value)


def _has_no_unit(text: str) -> bool:
    """Tell a bare number: elsewhere it may be a fraction, but never an amount."""
    try:
        return parse_quantity(text)[1] == ""
    except UnitError:
        return False


class AmountField(Reading[tuple[float, str]]):
    """An amount: a mass, a volume, or parts; loaded in SI with its kind."""

    _kinds: ClassVar[dict[str, str]] = {"mass": "mass", "volume": "volume", "1": "parts"}

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return _QUANTITY_OR_TEXT

    def read(self, value: Any) -> tuple[float, str]:
        """Read an amount with its kind: mass, volume or parts."""
        errors = []
        if isinstance(value, str) and _has_no_unit(value):
            raise ma.ValidationError("a unit is missing: kg, L, or 1 for parts, as in '3 1'")
        for dimension, kind in self._kinds.items():
            try:
                number, _ = read_quantity(value, dimension)
            except UnitError as error:
                errors.append(error)
            else:
                if 0 < number < _LEAST:
                    raise ma.ValidationError("an amount so small cannot be meant; check its unit")
                return number, kind
        if "measures" in str(errors[0]):
            raise ma.ValidationError("an amount is a mass (kg), a volume (L) or parts (1)")
        raise ma.ValidationError(with_hint(errors[0]))


def percentage(given: Any) -> float | None:
    """Give an amount that is written in percent; None for any other."""
    try:
        number, unit = read_quantity(given, "1")
    except UnitError:
        return None
    return from_si(number, unit) if unit.code == "%" else None


class TripleField(Reading[Triple]):
    """One figure, or low, typical and high with a unit; loaded as a triple in SI."""

    def __init__(self, dimension: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.dimension = dimension

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"anyOf": [*_QUANTITY_OR_TEXT["anyOf"], _RANGE]}

    def read(self, value: Any) -> Triple:
        """Read a figure or a range."""
        return read_triple(value, self.dimension)


def read_triple(value: Any, dimension: str) -> Triple:
    """Read ``{"value", "unit"}`` or ``{"low", "typical", "high", "unit"}``."""
    try:
        if not isinstance(value, dict) or "value" in value:
            number, _ = read_quantity(value, dimension)
            return Triple.exactly(number)
        odd = sorted(set(value) - {"low", "typical", "high", "unit"})
        if odd or "low" not in value or "high" not in value:
            raise ma.ValidationError("give a value and unit, or low, high (typical) and unit")
        unit = value.get("unit")
        low, high = (
            read_quantity({"value": value[end], "unit": unit}, dimension)[0]
            for end in ("low", "high")
        )
        middle = (low * high) ** 0.5 if low > 0 and high > 0 else (low + high) / 2
        if value.get("typical") is not None:
            middle, _ = read_quantity({"value": value["typical"], "unit": unit}, dimension)
    except UnitError as error:
        raise ma.ValidationError(with_hint(error)) from error
    return Triple(low, middle, high)


class OwnProperties(Reading[dict[str, Triple]]):
    """The caller's own figures of a constituent, by property id."""

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        figure = {"anyOf": [*_QUANTITY_OR_TEXT["anyOf"], _RANGE]}
        properties = dict.fromkeys(OWN_PROPERTIES, figure)
        return {"type": "object", "properties": properties, "additionalProperties": False}

    def read(self, value: Any) -> dict[str, Triple]:
        """Read every figure, and tell what is wrong with each."""
        if not isinstance(value, dict):
            raise ma.ValidationError("must be an object from property id to quantity")
        found: dict[str, Triple] = {}
        faults: dict[str, Any] = {}
        for name, given in value.items():
            try:
                found[name] = read_triple(given, self._dimension(name))
            except ma.ValidationError as error:
                faults[name[:MAX_TEXT]] = error.messages
        if faults:
            raise ma.ValidationError(faults)
        return found

    @staticmethod
    def _dimension(name: str) -> str:
        if name not in OWN_PROPERTIES:
            close = nearest(name, OWN_PROPERTIES, 1)
            hint = f"; did you mean {close[0]}?" if close else ""
            raise ma.ValidationError(f"give one of {', '.join(OWN_PROPERTIES)}{hint}")
        return _DIMENSIONS[name]


class WaterField(Reading[tuple[float, str]]):
    """Water: a mass, a volume, or a ratio to the hydraulic binder by mass."""

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        ratio = {
            "type": "object",
            "properties": {"ratio_to_binder": {"type": "number", "minimum": 0, "maximum": 100}},
            "required": ["ratio_to_binder"],
            "additionalProperties": False,
        }
        return {"anyOf": [*_QUANTITY_OR_TEXT["anyOf"], ratio]}

    def read(self, value: Any) -> tuple[float, str]:
        """Read water with its kind: mass or ratio."""
        if isinstance(value, dict) and "ratio_to_binder" in value:
            if len(value) > 1:
                raise ma.ValidationError("ratio_to_binder stands alone")
            ratio = Number(0, 100).read(value["ratio_to_binder"])
            return ratio, "ratio_to_binder"
        number, kind = AmountField().read(value)
        if kind == "parts":
            raise ma.ValidationError("water is a mass, a volume or {'ratio_to_binder': 0.45}")
        return (number * WATER_DENSITY if kind == "volume" else number), "mass"


class ConductivityField(Reading[tuple[float, float | None]]):
    """A measured conductivity, with the temperature of the measurement if it stands there."""

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        properties = {**QUANTITY["properties"], "temperature": _QUANTITY_OR_TEXT}
        return {"anyOf": [{**QUANTITY, "properties": properties}, *_QUANTITY_OR_TEXT["anyOf"][1:]]}

    def read(self, value: Any) -> tuple[float, float | None]:
        """Read the conductivity and its temperature, if there is one."""
        given = dict(value) if isinstance(value, dict) else value
        at = given.pop("temperature", None) if isinstance(given, dict) else None
        try:
            number, _ = read_quantity(given, "thermal conductivity")
        except UnitError as error:
            raise ma.ValidationError(with_hint(error)) from error
        if not number > 0:
            raise ma.ValidationError("must be above 0 W/(m.K)")
        try:
            return number, None if at is None else _temperature(at)
        except UnitError as error:
            raise ma.ValidationError({"temperature": [with_hint(error)]}) from error


def _temperature(given: Any) -> float:
    return read_quantity(given, "temperature", temperature="point")[0]


class RuleField(Reading[str]):
    """A conductivity rule by name; one that cannot be chosen is told by the estimator."""

    def __init__(self) -> None:
        told = "\n".join(f"- `{name}`: {rule_told(name)}" for name in SELECTABLE)
        about = (
            "One conductivity rule to use at every step, in place of the defaults by structure. Its"
            f" result is kept inside the bounds.\n{told}"
        )
        super().__init__(metadata={"description": about, "example": "maxwell"})

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"type": "string", "enum": list(SELECTABLE)}

    def read(self, value: Any) -> str:
        """Read the name of a rule."""
        if not isinstance(value, str) or len(value) > MAX_TEXT:
            raise ma.ValidationError("must be the name of a rule")
        return value


class RuleOptions(Reading[dict[str, float]]):
    """Options of a rule by name; the estimator tells which rule has which."""

    def __init__(self) -> None:
        told = "; ".join(f"{', '.join(names)} of {rule}" for rule, names in OPTIONS.items())
        about = f"Options of the rule, each above 0 and at most 1: {told}."
        super().__init__(metadata={"description": about, "example": {"series_share": 0.2}})

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        option = {"type": "number", "exclusiveMinimum": 0, "maximum": 1}
        names = [name for options in OPTIONS.values() for name in options]
        return {
            "type": "object",
            "properties": dict.fromkeys(names, option),
            "additionalProperties": False,
        }

    def read(self, value: Any) -> dict[str, float]:
        """Read the options as numbers."""
        if not isinstance(value, dict):
            raise ma.ValidationError("must be an object from option to number")
        number = Number(0, 1)
        found: dict[str, float] = {}
        faults: dict[str, Any] = {}
        for name, given in value.items():
            try:
                found[name] = number.read(given)
            except ma.ValidationError as error:
                faults[name[:MAX_TEXT]] = error.messages
        if faults:
            raise ma.ValidationError(faults)
        return found
