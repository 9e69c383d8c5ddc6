"""Values: the cited figures themselves, one figure, and what became of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from flask import Response
from sqlalchemy import Connection

from hotface_api.http import shapes
from hotface_api.http.conditional import answer
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import page_of_items
from hotface_api.http.lookup import check_ids
from hotface_api.http.operations import Topic, path_id, reads
from hotface_api.http.paging import page_of
from hotface_api.http.parameters import DatedQuery, PageQuery, Words, search_field
from hotface_api.http.problems import Code, Problem, unknown_id
from hotface_api.http.schemas import (
    HistoryShape,
    ValueItem,
    ValueShape,
)
from hotface_api.store import read
from hotface_api.store import vocabulary as words
from hotface_api.store.models import Value

__all__ = ["topic"]

topic = Topic("values", __name__, url_prefix="/v1", description="The cited figures.")
_FILTERS = (
    "id",
    "material",
    "property",
    "source",
    "origin",
    "specimen",
    "basis",
    "role",
    "form",
)


class ValuesQuery(PageQuery):
    """Filters of the list of values."""

    id = Words(metadata={"description": "Value id."})
    material = Words(metadata={"description": "Material.", "example": ["expanded-perlite"]})
    property = Words(metadata={"description": "Property.", "example": ["service_limit"]})
    source = Words(metadata={"description": "Source the figure is attributed to."})
    origin = Words(metadata={"description": "Who first measured."})
    specimen = Words(metadata={"description": "Specimen or curve."})
    basis = Words(words.BASES, metadata={"description": "How known.", "example": ["read"]})
    role = Words(words.ROLES, metadata={"description": "Kind of limit.", "example": ["use_limit"]})
    form = Words(words.FORMS, metadata={"description": "Form.", "example": ["heap"]})
    q = search_field("id, condition, method, locator, note or printed unit", "mean temperature")


@reads(
    topic,
    "/values",
    ValuesQuery,
    page_of_items("ValuesPage", ValueItem),
    summary="List values",
    description="Published and contributed figures with conditions, sources and the figures as"
    " printed. Within a filter any word matches; all filters must.",
)
def list_values(query: dict[str, Any]) -> Response:
    """List values."""
    asked = ask(query)
    check_ids(
        asked.reference,
        query,
        material="material",
        property="property",
        source="source",
        origin="origin",
    )
    page = page_of(asked, query)
    wanted = read.ValueFilter(**{name: query.get(name, ()) for name in _FILTERS}, q=query.get("q"))
    with service().database.look() as connection:
        rows = read.values(connection, asked.revision, wanted, page.after, page.reach)
    return page.answer(asked, rows, partial(shapes.value, asked))


def _absent(connection: Connection, asked: Asked, key: str) -> Problem:
    """Tell a value that was closed from one that never was."""
    rows = read.value_history(connection, asked.revision, key)
    if not any(row["id"] == key for row in rows):
        return unknown_id("value", key, read.known_ids(connection, Value, asked.revision))
    later = [row["id"] for row in rows if row["replaces"] == key]
    detail = f"the value {key!r} is no longer served at revision {asked.revision}"
    detail += f"; it was replaced by {later[0]!r}" if later else "; it was withdrawn"
    return Problem(
        Code.GONE,
        f"{detail}. Its history is kept",
        nearest=later,
        errors=[{"detail": detail, "parameter": "value"}],
    )


@reads(
    topic,
    "/values/<id>",
    DatedQuery,
    ValueShape,
    summary="One value",
    description="A figure with its condition, source, locator and the figures as printed.",
    path=(path_id("Value id.", "expanded-perlite.service_limit.1"),),
    statuses=(410,),
)
def get_value(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a value."""
    asked = ask(query)
    key = _plain(id)
    with service().database.look() as connection:
        row = read.find(connection, Value, asked.revision, key)
        if row is None:
            raise _absent(connection, asked, key)
    return answer(asked, {**shapes.value(asked, row), **asked.envelope()})


def _plain(key: str) -> str:
    """Keep a character out of the database that PostgreSQL refuses in any text."""
    return key.replace("\x00", "\N{REPLACEMENT CHARACTER}")


@reads(
    topic,
    "/values/<id>/history",
    DatedQuery,
    HistoryShape,
    summary="What became of a value",
    description="The value, what it replaced and what replaced it, oldest first. Nothing that was"
    " ever served disappears from here.",
    path=(path_id("Value id.", "expanded-perlite.service_limit.1"),),
)
def get_value_history(query: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Show the history of a value."""
    asked = ask(query)
    key = _plain(id)
    with service().database.look() as connection:
        rows = read.value_history(connection, asked.revision, key)
        if not rows:
            raise unknown_id("value", key, read.known_ids(connection, Value, asked.revision))
    items = [shapes.value(asked, row) for row in rows]
    for item, row in zip(items, rows, strict=True):
        if item["to_revision"] is not None and not _has_successor(row, rows):
            item["status"] = "withdrawn"
    return answer(asked, {"items": items, **asked.envelope()})


def _has_successor(row: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> bool:
    """Tell a row that was mended or replaced from one that was withdrawn."""
    return any(
        other["from_revision"] >= row["to_revision"]
        and (other["id"] == row["id"] or other["replaces"] == row["id"])
        for other in rows
    )
