"""Read a Data Package, from a folder or a zip, and check every cell against its own schema.

The schema travels with the data (``datapackage.json``: types, constraints, keys), so this module
knows no column by name. Rows leave it as typed dictionaries; faults name file, row and column.
"""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hotface_api.load.csl import item_faults
from hotface_api.load.descriptor import Descriptor, read_descriptor
from hotface_api.load.faults import Fault, PackageError
from hotface_api.load.files import Files, FilesError, open_files
from hotface_api.store.cells import cell_check, plain_cell

__all__ = ["Fault", "Package", "PackageError", "package_digest", "read_package"]

Row = dict[str, Any]


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


def read_package(path: Path) -> Package:
    """Read and check a Data Package.

    Parameters
    ----------
    path : Path
        The ``datapackage.json``, with its resources beside it, or a ``.zip`` of them all.

    Returns
    -------
    Package

    Raises
    ------
    PackageError
        If any file is missing or any cell, key or reference is wrong; every fault is listed.
    """
    files, descriptor, paths = _open(path)
    contents, faults = _read_files(files, paths.values())
    rows, items = _check(descriptor, contents, faults)
    if faults:
        raise PackageError(faults)
    return Package(descriptor.version, _digest(contents), rows, items, paths)


def package_digest(path: Path) -> str:
    """Give the digest of a package from its bytes alone; no cell is read or checked.

    Raises
    ------
    PackageError
        If a file is missing.
    """
    files, _, paths = _open(path)
    contents, faults = _read_files(files, paths.values())
    if faults:
        raise PackageError(faults)
    return _digest(contents)


def _open(path: Path) -> tuple[Files, Descriptor, dict[str, str]]:
    """Open a package and its descriptor; with the file of each resource."""
    try:
        files = open_files(path)
        content = files.read(files.descriptor)
    except FilesError as error:
        raise PackageError([Fault(path.name, None, None, str(error))]) from error
    descriptor = read_descriptor(files.descriptor, content)
    paths = {name: str(table["path"]) for name, table in descriptor.tables.items()}
    paths["sources"] = descriptor.sources_path
    return files, descriptor, paths


def _read_files(files: Files, names: Iterable[str]) -> tuple[dict[str, bytes], list[Fault]]:
    contents: dict[str, bytes] = {}
    faults: list[Fault] = []
    for name in names:
        try:
            contents[name] = files.read(name)
        except FilesError as error:
            faults.append(Fault(name, None, None, str(error)))
    return contents, faults


def _check(
    descriptor: Descriptor, contents: Mapping[str, bytes], faults: list[Fault]
) -> tuple[dict[str, list[Row]], dict[str, Row]]:
    """Read tables and sources; keys are looked at only where every cell could be read."""
    rows = {
        name: _read_table(table, contents[table["path"]], faults)
        for name, table in descriptor.tables.items()
        if table["path"] in contents
    }
    items: dict[str, Row] = {}
    if descriptor.sources_path in contents:
        items = _read_items(descriptor.sources_path, contents[descriptor.sources_path], faults)
    if not faults:
        for name, table in descriptor.tables.items():
            _check_keys(table, rows[name], faults)
            _check_references(table, rows, faults)
        _check_notes(descriptor, rows["source_notes"], items, faults)
    return rows, items


def _read_table(table: Row, content: bytes, faults: list[Fault]) -> list[Row]:
    """Read one CSV file; rows that are faulty are reported and left out."""
    path = table["path"]
    fields = table["schema"]["fields"]
    names = [definition["name"] for definition in fields]
    checks = [cell_check(definition) for definition in fields]
    rows: list[Row] = []
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        faults.append(Fault(path, None, None, f"is not UTF-8: {error.reason}"))
        return rows
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    try:
        header = next(reader, [])
        if header != names:
            odd = sorted(set(header) ^ set(names)) or ["the order"]
            faults.append(Fault(path, 1, None, f"the header differs: {', '.join(odd)}"))
            return rows
        for number, cells in enumerate(reader, start=2):
            if len(cells) != len(names):
                message = f"{len(cells)} cells where {len(names)} belong"
                faults.append(Fault(path, number, None, message))
                continue
            rows.append(_read_row(path, number, names, checks, cells, faults))
    except csv.Error as error:
        faults.append(Fault(path, reader.line_num, None, f"is not CSV: {error}"))
    return rows


