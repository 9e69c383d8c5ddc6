"""What was typed into a form, kept as typed, with what is wrong with each field.

A form goes by GET: its answer has an address that can be kept, sent and printed, and nothing needs
a script. Texts are turned into the very requests ``/v1`` takes, and faults found there are led
back to the field they belong to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from werkzeug.datastructures import MultiDict

from hotface.units import UnitError, parse_quantity
from hotface_api.catalogue.reference import Reference
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import read_quantity, with_hint
from hotface_api.site.finding import UnclearNameError, find_material

__all__ = ["Form", "number_text"]

Row = Mapping[str, Any]
_LONGEST: Final = 200
_LABELS: Final = {
    "with": "Binder or partner",
    "fired_at": "Fired at",
    "weighed": "Density of the piece",
    "conducts": "Conductivity of the piece",
    "conducts_at": "Temperature of its conductivity",
    "mould": "Volume of the mould",
    "spare": "Mix more than it holds",
    "thick": "Thickest part",
    "at": "Temperatures",
    "rule": "Conductivity rule",
    "series_share": "Share in series",
    "parts_by": "Parts counted by",
    "kept": "Volume kept in the mixer",
    "damp": "Water in it",
    "like": "What it is like",
    "limit_above": "It must stand",
    "density_below": "It must weigh less than",
    "conducts_below": "It must conduct less than",
    "wish_conductivity": "Wishes",
    "wet": "Free water",
    "least": "Least share",
    "most": "Most share",
}


def _label(name: str) -> str:
    return _LABELS.get(name, name.replace("_", " ").capitalize())


def number_text(text: str) -> str:
    """Read a decimal comma as the point it stands for; thousands are not guessed at."""
    text = text.strip()
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


@dataclass(slots=True)
class Form:
    """Fields by name, the fault of each, and what may be meant by a name that is unclear.

    Attributes
    ----------
    typed : mapping
        What was typed, by field.
    faults : dict
        What is wrong, by field, in the order found.
    near : dict
        Materials that may be meant, by field.
    """

    typed: Mapping[str, str]
    faults: dict[str, str] = field(default_factory=dict)
    near: dict[str, Sequence[Row]] = field(default_factory=dict)

    @classmethod
    def read(cls, args: MultiDict[str, str]) -> Form:
        """Keep the first text of every field."""
        kept = {name: args[name].replace("\x00", "")[:_LONGEST] for name in args}
        return cls({name: text.strip() for name, text in kept.items()})

    def text(self, name: str, default: str = "") -> str:
        """Give what was typed into a field."""
        return self.typed.get(name) or default

    @staticmethod
    def label(name: str) -> str:
        """Name a field for people: ``amount_2`` is the amount of constituent 2."""
        start, _, row = name.rpartition("_")
        if row.isdigit() and start == "material":
            return f"Material {row}"
        if row.isdigit():
            return f"{_label(start)} of constituent {row}"
        return _label(name)

    def fault(self, name: str, message: str) -> None:
        """Note what is wrong with a field; the first fault stands."""
        self.faults.setdefault(name, message)

    def problem(self) -> Problem:
        """Give the faults as the problem a program is told."""
        faults = [{"detail": text, "parameter": name} for name, text in self.faults.items()]
        return Problem(Code.INVALID_PARAMETER, faults[0]["detail"], errors=faults)

    def material(self, name: str, reference: Reference) -> str | None:
        """Read a material by any of its names."""
        try:
            return find_material(reference, self.text(name))
        except UnclearNameError as error:
            self.fault(name, str(error))
            self.near[name] = error.near
            return None

    def figure(self, name: str, missing: str) -> float | None:
        """Read a plain number."""
        text = number_text(self.text(name))
        if not text:
            self.fault(name, missing)
            return None
        try:
            value, rest = parse_quantity(text)
        except UnitError:
            self.fault(name, "write a number, such as 12.5")
            return None
        if rest:
            self.fault(name, "write the number alone; its unit stands beside it")
            return None
        return value

    def amount(self, name: str, unit: str, missing: str) -> dict[str, Any] | None:
        """Read a number with the unit chosen beside it, as ``/v1`` takes it."""
        value = self.figure(name, missing)
        return None if value is None else {"value": value, "unit": unit}

    def temperature(self, name: str, unit: str, missing: str) -> str | None:
        """Read a temperature, and write it as a query of ``/v1`` has it."""
        given = self.amount(name, unit, missing)
        if given is None:
            return None
        try:
            read_quantity(given, "temperature", temperature="point")
        except UnitError as error:
            self.fault(name, with_hint(error))
            return None
        return f"{given['value']:g} {unit}"
