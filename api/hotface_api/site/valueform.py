"""The form of one contributed value: what was typed becomes the body ``/v1/values`` takes.

Faults come back with a pointer into that body; ``note`` leads each to the field it is about.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from hotface_api.catalogue.reference import Reference
from hotface_api.http.body import parse_strictly
from hotface_api.http.problems import Problem
from hotface_api.ledger.prepare import LICENCES
from hotface_api.site.forms import Form
from hotface_api.store import vocabulary

__all__ = [
    "CHOICES",
    "GENERAL",
    "LABELS",
    "SOURCE_WAYS",
    "json_of",
    "note",
    "read_body",
    "read_value",
]

Body = dict[str, Any]
GENERAL: Final = "contribution"
"""Where a fault is shown that belongs to no single field."""
LABELS: Final[Mapping[str, str]] = {
    "material": "Material",
    "property": "Property",
    "bound": "The figure is",
    "low": "Lowest",
    "typical": "Figure",
    "high": "Highest",
    "unit": "Unit, as printed",
    "code": "Unit it is read as",
    "temperature_low": "Temperature",
    "temperature_high": "Up to, if a span",
    "temperature_unit": "Unit of temperature",
    "role": "Kind of limit",
    "event_kind": "Kind of event",
    "form": "What was measured",
    "state": "State",
    "fill": "How the measure was filled",
    "treated_at": "Fired or dried at",
    "reference_temperature": "Counted from (expansion)",
    "with": "With (binder or partner)",
    "place": "Place in the wall",
    "age": "Age, days",
    "duration": "Held for, hours",
    "moisture": "Moisture, % by mass",
    "density_low": "Density of the piece, kg/m³",
    "density_high": "Up to, kg/m³",
    "grain_low": "Grain size, mm",
    "grain_high": "Up to, mm",
    "load": "Load, MPa",
    "atmosphere": "Atmosphere",
    "direction": "Direction",
    "condition_text": "Condition in words",
    "method": "How it was measured",
    "own_specimen": "What you measured it on",
    "own_instrument": "With what",
    "own_date": "On which day",
    "source_held": "Id of a source held here",
    "source_doi": "DOI",
    "source_bibtex": "BibTeX, one entry",
    "source_csl": "CSL-JSON, one item",
    "source_type": "Kind of source",
    "quoted_in": "Seen only as quoted in",
    "locator": "Where in the source",
    "specimen": "Id of a measured body held here",
    "uncertainty_way": "Uncertainty is stated as",
    "uncertainty": "Uncertainty",
    "coverage_factor": "Coverage factor k",
    "uncertainty_kind": "Type",
    "uncertainty_n": "Number of readings",
    "note": "Note",
    "measured_name": "Who measured, if not you",
    "measured_orcid": "Their ORCID",
    "new_id": "Id, words joined by hyphens",
    "new_name": "Name",
    "new_kind": "Kind",
    "new_description": "What it is, in one or two sentences",
    "licence": "Licence you give it under",
    "reason": "Why it is corrected",
    GENERAL: "Contribution",
}
_FORMS: Final[Mapping[str, str]] = {
    "heap": "a loose heap",
    "grain": "single grains",
    "solid": "the pore-free solid",
    "paste": "hardened paste",
    "body": "a whole body",
}


def _same(words: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((word, word.replace("_", " ").replace("-", " ")) for word in words)


CHOICES: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "bound": (("is", "as it stands"), ("at_least", "a floor"), ("at_most", "a ceiling")),
    "temperature_unit": (("Cel", "°C"), ("[degF]", "°F"), ("K", "K")),
    "role": _same(vocabulary.ROLES),
    "event_kind": _same(vocabulary.EVENT_KINDS),
    "form": tuple(_FORMS.items()),
    "state": _same(vocabulary.STATES),
    "fill": _same(vocabulary.FILLS),
    "place": (("face", "at the hot face"), ("behind", "behind a hot face")),
    "source_type": _same(vocabulary.SOURCE_TYPES),
    "uncertainty_way": (
        ("standard", "standard uncertainty"),
        ("expanded", "expanded uncertainty, with k"),
        ("rectangular", "limits ±, all within alike likely"),
        ("triangular", "limits ±, the middle likelier"),
    ),
    "uncertainty_kind": (("B", "B: from other knowledge"), ("A", "A: from repeated readings")),
    "licence": tuple((name, name) for name in LICENCES),
    "new_kind": _same(vocabulary.KINDS),
}
SOURCE_WAYS: Final = ("own", "held", "doi", "bibtex", "csl")
_OWN: Final = ("own_specimen", "own_instrument", "own_date")
_NEW: Final = ("new_id", "new_name", "new_kind", "new_description")
_TEXTS: Final = ("form", "state", "fill", "place", "atmosphere", "direction", "event_kind")
_WHOLE: Final = ("role", "method", "locator", "specimen", "note")
_MEASURES: Final = {"duration": "h", "age": "d", "moisture": "%", "load": "MPa"}
_SPANS: Final = {"density": ("specimen_density", "kg/m3"), "grain": ("grain_size", "mm")}


def _without_blanks(made: Body) -> Body:
    return {name: each for name, each in made.items() if each not in (None, "", {})}


def _number(form: Form, name: str) -> float | None:
    return form.figure(name, "") if form.text(name) else None


def _quantity(form: Form, name: str, unit: str) -> Body | None:
    value = _number(form, name)
    return None if value is None else {"value": value, "unit": unit}


def _span(form: Form, low: str, high: str, unit: str) -> Body | None:
    """Read a span; one end alone means that single figure."""
    ends = [_number(form, name) for name in (low, high)]
    if ends == [None, None]:
        return None
    first, last = (ends[0] if each is None else each for each in ends)
    return {"low": ends[1] if first is None else first, "high": last, "unit": unit}


def _condition(form: Form, reference: Reference) -> Body:
    heat = form.text("temperature_unit", "Cel")
    made: Body = {name: form.text(name) for name in _TEXTS}
    made["text"] = form.text("condition_text")
    made |= {name: _quantity(form, name, unit) for name, unit in _MEASURES.items()}
    made["treatment_temperature"] = _quantity(form, "treated_at", heat)
    made["reference_temperature"] = _quantity(form, "reference_temperature", heat)
    for name, (key, unit) in _SPANS.items():
        made[key] = _span(form, f"{name}_low", f"{name}_high", unit)
    if form.text("with"):
        made["with"] = form.material("with", reference)
    return _without_blanks(made)


def _uncertainty(form: Form) -> Body | None:
    way, figure = form.text("uncertainty_way"), form.text("uncertainty")
    if not (way or figure):
        return None
    if not way:
        form.fault("uncertainty_way", "say what the uncertainty is: standard, expanded or limits")
    if not figure:
        form.fault("uncertainty", "give the uncertainty in the unit of the figure, like 0.02")
    made: Body = {"kind": form.text("uncertainty_kind", "B")}
    if way in ("rectangular", "triangular"):
        made |= {"half_width": figure, "distribution": way}
    else:
        made[way or "standard"] = figure
    made["coverage_factor"] = _number(form, "coverage_factor")
    readings = _number(form, "uncertainty_n")
    if readings is not None:
        made["n"] = int(readings) if readings == int(readings) else readings
    return _without_blanks(made)


def json_of(form: Form, name: str) -> Any:
    """Read a field as JSON, as strictly as any body; None with a fault if it is none."""
    try:
        return parse_strictly(form.text(name).encode(errors="replace"))
    except Problem as error:
        form.fault(name, error.detail.replace("the body is not JSON", "this is not JSON"))
        return None


def _csl(form: Form) -> Any:
    item = json_of(form, "source_csl")
    if isinstance(item, list) and len(item) == 1:
        item = item[0]
    if not isinstance(item, dict):
        form.fault("source_csl", "one CSL-JSON item is wanted: {...}")
        return None
    return item


def _source(form: Form) -> Body | None:
    """Read the one source that is given, or say that one is wanted and only one."""
    own = any(form.text(name) for name in _OWN)
    given = [way for way in SOURCE_WAYS[1:] if form.text(f"source_{way}")]
    if own:
        given.insert(0, "own")
    if len(given) > 1:
        message = "give one source; more than one is filled in here"
        for way in given:
            form.fault("own_specimen" if way == "own" else f"source_{way}", message)
        return None
    if not given:
        form.fault(
            "own_specimen",
            "say what you measured, or below where the figure is printed: one of them",
        )
        return None
    way = given[0]
    if way == "own":
        keys = ("specimen", "instrument", "date")
        typed = {key: form.text(name) for key, name in zip(keys, _OWN, strict=True)}
        for name, message in zip(_OWN, _OWN_WANTED, strict=True):
            if not form.text(name):
                form.fault(name, message)
        return {"own_measurement": typed}
    if way == "csl":
        made = {"csl": _csl(form)}
    else:
        made = {{"held": "id"}.get(way, way): form.text(f"source_{way}")}
    if way != "held" and form.text("source_type"):
        made["source_type"] = form.text("source_type")
    return made


_OWN_WANTED: Final = (
    "say what was measured, such as: two litres from the club's bag",
    "say with what: scale, jug, furnace, and how finely they read",
    "give the day, such as 2026-11-20",
)


def read_value(form: Form, reference: Reference, *, new: str | None = None) -> Body:
    """Read the value itself, without its source and licence.

    Parameters
    ----------
    form : Form
        Told what is wrong.
    reference : Reference
    new : str, optional
        Id of the material proposed with it.

    Returns
    -------
    dict
        A VALUE as ``/v1/values`` takes it.
    """
    printed = {name: form.text(name) for name in ("low", "typical", "high", "unit", "code")}
    if not any(printed[name] for name in ("low", "typical", "high")):
        form.fault("typical", "give the figure as it is printed or read off, such as 0.35")
    if not form.text("property"):
        form.fault("property", "choose what was measured")
    return {
        **_without_blanks(
            {
                "material": new or form.material("material", reference),
                "property": form.text("property"),
                "bound": form.text("bound", "is"),
                "temperature": _span(
                    form,
                    "temperature_low",
                    "temperature_high",
                    form.text("temperature_unit", "Cel"),
                ),
                "condition": _condition(form, reference),
                "uncertainty": _uncertainty(form),
                "quoted_in": {"id": form.text("quoted_in")} if form.text("quoted_in") else None,
                **{name: form.text(name) for name in _WHOLE},
            }
        ),
        "printed": {"unit": form.text("unit") or "1", **_without_blanks(printed)},
    }


def read_body(form: Form, reference: Reference) -> Body:
    """Read the whole form as a body of ``POST /v1/values``; ``form.faults`` tells what is wrong."""
    new = form.text("new_id") if any(form.text(name) for name in _NEW) else None
    body: Body = {}
    if new is not None:
        keys = (name.removeprefix("new_") for name in _NEW)
        body["material"] = {key: form.text(name) for key, name in zip(keys, _NEW, strict=True)}
        for name in _NEW:
            if not form.text(name):
                form.fault(name, "this is needed to propose a material")
    body["values"] = [read_value(form, reference, new=new)]
    body["source"] = _source(form)
    if not form.text("licence"):
        form.fault("licence", "choose the licence you give it under")
    body["licence"] = form.text("licence")
    if form.text("measured_name") or form.text("measured_orcid"):
        body["measured_by"] = _without_blanks(
            {"name": form.text("measured_name"), "orcid": form.text("measured_orcid")}
        )
    return body


_WHOLES: Final[Mapping[str, str]] = {
    "/licence": "licence",
    "/measured_by/name": "measured_name",
    "/measured_by/orcid": "measured_orcid",
    "/material/id": "new_id",
    "/material/name": "new_name",
    "/material/kind": "new_kind",
    "/material/description": "new_description",
    "/reason": "reason",
}
"""Fields of the whole body, by pointer."""
_PARTS: Final[Mapping[str, str]] = {
    "/material": "material",
    "/property": "property",
    "/printed/low": "low",
    "/printed/typical": "typical",
    "/printed/high": "high",
    "/printed/unit": "unit",
    "/printed/code": "code",
    "/printed": "typical",
    "/bound": "bound",
    "/temperature/high": "temperature_high",
    "/temperature": "temperature_low",
    "/reference_temperature": "reference_temperature",
    "/treatment_temperature": "treated_at",
    "/specimen_density/high": "density_high",
    "/specimen_density": "density_low",
    "/grain_size/high": "grain_high",
    "/grain_size": "grain_low",
    "/text": "condition_text",
    "/uncertainty/coverage_factor": "coverage_factor",
    "/uncertainty/kind": "uncertainty_kind",
    "/uncertainty/distribution": "uncertainty_way",
    "/uncertainty/degrees_of_freedom": "uncertainty_n",
    "/uncertainty/n": "uncertainty_n",
    "/uncertainty": "uncertainty",
    "/source/id": "source_held",
    "/source/doi": "source_doi",
    "/source/bibtex": "source_bibtex",
    "/source/csl": "source_csl",
    "/source/source_type": "source_type",
    "/source/own_measurement/instrument": "own_instrument",
    "/source/own_measurement/date": "own_date",
    "/source": "own_specimen",
    "/quoted_in": "quoted_in",
    **{
        f"/{name}": name
        for name in ("with", "place", "form", "state", "fill", "event_kind", "role", "duration")
    },
    **{
        f"/{name}": name
        for name in ("age", "moisture", "load", "atmosphere", "direction", "method", "locator")
    },
    "/specimen": "specimen",
    "/note": "note",
}
"""Fields of the value, by the pointer's part below it."""
_BELOW_VALUE: Final = re.compile(r"^/values/0|^/value(?=/|$)")


def _field(pointer: str) -> str:
    """Give the field a pointer leads to: the longest beginning of it that is known."""
    plain = pointer.lstrip("#")
    below, count = _BELOW_VALUE.subn("", plain)
    known = _PARTS if count else {**_PARTS, **_WHOLES}
    below = below.replace("/condition/", "/", 1)
    steps = below.split("/")
    for length in range(len(steps), 1, -1):
        found = known.get("/".join(steps[:length]))
        if found is not None:
            return found
    return GENERAL


def note(form: Form, faults: Iterable[tuple[str, str]]) -> None:
    """Put faults, each a pointer and what is wrong, to their fields."""
    for pointer, message in faults:
        form.fault(_field(pointer), message)
