"""What will my mix be: the form, the estimate, and the mixing card to print."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import orjson
from flask import Response, request
from sqlalchemy import Connection

from hotface_api.http import mix_dumps
from hotface_api.http.conditional import answer_text
from hotface_api.mixes.estimate import estimate
from hotface_api.mixes.request import MixError
from hotface_api.site import card, charts, mixform
from hotface_api.site.forms import Form
from hotface_api.site.mixform import Asked, TypedIn
from hotface_api.site.page import Page, open_page
from hotface_api.site.serving import Showing

__all__ = ["ask_mix", "mix_json", "show_card", "show_estimate"]

Shape = dict[str, Any]
_COLUMNS: Final = ("quantity", "temperature", "temperature_unit", "low", "typical", "high", "unit")


def _form(page: Page, form: Form, status: int = 200) -> Showing:
    count = mixform.row_count(form)
    return Showing(
        "ask_mix.html",
        {
            "form": form,
            "rows": range(1, count + 1),
            "count": count,
            "names": page.asked.reference.materials,
            "mixform": mixform,
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
    try:
        found = estimate(connection, page.asked.reference, asked.request)
    except MixError as error:
        mixform.note(asked, error)
        return None
    return mix_dumps.estimate(page.asked, found, asked.body["mix"])


def _point_rows(name: str, found: Mapping[str, Any] | None) -> list[Shape]:
    if found is None:
        return []
    return [
        {
            **{end: point[end] for end in ("low", "typical", "high")},
            "quantity": name,
            "temperature": point["temperature"]["value"],
            "temperature_unit": point["temperature"]["unit"],
            "unit": found["unit"],
        }
        for point in found["points"]
    ]


def _flat(document: Shape) -> list[Shape]:
    """Write an estimate as one long table."""
    made = document["composition"]
    rows = [{"quantity": name, **made[name]} for name in ("porosity", "yield", "water")]
    rows += [
        {"quantity": f"density_{name}", **found} for name, found in document["densities"].items()
    ]
    properties = document["properties"]
    rows.append({"quantity": "service_limit", **properties["service_limit"]})
    for name in ("thermal_conductivity", "specific_heat_capacity"):
        rows += _point_rows(name, properties[name])
    return rows


def _told_point(document: Shape) -> Shape:
    """Choose the temperature the opening sentence tells the conductivity at: the middle one."""
    points = document["properties"]["thermal_conductivity"]["points"]
    found: Shape = points[len(points) // 2]
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


def show_estimate(page: Page, connection: Connection) -> Showing:
    """Show what a mix will be, or the form again with the field that stands against it."""
    asked = _asked(page)
    document = _estimated(page, connection, asked)
    if document is None:
        return _form(page, asked.form, 422)
    return Showing(
        "estimate.html",
        {
            "document": document,
            "told": _told_point(document),
            "doubts": _doubts(page, document),
            "figure": charts.estimate_figure(page, document),
            "body": orjson.dumps(asked.body, option=orjson.OPT_INDENT_2).decode(),
            "state": mixform.STATES[document["state"]["kind"]],
        },
        columns=_COLUMNS,
        rows=_flat(document),
        json=page.here().replace("/mix/result", "/mix/estimate.json", 1),
        keep=False,
    )


def _typed_water(form: Form) -> str:
    unit = mixform.WATER_UNITS.get(form.text("water_unit"), mixform.WATER_UNITS["L"])
    return f"{form.text('water')} {unit}"


def show_card(page: Page, connection: Connection) -> Showing:
    """Show the mixing card of a mix, to print."""
    asked = _asked(page)
    document = _estimated(page, connection, asked)
    if document is None:
        return _form(page, asked.form, 422)
    parts = asked.body["mix"]["constituents"]
    shares = document["composition"]["constituents"]
    lines = [
        {
            "name": page.name(part["material"]),
            "typed": asked.form.text(f"amount_{row}"),
            "unit": mixform.UNITS.get(asked.form.text(f"unit_{row}"), mixform.UNITS["bucket"]),
            "fill": mixform.FILLS.get(part.get("fill", ""), ""),
            "share": share["mass_fraction"],
        }
        for part, row, share in zip(parts, asked.rows, shares, strict=True)
    ]
    materials = [part["material"] for part in parts]
    return Showing(
        "card.html",
        {
            "document": document,
            "lines": lines,
            "water": _typed_water(asked.form),
            "bucket": asked.form.text("bucket"),
            "units": TypedIn.of(page.asked.output),
            "steps": card.card_steps(connection, page.asked.reference, materials),
            "title": asked.form.text("title"),
            "back": page.here().replace("/mix/card", "/mix/result", 1),
        },
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
