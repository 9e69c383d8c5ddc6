"""The whole data set at a revision as one Data Package in a zip.

The export is the loader run backwards: the same tables, columns and order of rows, units turned
back into those of the package, figures as printed. It depends on the data alone, so that exporting,
loading into an empty database and exporting again gives the same bytes. Texts of contributors that
a spreadsheet would run as a formula get a quote before them, which the loader takes off again.
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO, Final

from sqlalchemy import Connection, select

from hotface.units import UNITS, Unit, to_si
from hotface_api.load.descriptor import SOURCES, Descriptor, read_descriptor
from hotface_api.load.files import DESCRIPTOR
from hotface_api.store.cells import safe_cell
from hotface_api.store.database import Database
from hotface_api.store.figures import COLUMN_UNITS
from hotface_api.store.models import RESOURCES, Revision
from hotface_api.store.read import bytewise, dated, table
from hotface_seed import PACKAGE_PATH

__all__ = ["BIBLIOGRAPHY", "Bibliography", "RevisionError", "export"]

Row = dict[str, Any]
Bibliography = Callable[[Sequence[Row]], str]
BIBLIOGRAPHY: Final = "sources.bib"
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)
_DIGITS: Final = 17


class RevisionError(LookupError):
    """A revision that the database does not hold."""


def export(
    database: Database, revision: int, target: Path | BinaryIO, bibliography: Bibliography
) -> None:
    """Write the data set as it stood at a revision.

    Parameters
    ----------
    database : Database
    revision : int
    target : Path or binary file
        A path is replaced only once the whole package is written.
    bibliography : callable
        Turns a list of CSL items into BibTeX.

    Raises
    ------
    RevisionError
        If the database does not hold the revision.
    """
    if isinstance(target, Path):
        _export_to_path(database, revision, target, bibliography)
        return
    descriptor = read_descriptor(DESCRIPTOR, PACKAGE_PATH.read_bytes())
    with database.read() as connection:
        version = _version(connection, revision)
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
            _write(archive, DESCRIPTOR, _describe(descriptor, version))
            for name, content in _files(connection, revision, descriptor, bibliography):
                _write(archive, name, content)


def _export_to_path(
    database: Database, revision: int, target: Path, bibliography: Bibliography
) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=target.name, suffix=".part")
    partial = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            export(database, revision, file, bibliography)
        partial.replace(target)
    finally:
        partial.unlink(missing_ok=True)


def _version(connection: Connection, revision: int) -> str:
    """Give the version of the package loaded last, up to the revision."""
    latest = connection.scalar(select(Revision.number).order_by(Revision.number.desc()).limit(1))
    if latest is None or not 1 <= revision <= latest:
        raise RevisionError(f"revision {revision} is not held; the latest is {latest or 0}")
    found = connection.scalar(
        select(Revision.package_version)
        .where(Revision.number <= revision, Revision.kind == "seed")
        .order_by(Revision.number.desc())
        .limit(1)
    )
    return found or "0"


def _describe(descriptor: Descriptor, version: str) -> str:
    content = {**descriptor.content, "version": version}
    content["resources"] = [
        *content["resources"],
        {
            "name": "bibliography",
            "path": BIBLIOGRAPHY,
            "title": "Sources as BibTeX",
            "format": "bib",
            "mediatype": "application/x-bibtex",
            "encoding": "utf-8",
        },
    ]
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _files(
    connection: Connection, revision: int, descriptor: Descriptor, bibliography: Bibliography
) -> Iterator[tuple[str, str]]:
    items: list[Row] = []
    for name, resource in descriptor.tables.items():
        rows = _rows(connection, revision, name)
        yield resource["path"], _table(name, resource, rows)
        if name == "source_notes":
            items = [row["item"] for row in rows]
    listed = json.dumps(items, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
    yield descriptor.sources_path, listed
    yield BIBLIOGRAPHY, bibliography(items)


def _rows(connection: Connection, revision: int, name: str) -> list[Row]:
    """Read the rows of a resource that hold at a revision, ordered by their key, byte by byte."""
    model = RESOURCES[SOURCES if name == "source_notes" else name]
    source = table(model)
    order = (
        (bytewise(source.c.id),)
        if "id" in source.c
        else (bytewise(source.c.specimen), source.c.position)
    )
    statement = select(source).where(dated(model, revision)).order_by(*order)
    return [dict(row) for row in connection.execute(statement).mappings()]


def _table(name: str, resource: Row, rows: Sequence[Row]) -> str:
    columns = [field["name"] for field in resource["schema"]["fields"]]
    units = {column: UNITS[code] for column, code in COLUMN_UNITS.get(name, {}).items()}
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    one = UNITS["1"]
    for row in rows:
        cells = [_cell(row[c], units.get(c, one)) for c in columns]
        writer.writerow(map(safe_cell, cells) if row.get("contributor") else cells)
    return text.getvalue()


def _cell(value: Any, unit: Unit) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return _number(value, unit) if isinstance(value, float) else str(value)


def _number(stored: float, unit: Unit) -> str:
    """Write a number in a unit, as short as it can be and still give the stored one when read."""
    written = _shortest(stored, unit)
    if written is None:  # no decimal number of this unit meets it: take the nearest that stays put
        nearest = to_si((stored - unit.offset) / unit.factor, unit)
        written = _shortest(nearest, unit)
    if written is None:  # pragma: no cover - `nearest` was made from a decimal of the unit
        raise AssertionError
    return written


def _shortest(stored: float, unit: Unit) -> str | None:
    middle = (stored - unit.offset) / unit.factor
    for start in (middle, math.nextafter(middle, math.inf), math.nextafter(middle, -math.inf)):
        for digits in range(1, _DIGITS + 1):
            number = float(f"{start:.{digits}g}")
            if to_si(number, unit) == stored:
                return repr(number + 0.0).removesuffix(".0")  # no minus before zero
    return None


def _write(archive: zipfile.ZipFile, name: str, text: str) -> None:
    """Add a file that tells nothing of when and where it was written."""
    member = zipfile.ZipInfo(name, _EPOCH)
    member.compress_type = zipfile.ZIP_DEFLATED
    member.create_system = 3
    member.external_attr = 0o644 << 16
    archive.writestr(member, text.encode("utf-8"))
