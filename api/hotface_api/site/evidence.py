"""The values an answer rests on, as the pages list them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from hotface_api.http import shapes
from hotface_api.site.page import Page

__all__ = ["COLUMNS", "flat", "listed"]

Row = Mapping[str, Any]
Shape = dict[str, Any]

_PRINTED: Final = ("low", "typical", "high", "unit")
COLUMNS: Final = (
    "id",
    "material",
    "property",
    "low",
    "typical",
    "high",
    "unit",
    "bound",
    "role",
    "printed_low",
    "printed_typical",
    "printed_high",
    "printed_unit",
    "temperature_low",
    "temperature_high",
    "temperature_unit",
    "form",
    "state",
    "with",
    "condition",
    "source",
    "locator",
    "basis",
    "origin",
    "weight",
    "left_out",
)
"""The columns of a table of values as CSV."""


def listed(page: Page, rows: Iterable[Row], derivation: Shape | None = None) -> list[Shape]:
    """Write values with what they counted for in an answer, those that counted most first."""
    derivation = derivation or {"used": (), "left_out": (), "outliers": ()}
    weights = {use["value"]: use["weight"] for use in derivation["used"]}
    reasons = {each["value"]: each["reason"] for each in derivation["left_out"]}
    found = []
    for row in rows:
        key = row["id"]
        found.append(
            {
                **shapes.value(page.asked, row),
                "weight": weights.get(key),
                "left_out": reasons.get(key),
                "outlier": key in derivation["outliers"],
            }
        )
    return sorted(found, key=lambda each: (each["weight"] is None, -(each["weight"] or 0.0)))


def flat(values: Sequence[Shape]) -> list[Shape]:
    """Write values as rows of a table."""
    return [
        {
            **value,
            **{f"printed_{end}": value["printed"][end] for end in _PRINTED},
            **{
                f"temperature_{end}": (value["temperature"] or {}).get(end)
                for end in ("low", "high", "unit")
            },
            **{name: value["condition"][name] for name in ("form", "state", "with")},
            "condition": value["condition"]["text"],
        }
        for value in values
    ]
