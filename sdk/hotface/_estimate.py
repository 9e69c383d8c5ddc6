"""What a mix will be: the estimate with its uncertainty, assumptions and evidence."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import TYPE_CHECKING, Any, Final

from hotface._curves import Curve
from hotface._decode import Answered, Row, decode, listed
from hotface._errors import HotfaceError, NoAnswer, NotAnAnswer
from hotface._estimate_parts import (
    Assumption,
    Composition,
    DoubtShare,
    NearSpecimen,
    ServiceLimit,
    StrengthClass,
    estimate_property,
)
from hotface._frames import data_frame
from hotface._ranges import Range
from hotface._records import Caution
from hotface._results import build
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = ["Estimate"]

_CURVES: Final = ("thermal_conductivity", "specific_heat_capacity", "thermal_strain")


@dataclass(frozen=True, slots=True)
class Estimate(Answered):
    """What a mix will weigh, insulate and stand.

    A property for which nothing is held raises ``NoAnswer`` with the reason; ``get`` gives ``None``
    instead, and ``reasons`` lists them.

    Attributes
    ----------
    state : Row
        The state the properties hold for.
    composition : Composition
        Shares, porosity and yield.
    densities : dict
        Ranges by state: ``fresh``, ``demoulded``, ``dried``, ``fired``.
    doubt_shares : tuple of DoubtShare
        What the uncertainty comes from: what to measure next.
    nearest_specimens : tuple of NearSpecimen
        The measured bodies closest to this mix; stronger evidence than any rule.
    citations : tuple of str
        Source ids.
    """

    state: Row
    composition: Composition
    properties: Mapping[str, Any]
    densities: Mapping[str, Range | None]
    closest_class: Row | None
    nearest_specimens: tuple[NearSpecimen, ...]
    doubt_shares: tuple[DoubtShare, ...]
    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    citations: tuple[str, ...]
    coverage: float
    revision: int
    reasons: Mapping[str, str] = field(default_factory=dict)
    narrowed_by: Mapping[str, float] = field(default_factory=dict)
    validated_on: Row | None = None
    seed: int | None = None
    client: Client | None = field(default=None, repr=False, compare=False)

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any], text: str, client: Client | None = None
    ) -> Estimate:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text, "client": client},
            state=Row.from_json,
            composition=Composition.from_json,
            properties=lambda raw: {name: estimate_property(one) for name, one in raw.items()},
            densities=lambda raw: {name: Range.from_json(one) for name, one in raw.items()},
            closest_class=_row,
            validated_on=_row,
            nearest_specimens=listed(NearSpecimen.from_json),
            doubt_shares=listed(lambda raw: decode(DoubtShare, raw)),
            assumptions=listed(lambda raw: decode(Assumption, raw)),
            cautions=listed(Caution.from_json),
            citations=tuple,
            reasons=lambda raw: dict(raw or {}),
        )

    def get(self, name: str) -> Any:
        """Give a property, or ``None`` where nothing is held."""
        return self.properties.get(name)

    def _held(self, name: str) -> Any:
        found = self.properties.get(name)
        if found is None:
            reason = self.reasons.get(name, "the estimate does not hold it")
            raise NoAnswer(f"{name.replace('_', ' ')}: {reason}")
        return found

    @property
    def bulk_density(self) -> Range:
        """Mass per volume of the piece in its state."""
        found: Range = self._held("bulk_density")
        return found

    @property
    def thermal_conductivity(self) -> Curve:
        """Conductivity over temperature, with the bounds physics sets."""
        found: Curve = self._held("thermal_conductivity")
        return found

    @property
    def specific_heat_capacity(self) -> Curve:
        """Heat capacity over temperature."""
        found: Curve = self._held("specific_heat_capacity")
        return found

    @property
    def thermal_strain(self) -> Curve:
        """Reversible length change over temperature."""
        found: Curve = self._held("thermal_strain")
        return found

    @property
    def permanent_change(self) -> Range:
        """Length change that stays after the firing; shrinkage negative."""
        found: Range = self._held("permanent_change")
        return found

    @property
    def strength_class(self) -> StrengthClass:
        """Class of cold strength, with the body it is taken after; not for load."""
        found: StrengthClass = self._held("strength_class")
        return found

    @property
    def service_limit(self) -> ServiceLimit:
        """How hot the piece may be used, and the part that limits it."""
        found: ServiceLimit = self._held("service_limit")
        return found

    def bibtex(self) -> str:
        """Give the cited sources as BibTeX.

        Raises
        ------
        HotfaceError
            If the estimate was loaded from a file and knows no service.
        """
        if self.client is None:
            raise HotfaceError(
                "an estimate loaded from a file knows no service; call"
                " Client(...).bibtex(estimate.citations)"
            )
        return self.client.bibtex(self.citations)

    def to_dataframe(self) -> Any:
        """Give the curves as one pandas data frame, a row a property and temperature.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        rows = [
            {
                "property": name,
                "unit": curve.unit,
                "temperature_unit": curve.temperature_unit,
                **row,
            }
            for name in _CURVES
            if (curve := self.get(name)) is not None
            for row in curve.rows()
        ]
        return data_frame(rows)

    def save(self, path: str | PathLike[str]) -> None:
        """Write the service's JSON to a file, whole or not at all."""
        place = Path(path)
        with NamedTemporaryFile(
            "w", encoding="utf-8", dir=place.parent, prefix=place.name, delete=False
        ) as file:
            file.write(self.text)
        try:
            os.replace(file.name, place)  # noqa: PTH105 - Path.replace says the same, longer
        except OSError:
            Path(file.name).unlink(missing_ok=True)
            raise

    @classmethod
    def load(cls, path: str | PathLike[str], client: Client | None = None) -> Estimate:
        """Read an estimate that ``save`` wrote.

        Raises
        ------
        NotAnAnswer
            If the file holds something else.
        """
        text = Path(path).read_text(encoding="utf-8")
        return build(_from_text, cls, text, Path(path).name, client)

    def _lines(self) -> list[tuple[str, object]]:
        lines: list[tuple[str, object]] = [
            (name.replace("_", " "), value if value is not None else self.reasons.get(name))
            for name, value in self.properties.items()
        ]
        lines += [(f"density, {name}", found) for name, found in self.densities.items()]
        lines += [
            ("porosity", self.composition.porosity),
            ("yield", self.composition.yield_),
            ("like", None if self.closest_class is None else self.closest_class.get("text")),
        ]
        lines += [("most doubt from", one) for one in self.doubt_shares[:3]]
        lines += [("measured bodies near", one) for one in self.nearest_specimens[:3]]
        lines += [("assumed", one.text) for one in self.assumptions]
        lines += [("caution", one) for one in self.cautions]
        lines.append(("sources", ", ".join(self.citations)))
        return [(label, value) for label, value in lines if value not in (None, "")]

    def __str__(self) -> str:
        head = f"estimate, {self.coverage:.0%} intervals"
        return "\n".join([head, *(f"  {label}: {value}" for label, value in self._lines())])

    def _repr_html_(self) -> str:
        caption = f"Estimate, {self.coverage:.0%} intervals"
        curve = self.get("thermal_conductivity")
        shown = "" if curve is None else curve._repr_html_()
        return html_table(caption, ["", ""], self._lines()) + shown


def _row(raw: Any) -> Row | None:
    return None if raw is None else Row.from_json(raw)


def _from_text(kind: type[Estimate], text: str, name: str, client: Client | None) -> Estimate:
    try:
        document = json.loads(text)
    except ValueError as error:
        raise NotAnAnswer(f"{name} holds no estimate: it is not JSON") from error
    if not isinstance(document, dict) or "composition" not in document:
        raise NotAnAnswer(f"{name} holds no estimate: write one with Estimate.save")
    return kind.from_json(document, text, client)
