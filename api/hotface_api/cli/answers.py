"""Answers as text for people: first the sentence, then the numbers, then the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from hotface import ProblemError
from hotface_api.cli.tables import blocks, heading, lines, listed, number, table

if TYPE_CHECKING:
    from hotface import (
        Caution,
        Curve,
        Material,
        MaterialSummary,
        PropertyAnswer,
        Question,
        Survival,
    )

__all__ = [
    "cautions",
    "curve_table",
    "decided_by",
    "known",
    "material",
    "materials",
    "survival",
    "survivals",
    "unit_words",
    "words",
]

_MOST_ROWS: Final = 12
_WIDEST: Final = ("series_bound", "parallel_bound")


def words(name: str) -> str:
    """Write an id as words."""
    return name.replace("_", " ")


def unit_words(code: str) -> str:
    """Write a unit the way people do: ``W/(m·K)``."""
    from hotface import Figure  # noqa: PLC0415 - knows the signs

    return str(Figure(1.0, code)).removeprefix("1 ")


def cautions(found: Iterable[Caution]) -> list[tuple[str, object]]:
    """Write cautions, those with the same advice (as of several countries) as one."""
    facts: dict[tuple[str, str], list[str]] = {}
    for one in found:
        facts.setdefault((one.hazard, one.advice), []).append(one.fact)
    return [
        ("caution", f"{hazard}: {' '.join(dict.fromkeys(known))} {advice}")
        for (hazard, advice), known in facts.items()
    ]


def materials(found: Sequence[MaterialSummary]) -> str:
    """Write a list of materials."""
    rows = [[one.id, one.kind, one.name] for one in found]
    return blocks(table(["id", "kind", "name"], rows), f"{len(rows)} in all")


def material(found: Material) -> str:
    """Write what is held of a material."""
    rows = [
        [one.property, one.values, one.origins, ", ".join(one.forms)] for one in found.properties
    ]
    about = [
        ("also known as", ", ".join(found.also_known_as)),
        ("other grades", ", ".join(found.grades)),
    ]
    after = [
        ("missing", ", ".join(found.missing)),
        *cautions(found.cautions),
    ]
    return blocks(
        heading(f"{found.name} ({found.kind}). {found.description}"),
        lines(about),
        table(["property", "values", "origins", "forms"], rows) if rows else "Nothing is held.",
        lines(after),
    )


def _thinned(curve: Curve) -> list[dict[str, Any]]:
    """Give the points of a curve, thinned evenly if there are many."""
    points = curve.rows()
    step = max(1, -(-len(points) // _MOST_ROWS))
    return [*points[::step], *(points[-1:] if (len(points) - 1) % step else [])]


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "extrapolated" if value else ""
    return number(value)


def curve_table(curve: Curve | None) -> str:
    """Write a curve as a table; the widest bounds stand in the JSON only."""
    if curve is None or not len(curve):
        return ""
    points = _thinned(curve)
    names = [name for name in points[0] if name not in _WIDEST]
    head = [words(name) for name in names]
    head[0] = unit_words(curve.temperature_unit)
    return table(head, [[_cell(point[name]) for name in names] for point in points])


def known(found: PropertyAnswer) -> str:
    """Write what is known of a property."""
    sentence = f"{found.material}, {words(found.property)}: {found.range or found.reason}"
    derivation = found.derivation
    evidence: list[tuple[str, object]] = [
        ("holds for", found.condition),
        ("published", found.observed),
        ("unverified", "recalled figures that nobody checked" if found.unverified else None),
    ]
    if derivation is not None:
        left_out = [f"{one.value}: {one.reason}" for one in derivation.left_out]
        evidence += [
            ("independent origins", derivation.origins),
            ("values used", ", ".join(one.value for one in derivation.used)),
            ("left out", "; ".join(left_out)),
        ]
    evidence += [
        *((f"otherwise {other.condition}", other.range) for other in found.others),
        ("sources", listed(found.citations)),
    ]
    return blocks(heading(sentence), curve_table(found.points or found.band), lines(evidence))


def decided_by(found: Survival) -> str:
    """Tell in a line what decides a survival answer."""
    event = found.limiting_event
    if event is None:
        return "; ".join(found.reasons)
    at = "" if event.temperature is None else f" at {event.temperature}"
    return f"{words(event.property)}{at}: {event.text}"


def survival(found: Survival) -> str:
    """Write one survival answer with its evidence."""
    melt = found.first_melt_possible_from
    about: list[tuple[str, object]] = [
        ("holds for", found.heading),
        ("decided by", decided_by(found)),
        ("use limit", found.limit),
        ("margin asked", found.margin_required),
        ("headroom left", found.headroom),
        ("melts at", found.melts_at),
        ("first melt possible from", None if melt is None else melt.temperature),
        *(("on the first heat", event) for event in found.first_heat),
        *(("because", reason) for reason in found.reasons if reason not in found.answer),
        ("independent origins", found.origins),
        ("sources", listed(found.citations)),
        *cautions(found.cautions),
        ("promises", found.promise),
    ]
    return blocks(heading(found.answer), lines(about))


def survivals(asked: Sequence[Question], found: Iterable[Survival | ProblemError]) -> str:
    """Write many survival answers, a line each, and what they do not promise."""
    unlike = len({_asked(question) for question in asked}) > 1
    rows: list[list[object]] = []
    promise = ""
    for question, one in zip(asked, found, strict=True):
        which: list[object] = [question.material, *([_asked(question)] if unlike else [])]
        if isinstance(one, ProblemError):
            rows.append([*which, "problem", None, None, one.detail])
            continue
        promise = one.promise
        rows.append([*which, one.outcome, one.limit, one.headroom, decided_by(one)])
    head = [*(["asked"] if unlike else []), "outcome", "use limit", "headroom", "decided by"]
    title = f"{len(asked)} questions" if unlike else _asked(asked[0])
    return blocks(heading(title), table(["material", *head], rows), lines([("promises", promise)]))


def _asked(question: Question) -> str:
    """Write what was asked of every material of a table."""
    temperature, margin = question.figures()
    partner = f" with {question.with_}" if question.with_ else " alone"
    place = {"face": ", seeing the fire", "behind": ", behind the hot face", None: ""}
    load = ", under load" if question.load else ""
    kept = "" if margin is None else f", {margin} to spare"
    return f"At {temperature}{partner}{place[question.place]}{load}{kept}"
