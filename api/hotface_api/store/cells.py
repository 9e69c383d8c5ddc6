"""Cells of CSV files: text into a typed value by a Table Schema, and text no spreadsheet runs."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["cell_check", "plain_cell", "safe_cell"]

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_WHOLE = re.compile(r"[+-]?\d{1,18}")
_RUNS = re.compile(r"'*[=+\-@\t\r\n]")
"""How a text begins that a spreadsheet would run as a formula, or that was guarded from it."""


def _text(cell: str) -> str:
    return cell


def _number(cell: str) -> float:
    if not _NUMBER.fullmatch(cell):
        raise ValueError(f"{cell[:40]!r} is not a number")
    value = float(cell)
    if not math.isfinite(value):
        raise ValueError(f"{cell[:40]!r} is too large")
    return value


def _integer(cell: str) -> int:
    if not _WHOLE.fullmatch(cell):
        raise ValueError(f"{cell[:40]!r} is not a whole number")
    return int(cell)


def _boolean(cell: str) -> bool:
    if cell not in ("true", "false"):
        raise ValueError(f"{cell[:40]!r} is neither true nor false")
    return cell == "true"


_TYPES: dict[str, Callable[[str], Any]] = {
    "string": _text,
    "number": _number,
    "integer": _integer,
    "boolean": _boolean,
}


def cell_check(definition: Mapping[str, Any]) -> Callable[[str], Any]:
    """Compile one field definition into a function from cell text to typed value."""
    read = _TYPES[definition.get("type", "string")]
    rules = definition.get("constraints", {})
    pattern = re.compile(rules["pattern"]) if "pattern" in rules else None
    allowed = frozenset(rules.get("enum", ()))
    low, high = rules.get("minimum"), rules.get("maximum")
    required = rules.get("required", False)

    def check(cell: str) -> Any:
        if cell == "":
            if required:
                raise ValueError("a value is required")
            return None
        value = read(cell)
        if pattern is not None and not pattern.fullmatch(cell):
            raise ValueError(f"{cell[:40]!r} does not have the form {pattern.pattern}")
        if allowed and cell not in allowed:
            raise ValueError(f"{cell[:40]!r} is not one of {', '.join(sorted(allowed))}")
        if (low is not None and value < low) or (high is not None and value > high):
            raise ValueError(f"{cell} is outside {low} to {high}")
        return value

    return check


def safe_cell(text: str | None) -> str:
    r"""Make a cell that a spreadsheet would run as a formula harmless, by a quote before it.

    Plain numbers stay as they are. A text that begins so behind quotes gets one more, so that
    ``plain_cell`` gives back every text.

    Examples
    --------
    >>> safe_cell('=HYPERLINK("x")'), safe_cell("-4.5e-6"), safe_cell("-a"), safe_cell("'=a")
    ('\'=HYPERLINK("x")', '-4.5e-6', "'-a", "''=a")
    """
    if text is None:
        return ""
    guarded = _RUNS.match(text) and not _NUMBER.fullmatch(text)
    return f"'{text}" if guarded else text


def plain_cell(cell: str) -> str:
    """Give the text that ``safe_cell`` made harmless.

    Examples
    --------
    >>> plain_cell("'-a"), plain_cell("'a'"), plain_cell("-4.5")
    ('-a', "'a'", '-4.5')
    """
    return cell[1:] if cell[:1] == "'" and _RUNS.match(cell) else cell
