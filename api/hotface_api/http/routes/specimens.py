"""Specimens: measured bodies and published curves, with their recipes and values."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from flask import Response
from marshmallow import fields

from hotface_api.catalogue.nearest import NONE_NEAR, nearest_specimens
from hotface_api.http import dumps, shapes
from hotface_api.http.conditional import answer
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import integer, listed, text
from hotface_api.http.lookup import check_ids, known_material
from hotface_api.http.operations import Topic, path_id, reads
from hotface_api.http.paging import page_of
from hotface_api.http.parameters import (
    Choice,
    DatedQuery,
    PageQuery,
    Words,
    parameter_problem,
    search_field,
)
from hotface_api.http.problems import unknown_id
from hotface_api.http.quantities import QuantityField
from hotface_api.http.schemas import (
    SpecimenItem,
    SpecimenShape,
    ValueItem,
)
from hotface_api.store import read
from hotface_api.store import vocabulary as words
from hotface_api.store.models import Specimen

__all__ = ["topic"]

_SHARE = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?")
topic = Topic("specimens", __name__, url_prefix="/v1", description="Measured bodies and curves.")


class Shares(Words):
    """Materials with their shares, ``cac-40:1``."""

    def read(self, value: Any) -> Any:
        """Read shares above zero by material."""
        shares: dict[str, float] = {}
        for word in super().read(value):
            material, _, number = word.partition(":")
            if not _SHARE.fullmatch(number) or not float(number) > 0:
                raise ma.ValidationError(
                    f"{word[:60]!r} is not a material and a share above zero, as in cac-40:1"
                )
            if material in shares:
                raise ma.ValidationError(f"{material[:60]!r} is given twice")
            shares[material] = float(number)
        return shares


class SpecimensQuery(PageQuery):
    """Filters of the list of specimens."""

    material = Words(metadata={"description": "Material.", "example": ["cac-perlite-castable"]})
    kind = Words(words.SPECIMEN_KINDS, metadata={"description": "Kind.", "example": ["specimen"]})
    source = Words(metadata={"description": "Source."})
    constituent = Words(
        metadata={
            "description": "Only specimens whose recipe holds one of these materials.",
            "example": ["expanded-perlite"],
        }
    )
    q = search_field("id, name, recipe or note", "perlite")
    near = Shares(
        metadata={
            "description": "A dry mix by mass, `material:share`, repeated or with commas: answers"
            " the measured bodies most like it, nearest first, instead of the list by id.",
            "example": ["cac-40:1", "expanded-perlite:0.5"],
        }
    )
    density = QuantityField(
        "density",
        minimum=0.0,
        above=True,
        metadata={
            "description": "With `near`: bulk density of the mix.",
            "example": "900 kg/m3",
            "in_query": True,
        },
    )
    state = Choice(
        words.STATES,
        metadata={"description": "With `near`: the state its density is of.", "example": "dried"},
    )


class NearItem(SpecimenItem):
    """A specimen; with `near`, how far it is from the mix and what was measured on it."""

    distance = fields.Float(metadata={"description": "0: alike in all that is known."})
    because = fields.Dict(
        keys=fields.String(),
        values=fields.Float(),
        metadata={"description": "What the distance is made of."},
    )
    values = fields.List(fields.Nested(ValueItem))


class SpecimensPage(ma.Schema):
    """A page of specimens."""

    items = listed(NearItem)
    next = text("Address of the next page; null on the last.", null=True)
    revision = integer("Revision of the data the list is of.")
    reason = fields.String(metadata={"description": "With `near`: why nothing is listed."})


@reads(
    topic,
    "/specimens",
    SpecimensQuery,
    SpecimensPage,
    summary="List specimens",
    description="Measured bodies and published curves, with their recipes as far as published; or,"
    " with `near`, the measured bodies most like a mix. `near` goes with `density`, `state` and"
    " `limit` only.",
)
def list_specimens(query: dict[str, Any]) -> Response:
    """List specimens."""
    asked = ask(query)
    check_ids(asked.reference, query, material="material", source="source", constituent="material")
    page = page_of(asked, query)
    if query.get("near"):
        return _nearest(asked, query, page.limit)
    _refuse_without_near(query)
    names = ("material", "kind", "source", "constituent")
    wanted = read.SpecimenFilter(**{name: query.get(name, ()) for name in names}, q=query.get("q"))
    with service().database.look() as connection:
        rows = read.specimens(connection, asked.revision, wanted, page.after, page.reach)
        recipes = read.constituents(connection, asked.revision, [row["id"] for row in rows])

    def dump(row: Mapping[str, Any]) -> dict[str, Any]:
        return shapes.specimen(asked, row, recipes[row["id"]])

    return page.answer(asked, rows, dump)


def _refuse_without_near(query: Mapping[str, Any]) -> None:
    for name in ("density", "state"):
        if query.get(name) is not None:
            raise parameter_problem(name, "goes with near")


def _nearest(asked: Asked, query: Mapping[str, Any], limit: int) -> Response:
    """Answer the measured bodies most like a mix, the nearest first."""
    for name in ("material", "kind", "source", "constituent", "q", "cursor"):
        if query.get(name):
            raise parameter_problem(name, "does not go with near")
    for material in query["near"]:
        known_material(asked.reference, material, parameter="near")
    with service().database.look() as connection:
        found = nearest_specimens(
            connection,
            asked.reference,
            composition=query["near"],
            density=query.get("density"),
            state=query.get("state"),
            limit=limit,
        )
    document = {
        "items": [dumps.near_specimen(asked, each) for each in found],
        "next": None,
        "revision": asked.revision,
    }
    return answer(asked, document if found else {**document, "reason": NONE_NEAR})


@reads(
    topic,
    "/specimens/<id>",
    DatedQuery,
    SpecimenShape,
    summary="One specimen",
    description="A measured body or published curve with its recipe and everything measured on it.",
    path=(path_id("Specimen id.", "perlite-concrete-sheet-1-4-low"),),
)
def get_specimen(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a specimen."""
    asked = ask(query)
    key = id.replace("\x00", "\N{REPLACEMENT CHARACTER}")
    with service().database.look() as connection:
        found = read.specimen(connection, asked.revision, key)
        if found is None:
            raise unknown_id("specimen", key, read.known_ids(connection, Specimen, asked.revision))
        row, recipe = found
        values = read.values_of_specimen(connection, asked.revision, key)
    document = {
        **shapes.specimen(asked, row, recipe),
        "values": [shapes.value(asked, value) for value in values],
        **asked.envelope(),
    }
    return answer(asked, document)
