"""Is a figure that does not fit off by a unit: which reading of it would fit.

Every unit of the property's dimension is tried in place of the one said (this finds Fahrenheit
for Celsius, kelvin for Celsius, 1.8, 6.93, 16.02, 1000, 4.184, 4186.8 and the like without a list
of factors), then the same factor applied the wrong way round, then slips of the decimal point.
Only readings that bring the figure inside what is held are told, the simplest first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from hotface.units import UNITS, Unit, from_si, to_si

__all__ = ["Slip", "find_slips"]

_MOST: Final = 3
_SAME: Final = 0.02
_DECIMALS: Final = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)


@dataclass(frozen=True, slots=True)
class Slip:
    """One reading that would fit.

    Attributes
    ----------
    unit : str or None
        The unit the figure may really be in; None for another slip.
    factor : float or None
        What the figure would have to be multiplied by in the unit said; None where an offset is
        part of it (temperatures).
    would_be : float
        What the figure would be then, SI.
    words : str
    """

    unit: str | None
    factor: float | None
    would_be: float
    words: str


def find_slips(
    figure: float, said: Unit, typical: float, fits: Callable[[float], bool], *, difference: bool
) -> tuple[Slip, ...]:
    """Give the readings of a figure that would fit, at most three.

    Parameters
    ----------
    figure : float
        In the unit said.
    said : Unit
        The unit it was handed in with.
    typical : float
        What is typical of what is held, SI; the nearer a reading comes to it, the sooner told.
    fits : callable
        Tells whether an SI value lies inside what is held.
    difference : bool
        Whether the quantity is a temperature difference.
    """
    found: list[Slip] = []
    for kind in (_other_units, _wrong_way, _decimals):
        ready = [slip for slip in kind(figure, said, difference=difference) if fits(slip.would_be)]
        for slip in sorted(ready, key=lambda slip: abs(slip.would_be - typical)):
            if not any(_is_same(slip.would_be, other.would_be) for other in found):
                found.append(slip)
    return tuple(found[:_MOST])


def _is_same(first: float, second: float) -> bool:
    return math.isclose(first, second, rel_tol=_SAME)


def _usable(said: Unit, *, difference: bool) -> Iterator[Unit]:
    for unit in UNITS.values():
        if unit.dimension != said.dimension or unit.code == said.code:
            continue
        if unit.kind == "point" and difference:
            continue
        yield unit


def _other_units(figure: float, said: Unit, *, difference: bool) -> Iterator[Slip]:
    for unit in _usable(said, difference=difference):
        would_be = to_si(figure, unit, difference=difference)
        points = not difference and (unit.offset != 0 or said.offset != 0)
        ratio = None if points else unit.factor / said.factor
        by = f", a factor of {ratio:.4g}" if ratio else ""
        words = f"it would fit if the unit were {unit.code} instead of {said.code}{by}"
        yield Slip(unit.code, ratio, would_be, words)


def _wrong_way(figure: float, said: Unit, *, difference: bool) -> Iterator[Slip]:
    """Try figures that were converted once too often, upside down, or without the offset."""
    for unit in _usable(said, difference=difference):
        ratio = unit.factor / said.factor
        points = not difference and (unit.offset != 0 or said.offset != 0)
        again = from_si(to_si(figure, said, difference=difference), unit, difference=difference)
        yield Slip(
            None,
            None if points else 1 / ratio,
            to_si(again, said, difference=difference),
            f"it would fit if it was in {said.code} already and was converted from {unit.code}"
            " all the same",
        )
        bare, told = (ratio, "the offset left out") if points else (ratio**2, "upside down")
        yield Slip(
            None,
            bare,
            to_si(figure * bare, said, difference=difference),
            f"it would fit if it was converted from {unit.code} {told}, a factor of {bare:.4g}",
        )


def _decimals(figure: float, said: Unit, *, difference: bool) -> Iterator[Slip]:
    for factor in _DECIMALS:
        would_be = to_si(figure * factor, said, difference=difference)
        words = f"it would fit if the decimal point had moved, a factor of {factor:g}"
        yield Slip(None, factor, would_be, words)


def shown(value: float, unit: Unit, *, difference: bool) -> str:
    """Write an SI value in a unit, to four figures."""
    return f"{from_si(value, unit, difference=difference):.4g} {unit.code}"
