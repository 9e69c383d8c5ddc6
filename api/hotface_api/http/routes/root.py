"""The entrance: where everything is, the OpenAPI document, its page, the problems explained."""

from __future__ import annotations

from importlib.resources import files
from typing import Any, Final

import marshmallow as ma
import orjson
from flask import Flask, Response, current_app, request

from hotface_api import __version__
from hotface_api.http.conditional import answer
from hotface_api.http.context import ask
from hotface_api.http.documented import integer, listed, text
from hotface_api.http.headers import DOCS_POLICY
from hotface_api.http.operations import Topic, path_id, reads, serves
from hotface_api.http.parameters import DatedQuery
from hotface_api.http.problems import Code, Problem, nearest, unknown_id
from hotface_api.http.schemas import (
    EnvelopeShape,
)

__all__ = ["install", "topic"]

topic = Topic("service", __name__, url_prefix="/v1", description="The service itself.")

_LINKS: Final = (
    "materials",
    "properties",
    "sources",
    "values",
    "specimens",
    "revisions",
    "holdings",
    "phases",
    "cones",
    "classes",
    "standards",
    "cautions",
    "problems",
    "export",
)
_ASSETS: Final = {
    "page.html": ("hotface_api.http", "static/page.html", "text/html; charset=utf-8"),
    "page.js": ("hotface_api.http", "static/page.js", "text/javascript; charset=utf-8"),
    "page.css": ("hotface_api.http", "static/page.css", "text/css; charset=utf-8"),
    "swagger-ui.css": ("flask_swagger_ui", "dist/swagger-ui.css", "text/css; charset=utf-8"),
    "swagger-ui-bundle.js": (
        "flask_swagger_ui",
        "dist/swagger-ui-bundle.js",
        "text/javascript; charset=utf-8",
    ),
}


class EntranceShape(EnvelopeShape):
    """Where everything is."""

    service = text("Name and version of the software.")
    links = ma.fields.Dict(
        keys=ma.fields.String(),
        values=ma.fields.String(),
        required=True,
        metadata={"description": "Address by name."},
    )


class ProblemKindShape(ma.Schema):
    """A kind of problem."""

    code = text()
    status = integer()
    title = text()
    meaning = text()


class ProblemKindsShape(ma.Schema):
    """Every kind of problem."""

    items = listed(ProblemKindShape)


class NoQuery(ma.Schema):
    """No parameters."""


@reads(
    topic,
    "/",
    DatedQuery,
    EntranceShape,
    summary="Where everything is",
    description="Addresses of the lists, the OpenAPI document and its page, and the data's state.",
)
def get_entrance(query: dict[str, Any]) -> Response:
    """List links."""
    asked = ask(query)
    base = f"{request.script_root}/v1"
    links = {name: f"{base}/{name}" for name in _LINKS}
    links |= {
        "contributions": f"{base}/contributions",
        "survivals": f"{base}/survivals",
        "estimates": f"{base}/estimates",
        "mix_searches": f"{base}/mix-searches",
        "openapi": f"{base}/openapi.json",
        "docs": f"{base}/docs",
    }
    document = {"service": f"hotface {__version__}", "links": links, **asked.envelope()}
    return answer(asked, document)


def _kind(code: Code) -> dict[str, Any]:
    return {
        "code": code.word,
        "status": code.status,
        "title": code.title,
        "meaning": code.meaning,
    }


@reads(
    topic,
    "/problems",
    NoQuery,
    ProblemKindsShape,
    dated=False,
    summary="List the kinds of problem",
    description="Every problem code with its status and meaning; codes are never renamed.",
)
def list_problems(query: dict[str, Any]) -> Response:
    """List the kinds of problem."""
    del query
    return _json({"items": [_kind(code) for code in Code]})


@reads(
    topic,
    "/problems/<code>",
    NoQuery,
    ProblemKindShape,
    dated=False,
    statuses=(404,),
    summary="One kind of problem",
    description="What a problem code means; the `type` of a problem document leads here.",
    path=(path_id("Problem code.", "unknown_id", "code"),),
)
def get_problem(query: dict[str, Any], code: str) -> Response:
    """Explain a problem code."""
    del query
    for kind in Code:
        if kind.word == code:
            return _json(_kind(kind))
    raise unknown_id("problem code", code, [kind.word for kind in Code])


def _json(document: Any) -> Response:
    response = Response(orjson.dumps(document), content_type="application/json")
    response.headers["Cache-Control"] = "public, max-age=86400"
    return response


def _openapi() -> Response:
    """Serve the OpenAPI document."""
    document: bytes = current_app.extensions["hotface-openapi"]()
    response = Response(document, content_type="application/json")
    response.headers["Cache-Control"] = "public, max-age=300"
    response.add_etag(weak=True)
    response.make_conditional(request)
    return response


def _asset(name: str) -> Response:
    """Serve a file of the page from the installed packages; nothing comes from elsewhere."""
    if name not in _ASSETS:
        raise Problem(Code.NOT_FOUND, "the page has no such part", nearest=nearest(name, _ASSETS))
    package, path, media = _ASSETS[name]
    response = Response(files(package).joinpath(path).read_bytes(), content_type=media)
    response.headers["Content-Security-Policy"] = DOCS_POLICY
    response.headers["Cache-Control"] = "public, max-age=3600"
    return response


def _page() -> Response:
    return _asset("page.html")


def install(app: Flask) -> None:
    """Register what is served beside the documented operations."""
    serves(app, "/v1/openapi.json", _openapi, "openapi")
    serves(app, "/v1/docs", _page, "docs")
    serves(app, "/v1/docs/<name>", _asset, "docs_asset")
