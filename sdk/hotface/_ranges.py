"""A range: low, typical and high of one quantity, as plain numbers or as quantities on demand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from hotface._quantities import Figure, pint_quantity
from hotface._show import html_table, show_number, show_unit

if TYPE_CHECKING:
    import pint

__all__ = ["Magnitudes", "Range"]


class Magnitudes(NamedTuple):
    """The plain numbers of a range; ``None`` where nothing is known of that end."""

    low: float | None
    typical: float | None
    high: float | None


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


@dataclass(frozen=True, slots=True)
class Range:
    """Low, typical and high of one quantity.

    Attributes
    ----------
    magnitudes : Magnitudes
        The numbers, in ``unit``.
    unit : str
        UCUM code.
    kind : str or None
        ``interval`` (what to expect, with ``coverage``) or ``observed`` (what was published).
    coverage : float or None
        Share of cases the interval should hold.
    difference : bool
        Whether it is a temperature difference.
    """

    magnitudes: Magnitudes
    unit: str
    kind: str | None = None
    coverage: float | None = None
    difference: bool = False

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None, unit: str | None = None) -> Range | None:
        """Read a range of an answer; ``None`` stays ``None``."""
        if document is None:
            return None
        numbers = Magnitudes(
            _number(document.get("low")),
            _number(document.get("typical")),
            _number(document.get("high")),
        )
        code = document.get("unit") or unit
        if code is None:
            raise KeyError("unit")
        coverage = _number(document.get("coverage"))
        return cls(numbers, code, document.get("kind"), coverage)

    def _quantity(self, value: float | None) -> pint.Quantity[Any] | None:
        if value is None:
            return None
        return pint_quantity(value, self.unit, difference=self.difference)

    @property
    def low(self) -> pint.Quantity[Any] | None:
        """The low end as a pint quantity."""
        return self._quantity(self.magnitudes.low)

    @property
    def typical(self) -> pint.Quantity[Any] | None:
        """The typical figure as a pint quantity."""
        return self._quantity(self.magnitudes.typical)

    @property
    def high(self) -> pint.Quantity[Any] | None:
        """The high end as a pint quantity."""
        return self._quantity(self.magnitudes.high)

    @property
    def is_empty(self) -> bool:
        """Whether no end is known."""
        return all(number is None for number in self.magnitudes)

    def to(self, unit: str) -> Range:
        """Convert to another unit, given as UCUM code or common spelling."""
        code = self.unit
        numbers: list[float | None] = []
        for number in self.magnitudes:
            if number is None:
                numbers.append(None)
                continue
            figure = Figure(number, self.unit, self.difference).to(unit)
            code = figure.unit
            numbers.append(figure.value)
        return Range(Magnitudes(*numbers), code, self.kind, self.coverage, self.difference)

    def to_dict(self) -> dict[str, Any]:
        """Give the range as the service writes it."""
        return {
            **self.magnitudes._asdict(),
            "unit": self.unit,
            "kind": self.kind,
            "coverage": self.coverage,
        }

    def __str__(self) -> str:
        low, typical, high = self.magnitudes
        unit = show_unit(self.unit)
        if low is None and high is None:
            return f"{show_number(typical)} {unit}".rstrip()
        if low is None:
            text = f"at most {show_number(high)}"
        elif high is None:
            text = f"at least {show_number(low)}"
        elif low == high:
            return f"{show_number(low)} {unit}".rstrip()
        else:
            text = f"{show_number(low)} to {show_number(high)}"
        middle = "" if typical is None else f", typical {show_number(typical)}"
        return f"{text} {unit}".rstrip() + middle

    def _repr_html_(self) -> str:
        row = [self.kind or "range", *(show_number(number) for number in self.magnitudes)]
        if self.coverage is not None:
            row[0] = f"{row[0]}, {self.coverage:.0%}"
        return html_table(
            f"in {show_unit(self.unit) or 'plain numbers'}", ["", "low", "typical", "high"], [row]
        )
