"""What comes with a figure that is handed in: its source, its uncertainty, a body or material."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Final, Literal, TypeAlias

from hotface._errors import BadContribution
from hotface._mix import stated
from hotface._quantities import QuantityLike, plain_quantity, read_quantity
from hotface._records import Source, SpecimenPart

__all__ = [
    "FigureText",
    "NewMaterial",
    "NewSpecimen",
    "ReportedSource",
    "SourceLike",
    "Uncertainty",
    "bibtex",
    "csl",
    "doi",
    "figure_text",
    "held_source",
    "own_measurement",
    "quantity_json",
    "source_json",
]

FigureText: TypeAlias = "str | int | Decimal"
"""A figure just as it is printed."""
_DAY: Final = 10


def figure_text(value: FigureText | None, what: str) -> str | None:
    """Give a figure as text.

    Raises
    ------
    BadContribution
        For a float: how many digits the source prints is lost in it.
    """
    if value is None:
        return None
    if isinstance(value, (bool, float)) or not isinstance(value, (str, int, Decimal)):
        raise BadContribution(
            f"{what}: write the figure as text, just as it is printed, such as '0.30'; {value!r}"
            " does not say which digits the source has"
        )
    text = str(value).strip()
    if not text:
        raise BadContribution(f"{what}: the text is empty; leave out what is not printed")
    return text


def quantity_json(value: QuantityLike | Mapping[str, Any] | None, what: str, dimension: str) -> Any:
    """Write a quantity of a condition as the service takes it."""
    if value is None:
        return None
    plain = plain_quantity(value) if isinstance(value, Mapping) else value
    return read_quantity(plain, what, dimension).to_json()


@dataclass(frozen=True, slots=True)
class ReportedSource:
    """Where a figure stands; made by ``held_source``, ``doi``, ``csl``, ``bibtex`` and so on."""

    document: Mapping[str, Any] = field(hash=False)

    def to_json(self) -> dict[str, Any]:
        """Give the source as the service takes it."""
        return dict(self.document)


SourceLike: TypeAlias = "ReportedSource | Source | str | Mapping[str, Any]"
"""A source: made by a helper, held, or the id of a held one."""


def source_json(source: SourceLike | None) -> Any:
    """Write a source as the service takes it; a plain text is the id of a held one."""
    if source is None:
        return None
    if isinstance(source, ReportedSource):
        return source.to_json()
    if isinstance(source, Source):
        return {"id": source.id}
    return {"id": source} if isinstance(source, str) else dict(source)


def held_source(source_id: str) -> ReportedSource:
    """Name a source that is held already, by its id."""
    return ReportedSource({"id": source_id})


def doi(name: str, source_type: str | None = None) -> ReportedSource:
    """Name a text by its DOI, such as ``"10.1016/j.example"``.

    Parameters
    ----------
    name : str
        The DOI, with or without ``https://doi.org/`` before it.
    source_type : str, optional
        Such as ``journal`` or ``standard``.
    """
    return ReportedSource(stated({"doi": name, "source_type": source_type}))


def csl(item: Mapping[str, Any], source_type: str | None = None) -> ReportedSource:
    """Give a text as one CSL-JSON item, as reference managers write it."""
    return ReportedSource(stated({"csl": dict(item), "source_type": source_type}))


def bibtex(entry: str, source_type: str | None = None) -> ReportedSource:
    """Give a text as BibTeX with one entry."""
    return ReportedSource(stated({"bibtex": entry, "source_type": source_type}))


def own_measurement(specimen: str, instrument: str, day: date | str) -> ReportedSource:
    """Say that you measured it yourself.

    Parameters
    ----------
    specimen : str
        What was measured, such as ``"two litres from the club's bag"``.
    instrument : str
        With what, such as ``"kitchen scale, 1 g; jug, 2 L"``.
    day : datetime.date or str
        When, such as ``"2026-11-20"``.

    Raises
    ------
    BadContribution
        If the day is none.
    """
    try:
        when = day if isinstance(day, date) else date.fromisoformat(day)
    except ValueError:
        raise BadContribution(
            f"the day of the measurement: {day!r} is none; write it like '2026-11-20'"
        ) from None
    measured = {
        "specimen": specimen,
        "instrument": instrument,
        "date": when.isoformat()[:_DAY],
    }
    return ReportedSource({"own_measurement": measured})


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """An uncertainty as the GUM has it, in the unit the figure is printed in.

    Parameters
    ----------
    standard : str, optional
        Standard uncertainty; one of this, ``expanded`` and ``half_width``.
    expanded : str, optional
        Expanded uncertainty, with its ``coverage_factor``.
    half_width : str, optional
        Limits on both sides, with their ``distribution``: ``rectangular``, ``triangular``,
        ``normal``.
    kind : {"A", "B"}
        From a series of readings (A) or otherwise (B).
    degrees_of_freedom : float, optional
    n : int, optional
        Number of readings.
    """

    standard: FigureText | None = None
    expanded: FigureText | None = None
    coverage_factor: float | None = None
    half_width: FigureText | None = None
    distribution: str | None = None
    kind: Literal["A", "B"] = "B"
    degrees_of_freedom: float | None = None
    n: int | None = None

    def to_json(self) -> dict[str, Any]:
        """Give the uncertainty as the service takes it.

        Raises
        ------
        BadContribution
            Unless exactly one of the three figures is given.
        """
        figures = {
            name: figure_text(getattr(self, name), f"uncertainty, {name}")
            for name in ("standard", "expanded", "half_width")
        }
        if sum(one is not None for one in figures.values()) != 1:
            raise BadContribution(
                "an uncertainty is one of: standard, expanded (with coverage_factor), half_width"
                " (with distribution)"
            )
        rest = {
            name: getattr(self, name)
            for name in ("coverage_factor", "distribution", "kind", "degrees_of_freedom", "n")
        }
        return stated({**figures, **rest})


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMaterial:
    """A material that is not held yet: a generic class, no brand.

    Parameters
    ----------
    id : str
        Lower-case words joined by hyphens.
    name, kind, description : str
        Its name, what it is in a mix (such as ``aggregate``), and what is meant by it.
    family : str, optional
    also_known_as : iterable of str
    solid : str, optional
        Held mineral or glass its pore-free substance mostly is.
    """

    id: str
    name: str
    kind: str
    description: str
    family: str | None = None
    also_known_as: Iterable[str] = ()
    solid: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Give the material as the service takes it."""
        names = [self.also_known_as] if isinstance(self.also_known_as, str) else self.also_known_as
        said = {
            "id": self.id,
            "name": self.name,
            "kind": self.kind,
            "description": self.description,
            "family": self.family,
            "also_known_as": list(names) or None,
            "solid": self.solid,
        }
        return stated(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSpecimen:
    """A measured body with its recipe; the values handed in with it belong to it.

    Parameters
    ----------
    material : str
        The body it is of: a held material, or the one proposed with it.
    name : str
        What you call it.
    constituents : iterable of SpecimenPart
        The recipe, such as ``SpecimenPart("cac-40", "binder", 45.0, None)``.
    proportions : str, optional
        The recipe in words.
    water_binder_ratio : float, optional
        By mass.
    state : str, optional
        Such as ``fired``.
    treatment_temperature, age, moisture : quantity, optional
    method, locator, note : str, optional
    kind : str, optional
    """

    material: str
    name: str
    constituents: Iterable[SpecimenPart | Mapping[str, Any]] = ()
    proportions: str | None = None
    water_binder_ratio: float | None = None
    state: str | None = None
    treatment_temperature: QuantityLike | None = None
    age: QuantityLike | None = None
    moisture: QuantityLike | None = None
    method: str | None = None
    locator: str | None = None
    note: str | None = None
    kind: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Give the specimen as the service takes it."""
        said = {
            "material": self.material,
            "name": self.name,
            "kind": self.kind,
            "constituents": [_part(one) for one in self.constituents] or None,
            "proportions": self.proportions,
            "water_binder_ratio": self.water_binder_ratio,
            "state": self.state,
            "treatment_temperature": quantity_json(
                self.treatment_temperature, "treatment temperature", "temperature"
            ),
            "age": quantity_json(self.age, "age", "time"),
            "moisture": quantity_json(self.moisture, "moisture", "1"),
            "method": self.method,
            "locator": self.locator,
            "note": self.note,
        }
        return stated(said)


def _part(part: SpecimenPart | Mapping[str, Any]) -> dict[str, Any]:
    if isinstance(part, Mapping):
        return dict(part)
    return stated(
        {
            "material": part.material,
            "part": part.part,
            "mass_percent": part.mass_percent,
            "volume_percent": part.volume_percent,
        }
    )
