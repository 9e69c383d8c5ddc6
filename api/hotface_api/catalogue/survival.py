"""Does a material survive a temperature: what the published limits say, and what they do not.

The rules stand in ``verdict``. What happens on the first heat (hydrate loss, dehydroxylation), kiln
process temperatures, class temperatures and parts that are meant to leave never decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.cautions import CautionIndex, is_met
from hotface_api.catalogue.evidence import edges, weighed_limits
from hotface_api.catalogue.limits import MELTING, Edge, Limits, onset_edges, sort_limits, use_edges
from hotface_api.catalogue.melt import FirstMelt, first_melt, oxides_present
from hotface_api.catalogue.reference import Reference
from hotface_api.catalogue.verdict import (
    DEFAULT_MARGIN,
    Event,
    Outcome,
    Question,
    celsius,
    decide,
    event_of,
    find_jump,
)

__all__ = ["DEFAULT_MARGIN", "Event", "Outcome", "Question", "Survival", "survive"]

Row = Mapping[str, Any]
_TOLD: Final = frozenset({"first-heat", "leaves-by-design", "other"})
"""Events told beside the answer; what a kiln does in making the material is no news to a user."""

PROMISE: Final = (
    "Says only what published limits say of this material at this temperature. It does not promise"
    " a part: load, fuel ash, quick or many heats, thin edges and the way it was mixed, cured and"
    " dried can fail it below any limit. Fire a test piece first; for anything that carries load or"
    " guards against fire, local codes and licensed practice decide."
)


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
    for row in weighed_limits(connection, reference, asked):
        for name in {row["material"], row["with"]} & asked:
            by_material[name].append(row)
    held: dict[tuple[Any, ...], _Evidence] = {}
    cautions = CautionIndex(reference)
    found = []
    for question in questions:
        key = (question.material, question.with_, question.load, question.place)
        if key not in held:
            held[key] = _evidence(question, by_material, reference, cautions)
        found.append(_judge(question, held[key], reference))
    return found


def _own_rows(question: Question, rows: Iterable[Row], reference: Reference) -> list[Row]:
    """Choose the limits of the material itself, and of the pair seen from either side.

    A pair is stored once, so it is looked for both ways. A figure that names one of the pair only
    by its family (``calcium-aluminate-cement``) also speaks to each grade of it; one that names a
    grade does not speak to the others.
    """
    material, partner = question.material, question.with_
    mine = {material, reference.family_of(material)} - {None}
    partners = {partner, reference.family_of(partner)} - {None}
    own: dict[str, Row] = {}
    for row in rows:
        subject, with_ = row["material"], row["with"]
        if reference.properties[row["property"]]["group"] != "limit":
            continue
        if (subject in mine and with_ in partners) or (subject in partners and with_ in mine):
            own[row["id"]] = {**row, "with": partner}
        elif subject == material:
            own[row["id"]] = row
    return [own[key] for key in sorted(own)]


def _leaves(limits: Limits) -> bool:
    """Tell whether the material is meant to leave: it has events only, and one says so."""
    return (
        not limits.use
        and not limits.onsets
        and any(row["event_kind"] == "leaves-by-design" for row in limits.events)
    )


def _melting(rows: Sequence[Row], material: str) -> tuple[float, float] | None:
    spans = [
        edges(row)
        for row in rows
        if row["property"] == MELTING
        and row["material"] == material
        and row["with"] is None
        and row["basis"] != "memory"
    ]
    return (min(low for low, _ in spans), max(high for _, high in spans)) if spans else None


@dataclass(frozen=True, slots=True)
class _Evidence:
    """What is held for a question whatever its temperature, so that many share it."""

    limits: Limits
    use: Edge | None
    onsets: Sequence[Edge]
    leaves: bool
    stepping: tuple[Row, ...]
    """Rows of the material and of the solid it consists of, among which a jump is looked for."""
    solid: str | None
    melts: tuple[float, float] | None
    first_heat: tuple[Event, ...]
    first_melt: FirstMelt | None
    cautions: tuple[Row, ...]


def _evidence(
    question: Question,
    by_material: Mapping[str, Sequence[Row]],
    reference: Reference,
    cautions: CautionIndex,
) -> _Evidence:
    rows = by_material[question.material]
    of_partner = by_material.get(question.with_ or "", ())
    limits = sort_limits(
        _own_rows(question, [*rows, *of_partner], reference),
        partner=question.with_,
        load=question.load,
        place=question.place,
    )
    solid = reference.materials[question.material]["solid"]
    present = oxides_present(rows, question.material)
    if question.with_:
        present |= oxides_present(of_partner, question.with_)
    concerned = [m for m in (question.material, question.with_) if m]
    told = [row for row in limits.events if row["event_kind"] in _TOLD]
    return _Evidence(
        limits=limits,
        use=use_edges(limits.use, reference),
        onsets=onset_edges(limits.onsets, reference),
        leaves=_leaves(limits),
        stepping=(*rows, *by_material.get(solid or "", ())),
        solid=solid,
        melts=_melting(rows, question.material),
        first_heat=tuple(event_of(row, *edges(row)) for row in told),
        first_melt=first_melt(reference.phases, present),
        cautions=cautions.of(concerned),
    )


def _answer(
    question: Question, by_material: Mapping[str, Sequence[Row]], reference: Reference
) -> Survival:
    """Answer one question alone."""
    held = _evidence(question, by_material, reference, CautionIndex(reference))
    return _judge(question, held, reference)


def _judge(question: Question, held: _Evidence, reference: Reference) -> Survival:
    use, onsets = held.use, held.onsets
    jump = find_jump(held.stepping, question, held.solid) if question.cycling else None
    outcome, event, reasons = decide(question, use, onsets, jump, leaves=held.leaves)
    decisive = [use.row] if use else []
    decisive += [edge.row for edge in onsets if edge.low <= question.temperature + question.margin]
    shown = [*held.limits.use, *decisive, *([jump] if jump else [])]
    sources = {row["source"] for row in shown if row["source"] and row["basis"] != "memory"}
    known = _known(outcome, held.melts)
    return Survival(
        question=question,
        outcome=outcome,
        answer=_sentence(question, outcome, [*reasons[:1], *known], reference),
        heading=f"with {question.with_}" if question.with_ else "this material alone",
        limiting_event=event,
        limit=_limit(use),
        headroom=_headroom(question, use, onsets),
        melts_at=held.melts,
        first_heat=held.first_heat,
        first_melt_possible_from=held.first_melt,
        reasons=tuple(reasons),
        origins=use.origins if use else 0,
        leaves_by_design=held.leaves,
        values=tuple(sorted({row["id"] for row in shown})),
        citations=tuple(sorted(sources)),
        cautions=tuple(row for row in held.cautions if is_met(row, question.temperature)),
    )


def _limit(use: Edge | None) -> tuple[float | None, float | None] | None:
    if use is None:
        return None
    return (None if math.isinf(use.low) else use.low, None if math.isinf(use.high) else use.high)


def _headroom(question: Question, use: Edge | None, onsets: Sequence[Edge]) -> float | None:
    """Kelvins left to the nearest thing that limits; negative once past it."""
    lows = [edge.low for edge in onsets]
    if use is not None and not math.isinf(use.low):
        lows.append(use.low)
    elif use is not None:
        lows.append(use.high)
    return min(lows) - question.temperature if lows else None


def _known(outcome: Outcome, melts: tuple[float, float] | None) -> list[str]:
    """Tell what is known where no limit is held, without letting it decide."""
    if outcome != "unknown" or melts is None:
        return []
    span = " to ".join(dict.fromkeys(celsius(end) for end in melts))
    return [f"It melts at {span}, which says little about service."]


def _sentence(
    question: Question, outcome: Outcome, reasons: Sequence[str], reference: Reference
) -> str:
    name = reference.materials[question.material]["name"]
    partner = ""
    if question.with_:
        partner = f" with {reference.materials[question.with_]['name']}"
    at = celsius(question.temperature)
    opening = {
        "yes": f"Yes: published limits carry {name}{partner} at {at}.",
        "no": f"No: {name}{partner} does not survive {at}.",
        "borderline": f"Borderline: {name}{partner} at {at} is not proven safe.",
        "unknown": f"Unknown: nothing held says whether {name}{partner} survives {at}.",
    }[outcome]
    return " ".join([opening, *reasons])
