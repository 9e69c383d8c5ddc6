"""Read a Data Package and check every cell against its own schema.

The schema travels with the data (``datapackage.json``: types, constraints, keys), so this module
knows no column by name. Rows leave it as typed dictionaries; faults name file, row and column.
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

__all__ = ["Fault", "Package", "PackageError", "read_package"]

Row = dict[str, Any]
_MAX_FAULTS = 50
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_WHOLE = re.compile(r"[+-]?\d{1,18}")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a package: where and what. ``row`` counts the header as row 1."""

    file: str
    row: int | None
    column: str | None
    message: str

    def __str__(self) -> str:
        """Say where, then what."""
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", column {self.column}"
        return f"{place}: {self.message}"


class PackageError(ValueError):
    """A package that is refused whole; ``faults`` lists what is wrong, at most fifty."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults[:_MAX_FAULTS]
        shown = "\n".join(f"  {fault}" for fault in self.faults[:10])
        more = f"\n  and {len(faults) - 10} more" if len(faults) > 10 else ""  # noqa: PLR2004
        super().__init__(f"the data package is refused; nothing was loaded:\n{shown}{more}")


@dataclass(slots=True)
class Package:
    """A checked package: typed rows by resource, CSL items by id, version and digest."""

    version: str
    digest: str
    rows: dict[str, list[Row]]
    items: dict[str, Row]
    files: dict[str, str] = field(default_factory=dict)

    def row_number(self, resource: str, index: int) -> int:
        """Give the line a row stands on in its file, counting the header as row 1."""
        del resource
        return index + 2


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
    "string": _text, "number": _number, "integer": _integer, "boolean": _boolean,
}


def _column_check(definition: Row) -> Callable[[str], Any]:
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


def _read_table(path: Path, resource: Row, faults: list[Fault]) -> list[Row]:
    """Read one CSV file; rows that are faulty are reported and left out."""
    fields = resource["schema"]["fields"]
    names = [definition["name"] for definition in fields]
    checks = [_column_check(definition) for definition in fields]
    rows: list[Row] = []
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        faults.append(Fault(path.name, None, None, f"cannot be read: {error}"))
        return rows
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    try:
        header = next(reader, [])
        if header != names:
            odd = sorted(set(header) ^ set(names)) or ["the order"]
            faults.append(Fault(path.name, 1, None, f"the header differs: {', '.join(odd)}"))
            return rows
        for number, cells in enumerate(reader, start=2):
            if len(cells) != len(names):
                message = f"{len(cells)} cells where {len(names)} belong"
                faults.append(Fault(path.name, number, None, message))
                continue
            rows.append(_read_row(path.name, number, names, checks, cells, faults))
    except csv.Error as error:
        faults.append(Fault(path.name, reader.line_num, None, f"is not CSV: {error}"))
    return rows


def _read_row(
    file: str, number: int, names: list[str], checks: list[Callable[[str], Any]],
    cells: list[str], faults: list[Fault],
) -> Row:
    row: Row = {}
    for name, check, cell in zip(names, checks, cells, strict=True):
        try:
            row[name] = check(cell)
        except ValueError as error:
            faults.append(Fault(file, number, name, str(error)))
            row[name] = None
    return row


def _check_keys(resource: Row, rows: list[Row], faults: list[Fault]) -> None:
    """Primary key and unique columns."""
    schema = resource["schema"]
    unique = [f["name"] for f in schema["fields"] if f.get("constraints", {}).get("unique")]
    for names in {tuple(schema["primaryKey"]), *((name,) for name in unique)}:
        seen: dict[tuple[Any, ...], int] = {}
        for number, row in enumerate(rows, start=2):
            key = tuple(row[name] for name in names)
            if key in seen:
                message = f"{key[-1]!r} stands already in row {seen[key]}"
                faults.append(Fault(resource["path"], number, names[-1], message))
            seen.setdefault(key, number)


def _check_references(
    resource: Row, rows: Mapping[str, list[Row]], faults: list[Fault]
) -> None:
    for key in resource["schema"].get("foreignKeys", ()):
        (column,) = key["fields"]
        (target,) = key["reference"]["fields"]
        known = {row[target] for row in rows[key["reference"]["resource"]]}
        for number, row in enumerate(rows[resource["name"]], start=2):
            if row[column] is not None and row[column] not in known:
                message = f"{row[column]!r} is not in {key['reference']['resource']}"
                faults.append(Fault(resource["path"], number, column, message))


def _read_items(path: Path, notes: list[Row], faults: list[Fault]) -> dict[str, Row]:
    """Read the CSL-JSON list and hold it against the table of source notes."""
    try:
        listed = json.loads(path.read_text(encoding="utf-8"))
        items = {str(item["id"]): item for item in listed}
    except (OSError, ValueError, TypeError, KeyError) as error:
        faults.append(Fault(path.name, None, None, f"is not a CSL-JSON list: {error}"))
        return {}
    if len(items) != len(listed):
        faults.append(Fault(path.name, None, None, "an id stands twice"))
    noted = {row["id"] for row in notes}
    for odd in sorted(noted ^ set(items)):
        where = "source_notes" if odd in noted else path.name
        faults.append(Fault(path.name, None, None, f"source {odd!r} stands only in {where}"))
    return items


def _digest(folder: Path, names: Iterator[str]) -> str:
    """Hash the package's files by name and content, whatever the line ends."""
    total = hashlib.sha256()
    for name in sorted(names):
        content = (folder / name).read_bytes().replace(b"\r\n", b"\n")
        total.update(f"{name}\0{len(content)}\0".encode())
        total.update(content)
    return total.hexdigest()


def read_package(descriptor: Path) -> Package:
    """Read and check a Data Package.

    Parameters
    ----------
    descriptor : Path
        The ``datapackage.json``; resources lie beside it.

    Returns
    -------
    Package

    Raises
    ------
    PackageError
        If any file is missing or any cell, key or reference is wrong; every fault is listed.
    """
    try:
        content = json.loads(descriptor.read_text(encoding="utf-8"))
        resources = {resource["name"]: resource for resource in content["resources"]}
        version = str(content["version"])
    except (OSError, ValueError, TypeError, KeyError) as error:
        fault = Fault(descriptor.name, None, None, f"cannot be read: {error}")
        raise PackageError([fault]) from error
    folder = descriptor.parent
    faults: list[Fault] = []
    tables = {name: r for name, r in resources.items() if "schema" in r}
    rows = {name: _read_table(folder / r["path"], r, faults) for name, r in tables.items()}
    if not faults:
        for name, resource in tables.items():
            _check_keys(resource, rows[name], faults)
            _check_references(resource, rows, faults)
    items = _read_items(folder / resources["sources"]["path"], rows["source_notes"], faults)
    if faults:
        raise PackageError(faults)
    files = {name: resource["path"] for name, resource in resources.items()}
    return Package(version, _digest(folder, iter(files.values())), rows, items, files)
