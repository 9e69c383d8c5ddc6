"""One contributed value from draft to a row of the store, with everything wrong told at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from hotface.units import UNITS, Unit, UnitError, find_unit
from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.drafts import ValueDraft
from hotface_api.ledger.errors import Hints
from hotface_api.ledger.sources import Cited
from hotface_api.ledger.texts import LONG, SHORT, Faults
from hotface_api.ledger.uncertainty import FIGURE, NO_UNCERTAINTY, read_uncertainty
from hotface_api.store import vocabulary as words
from hotface_api.store.figures import read_figures

__all__ = ["Surroundings", "value_row"]

Row = dict[str, Any]
_ENDS: Final = ("low", "typical", "high")
_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "bound": words.BOUNDS,
    "role": words.ROLES,
    "event_kind": words.EVENT_KINDS,
    "form": words.FORMS,
    "state": words.STATES,
    "fill": words.FILLS,
    "place": words.PLACES,
}
_TEXTS: Final[Mapping[str, int]] = {
    "atmosphere": SHORT,
    "direction": SHORT,
    "condition_text": LONG,
    "method": LONG,
    "note": LONG,
}
_NUMBERS: Final[Mapping[str, tuple[float, float, str]]] = {
    "temperature_low": (0.0, 6000.0, " K"),
    "temperature_high": (0.0, 6000.0, " K"),
    "treatment_temperature": (0.0, 6000.0, " K"),
    "reference_temperature": (0.0, 6000.0, " K"),
    "grain_size_low": (0.0, 10.0, " m"),
    "grain_size_high": (0.0, 10.0, " m"),
    "duration": (0.0, 1e10, " s"),
    "age": (0.0, 1e10, " s"),
    "moisture": (0.0, 20.0, ""),
    "specimen_density_low": (0.1, 30000.0, " kg/m3"),
    "specimen_density_high": (0.1, 30000.0, " kg/m3"),
    "load": (0.0, 1e10, " Pa"),
}
_PAIRS: Final = ("temperature", "grain_size", "specimen_density")
_REPORTED: Final = {"printed_low": "low", "printed_typical": "typical", "printed_high": "high"}

_TOLD_ALREADY: Final = ("/low", "/typical", "/high", "/temperature_low")
_ALL_NEEDED: Final = ("source", "origin", "locator", "form")


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a value is read against: the reference, and ids the submission itself brings."""

    reference: Reference
    materials: frozenset[str]
    specimen: str | None
    has_specimen: Callable[[str], str | None]
    """Gives the material of a held specimen, or None where there is no such specimen."""
    hints: Hints


def value_row(
    draft: ValueDraft,
    source: Cited | None,
    quoted_in: Cited | None,
    around: Surroundings,
    faults: Faults,
) -> Row | None:
    """Read one draft.

    Parameters
    ----------
    draft : ValueDraft
    source, quoted_in : Cited or None
        As resolved; None where they could not be, which is told already.
    around : Surroundings
    faults : Faults
        Told what is wrong; its base points at the value.

    Returns
    -------
    dict or None
        The store's columns without ``id``, ``contributor``, ``licence``, ``status`` and dates;
        None if anything is wrong.
    """
    before = len(faults.found)
    row: Row = {"recalled_source": None, "replaces": None}
    row["material"] = _material(draft.material, "/material", around, faults)
    row["with"] = None if draft.with_ is None else _material(draft.with_, "/with", around, faults)
    property_row = _property(draft.property, around, faults)
    row["property"] = draft.property
    for name, allowed in _WORDS.items():
        row[name] = faults.word(f"/{name}", getattr(draft, name), allowed)
    if draft.bound is None:
        faults.add("/bound", f"say one of {', '.join(words.BOUNDS)}")
    for name, longest in _TEXTS.items():
        row[name] = faults.text(f"/{name}", getattr(draft, name), longest=longest)
    for name, (low, high, unit) in _NUMBERS.items():
        row[name] = faults.number(f"/{name}", getattr(draft, name), low, high, unit)
    _close_pairs(row, faults)
    row["specimen"] = _specimen(draft, row["material"], around, faults)
    row.update(_citation(draft, source, quoted_in, faults))
    if property_row is None or source is None:
        return None
    _default_form(row, draft, property_row, faults)
    row.update(_figures(draft, row, property_row, faults))
    return row if len(faults.found) == before else None


def _material(key: Any, place: str, around: Surroundings, faults: Faults) -> str | None:
    text = faults.text(place, key, needed=True)
    if text is None:
        return None
    if text in around.reference.materials or text in around.materials:
        return text
    names = {row["name"].lower(): held for held, row in around.reference.materials.items()}
    nearest = dict.fromkeys(
        (
            *around.hints.near(text, around.reference.materials),
            *(names[name] for name in around.hints.near(text, names)),
        )
    )
    hint = "; a new one can be proposed with the submission" if place == "/material" else ""
    faults.add(place, f"no material {text[:60]!r} is held{hint}", tuple(nearest)[:3])
    return None


