"""Materials: all of them, searched or by kind; and one with everything held of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import request
from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.holdings import wanted
from hotface_api.catalogue.properties import Asked as Question
from hotface_api.catalogue.properties import PropertyAnswer, answer_rows
from hotface_api.http import dumps, shapes
from hotface_api.http.lookup import known_material
from hotface_api.site import charts, ladder, words
from hotface_api.site.finding import find_rows
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing

__all__ = ["list_materials", "show_material"]

Row = Mapping[str, Any]
Shape = Mapping[str, Any]
_LONGEST: Final = 200
_GROUPS: Final = (
    "thermal",
    "density",
    "structure",
    "strength",
    "expansion",
    "setting",
    "limit",
    "chemistry",
    "other",
)
_FIGURES: Final = ("thermal_conductivity", "specific_heat_capacity")
_RANGE_COLUMNS: Final = (
    "property",
    "low",
    "typical",
    "high",
    "unit",
    "coverage",
    "published_low",
    "published_high",
    "origins",
    "condition",
    "unverified",
    "reason",
)


def list_materials(page: Page, _connection: Connection) -> Showing:
    """List materials by kind, or those that hold the words searched for."""
    reference = page.asked.reference
    text = " ".join(request.args.get("q", "").split())[:_LONGEST]
    kind = request.args.get("kind", "")
    rows = sorted(reference.materials.values(), key=_by_name)
    if text:
        rows = find_rows(reference, text)
    if kind in words.KINDS:
        rows = [row for row in rows if row["kind"] == kind]
    items = [shapes.material(row) for row in rows]
    grouped = {name: [each for each in items if each["kind"] == name] for name in words.KINDS}
    return Showing(
        "materials.html",
        {"q": text, "kind": kind, "items": items, "grouped": grouped},
        columns=("id", "name", "kind", "family", "also_known_as", "description"),
        rows=[{**each, "also_known_as": "; ".join(each["also_known_as"])} for each in items],
        json=page.to("/v1/materials", q=text, kind=kind if kind in words.KINDS else "", limit=200),
    )


def _by_name(row: Row) -> tuple[str, str]:
    return str(row["name"]).casefold(), str(row["id"])


def _answers(page: Page, rows: Sequence[Row], material: str) -> list[PropertyAnswer]:
    """Answer every property that is held, in the order a builder asks for them."""
    reference = page.asked.reference
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["property"], []).append(row)
    order = sorted(
        grouped,
        key=lambda name: (
            _GROUPS.index(reference.properties[name]["group"]),
            reference.properties[name]["need"],
            name,
        ),
    )
    return [answer_rows(grouped[name], reference, material, name, Question()) for name in order]


def _line(page: Page, found: PropertyAnswer, rows: Sequence[Row]) -> dict[str, Any]:
    """Write one line of the table of ranges; where only bounds are held, who gives them counts."""
    document = dumps.property_answer(page.asked, found)
    derivation = document["derivation"] or {}
    bounding = {row["origin"] for row in rows if row["property"] == found.property} - {None}
    return {
        "id": found.property,
        "name": page.property_name(found.property),
        "group": page.asked.reference.properties[found.property]["group"],
        "range": document["range"],
        "observed": document["observed"],
        "origins": derivation.get("origins") or len(bounding),
        "condition": document["condition"],
        "unverified": document["unverified"],
        "reason": document["reason"],
        "others": len(document["others"]),
        "document": document,
    }


def _flat(line: Mapping[str, Any]) -> dict[str, Any]:
    found, observed = line["range"] or {}, line["observed"] or {}
    return {
        **{name: found.get(name) for name in ("low", "typical", "high", "coverage")},
        "unit": line["document"]["unit"],
        "property": line["id"],
        "published_low": observed.get("low"),
        "published_high": observed.get("high"),
        "origins": line["origins"],
        "condition": words.condition(line["condition"]),
        "unverified": line["unverified"],
        "reason": line["reason"],
    }


def _figure(
    page: Page, material: str, rows: Sequence[Row], lines: Sequence[Shape]
) -> tuple[Shape, charts.Drawn] | None:
    """Draw the conductivity over temperature, or the heat capacity where none is held."""
    for name in _FIGURES:
        for line in lines:
            if line["id"] == name:
                own = [row for row in rows if row["property"] == name]
                drawn = charts.property_figure(page, material, name, own, line["document"])
                if drawn is not None:
                    return line, drawn
    return None


def show_material(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Show everything held of a material, and what is missing."""
    reference = page.asked.reference
    row = known_material(reference, id)
    rows = material_rows(connection, reference, (id,), tuple(reference.properties))
    limits = set(ladder.limit_properties(reference.properties))
    lines = [_line(page, found, rows) for found in _answers(page, rows, id)]
    cited = {each["property"] for each in rows if each["basis"] != "memory"}
    shown = {
        "material": shapes.material(row),
        "family": reference.families.get(row["family"] or ""),
        "grades": [reference.materials[key] for key in sorted(reference.grades(id))],
        "lines": [line for line in lines if line["id"] not in limits],
        "key_lines": _key_lines(lines),
        "steps": ladder.steps(page.asked, [each for each in rows if each["property"] in limits]),
        "figure": _figure(page, id, rows, lines),
        "missing": [key for key in wanted(row["kind"], reference) if key not in cited],
        "cautions": [shapes.caution(each) for each in matching_cautions(reference, (id,))],
        "values": len(rows),
        "origins": len({each["origin"] for each in rows if each["origin"]}),
    }
    return Showing(
        "material.html",
        shown,
        columns=_RANGE_COLUMNS,
        rows=[_flat(line) for line in lines],
        json=page.to(f"/v1/materials/{id}"),
    )


_KEYS: Final = ("loose_bulk_density", "bulk_density", "thermal_conductivity")


def _key_lines(lines: Sequence[Shape]) -> list[Shape]:
    """Choose the numbers a builder looks for first."""
    known = {line["id"]: line for line in lines if line["range"] or line["observed"]}
    return [known[name] for name in _KEYS if name in known]
