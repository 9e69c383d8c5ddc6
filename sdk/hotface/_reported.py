"""One figure as it is reported, ready to be handed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from hotface._errors import BadContribution
from hotface._mix import stated
from hotface._quantities import Figure, QuantityLike, is_pint, plain_quantity, read_quantity
from hotface._ranges import Range
from hotface._records import Value
from hotface._reported_parts import (
    FigureText,
    NewMaterial,
    NewSpecimen,
    ReportedSource,
    SourceLike,
    Uncertainty,
    bibtex,
    csl,
    doi,
    figure_text,
    held_source,
    own_measurement,
    quantity_json,
    source_json,
)

__all__ = [
    "NewMaterial",
    "NewSpecimen",
    "Reported",
    "ReportedSource",
    "Uncertainty",
    "bibtex",
    "csl",
    "doi",
    "held_source",
    "own_measurement",
    "value_json",
]

Span: TypeAlias = "QuantityLike | tuple[QuantityLike, QuantityLike] | Range | Mapping[str, Any]"
"""One quantity, two ends, or a range."""
_PAIR: Final = 2
_TEXTS: Final = (
    "form",
    "state",
    "fill",
    "event_kind",
    "place",
    "atmosphere",
    "direction",
)
_QUANTITIES: Final = {
    "treatment_temperature": "temperature",
    "reference_temperature": "temperature",
    "duration": "time",
    "age": "time",
    "moisture": "1",
    "load": "pressure",
}


@dataclass(frozen=True, slots=True)
class Reported:
    """One figure as it is reported, with all it holds for.

    Say what the source says and leave out what it does not. Figures are text, digit by digit as
    printed: ``"0.30"``, not ``0.3``.

    Parameters
    ----------
    material, property : str
        Their ids.
    typical : str, optional
        The figure, or the middle of a range.
    unit : str
        As printed.
    low, high : str, optional
        The ends of a range.
    at : quantity, pair or Range, optional
        The temperature it holds at, or two ends of it.
    form, state, fill, event_kind, place, atmosphere, direction : str, optional
        What it holds for, in the words of ``Condition``.
    with_ : str, optional
        Partner material.
    condition : str, optional
        The condition in words, where it needs some.
    grain_size, specimen_density : quantity, pair or Range, optional
    treatment_temperature, reference_temperature, duration, age, moisture, load : optional
        Quantities of the condition.
    bound : {"is", "at_least", "at_most"}
    role : str, optional
        For limits: ``use_limit``, ``test_class``, ``failure_onset``, ``event``.
    code : str, optional
        UCUM code the printed unit is to be read as, where it is not plain.
    method : str, optional
    source : source, optional
        Where it stands: a helper such as ``doi(...)`` or the id of a held source; the
        submission's if left out.
    locator : str, optional
        Where in the source: page, table, figure.
    quoted_in : source, optional
        The text it was seen in, if that is another.
    specimen : str, optional
        Id of a held specimen it was measured on.
    uncertainty : Uncertainty, optional
    note : str, optional

    Examples
    --------
    >>> one = Reported("expanded-perlite", "loose_bulk_density", "110", unit="kg/m3", form="heap")
    >>> one.to_json()["printed"]
    {'typical': '110', 'unit': 'kg/m3'}
    """

    material: str
    property: str
    typical: FigureText | None = None
    unit: str = ""
    low: FigureText | None = None
    high: FigureText | None = None
    at: Span | None = None
    form: str | None = None
    state: str | None = None
    fill: str | None = None
    with_: str | None = None
    condition: str | None = None
    event_kind: str | None = None
    place: str | None = None
    atmosphere: str | None = None
    direction: str | None = None
    grain_size: Span | None = None
    specimen_density: Span | None = None
    treatment_temperature: QuantityLike | None = None
    reference_temperature: QuantityLike | None = None
    duration: QuantityLike | None = None
    age: QuantityLike | None = None
    moisture: QuantityLike | None = None
    load: QuantityLike | None = None
    bound: Literal["is", "at_least", "at_most"] = "is"
    role: str | None = None
    code: str | None = None
    method: str | None = None
    source: SourceLike | None = None
    locator: str | None = None
    quoted_in: SourceLike | None = None
    specimen: str | None = None
    uncertainty: Uncertainty | None = None
    note: str | None = None

    def __post_init__(self) -> None:
        if not self.unit and self.code is None:
            raise BadContribution(
                f"{self._name()}: the unit is missing; write it as printed, such as"
                " unit='kg/m3' (or unit='1' for a plain number)"
            )
        if all(one is None for one in (self.low, self.typical, self.high)):
            raise BadContribution(f"{self._name()}: give the figure, or low and high")
        self.printed()

    @classmethod
    def like(cls, value: Value, **changes: Any) -> Reported:
        """Report a served or contributed value again, changed: for corrections.

        Source and specimen are left out: a correction keeps those of the value it replaces.

        Parameters
        ----------
        value : Value
            Such as ``entry.value``.
        **changes
            What is different, by the names of ``Reported``.

        Raises
        ------
        BadContribution
            If the value states an uncertainty and the changes do not: it is kept converted, so say
            it again as it is printed.

        Examples
        --------
        ``db.correct(entry, Reported.like(entry.value, typical="108"), "the tare was counted in")``
        """
        if value.uncertainty is not None and "uncertainty" not in changes:
            raise BadContribution(
                f"{value.id} states an uncertainty: say it again with uncertainty=, as it is"
                " printed, or uncertainty=None if it does not hold"
            )
        condition = value.condition
        said: dict[str, Any] = {
            "material": value.material,
            "property": value.property,
            "low": value.printed.low,
            "typical": value.printed.typical,
            "high": value.printed.high,
            "unit": value.printed.unit,
            "code": value.printed.code,
            "at": value.temperature,
            "bound": value.bound,
            "role": value.role,
            "condition": condition.text,
            "with_": condition.with_,
            "method": value.method,
            "locator": value.locator,
            "note": value.note,
        }
        names = (*_TEXTS, *_QUANTITIES, "grain_size", "specimen_density")
        said |= {name: getattr(condition, name) for name in names}
        return cls(**{**said, **changes})

    def _name(self) -> str:
        return f"{self.material} {self.property}"

    def printed(self) -> dict[str, Any]:
        """Give the figures as printed.

        Raises
        ------
        BadContribution
            If a figure is no text.
        """
        figures = {
            end: figure_text(getattr(self, end), f"{self._name()}, {end}")
            for end in ("low", "typical", "high")
        }
        return stated({**figures, "unit": self.unit or None, "code": self.code})

    def to_json(self) -> dict[str, Any]:
        """Give the figure as the service takes it.

        Raises
        ------
        BadQuantity
            If a quantity of the condition cannot be read.
        """
        said = {
            "material": self.material,
            "property": self.property,
            "bound": None if self.bound == "is" else self.bound,
            "role": self.role,
            "printed": self.printed(),
            "temperature": span_json(self.at, "at", "temperature"),
            "condition": self._condition() or None,
            "method": self.method,
            "source": source_json(self.source),
            "locator": self.locator,
            "quoted_in": source_json(self.quoted_in),
            "specimen": self.specimen,
            "uncertainty": None if self.uncertainty is None else self.uncertainty.to_json(),
            "note": self.note,
        }
        return stated(said)

    def _condition(self) -> dict[str, Any]:
        said: dict[str, Any] = {name: getattr(self, name) for name in _TEXTS}
        for name, dimension in _QUANTITIES.items():
            said[name] = quantity_json(getattr(self, name), name.replace("_", " "), dimension)
        said["grain_size"] = span_json(self.grain_size, "grain size", "length")
        said["specimen_density"] = span_json(self.specimen_density, "specimen density", "density")
        return stated({**said, "with": self.with_, "text": self.condition})

    def __str__(self) -> str:
        figures = [str(one) for one in (self.low, self.typical, self.high) if one is not None]
        at = "" if self.at is None else f" at {self.at}"
        return f"{self._name()}: {' / '.join(figures)} {self.unit}{at}"


def span_json(span: Any, what: str, dimension: str) -> dict[str, Any] | None:
    """Write one quantity, or two ends in one unit, as the service takes them."""
    if span is None:
        return None
    if isinstance(span, Range):
        numbers = span.magnitudes
        return {"low": numbers.low, "high": numbers.high, "unit": span.unit}
    if isinstance(span, Mapping):
        return (
            dict(span)
            if "low" in span or "high" in span
            else _one(plain_quantity(span), what, dimension)
        )
    if _is_pair(span):
        low, high = (read_quantity(one, what, dimension) for one in span)
        return {"low": low.value, "high": high.to(low.unit).value, "unit": low.unit}
    return _one(span, what, dimension)


def _one(value: Any, what: str, dimension: str) -> dict[str, Any]:
    return read_quantity(value, what, dimension).to_json()


def _is_pair(span: Any) -> bool:
    """Tell two ends from one quantity written as a pair of number and unit."""
    if not isinstance(span, (tuple, list)) or len(span) != _PAIR:
        return False
    return isinstance(span[0], (str, Figure, tuple, list)) or is_pint(span[0])


def value_json(value: Reported | Mapping[str, Any]) -> dict[str, Any]:
    """Take a figure, or the service's JSON for one."""
    if isinstance(value, Reported):
        return value.to_json()
    if isinstance(value, Mapping):
        return dict(value)
    raise BadContribution(f"{value!r:.60} is no figure to hand in; make it with Reported(...)")
