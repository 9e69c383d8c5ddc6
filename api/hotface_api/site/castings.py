"""What to weigh and to measure for a cast: line by line, by the kilogram and by the bucket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from hotface.units import convert
from hotface_api.site import words
from hotface_api.site.forms import number_text
from hotface_api.site.mixform import Asked
from hotface_api.site.mixwords import FILLS, UNITS, WATER_UNITS, TypedIn
from hotface_api.site.page import Page

__all__ = ["bill", "lines", "water"]

Shape = Mapping[str, Any]
_ENDS: Final = ("low", "typical", "high")


def _in_buckets(asked: Asked, given: Shape, units: TypedIn) -> str:
    """Write a range of volumes as buckets; the form says how much one holds."""
    size = float(number_text(asked.form.text("bucket")))
    low, middle, high = (
        words.number(convert(given[end], given["unit"], units.bucket) / size) for end in _ENDS
    )
    return f"{middle} buckets ({low} to {high})"


def _typed(asked: Asked, row: int) -> str:
    unit = UNITS.get(asked.form.text(f"unit_{row}"), UNITS["bucket"])
    return f"{asked.form.text(f'amount_{row}')} {unit.removesuffix(', loose')}"


def _measure(asked: Asked, part: Shape, row: int, units: TypedIn) -> str:
    """Write the amount of a part for the mould, in the way it was measured."""
    given = part["amount"]
    if asked.form.text(f"unit_{row}", "bucket") == "bucket":
        return _in_buckets(asked, given, units)
    low, middle, high = (words.number(given[end]) for end in _ENDS)
    return f"{middle}\N{NO-BREAK SPACE}{words.unit(given['unit'])} ({low} to {high})"


def lines(page: Page, asked: Asked, document: Shape, units: TypedIn) -> list[dict[str, Any]]:
    """Give a line for each constituent, in the order of the form.

    Each has its name, what was typed, how the measure is filled, its dry mass as a range (of the
    mould's fill, if there is a mould; None where only parts are known), the measure scaled to the
    mould, and its share of the dry mass.
    """
    casting = document["casting"]
    parts = asked.body["mix"]["constituents"]
    shares = document["composition"]["constituents"]
    found = []
    for place, (part, row) in enumerate(zip(parts, asked.rows, strict=True)):
        cast = casting["constituents"][place] if casting else None
        found.append(
            {
                "material": part["material"],
                "name": page.name(part["material"]),
                "typed": _typed(asked, row),
                "fill": FILLS.get(part.get("fill", ""), ""),
                "dry_mass": (cast or shares[place])["dry_mass"],
                "measure": _measure(asked, cast, row, units) if cast else None,
                "share": shares[place]["mass_fraction"],
            }
        )
    return found


def water(asked: Asked, document: Shape) -> dict[str, Any]:
    """Give the water as it was typed, and for the mould."""
    form = asked.form
    unit = WATER_UNITS.get(form.text("water_unit"), WATER_UNITS["L"])
    casting = document["casting"]
    return {
        "typed": f"{form.text('water')} {unit}",
        "cast": casting["water"] if casting else None,
    }


def bill(asked: Asked, document: Shape, parts: Sequence[Shape]) -> list[dict[str, Any]]:
    """Write what to weigh out as rows of a table, the water last."""
    found = []
    for line in parts:
        dry = line["dry_mass"] or {}
        found.append(
            {
                "part": line["material"],
                "as_given": line["typed"],
                "measure": line["measure"],
                "dry_mass_low": dry.get("low"),
                "dry_mass": dry.get("typical"),
                "dry_mass_high": dry.get("high"),
                "unit": dry.get("unit"),
            }
        )
    poured = water(asked, document)
    cast = poured["cast"]
    measure = (
        None if cast is None else f"{words.number(cast['typical'])} {words.unit(cast['unit'])}"
    )
    return [*found, {"part": "water", "as_given": poured["typed"], "measure": measure}]
