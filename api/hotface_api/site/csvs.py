"""What a page shows, as a small CSV that a spreadsheet can open without harm."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from hotface_api.store.cells import safe_cell

__all__ = ["safe", "write"]


def safe(cell: Any) -> Any:
    """Keep a text from being run as a formula; numbers stay numbers, also as printed."""
    if isinstance(cell, str):
        return safe_cell(cell)
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return "" if cell is None else cell


def write(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> bytes:
    """Write rows as RFC 4180 asks: a header, commas, CRLF, UTF-8."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_MINIMAL, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([safe(row.get(name)) for name in columns])
    return out.getvalue().encode()
