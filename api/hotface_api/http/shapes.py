"""Rows as JSON: plain functions from a stored row to the documented object.

Marshmallow schemas document these objects (``schemas``); dumping a list through them costs more
than reading it, so the lists are written by the functions here and a test holds both together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from hotface_api.http.context import Asked
from hotface_api.http.quantities import Output, significant

__all__ = [
    "caution",
    "cited",
    "class_limit",
    "cone",
    "full_caution",
    "material",
    "parts",
    "phase",
    "property_",
    "revision",
    "source",
    "specimen",
    "standard",
    "value",
]

Row = Mapping[str, Any]
Shape = dict[str, Any]


def parts(text: str | None) -> list[str]:
    """Split a stored list of words."""
    return [part.strip() for part in (text or "").split(";") if part.strip()]


def material(row: Row) -> Shape:
    """Write a material as a list shows it."""
    return {
        "id": row["id"],
        "name": row["name"],
        "kind": row["kind"],
        "family": row["family"],
        "also_known_as": parts(row["also_known_as"]),
        "description": row["description"],
        "solid": row["solid"],
    }


def property_(row: Row) -> Shape:
    """Write a property; its limits and floor are in its SI unit whatever units are asked for."""
    return {
        "id": row["id"],
        "name": row["name"],
        "definition": row["definition"],
        "standard": row["standard"],
        "unit": row["unit"],
        "unit_us": row["unit_us"],
        "quantity_kind": row["quantity_kind"],
        "temperature_kind": row["temperature_kind"],
        "group": row["group"],
        "forms": parts(row["forms"]),
        "canonical_condition": {"form": row["canonical_form"], "state": row["canonical_state"]},
        "scale": row["scale"],
        "spread_floor": row["spread_floor"],
        "varies_with_temperature": bool(row["varies_with_temperature"]),
        "minimum": row["minimum"],
        "maximum": row["maximum"],
        "need": row["need"],
    }


def source(row: Row) -> Shape:
    """Write a source with its citation as a CSL item."""
    return {
        "id": row["id"],
        "source_type": row["source_type"],
        "origin": row["origin"],
        "seen": row["seen"],
        "citation": row["item"],
    }


def _printed(row: Row) -> Shape:
    return {
        "low": row["printed_low"],
        "typical": row["printed_typical"],
        "high": row["printed_high"],
        "unit": row["printed_unit"],
        "code": row["unit"],
    }


def _condition(row: Row, output: Output) -> Shape:
    """Write what a value holds for; most of it is not stated, which must cost next to nothing."""
    treated, referred = row["treatment_temperature"], row["reference_temperature"]
    duration, age, moisture = row["duration"], row["age"], row["moisture"]
    load, density = row["load"], row["specimen_density_low"]
    quantity = output.quantity
    return {
        "form": row["form"],
        "state": row["state"],
        "fill": row["fill"],
        "grain_size": output.span("length", row["grain_size_low"], row["grain_size_high"]),
        "treatment_temperature": None if treated is None else quantity("temperature", treated),
        "reference_temperature": None if referred is None else quantity("temperature", referred),
        "duration": None if duration is None else quantity("duration", duration),
        "age": None if age is None else quantity("age", age),
        "moisture": None if moisture is None else quantity("fraction", moisture),
        "specimen_density": output.span("density", density, row["specimen_density_high"]),
        "with": row["with"],
        "place": row["place"],
        "load": None if load is None else quantity("pressure", load),
        "atmosphere": row["atmosphere"],
        "direction": row["direction"],
        "text": row["condition_text"],
    }


def _uncertainty(row: Row, output: Output, property_row: Row) -> Shape | None:
    if row["uncertainty_standard"] is None:
        return None
    unit = output.of_property(property_row)
    if unit.kind == "point":
        unit = output.unit("difference")
    standard = output.number(row["uncertainty_standard"], unit, difference=True)
    return {
        "standard": {"value": standard, "unit": unit.code},
        "kind": row["uncertainty_kind"],
        "distribution": row["uncertainty_distribution"],
        "coverage_factor": row["uncertainty_coverage_factor"],
        "degrees_of_freedom": row["uncertainty_degrees_of_freedom"],
        "n": row["uncertainty_n"],
    }


def value(asked: Asked, row: Row) -> Shape:
    """Write a value: converted numbers, the figures as printed, and how they are known.

    A row that was closed after the revision asked for was open at it, so its end is not shown:
    the answer is the one given then.
    """
    output, reference = asked.output, asked.reference
    property_row = reference.properties[row["property"]]
    number, unit = output.writer(property_row)
    ended = row["to_revision"] is not None and row["to_revision"] <= asked.revision
    return {
        "id": row["id"],
        "material": row["material"],
        "property": row["property"],
        "low": number(row["low"]),
        "typical": number(row["typical"]),
        "high": number(row["high"]),
        "unit": unit,
        "bound": row["bound"],
        "role": row["role"],
        "event_kind": row["event_kind"],
        "printed": _printed(row),
        "temperature": output.span("temperature", row["temperature_low"], row["temperature_high"]),
        "condition": _condition(row, output),
        "method": row["method"],
        "source": row["source"],
        "source_type": reference.source_types.get(row["source"]),
        "locator": row["locator"],
        "basis": row["basis"],
        "quoted_in": row["quoted_in"],
        "recalled_source": row["recalled_source"],
        "origin": row["origin"],
        "specimen": row["specimen"],
        "uncertainty": _uncertainty(row, output, property_row),
        "contributor": row["contributor"],
        "licence": row["licence"],
        "status": row["status"] if ended else "accepted",
        "from_revision": row["from_revision"],
        "to_revision": row["to_revision"] if ended else None,
        "replaces": row["replaces"],
        "note": row["note"],
    }


def specimen(asked: Asked, row: Row, constituents: Iterable[Row]) -> Shape:
    """Write a specimen with its recipe."""
    output = asked.output
    return {
        "id": row["id"],
        "material": row["material"],
        "kind": row["kind"],
        "name": row["name"],
        "proportions": row["proportions"],
        "constituents": [
            {name: part[name] for name in ("material", "part", "mass_percent", "volume_percent")}
            for part in constituents
        ],
        "water_binder_ratio": row["water_binder_ratio"],
        "state": row["state"],
        "treatment_temperature": output.quantity("temperature", row["treatment_temperature"]),
        "age": output.quantity("age", row["age"]),
        "moisture": output.quantity("fraction", row["moisture"]),
        "method": row["method"],
        **cited(row),
        "origin": row["origin"],
    }


def cited(row: Row) -> Shape:
    """Write how a row is known."""
    names = ("source", "locator", "basis", "quoted_in", "recalled_source", "note")
    return {name: row[name] for name in names}


def revision(row: Row) -> Shape:
    """Write a revision; SQLite gives times without their zone, which is UTC."""
    made: datetime = row["made_at"]
    moment = made.replace(tzinfo=UTC) if made.tzinfo is None else made.astimezone(UTC)
    return {
        "number": row["number"],
        "made_at": moment.isoformat(timespec="seconds").replace("+00:00", "Z"),
        "kind": row["kind"],
        "summary": row["summary"],
        "package_version": row["package_version"],
        "content_digest": row["content_digest"],
    }


def phase(asked: Asked, row: Row) -> Shape:
    """Write an invariant or melting point."""
    return {
        "id": row["id"],
        "oxides": row["oxides"].split("-"),
        "phases": row["phases"],
        "kind": row["kind"],
        "temperature": asked.output.quantity("temperature", row["temperature"]),
        "temperature_high": asked.output.quantity("temperature", row["temperature_high"]),
        "composition": row["composition"],
        **cited(row),
    }


def cone(asked: Asked, row: Row) -> Shape:
    """Write the end point of a pyrometric cone."""
    return {
        "id": row["id"],
        "series": row["series"],
        "cone": row["cone"],
        "heating_rate": asked.output.quantity("heating rate", row["heating_rate"]),
        "temperature": asked.output.quantity("temperature", row["temperature"]),
        **cited(row),
    }


def class_limit(_asked: Asked, row: Row) -> Shape:
    """Write a class limit in the unit of its standard, whatever units are asked for."""
    return {
        "id": row["id"],
        "standard": row["standard"],
        "edition": row["edition"],
        "class": row["class"],
        "quantity": row["quantity"],
        "limit_low": _plain(row["limit_low"]),
        "limit_high": _plain(row["limit_high"]),
        "unit": row["unit"],
        **cited(row),
    }


def _plain(number: float | None) -> float | None:
    return None if number is None else significant(number)


def standard(_asked: Asked, row: Row) -> Shape:
    """Write what a standard fixes."""
    return {
        "id": row["id"],
        "number": row["number"],
        "title": row["title"],
        "fixes": row["fixes"],
        "figures": row["figures"],
        **cited(row),
    }


def caution(row: Row) -> Shape:
    """Write a caution as answers carry it."""
    names = (
        "id",
        "hazard",
        "trigger",
        "fact",
        "figure",
        "advice",
        "jurisdiction",
        "issued",
        "source",
        "basis",
    )
    return {name: row[name] for name in names}


def full_caution(asked: Asked, row: Row) -> Shape:
    """Write a caution as the list of cautions shows it: with what it applies to."""
    return {
        **caution(row),
        "materials": parts(row["materials"]),
        "kinds": parts(row["kinds"]),
        "below": asked.output.quantity("temperature", row["below"]),
        "above": asked.output.quantity("temperature", row["above"]),
        **cited(row),
    }
