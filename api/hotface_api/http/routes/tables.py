"""The small tables: phases, cones, classes, standards, cautions, and the revisions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from flask import Response

from hotface_api.http import schemas, shapes
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import page_of_items
from hotface_api.http.lookup import check_ids, search
from hotface_api.http.operations import Topic, reads
from hotface_api.http.paging import page_of, page_slice
from hotface_api.http.parameters import PageQuery, Words, search_field
from hotface_api.store import read
from hotface_api.store.base import Base
from hotface_api.store.models import Caution, ClassLimit, Cone, Phase, Standard

__all__ = ["topic"]

Row = Mapping[str, Any]
topic = Topic("tables", __name__, url_prefix="/v1", description="Reference tables and revisions.")


class TableQuery(PageQuery):
    """What every small table accepts."""

    q = search_field("any text of the row", "cone")


def _table(
    query: Mapping[str, Any],
    model: type[Base],
    fields: tuple[str, ...],
    dump: Callable[[Asked, Row], Any],
    *,
    words: tuple[str, ...] = (),
    keep: Callable[[Row], bool] | None = None,
) -> Response:
    """Answer with a page of a small table.

    Parameters
    ----------
    query : mapping
        The query as read.
    model : type of Base
        The table.
    fields : tuple of str
        The columns text is searched in.
    dump : callable
        Writes a row.
    words : tuple of str
        Columns that are filtered by the parameter of the same name.
    keep : callable, optional
        A further filter.
    """
    asked = ask(query)
    page = page_of(asked, query)
    wanted = {name: query.get(name) for name in words}
    with service().database.look() as connection:
        if keep is None and query.get("q") is None:
            found: Sequence[Row] = read.page(
                connection, model, asked.revision, wanted, page.after, page.reach
            )
        else:
            rows = search(read.held(connection, model, asked.revision), query.get("q"), fields)
            found = page_slice(page, [row for row in rows if _fits(row, wanted, keep)])
    return page.answer(asked, found, partial(dump, asked))


def _fits(row: Row, wanted: Mapping[str, Any], keep: Callable[[Row], bool] | None) -> bool:
    return all(not words or row[name] in words for name, words in wanted.items()) and (
        keep is None or keep(row)
    )


class PhasesQuery(TableQuery):
    """Filters of the phases."""

    oxide = Words(
        metadata={
            "description": "Only systems that hold every one of these oxides.",
            "example": ["CaO"],
        }
    )
    kind = Words(metadata={"description": "Kind of point.", "example": ["eutectic"]})


@reads(
    topic,
    "/phases",
    PhasesQuery,
    page_of_items("PhasesPage", schemas.PhaseItem),
    summary="List phases",
    description="Invariant and melting points of oxide systems.",
)
def list_phases(query: dict[str, Any]) -> Response:
    """List phases."""
    wanted = set(query.get("oxide", ()))
    return _table(
        query,
        Phase,
        ("id", "oxides", "phases", "composition", "note"),
        shapes.phase,
        words=("kind",),
        keep=(lambda row: wanted <= set(row["oxides"].split("-"))) if wanted else None,
    )


class ConesQuery(TableQuery):
    """Filters of the cones."""

    series = Words(metadata={"description": "Cone series.", "example": ["orton-large"]})
    cone = Words(metadata={"description": "Cone number as printed.", "example": ["10"]})


@reads(
    topic,
    "/cones",
    ConesQuery,
    page_of_items("ConesPage", schemas.ConeItem),
    summary="List cones",
    description="End points of pyrometric cones by series and heating rate. A cone is an ordinal"
    " scale: it marks heat work, not a temperature alone.",
)
def list_cones(query: dict[str, Any]) -> Response:
    """List cones."""
    return _table(
        query, Cone, ("id", "series", "cone", "note"), shapes.cone, words=("series", "cone")
    )


class ClassesQuery(TableQuery):
    """Filters of the class limits."""

    standard = Words(metadata={"description": "Standard.", "example": ["ASTM C155"]})
    edition = Words(
        metadata={
            "description": "Edition, as the source that is held names it.",
            "example": ["older edition"],
        }
    )


@reads(
    topic,
    "/classes",
    ClassesQuery,
    page_of_items("ClassesPage", schemas.ClassItem),
    summary="List class limits",
    description="Class limits of standards by edition, in the unit of the standard. A class"
    " temperature is that of a test, not of use.",
)
def list_classes(query: dict[str, Any]) -> Response:
    """List class limits."""
    return _table(
        query,
        ClassLimit,
        ("id", "standard", "edition", "class", "quantity", "note"),
        shapes.class_limit,
        words=("standard", "edition"),
    )


@reads(
    topic,
    "/standards",
    TableQuery,
    page_of_items("StandardsPage", schemas.StandardItem),
    summary="List standards",
    description="What each standard fixes.",
)
def list_standards(query: dict[str, Any]) -> Response:
    """List standards."""
    return _table(query, Standard, ("id", "number", "title", "fixes", "note"), shapes.standard)


class CautionsQuery(TableQuery):
    """Filters of the cautions."""

    material = Words(
        metadata={"description": "Only cautions that name these.", "example": ["quartz-sand"]}
    )
    trigger = Words(
        metadata={"description": "Step of the work that brings it.", "example": ["first-fire"]}
    )


@reads(
    topic,
    "/cautions",
    CautionsQuery,
    page_of_items("CautionsPage", schemas.CautionItem),
    summary="List cautions",
    description="Hazards: fact, regulator's figure and our advice kept apart.",
)
def list_cautions(query: dict[str, Any]) -> Response:
    """List cautions."""
    check_ids(ask(query).reference, query, material="material")
    wanted = set(query.get("material", ()))
    return _table(
        query,
        Caution,
        ("id", "hazard", "fact", "figure", "advice"),
        shapes.full_caution,
        words=("trigger",),
        keep=(lambda row: bool(wanted & set(shapes.parts(row["materials"])))) if wanted else None,
    )


@reads(
    topic,
    "/revisions",
    PageQuery,
    page_of_items("RevisionsPage", schemas.RevisionItem),
    summary="List revisions",
    description="Every accepted change of what is served, newest first.",
)
def list_revisions(query: dict[str, Any]) -> Response:
    """List revisions."""
    asked = ask(query)
    page = page_of(asked, query)
    with service().database.look() as connection:
        rows = read.revisions(connection, asked.revision, page.number(), page.reach)
    return page.answer(asked, rows, shapes.revision, key="number")
