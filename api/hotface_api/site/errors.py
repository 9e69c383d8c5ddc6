"""Errors for people: a page that says what is wrong and where to go on, outside ``/v1``."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import quote

from flask import Flask, Response, request
from sqlalchemy.exc import SQLAlchemyError
from werkzeug.exceptions import HTTPException

from hotface_api.http import problems
from hotface_api.http.problems import Problem
from hotface_api.site.page import HTML, POLICY, environment, style_version
from hotface_api.store.database import DatabaseError

__all__ = ["HEADINGS", "install"]

_FOR_PROGRAMS: Final = ("/v1", "/healthz", "/readyz", "/metrics")
_LISTS: Final = {"material": "/materials", "property": "/properties", "source": "/sources"}
HEADINGS: Final = {
    400: "That address cannot be read",
    401: "A key is needed here",
    403: "Not with this key",
    404: "Nothing is held here",
    405: "This page is not used that way",
    406: "This address gives a page",
    409: "Somebody was faster",
    410: "No longer shown",
    413: "That is too much at once",
    412: "Somebody was faster",
    415: "That form is not understood",
    422: "Something in it cannot be used",
    428: "The version is missing",
    429: "Too many questions at once",
    500: "We failed to answer",
    503: "Not ready",
}


class _Bare:
    """What the frame of a page needs when there is no data to make a page with."""

    units: Final = "si"

    @staticmethod
    def to(path: str, **_query: Any) -> str:
        """Give the address of a page of ours."""
        return quote(request.script_root + path)

    at = to


def _is_for_people() -> bool:
    path = request.path
    if any(path == start or path.startswith(start + "/") for start in _FOR_PROGRAMS):
        return False
    return any(media == HTML and quality > 0 for media, quality in request.accept_mimetypes)


def _page(problem: Problem) -> Response:
    document = problem.document()
    text = (
        environment()
        .get_template("error.html")
        .render(
            p=_Bare(),
            style=style_version(),
            heading=HEADINGS.get(problem.code.status, problem.code.title),
            problem=document,
            near=[_suggested(problem, word) for word in problem.nearest],
        )
    )
    response = Response(text, status=problem.code.status, content_type="text/html; charset=utf-8")
    response.headers.update(problem.headers)
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cache-Control"] = "no-store"
    return response


def _suggested(problem: Problem, word: str) -> dict[str, str]:
    """Lead to what may have been meant, where the problem tells what kind of thing it is."""
    what = problem.errors[0].get("parameter") if problem.errors else None
    start = _LISTS.get(what or "")
    return {"word": word, "address": _Bare.to(f"{start}/{word}") if start else ""}


def _render(error: Exception) -> Response:
    if isinstance(error, HTTPException) and 300 <= (error.code or 0) < 400:  # noqa: PLR2004
        return problems.render(error)
    if not _is_for_people():
        return problems.render(error)
    return _page(problems.as_problem(error))


def install(app: Flask) -> None:
    """Let errors outside ``/v1`` be pages where a page was asked for."""
    for kind in (Problem, HTTPException, SQLAlchemyError, DatabaseError, Exception):
        app.register_error_handler(kind, _render)
