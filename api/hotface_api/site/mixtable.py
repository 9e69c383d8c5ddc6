"""An estimate as one long table: a line a number, the curves a line a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

__all__ = ["COLUMNS", "flat"]

Shape = Mapping[str, Any]
_ENDS: Final = ("low", "typical", "high")
_BOUNDS: Final = ("lower_bound", "upper_bound", "series_bound", "parallel_bound")
COLUMNS: Final = (
    "quantity",
    "of",
    "temperature",
    "temperature_unit",
    *_ENDS,
    *_BOUNDS,
    "unit",
)
_CURVES: Final = ("thermal_conductivity", "specific_heat_capacity", "thermal_strain")


def _curve(name: str, found: Shape | None) -> list[dict[str, Any]]:
    if found is None:
        return []
    return [
        {
            **{end: point.get(end) for end in (*_ENDS, *_BOUNDS)},
            "quantity": name,
            "temperature": point["temperature"]["value"],
            "temperature_unit": point["temperature"]["unit"],
            "unit": found["unit"],
        }
        for point in found["points"]
    ]


def _row(quantity: str, found: Shape | None, of: str = "") -> list[dict[str, Any]]:
    return [] if found is None else [{**found, "quantity": quantity, "of": of}]


def flat(document: Shape) -> list[dict[str, Any]]:
    """Write an estimate, as ``/v1`` gives it, as rows."""
    made, properties = document["composition"], document["properties"]
    rows = [row for name in ("porosity", "yield", "water") for row in _row(name, made[name])]
    for part in made["constituents"]:
        rows += _row("dry_mass", part["dry_mass"], part["material"])
    for state, density in document["densities"].items():
        rows += _row(f"density_{state}", density)
    rows += _row("service_limit", properties["service_limit"])
    rows += _row("permanent_change", properties["permanent_change"])
    rows += _row("strength_class", properties["strength_class"])
    for name in _CURVES:
        rows += _curve(name, properties[name])
    return rows + _casting(document["casting"])


def _casting(casting: Shape | None) -> list[dict[str, Any]]:
    if casting is None:
        return []
    rows = _row("mould_batches", casting["batches"]) + _row("mould_one_part", casting["one_part"])
    for part in casting["constituents"]:
        rows += _row("mould_dry_mass", part["dry_mass"], part["material"])
        rows += _row("mould_amount", part["amount"], part["material"])
    rows += _row("mould_water", casting["water"])
    for state, mass in casting["piece"].items():
        rows += _row(f"piece_mass_{state}", mass)
    return rows
