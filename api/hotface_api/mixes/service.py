"""How hot a mix may be used: the weakest part that has to stay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from hotface_api.catalogue.melt import FirstMelt
from hotface_api.catalogue.reference import Reference
from hotface_api.catalogue.survival import Question, Survival, survive
from hotface_api.mixes.inputs import Gathered, Part

__all__ = ["ServiceLimit", "partner_of", "service_limit"]


ROOM: Final = 293.15


@dataclass(frozen=True, slots=True)
class ServiceLimit:
    """Low and high edge in kelvin, the part that limits, the parts nothing is held of."""

    low: float | None
    high: float | None
    limited_by: str | None
    event: str | None
    unknown: tuple[str, ...]
    first_melt_possible_from: FirstMelt | None
    values: tuple[str, ...]
    citations: tuple[str, ...]
    reason: str | None


def partner_of(part: Part, gathered: Gathered) -> str | None:
    """Give what a part meets: an aggregate its binder, the binder its largest aggregate."""
    if part.kind == "binder":
        others = [p for p in gathered.parts if not p.is_powder and not p.leaves]
    else:
        others = [p for p in gathered.parts if p.kind == "binder"]
    if not others:
        return None
    largest = max(others, key=lambda p: (p.constituent.amount, p.constituent.material))
    return largest.constituent.material


def _edge(answer: Survival) -> tuple[float | None, float] | None:
    """Give the span a part is limited to; the low end is None where no use limit is held."""
    if answer.headroom is None:
        return None
    nearest = answer.question.temperature + answer.headroom
    if answer.limit is None:
        return None, nearest
    low, high = answer.limit
    top = nearest if high is None else max(high, nearest)
    return (nearest if low is not None else None), top


def service_limit(
    connection: Connection, reference: Reference, gathered: Gathered
) -> ServiceLimit:
    """Find the weakest necessary part; parts that leave by design do not count.

    A part of which no use limit is held leaves the low edge open: it is named, and the high edge
    that the others (or its own softening) set is still told.
    """
    questions = [
        Question(part.constituent.material, ROOM, partner_of(part, gathered))
        for part in gathered.parts
    ]
    answers = survive(connection, reference, questions)
    stays = [
        answer for part, answer in zip(gathered.parts, answers, strict=True)
        if not part.leaves and not answer.leaves_by_design
    ]
    unknown = tuple(answer.question.material for answer in stays if answer.limit is None)
    spans = [(*span, answer) for answer in stays if (span := _edge(answer)) is not None]
    reason = f"no use limit is held of {', '.join(unknown)}" if unknown else None
    first = _first_melt(answers)
    if not spans:
        return ServiceLimit(None, None, None, None, unknown, first, (), (), reason)
    low, high, weakest = min(
        spans, key=lambda span: (span[1] if span[0] is None else span[0], span[1])
    )
    high = min(high, *(top for _, top, _ in spans))
    event = weakest.limiting_event.text if weakest.limiting_event else None
    return ServiceLimit(
        None if unknown else low, high, weakest.question.material, event, unknown, first,
        weakest.values, weakest.citations, reason,
    )


def _first_melt(answers: Sequence[Survival]) -> FirstMelt | None:
    melts = [a.first_melt_possible_from for a in answers if a.first_melt_possible_from]
    return min(melts, key=lambda melt: (melt.temperature, melt.phase)) if melts else None
