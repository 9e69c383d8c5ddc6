"""Queries and bodies read by schema, and never silently ignored.

A filter that is dropped because its name is misspelt gives wrong numbers that look right, so an
unknown parameter is refused with the nearest known one, and so is a second value for a parameter
that holds one.

A schema is made once, with the route. The parsers of the framework make one at each request, which
costs more than most answers; here they only tell the OpenAPI document what is read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

import marshmallow as ma
from flask import Request, g
from marshmallow import fields

from hotface_api.http.body import read_object
from hotface_api.http.context import service
from hotface_api.http.parameters import MAX_TEXT, body_problem, query_problem
from hotface_api.http.problems import Code, Problem, nearest

__all__ = ["Reader"]

_MAX_PARAMETERS: Final = 400


class Reader:
    """Reads what one schema describes.

    Parameters
    ----------
    schema : type of marshmallow.Schema
    limit : int, optional
        Largest body in bytes, where that is not the service's own.
    """

    def __init__(self, schema: type[ma.Schema], limit: int | None = None) -> None:
        self._limit = limit
        self._schema = schema(unknown=ma.RAISE)
        self._known = {field.data_key or name: field for name, field in self._schema.fields.items()}
        self._many = frozenset(name for name, field in self._known.items() if _takes_many(field))
        self._bare = self._without_query()

    def _without_query(self) -> dict[str, Any] | None:
        """Read the empty query once and for all, if it may be empty."""
        try:
            return dict(self._schema.load({}))
        except ma.ValidationError:
            return None

    def query(self, request: Request) -> dict[str, Any]:
        """Read the query of a request.

        Raises
        ------
        Problem
            For parameters that are unknown, repeated or unusable.
        """
        if self._bare is not None and not request.environ.get("QUERY_STRING"):
            return dict(self._bare)
        args = request.args
        self._check(args)
        given = {name: args.getlist(name) if name in self._many else args[name] for name in args}
        return self._load(given, query_problem)

    def body(self, request: Request) -> dict[str, Any]:
        """Read the body of a request as one JSON object; ``raw_body`` gives it as it was sent.

        Raises
        ------
        Problem
            For a body that cannot be read, or does not fit.
        """
        return self._load(self.sent(request), body_problem)

    def sent(self, request: Request) -> dict[str, Any]:
        """Read the body of a request as one JSON object, whatever is in it.

        Raises
        ------
        Problem
            For a body that cannot be read.
        """
        g.raw_body = read_object(request, self._limit or service().settings.max_body)
        return dict(g.raw_body)

    def _load(self, given: Mapping[str, Any], problem: Callable[[Any], Problem]) -> dict[str, Any]:
        try:
            return dict(self._schema.load(given))
        except ma.ValidationError as error:
            raise problem(error.messages) from error

    def _check(self, args: Any) -> None:
        """Refuse unknown, repeated and unusable parameters before any is read."""
        given = {name: args.getlist(name) for name in args}
        if sum(map(len, given.values())) > _MAX_PARAMETERS:
            raise Problem(Code.INVALID_REQUEST, f"at most {_MAX_PARAMETERS} parameters at once")
        odd = [name for name in given if name not in self._known]
        if odd:
            raise _unknown_problem(odd, sorted(self._known))
        for name, texts in given.items():
            if len(texts) > 1 and name not in self._many:
                detail = f"{name} takes one value; it is given {len(texts)} times"
                error = {"detail": detail, "parameter": name}
                raise Problem(Code.REPEATED_PARAMETER, detail, errors=[error])
            if any("\x00" in text for text in texts):
                raise query_problem({name: ["must not hold the character U+0000"]})


def _takes_many(field: fields.Field[Any]) -> bool:
    return isinstance(field, fields.List) or getattr(field, "is_multiple", False)


def _unknown_problem(odd: list[str], known: list[str]) -> Problem:
    errors, near = [], []
    for name in odd:
        close = nearest(name, known, 1)
        near += close
        hint = f"; did you mean {close[0]!r}?" if close else ""
        shown = name if len(name) <= MAX_TEXT else name[:MAX_TEXT] + "..."
        errors.append({"detail": f"there is no parameter {shown!r}{hint}", "parameter": shown})
    detail = f"{errors[0]['detail']} (known: {', '.join(known) or 'none'})"
    return Problem(Code.UNKNOWN_PARAMETER, detail, errors=errors, nearest=dict.fromkeys(near))
