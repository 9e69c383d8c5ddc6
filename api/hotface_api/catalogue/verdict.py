"""The rules that turn limits into yes, borderline, no or unknown; pure, no database.

The rules, in order (the numbers are our judgement and are served with the answer):

- ``no``: the temperature lies above the high edge of the use limits, or at or above a failure
  onset (softening, melting, harmful decomposition, failed in a test, advised against).
- ``yes``: temperature plus margin lies at or below the low edge of the use limits, two origins or
  one standard carry it that far themselves, no failure onset lies at or below temperature plus
  margin, and, for a part that cycles, no reversible jump of more than 0.1 % lies at or below the
  temperature.
- ``borderline``: use limits, onsets or jumps speak, but neither of the above holds.
- ``unknown``: no matching use limit is held, and no onset or jump within the margin.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, NamedTuple

from hotface_api.catalogue.evidence import edges
from hotface_api.catalogue.limits import Edge

__all__ = [
    "DEFAULT_MARGIN",
    "Event",
    "Outcome",
    "Question",
    "Verdict",
    "celsius",
    "decide",
    "event_of",
    "find_jump",
]

Row = Mapping[str, Any]
Outcome = Literal["yes", "borderline", "no", "unknown"]
DEFAULT_MARGIN: Final = 50.0
JUMP: Final = 0.001
"""Length step, as a share, from which a reversible jump counts for a part that cycles."""
_SAME_JUMP: Final = 50.0
"""A step this near in kelvin to an event is the size of that event."""
_ZERO: Final = 273.15
_ORIGINS_FOR_YES: Final = 2


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


class Verdict(NamedTuple):
    """The outcome, the event that limits, and the reasons, the weightiest first."""

    outcome: Outcome
    event: Event | None
    reasons: list[str]


def celsius(kelvin: float) -> str:
    """Write a temperature in whole degrees Celsius."""
    return f"{kelvin - _ZERO:.0f} Cel"


def event_of(row: Row, low: float, high: float) -> Event:
    """Make an event of a row and its span; an open end is None."""
    text = row["condition_text"] or row["property"].replace("_", " ")
    finite = (None if math.isinf(low) else low, None if math.isinf(high) else high)
    return Event(row["property"], row["role"] or "event", *finite, text, row["id"])


def find_jump(rows: Sequence[Row], question: Question, solid: str | None) -> Row | None:
    """Find the reversible jump at or below the temperature that matters most.

    The size of a step is looked up in the material itself and in the mineral it consists of. A
    step of no more than ``JUMP`` does not count, nor does an event whose step is known to be that
    small; a jump that is reported with no size held counts.
    """
    steps = [
        row
        for row in rows
        if row["property"] == "inversion_step"
        and row["material"] in (question.material, solid)
        and row["temperature_low"] is not None
        and row["temperature_low"] <= question.temperature
    ]
    large = [row for row in steps if _size(row) > JUMP]
    if large:
        return max(large, key=lambda row: (_size(row), row["id"]))
    jumps = [
        row
        for row in rows
        if row["event_kind"] == "reversible-jump"
        and row["material"] == question.material
        and edges(row)[0] <= question.temperature
        and not any(abs(step["temperature_low"] - edges(row)[0]) <= _SAME_JUMP for step in steps)
    ]
    return min(jumps, key=lambda row: (edges(row)[0], row["id"])) if jumps else None


def _size(step: Row) -> float:
    low, high = edges(step)
    return max(abs(low), abs(high))


def decide(
    question: Question,
    use: Edge | None,
    onsets: Sequence[Edge],
    jump: Row | None,
    *,
    leaves: bool,
) -> Verdict:
    """Decide one question.

    Parameters
    ----------
    question : Question
    use : Edge or None
        The combined use limits that match the question.
    onsets : sequence of Edge
        The failure onsets that match the question.
    jump : row or None
        The reversible jump that counts at this temperature, if the part cycles.
    leaves : bool
        Whether the material is meant to leave on heating.
    """
    temperature, reach = question.temperature, question.temperature + question.margin
    past = [edge for edge in onsets if temperature >= edge.high]
    near = [edge for edge in onsets if edge.low <= reach]
    if past:
        return _no(past[0], "is reached")
    if use is not None and temperature > use.high:
        return _no(use, "is exceeded")
    if use is None and not near and jump is None:
        reason = "No matching use limit is held."
        if leaves:
            reason = "It is meant to leave on heating and is not there to survive."
        return Verdict("unknown", None, [reason])
    reasons = _doubts(question, use, near, jump)
    nearest = _nearest(use, near, jump)
    if reasons:
        return Verdict("borderline", nearest, reasons)
    told = [_told(nearest, "is not reached with the margin asked")] if nearest else []
    return Verdict("yes", nearest, told)


def _no(edge: Edge, what: str) -> Verdict:
    event = event_of(edge.row, edge.low, edge.high)
    return Verdict("no", event, [_told(event, what), *_unchecked(edge)])


def _unchecked(edge: Edge) -> list[str]:
    if edge.row["basis"] != "memory":
        return []
    return [f"The {_plain(edge.row['property'])} is from memory; nobody has checked it."]


def _doubts(
    question: Question, use: Edge | None, near: Sequence[Edge], jump: Row | None
) -> list[str]:
    """Everything that stands between the question and a yes."""
    reasons = ["No matching use limit is held."] if use is None else _doubts_of(use, question)
    for edge in near:
        reasons.append(_told(event_of(edge.row, edge.low, edge.high), "begins near or below"))
        reasons += _unchecked(edge)
    if jump is not None:
        reasons.append(_jump_told(jump))
    return reasons


def _doubts_of(use: Edge, question: Question) -> list[str]:
    """Tell why the use limits do not carry the temperature with its margin."""
    reach = question.temperature + question.margin
    reasons = []
    if reach > use.low:
        low = "not stated" if math.isinf(use.low) else celsius(use.low)
        reasons.append(
            f"The low edge of the published use limits is {low}; with a margin of"
            f" {question.margin:.0f} K more is needed."
        )
    carried = use.carried_by(min(reach, use.low))
    if len(carried) < _ORIGINS_FOR_YES and not any(each.standard for each in carried):
        if use.origins < _ORIGINS_FOR_YES:
            reasons.append("The use limit rests on one origin only.")
        else:
            reasons.append(
                f"Of the {use.origins} origins {'only one' if carried else 'none'} carries it"
                " that far, and no standard does."
            )
    return [*reasons, *_unchecked(use)]


def _jump_temperature(jump: Row) -> float:
    stepped = jump["property"] == "inversion_step"
    return float(jump["temperature_low"] if stepped else edges(jump)[0])


def _jump_told(jump: Row) -> str:
    at = celsius(_jump_temperature(jump))
    size = "in length (size not held)"
    if jump["property"] == "inversion_step":
        size = f"of {_size(jump) * 100:.2g} % in length"
    return f"A reversible jump {size} at {at} is crossed at every heat."


def _nearest(use: Edge | None, near: Sequence[Edge], jump: Row | None) -> Event | None:
    """Choose the limiting event: the lowest of onset, jump and use limit."""
    candidates = [(edge.low, event_of(edge.row, edge.low, edge.high)) for edge in near]
    if use is not None:
        low = use.high if math.isinf(use.low) else use.low
        candidates.append((low, event_of(use.row, use.low, use.high)))
    if jump is not None:
        at = _jump_temperature(jump)
        candidates.append((at, event_of(jump, at, at)))
    return min(candidates, key=lambda pair: (pair[0], pair[1].value))[1] if candidates else None


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _told(event: Event, what: str) -> str:
    ends = [celsius(end) for end in (event.low, event.high) if end is not None]
    span = " to ".join(dict.fromkeys(ends))
    return f"The {_plain(event.property)} of {span} {what} ({event.text})."
