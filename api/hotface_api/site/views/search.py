"""Mixes worth trying: what is on hand as a form, and the few that no other beats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import orjson
from flask import Response, request
from sqlalchemy import Connection

from hotface_api.http import search_dumps
from hotface_api.http.conditional import answer_text
from hotface_api.http.rates import spend
from hotface_api.http.routes.estimates import check_data
from hotface_api.http.routes.mix_searches import check_size
from hotface_api.ledger.rates import WEIGHTS
from hotface_api.mixes.request import MixError
from hotface_api.mixes.search import search
from hotface_api.site import mixcharts, mixwords, searchform, words
from hotface_api.site.forms import Form
from hotface_api.site.mixwords import TypedIn
from hotface_api.site.page import Page, open_page
from hotface_api.site.searchform import Searched
from hotface_api.site.serving import Showing

__all__ = ["ask_search", "search_json", "show_search"]

Shape = dict[str, Any]
_LETTERS: Final = "ABCDEFGHIJKL"
_COLUMNS: Final = (
    "mix",
    "constituents",
    "water_to_binder",
    "bulk_density_low",
    "bulk_density",
    "bulk_density_high",
    "bulk_density_unit",
    "conductivity_temperature",
    "conductivity_temperature_unit",
    "conductivity_low",
    "conductivity",
    "conductivity_high",
    "conductivity_unit",
    "service_limit_low",
    "service_limit_high",
    "service_limit_unit",
    "limited_by",
)


def _form(page: Page, form: Form, status: int = 200) -> Showing:
    count = searchform.rows_shown(form)
    return Showing(
        "ask_search.html",
        {
            "form": form,
            "rows": range(1, count + 1),
            "count": count,
            "names": page.asked.reference.materials,
            "mixwords": mixwords,
            "choices": searchform,
            "wished": searchform.wished(form),
            "units": TypedIn.of(page.asked.output),
        },
        status=status,
    )


def ask_search(page: Page, _connection: Connection) -> Showing:
    """Show the form with what was typed so far; a row more if one was asked for."""
    return _form(page, Form.read(request.args))


def _asked(page: Page) -> Searched:
    units = TypedIn.of(page.asked.output)
    return searchform.read_search(Form.read(request.args), page.asked.reference, units)


def _found(page: Page, connection: Connection, asked: Searched) -> Shape | None:
    """Search, or note at its field what stands against it."""
    if asked.request is None:
        return None
    check_data(page.asked)
    check_size(asked.request.candidates)
    spend(WEIGHTS["search"] - WEIGHTS["read"])
    try:
        result = search(connection, page.asked.reference, asked.request)
    except MixError as error:
        searchform.note(asked, error)
        return None
    return search_dumps.search(page.asked, asked.body, asked.request, result)


def _point(asked: Searched, document: Shape) -> Shape:
    """Give the conductivity at the heat of the must, or where the search weighed: the coldest."""
    points: Sequence[Shape] = document["properties"]["thermal_conductivity"]["points"]
    wanted = asked.body.get("musts", {}).get("conductivity_at")
    if wanted is None:
        return points[0]
    return min(points, key=lambda each: abs(each["temperature"]["value"] - wanted["value"]))


def _shares(page: Page, document: Shape) -> list[Shape]:
    """Name the parts of a mix with what each makes up of it."""
    made = document["composition"]["constituents"]
    return [
        {
            "name": page.name(part["material"]),
            "share": part["amount"]["value"],
            "mass": share["mass_fraction"],
        }
        for part, share in zip(document["mix"]["constituents"], made, strict=True)
    ]


def _line(page: Page, asked: Searched, place: int, found: Mapping[str, Any]) -> Shape:
    """Write one mix of the result."""
    label, document = _LETTERS[place], found["estimate"]
    fields = searchform.retyped(asked, found["request"], f"Mix {label}")
    curve = document["properties"]["thermal_conductivity"]
    return {
        "label": label,
        "parts": _shares(page, document),
        "water": found["mix"]["water"]["ratio_to_binder"],
        "density": document["properties"]["bulk_density"],
        "point": _point(asked, document),
        "conductivity_unit": curve["unit"],
        "limit": document["properties"]["service_limit"],
        "reasons": document["reasons"],
        "to": page.to("/mix/result", **fields),
    }


def _spot(line: Shape) -> mixcharts.Spot:
    conducts = {**line["point"], "unit": line["conductivity_unit"]}
    return mixcharts.Spot(line["label"], line["density"], conducts, line["to"])


def _flat(line: Shape) -> Shape:
    density, point, limit = line["density"], line["point"], line["limit"]
    return {
        "mix": line["label"],
        "constituents": "; ".join(
            f"{part['name']} {words.number(part['share'] * 100)} %" for part in line["parts"]
        ),
        "water_to_binder": line["water"],
        "bulk_density_low": density["low"],
        "bulk_density": density["typical"],
        "bulk_density_high": density["high"],
        "bulk_density_unit": density["unit"],
        "conductivity_temperature": point["temperature"]["value"],
        "conductivity_temperature_unit": point["temperature"]["unit"],
        "conductivity_low": point["low"],
        "conductivity": point["typical"],
        "conductivity_high": point["high"],
        "conductivity_unit": line["conductivity_unit"],
        "service_limit_low": limit["low"],
        "service_limit_high": limit["high"],
        "service_limit_unit": limit["unit"],
        "limited_by": limit["limited_by"],
    }


def show_search(page: Page, connection: Connection) -> Showing:
    """Show the mixes worth trying, or the form again with the field that stands against it."""
    asked = _asked(page)
    document = _found(page, connection, asked)
    if document is None:
        return _form(page, asked.form, 422)
    lines = [_line(page, asked, place, each) for place, each in enumerate(document["mixes"])]
    body = orjson.dumps(asked.body, option=orjson.OPT_INDENT_2).decode()
    figure = None
    if lines:
        at = words.quantity(lines[0]["point"]["temperature"])
        figure = mixcharts.field_figure(page, [_spot(line) for line in lines], at, body)
    return Showing(
        "search.html",
        {
            "document": document,
            "lines": lines,
            "figure": figure,
            "body": body,
            "wished": [searchform.WISHES[wish] for wish in asked.body["wishes"]],
            "shares_by": mixwords.PARTS_BY[asked.body["shares_by"]],
            "back": page.here().replace("/mix-search/result", "/mix-search", 1),
        },
        columns=_COLUMNS,
        rows=[_flat(line) for line in lines],
        json=page.here().replace("/mix-search/result", "/mix-search/result.json", 1),
        keep=False,
    )


def search_json() -> Response:
    """Answer the form's own search as ``POST /v1/mix-searches`` would, for the page's data link."""
    page = open_page()
    with page.reading() as connection:
        asked = _asked(page)
        document = _found(page, connection, asked)
    if document is None:
        raise asked.form.problem()
    return answer_text(page.asked, orjson.dumps(document), keep=False)
