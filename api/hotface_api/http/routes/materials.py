"""Materials: the list with its filters, and one material with what is held of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import Response
from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.holdings import holdings
from hotface_api.catalogue.survival import Question, survive
from hotface_api.http import dumps, shapes
from hotface_api.http.conditional import answer
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import listed, page_of_items, strings
from hotface_api.http.lookup import check_ids, known_material, search
from hotface_api.http.operations import Topic, path_id, reads
from hotface_api.http.paging import page_of, page_slice
from hotface_api.http.parameters import DatedQuery, PageQuery, Words, search_field
from hotface_api.http.quantities import QuantityField
from hotface_api.http.schemas import (
    CautionShape,
    EnvelopeShape,
    HeldShape,
    MaterialItem,
)
from hotface_api.store import read
from hotface_api.store import vocabulary as words

__all__ = ["topic"]

Row = Mapping[str, Any]
topic = Topic("materials", __name__, url_prefix="/v1", description="Generic classes of material.")
_TEXT = ("id", "name", "also_known_as", "description")


class MaterialsQuery(PageQuery):
    """Filters of the list of materials."""

    kind = Words(words.KINDS, metadata={"description": "Kind.", "example": ["aggregate"]})
    family = Words(metadata={"description": "Family of unlike grades.", "example": ["chamotte"]})
    q = search_field("name, id, other names or description", "clay")
    has = Words(
        metadata={
            "description": "Only materials with a value of each of these properties.",
            "example": ["thermal_conductivity"],
        }
    )
    survives = QuantityField(
        "temperature",
        temperature="point",
        metadata={
            "description": "Only materials whose survival at this temperature, alone and with the"
            " default margin, is `yes`.",
            "example": "1050 Cel",
            "in_query": True,
        },
    )


class MaterialShape(MaterialItem, EnvelopeShape):
    """One material, what is held of it and what is missing."""

    grades = strings("Other grades of its family.")
    properties = listed(HeldShape)
    missing = strings("Properties its kind should have and has not, most needed first.")
    cautions = listed(CautionShape)


def _chosen(asked: Asked, query: Mapping[str, Any]) -> list[Row]:
    """Filter by what stands in the material itself."""
    rows = sorted(asked.reference.materials.values(), key=lambda row: str(row["id"]))
    for name in ("kind", "family"):
        if query.get(name):
            rows = [row for row in rows if row[name] in query[name]]
    return search(rows, query.get("q"), _TEXT)


def _surviving(
    connection: Connection, asked: Asked, rows: Sequence[Row], temperature: float
) -> list[Row]:
    questions = [Question(row["id"], temperature) for row in rows]
    answers = survive(connection, asked.reference, questions)
    return [row for row, found in zip(rows, answers, strict=True) if found.outcome == "yes"]


@reads(
    topic,
    "/materials",
    MaterialsQuery,
    page_of_items("MaterialsPage", MaterialItem),
    summary="List materials",
    description="Materials by kind, family, words, what is held of them or what they survive.",
)
def list_materials(query: dict[str, Any]) -> Response:
    """List materials."""
    asked = ask(query)
    check_ids(asked.reference, query, family="family", has="property")
    page = page_of(asked, query)
    rows = _chosen(asked, query)
    with service().database.look() as connection:
        if query.get("has"):
            having = read.having(connection, asked.revision, query["has"])
            rows = [row for row in rows if row["id"] in having]
        if query.get("survives") is not None and rows:
            rows = _surviving(connection, asked, rows, query["survives"])
    return page.answer(asked, page_slice(page, rows), shapes.material)


@reads(
    topic,
    "/materials/<id>",
    DatedQuery,
    MaterialShape,
    summary="One material",
    description="A material, the grades beside it, what is held of it and what is missing.",
    path=(path_id("Material id.", "expanded-perlite"),),
)
def get_material(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a material."""
    asked = ask(query)
    row = known_material(asked.reference, id)
    with service().database.look() as connection:
        (found,) = holdings(connection, asked.reference, (id,))
    document = {
        **shapes.material(row),
        "grades": sorted(asked.reference.grades(id)),
        "properties": [dumps.held(asked, item) for item in found.held],
        "missing": list(found.missing),
        "cautions": [shapes.caution(each) for each in matching_cautions(asked.reference, (id,))],
        **asked.envelope(),
    }
    return answer(asked, document)
