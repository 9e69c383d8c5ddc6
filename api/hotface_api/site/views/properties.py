"""Properties: what each means; and what is known of one property of one material."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import request
from sqlalchemy import Connection

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.properties import Asked as Question
from hotface_api.catalogue.properties import answer_rows
from hotface_api.http import dumps, shapes
from hotface_api.http.lookup import known_material, known_property
from hotface_api.http.problems import Code, Problem
from hotface_api.site import charts, evidence
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing
from hotface_api.store import read
from hotface_api.store import vocabulary as vocabulary_

__all__ = ["list_properties", "show_answer", "show_property"]

Row = Mapping[str, Any]
_COLUMNS = ("id", "name", "unit", "unit_us", "group", "definition", "standard", "need")


def list_properties(page: Page, _connection: Connection) -> Showing:
    """List what is measured, with its definition."""
    rows = [shapes.property_(row) for row in page.asked.reference.properties.values()]
    grouped = {name: [row for row in rows if row["group"] == name] for name in vocabulary_.GROUPS}
    return Showing(
        "properties.html",
        {"grouped": {name: found for name, found in grouped.items() if found}},
        columns=_COLUMNS,
        rows=rows,
        json=page.to("/v1/properties", limit=200),
    )


def show_property(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Show what a property means, and of which materials it is held."""
    reference = page.asked.reference
    row = known_property(reference, id)
    having = sorted(read.having(connection, page.asked.revision, [id]))
    materials = [shapes.material(reference.materials[key]) for key in having]
    return Showing(
        "property.html",
        {"property": shapes.property_(row), "materials": materials},
        columns=("id", "name", "kind"),
        rows=materials,
        json=page.to(f"/v1/properties/{id}"),
    )


def _word(name: str, choices: tuple[str, ...]) -> str | None:
    found = request.args.get(name) or None
    if found is not None and found not in choices:
        detail = f"{found[:40]!r} is not one of {', '.join(choices)}"
        fault = {"detail": detail, "parameter": name}
        raise Problem(Code.INVALID_PARAMETER, detail, errors=[fault])
    return found


def _question(page: Page) -> Question:
    partner = request.args.get("with") or None
    if partner is not None:
        known_material(page.asked.reference, partner, parameter="with")
    return Question(
        form=_word("form", vocabulary_.FORMS),
        state=_word("state", vocabulary_.STATES),
        with_=partner,
    )


def show_answer(page: Page, connection: Connection, id: str, property: str) -> Showing:  # noqa: A002
    """Show what is known of a property of a material: number, figure, every value behind it."""
    reference = page.asked.reference
    material, row = known_material(reference, id), known_property(reference, property)
    question = _question(page)
    rows = material_rows(connection, reference, (id,), (property,))
    found = answer_rows(rows, reference, id, property, question)
    document = dumps.property_answer(page.asked, found)
    values = evidence.listed(page, rows, document["derivation"])
    varies = bool(row["varies_with_temperature"])
    figure = charts.property_figure(page, id, property, rows, document) if varies else None
    asked = {"form": question.form, "state": question.state, "with": question.with_}
    return Showing(
        "answer.html",
        {
            "material": shapes.material(material),
            "property": shapes.property_(row),
            "document": document,
            "values": values,
            "figure": figure,
            "asked": {name: word for name, word in asked.items() if word},
        },
        columns=evidence.COLUMNS,
        rows=evidence.flat(values),
        json=page.to(f"/v1/materials/{id}/properties/{property}", **asked),
    )
