"""One declaration an operation: its address, what it reads, what it answers, how it is told.

flask-smorest collects what the decorators note into the OpenAPI document. Its own error shape,
paging and entity tags are not used: the first is no problem document and loses ``Allow``, the last
hashes the body and so saves no work.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, Final

import marshmallow as ma
from flask import Flask, Request, Response, request
from flask_smorest import Blueprint  # type: ignore[import-untyped]
from marshmallow import fields

from hotface_api.http.callers import known_caller
from hotface_api.http.conditional import JSON
from hotface_api.http.describing import KEY, response_name
from hotface_api.http.examples import example_of
from hotface_api.http.reader import Reader

__all__ = ["Topic", "changes", "computes", "path_id", "reads", "serves"]

View = Callable[..., Response]
Shape = type[ma.Schema] | Mapping[str, Any]

_READ_STATUSES: Final = (304, 400, 401, 404, 406, 429, 500, 503)
_UNDATED_STATUSES: Final = (400, 401, 406, 429, 500, 503)
_COMPUTE_STATUSES: Final = (400, 401, 404, 406, 413, 415, 422, 429, 500, 503)
_CHANGE_STATUSES: Final = (*_COMPUTE_STATUSES, 403, 409)
_VERSIONED: Final = (412, 428)
_KEYED: Final[list[dict[str, list[str]]]] = [{KEY: []}]
_HEADERS: Final = {
    "ETag": {"schema": {"type": "string"}, "description": "Changes when the answer may change."},
    "Hotface-Revision": {"schema": {"type": "integer"}, "description": "Revision of the data."},
}


_REPLAYED: Final = {
    "Idempotent-Replayed": {
        "schema": {"type": "string"},
        "description": "`true` where this was answered before under the same key.",
    }
}
_CHANGED: Final = {
    **_REPLAYED,
    "ETag": {"schema": {"type": "string"}, "description": "The version of the contribution."},
    "Location": {"schema": {"type": "string"}, "description": "The contribution written."},
}


class _ChangeFields(ma.Schema):
    """What a change may say of itself in its header."""

    idempotency_key = fields.String(
        data_key="Idempotency-Key",
        metadata={
            "description": "1 to 255 printable ASCII characters that name this very request. Sent"
            " again within 30 days it gets the first answer; with another request it is refused."
        },
    )


class _VersionedFields(_ChangeFields):
    """What a change to one row says of itself in its header."""

    if_match = fields.String(
        required=True,
        data_key="If-Match",
        metadata={
            "description": "The version that was looked at, as an entity tag.",
            "example": '"1"',
        },
    )


class Topic(Blueprint):  # type: ignore[misc]
    """A group of routes."""


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


def _keyed(view: View, query: Reader, read: Callable[[Request], Any] | None = None) -> Any:
    """Let a view be reached with a key only, before anything else of the request is read."""

    def run(**named: Any) -> Response:
        known_caller()
        found = query.query(request)
        return view(found, **named) if read is None else view(found, read(request), **named)

    return wraps(view)(run)


def _tell(
    topic: Topic,
    name: str,
    summary: str,
    description: str,
    statuses: tuple[int, ...],
    *,
    keyed: bool = False,
) -> Callable[[Any], Any]:
    """Note what the document tells of an operation beside its input and answer."""
    responses = {str(status): response_name(status) for status in statuses}
    more = {"security": _KEYED} if keyed else {}
    noted: Callable[[Any], Any] = topic.doc(
        summary=summary, description=description, operationId=name, responses=responses, **more
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
    weight: str = "read",
) -> View:
    """Register a view under what was noted of it.

    What the framework wraps round a view to note it (``told``) is not called.
    """
    view._apidoc = told._apidoc  # noqa: SLF001 - where the framework looks for it
    view.hotface_media = media
    view.hotface_dated = dated
    view.hotface_weight = weight
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
    keyed: bool = False,
    headers: Mapping[str, Any] | None = None,
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
    keyed : bool
        Whether it asks for a key; then it is dated by no revision and nobody keeps it.
    headers : mapping, optional
        Header fields of the answer, described, beside those of every dated answer.
    """
    dated = dated and not keyed
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
                headers=_HEADERS if dated else headers,
                description="The answer.",
            )(made)
        usual = _READ_STATUSES if dated else _UNDATED_STATUSES
        told = (*usual, *statuses)
        made = _tell(topic, view.__name__, summary, description, told, keyed=keyed)(made)
        return _register(
            topic,
            rule,
            _keyed(view, reader) if keyed else _reading(view, reader),
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
    weight: str = "estimate",
    statuses: tuple[int, ...] = (),
    limit: int | None = None,
) -> Callable[[View], View]:
    """Declare a POST operation that computes an answer and changes nothing.

    Parameters are those of ``reads``; ``body`` is the schema of the request, ``asks`` an example
    of one, ``also`` what is answered to a batch, ``weight`` what it counts as towards the rate
    limit, and ``limit`` the largest body in bytes where that is not the service's own.
    """
    answers: Any = shape if also is None else {"anyOf": [shape, also]}
    readers = Reader(query), Reader(body, limit)

    def declare(view: View) -> View:
        made: Any = topic.arguments(body, location="json", example=asks)(view)
        _forget_default_errors(made)
        made = topic.arguments(query, location="query")(made)
        _forget_default_errors(made)
        made = topic.response(
            200, answers, example=example_of(view.__name__), description="The answer."
        )(made)
        told = (*_COMPUTE_STATUSES, *statuses)
        made = _tell(topic, view.__name__, summary, description, told)(made)
        return _register(
            topic,
            rule,
            _reading(view, *readers),
            made,
            method="POST",
            media=(JSON,),
            dated=False,
            parameters=[],
            weight=weight,
        )

    return declare


