"""Does it survive there: questions and answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from hotface._citing import Cited, cited_html
from hotface._decode import Answered, Text, decode, difference, listed, point, span
from hotface._quantities import Figure, QuantityLike, plain_quantity, read_quantity
from hotface._ranges import Range
from hotface._records import Caution
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = ["LimitEvent", "MeltPoint", "Outcome", "Place", "Question", "Survival"]

Outcome = Literal["yes", "borderline", "no", "unknown"]
Place = Literal["face", "behind"]


@dataclass(frozen=True, slots=True)
class Question:
    """One survival question; what is ``None`` is left to the service's default.

    Parameters
    ----------
    material : str
        Material id.
    temperature : str, tuple, Figure or pint.Quantity
        The hottest it gets, such as ``"1050 degC"``.
    with_ : str, optional
        The binder or partner it is in touch with.
    place : {"face", "behind"}, optional
        Whether it sees the fire or lies behind the hot face.
    load, cycling : bool, optional
        Whether it carries load, and whether it is heated again and again.
    margin : str, tuple, Figure or pint.Quantity, optional
        Headroom asked for, a temperature difference such as ``"50 K"``.
    """

    material: str
    temperature: QuantityLike
    with_: str | None = None
    place: Place | None = None
    load: bool | None = None
    cycling: bool | None = None
    margin: QuantityLike | None = None

    @classmethod
    def of(cls, asked: Question | tuple[str, QuantityLike] | Mapping[str, Any]) -> Question:
        """Take a question, a pair of material and temperature, or the service's JSON."""
        if isinstance(asked, Question):
            return asked
        if isinstance(asked, Mapping):
            named = {"with_" if key == "with" else key: one for key, one in asked.items()}
            return cls(**{key: plain_quantity(one) for key, one in named.items()})
        material, temperature = asked
        return cls(material, temperature)

    def figures(self) -> tuple[Figure, Figure | None]:
        """Give temperature and margin as plain figures."""
        asked = read_quantity(self.temperature, "temperature", "temperature")
        if self.margin is None:
            return asked, None
        return asked, read_quantity(self.margin, "margin", "temperature", difference=True)

    def to_json(self) -> dict[str, Any]:
        """Give the question as the service takes it in a body."""
        temperature, margin = self.figures()
        stated = {
            "material": self.material,
            "temperature": temperature.to_json(),
            "with": self.with_,
            "place": self.place,
            "load": self.load,
            "cycling": self.cycling,
            "margin": None if margin is None else margin.to_json(),
        }
        return {name: value for name, value in stated.items() if value is not None}

    def to_query(self) -> dict[str, Any]:
        """Give the question as query parameters, without the material."""
        temperature, margin = self.figures()
        return {
            "temperature": temperature.to_query(),
            "with": self.with_,
            "place": self.place,
            "load": self.load,
            "cycling": self.cycling,
            "margin": None if margin is None else margin.to_query(),
        }


@dataclass(frozen=True, slots=True)
class LimitEvent:
    """Something that happens to a material at a temperature, and the value that says so."""

    property: str
    temperature: Range | None
    text: str
    value: str | None
    role: str | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> LimitEvent | None:
        """Read an event; ``None`` stays ``None``."""
        return None if document is None else decode(cls, document, temperature=span)

    def __str__(self) -> str:
        at = "" if self.temperature is None else f" at {self.temperature}"
        return f"{self.property.replace('_', ' ')}{at}: {self.text}"


@dataclass(frozen=True, slots=True)
class MeltPoint:
    """The lowest published liquid among the oxides that meet: a caution, not a limit by itself."""

    temperature: Figure
    oxides: Any
    phases: str
    phase: str
    source: str | None = None
    most_liquid: float | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> MeltPoint | None:
        """Read a melt point; ``None`` stays ``None``."""
        return None if document is None else decode(cls, document, temperature=point)


def _events(raw: Any) -> tuple[LimitEvent, ...]:
    return tuple(event for event in map(LimitEvent.from_json, raw or ()) if event is not None)


@dataclass(frozen=True, slots=True)
class Survival(Answered, Cited):
    """Whether a material survives, with the evidence and what the answer does not promise.

    Attributes
    ----------
    outcome : str
        ``yes``, ``borderline``, ``no`` or ``unknown``. Ask for it by name: the object itself
        refuses to be used as true or false.
    answer : str
        The answer in one sentence.
    heading : str
        What it holds for: ``this material alone`` or with which partner.
    limiting_event : LimitEvent or None
        What decides.
    headroom : Figure or None
        Temperature difference left to the limit.
    first_heat : tuple of LimitEvent
        What happens once on the first heat; never decides.
    """

    material: str
    temperature: Figure
    with_: str | None
    place: str | None
    load: bool
    cycling: bool
    outcome: Outcome
    answer: str
    heading: str
    limiting_event: LimitEvent | None
    limit: Range | None
    margin_required: Figure | None
    headroom: Figure | None
    melts_at: Range | None
    first_heat: tuple[LimitEvent, ...]
    first_melt_possible_from: MeltPoint | None
    reasons: tuple[str, ...]
    origins: int
    values: tuple[str, ...]
    citations: tuple[str, ...]
    cautions: tuple[Caution, ...]
    promise: str
    revision: int | None = None
    client: Client | None = field(default=None, repr=False, compare=False)

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any], text: Text, client: Client | None = None
    ) -> Survival:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text, "client": client},
            temperature=point,
            limiting_event=LimitEvent.from_json,
            limit=span,
            margin_required=difference,
            headroom=difference,
            melts_at=span,
            first_heat=_events,
            first_melt_possible_from=MeltPoint.from_json,
            reasons=tuple,
            values=tuple,
            citations=tuple,
            cautions=listed(Caution.from_json),
        )

    def __reduce__(self) -> tuple[Any, ...]:
        """Travel to another process as the JSON it came as, without the client."""
        return type(self).from_json, (self.to_dict(), self.to_json())

    def __bool__(self) -> bool:
        """Refuse: ``if db.survives(...)`` would be true for *no*."""
        raise TypeError("a survival answer is not true or false; compare .outcome == 'yes'")

    def _lines(self) -> list[tuple[str, object]]:
        """Give what is known, in the order in which it matters."""
        melt = self.first_melt_possible_from
        lines: list[tuple[str, object]] = [
            ("holds for", self.heading),
            ("decided by", self.limiting_event),
            ("use limit", self.limit),
            ("margin asked", self.margin_required),
            ("headroom left", self.headroom),
            ("melts at", self.melts_at),
            ("first melt possible from", None if melt is None else melt.temperature),
            *(("on the first heat", event) for event in self.first_heat),
            *(("because", reason) for reason in self.reasons if reason not in self.answer),
            ("independent origins", self.origins),
            *(("caution", caution) for caution in self.cautions),
            ("promises", self.promise),
        ]
        return [(label, value) for label, value in lines if value not in (None, "")]

    def __str__(self) -> str:
        lines = [self.answer]
        lines += [f"  {label}: {value}" for label, value in self._lines()]
        lines += [f"  sources: {', '.join(self.citations)}"] if self.citations else []
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        caption = f"{self.material} at {self.temperature}. {self.answer}"
        return html_table(caption, ["", ""], self._lines()) + cited_html(self)