def _property(key: Any, around: Surroundings, faults: Faults) -> Mapping[str, Any] | None:
    text = faults.text("/property", key, needed=True)
    if text is None:
        return None
    found = around.reference.properties.get(text)
    if found is None:
        nearest = around.hints.near(text, around.reference.properties)
        faults.add("/property", f"no property {text[:60]!r} is held", nearest)
    return found


def _close_pairs(row: Row, faults: Faults) -> None:
    """Give both ends of each span: one end alone means that single figure."""
    for name in _PAIRS:
        low, high = row[f"{name}_low"], row[f"{name}_high"]
        if low is None or high is None:
            row[f"{name}_low"] = row[f"{name}_high"] = high if low is None else low
        elif low > high:
            faults.add(f"/{name}_low", "the low end lies above the high end")


def _specimen(
    draft: ValueDraft, material: str | None, around: Surroundings, faults: Faults
) -> str | None:
    if draft.specimen is None:
        return around.specimen
    if around.specimen is not None:
        faults.add("/specimen", "the values of a new specimen belong to it; leave this out")
        return None
    key = faults.text("/specimen", draft.specimen)
    if key is None:
        return None
    held_of = around.has_specimen(key)
    if held_of is None:
        faults.add("/specimen", f"no specimen {key[:60]!r} is held")
    elif material is not None and held_of != material:
        faults.add("/specimen", f"this specimen is of {held_of}, the value of {material}")
    return key


def _citation(
    draft: ValueDraft, source: Cited | None, quoted_in: Cited | None, faults: Faults
) -> Row:
    own = source is not None and source.own
    if own and draft.quoted_in is not None:
        faults.add("/quoted_in", "an own measurement is not quoted from anywhere")
    basis = "quoted" if draft.quoted_in is not None else "read"
    locator = faults.text("/locator", draft.locator, longest=LONG, needed=source is None or not own)
    return {
        "basis": "measured" if own else basis,
        "source": None if source is None else source.id,
        "origin": None if source is None else source.origin,
        "quoted_in": None if quoted_in is None else quoted_in.id,
        "locator": locator or ("own measurement" if own else None),
    }


def _default_form(
    row: Row, draft: ValueDraft, property_row: Mapping[str, Any], faults: Faults
) -> None:
    forms = tuple(property_row["forms"].split(";"))
    if draft.form is None:
        if len(forms) == 1:
            row["form"] = forms[0]
        else:
            faults.add("/form", f"say what was measured: {', '.join(forms)}", forms)


def _figures(draft: ValueDraft, row: Row, property_row: Mapping[str, Any], faults: Faults) -> Row:
    """Read unit, figures and uncertainty; the columns they fill."""
    unit = _unit(draft.unit, property_row, faults)
    printed = {f"printed_{end}": _printed(draft, end, faults) for end in _ENDS}
    unit_text = draft.unit if draft.printed_unit is None else draft.printed_unit
    printed["printed_unit"] = faults.text("/printed_unit", unit_text)
    uncertainty = dict(NO_UNCERTAINTY)
    if unit is None:
        return {**printed, **uncertainty}
    uncertainty = read_uncertainty(draft.uncertainty, unit, faults, "/uncertainty")
    whole = {**row, **printed, "unit": unit.code}
    clean = not any(fault.pointer.endswith(_TOLD_ALREADY) for fault in faults.found)
    if clean and all(whole[name] is not None for name in _ALL_NEEDED):
        read = read_figures(whole, property_row, _reporter(faults))
        printed.update({end: read.get(end) for end in _ENDS})
    return {**printed, **uncertainty, "unit": unit.code}


def _reporter(faults: Faults) -> Callable[[str, str], None]:
    def report(column: str, message: str) -> None:
        faults.add(f"/{_REPORTED.get(column, column)}", message)

    return report


def _unit(text: Any, property_row: Mapping[str, Any], faults: Faults) -> Unit | None:
    given = faults.text("/unit", text) if text != "" else "1"
    if given is None:
        if text is None:
            faults.add("/unit", "a figure has a unit; a pure number has the unit 1")
        return None
    try:
        return find_unit(given, UNITS[property_row["unit"]].dimension)
    except UnitError as error:
        faults.add("/unit", str(error), tuple(error.nearest)[:6])
        return None


def _printed(draft: ValueDraft, end: str, faults: Faults) -> str | None:
    text = getattr(draft, end)
    if text is None:
        return None
    if not isinstance(text, str) or not FIGURE.fullmatch(text.strip()):
        hint = "a figure as printed, as text: digits and a point, like 0.35 or 1250 or 4.5e-6"
        if isinstance(text, str) and "," in text:
            hint += "; no comma, neither for decimals nor for thousands"
        faults.add(f"/{end}", hint)
        return None
    if abs(float(text)) > 1e30:  # noqa: PLR2004 - nothing here is larger, and squares stay finite
        faults.add(f"/{end}", "this is too large to be a quantity")
        return None
    return text.strip()
