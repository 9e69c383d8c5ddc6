"""Several materials in one place of the wall: the question as a form, and the answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import orjson
from flask import Response, redirect, request
from sqlalchemy import Connection
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.catalogue.survival import DEFAULT_MARGIN, Question
from hotface_api.http.conditional import answer_text
from hotface_api.http.lookup import known_material
from hotface_api.site import comparing, questions, words
from hotface_api.site.forms import Form
from hotface_api.site.mixrows import filled_rows, row_count
from hotface_api.site.page import Page, open_page
from hotface_api.site.serving import Showing

__all__ = ["ask_compare", "compare_json", "show_compare"]

Shape = dict[str, Any]
_MOST: Final = 12
_FIRST_ROWS: Final = 4
_COLUMNS: Final = (
    "material",
    "place",
    "temperature",
    "temperature_unit",
    "outcome",
    "limit_low",
    "limit_high",
    "headroom",
    "headroom_unit",
    "decided_by",
    *(
        f"{what}{end}"
        for what in comparing.SHOWN
        if what != "service_limit"
        for end in ("_property", "_low", "", "_high", "_unit", "_origins")
    ),
)


def ask_compare(page: Page, _connection: Connection) -> Showing | BaseResponse:
    """Show the form; once it is filled in soundly, lead to the answer's own address."""
    form = Form.read(request.args)
    rows = filled_rows(form, "material")
    wants_more = form.text("add") or form.text("edit")
    if (rows or form.text("temperature")) and not wants_more:
        place = _address(page, form, rows)
        if place is not None:
            return redirect(place)
    count = row_count(form, "material", first=_FIRST_ROWS)
    return Showing(
        "ask_compare.html",
        {
            "form": form,
            "rows": range(1, count + 1),
            "count": count,
            "unit": questions.unit_typed(form, page),
            "names": page.asked.reference.materials,
        },
        status=422 if form.faults else 200,
    )


def _address(page: Page, form: Form, rows: Sequence[int]) -> str | None:
    """Give the answer's address, or None with every fault noted at its field."""
    if not rows:
        form.fault("material_1", "name the materials to compare")
    names = [form.material(f"material_{row}", page.asked.reference) for row in rows]
    unit = questions.unit_typed(form, page)
    degrees = form.temperature("temperature", unit, "give the temperature of the place")
    behind = form.temperature("behind", unit, "") if form.text("behind") else None
    place = form.text("place") if form.text("place") in questions.PLACES else None
    rest = questions.in_address(form, page)
    if form.faults:
        return None
    return page.to(
        "/compare/result",
        material=list(dict.fromkeys(names)),
        temperature=degrees,
        place=place,
        behind=None if place == "face" else behind,
        **rest,
    )


def _places() -> dict[str, float]:
    """Read the temperature at each place asked for: one place, or both."""
    place = questions.word_at("place", questions.PLACES)
    temperature = questions.temperature_at("temperature", None, "point")
    behind = temperature
    if request.args.get("behind"):
        behind = questions.temperature_at("behind", None, "point")
    if place == "face":
        return {"face": temperature}
    return {"behind": behind} if place == "behind" else {"face": temperature, "behind": behind}


def _asked(page: Page) -> dict[str, dict[str, Question]]:
    names = list(dict.fromkeys(name for name in request.args.getlist("material") if name))
    if not 1 <= len(names) <= _MOST:
        raise questions.odd("material", f"name between 1 and {_MOST} materials")
    for name in names:
        known_material(page.asked.reference, name, parameter="material")
    places = _places()
    return {
        name: {
            place: questions.question(page, name, kelvin, place) for place, kelvin in places.items()
        }
        for name in names
    }


def _decided_by(page: Page, answer: Mapping[str, Any]) -> str:
    """Tell in a line what decides a survival answer."""
    event = answer["limiting_event"]
    if event is None:
        return "; ".join(answer["reasons"])
    at = f", {words.span(event['temperature'])}" if event["temperature"] else ""
    return f"{page.property_name(event['property'])}{at}: {event['text']}"


