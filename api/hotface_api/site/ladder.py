"""What happens to a material as it heats, from cold to hot, each step with who says so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hotface_api.catalogue.evidence import edges
from hotface_api.http import shapes
from hotface_api.http.context import Asked
from hotface_api.site import words

__all__ = ["Step", "limit_properties", "steps"]

Row = Mapping[str, Any]
Shape = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that happens, over the span its sources give it."""

    property: str
    role: str
    says: str
    at: Shape
    partner: str | None
    origins: int
    memory_only: bool
    values: tuple[Shape, ...]
    starts: float


def limit_properties(properties: Mapping[str, Row]) -> tuple[str, ...]:
    """Name the properties that are temperatures at which something happens."""
    return tuple(
        key
        for key, row in properties.items()
        if row["group"] == "limit" and row["temperature_kind"] == "point"
    )


def _key(row: Row) -> tuple[str, ...]:
    """Tell unlike things apart: what happens, in which role, with which partner."""
    return (
        row["property"],
        row["role"] or "event",
        row["event_kind"] or "",
        row["with"] or "",
    )


def steps(asked: Asked, rows: Iterable[Row]) -> list[Step]:
    """Group limit rows into steps, coldest first.

    Parameters
    ----------
    asked : Asked
    rows : iterable of rows
        Values of limit properties of one material.
    """
    grouped: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        grouped.setdefault(_key(row), []).append(row)
    made = [_step(asked, members) for members in grouped.values()]
    return sorted(made, key=lambda step: (step.starts, step.property, step.role))


def _step(asked: Asked, rows: Sequence[Row]) -> Step:
    first = rows[0]
    cited = [row for row in rows if row["basis"] != "memory"]
    counted = cited or rows
    low = min(edges(row)[0] for row in counted)
    high = max(edges(row)[1] for row in counted)
    ordered = sorted(rows, key=lambda row: (edges(row), row["id"]))
    return Step(
        property=first["property"],
        role=first["role"] or "event",
        says=words.role(first["role"], first["event_kind"], first["property"]),
        at=_span(asked, counted, low, high),
        partner=first["with"],
        origins=len({row["origin"] for row in cited}),
        memory_only=not cited,
        values=tuple(shapes.value(asked, row) for row in ordered),
        starts=low,
    )


def _span(asked: Asked, rows: Sequence[Row], low: float, high: float) -> Shape:
    """Write the span; a side that only floors or only ceilings give is open."""
    bounds = {row["bound"] for row in rows}
    found = asked.output.span(
        "temperature",
        None if bounds == {"at_most"} else low,
        None if bounds == {"at_least"} else high,
    )
    assert found is not None  # noqa: S101 - one side is held: a value holds a number
    return found
