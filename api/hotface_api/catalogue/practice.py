"""Statements of practice: curing, drying, first fire, mixing; each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection

from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.reference import Reference
from hotface_api.store import read
from hotface_api.store.models import Practice

__all__ = ["forget", "practice"]

Row = Mapping[str, Any]
_HELD: Kept[Mapping[str, Row]] = Kept(4)


def forget() -> None:
    """Forget the statements kept."""
    _HELD.clear()


def practice(connection: Connection, reference: Reference) -> Mapping[str, Row]:
    """Give every statement that holds at the revision, by id.

    Notes
    -----
    One statement the first time a revision is asked, none after.
    """
    key = (reference.database_id, reference.revision)
    kept = _HELD.get(key)
    if kept is not None:
        return kept
    rows = read.held(connection, Practice, reference.revision)
    found = {row["id"]: dict(row) for row in rows}
    return _HELD.put(key, found) if reference.database_id else found