def _opening(page: Page, found: Sequence[Shape]) -> str:
    """Say which materials fit where; names hold commas, so semicolons part them."""
    said = []
    taken: set[str] = set()
    for outcome, place, label in (
        ("yes", "face", "may face the fire"),
        ("yes", "behind", "may stand behind the hot face"),
        ("borderline", "face", "borderline at the hot face"),
        ("borderline", "behind", "borderline behind it"),
    ):
        names = [
            each["material"]
            for each in found
            if each["material"] not in taken
            and each["survival"].get(place, {}).get("outcome") == outcome
        ]
        taken.update(names)
        if names:
            said.append(f"{label}: {'; '.join(map(page.name, names))}")
    rest = [each for each in found if each["material"] not in taken]
    unknown = [each for each in rest if "unknown" in _outcomes(each)]
    for label, left in (
        ("not at this temperature", [each for each in rest if each not in unknown]),
        ("not known", unknown),
    ):
        if left:
            said.append(f"{label}: {'; '.join(page.name(each['material']) for each in left)}")
    return " ".join(f"{words.sentence_case(each)}." for each in said)


def _outcomes(found: Mapping[str, Any]) -> set[str]:
    return {each["outcome"] for each in found["survival"].values()}


def _flat(page: Page, found: Mapping[str, Any]) -> list[Shape]:
    rows = []
    for place, answer in found["survival"].items():
        limit, room = answer["limit"] or {}, answer["headroom"] or {}
        row = {
            "material": found["material"],
            "place": place,
            "temperature": answer["temperature"]["value"],
            "temperature_unit": answer["temperature"]["unit"],
            "outcome": answer["outcome"],
            "limit_low": limit.get("low"),
            "limit_high": limit.get("high"),
            "headroom": room.get("value"),
            "headroom_unit": room.get("unit"),
            "decided_by": _decided_by(page, answer),
        }
        for what, held in found["properties"].items():
            if held is not None:
                told = comparing.expected(held)
                row |= {f"{what}_{end}": told[end] for end in ("low", "high", "unit")}
                row |= {
                    what: told["typical"],
                    f"{what}_property": held["property"],
                    f"{what}_origins": (held["derivation"] or {}).get("origins"),
                }
        rows.append(row)
    return rows


def show_compare(page: Page, connection: Connection) -> Showing:
    """Show materials side by side, best suited first."""
    asked = _asked(page)
    found = comparing.compare(page, connection, asked)
    answers = [answer for each in found for answer in each["survival"].values()]
    cautions = {each["id"]: each for answer in answers for each in answer["cautions"]}
    return Showing(
        "compare.html",
        {
            "found": found,
            "sentence": _opening(page, found),
            "places": found[0]["survival"],
            "expected": comparing.expected,
            "decided_by": lambda answer: _decided_by(page, answer),
            "shown": [what for what in comparing.SHOWN if what != "service_limit"],
            "is_default_margin": answers[0]["margin_required"]
            == page.asked.output.quantity("difference", DEFAULT_MARGIN),
            "cautions": list(cautions.values()),
            "sources": list(dict.fromkeys(key for each in answers for key in each["citations"])),
            "back": _back(page, found),
        },
        columns=_COLUMNS,
        rows=[row for each in found for row in _flat(page, each)],
        json=page.here().replace("/compare/result", "/compare/result.json", 1),
        keep=False,
    )


def _back(page: Page, found: Sequence[Shape]) -> str:
    """Give the address of the form with this question filled in, to be changed."""
    places = found[0]["survival"]
    answers = list(places.values())
    first, last = answers[0], answers[-1]
    fields = {f"material_{row}": each["material"] for row, each in enumerate(found, start=1)}
    return page.to(
        "/compare",
        edit=1,
        **fields,
        temperature=round(first["temperature"]["value"], 1),
        unit=first["temperature"]["unit"],
        place=next(iter(places)) if len(places) == 1 else None,
        behind=round(last["temperature"]["value"], 1) if len(places) > 1 else None,
        load="true" if first["load"] else None,
        cycling=None if first["cycling"] else "false",
        **{"with": first["with"]},
    )


def compare_json() -> Response:
    """Give the answers put side by side, as ``/v1`` gives each; no figure is made here."""
    page = open_page()
    with page.reading() as connection:
        found = comparing.compare(page, connection, _asked(page))
    document = {"materials": found, **page.asked.envelope()}
    return answer_text(page.asked, orjson.dumps(document), keep=False)
