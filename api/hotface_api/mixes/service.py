"""How hot a mix may be used: the weakest part that has to stay, in contact with the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.melt import FirstMelt, first_melt
from hotface_api.catalogue.reference import Reference
from hotface_api.catalogue.survival import Question, Survival, survive
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.request import Mix

__all__ = ["ServiceLimit", "partner_of", "partners", "prepare_limits", "service_limit"]

ROOM: Final = 293.15
_PRESENT: Final = 0.02
"""Mass fraction of a mix from which an oxide counts as present; as for a single material."""
_LOOSE_GUESS: Final = 700.0
"""Kilograms a cubic metre, only to tell which of several parts is the largest."""


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


_ANSWERS: Kept[list[Survival]] = Kept(1024)


def forget() -> None:
    """Forget the limits kept."""
    _ANSWERS.clear()


def _size(amount: float, kind: str) -> float:
    return amount * _LOOSE_GUESS if kind == "volume" else amount


def partners(reference: Reference, mix: Mix) -> list[tuple[str, str | None]]:
    """Give each held constituent and what it mainly meets; needs no densities.

    An aggregate or filler meets the largest binder, a binder the largest aggregate.
    """
    sized = [
        (
            _size(part.amount, part.amount_kind),
            part.material,
            reference.materials[part.material]["kind"],
        )
        for part in mix.constituents
        if part.material in reference.materials
    ]

    def largest(kinds: tuple[str, ...]) -> str | None:
        fitting = [(size, name) for size, name, kind in sized if kind in kinds]
        return max(fitting)[1] if fitting else None

    binder, aggregate = largest(("binder",)), largest(("aggregate", "body", "mineral"))
    return [(name, aggregate if kind == "binder" else binder) for _, name, kind in sized]


def partner_of(part: Part, gathered: Gathered) -> str | None:
    """Give what a part mainly meets: an aggregate its binder, the binder its largest aggregate."""
    if part.kind == "binder":
        others = [p for p in gathered.parts if not p.is_powder and not p.leaves]
    else:
        others = [p for p in gathered.parts if p.kind == "binder"]
    if not others:
        return None
    sizes = {
        other.held_as: _size(other.constituent.amount, other.constituent.amount_kind)
        for other in others
    }
    return max(sizes, key=lambda name: (sizes[name], name))


def _questions(reference: Reference, gathered: Gathered) -> list[Question]:
    """Ask about every part with what it meets: binders with grains, grains with binders."""
    held = [part for part in gathered.parts if part.held_as in reference.materials]
    found: list[Question] = []
    for part in held:
        binds = part.kind == "binder"
        met = [
            other.held_as
            for other in held
            if other is not part
            and (other.kind == "binder") != binds
            and not other.leaves
            and other.kind not in ("fibre", "admixture")
        ]
        found += [Question(part.held_as, ROOM, name) for name in met]
        if not met:
            found.append(Question(part.held_as, ROOM, None))
    return found


def _answers(
    connection: Connection, reference: Reference, questions: Sequence[Question]
) -> list[Survival]:
    """Ask once for the same set of questions at a revision."""
    key = (reference.database_id, reference.revision, tuple(questions))
    kept = _ANSWERS.get(key)
    return (
        kept if kept is not None else _ANSWERS.put(key, survive(connection, reference, questions))
    )


def prepare_limits(connection: Connection, reference: Reference, mixes: Iterable[Gathered]) -> None:
    """Ask about the parts of many mixes with one statement, for what is not kept yet."""
    home = (reference.database_id, reference.revision)
    wanted = [tuple(_questions(reference, gathered)) for gathered in mixes]
    missing = [asked for asked in dict.fromkeys(wanted) if _ANSWERS.get((*home, asked)) is None]
    every = list(dict.fromkeys(question for asked in missing for question in asked))
    if every:
        found = dict(zip(every, survive(connection, reference, every), strict=True))
        for asked in missing:
            _ANSWERS.put((*home, asked), [found[question] for question in asked])


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
    connection: Connection,
    reference: Reference,
    gathered: Gathered,
    mass_fractions: Mapping[str, float],
) -> ServiceLimit:
    """Find the weakest necessary part; parts that leave by design do not count.

    A part of which no use limit is held leaves the low edge open: it is named, and the high edge
    that the others (or its own softening) set is still told.
    """
    questions = _questions(reference, gathered)
    answers = _answers(connection, reference, questions) if questions else []
    leaving = {part.held_as for part in gathered.parts if part.leaves}
    stays = [
        answer
        for answer in answers
        if answer.question.material not in leaving and not answer.leaves_by_design
    ]
    known = {answer.question.material for answer in stays if answer.limit is not None}
    unknown = {answer.question.material for answer in stays} - known
    unknown |= {p.material for p in gathered.parts if p.held_as not in reference.materials}
    named = tuple(sorted(unknown))
    first = _first_melt(reference, gathered, mass_fractions)
    spans = [(*span, answer) for answer in stays if (span := _edge(answer)) is not None]
    reason = f"no use limit is held of {', '.join(named)}" if named else None
    if not spans:
        return ServiceLimit(None, None, None, None, named, first, (), (), reason)
    low, high, weakest = min(
        spans, key=lambda span: (span[1] if span[0] is None else span[0], span[1])
    )
    high = min(high, *(top for _, top, _ in spans))
    event = weakest.limiting_event.text if weakest.limiting_event else None
    return ServiceLimit(
        None if named else low,
        high,
        weakest.question.material,
        event,
        named,
        first,
        weakest.values,
        weakest.citations,
        reason,
    )


def _first_melt(
    reference: Reference, gathered: Gathered, mass_fractions: Mapping[str, float]
) -> FirstMelt | None:
    """Give the lowest published liquid of the oxides that meet, with its largest amount.

    A share is known only if the oxide is held, or not to be expected, of every part that stays;
    the shares of the mix bound the liquid, they do not say that it forms.
    """
    shares: dict[str, float] = {}
    for part in gathered.parts:
        if not part.leaves:
            for oxide, share in part.oxides.items():
                found = shares.get(oxide, 0.0) + share * mass_fractions.get(part.material, 0.0)
                shares[oxide] = found
    bare = any(not part.oxides and not part.leaves for part in gathered.parts)
    present = [oxide for oxide, share in shares.items() if share >= _PRESENT]
    amounts = None if bare else shares
    return first_melt(reference.phases, present, amounts)
