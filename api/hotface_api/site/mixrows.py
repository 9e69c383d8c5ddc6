"""The rows of the mix forms: one material each, with what its maker knows of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from hotface.units import UnitError, parse_quantity
from hotface_api.catalogue.reference import Reference
from hotface_api.site.finding import named_exactly
from hotface_api.site.forms import Form, number_text
from hotface_api.site.mixwords import FIGURES, FILLS, MASSES, SIZES, UNITS, TypedIn

__all__ = ["MOST_ROWS", "amount", "filled_rows", "known_of", "row_count", "span"]

Shape = dict[str, Any]
MOST_ROWS: Final = 12
_FIRST_ROWS: Final = 3
_HUNDRED: Final = 100.0
_RANGE: Final = re.compile(r"(.*\d)\s*(?:-|–|to|…)\s*(\d.*)")


def filled_rows(form: Form, *names: str) -> list[int]:
    """Give the numbers of the rows in which one of some fields is filled in."""
    return [
        row for row in range(1, MOST_ROWS + 1) if any(form.text(f"{name}_{row}") for name in names)
    ]


def row_count(form: Form, *names: str, first: int = _FIRST_ROWS) -> int:
    """Give how many rows to show: those asked for, those filled in, never too many."""
    asked = form.text("rows")
    wanted = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else first  # noqa: PLR2004
    wanted += 1 if form.text("add") else 0
    return max(1, min(MOST_ROWS, max([wanted, *filled_rows(form, *names)])))


def span(form: Form, name: str, unit: str) -> Shape | None:
    """Read a figure, or a range such as ``2 to 4``, with the unit its field stands in."""
    text = form.text(name)
    found = _RANGE.fullmatch(text)
    if found is None:
        return form.amount(name, unit, "")
    ends = [_plain(end) for end in found.groups()]
    if None in ends:
        form.fault(name, "write a number such as 12.5, or a range such as 2 to 4")
        return None
    low, high = ends
    return {"low": low, "high": high, "unit": unit}


def _plain(text: str) -> float | None:
    try:
        value, unit = parse_quantity(number_text(text))
    except UnitError:
        return None
    return None if unit else value


def amount(form: Form, row: int, units: TypedIn) -> Shape | None:
    """Read an amount; one in buckets is told as the volume the buckets hold."""
    unit = form.text(f"unit_{row}", "bucket")
    in_buckets = unit not in UNITS or unit == "bucket"
    given = form.amount(f"amount_{row}", units.bucket if in_buckets else unit, "give an amount")
    if given is None or not in_buckets:
        return given
    held = form.figure("bucket", "say how much a bucket holds")
    return None if held is None else {"value": given["value"] * held, "unit": units.bucket}


def known_of(form: Form, row: int, reference: Reference, units: TypedIn) -> Shape:
    """Read what is told of a material beside its amount, as ``/v1`` takes it."""
    part: Shape = _material(form, row, reference)
    if form.text(f"fill_{row}") in FILLS and form.text(f"unit_{row}") not in MASSES:
        part["fill"] = form.text(f"fill_{row}")
    part |= {
        name: found
        for name, found in (
            ("properties", _figures(form, row, units)),
            ("bucket", _bucket(form, row, units)),
            ("crush_factor", _crush(form, row)),
            ("moisture", _given(form, f"damp_{row}", "%")),
            *((name, _given(form, f"{name}_{row}", units.size)) for name in SIZES),
        )
        if found
    }
    return part


def _material(form: Form, row: int, reference: Reference) -> Shape:
    """Read which material is meant: one that is held, or one's own that is like one held."""
    name = f"material_{row}"
    if not form.text(f"like_{row}"):
        return {"material": form.material(name, reference)}
    own = form.text(name)
    if not own:
        form.fault(name, "name it")
    like = form.material(f"like_{row}", reference)
    return {"material": named_exactly(reference, own) or own, "like": like}


def _given(form: Form, name: str, unit: str) -> Shape | None:
    return span(form, name, unit) if form.text(name) else None


def _figures(form: Form, row: int, units: TypedIn) -> Mapping[str, Shape]:
    given = {name: _given(form, f"{name}_{row}", units.density) for name in FIGURES}
    return {name: found for name, found in given.items() if found}


def _bucket(form: Form, row: int, units: TypedIn) -> Shape | None:
    """Read what one bucket of a part weighs: the figure that lessens the doubt most."""
    if not form.text(f"bucket_weighs_{row}"):
        return None
    mass = form.amount(f"bucket_weighs_{row}", units.mass, "")
    volume = form.amount("bucket", units.bucket, "say how much a bucket holds")
    return None if mass is None or volume is None else {"mass": mass, "volume": volume}


def _crush(form: Form, row: int) -> float | None:
    """Read how much of its volume a light grain keeps in mixing, in percent."""
    name = f"kept_{row}"
    if not form.text(name):
        return None
    kept = form.figure(name, "")
    if kept is not None and not 0 < kept <= _HUNDRED:
        form.fault(name, "lies above 0 and is at most 100 %")
        return None
    return None if kept is None else kept / _HUNDRED
