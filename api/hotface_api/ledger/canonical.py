"""One way to write a thing as bytes, so that its digest is the same on every database."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import types
import typing
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, TypeVar

from sqlalchemy import Float, Table

__all__ = ["as_utc", "canonical", "digest", "from_plain", "row_digest", "stamp", "to_plain"]

T = TypeVar("T")
_CHANGES = frozenset({"row", "from_revision", "to_revision", "status", "version"})


def canonical(thing: Any) -> str:
    """Write JSON with sorted keys, no spaces and ASCII only; refuses NaN."""
    return json.dumps(
        thing, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False
    )


def digest(thing: Any) -> str:
    """Give the SHA-256 of the canonical form, in hexadecimal."""
    return hashlib.sha256(canonical(thing).encode()).hexdigest()


def row_digest(table: Table, row: Mapping[str, Any]) -> str:
    """Give the digest of what never changes in a row: its content, not its dates and status."""
    content = {}
    for column in table.columns:
        if column.name in _CHANGES:
            continue
        value = row.get(column.name)
        if value is not None and isinstance(column.type, Float):
            value = float(value)
        content[column.name] = value
    return digest(content)


def as_utc(moment: datetime) -> datetime:
    """Read a moment from the database: SQLite keeps no zone, and all are stored as UTC."""
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def stamp(moment: datetime) -> str:
    """Write a moment as RFC 3339 in UTC, to the microsecond."""
    return as_utc(moment).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def to_plain(thing: Any) -> Any:
    """Turn dataclasses, tuples and dates into what JSON holds."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return {f.name: to_plain(getattr(thing, f.name)) for f in dataclasses.fields(thing)}
    if isinstance(thing, Mapping):
        return {str(key): to_plain(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [to_plain(value) for value in thing]
    if isinstance(thing, datetime):
        return stamp(thing)
    if isinstance(thing, date):
        return thing.isoformat()
    return thing


def from_plain(kind: type[T], plain: Any) -> T:
    """Rebuild a dataclass from what ``to_plain`` made of it."""
    hints = typing.get_type_hints(kind)
    fields = {f.name: _rebuild(hints[f.name], plain[f.name]) for f in dataclasses.fields(kind)}  # type: ignore[arg-type]
    return kind(**fields)


def _rebuild(hint: Any, plain: Any) -> Any:
    origin = typing.get_origin(hint)
    if plain is None:
        return None
    if origin in (typing.Union, types.UnionType):
        return _rebuild(next(a for a in typing.get_args(hint) if a is not types.NoneType), plain)
    if origin is tuple:
        return _rebuild_tuple(typing.get_args(hint), plain)
    if dataclasses.is_dataclass(hint):
        return from_plain(hint, plain)  # type: ignore[arg-type]
    return hint.fromisoformat(plain) if hint in (datetime, date) else plain


def _rebuild_tuple(parts: tuple[Any, ...], plain: Any) -> tuple[Any, ...]:
    if len(parts) > 1 and parts[1] is not Ellipsis:
        return tuple(_rebuild(part, each) for part, each in zip(parts, plain, strict=True))
    return tuple(_rebuild(parts[0], each) for each in plain)
