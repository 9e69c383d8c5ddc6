"""Does it survive: the question as a form, and the answer with what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import redirect, request
from sqlalchemy import Connection
from werkzeug.wrappers import Response as BaseResponse

from hotface.units import UnitError
from hotface_api.catalogue.evidence import limit_rows
from hotface_api.catalogue.survival import DEFAULT_MARGIN, Question, survive
from hotface_api.http import dumps, shapes
from hotface_api.http.lookup import known_material
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import Temperature, read_quantity, with_hint
from hotface_api.site import evidence, ladder
from hotface_api.site.forms import Form
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing
from hotface_api.store import read

__all__ = ["ask_survival", "show_survival"]

Row = Mapping[str, Any]
_PLACES: Final = ("face", "behind")
_FLAGS: Final = ("true", "false")
_UNITS: Final = ("Cel", "[degF]")
_MAX_VALUES: Final = 200


def _unit(form: Form, page: Page) -> str:
    given = form.text("unit")
    return given if given in _UNITS else page.asked.output.unit("temperature").code


def _partner(form: Form, page: Page) -> str | None:
    return form.material("with", page.asked.reference) if form.text("with") else None


def _margin(form: Form, page: Page) -> str | None:
    """Read a margin in kelvin, or degrees Fahrenheit for a reader in US units."""
    if not form.text("margin"):
        return None
    unit = page.asked.output.unit("difference").code
    given = form.amount("margin", unit, "")
    if given is not None and given["value"] < 0:
        form.fault("margin", "a margin is not below zero")
    return None if given is None else f"{given['value']:g} {unit}"


def ask_survival(page: Page, _connection: Connection) -> Showing | BaseResponse:
    """Show the form; once it is filled in soundly, lead to the answer's own address.

    ``edit`` shows a sound form too, to be changed.
    """
    form = Form.read(request.args)
    asked = bool(form.text("material") or form.text("temperature"))
    if asked:
        material = form.material("material", page.asked.reference)
        unit = _unit(form, page)
        degrees = form.temperature("temperature", unit, "give the temperature of use")
        query = {
            "with": _partner(form, page),
            "place": form.text("place") if form.text("place") in _PLACES else None,
            "load": "true" if form.text("load") == "true" else None,
            "cycling": "false" if form.text("cycling") == "false" else None,
            "margin": _margin(form, page),
        }
        if not form.faults and not form.text("edit"):
            place = page.to(f"/materials/{material}/survival", temperature=degrees, **query)
            return redirect(place)
    return Showing(
        "ask_survival.html",
        {"form": form, "unit": _unit(form, page), "names": page.asked.reference.materials},
        status=422 if form.faults else 200,
    )


def _odd(name: str, detail: str) -> Problem:
    fault = {"detail": detail, "parameter": name}
    return Problem(Code.INVALID_PARAMETER, f"{name}: {detail}", errors=[fault])


def _read(name: str, default: str | None, kind: Temperature) -> float:
    text = request.args.get(name) or default
    if text is None:
        raise _odd(name, "is missing; write it like 1050 Cel")
    try:
        number, _ = read_quantity(text, "temperature", temperature=kind)
    except UnitError as error:
        raise _odd(name, with_hint(error)) from error
    return number


def _word(name: str, choices: tuple[str, ...]) -> str | None:
    found = request.args.get(name) or None
    if found is not None and found not in choices:
        raise _odd(name, f"is one of {', '.join(choices)}")
    return found


def _question(page: Page, material: str) -> Question:
    partner = request.args.get("with") or None
    if partner is not None:
        known_material(page.asked.reference, partner, parameter="with")
    margin = _read("margin", f"{DEFAULT_MARGIN:g} K", "difference")
    if margin < 0:
        raise _odd("margin", "must be at least 0")
    return Question(
        material=material,
        temperature=_read("temperature", None, "point"),
        with_=partner,
        place=_word("place", _PLACES),  # type: ignore[arg-type]
        load=_word("load", _FLAGS) == "true",
        cycling=_word("cycling", _FLAGS) != "false",
        margin=margin,
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
    question = _question(page, id)
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
