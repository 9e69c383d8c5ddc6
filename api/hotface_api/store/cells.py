"""One cell of a table as text into a typed value, by the field definition of a Table Schema."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["cell_check"]

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_WHOLE = re.compile(r"[+-]?\d{1,18}")


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
