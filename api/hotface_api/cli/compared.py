"""Materials side by side, by their place in the wall."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from hotface import NoAnswer, ProblemError
from hotface_api.cli.answers import decided_by, unit_words, words
from hotface_api.cli.tables import blocks, heading, lines, listed, number, table, wrapped

if TYPE_CHECKING:
    from hotface import PropertyAnswer, Question, Survival
    from hotface_api.cli.place import Compared

__all__ = ["compared"]

_PLACES: Final = {"face": "seeing the fire", "behind": "behind the hot face"}
_FITTING: Final = (
    ("yes", "face", "may face the fire"),
    ("yes", "behind", "stands behind the hot face"),
    ("borderline", "face", "borderline at the face"),
    ("borderline", "behind", "borderline behind"),
)


def compared(found: Sequence[Compared], asked: Mapping[str, Question], at: str) -> str:
    """Write materials side by side: survival by place, then one table a property.

    Parameters
    ----------
    found : sequence of Compared
        In the order to show them.
    asked : mapping
        The question of any of them by place, for the heading.
    at : str
        The place whose temperature stands for what varies with it.
    """
    promises = [one.promise for each in found for one in _survived(each)]
    citations = dict.fromkeys(
        source for each in found for one in _answers(each) for source in one.citations
    )
    return blocks(
        heading(_sentence(asked)),
        lines(_where(found, list(asked))),
        _survivals(found, list(asked)),
        *(_property(found, name, str(asked[at].figures()[0])) for name in _labels(found)),
        lines([("sources", listed(citations)), ("promises", promises[0] if promises else None)]),
    )


def _survived(each: Compared) -> list[Survival]:
    """Give the survival answers of a material, without the problems."""
    return [one for one in each.survivals.values() if not isinstance(one, ProblemError)]


def _answers(each: Compared) -> list[Any]:
    """Give every answer of a material that cites something."""
    return [*_survived(each), *(one for one in each.properties.values() if one is not None)]


def _labels(found: Sequence[Compared]) -> list[str]:
    return list(dict.fromkeys(name for each in found for name in each.properties))


def _sentence(asked: Mapping[str, Question]) -> str:
    """Write what was asked of every material."""
    one = next(iter(asked.values()))
    partner = f" with {one.with_}" if one.with_ else ", each alone"
    load = ", under load" if one.load else ""
    cycling = ", heated again and again" if one.cycling else ""
    places = " and ".join(
        f"{question.figures()[0]} {_PLACES[place]}" for place, question in asked.items()
    )
    return f"At {places}{partner}{load}{cycling}"


def _where(found: Sequence[Compared], places: Sequence[str]) -> list[tuple[str, object]]:
    """Name for each place what fits there: a material in the first line that takes it."""
    taken: set[str] = set()
    told: list[tuple[str, object]] = []
    for outcome, place, label in _FITTING:
        if place not in places:
            continue
        names = [
            each.material
            for each in found
            if each.material not in taken
            and getattr(each.survivals[place], "outcome", None) == outcome
        ]
        taken.update(names)
        told.append((label, listed(names)))
    rest = [each for each in found if each.material not in taken]
    no = [each.material for each in rest if _outcomes(each) and "unknown" not in _outcomes(each)]
    unknown = [each.material for each in rest if "unknown" in _outcomes(each)]
    return [*told, ("not at this temperature", listed(no)), ("not known", listed(unknown))]


def _outcomes(each: Compared) -> list[str]:
    return [one.outcome for one in _survived(each)]


def _survivals(found: Sequence[Compared], places: Sequence[str]) -> str:
    """Write the survival of each at each place, and below it what decides."""
    rows: list[list[object]] = []
    decided: list[tuple[str, object]] = []
    for each in found:
        row: list[object] = [each.material]
        reasons: list[str] = []
        for place in places:
            one = each.survivals[place]
            if isinstance(one, ProblemError):
                row += ["problem", None]
                reasons.append(one.detail)
            else:
                row += [one.outcome, one.headroom]
                reasons.append(decided_by(one))
        rows.append(row)
        decided.append((each.material, _joined(places, reasons)))
    columns = [name for place in places for name in (place, "headroom")]
    return blocks(table(["material", *columns], rows), f"decided by\n{lines(decided)}")


def _joined(places: Sequence[str], reasons: Sequence[str]) -> str:
    if len(set(reasons)) == 1:
        return reasons[0]
    return "; ".join(f"{place}: {why}" for place, why in zip(places, reasons, strict=True) if why)


def _property(found: Sequence[Compared], name: str, at: str) -> str:
    """Write a property of all materials: what to expect, on how many origins, for what it holds."""
    rows = [
        _row(each.material, each.properties[name], name, at)
        for each in found
        if name in each.properties  # else there is no such material: the first table says it
    ]
    answers = [each.properties.get(name) for each in found]
    units = {one.unit for one in answers if one is not None}
    head = ["material", "low", "typical", "high", "origins", "holds for"]
    return f"{wrapped(words(name) + _in(units))}\n{table(head, rows)}"


def _in(units: set[str]) -> str:
    """Name the unit of a table; a property has one unit in every answer."""
    return f", {listed(unit_words(one) for one in sorted(units))}" if units - {"1"} else ""


def _row(material: str, answer: PropertyAnswer | None, name: str, at: str) -> list[object]:
    """Write what is known of one material, or why nothing is."""
    if answer is None:
        return [material, None, None, None, None, "nothing is held"]
    origins = None if answer.derivation is None else answer.derivation.origins
    try:
        expected = answer.at_point() if answer.points is not None else answer.expected
    except NoAnswer as error:
        reason = str(error).partition(": ")[2] or str(error)
        return [material, None, None, None, origins, reason]
    figures = (number(one) for one in expected.magnitudes)
    return [material, *figures, origins, _holds_for(answer, name, at)]


def _holds_for(answer: PropertyAnswer, name: str, at: str) -> str:
    """Write what a figure holds for, its temperature first: it may not be the one asked for."""
    held = answer.condition
    stands = at if answer.points is not None else None if held is None else held.temperature
    said = [
        None if stands is None else f"at {stands}",
        None if answer.property == name else words(answer.property),
        None if held is None else str(replace(held, temperature=None)),
        "recalled figures that nobody checked" if answer.unverified else None,
    ]
    return "; ".join(one for one in said if one)
