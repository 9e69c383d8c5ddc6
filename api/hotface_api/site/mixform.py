"""The mix form: what was typed becomes the request ``/v1/estimates`` takes, and faults come back.

Rows left empty are passed over, so the row a fault is shown at is not the place it has in the
request; ``Asked.rows`` leads back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from marshmallow import ValidationError

from hotface_api.catalogue.reference import Reference
from hotface_api.http.mix_schemas import EstimateRequestSchema, estimate_request
from hotface_api.http.parameters import body_problem
from hotface_api.mixes.request import EstimateRequest, MixError
from hotface_api.site.forms import Form
from hotface_api.site.mixrows import amount, filled_rows, known_of, row_count
from hotface_api.site.mixwords import (
    COVERAGES,
    MEASURED_IN,
    MOULD_UNITS,
    OPTIONS,
    PARTS_BY,
    STATES,
    WATER_UNITS,
    TypedIn,
)

__all__ = [
    "Asked",
    "note",
    "place_fault",
    "read_mix",
    "read_state",
    "read_temperatures",
    "rows_shown",
]

_HUNDRED: Final = 100.0
_MOST_TEMPERATURES: Final = 50
_ROW_FIELDS: Final = ("material", "amount")
_FIRST: Final = "material_1"
"""Where a fault of the whole list is shown: at the first row filled in."""
_PLACES: Final[Mapping[str, str]] = {
    "#/mix/water": "water",
    "#/mix/parts_by": "parts_by",
    "#/mix/constituents": _FIRST,
    "#/state/temperature": "fired_at",
    "#/state/moisture": "moisture",
    "#/measured/bulk_density": "weighed",
    "#/measured/densities": "weighed",
    "#/measured/thermal_conductivity": "conducts",
    "#/measured/thermal_conductivity_at": "conducts_at",
    "#/mould/volume": "mould",
    "#/mould/spare": "spare",
    "#/mould/thickness": "thick",
    "#/mould": "mould",
    "#/rule_options": "rule",
    "#/rule": "rule",
    "#/at": "at",
    "#/coverage": "coverage",
    "#/seed": "seed",
}
_IN_ROW_NAMES: Final = {
    "bucket": "bucket_weighs",
    "crush_factor": "kept",
    "moisture": "damp",
    "kind": "like",
    "share": "least",
}
_IN_ROW: Final = re.compile(
    r"#/(?:mix/constituents|on_hand)/(\d+)"
    r"/(material|amount|bucket|crush_factor|grain_size|pore_size|moisture|like|kind|share|properties/(\w+))"
)
_BETWEEN: Final = re.compile(r"[;,\s]+")


@dataclass(slots=True)
class Asked:
    """A mix form that was sent: the request it makes, and the row each constituent stands in."""

    form: Form
    body: dict[str, Any] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    request: EstimateRequest | None = None


def rows_shown(form: Form) -> int:
    """Give how many rows the form shows."""
    return row_count(form, *_ROW_FIELDS)


def _constituent(form: Form, row: int, reference: Reference, units: TypedIn) -> dict[str, Any]:
    known = known_of(form, row, reference, units)
    return {"material": known.pop("material"), "amount": amount(form, row, units), **known}


def _water(form: Form) -> dict[str, Any] | None:
    unit = form.text("water_unit")
    unit = unit if unit in WATER_UNITS else "L"
    missing = "give the water: a mix needs some"
    if unit == "ratio":
        ratio = form.figure("water", missing)
        return None if ratio is None else {"ratio_to_binder": ratio}
    return form.amount("water", unit, missing)


def read_state(form: Form, units: TypedIn) -> dict[str, Any]:
    """Read the state the piece is asked about in."""
    kind = form.text("state", "fired")
    state: dict[str, Any] = {"kind": kind if kind in STATES else "fired"}
    if state["kind"] == "fired" and form.text("fired_at"):
        given = form.amount("fired_at", units.heat, "")
        if given is not None:
            state["temperature"] = given
    if state["kind"] in ("air-dry", "demoulded", "fresh") and form.text("moisture"):
        given = form.amount("moisture", "%", "")
        if given is not None:
            state["moisture"] = given
    return state


def _measured(form: Form, units: TypedIn) -> dict[str, Any]:
    """Read what was measured on the piece: its density in some state, its conductivity."""
    found: dict[str, Any] = {}
    if form.text("weighed"):
        given = form.amount("weighed", units.density, "")
        state = form.text("weighed_when")
        asked = form.text("state", "fired")
        if state in MEASURED_IN and state not in ("", asked):
            found["densities"] = {state: given}
        else:
            found["bulk_density"] = given
    if form.text("conducts"):
        given = form.amount("conducts", units.conductivity, "")
        at = form.amount("conducts_at", units.heat, "say at which temperature it was measured")
        found["thermal_conductivity"] = {**(given or {}), "temperature": at}
    return found


def _mould(form: Form, units: TypedIn) -> dict[str, Any]:
    """Read the mould to fill, and what to mix beyond it for what stays in the bucket."""
    if not form.text("mould"):
        return {}
    unit = form.text("mould_unit", units.mould)
    volume = form.amount("mould", unit if unit in MOULD_UNITS else units.mould, "")
    found: dict[str, Any] = {"volume": volume}
    if form.text("spare"):
        spare = form.figure("spare", "")
        found |= {} if spare is None else {"spare": spare / _HUNDRED}
    if form.text("thick"):
        found["thickness"] = form.amount("thick", units.size, "")
    return found


def read_temperatures(form: Form, units: TypedIn) -> list[dict[str, Any]]:
    """Read the temperatures asked for, set apart by blanks, commas or semicolons."""
    words = [word for word in _BETWEEN.split(form.text("at")) if word]
    if len(words) > _MOST_TEMPERATURES:
        form.fault("at", f"at most {_MOST_TEMPERATURES} temperatures")
        return []
    found = []
    for word in words:
        given = Form({"at": word})
        each = given.amount("at", units.heat, "")
        if each is None:
            form.fault("at", f"{word!r} is no number; write them like 20, 200, 600")
            return []
        found.append(each)
    return found


def _engineers(form: Form, units: TypedIn) -> dict[str, Any]:
    """Read what an engineer may ask beyond the builder's questions."""
    found: dict[str, Any] = {}
    rule = form.text("rule")
    if rule:
        found["rule"] = rule
        options = {name: form.figure(name, "") for name in OPTIONS.get(rule, ()) if form.text(name)}
        if options:
            found["rule_options"] = options
    at = read_temperatures(form, units)
    if at:
        found["at"] = at
    if form.text("coverage") in COVERAGES:
        found["coverage"] = float(form.text("coverage"))
    if form.text("seed"):
        seed = form.figure("seed", "")
        found |= {} if seed is None else {"seed": int(seed) if seed.is_integer() else seed}
    return found


