"""Survival questions of pages: typed into a form, and read from an answer's own address."""

from __future__ import annotations

from typing import Final

from flask import request

from hotface.units import UnitError
from hotface_api.catalogue.survival import DEFAULT_MARGIN, Question
from hotface_api.http.lookup import known_material
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import Temperature, read_quantity, with_hint
from hotface_api.site.forms import Form
from hotface_api.site.page import Page

__all__ = [
    "PLACES",
    "in_address",
    "margin_typed",
    "odd",
    "partner_typed",
    "question",
    "temperature_at",
    "unit_typed",
    "word_at",
]

PLACES: Final = ("face", "behind")
_FLAGS: Final = ("true", "false")
_UNITS: Final = ("Cel", "[degF]")


def unit_typed(form: Form, page: Page) -> str:
    """Give the unit of temperature chosen, or the reader's own."""
    given = form.text("unit")
    return given if given in _UNITS else page.asked.output.unit("temperature").code


def partner_typed(form: Form, page: Page) -> str | None:
    """Read the binder or partner, if one was typed."""
    return form.material("with", page.asked.reference) if form.text("with") else None


def margin_typed(form: Form, page: Page) -> str | None:
    """Read a margin in kelvin, or degrees Fahrenheit for a reader in US units."""
    if not form.text("margin"):
        return None
    unit = page.asked.output.unit("difference").code
    given = form.amount("margin", unit, "")
    if given is not None and given["value"] < 0:
        form.fault("margin", "a margin is not below zero")
    return None if given is None else f"{given['value']:g} {unit}"


def in_address(form: Form, page: Page) -> dict[str, str | None]:
    """Write what was typed beside material, place and temperature as an answer's address has it."""
    return {
        "with": partner_typed(form, page),
        "load": "true" if form.text("load") == "true" else None,
        "cycling": "false" if form.text("cycling") == "false" else None,
        "margin": margin_typed(form, page),
    }


def odd(name: str, detail: str) -> Problem:
    """Make the problem of a parameter that cannot be used."""
    fault = {"detail": detail, "parameter": name}
    return Problem(Code.INVALID_PARAMETER, f"{name}: {detail}", errors=[fault])


def temperature_at(name: str, default: str | None, kind: Temperature) -> float:
    """Read a temperature from the address, in kelvin."""
    text = request.args.get(name) or default
    if text is None:
        raise odd(name, "is missing; write it like 1050 Cel")
    try:
        number, _ = read_quantity(text, "temperature", temperature=kind)
    except UnitError as error:
        raise odd(name, with_hint(error)) from error
    return number


def word_at(name: str, choices: tuple[str, ...]) -> str | None:
    """Read a word of a closed list from the address."""
    found = request.args.get(name) or None
    if found is not None and found not in choices:
        raise odd(name, f"is one of {', '.join(choices)}")
    return found


def question(page: Page, material: str, temperature: float, place: str | None) -> Question:
    """Read the rest of a survival question from the address."""
    partner = request.args.get("with") or None
    if partner is not None:
        known_material(page.asked.reference, partner, parameter="with")
    margin = temperature_at("margin", f"{DEFAULT_MARGIN:g} K", "difference")
    if margin < 0:
        raise odd("margin", "must be at least 0")
    return Question(
        material=material,
        temperature=temperature,
        with_=partner,
        place=place,  # type: ignore[arg-type]
        load=word_at("load", _FLAGS) == "true",
        cycling=word_at("cycling", _FLAGS) != "false",
        margin=margin,
    )
