"""Properties: their definitions, and what is known of one property of one material."""

from __future__ import annotations

from typing import Any

from flask import Response
from marshmallow import fields, validate

from hotface_api.catalogue.properties import Asked as PropertyQuestion
from hotface_api.catalogue.properties import property_answer
from hotface_api.http import dumps, shapes
from hotface_api.http.answer_schemas import PropertyAnswerShape
from hotface_api.http.conditional import answer
from hotface_api.http.context import ask, service
from hotface_api.http.documented import page_of_items
from hotface_api.http.lookup import known_material, known_property, search
from hotface_api.http.operations import Topic, path_id, reads
from hotface_api.http.paging import page_of, page_slice
from hotface_api.http.parameters import (
    Choice,
    DatedQuery,
    Flag,
    PageQuery,
    Words,
    search_field,
    word_field,
)
from hotface_api.http.quantities import QuantityField
from hotface_api.http.schemas import (
    EnvelopeShape,
    PropertyItem,
)
from hotface_api.store import vocabulary as words

__all__ = ["topic"]

topic = Topic("properties", __name__, url_prefix="/v1", description="Quantities and answers.")
_TEXT = ("id", "name", "definition", "standard")
_MAX_POINTS = 200


class PropertiesQuery(PageQuery):
    """Filters of the list of properties."""

    group = Words(words.GROUPS, metadata={"description": "Group.", "example": ["thermal"]})
    q = search_field("name, id, definition or standard", "conductivity")


class PropertyShape(PropertyItem, EnvelopeShape):
    """One property, alone."""


class PropertyQuestionQuery(DatedQuery):
    """What a property answer can be asked beyond material and property."""

    at = fields.List(
        QuantityField("temperature", temperature="point", metadata={"in_query": True}),
        validate=validate.Length(1, _MAX_POINTS),
        metadata={
            "description": "Temperature to answer at; may be repeated. Without it a curve is"
            " answered whole.",
            "example": ["600 Cel"],
        },
    )
    form = Choice(words.FORMS, metadata={"description": "Form.", "example": "heap"})
    state = Choice(words.STATES, metadata={"description": "State.", "example": "fired"})
    with_ = word_field("Partner material the figures hold with.", "cac-40", data_key="with")
    extrapolate = Flag(
        load_default=False,
        metadata={
            "description": "Answer outside the span of the evidence too, widened and marked.",
            "example": True,
        },
    )


@reads(
    topic,
    "/properties",
    PropertiesQuery,
    page_of_items("PropertiesPage", PropertyItem),
    summary="List properties",
    description="Properties with their definitions, units and rules.",
)
def list_properties(query: dict[str, Any]) -> Response:
    """List properties."""
    asked = ask(query)
    rows = sorted(asked.reference.properties.values(), key=lambda row: str(row["id"]))
    if query.get("group"):
        rows = [row for row in rows if row["group"] in query["group"]]
    page = page_of(asked, query)
    found = page_slice(page, search(rows, query.get("q"), _TEXT))
    return page.answer(asked, found, shapes.property_)


@reads(
    topic,
    "/properties/<id>",
    DatedQuery,
    PropertyShape,
    summary="One property",
    description="A property's definition, units and the rules of its ranges.",
    path=(path_id("Property id.", "thermal_conductivity"),),
)
def get_property(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a property."""
    asked = ask(query)
    row = known_property(asked.reference, id)
    return answer(asked, {**shapes.property_(row), **asked.envelope()})


@reads(
    topic,
    "/materials/<id>/properties/<property>",
    PropertyQuestionQuery,
    PropertyAnswerShape,
    summary="What is known of a property of a material",
    description="The range to expect, what was published, the curve over temperature, every value"
    " used with its weight and every one left out with the reason. Unlike conditions are never"
    " merged: the others stand beside.",
    path=(
        path_id("Material id.", "expanded-perlite"),
        path_id("Property id.", "thermal_conductivity", "property"),
    ),
)
def get_material_property(query: dict[str, Any], id: str, property: str) -> Response:  # noqa: A002
    """Answer a property of a material."""
    asked = ask(query)
    known_material(asked.reference, id)
    known_property(asked.reference, property)
    partner = query.get("with_")
    if partner is not None:
        known_material(asked.reference, partner, parameter="with")
    question = PropertyQuestion(
        at=tuple(query.get("at") or ()),
        form=query.get("form"),
        state=query.get("state"),
        with_=partner,
        extrapolate=query["extrapolate"],
    )
    with service().database.look() as connection:
        found = property_answer(connection, asked.reference, id, property, question)
    return answer(asked, dumps.property_answer(asked, found))
