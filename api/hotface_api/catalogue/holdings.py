"""What is held of each material and what is missing, holes shown as holes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, Table, bindparam, func, select

from hotface_api.catalogue.reference import Reference, holds_at
from hotface_api.store.models import Value
from hotface_api.store.quick import Quick

__all__ = ["Held", "Holding", "holdings", "wanted"]

_VALUE: Table = Value.__table__  # type: ignore[assignment]

_WANTED: Final[Mapping[str, tuple[str, ...]]] = {
    "binder": (
        "service_limit",
        "true_density",
        "loose_bulk_density",
        "water_demand",
        "initial_set",
        "final_set",
        "demould_time",
        "compressive_strength",
        "loss_on_ignition",
        "bound_water",
        "thermal_conductivity",
        "specific_heat_capacity",
        "oxide_Al2O3",
        "oxide_CaO",
    ),
    "aggregate": (
        "service_limit",
        "loose_bulk_density",
        "particle_density",
        "true_density",
        "thermal_conductivity",
        "specific_heat_capacity",
        "water_absorption",
        "crush_factor",
        "crystalline_silica_share",
        "mean_expansion_coefficient",
        "oxide_Al2O3",
        "oxide_SiO2",
    ),
    "filler": (
        "service_limit",
        "loose_bulk_density",
        "true_density",
        "thermal_conductivity",
        "specific_heat_capacity",
        "crystalline_silica_share",
        "oxide_Al2O3",
        "oxide_SiO2",
    ),
    "fibre": ("service_limit", "true_density", "melting_temperature"),
    "pore-former": ("loose_bulk_density", "particle_density", "decomposition_temperature"),
    "admixture": ("true_density",),
    "body": (
        "thermal_conductivity",
        "bulk_density",
        "specific_heat_capacity",
        "service_limit",
        "compressive_strength",
        "permanent_linear_change",
        "emissivity",
    ),
    "mineral": (
        "melting_temperature",
        "true_density",
        "thermal_conductivity",
        "specific_heat_capacity",
        "mean_expansion_coefficient",
    ),
}


_COUNTED: Final = Quick(
    select(
        _VALUE.c.material,
        _VALUE.c.property,
        _VALUE.c.form,
        _VALUE.c.basis,
        _VALUE.c.origin,
        func.count().label("values"),
        func.max(_VALUE.c.temperature_high).label("up_to"),
        func.min(_VALUE.c.temperature_low).label("down_to"),
    )
    .where(
        _VALUE.c.material.in_(bindparam("materials", expanding=True)),
        holds_at(_VALUE, bindparam("revision")),
    )
    .group_by(_VALUE.c.material, _VALUE.c.property, _VALUE.c.form, _VALUE.c.basis, _VALUE.c.origin)
)


Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Held:
    """One property of one material; ``up_to`` is the highest temperature stated, kelvin."""

    property: str
    values: int
    origins: int
    forms: tuple[str, ...]
    up_to: float | None
    curve: bool
    unverified: bool


@dataclass(frozen=True, slots=True)
class Holding:
    """What is held of one material, and what its kind should have and has not."""

    material: str
    held: tuple[Held, ...]
    missing: tuple[str, ...]


def wanted(kind: str, reference: Reference) -> tuple[str, ...]:
    """Name the properties the job wants of a kind of material, most needed first."""
    names = [name for name in _WANTED[kind] if name in reference.properties]
    return tuple(sorted(names, key=lambda name: reference.properties[name]["need"]))


def holdings(
    connection: Connection, reference: Reference, materials: tuple[str, ...]
) -> list[Holding]:
    """Count what is held, one statement for all the materials asked about.

    Rows from memory do not count as held; a property known from memory only is marked
    ``unverified`` and still listed as missing.
    """
    grouped: dict[tuple[str, str], list[Row]] = {}
    rows = _COUNTED.rows(connection, materials=materials, revision=reference.revision)
    for row in rows:
        grouped.setdefault((row["material"], row["property"]), []).append(row)
    return [_holding(material, grouped, reference) for material in materials]


def _holding(
    material: str, grouped: Mapping[tuple[str, str], list[Row]], reference: Reference
) -> Holding:
    held = tuple(
        _held(name, grouped[(material, name)], reference)
        for name in reference.properties
        if (material, name) in grouped
    )
    known = {item.property for item in held if not item.unverified}
    kind = reference.materials[material]["kind"]
    missing = tuple(name for name in wanted(kind, reference) if name not in known)
    return Holding(material, held, missing)


def _held(name: str, rows: list[Row], reference: Reference) -> Held:
    cited = [row for row in rows if row["basis"] != "memory"]
    tops = [row["up_to"] for row in rows if row["up_to"] is not None]
    bottoms = [row["down_to"] for row in rows if row["down_to"] is not None]
    spread = bool(tops) and max(tops) > min(bottoms)
    return Held(
        property=name,
        values=sum(row["values"] for row in rows),
        origins=len({row["origin"] for row in cited}),
        forms=tuple(sorted({row["form"] for row in rows})),
        up_to=max(tops) if tops else None,
        curve=spread and bool(reference.properties[name]["varies_with_temperature"]),
        unverified=not cited,
    )
