"""The ``datapackage.json`` of a package, held against the tables of the store.

The descriptor says how cells are read, so it must say it for every table and column the store
keeps, and for no others: a column this version does not know would be lost in silence.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Boolean, Column, Float, Integer

from hotface_api.load.faults import Fault, PackageError
from hotface_api.store.models import RESOURCES
from hotface_api.store.read import table

__all__ = ["SOURCES", "Descriptor", "read_descriptor"]

SOURCES: Final = "sources"
_BOOKKEEPING: Final = frozenset({"row", "from_revision", "to_revision"})
_DERIVED: Final = {
    "values": frozenset({"low", "typical", "high", "status", "version"}),
    "source_notes": frozenset({"item"}),
}


@dataclass(frozen=True, slots=True)
class Descriptor:
    """A checked descriptor: the package's version, tables and the file of its sources."""

    version: str
    tables: dict[str, dict[str, Any]]
    sources_path: str
    content: dict[str, Any]


def read_descriptor(name: str, content: bytes) -> Descriptor:
    """Parse and check a descriptor.

    Parameters
    ----------
    name : str
        Its file name, for messages.
    content : bytes

    Raises
    ------
    PackageError
        If it is not a Data Package of these tables and columns.
    """
    try:
        parsed = json.loads(content)
        resources = {resource["name"]: resource for resource in parsed["resources"]}
        version = str(parsed["version"])
        paths = {key: resource["path"] for key, resource in resources.items()}
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise PackageError([Fault(name, None, None, f"cannot be read: {error}")]) from error
    faults = [Fault(name, None, column, message) for column, message in _faults(resources)]
    if faults:
        raise PackageError(faults)
    tables = {key: resources[key] for key in _wanted()}
    return Descriptor(version, tables, paths[SOURCES], parsed)


def _wanted() -> list[str]:
    return ["source_notes" if key == SOURCES else key for key in RESOURCES]


def _faults(resources: dict[str, Any]) -> Iterator[tuple[str | None, str]]:
    for name in (*_wanted(), SOURCES):
        if name not in resources:
            yield None, f"the resource {name!r} is missing"
    for name in _wanted():
        if name in resources:
            try:
                yield from _schema_faults(name, resources[name]["schema"], resources)
            except (TypeError, KeyError, AttributeError, ValueError) as error:
                yield None, f"the schema of {name!r} cannot be read: {error!r}"


def _schema_faults(
    name: str, schema: dict[str, Any], resources: dict[str, Any]
) -> Iterator[tuple[str | None, str]]:
    given = {field["name"]: field.get("type", "string") for field in schema["fields"]}
    known = _columns(name)
    for column in sorted(set(known) - set(given)):
        yield column, f"the resource {name!r} lacks it"
    for column in sorted(set(given) - set(known)):
        yield column, f"this version does not know it in the resource {name!r}"
    for column in sorted(set(given) & set(known)):
        if given[column] != known[column]:
            yield column, f"in {name!r} it is a {known[column]}, not a {given[column]}"
    if not schema["primaryKey"] or not set(schema["primaryKey"]) <= set(given):
        yield None, f"the primary key of {name!r} names no columns of it"
    for key in schema.get("foreignKeys", ()):
        (column,), (_target,) = key["fields"], key["reference"]["fields"]
        if column not in given or key["reference"]["resource"] not in resources:
            yield column, f"a foreign key of {name!r} leads nowhere"


def _columns(name: str) -> dict[str, str]:
    """Give the type of each column of a resource's table that a package carries."""
    model = RESOURCES[SOURCES if name == "source_notes" else name]
    skipped = _BOOKKEEPING | _DERIVED.get(name, frozenset())
    return {c.name: _type(c) for c in table(model).columns if c.name not in skipped}


def _type(column: Column[Any]) -> str:
    for kind, name in ((Boolean, "boolean"), (Integer, "integer"), (Float, "number")):
        if isinstance(column.type, kind):
            return name
    return "string"
