"""The values an answer rests on: one statement a question, however many values it has."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import BindParameter, Connection, Table, bindparam, or_, select

from hotface_api.catalogue.reference import Reference, holds_at
from hotface_api.store.models import Value
from hotface_api.store.quick import Quick
from hotface_api.store.read import bytewise

__all__ = [
    "SOURCE_WEIGHTS",
    "centre",
    "edges",
    "limit_rows",
    "material_rows",
    "weighed_limits",
    "weighed_rows",
    "weight",
]

Row = Mapping[str, Any]
_VALUE: Table = Value.__table__  # type: ignore[assignment]

SOURCE_WEIGHTS: Final[Mapping[str, float]] = {
    "standard": 1.0,
    "handbook": 1.0,
    "journal": 1.0,
    "dataset": 1.0,
    "report": 0.8,
    "patent": 0.5,
    "encyclopedia": 0.5,
    "supplier": 0.4,
    "web": 0.3,
}
"""How much one origin's word counts, by the best source type it is seen in. Our judgement: texts
that say how a figure was measured count in full, repeated or promoted figures less. A contributed
measurement (basis ``measured``) counts like a report; memory counts only where nothing else is."""

_MEASURED_WEIGHT: Final = 0.8
_MEMORY_WEIGHT: Final = 0.1


_AT: Final = holds_at(_VALUE, bindparam("revision"))
_NAMES: Final[BindParameter[Any]] = bindparam("names", expanding=True)
_PROPERTIES: Final[BindParameter[Any]] = bindparam("properties", expanding=True)
_IN_ORDER: Final = bytewise(_VALUE.c.id)
_WEIGHED: Final = tuple(
    _VALUE.c[name]
    for name in (
        "id",
        "material",
        "property",
        "low",
        "typical",
        "high",
        "bound",
        "role",
        "event_kind",
        "temperature_low",
        "temperature_high",
        "form",
        "state",
        "fill",
        "treatment_temperature",
        "age",
        "specimen_density_low",
        "specimen_density_high",
        "with",
        "place",
        "load",
        "atmosphere",
        "direction",
        "condition_text",
        "source",
        "basis",
        "origin",
        "specimen",
        "uncertainty_standard",
    )
)
"""What an answer goes by; the other half of a row is for those who read it."""
_ABOUT: Final = or_(_VALUE.c.material.in_(_NAMES), _VALUE.c["with"].in_(_NAMES))
_ONE: Final = Quick(
    select(*_WEIGHED)
    .where(
        _VALUE.c.material == bindparam("material"),
        _VALUE.c.property == bindparam("property"),
        _AT,
    )
    .order_by(_IN_ORDER)
)
_MANY: Final = Quick(
    select(_VALUE)
    .where(_VALUE.c.material.in_(_NAMES), _VALUE.c.property.in_(_PROPERTIES), _AT)
    .order_by(_IN_ORDER)
)
_LIMITS: Final = Quick(
    select(_VALUE).where(_ABOUT, _VALUE.c.property.in_(_PROPERTIES), _AT).order_by(_IN_ORDER)
)
_LIMITS_WEIGHED: Final = Quick(
    select(*_WEIGHED).where(_ABOUT, _VALUE.c.property.in_(_PROPERTIES), _AT).order_by(_IN_ORDER)
)


def weighed_rows(
    connection: Connection, reference: Reference, material: str, property_: str
) -> Sequence[Row]:
    """Read what an answer goes by: one property of one material, as ``material_rows`` does."""
    return _ONE.rows(connection, material=material, property=property_, revision=reference.revision)


def material_rows(
    connection: Connection,
    reference: Reference,
    materials: Collection[str],
    properties: Collection[str],
) -> Sequence[Row]:
    """Read the values of some materials and properties that hold at a revision, ordered by id.

    The dates alone decide: a pending value has none, a withdrawn one holds until it was withdrawn.
    """
    return _MANY.rows(
        connection,
        names=sorted(set(materials)),
        properties=sorted(set(properties)),
        revision=reference.revision,
    )


def limit_rows(
    connection: Connection, reference: Reference, materials: Collection[str]
) -> Sequence[Row]:
    """Read every limit and oxide row that concerns some materials, as subject or as partner."""
    return _limits(connection, reference, materials, _LIMITS)


def weighed_limits(
    connection: Connection, reference: Reference, materials: Collection[str]
) -> Sequence[Row]:
    """Read what a survival answer goes by, of the rows ``limit_rows`` reads."""
    return _limits(connection, reference, materials, _LIMITS_WEIGHED)


def _limits(
    connection: Connection,
    reference: Reference,
    materials: Collection[str],
    limits: Quick,
) -> Sequence[Row]:
    wanted = sorted(
        key
        for key, row in reference.properties.items()
        if row["group"] == "limit" or key.startswith("oxide_") or key == "inversion_step"
    )
    return limits.rows(
        connection,
        names=sorted(set(materials)),
        properties=wanted,
        revision=reference.revision,
    )


def weight(row: Row, reference: Reference) -> float:
    """Weigh a row by how it is known and where it stands."""
    if row["basis"] == "memory":
        return _MEMORY_WEIGHT
    if row["basis"] == "measured":
        return _MEASURED_WEIGHT
    if row["source"] is None:
        return _MEMORY_WEIGHT
    return SOURCE_WEIGHTS[reference.source_types[row["source"]]]


def edges(row: Row) -> tuple[float, float]:
    """Give the low and high figure of a row; equal where it holds a single one."""
    low, typical, high = row["low"], row["typical"], row["high"]
    if low is None and high is None:
        return typical, typical
    if low is None:
        low = high if typical is None else typical
    if high is None:
        high = low if typical is None else typical
    return low, high


def centre(row: Row) -> float:
    """Give the typical figure of a row, or the middle of its range."""
    low, high = edges(row)
    return float(row["typical"] if row["typical"] is not None else (low + high) / 2)
