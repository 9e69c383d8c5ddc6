"""Holdings: what is held of each material, and what is missing."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Response

from hotface_api.catalogue.holdings import Holding, holdings
from hotface_api.http import dumps
from hotface_api.http.answer_schemas import HoldingItem
from hotface_api.http.conditional import answer
from hotface_api.http.context import ask, service
from hotface_api.http.documented import page_of_items
from hotface_api.http.lookup import check_ids
from hotface_api.http.operations import Topic, reads
from hotface_api.http.paging import link, page_of, page_slice
from hotface_api.http.parameters import PageQuery, Words
from hotface_api.store import vocabulary as words

__all__ = ["topic"]

topic = Topic("holdings", __name__, url_prefix="/v1", description="What is held and what is not.")


class HoldingsQuery(PageQuery):
    """Filters of the holdings."""

    material = Words(metadata={"description": "Material.", "example": ["expanded-perlite"]})
    kind = Words(words.KINDS, metadata={"description": "Kind.", "example": ["binder"]})
    property = Words(
        metadata={
            "description": "Show these properties only, held or missing.",
            "example": ["service_limit"],
        }
    )


def _narrowed(found: Holding, wanted: tuple[str, ...]) -> Holding:
    if not wanted:
        return found
    return Holding(
        found.material,
        tuple(item for item in found.held if item.property in wanted),
        tuple(name for name in found.missing if name in wanted),
    )


@reads(
    topic,
    "/holdings",
    HoldingsQuery,
    page_of_items("HoldingsPage", HoldingItem),
    summary="What is held and what is missing",
    description="For each material the properties held, with counts of values and independent"
    " origins, and those its kind should have and has not. Holes are shown as holes.",
)
def list_holdings(query: dict[str, Any]) -> Response:
    """List holdings."""
    asked = ask(query)
    check_ids(asked.reference, query, material="material", property="property")
    page = page_of(asked, query)
    rows = sorted(asked.reference.materials.values(), key=lambda row: str(row["id"]))
    for parameter, name in (("material", "id"), ("kind", "kind")):
        if query.get(parameter):
            rows = [row for row in rows if row[name] in query[parameter]]
    shown = page_slice(page, rows)
    names = tuple(row["id"] for row in shown[: page.limit])
    with service().database.look() as connection:
        found = holdings(connection, asked.reference, names)
    dump = partial(dumps.holding, asked)
    following = page.following(asked, shown)
    document = {
        "items": [dump(_narrowed(each, query.get("property", ()))) for each in found],
        "next": following,
        "revision": asked.revision,
    }
    return answer(asked, document, link(following))