def _read_row(
    file: str,
    number: int,
    names: list[str],
    checks: list[Callable[[str], Any]],
    cells: list[str],
    faults: list[Fault],
) -> Row:
    row: Row = {}
    for name, check, cell in zip(names, checks, cells, strict=True):
        try:
            row[name] = check(cell)
        except ValueError as error:
            faults.append(Fault(file, number, name, str(error)))
            row[name] = None
    if row.get("contributor") is not None:  # made harmless for spreadsheets by the export
        return {name: plain_cell(c) if isinstance(c, str) else c for name, c in row.items()}
    return row


def _check_keys(table: Row, rows: list[Row], faults: list[Fault]) -> None:
    """Primary key and unique columns."""
    schema = table["schema"]
    unique = [f["name"] for f in schema["fields"] if f.get("constraints", {}).get("unique")]
    for names in {tuple(schema["primaryKey"]), *((name,) for name in unique)}:
        seen: dict[tuple[Any, ...], int] = {}
        for number, row in enumerate(rows, start=2):
            key = tuple(row[name] for name in names)
            if key in seen:
                message = f"{key[-1]!r} stands already in row {seen[key]}"
                faults.append(Fault(table["path"], number, names[-1], message))
            seen.setdefault(key, number)


def _check_references(table: Row, rows: Mapping[str, list[Row]], faults: list[Fault]) -> None:
    for key in table["schema"].get("foreignKeys", ()):
        (column,) = key["fields"]
        (target,) = key["reference"]["fields"]
        known = {row[target] for row in rows[key["reference"]["resource"]]}
        for number, row in enumerate(rows[table["name"]], start=2):
            if row[column] is not None and row[column] not in known:
                message = f"{row[column]!r} is not in {key['reference']['resource']}"
                faults.append(Fault(table["path"], number, column, message))


def _read_items(path: str, content: bytes, faults: list[Fault]) -> dict[str, Row]:
    """Read the CSL-JSON list; rows are counted from 1."""
    try:
        listed = json.loads(content)
        items: dict[str, Row] = {}
        for number, item in enumerate(listed, start=1):
            faults += [Fault(path, number, *fault) for fault in item_faults(item)]
            if item["id"] in items:
                faults.append(Fault(path, number, "id", f"{item['id']!r} stands already"))
            items[item["id"]] = item
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        faults.append(Fault(path, None, None, f"is not a CSL-JSON list: {error}"))
        return {}
    return items


def _check_notes(
    descriptor: Descriptor, notes: list[Row], items: Mapping[str, Row], faults: list[Fault]
) -> None:
    """Hold the citations against the table of what is known beyond them."""
    path = descriptor.tables["source_notes"]["path"]
    for number, row in enumerate(notes, start=2):
        if row["id"] not in items:
            message = f"{row['id']!r} is not in {descriptor.sources_path}"
            faults.append(Fault(path, number, "id", message))
    for key in sorted(set(items) - {row["id"] for row in notes}):
        message = f"source {key!r} stands only here and not in {path}"
        faults.append(Fault(descriptor.sources_path, None, "id", message))


def _digest(contents: Mapping[str, bytes]) -> str:
    """Hash the package's files by name and content, whatever the line ends."""
    total = hashlib.sha256()
    for name in sorted(contents):
        content = contents[name].replace(b"\r\n", b"\n")
        total.update(f"{name}\0{len(content)}\0".encode())
        total.update(content)
    return total.hexdigest()
