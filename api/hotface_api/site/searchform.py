"""The form of a mix search: what was typed becomes what ``/v1/mix-searches`` takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from marshmallow import ValidationError

from hotface_api.catalogue.reference import Reference
from hotface_api.http.parameters import body_problem
from hotface_api.http.search_schemas import SearchBody, search_request
from hotface_api.mixes.request import MixError
from hotface_api.mixes.search import WISHES as _KNOWN
from hotface_api.mixes.search import SearchRequest
from hotface_api.site.forms import Form
from hotface_api.site.mixform import place_fault, read_state, read_temperatures
from hotface_api.site.mixrows import filled_rows, known_of, row_count
from hotface_api.site.mixwords import FIGURES, PARTS_BY, SIZES, TypedIn

__all__ = ["CANDIDATES", "RESULTS", "WISHES", "Searched", "note", "read_search", "retyped"]

Shape = dict[str, Any]
WISHES: Final[Mapping[str, str]] = {
    "conductivity": "conducts little",
    "density": "is light",
    "service_limit": "stands a high heat",
    "binder": "takes little binder",
}
RESULTS: Final = ("3", "5", "8", "12")
CANDIDATES: Final[Mapping[str, str]] = {
    "2000": "2000, quickly",
    "8000": "8000",
    "20000": "20 000, with care",
}
_HUNDRED: Final = 100.0
_FIRST_ROWS: Final = 4
_USUAL: Final = {"results": "5", "candidates": "8000"}
_ASKED_IN_US: Final = (68.0, 400.0, 800.0, 1200.0, 1600.0, 2000.0, 2400.0)
"""Temperatures answered a reader in US units, up to the firing."""
_PLACES: Final[Mapping[str, str]] = {
    "#/on_hand": "material_1",
    "#/mix/constituents": "material_1",
    "#/musts/service_limit_above": "limit_above",
    "#/musts/density_below": "density_below",
    "#/musts/conductivity_below": "conducts_below",
    "#/musts/conductivity_at": "conducts_at",
    "#/wishes": "wish_conductivity",
    "#/state/temperature": "fired_at",
    "#/state/moisture": "moisture",
    "#/water": "wet",
    "#/at": "conducts_at",
    "#/candidates": "candidates",
    "#/results": "results",
}
_CARRIED: Final = ("fill", "bucket_weighs", *FIGURES, *SIZES, "kept", "damp", "like")
"""Fields of a row that a mix found is asked again with."""
assert set(WISHES) == set(_KNOWN)  # noqa: S101 - every wish the search knows has its words


@dataclass(slots=True)
class Searched:
    """A search form that was sent: the request it makes, and the row each material stands in."""

    form: Form
    body: Shape = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    request: SearchRequest | None = None


def rows_shown(form: Form) -> int:
    """Give how many rows the form shows."""
    return row_count(form, "material", first=_FIRST_ROWS)


def wished(form: Form) -> tuple[str, ...]:
    """Give the wishes chosen; those usual where the form was not sent yet."""
    if not form.text("sent"):
        return SearchRequest(()).wishes
    return tuple(wish for wish in WISHES if form.text(f"wish_{wish}"))


def _share(form: Form, row: int) -> Shape:
    """Read the bounds of a share, in percent."""
    found = {}
    for name, end in (("least", "low"), ("most", "high")):
        if form.text(f"{name}_{row}"):
            given = form.figure(f"{name}_{row}", "")
            if given is not None and not 0 <= given <= _HUNDRED:
                form.fault(f"{name}_{row}", "a share lies between 0 and 100 %")
            found[end] = (given or 0.0) / _HUNDRED
    if found.get("low", 0.0) > found.get("high", 1.0):
        form.fault(f"least_{row}", "the least share is more than the most")
    return found


def _on_hand(form: Form, row: int, reference: Reference, units: TypedIn) -> Shape:
    share = _share(form, row)
    return known_of(form, row, reference, units) | ({"share": share} if share else {})


def _musts(form: Form, units: TypedIn) -> Shape:
    found: Shape = {}
    for name, must, unit in (
        ("limit_above", "service_limit_above", units.heat),
        ("density_below", "density_below", units.density),
        ("conducts_below", "conductivity_below", units.conductivity),
    ):
        if form.text(name):
            found[must] = form.amount(name, unit, "")
    if form.text("conducts_below"):
        found["conductivity_at"] = form.amount("conducts_at", units.heat, "say at which heat")
    if form.text("unproven"):
        found["allow_unproven"] = True
    return found


def _state(form: Form, units: TypedIn) -> Shape:
    """Read the state and the temperatures answered at, as the reader counts them."""
    found: Shape = {"state": read_state(form, units)}
    at = read_temperatures(form, units)
    if not at and units.heat != "Cel" and found["state"]["kind"] == "fired":
        top = (found["state"].get("temperature") or {"value": 1832.0})["value"]
        at = [{"value": each, "unit": units.heat} for each in _ASKED_IN_US if each <= top]
    return found | ({"at": at} if at else {})


def read_search(form: Form, reference: Reference, units: TypedIn) -> Searched:
    """Read a search form; it comes back sound, or with every fault noted at its field."""
    rows = filled_rows(form, "material")
    if not rows:
        form.fault("material_1", "name what you have, a binder and what it is to bind")
    wishes = wished(form)
    if not wishes:
        form.fault("wish_conductivity", "wish for one thing at least")
    by = form.text("shares_by")
    body: Shape = {
        "on_hand": [_on_hand(form, row, reference, units) for row in rows],
        "shares_by": by if by in PARTS_BY else "mass",
        "wishes": list(wishes),
        **_state(form, units),
    }
    musts = _musts(form, units)
    body |= {"musts": musts} if musts else {}
    if form.text("wet"):
        body["water"] = {"ratio_to_fines": form.figure("wet", "")}
    for name, choices in (("results", RESULTS), ("candidates", CANDIDATES)):
        given = form.text(name, _USUAL[name])
        body[name] = int(given if given in choices else _USUAL[name])
    asked = Searched(form, body, rows)
    if not form.faults:
        _load(asked)
    return asked


def _load(asked: Searched) -> None:
    """Read the request as ``/v1`` would, and lead its faults back to the fields."""
    try:
        asked.request = search_request(SearchBody().load(asked.body))
    except ValidationError as error:
        for fault in body_problem(error.messages).errors:
            place_fault(asked.form, asked.rows, fault["pointer"], fault["detail"], _PLACES)


def note(asked: Searched, error: MixError) -> None:
    """Note at its field what the search cannot work with."""
    place_fault(asked.form, asked.rows, error.pointer, error.message, _PLACES)


def retyped(asked: Searched, request: Mapping[str, Any], title: str) -> Shape:
    """Give the fields of the mix form that ask for a mix found, as they would be typed.

    Parameters
    ----------
    asked : Searched
    request : mapping
        The whole request of the mix, as the search gives it.
    title : str
        What it is called on its card.
    """
    held = {
        part["material"]: row for part, row in zip(asked.body["on_hand"], asked.rows, strict=True)
    }
    fields: Shape = {"title": title, "bucket": asked.form.text("bucket")}
    for number, part in enumerate(request["mix"]["constituents"], start=1):
        row = held[part["material"]]
        fields |= {
            f"material_{number}": part["material"],
            f"amount_{number}": _digits(part["amount"]["value"]),
            f"unit_{number}": "1",
        }
        fields |= {
            f"{name}_{number}": asked.form.text(f"{name}_{row}")
            for name in _CARRIED
            if asked.form.text(f"{name}_{row}")
        }
    state = request["state"]
    return fields | {
        "parts_by": request["mix"]["parts_by"],
        "water": _digits(request["mix"]["water"]["ratio_to_binder"]),
        "water_unit": "ratio",
        "state": state["kind"],
        "fired_at": _digits(state["temperature"]["value"]) if "temperature" in state else "",
        "moisture": asked.form.text("moisture"),
        "at": ", ".join(_digits(each["value"]) for each in request["at"]),
    }


def _digits(value: float) -> str:
    """Write a number so that reading it gives the same number."""
    return repr(int(value)) if float(value).is_integer() else repr(float(value))
