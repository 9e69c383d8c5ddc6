"""What is held and what is missing, holes shown as holes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from flask import request
from sqlalchemy import Connection

from hotface_api.catalogue.holdings import holdings
from hotface_api.http import dumps
from hotface_api.site import words
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing

__all__ = ["show_holdings"]

_FIRST: Final = "aggregate"
_MOST_MISSED: Final = 12
_COLUMNS: Final = ("material", "kind", "values", "held", "missing")


def _flat(item: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "material": item["material"],
        "kind": item["kind"],
        "values": sum(each["values"] for each in item["held"]),
        "held": "; ".join(each["property"] for each in item["held"]),
        "missing": "; ".join(each["property"] for each in item["missing"]),
    }


def show_holdings(page: Page, connection: Connection) -> Showing:
    """Show what is held of the materials of a kind, and what each should have and has not."""
    reference = page.asked.reference
    kind = request.args.get("kind", _FIRST)
    kind = kind if kind in words.KINDS else _FIRST
    names = sorted(key for key, row in reference.materials.items() if row["kind"] == kind)
    held = holdings(connection, reference, tuple(names))
    found = [dumps.holding(page.asked, each) for each in held]
    missed = Counter(each["property"] for item in found for each in item["missing"])
    return Showing(
        "holdings.html",
        {"kind": kind, "items": found, "missed": missed.most_common(_MOST_MISSED)},
        columns=_COLUMNS,
        rows=[_flat(item) for item in found],
        json=page.to("/v1/holdings", kind=kind, limit=200),
    )
