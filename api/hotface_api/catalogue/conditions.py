"""Which values are alike enough to be compared: one key a condition.

Unlike things are never merged: a heap is not a grain, a dried body not a moist one, a poured heap
not a compacted one, strength after 110 Cel not strength after 1000 Cel. What a source leaves open
is kept open, with two exceptions written here: a heap, grain or solid whose state is not stated is
taken in the property's canonical state, and a heap whose filling is not stated counts as poured.
Air is the atmosphere where none is stated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

__all__ = ["Condition", "condition_of", "is_canonical"]

Row = Mapping[str, Any]
_BAND: Final = 200.0
"""Width of the bands of body density, kg/m3, as concrete density classes are stepped."""
_BY_DENSITY: Final = frozenset(
    {"thermal_conductivity", "compressive_strength", "modulus_of_rupture", "thermal_diffusivity"}
)
_BY_TREATMENT: Final = frozenset(
    {
        "compressive_strength",
        "modulus_of_rupture",
        "permanent_linear_change",
        "open_porosity",
        "total_porosity",
        "modulus_of_elasticity",
        "permeability",
        "strength_retained",
    }
)
_BY_TEMPERATURE: Final = frozenset(
    {
        "initial_set",
        "final_set",
        "demould_time",
        "permanent_linear_change",
        "oxidation_weight_gain",
        "permanent_volume_change",
    }
)
_STATE_TAKEN: Final = frozenset({"heap", "grain", "solid"})
_AIR: Final = frozenset({None, "air", "oxidising"})


@dataclass(frozen=True, slots=True, order=False)
class Condition:
    """What a group of values shares. Temperatures in kelvin, age in seconds, density kg/m3."""

    form: str
    state: str | None = None
    fill: str | None = None
    with_: str | None = None
    direction: str | None = None
    role: str | None = None
    treatment_temperature: float | None = None
    age: float | None = None
    temperature: float | None = None
    density_band: float | None = None
    atmosphere: str | None = None
    event_kind: str | None = None

    def sort_key(self) -> tuple[tuple[float, str], ...]:
        """Order conditions the same way everywhere; what is not stated comes first."""
        parts = (
            self.form,
            self.state,
            self.fill,
            self.with_,
            self.direction,
            self.role,
            self.treatment_temperature,
            self.age,
            self.temperature,
            self.density_band,
            self.atmosphere,
            self.event_kind,
        )
        return tuple(_sortable(part) for part in parts)


def _sortable(part: str | float | None) -> tuple[float, str]:
    if part is None:
        return -1.0, ""
    return (0.0, part) if isinstance(part, str) else (float(part), "")


def _state(row: Row, property_row: Row) -> str | None:
    if row["state"] is None and row["form"] in _STATE_TAKEN:
        state: str | None = property_row["canonical_state"]
        return state
    stated: str | None = row["state"]
    return stated


def _fill(row: Row) -> str | None:
    if row["form"] != "heap":
        return None
    return row["fill"] or "poured"


def _band(row: Row) -> float | None:
    density = row["specimen_density_low"]
    is_body = row["form"] in ("body", "paste")
    if row["property"] not in _BY_DENSITY or not is_body or density is None:
        return None
    middle = (density + (row["specimen_density_high"] or density)) / 2
    return float(middle // _BAND * _BAND)


_condition: Final = lru_cache(maxsize=4096)(Condition)
"""Conditions are few and come again with every row: each is made once."""


def condition_of(row: Row, property_row: Row) -> Condition:
    """Give the condition a value belongs to."""
    name = row["property"]
    is_strength = property_row["group"] == "strength"
    return _condition(
        row["form"],
        _state(row, property_row),
        _fill(row),
        row["with"],
        row["direction"],
        row["role"],
        row["treatment_temperature"] if name in _BY_TREATMENT else None,
        row["age"] if is_strength else None,
        row["temperature_low"] if name in _BY_TEMPERATURE else None,
        _band(row),
        None if row["atmosphere"] in _AIR else row["atmosphere"],
        row["event_kind"],
    )


def is_canonical(condition: Condition, property_row: Row) -> bool:
    """Tell whether a condition is the one a property is answered in first."""
    if condition.form != property_row["canonical_form"] or condition.fill not in (None, "poured"):
        return False
    if condition.with_ or condition.direction or condition.atmosphere:
        return False
    return property_row["canonical_state"] in (None, condition.state)
