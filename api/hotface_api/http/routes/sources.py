"""Sources: citations as CSL-JSON or BibTeX, whichever is accepted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import orjson
from flask import Response, g
from sqlalchemy import Connection

from hotface_api.http import bibtex, shapes
from hotface_api.http.conditional import answer, answer_text
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import page_of_items
from hotface_api.http.lookup import check_ids
from hotface_api.http.operations import Topic, path_id, reads
from hotface_api.http.paging import Page, link, page_of, page_slice
from hotface_api.http.parameters import DatedQuery, PageQuery, Words, search_field
from hotface_api.http.problems import unknown_id
from hotface_api.http.schemas import (
    EnvelopeShape,
    SourceItem,
)
from hotface_api.store import read
from hotface_api.store import vocabulary as words
from hotface_api.store.models import Source

__all__ = ["CSL", "topic"]

Row = Mapping[str, Any]
CSL: Final = "application/vnd.citationstyles.csl+json"
topic = Topic("sources", __name__, url_prefix="/v1", description="Who says so.")
_ITEM: Final = {"type": "object", "description": "A CSL-JSON item."}
_TEXT: Final = {"type": "string", "description": "BibTeX entries."}


class SourcesQuery(PageQuery):
    """Filters of the list of sources."""

    id = Words(metadata={"description": "Source id.", "example": ["bell-2016-chemicals-cp"]})
    source_type = Words(
        words.SOURCE_TYPES, metadata={"description": "Source type.", "example": ["journal"]}
    )
    origin = Words(
        metadata={"description": "Who first measured.", "example": ["munro-1997-alumina"]}
    )
    q = search_field("id, title, container, publisher or author", "castable")


class SourceShape(SourceItem, EnvelopeShape):
    """One source, alone."""


def _searchable(row: Row) -> str:
    """Give the words of a citation that people search for."""
    item = row["item"]
    names = [text for person in item.get("author", ()) for text in person.values()]
    fields = [item.get(name, "") for name in ("title", "container-title", "publisher", "number")]
    return "\n".join(map(str, [row["id"], *fields, *names])).casefold()


def _matching(
    connection: Connection, asked: Asked, page: Page, query: Mapping[str, Any]
) -> Sequence[Row]:
    """Read the sources of a page; words are looked for in what people search for."""
    wanted = {name: query.get(name) for name in ("id", "source_type", "origin")}
    if query.get("q") is None:
        return read.page(connection, Source, asked.revision, wanted, page.after, page.reach)
    sought = query["q"].casefold().split()
    rows = read.held(connection, Source, asked.revision)
    for name, chosen in wanted.items():
        if chosen:
            rows = [row for row in rows if row[name] in chosen]
    return page_slice(
        page, [row for row in rows if all(word in _searchable(row) for word in sought)]
    )


def _csl(rows: Sequence[Row]) -> bytes:
    return orjson.dumps([row["item"] for row in rows])


def _bibtex(rows: Sequence[Row]) -> bytes:
    return bibtex.entries(row["item"] for row in rows).encode()


_WRITERS: Final = {CSL: _csl, bibtex.MEDIA_TYPE: _bibtex}


@reads(
    topic,
    "/sources",
    SourcesQuery,
    page_of_items("SourcesPage", SourceItem),
    others={CSL: {"type": "array", "items": _ITEM}, bibtex.MEDIA_TYPE: _TEXT},
    summary="List sources",
    description="Sources as JSON with paging, as bare CSL-JSON items, or as BibTeX; the `Link`"
    " header leads on in all three.",
)
def list_sources(query: dict[str, Any]) -> Response:
    """List sources."""
    asked = ask(query)
    check_ids(asked.reference, query, id="source", origin="origin")
    page = page_of(asked, query)
    with service().database.look() as connection:
        found = _matching(connection, asked, page, query)
    if g.media in _WRITERS:
        body = _WRITERS[g.media](found[: page.limit])
        return answer_text(asked, body, link(page.following(asked, found)))
    return page.answer(asked, found, shapes.source)


@reads(
    topic,
    "/sources/<id>",
    DatedQuery,
    SourceShape,
    others={CSL: _ITEM, bibtex.MEDIA_TYPE: _TEXT},
    summary="One source",
    description="A source as JSON, as a bare CSL-JSON item, or as BibTeX.",
    path=(path_id("Source id.", "astm-1997-c155"),),
)
def get_source(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a source."""
    asked = ask(query)
    if id not in asked.reference.source_types:
        raise unknown_id("source", id, asked.reference.source_types)
    with service().database.look() as connection:
        row = read.find(connection, Source, asked.revision, id)
    if row is None:  # pragma: no cover - the reference and the table are of one revision
        raise AssertionError
    if g.media == CSL:
        return answer_text(asked, orjson.dumps(row["item"]))
    if g.media == bibtex.MEDIA_TYPE:
        return answer_text(asked, bibtex.entry(row["item"]).encode())
    return answer(asked, {**shapes.source(row), **asked.envelope()})
