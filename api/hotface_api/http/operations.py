"""One declaration an operation: its address, what it reads, what it answers, how it is told.

flask-smorest collects what the decorators note into the OpenAPI document. Its own error shape,
paging and entity tags are not used: the first is no problem document and loses ``Allow``, the last
hashes the body and so saves no work.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ClassVar, Final

import marshmallow as ma
from flask import Flask, Response, request
from flask_smorest import Api, Blueprint  # type: ignore[import-untyped]
from marshmallow import fields

from hotface_api.http import problems
from hotface_api.http.conditional import JSON
from hotface_api.http.examples import example_of
from hotface_api.http.problems import Code
from hotface_api.http.reader import Reader
from hotface_api.http.reading import Reading
from hotface_api.http.schemas import (
    ProblemShape,
)

__all__ = ["Documented", "Topic", "computes", "path_id", "reads", "serves"]

View = Callable[..., Response]
Shape = type[ma.Schema] | Mapping[str, Any]

_READ_STATUSES: Final = (304, 400, 404, 406, 500, 503)
_COMPUTE_STATUSES: Final = (400, 404, 406, 413, 415, 422, 500, 503)
_HEADERS: Final = {
    "ETag": {"schema": {"type": "string"}, "description": "Changes when the answer may change."},
    "Hotface-Revision": {"schema": {"type": "integer"}, "description": "Revision of the data."},
}


class Topic(Blueprint):  # type: ignore[misc]
    """A group of routes."""


def _name(status: int) -> str:
    return "NotModified" if status == 304 else f"Problem{status}"  # noqa: PLR2004


def _problem_response(status: int) -> dict[str, Any]:
    """Document what a status means here: every code that comes with it."""
    codes = [code for code in Code if code.status == status]
    told = "\n".join(f"- `{code.word}`: {code.meaning}" for code in codes)
    return {"description": told, "content": {problems.MEDIA_TYPE: {"schema": ProblemShape}}}


class Documented(Api):  # type: ignore[misc]
    """The OpenAPI document of an application, with our problems in place of the default errors."""

    DEFAULT_ERROR_RESPONSE_NAME: ClassVar[str | None] = None

    def _register_error_handlers(self) -> None:
        """Leave errors to ``problems``."""

    def _register_etag_headers(self) -> None:
        """Leave entity tags to ``conditional``."""

    def _register_pagination_header(self) -> None:
        """Leave pages to ``paging``."""

    def _register_responses(self) -> None:
        """Register one response a status, named alike on every Python version."""
        for status in sorted({code.status for code in Code}):
            self.spec.components.response(_name(status), _problem_response(status), lazy=True)
        fresh = {"description": "The caller holds the answer already."}
        self.spec.components.response(_name(304), fresh, lazy=True)
        self.ma_plugin.converter.add_attribute_function(_describe_field)


def _describe_field(_converter: Any, field: fields.Field[Any], **_: Any) -> dict[str, Any]:
    """Let our own fields describe themselves."""
    return field.schema() if isinstance(field, Reading) else {}


def path_id(description: str, example: str, name: str = "id") -> dict[str, Any]:
    """Document the id in a path."""
    return {"in": "path", "name": name, "description": description, "example": example}


def _forget_default_errors(view: Any) -> None:
    """Drop the error responses the framework notes; their names change between Pythons."""
    view._apidoc["arguments"].pop("responses", None)  # noqa: SLF001 - the only place it can be done


def _reading(view: View, query: Reader, body: Reader | None = None) -> Any:
    """Hand the query as read, and the body, to a view."""
    if body is None:
        return wraps(view)(lambda **named: view(query.query(request), **named))
    return wraps(view)(lambda **named: view(query.query(request), body.body(request), **named))


def _tell(
    topic: Topic, name: str, summary: str, description: str, statuses: tuple[int, ...]
) -> Callable[[Any], Any]:
    """Note what the document tells of an operation beside its input and answer."""
    responses = {str(status): _name(status) for status in statuses}
    noted: Callable[[Any], Any] = topic.doc(
        summary=summary, description=description, operationId=name, responses=responses
    )
    return noted


def _register(
    topic: Topic,
    rule: str,
    view: Any,
    told: Any,
    *,
    method: str,
    media: tuple[str, ...],
    dated: bool,
    parameters: list[dict[str, Any]],
) -> View:
    """Register a view under what was noted of it.

    What the framework wraps round a view to note it (``told``) is not called.
    """
    view._apidoc = told._apidoc  # noqa: SLF001 - where the framework looks for it
    view.hotface_media = media
    view.hotface_dated = dated
    topic.add_url_rule(rule, view.__name__, view, methods=[method], parameters=parameters)
    registered: View = view
    return registered


def reads(
    topic: Topic,
    rule: str,
    query: type[ma.Schema],
    shape: Shape,
    *,
    summary: str,
    description: str,
    path: tuple[dict[str, Any], ...] = (),
    others: Mapping[str, Shape] | None = None,
    statuses: tuple[int, ...] = (),
    dated: bool = True,
    media: str = JSON,
) -> Callable[[View], View]:
    """Declare a GET operation.

    Parameters
    ----------
    topic : Topic
        Where it belongs.
    rule : str
        Its address.
    query : type of marshmallow.Schema
        The parameters it knows.
    shape : type of marshmallow.Schema or mapping
        What it answers as JSON.
    summary, description : str
        What the document tells.
    path : tuple of dict
        Descriptions of the parameters in the path.
    others : mapping, optional
        Other media types it answers in, each with its shape.
    statuses : tuple of int
        Statuses beyond the usual ones.
    dated : bool
        Whether the answer depends on the revision and nothing else, so that it may be kept.
    media : str
        The media type of ``shape``, JSON by default.
    """
    offered: dict[str, Shape] = {media: shape, **(others or {})}
    reader = Reader(query)

    def declare(view: View) -> View:
        made: Any = topic.arguments(query, location="query")(view)
        _forget_default_errors(made)
        for kind, each in offered.items():
            made = topic.response(
                200,
                each,
                content_type=kind,
                example=example_of(view.__name__, kind),
                headers=_HEADERS if dated else None,
                description="The answer.",
            )(made)
        usual = _READ_STATUSES if dated else (400, 406, 500)
        made = _tell(topic, view.__name__, summary, description, (*usual, *statuses))(made)
        return _register(
            topic,
            rule,
            _reading(view, reader),
            made,
            method="GET",
            media=tuple(offered),
            dated=dated,
            parameters=list(path),
        )

    return declare


def computes(
    topic: Topic,
    rule: str,
    query: type[ma.Schema],
    body: type[ma.Schema],
    shape: Shape,
    *,
    summary: str,
    description: str,
    asks: Any,
    also: type[ma.Schema] | None = None,
) -> Callable[[View], View]:
    """Declare a POST operation that computes an answer and changes nothing.

    Parameters are those of ``reads``; ``body`` is the schema of the request, ``asks`` an example
    of one, and ``also`` what is answered to a batch.
    """
    answers: Any = shape if also is None else {"anyOf": [shape, also]}
    readers = Reader(query), Reader(body)

    def declare(view: View) -> View:
        made: Any = topic.arguments(body, location="json", example=asks)(view)
        _forget_default_errors(made)
        made = topic.arguments(query, location="query")(made)
        _forget_default_errors(made)
        made = topic.response(
            200, answers, example=example_of(view.__name__), description="The answer."
        )(made)
        made = _tell(topic, view.__name__, summary, description, _COMPUTE_STATUSES)(made)
        return _register(
            topic,
            rule,
            _reading(view, *readers),
            made,
            method="POST",
            media=(JSON,),
            dated=False,
            parameters=[],
        )

    return declare


def serves(app: Flask, rule: str, view: View, name: str) -> None:
    """Register a GET route that is no part of the documented interface."""
    app.add_url_rule(rule, name, view, methods=["GET"])
