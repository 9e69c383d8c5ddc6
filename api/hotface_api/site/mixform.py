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
from hotface_api.http.quantities import Output
from hotface_api.mixes.request import EstimateRequest, MixError
from hotface_api.site.forms import Form, number_text

__all__ = [
    "FIGURES",
    "FILLS",
    "STATES",
    "UNITS",
    "WATER_UNITS",
    "Asked",
    "TypedIn",
    "note",
    "read_mix",
    "row_count",
]

UNITS: Final[Mapping[str, str]] = {
    "bucket": "buckets, loose",
    "L": "litres, loose",
    "kg": "kg",
    "[gal_us]": "US gallons, loose",
    "[lb_av]": "lb",
}
FILLS: Final[Mapping[str, str]] = {
    "poured": "poured in",
    "shaken": "shaken down",
    "compacted": "pressed down",
}
STATES: Final[Mapping[str, str]] = {
    "fired": "fired",
    "dried": "dried at 110 °C",
    "air-dry": "air-dry",
    "demoulded": "just out of the mould",
    "fresh": "fresh",
}
WATER_UNITS: Final[Mapping[str, str]] = {
    "L": "litres",
    "kg": "kg",
    "[gal_us]": "US gallons",
    "ratio": "kg per kg of cement",
}
FIGURES: Final[Mapping[str, str]] = {
    "loose_bulk_density": "Loose bulk density",
    "particle_density": "Particle density (grain with its pores)",
    "true_density": "True density (without pores)",
}
_MASSES: Final = ("kg", "[lb_av]")
_FIRST_ROWS: Final = 3
_MOST_ROWS: Final = 12
_PLACES: Final[Mapping[str, str]] = {
    "#/mix/water": "water",
    "#/state/temperature": "fired_at",
    "#/measured/bulk_density": "weighed",
    "#/mix/constituents": "material_1",
}
_IN_ROW_NAMES: Final = {"bucket": "bucket_weighs"}
_IN_ROW: Final = re.compile(r"#/mix/constituents/(\d+)/(material|amount|bucket|properties/(\w+))")


@dataclass(frozen=True, slots=True)
class TypedIn:
    """The units of figures that have none of their own: codes by the reader's system."""

    density: str
    heat: str
    mass: str
    bucket: str
    bucket_holds: str

    @classmethod
    def of(cls, output: Output) -> TypedIn:
        """Give the units a reader's figures are typed in, and what a bucket usually holds."""
        is_us = output.system == "us"
        return cls(
            density=output.unit("density").code,
            heat=output.unit("temperature").code,
            mass=output.unit("mass").code,
            bucket="[gal_us]" if is_us else "L",
            bucket_holds="5" if is_us else "10",
        )


@dataclass(slots=True)
class Asked:
    """A mix form that was sent: the request it makes, and the row each constituent stands in."""

    form: Form
    body: dict[str, Any] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    request: EstimateRequest | None = None


def row_count(form: Form) -> int:
    """Give how many rows to show: those asked for, those filled in, never too many."""
    filled = [n for n in range(1, _MOST_ROWS + 1) if _is_filled(form, n)]
    asked = form.text("rows")
    wanted = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else _FIRST_ROWS  # noqa: PLR2004
    wanted += 1 if form.text("add") else 0
    return max(1, min(_MOST_ROWS, max([wanted, *filled])))


def _is_filled(form: Form, row: int) -> bool:
    return bool(form.text(f"material_{row}") or form.text(f"amount_{row}"))


def _amount(form: Form, row: int, units: TypedIn) -> dict[str, Any] | None:
    """Read an amount; one in buckets is told as the volume the buckets hold."""
    unit = form.text(f"unit_{row}", "bucket")
    in_buckets = unit not in UNITS or unit == "bucket"
    given = form.amount(f"amount_{row}", units.bucket if in_buckets else unit, "give an amount")
    if given is None or not in_buckets:
        return given
    held = form.figure("bucket", "say how much a bucket holds")
    return None if held is None else {"value": given["value"] * held, "unit": units.bucket}


