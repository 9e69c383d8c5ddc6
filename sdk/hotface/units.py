"""The unit table: which unit strings are understood and what they mean in coherent SI.

A table instead of a parser: unit text arrives from strangers, and a grammar that can nest or
exponentiate can be made to run for ever. Every accepted spelling is listed here, so reading a unit
costs one dictionary look-up of a string of at most ``MAX_UNIT_LENGTH`` characters.

Codes are UCUM (The Unified Code for Units of Measure, version 2.2, 2024, case sensitive). UCUM
forbids ``Cel`` and ``[degF]`` inside products, so differences are in ``K`` or ``[degR]``.
The rows stand in ``_unit_table``. Both modules import nothing but the standard library, so that any
room may use them.
"""

from __future__ import annotations

import math
import re
from difflib import get_close_matches
from typing import Final

from hotface._unit_table import ALIASES, UNITS, Unit

__all__ = [
    "ALIASES",
    "MAX_QUANTITY_LENGTH",
    "MAX_UNIT_LENGTH",
    "UNITS",
    "Unit",
    "UnitError",
    "convert",
    "find_unit",
    "from_si",
    "parse_quantity",
    "to_si",
]

MAX_UNIT_LENGTH: Final = 48
MAX_QUANTITY_LENGTH: Final = 80


class UnitError(ValueError):
    """A unit or quantity that cannot be read; ``nearest`` lists codes that can."""

    def __init__(self, message: str, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.nearest = nearest


_FOLD: Final = str.maketrans(
    {
        "·": ".",
        "⋅": ".",
        "×": "*",
        "²": "2",
        "³": "3",
        "°": "",
        "º": "",
        "µ": "u",
        "μ": "u",
        " ": "",
        "\t": "",
        "℃": "C",
        "℉": "F",
        "−": "-",
        "⁻": "-",
        "¹": "1",
        "^": "",
    }
)
_QUANTITY: Final = re.compile(
    r"\s*([+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?)\s*(.*)",
    re.DOTALL,
)


def _show(text: str) -> str:
    return repr(text if len(text) <= MAX_UNIT_LENGTH else text[: MAX_UNIT_LENGTH - 3] + "...")


def _codes(dimension: str | None) -> tuple[str, ...]:
    return tuple(c for c, u in UNITS.items() if dimension in (None, u.dimension))


def find_unit(text: str, dimension: str | None = None) -> Unit:
    """Read a unit given as a UCUM code or a common spelling.

    Parameters
    ----------
    text : str
        For example ``"W/(m.K)"``, ``"kg/m³"``, ``"pcf"``, ``"°C"``.
    dimension : str, optional
        If given, the dimension the unit must have, such as ``"density"``.

    Returns
    -------
    Unit

    Raises
    ------
    UnitError
        If the text is too long, unknown, or of another dimension; ``nearest`` holds usable codes.
    """
    if len(text) > MAX_UNIT_LENGTH:
        raise UnitError(
            f"a unit has at most {MAX_UNIT_LENGTH} characters; this one has {len(text)}",
            _codes(dimension)[:6],
        )
    unit = UNITS.get(text)
    if unit is None:
        folded = text.translate(_FOLD)
        unit = UNITS.get(folded) or UNITS.get(ALIASES.get(folded.lower(), ""))
    if unit is None:
        near = get_close_matches(text, _codes(dimension), n=3, cutoff=0.5)
        raise UnitError(
            f"the unit {_show(text)} is not known", tuple(near) or _codes(dimension)[:6]
        )
    if dimension is not None and unit.dimension != dimension:
        raise UnitError(
            f"{_show(text)} measures {unit.dimension}; here {dimension} is wanted",
            _codes(dimension)[:6],
        )
    return unit


def parse_quantity(text: str) -> tuple[float, str]:
    """Split ``"1050 Cel"`` into a finite number and its unit text (which may be empty).

    Raises
    ------
    UnitError
        If there is no leading number, the number is not finite, or the text is too long.
    """
    if len(text) > MAX_QUANTITY_LENGTH:
        raise UnitError(
            f"a quantity has at most {MAX_QUANTITY_LENGTH} characters; this one has {len(text)}"
        )
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise UnitError(f"{_show(text)} does not start with a number; write it like '1050 Cel'")
    value = float(match[1])
    if not math.isfinite(value):
        raise UnitError(f"{_show(text)} is too large to be a quantity")
    return value, match[2].strip()


def to_si(value: float, unit: Unit, *, difference: bool = False) -> float:
    """Convert to coherent SI (temperatures to kelvin; a difference takes no offset)."""
    return value * unit.factor + (0.0 if difference else unit.offset)


def from_si(value: float, unit: Unit, *, difference: bool = False) -> float:
    """Convert from coherent SI into ``unit``."""
    return (value - (0.0 if difference else unit.offset)) / unit.factor


def convert(value: float, source: str, target: str, *, difference: bool = False) -> float:
    """Convert ``value`` from one unit to another of the same dimension."""
    start = find_unit(source)
    return from_si(
        to_si(value, start, difference=difference),
        find_unit(target, start.dimension),
        difference=difference,
    )