def changes(
    topic: Topic,
    rule: str,
    query: type[ma.Schema],
    body: type[ma.Schema],
    shape: Shape,
    *,
    summary: str,
    description: str,
    asks: Any,
    weight: str,
    path: tuple[dict[str, Any], ...] = (),
    creates: bool = False,
    versioned: bool = False,
    read: str = "body",
    also: Mapping[str, Any] | None = None,
) -> Callable[[View], View]:
    """Declare a POST operation that changes what is held, for holders of a key.

    Parameters are those of ``reads`` and ``computes``.

    Parameters
    ----------
    creates : bool
        Whether it answers 201 where something was written.
    versioned : bool
        Whether it needs ``If-Match``.
    read : {"body", "sent", "nothing"}
        Whether the view is handed the body as the schema reads it, as it was sent, or not at all
        because it takes other media types as well.
    also : mapping, optional
        Those media types, described.
    """
    reader = Reader(query)
    given = Reader(body)
    reading = {"body": given.body, "sent": given.sent, "nothing": None}[read]
    fields_read = _VersionedFields if versioned else _ChangeFields
    statuses = (*_CHANGE_STATUSES, *(_VERSIONED if versioned else ()))

    def declare(view: View) -> View:
        made: Any = topic.arguments(body, location="json", example=asks)(view)
        _forget_default_errors(made)
        for each, location in ((query, "query"), (fields_read, "headers")):
            made = topic.arguments(each, location=location)(made)
            _forget_default_errors(made)
        for status in (200, 201) if creates else (200,):
            told = "Something was written." if status == 201 else "The answer."  # noqa: PLR2004
            made = topic.response(
                status,
                shape,
                example=example_of(view.__name__),
                headers=_CHANGED if versioned or creates else _REPLAYED,
                description=told,
            )(made)
        made = _tell(topic, view.__name__, summary, description, statuses, keyed=True)(made)
        if also:
            made = topic.doc(requestBody={"content": dict(also)})(made)
        return _register(
            topic,
            rule,
            _keyed(view, reader, reading),
            made,
            method="POST",
            media=(JSON,),
            dated=False,
            parameters=list(path),
            weight=weight,
        )

    return declare


def serves(app: Flask, rule: str, view: View, name: str) -> None:
    """Register a GET route that is no part of the documented interface."""
    app.add_url_rule(rule, name, view, methods=["GET"])
