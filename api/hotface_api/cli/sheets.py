"""Cited values as a CSV that a spreadsheet opens without harm."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, Final

from hotface_api.store.cells import safe_cell

if TYPE_CHECKING:
    from hotface import Value

__all__ = ["COLUMNS", "safe", "sheet"]

COLUMNS: Final[dict[str, Callable[[Any], Any]]] = {
    "property": lambda one: one.property,
    "low": lambda one: one.range.magnitudes.low,
    "typical": lambda one: one.range.magnitudes.typical,
    "high": lambda one: one.range.magnitudes.high,
    "unit": lambda one: one.range.unit,
    "bound": lambda one: one.bound,
    "role": lambda one: one.role,
    "temperature_low": lambda one: one.temperature and one.temperature.magnitudes.low,
    "temperature_high": lambda one: one.temperature and one.temperature.magnitudes.high,
    "temperature_unit": lambda one: one.temperature and one.temperature.unit,
    "condition": lambda one: str(one.condition),
    "as_printed": lambda one: str(one.printed),
    "method": lambda one: one.method,
    "source": lambda one: one.source,
    "locator": lambda one: one.locator,
    "basis": lambda one: one.basis,
    "quoted_in": lambda one: one.quoted_in,
    "origin": lambda one: one.origin,
    "note": lambda one: one.note,
    "value": lambda one: one.id,
}
"""What each column takes of a value."""


def safe(cell: Any) -> Any:
    """Keep a text from being run as a formula; numbers, also negative ones, stay numbers.

    Examples
    --------
    >>> safe("=1+1"), safe(-4.5), safe(None)
    ("'=1+1", -4.5, '')
    """
    if isinstance(cell, str):
        return safe_cell(cell)
    return "" if cell is None else cell


def sheet(values: Iterable[Value]) -> str:
    """Write values as RFC 4180 asks: a header, commas, CRLF."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for one in values:
        writer.writerow([safe(take(one)) for take in COLUMNS.values()])
    return out.getvalue()
