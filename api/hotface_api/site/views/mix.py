"""What will my mix be: the form, the estimate, and the mixing card to print."""

from __future__ import annotations

from typing import Any, Final

import orjson
from flask import Response, request
from sqlalchemy import Connection

from hotface_api.http import mix_dumps
from hotface_api.http.conditional import answer_text
from hotface_api.http.rates import spend
from hotface_api.http.routes.estimates import check_data
from hotface_api.ledger.rates import WEIGHTS
from hotface_api.mixes.estimate import estimate
from hotface_api.mixes.request import MixError
from hotface_api.site import card, castings, mixcharts, mixform, mixtable, mixwords
from hotface_api.site.forms import Form
from hotface_api.site.mixform import Asked
from hotface_api.site.mixwords import TypedIn
from hotface_api.site.page import Page, open_page
from hotface_api.site.serving import Showing

__all__ = ["ask_mix", "mix_json", "show_card", "show_estimate"]

Shape = dict[str, Any]

_ALERTS: Final = (
    "above_limit",
    "hotter_than_fired",
    "dried_and_hot",
    "measured_outside_bounds",
    "measured_outside",
    "air_from_density",
    "crush_from_density",
    "water_short",
    "water_bleeds",
    "paste_short",
)
"""Codes of what is told beside the number, not only under what was taken for granted."""
_BILL: Final = ("part", "as_given", "measure", "dry_mass_low", "dry_mass", "dry_mass_high", "unit")


def _form(page: Page, form: Form, status: int = 200) -> Showing:
    count = mixform.rows_shown(form)
    return Showing(
        "ask_mix.html",
        {
            "form": form,
            "rows": range(1, count + 1),
            "count": count,
            "names": page.asked.reference.materials,
            "mixwords": mixwords,
            "units": TypedIn.of(page.asked.output),
        },
        status=status,
    )


def ask_mix(page: Page, _connection: Connection) -> Showing:
    """Show the form with what was typed so far; a row more if one was asked for."""
    return _form(page, Form.read(request.args))


def _asked(page: Page) -> Asked:
    units = TypedIn.of(page.asked.output)
    return mixform.read_mix(Form.read(request.args), page.asked.reference, units)


def _estimated(page: Page, connection: Connection, asked: Asked) -> Shape | None:
    """Estimate, or note at its field what stands against it."""
    if asked.request is None:
        return None
    check_data(page.asked)
    spend(WEIGHTS["estimate"] - WEIGHTS["read"])
    try:
        found = estimate(connection, page.asked.reference, asked.request)
    except MixError as error:
        mixform.note(asked, error)
        return None
    return mix_dumps.estimate(page.asked, found, asked.body["mix"])


def _told_point(document: Shape) -> Shape:
    """Choose the temperature the opening sentence tells the conductivity at.

    The middle one of a fired body; the coldest of another, which dries as it warms.
    """
    points = document["properties"]["thermal_conductivity"]["points"]
    is_fired = document["state"]["kind"] == "fired"
    found: Shape = points[len(points) // 2 if is_fired else 0]
    return found


def _doubts(page: Page, document: Shape) -> dict[str, list[Shape]]:
    """Name what the doubt in each output comes from, in words."""
    found: dict[str, list[Shape]] = {}
    for each in document["doubt_shares"]:
        subject, _, quantity = each["input"].partition(" ")
        name = {"mix": "the mix", "rule": "the rules"}.get(subject, page.name(subject))
        told = {**each, "subject": name, "quantity": page.name(quantity).replace("_", " ")}
        found.setdefault(each["output"], []).append(told)
    return found


def _alerts(document: Shape) -> list[Shape]:
    """Choose of what is said about the mix that which may overturn the answer, gravest first."""
    told = {each["code"]: each for each in document["assumptions"]}
    return [told[code] for code in _ALERTS if code in told]


def _next(page: Page, document: Shape) -> list[Shape]:
    """Choose what to measure next: for each output what its doubt comes from most.

    Where one measurement serves several outputs it is told once, with its share in each.
    """
    found: dict[str, Shape] = {}
    for output, listed in _doubts(page, document).items():
        most = max(listed, key=lambda each: float(each["share"]))
        told = found.setdefault(most["input"], {**most, "shares": []})
        told["shares"].append((page.property_name(output).lower(), most["share"]))
    return list(found.values())


def show_estimate(page: Page, connection: Connection) -> Showing:
    """Show what a mix will be, or the form again with the field that stands against it."""
    asked = _asked(page)
    document = _estimated(page, connection, asked)
    if document is None:
        return _form(page, asked.form, 422)
    body = orjson.dumps(asked.body, option=orjson.OPT_INDENT_2).decode()
    return Showing(
        "estimate.html",
        {
            "document": document,
            "told": _told_point(document),
            "doubts": _doubts(page, document),
            "alerts": _alerts(document),
            "next": _next(page, document),
            "figure": mixcharts.conductivity_figure(page, document, body),
            "body": body,
            "state": mixwords.STATES[document["state"]["kind"]],
            "lines": castings.lines(page, asked, document, TypedIn.of(page.asked.output)),
            "water": castings.water(asked, document),
        },
        columns=mixtable.COLUMNS,
        rows=mixtable.flat(document),
        json=page.here().replace("/mix/result", "/mix/estimate.json", 1),
        keep=False,
    )


def show_card(page: Page, connection: Connection) -> Showing:
    """Show the mixing card of a mix, to print."""
    asked = _asked(page)
    document = _estimated(page, connection, asked)
    if document is None:
        return _form(page, asked.form, 422)
    units = TypedIn.of(page.asked.output)
    parts = asked.body["mix"]["constituents"]
    materials = [part.get("like") or part["material"] for part in parts]
    drying = document["casting"]["drying"] if document["casting"] else None
    lines = castings.lines(page, asked, document, units)
    return Showing(
        "card.html",
        {
            "document": document,
            "card_lines": lines,
            "water": castings.water(asked, document),
            "bucket": asked.form.text("bucket"),
            "units": units,
            "card": card.made(connection, page.asked.reference, materials, drying),
            "title": asked.form.text("title"),
            "back": page.here().replace("/mix/card", "/mix/result", 1),
        },
        columns=_BILL,
        rows=castings.bill(asked, document, lines),
        json=page.here().replace("/mix/card", "/mix/estimate.json", 1),
        keep=False,
    )


def mix_json() -> Response:
    """Answer the form's own question as ``POST /v1/estimates`` would, for the page's data link."""
    page = open_page()
    with page.reading() as connection:
        asked = _asked(page)
        document = _estimated(page, connection, asked)
    if document is None:
        raise asked.form.problem()
    return answer_text(page.asked, orjson.dumps(document), keep=False)
