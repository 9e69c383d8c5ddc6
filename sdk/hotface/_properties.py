"""What is known of one property of one material: the answer with its derivation."""

from __future__ import annotations

import builtins
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Self

from hotface._citing import Cited, cited_html
from hotface._curves import Curve
from hotface._decode import Kept, decode, listed, span
from hotface._errors import HotfaceError, NoAnswer
from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._records import Condition, Value
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = ["Derivation", "LeftOut", "OtherRange", "PropertyAnswer", "UsedValue"]


@dataclass(frozen=True, slots=True)
class UsedValue:
    """A value that counted, and how much."""

    value: str
    weight: float | None
    origin: str | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A value that did not count, and why."""

    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class Derivation:
    """How a range was made of values: the rule, what counted and what did not."""

    rule: str
    origins: int
    used: tuple[UsedValue, ...]
    left_out: tuple[LeftOut, ...]
    text: str | None = None
    spread: float | None = None
    spread_floor: float | None = None
    outliers: tuple[str, ...] = ()

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Derivation:
        """Read the derivation of an answer."""
        return decode(
            cls,
            document,
            used=listed(lambda raw: decode(UsedValue, raw)),
            left_out=listed(lambda raw: decode(LeftOut, raw)),
            outliers=tuple,
        )


@dataclass(frozen=True, slots=True)
class OtherRange:
    """The range under a condition unlike the one answered for; never merged with it."""

    condition: Condition
    range: Range | None
    observed: Range | None
    origins: int

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> OtherRange:
        """Read one of the other ranges."""
        return decode(
            cls, document, condition=Condition.from_json, range=span, observed=Range.from_json
        )


@dataclass(frozen=True, slots=True)
class PropertyAnswer(Kept, Cited):
    """The range of a property under one condition, its curve, and where it comes from.

    Attributes
    ----------
    range : Range or None
        What to expect; ``reason`` says why where there is none.
    observed : Range or None
        The envelope of what was published.
    condition : Condition or None
        The condition it holds for.
    unverified : bool
        Whether it rests on recalled figures that nobody checked.
    others : tuple of OtherRange
        What is held under other conditions.
    points : Curve or None
        At the temperatures asked for.
    band : Curve or None
        The whole curve, when no temperatures were asked for.
    citations : tuple of str
        Source ids.
    """

    _marks: ClassVar[tuple[str, ...]] = ("property", "derivation", "observed")

    material: str
    property: str
    unit: str
    range: Range | None
    observed: Range | None
    condition: Condition | None
    unverified: bool
    reason: str | None
    others: tuple[OtherRange, ...]
    points: Curve | None
    band: Curve | None
    derivation: Derivation | None
    citations: tuple[str, ...]
    point_reasons: tuple[str | None, ...] = ()
    revision: int | None = None
    client: Client | None = field(default=None, repr=False, compare=False)

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any], text: str, client: Client | None = None
    ) -> Self:
        """Read an answer and keep the text it came as."""
        unit = document["unit"]
        points = document["points"]
        reasons = [point.get("reason") for point in points or ()]
        return decode(
            cls,
            {**document, "text": text, "point_reasons": reasons, "client": client},
            range=lambda raw: Range.from_json(raw, unit),
            observed=lambda raw: Range.from_json(raw, unit),
            condition=lambda raw: None if raw is None else Condition.from_json(raw),
            others=listed(OtherRange.from_json),
            points=lambda raw: None if raw is None else Curve.from_points(raw, unit),
            band=lambda raw: None if raw is None else Curve.from_band(raw, unit),
            derivation=lambda raw: None if raw is None else Derivation.from_json(raw),
            citations=tuple,
            point_reasons=tuple,
        )

    @classmethod
    def _read(cls, document: dict[str, Any], text: str, client: Client | None) -> Self:
        return cls.from_json(document, text, client)

    def __reduce__(self) -> tuple[Any, ...]:
        """Travel to another process as the JSON it came as, without the client."""
        return type(self).from_json, (self.to_dict(), self.to_json())

    def values(self) -> tuple[Value, ...]:
        """Give the published figures it rests on, in the order of their weights' list.

        Raises
        ------
        HotfaceError
            If the answer was loaded from a file and knows no service.
        """
        used = () if self.derivation is None else self.derivation.used
        if not used:
            return ()
        held = self._service().values(material=self.material, property=self.property)
        by_id = {one.id: one for one in held}
        return tuple(by_id[one.value] for one in used if one.value in by_id)

    def figure(self, *, points: bool = True) -> Any:
        """Draw the curve with its band, and the figures it rests on beside it.

        Parameters
        ----------
        points : bool
            Whether to ask the service for those figures and draw them.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        NotInstalled
            If matplotlib is not installed.
        NoAnswer
            If the property is held at no temperature, or at one only.
        """
        from hotface import _figures  # noqa: PLC0415 - drawn only when asked for

        return _figures.property_figure(self, self.values() if points else ())

    @builtins.property  # the field `property` hides the plain name in this class
    def expected(self) -> Range:
        """The range to expect.

        Raises
        ------
        NoAnswer
            If none can be given; the message gives the service's reason.
        """
        if self.range is None:
            raise NoAnswer(self._why("no range can be given"))
        return self.range

    @builtins.property  # the field `property` hides the plain name in this class
    def curve(self) -> Curve:
        """The band, or else the points asked for.

        Raises
        ------
        NoAnswer
            If the property is held at no temperature, or at one only.
        """
        found = self.band or self.points
        if found is None:
            raise NoAnswer(self._why("no curve over temperature is held"))
        return found

    def at_point(self, place: int = 0) -> Range:
        """Give the range at one of the temperatures asked for.

        Raises
        ------
        NoAnswer
            If nothing is held there; the message gives the service's reason.
        """
        if self.points is None or not self.points:
            raise NoAnswer(self._why("nothing was asked at a temperature"))
        temperature, found = list(self.points)[place]
        if found.is_empty:
            where = Figure(temperature, self.points.temperature_unit)
            reason = self.point_reasons[place] or self.reason or "no reason given"
            raise NoAnswer(f"{self.material} {self.property} at {where}: {reason}")
        return found

    def _why(self, otherwise: str) -> str:
        return f"{self.material} {self.property}: {self.reason or otherwise}"

    def _lines(self) -> list[tuple[str, object]]:
        origins = None if self.derivation is None else self.derivation.origins
        lines: list[tuple[str, object]] = [
            ("expect", self.range),
            ("published", self.observed),
            ("holds for", self.condition),
            ("curve", self.band),
            ("independent origins", origins),
            ("sources", ", ".join(self.citations)),
            ("reason", self.reason),
            ("unverified", "recalled figures that nobody checked" if self.unverified else None),
            *((f"otherwise ({other.condition})", other.range) for other in self.others),
        ]
        return [(label, value) for label, value in lines if value not in (None, "")]

    def __str__(self) -> str:
        head = f"{self.material}, {self.property.replace('_', ' ')}"
        return "\n".join([head, *(f"  {label}: {value}" for label, value in self._lines())])

    def _repr_html_(self) -> str:
        table = html_table(
            f"{self.material}, {self.property.replace('_', ' ')}", ["", ""], self._lines()
        )
        points = "" if self.points is None else self.points._repr_html_()
        return self._drawn() + table + points + cited_html(self)

    def _drawn(self) -> str:
        """Draw the curve where there is one; without the service, without its points."""
        from hotface import _figures  # noqa: PLC0415 - drawn only when shown

        curve = self.band or self.points
        if curve is None or curve.span is None:
            return ""
        try:
            values = self.values()
        except HotfaceError:
            values = ()
        return _figures.shown(_figures.property_figure, self, values)
