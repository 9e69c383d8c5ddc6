"""Materials side by side by their place in the wall: the facts the page shows, as ``/v1`` has them.

Which properties are shown, what stands for each and who comes first is what ``hotface compare``
does too; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.holdings import holdings
from hotface_api.catalogue.properties import Asked, answer_rows
from hotface_api.catalogue.survival import Question, survive
from hotface_api.http import dumps
from hotface_api.site.page import Page

__all__ = ["SHOWN", "compare", "expected"]

Shape = dict[str, Any]
SHOWN: Final[Mapping[str, tuple[str, ...]]] = {
    "service_limit": ("service_limit",),
    "thermal_conductivity": ("thermal_conductivity",),
    "density": ("bulk_density", "particle_density", "loose_bulk_density", "true_density"),
    "thermal_expansion": ("mean_expansion_coefficient", "thermal_strain"),
}
"""What is compared; the first property held of those that stand for it is shown."""
_OUTCOMES: Final = ("yes", "borderline", "unknown", "no")


def compare(
    page: Page,
    connection: Connection,
    questions: Mapping[str, Mapping[str, Question]],
) -> list[Shape]:
    """Answer for several materials, best suited first.

    Parameters
    ----------
    page : Page
    connection : Connection
    questions : mapping
        By material, one question a place; what varies with temperature is answered at the
        temperature of the last.

    Returns
    -------
    list of dict
        ``{"material", "survival": {place: answer}, "properties": {what: answer or None}}``.
    """
    every = [each for places in questions.values() for each in places.values()]
    answers = iter(survive(connection, page.asked.reference, every))
    properties = _properties(page, connection, questions)
    found = [
        {
            "material": material,
            "survival": {place: dumps.survival(page.asked, next(answers)) for place in places},
            "properties": properties[material],
        }
        for material, places in questions.items()
    ]
    return sorted(found, key=_rank)


def _rank(found: Mapping[str, Any]) -> tuple[float, ...]:
    """Give the order: what stands at the face first, then behind; the more headroom first."""
    answers = found["survival"].values()
    outcomes = [float(_OUTCOMES.index(each["outcome"])) for each in answers]
    room = [-each["headroom"]["value"] if each["headroom"] else 0.0 for each in answers]
    return (*outcomes, *room)


def _properties(
    page: Page, connection: Connection, questions: Mapping[str, Mapping[str, Question]]
) -> dict[str, Shape]:
    """Answer each property that is held; what varies with temperature, at the temperature."""
    reference = page.asked.reference
    names = tuple(dict.fromkeys(name for stands in SHOWN.values() for name in stands))
    known = tuple(name for name in names if name in reference.properties)
    rows = material_rows(connection, reference, tuple(questions), known)
    held = {
        each.material: {one.property: one for one in each.held}
        for each in holdings(connection, reference, tuple(questions))
    }
    found: dict[str, Shape] = {}
    for material, places in questions.items():
        own = held.get(material, {})
        at = list(places.values())[-1].temperature
        found[material] = {}
        for what, stands in SHOWN.items():
            name = next((one for one in stands if one in own), None)
            found[material][what] = None
            if name is not None:
                these = [
                    row for row in rows if row["property"] == name and row["material"] == material
                ]
                asked = Asked(at=(at,)) if own[name].curve else Asked()
                answer = answer_rows(these, reference, material, name, asked)
                found[material][what] = dumps.property_answer(page.asked, answer)
    return found


def expected(answer: Mapping[str, Any]) -> Shape:
    """Give what to expect of a property: at the temperature, else as a whole; or why nothing.

    Returns
    -------
    dict
        ``low``, ``typical``, ``high``, ``unit`` (None where there is no number), ``at`` and
        ``reason``.
    """
    given: Sequence[Shape] = answer["points"] or ()
    told: Mapping[str, Any] = given[0] if given else (answer["range"] or {})
    return {
        **{end: told.get(end) for end in ("low", "typical", "high")},
        "unit": answer["unit"],
        "at": given[0]["temperature"] if given else None,
        "reason": (given[0]["reason"] if given else None) or answer["reason"],
    }
