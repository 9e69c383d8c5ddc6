"""Answers as text for people: first the sentence, then the numbers, then the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from hotface import (
    Caution,
    Curve,
    Estimate,
    Material,
    MaterialSummary,
    NoAnswer,
    ProblemError,
    PropertyAnswer,
    Question,
    Survival,
)
from hotface_api.cli.tables import heading, lines, table

__all__ = ["estimate", "known", "material", "materials", "survival", "survivals"]

_MOST_ROWS: Final = 12
_WIDEST: Final = ("series_bound", "parallel_bound")
_SIGNS: Final = {"Cel": "°C", "[degF]": "°F"}


def _blocks(*parts: str) -> str:
    return "\n\n".join(part for part in parts if part)


def _words(name: str) -> str:
    return name.replace("_", " ")


def _cautions(found: Iterable[Caution]) -> list[tuple[str, object]]:
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
    return _blocks(table(["id", "kind", "name"], rows), f"{len(rows)} in all")


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
        *_cautions(found.cautions),
    ]
    return _blocks(
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
    return "-" if value is None else f"{value:.4g}"


def _curve(curve: Curve | None) -> str:
    """Write a curve as a table; the widest bounds stand in the JSON only."""
    if curve is None or not len(curve):
        return ""
    points = _thinned(curve)
    names = [name for name in points[0] if name not in _WIDEST]
    head = [_words(name) for name in names]
    head[0] = _SIGNS.get(curve.temperature_unit, curve.temperature_unit)
    return table(head, [[_cell(point[name]) for name in names] for point in points])


def known(found: PropertyAnswer) -> str:
    """Write what is known of a property."""
    sentence = f"{found.material}, {_words(found.property)}: {found.range or found.reason}"
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
        ("sources", ", ".join(found.citations)),
    ]
    return _blocks(heading(sentence), _curve(found.points or found.band), lines(evidence))


def _decided_by(found: Survival) -> str:
    event = found.limiting_event
    if event is None:
        return "; ".join(found.reasons)
    at = "" if event.temperature is None else f" at {event.temperature}"
    return f"{_words(event.property)}{at}: {event.text}"


def survival(found: Survival) -> str:
    """Write one survival answer with its evidence."""
    melt = found.first_melt_possible_from
    about: list[tuple[str, object]] = [
        ("holds for", found.heading),
        ("decided by", _decided_by(found)),
        ("use limit", found.limit),
        ("margin asked", found.margin_required),
        ("headroom left", found.headroom),
        ("melts at", found.melts_at),
        ("first melt possible from", None if melt is None else melt.temperature),
        *(("on the first heat", event) for event in found.first_heat),
        *(("because", reason) for reason in found.reasons if reason not in found.answer),
        ("independent origins", found.origins),
        ("sources", ", ".join(found.citations)),
        *_cautions(found.cautions),
        ("promises", found.promise),
    ]
    return _blocks(heading(found.answer), lines(about))


def survivals(asked: Sequence[Question], found: Iterable[Survival | ProblemError]) -> str:
    """Write many survival answers, a line each, and what they do not promise."""
    rows: list[list[object]] = []
    promise = ""
    for question, one in zip(asked, found, strict=True):
        if isinstance(one, ProblemError):
            rows.append([question.material, "problem", None, None, one.detail])
            continue
        promise = one.promise
        rows.append([one.material, one.outcome, one.limit, one.headroom, _decided_by(one)])
    head = ["material", "outcome", "use limit", "headroom", "decided by"]
    return _blocks(heading(_asked(asked[0])), table(head, rows), lines([("promises", promise)]))


def _asked(question: Question) -> str:
    """Write what was asked of every material of a table."""
    temperature, margin = question.figures()
    partner = f" with {question.with_}" if question.with_ else " alone"
    place = {"face": ", seeing the fire", "behind": ", behind the hot face", None: ""}
    load = ", under load" if question.load else ""
    kept = "" if margin is None else f", {margin} to spare"
    return f"At {temperature}{partner}{place[question.place]}{load}{kept}"


def _held(found: Estimate, name: str) -> str:
    """Give a property of an estimate, or why there is none."""
    value = found.get(name)
    return str(value) if value is not None else f"none: {found.reasons.get(name, 'not held')}"


def _conductivity(found: Estimate) -> str:
    try:
        curve = found.thermal_conductivity
    except NoAnswer as error:
        return str(error)
    return f"thermal conductivity, {curve.unit}\n{_curve(curve)}"


def estimate(found: Estimate) -> str:
    """Write an estimate."""
    state = found.state.get("kind", "")
    peak = found.state.get("temperature")
    sentence = f"{state}{'' if peak is None else f' at {peak}'}: {_held(found, 'bulk_density')}"
    others = [
        name for name in found.properties if name not in ("bulk_density", "thermal_conductivity")
    ]
    about: list[tuple[str, object]] = [(_words(name), _held(found, name)) for name in others]
    about += [(f"density, {name}", value) for name, value in found.densities.items()]
    about += [
        ("porosity", found.composition.porosity),
        ("yield", found.composition.yield_),
        ("like", None if found.closest_class is None else found.closest_class.get("text")),
    ]
    about += [("most doubt from", one) for one in found.doubt_shares[:3]]
    about += [("measured bodies near", one) for one in found.nearest_specimens[:3]]
    about += [("assumed", one.text) for one in found.assumptions]
    about += _cautions(found.cautions)
    about += [("sources", ", ".join(found.citations))]
    head = heading(f"{sentence} ({found.coverage:.0%} interval)")
    return _blocks(head, _conductivity(found), lines(about))
