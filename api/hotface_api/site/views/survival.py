"""Does it survive: the question as a form, and the answer with what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import redirect, request
from sqlalchemy import Connection
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.catalogue.evidence import limit_rows
from hotface_api.catalogue.survival import DEFAULT_MARGIN, Question, survive
from hotface_api.http import dumps, shapes
from hotface_api.http.lookup import known_material
from hotface_api.site import evidence, ladder, questions
from hotface_api.site.forms import Form
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing
from hotface_api.store import read

__all__ = ["ask_survival", "show_survival"]

Row = Mapping[str, Any]
_MAX_VALUES: Final = 200


def ask_survival(page: Page, _connection: Connection) -> Showing | BaseResponse:
    """Show the form; once it is filled in soundly, lead to the answer's own address.

    ``edit`` shows a sound form too, to be changed.
    """
    form = Form.read(request.args)
    asked = bool(form.text("material") or form.text("temperature"))
    if asked:
        material = form.material("material", page.asked.reference)
        unit = questions.unit_typed(form, page)
        degrees = form.temperature("temperature", unit, "give the temperature of use")
        place = form.text("place") if form.text("place") in questions.PLACES else None
        query = {"place": place, **questions.in_address(form, page)}
        if not form.faults and not form.text("edit"):
            return redirect(
                page.to(f"/materials/{material}/survival", temperature=degrees, **query)
            )
    return Showing(
        "ask_survival.html",
        {
            "form": form,
            "unit": questions.unit_typed(form, page),
            "names": page.asked.reference.materials,
        },
        status=422 if form.faults else 200,
    )


def _opening(document: Mapping[str, Any]) -> str:
    """Give the sentence the answer opens with; the reasons it goes on with are listed."""
    text = str(document["answer"])
    for reason in document["reasons"]:
        text = text.partition(reason)[0]
    return text.partition(" It melts at ")[0].strip()


def _marks(steps: Sequence[ladder.Step], question: Question) -> int:
    """Count the steps that lie at or below the temperature asked about."""
    return sum(step.starts <= question.temperature for step in steps)


def show_survival(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Answer whether a material survives."""
    reference = page.asked.reference
    row = known_material(reference, id)
    temperature = questions.temperature_at("temperature", None, "point")
    question = questions.question(
        page, id, temperature, questions.word_at("place", questions.PLACES)
    )
    (found,) = survive(connection, reference, [question])
    document = dumps.survival(page.asked, found)
    wanted = read.ValueFilter(id=tuple(document["values"]) or ("",))
    values = read.values(connection, page.asked.revision, wanted, None, _MAX_VALUES)
    limits = set(ladder.limit_properties(reference.properties))
    own = [
        each
        for each in limit_rows(connection, reference, (id,))
        if each["material"] == id and each["property"] in limits
    ]
    steps = ladder.steps(page.asked, own)
    listed = evidence.listed(page, values)
    return Showing(
        "survival.html",
        {
            "material": shapes.material(row),
            "grades": [reference.materials[key] for key in sorted(reference.grades(id))],
            "document": document,
            "opening": _opening(document),
            "is_default_margin": question.margin == DEFAULT_MARGIN,
            "steps": steps,
            "reached": _marks(steps, question),
            "values": listed,
        },
        columns=evidence.COLUMNS,
        rows=evidence.flat(listed),
        json=page.here("/v1"),
    )