def read_mix(form: Form, reference: Reference, units: TypedIn) -> Asked:
    """Read a mix form.

    Parameters
    ----------
    form : Form
    reference : Reference
    units : TypedIn
        What the figures without a unit of their own were typed in.

    Returns
    -------
    Asked
        Sound, or with every fault noted at its field.
    """
    rows = filled_rows(form, *_ROW_FIELDS)
    if not rows:
        form.fault("material_1", "name at least one constituent")
    mix: dict[str, Any] = {
        "constituents": [_constituent(form, row, reference, units) for row in rows],
        "water": _water(form),
    }
    if any(form.text(f"unit_{row}") == "1" for row in rows):
        by = form.text("parts_by")
        mix["parts_by"] = by if by in PARTS_BY else "mass"
    body: dict[str, Any] = {"mix": mix, "state": read_state(form, units)}
    for name, found in (("measured", _measured(form, units)), ("mould", _mould(form, units))):
        body |= {name: found} if found else {}
    asked = Asked(form, body | _engineers(form, units), rows)
    if not form.faults:
        _load(asked)
    return asked


def _load(asked: Asked) -> None:
    """Read the request as ``/v1`` would, and lead its faults back to the fields."""
    try:
        asked.request = estimate_request(EstimateRequestSchema().load(asked.body))
    except ValidationError as error:
        for fault in body_problem(error.messages).errors:
            place_fault(asked.form, asked.rows, fault["pointer"], fault["detail"])


def note(asked: Asked, error: MixError) -> None:
    """Note at its field what the estimator cannot work with."""
    place_fault(asked.form, asked.rows, error.pointer, error.message)


def place_fault(
    form: Form,
    rows: list[int],
    pointer: str,
    detail: str,
    places: Mapping[str, str] = _PLACES,
) -> None:
    """Note at its field what stands against a request: ``pointer`` says where in it."""
    detail = detail.replace("give your own under properties", "give your own figure")
    found = _IN_ROW.match(pointer)
    if found is not None and int(found[1]) < len(rows):
        name = found[3] or _IN_ROW_NAMES.get(found[2], found[2])
        form.fault(f"{name}_{rows[int(found[1])]}", detail)
        return
    for start, name in places.items():
        if pointer == start or pointer.startswith(start + "/"):
            form.fault(f"material_{rows[0]}" if name == _FIRST and rows else name, detail)
            return
    form.fault("mix", detail)
