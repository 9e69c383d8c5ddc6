"""Does a material survive a temperature: what the published limits say, and what they do not.

The rules, in order (the numbers are our judgement and are served with the answer):

- ``no``: the temperature lies above the high edge of the use limits, or at or above a failure
  onset (softening, melting, harmful decomposition, failed in a test, advised against).
- ``yes``: temperature plus margin lies at or below the low edge of the use limits, these rest on
  two origins or one standard, no failure onset lies at or below temperature plus margin, and, for
  a part that cycles, no reversible jump of more than 0.1 % lies below the temperature.
- ``borderline``: use limits, onsets or jumps speak, but neither of the above holds.
- ``unknown``: no matching use limit is held, and no onset or jump within the margin.

What happens on the first heat (hydrate loss, dehydroxylation), kiln process temperatures, class
temperatures and parts that are meant to leave never decide.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.evidence import edges, limit_rows
from hotface_api.catalogue.limits import MELTING, Edge, Limits, onset_edges, sort_limits, use_edges
from hotface_api.catalogue.melt import FirstMelt, first_melt, oxides_present
from hotface_api.catalogue.reference import Reference

__all__ = ["DEFAULT_MARGIN", "Outcome", "Question", "Survival", "survive"]

Row = Mapping[str, Any]
Outcome = Literal["yes", "borderline", "no", "unknown"]
DEFAULT_MARGIN: Final = 50.0
JUMP: Final = 0.001
_ZERO: Final = 273.15
_ORIGINS_FOR_YES: Final = 2

PROMISE: Final = (
    "Says only what published limits say of this material at this temperature. It does not promise"
    " a part: load, fuel ash, quick or many heats, thin edges and the way it was mixed, cured and"
    " dried can fail it below any limit. Fire a test piece first; for anything that carries load or"
    " guards against fire, local codes and licensed practice decide."
)


@dataclass(frozen=True, slots=True)
class Question:
    """One question; temperatures in kelvin, ``margin`` a difference in kelvin."""

    material: str
    temperature: float
    with_: str | None = None
    place: Literal["face", "behind"] | None = None
    load: bool = False
    cycling: bool = True
    margin: float = DEFAULT_MARGIN


@dataclass(frozen=True, slots=True)
class Event:
    """A temperature (span) in kelvin at which something happens, and the value that says so."""

    property: str
    role: str
    low: float | None
    high: float | None
    text: str
    value: str


@dataclass(frozen=True, slots=True)
class Survival:
    """The answer. ``limit`` holds the low and high edge of the use limits (None: open)."""

    question: Question
    outcome: Outcome
    answer: str
    heading: str
    limiting_event: Event | None
    limit: tuple[float | None, float | None] | None
    headroom: float | None
    melts_at: tuple[float, float] | None
    first_heat: tuple[Event, ...]
    first_melt_possible_from: FirstMelt | None
    reasons: tuple[str, ...]
    origins: int
    leaves_by_design: bool
    values: tuple[str, ...]
    citations: tuple[str, ...]
    cautions: tuple[Row, ...]
    promise: str = PROMISE


def survive(
    connection: Connection, reference: Reference, questions: Sequence[Question]
) -> list[Survival]:
    """Answer many questions with one statement.

    Every ``material`` and ``with_`` must be a key of ``reference.materials``.
    """
    asked = {q.material for q in questions} | {q.with_ for q in questions if q.with_}
    asked |= {solid for name in asked if (solid := reference.materials[name]["solid"])}
    by_material: dict[str, list[Row]] = {name: [] for name in asked}
    for row in limit_rows(connection, reference, asked):
        for name in {row["material"], row["with"]} & asked:
            by_material[name].append(row)
    return [_answer(question, by_material, reference) for question in questions]


def _celsius(kelvin: float) -> str:
    return f"{kelvin - _ZERO:.0f} Cel"


def _event(row: Row, low: float, high: float) -> Event:
    text = row["condition_text"] or row["property"].replace("_", " ")
    finite = (None if math.isinf(low) else low, None if math.isinf(high) else high)
    return Event(row["property"], row["role"] or "event", *finite, text, row["id"])


def _own_rows(question: Question, rows: Sequence[Row], reference: Reference) -> list[Row]:
    """Rows of the material itself, and of the pair seen from either side.

    A pair is stored once, so it is looked for both ways. A figure that names its partner only by
    family (``calcium-aluminate-cement``) also speaks to a grade of it; one that names a grade does
    not speak to the others.
    """
    partners = {question.with_, reference.family_of(question.with_)} - {None}
    own: list[Row] = []
    for row in rows:
        if reference.properties[row["property"]]["group"] != "limit":
            continue
        is_subject = row["material"] == question.material
        if is_subject and row["with"] in partners:
            own.append({**row, "with": question.with_})
        elif is_subject:
            own.append(row)
        elif row["with"] == question.material and row["material"] in partners:
            own.append({**row, "with": question.with_})
    return own


def _jump(rows: Sequence[Row], question: Question, solid: str | None) -> Row | None:
    """Find a reversible jump at or below the temperature that is not known to be small.

    The size of the step is looked up in the material itself, then in the mineral it consists of;
    where a jump is reported and no size is held, it counts.
    """
    steps = [
        row for row in rows
        if row["property"] == "inversion_step" and row["material"] in (question.material, solid)
        and row["temperature_low"] is not None and row["temperature_low"] <= question.temperature
    ]
    if steps:
        largest = max(steps, key=lambda row: (edges(row)[1], row["id"]))
        return largest if edges(largest)[1] > JUMP else None
    jumps = [
        row for row in rows
        if row["event_kind"] == "reversible-jump" and row["material"] == question.material
        and edges(row)[0] <= question.temperature
    ]
    return min(jumps, key=lambda row: (edges(row)[0], row["id"])) if jumps else None


def _leaves(limits: Limits) -> bool:
    """Tell whether the material is meant to leave: it has events only, and one says so."""
    return not limits.use and not limits.onsets and any(
        row["event_kind"] == "leaves-by-design" for row in limits.events
    )


def _melting(rows: Sequence[Row], material: str) -> tuple[float, float] | None:
    spans = [
        edges(row) for row in rows
        if row["property"] == MELTING and row["material"] == material and row["with"] is None
        and row["basis"] != "memory"
    ]
    return (min(low for low, _ in spans), max(high for _, high in spans)) if spans else None


def _answer(
    question: Question, by_material: Mapping[str, Sequence[Row]], reference: Reference
) -> Survival:
    rows = by_material[question.material]
    limits = sort_limits(
        _own_rows(question, rows, reference),
        partner=question.with_, load=question.load, place=question.place,
    )
    use = use_edges(limits.use, reference)
    onsets = onset_edges(limits.onsets, reference)
    solid = reference.materials[question.material]["solid"]
    jump = _jump([*rows, *by_material.get(solid or "", ())], question, solid)
    jump = jump if question.cycling else None
    outcome, event, reasons = _decide(question, use, onsets, jump, leaves=_leaves(limits))
    melts = _melting(rows, question.material)
    decisive = [use.row] if use else []
    decisive += [edge.row for edge in onsets if edge.low <= question.temperature + question.margin]
    shown = [*limits.use, *decisive, *([jump] if jump else [])]
    sources = {row["source"] for row in shown if row["source"] and row["basis"] != "memory"}
    concerned = [m for m in (question.material, question.with_) if m]
    present = oxides_present(rows, question.material)
    if question.with_:
        present |= oxides_present(by_material[question.with_], question.with_)
    return Survival(
        question=question,
        outcome=outcome,
        answer=_sentence(question, outcome, [*reasons[:1], *_known(outcome, melts)], reference),
        heading=f"with {question.with_}" if question.with_ else "this material alone",
        limiting_event=event,
        limit=_limit(use),
        headroom=_headroom(question, use, onsets),
        melts_at=melts,
        first_heat=tuple(_event(row, *edges(row)) for row in limits.events),
        first_melt_possible_from=first_melt(reference.phases, present),
        reasons=tuple(reasons),
        origins=use.origins if use else 0,
        leaves_by_design=_leaves(limits),
        values=tuple(sorted({row["id"] for row in shown})),
        citations=tuple(sorted(sources)),
        cautions=matching_cautions(reference, concerned, temperature=question.temperature),
    )


def _limit(use: Edge | None) -> tuple[float | None, float | None] | None:
    if use is None:
        return None
    return (
        None if math.isinf(use.low) else use.low, None if math.isinf(use.high) else use.high
    )


def _headroom(question: Question, use: Edge | None, onsets: Sequence[Edge]) -> float | None:
    """Kelvins left to the nearest thing that limits; negative once past it."""
    lows = [edge.low for edge in onsets]
    if use is not None and not math.isinf(use.low):
        lows.append(use.low)
    elif use is not None:
        lows.append(use.high)
    return min(lows) - question.temperature if lows else None


def _decide(
    question: Question, use: Edge | None, onsets: Sequence[Edge], jump: Row | None, *,
    leaves: bool,
) -> tuple[Outcome, Event | None, list[str]]:
    temperature, reach = question.temperature, question.temperature + question.margin
    past = [edge for edge in onsets if temperature >= edge.high]
    near = [edge for edge in onsets if edge.low <= reach]
    if past:
        event = _event(past[0].row, past[0].low, past[0].high)
        return "no", event, [_told(event, "is reached")]
    if use is not None and temperature > use.high:
        event = _event(use.row, use.low, use.high)
        return "no", event, [_told(event, "is exceeded")]
    if use is None and not near and jump is None:
        if leaves:
            return "unknown", None, ["It is meant to leave on heating and is not there to survive."]
        return "unknown", None, ["No matching use limit is held."]
    reasons = _doubts(question, use, near, jump)
    nearest = _nearest(use, near, jump)
    if not reasons:
        reasons = [_told(nearest, "is not reached with the margin asked")] if nearest else []
        return "yes", nearest, reasons
    return "borderline", nearest, reasons


def _doubts(
    question: Question, use: Edge | None, near: Sequence[Edge], jump: Row | None
) -> list[str]:
    """Everything that stands between the question and a yes."""
    reasons = []
    if use is None:
        reasons.append("No matching use limit is held.")
    else:
        if question.temperature + question.margin > use.low:
            low = "not stated" if math.isinf(use.low) else _celsius(use.low)
            reasons.append(
                f"The low edge of the published use limits is {low}; with a margin of"
                f" {question.margin:.0f} K more is needed."
            )
        if use.origins < _ORIGINS_FOR_YES and not use.has_standard:
            reasons.append("The use limit rests on one origin only.")
    events = [_event(edge.row, edge.low, edge.high) for edge in near]
    reasons += [_told(event, "begins near or below") for event in events]
    if jump is not None:
        reasons.append(_jump_told(jump))
    return reasons


def _jump_temperature(jump: Row) -> float:
    stepped = jump["property"] == "inversion_step"
    return float(jump["temperature_low"] if stepped else edges(jump)[0])


def _jump_told(jump: Row) -> str:
    at = _celsius(_jump_temperature(jump))
    size = "in length (size not held)"
    if jump["property"] == "inversion_step":
        size = f"of {edges(jump)[1] * 100:.2g} % in length"
    return f"A reversible jump {size} at {at} is crossed at every heat."


def _nearest(use: Edge | None, near: Sequence[Edge], jump: Row | None) -> Event | None:
    """Choose the limiting event: the lowest of onset, jump and use limit."""
    candidates = [(edge.low, _event(edge.row, edge.low, edge.high)) for edge in near]
    if use is not None:
        low = use.high if math.isinf(use.low) else use.low
        candidates.append((low, _event(use.row, use.low, use.high)))
    if jump is not None:
        at = _jump_temperature(jump)
        candidates.append((at, _event(jump, at, at)))
    return min(candidates, key=lambda pair: (pair[0], pair[1].value))[1] if candidates else None


def _told(event: Event, what: str) -> str:
    name = event.property.replace("_", " ")
    ends = [_celsius(end) for end in (event.low, event.high) if end is not None]
    span = " to ".join(dict.fromkeys(ends))
    return f"The {name} of {span} {what} ({event.text})."


def _known(outcome: Outcome, melts: tuple[float, float] | None) -> list[str]:
    """Tell what is known where no limit is held, without letting it decide."""
    if outcome != "unknown" or melts is None:
        return []
    span = " to ".join(dict.fromkeys(_celsius(end) for end in melts))
    return [f"It melts at {span}, which says little about service."]


def _sentence(
    question: Question, outcome: Outcome, reasons: Sequence[str], reference: Reference
) -> str:
    name = reference.materials[question.material]["name"]
    partner = ""
    if question.with_:
        partner = f" with {reference.materials[question.with_]['name']}"
    at = _celsius(question.temperature)
    opening = {
        "yes": f"Yes: published limits carry {name}{partner} at {at}.",
        "no": f"No: {name}{partner} does not survive {at}.",
        "borderline": f"Borderline: {name}{partner} at {at} is not proven safe.",
        "unknown": f"Unknown: nothing held says whether {name}{partner} survives {at}.",
    }[outcome]
    return " ".join([opening, *reasons])
