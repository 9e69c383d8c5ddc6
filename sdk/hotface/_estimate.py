"""What a mix will be: the estimate with its uncertainty, assumptions and evidence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Final, Self

from hotface._casting import Casting
from hotface._citing import Cited, cited_html
from hotface._curves import Curve
from hotface._decode import Kept, Text, decode, listed
from hotface._draws import Draws
from hotface._errors import NoAnswer
from hotface._estimate_parts import (
    Assumption,
    ClosestClass,
    Composition,
    DoubtShare,
    EstimateState,
    NearSpecimen,
    ServiceLimit,
    StrengthClass,
    Validation,
    estimate_property,
)
from hotface._frames import data_frame
from hotface._ranges import Range
from hotface._records import Caution
from hotface._show import html_fold, html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = ["Estimate"]

_CURVES: Final = ("thermal_conductivity", "specific_heat_capacity", "thermal_strain")


@dataclass(frozen=True, slots=True)
class Estimate(Kept, Cited):
    """What a mix will weigh, insulate and stand.

    A property for which nothing is held raises ``NoAnswer`` with the reason; ``get`` gives ``None``
    instead, and ``reasons`` lists them.

    Attributes
    ----------
    state : EstimateState
        The state the properties hold for.
    composition : Composition
        Shares, porosity and yield.
    densities : dict
        Ranges by state: ``fresh``, ``demoulded``, ``dried``, ``fired``.
    doubt_shares : tuple of DoubtShare
        What the uncertainty comes from: what to measure next.
    nearest_specimens : tuple of NearSpecimen
        The measured bodies closest to this mix; stronger evidence than any rule.
    narrowed_by : mapping of str to float
        By what share of its width measuring narrowed an interval.
    validated_on : Validation or None
        The measured bodies this kind of mix was tried on.
    mix : mapping
        The mix as it was given.
    casting : Casting or None
        What to weigh out for the mould, where one was given.
    draws : Draws or None
        The draws behind the numbers, where they were asked for.
    citations : tuple of str
        Source ids.
    """

    _marks: ClassVar[tuple[str, ...]] = ("composition", "properties", "densities")

    state: EstimateState
    composition: Composition
    properties: Mapping[str, Any]
    densities: Mapping[str, Range | None]
    closest_class: ClosestClass | None
    nearest_specimens: tuple[NearSpecimen, ...]
    doubt_shares: tuple[DoubtShare, ...]
    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    citations: tuple[str, ...]
    coverage: float
    revision: int
    reasons: Mapping[str, str] = field(default_factory=dict)
    narrowed_by: Mapping[str, float] = field(default_factory=dict)
    validated_on: Validation | None = None
    seed: int | None = None
    mix: Mapping[str, Any] = field(default_factory=dict, repr=False)
    rule: str | None = None
    casting: Casting | None = None
    draws: Draws | None = None
    client: Client | None = field(default=None, repr=False, compare=False)

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any], text: Text, client: Client | None = None
    ) -> Self:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text, "client": client},
            state=EstimateState.from_json,
            composition=Composition.from_json,
            properties=lambda raw: {name: estimate_property(one) for name, one in raw.items()},
            densities=lambda raw: {name: Range.from_json(one) for name, one in raw.items()},
            closest_class=ClosestClass.from_json,
            validated_on=Validation.from_json,
            nearest_specimens=listed(NearSpecimen.from_json),
            doubt_shares=listed(lambda raw: decode(DoubtShare, raw)),
            assumptions=listed(lambda raw: decode(Assumption, raw)),
            cautions=listed(Caution.from_json),
            citations=tuple,
            reasons=lambda raw: dict(raw or {}),
            casting=Casting.from_json,
            draws=Draws.from_json,
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

    def curve(self, name: str) -> Curve:
        """Give a property over temperature by its id.

        Raises
        ------
        NoAnswer
            If the estimate does not hold it, or it is one figure; the message gives the reason.
        """
        found = self._held(name)
        if not isinstance(found, Curve):
            raise NoAnswer(f"{name.replace('_', ' ')} is no curve over temperature")
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

    @classmethod
    def _read(cls, document: dict[str, Any], text: str, client: Client | None) -> Self:
        return cls.from_json(document, text, client)

    def __reduce__(self) -> tuple[Any, ...]:
        """Travel to another process as the JSON it came as, without the client."""
        return type(self).from_json, (self.to_dict(), self.to_json())

    def _lines(self) -> list[tuple[str, object]]:
        """Give the figures, and what to do next."""
        lines: list[tuple[str, object]] = [
            (name.replace("_", " "), value if value is not None else self.reasons.get(name))
            for name, value in self.properties.items()
        ]
        lines += [(f"density, {name}", found) for name, found in self.densities.items()]
        lines += [
            ("porosity", self.composition.porosity),
            ("yield", self.composition.yield_),
            ("like", self.closest_class),
            ("tried on", self.validated_on),
        ]
        lines += [
            (f"{name.replace('_', ' ')} narrowed by", f"{part:.0%}, by what was measured")
            for name, part in self.narrowed_by.items()
        ]
        lines += [("most doubt from", one) for one in self.doubt_shares[:3]]
        near = self.nearest_specimens[:3] or ("no measured mix like this is held",)
        lines += [("measured bodies near", one) for one in near]
        return [(label, value) for label, value in lines if value not in (None, "")]

    def __str__(self) -> str:
        head = f"estimate, {self.coverage:.0%} intervals"
        lines = [*self._lines(), *(("assumed", one.text) for one in self.assumptions)]
        lines += [] if self.casting is None else [("casting", self.casting)]
        lines += [("caution", one) for one in self.cautions]
        lines.append(("sources", ", ".join(self.citations)))
        return "\n".join([head, *(f"  {label}: {value}" for label, value in lines)])

    def figure(self, name: str = "thermal_conductivity") -> Any:
        """Draw a curve with its band and bounds, beside the nearest measured bodies.

        Parameters
        ----------
        name : str
            Which property.

        Returns
        -------
        matplotlib.figure.Figure
            Save it with ``figure.savefig("lid.svg")``.

        Raises
        ------
        NotInstalled
            If matplotlib is not installed.
        NoAnswer
            If the estimate does not hold the property.
        """
        from hotface import _figures  # noqa: PLC0415 - drawn only when asked for

        return _figures.estimate_figure(self, name)

    def _repr_html_(self) -> str:
        from hotface import _figures  # noqa: PLC0415 - drawn only when shown

        caption = f"Estimate, {self.coverage:.0%} intervals"
        curve = self.get("thermal_conductivity")
        drawn = table = ""
        if curve is not None:
            drawn = _figures.shown(_figures.estimate_figure, self)
            table = curve._repr_html_()
        hazards = "; ".join(dict.fromkeys(one.hazard for one in self.cautions))
        assumed = (one.text for one in self.assumptions)
        return "".join(
            [
                drawn,
                html_table(caption, ["", ""], self._lines()),
                table,
                "" if self.casting is None else self.casting._repr_html_(),
                html_fold(f"Cautions: {hazards}. What to do about them", self.cautions),
                html_fold("What was assumed", assumed),
                cited_html(self),
            ]
        )
