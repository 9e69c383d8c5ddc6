"""A stored value written back into the fields it was typed into, to be corrected."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from hotface.units import UNITS, from_si
from hotface_api.http.quantities import significant
from hotface_api.site.page import Page

__all__ = ["typed_of"]

Row = Mapping[str, Any]
_SAME: Final = (
    "property",
    "bound",
    "role",
    "event_kind",
    "form",
    "state",
    "fill",
    "place",
    "atmosphere",
    "direction",
    "condition_text",
    "method",
    "locator",
    "note",
    "quoted_in",
)
_CONVERTED: Final[Mapping[str, tuple[str, str]]] = {
    "duration": ("duration", "h"),
    "age": ("age", "d"),
    "moisture": ("moisture", "%"),
    "load": ("load", "MPa"),
    "density_low": ("specimen_density_low", "kg/m3"),
    "density_high": ("specimen_density_high", "kg/m3"),
    "grain_low": ("grain_size_low", "mm"),
    "grain_high": ("grain_size_high", "mm"),
}
"""Field to the column it is stored in and the unit the form asks for."""
_HEATS: Final[Mapping[str, str]] = {
    "temperature_low": "temperature_low",
    "temperature_high": "temperature_high",
    "treated_at": "treatment_temperature",
    "reference_temperature": "reference_temperature",
}


def _figure(value: float | None, code: str, *, difference: bool = False) -> str:
    if value is None:
        return ""
    unit = UNITS[code]
    found = value / unit.factor if difference else from_si(value, unit)
    return f"{significant(found):.6g}"


def typed_of(page: Page, row: Row) -> dict[str, str]:
    """Write a value as it would be typed.

    Parameters
    ----------
    page : Page
    row : row
        In the store's columns, SI.

    Returns
    -------
    dict
        Text by field; the figures digit for digit as they were printed.
    """
    heat = page.asked.output.unit("temperature").code
    typed = {name: str(row[name]) for name in _SAME if row.get(name) is not None}
    for end in ("low", "typical", "high"):
        typed[end] = row[f"printed_{end}"] or ""
    typed |= {
        "material": page.name(row["material"]),
        "with": "" if row["with"] is None else page.name(row["with"]),
        "unit": row["printed_unit"] or "",
        "code": "" if row["printed_unit"] == row["unit"] else row["unit"],
        "temperature_unit": heat,
    }
    for name, (column, code) in _CONVERTED.items():
        typed[name] = _figure(row[column], code)
    typed |= {name: _figure(row[column], heat) for name, column in _HEATS.items()}
    if row["uncertainty_standard"] is not None:
        typed["uncertainty_way"] = "standard"
        typed["uncertainty"] = _figure(row["uncertainty_standard"], row["unit"], difference=True)
        typed["uncertainty_kind"] = row["uncertainty_kind"] or "B"
        typed["uncertainty_n"] = "" if row["uncertainty_n"] is None else str(row["uncertainty_n"])
    if typed["temperature_low"] == typed["temperature_high"]:
        typed["temperature_high"] = ""
    for name in ("density", "grain"):
        if typed[f"{name}_low"] == typed[f"{name}_high"]:
            typed[f"{name}_high"] = ""
    return {name: text for name, text in typed.items() if text}