def _figures(form: Form, row: int, units: TypedIn) -> dict[str, Any]:
    found = {}
    for name in FIGURES:
        if form.text(f"{name}_{row}"):
            given = form.amount(f"{name}_{row}", units.density, "")
            if given is not None:
                found[name] = given
    return found


def _constituent(form: Form, row: int, reference: Reference, units: TypedIn) -> dict[str, Any]:
    part: dict[str, Any] = {
        "material": form.material(f"material_{row}", reference),
        "amount": _amount(form, row, units),
    }
    if form.text(f"fill_{row}") in FILLS and form.text(f"unit_{row}", "bucket") not in _MASSES:
        part["fill"] = form.text(f"fill_{row}")
    figures, bucket = _figures(form, row, units), _bucket(form, row, units)
    part |= {"properties": figures} if figures else {}
    return part | ({"bucket": bucket} if bucket else {})


def _bucket(form: Form, row: int, units: TypedIn) -> dict[str, Any] | None:
    """Read what one bucket of a part weighs: the figure that lessens the doubt most."""
    if not form.text(f"bucket_weighs_{row}"):
        return None
    mass = form.amount(f"bucket_weighs_{row}", units.mass, "")
    volume = form.amount("bucket", units.bucket, "say how much a bucket holds")
    return None if mass is None or volume is None else {"mass": mass, "volume": volume}


def _water(form: Form) -> dict[str, Any] | None:
    unit = form.text("water_unit")
    unit = unit if unit in WATER_UNITS else "L"
    missing = "give the water: a mix needs some"
    if unit == "ratio":
        ratio = form.figure("water", missing)
        return None if ratio is None else {"ratio_to_binder": ratio}
    return form.amount("water", unit, missing)


def _state(form: Form, units: TypedIn) -> dict[str, Any]:
    kind = form.text("state", "fired")
    state: dict[str, Any] = {"kind": kind if kind in STATES else "fired"}
    if state["kind"] == "fired" and form.text("fired_at"):
        given = form.amount("fired_at", units.heat, "")
        if given is not None:
            state["temperature"] = given
    return state


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
    rows = [n for n in range(1, _MOST_ROWS + 1) if _is_filled(form, n)]
    if not rows:
        form.fault("material_1", "name at least one constituent")
    parts = [_constituent(form, row, reference, units) for row in rows]
    body: dict[str, Any] = {
        "mix": {"constituents": parts, "water": _water(form)},
        "state": _state(form, units),
    }
    if number_text(form.text("weighed")):
        given = form.amount("weighed", units.density, "")
        if given is not None:
            body["measured"] = {"bulk_density": given}
    asked = Asked(form, body, rows)
    if not form.faults:
        _load(asked)
    return asked


def _load(asked: Asked) -> None:
    """Read the request as ``/v1`` would, and lead its faults back to the fields."""
    try:
        asked.request = estimate_request(EstimateRequestSchema().load(asked.body))
    except ValidationError as error:
        for fault in body_problem(error.messages).errors:
            _place(asked, fault["pointer"], fault["detail"])


def note(asked: Asked, error: MixError) -> None:
    """Note at its field what the estimator cannot work with."""
    _place(asked, error.pointer, error.message)


def _place(asked: Asked, pointer: str, detail: str) -> None:
    detail = detail.replace("give your own under properties", "give your own figure")
    found = _IN_ROW.match(pointer)
    if found is not None and int(found[1]) < len(asked.rows):
        name = found[3] or _IN_ROW_NAMES.get(found[2], found[2])
        asked.form.fault(f"{name}_{asked.rows[int(found[1])]}", detail)
        return
    for start, name in _PLACES.items():
        if pointer == start or pointer.startswith(start + "/"):
            asked.form.fault(name, detail)
            return
    asked.form.fault("mix", detail)
