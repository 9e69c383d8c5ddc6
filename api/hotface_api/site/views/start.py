"""The start page, how to read the pages, and the files pages are made with."""

from __future__ import annotations

from importlib.resources import files
from typing import Final

from flask import Response
from sqlalchemy import Connection

from hotface_api.catalogue.holdings import holdings
from hotface_api.http.problems import Code, Problem
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing

__all__ = ["asset", "show_reading", "show_start"]

_ASSETS: Final = {
    "site.css": "text/css; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
_EXAMPLE: Final = {
    "title": "Kiln lid",
    "bucket": "10",
    "material_1": "cac-40",
    "amount_1": "25",
    "unit_1": "kg",
    "material_2": "expanded-clay",
    "amount_2": "5",
    "unit_2": "bucket",
    "fill_2": "poured",
    "material_3": "chamotte-40",
    "amount_3": "10",
    "unit_3": "kg",
    "water": "12",
    "water_unit": "L",
    "fired_at": "1000",
}
"""Our own scenario: a pottery club casts the lid of a small wood-fired kiln. No published mix."""
_EXAMPLE_US: Final = {
    **_EXAMPLE,
    "bucket": "5",
    "amount_1": "55",
    "unit_1": "[lb_av]",
    "amount_2": "2.5",
    "amount_3": "22",
    "unit_3": "[lb_av]",
    "water": "3.2",
    "water_unit": "[gal_us]",
    "fired_at": "1832",
}


def show_start(page: Page, connection: Connection) -> Showing:
    """Ask the three questions."""
    reference = page.asked.reference
    held = holdings(connection, reference, tuple(reference.materials))
    counts = {
        "values": sum(each.values for item in held for each in item.held),
        "materials": len(reference.materials),
        "properties": len(reference.properties),
        "sources": len(reference.source_types),
    }
    return Showing(
        "start.html",
        {
            "names": reference.materials,
            "counts": counts,
            "unit": page.asked.output.unit("temperature").code,
            "example": _EXAMPLE_US if page.units == "us" else _EXAMPLE,
        },
        columns=("held", "count"),
        rows=[{"held": name, "count": count} for name, count in counts.items()],
        json=page.to("/v1/"),
    )


def show_reading(_page: Page, _connection: Connection) -> Showing:
    """Explain the words and marks of the pages."""
    return Showing("reading.html", {})


def asset(name: str) -> Response:
    """Serve a file of the pages; nothing comes from elsewhere."""
    if name not in _ASSETS:
        raise Problem(Code.NOT_FOUND, "the pages have no such file")
    body = files("hotface_api.site").joinpath("static", name).read_bytes()
    response = Response(body, content_type=_ASSETS[name])
    response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
    return response
