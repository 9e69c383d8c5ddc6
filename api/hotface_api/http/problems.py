"""Every error of the service as a problem document (RFC 9457), wherever it arises.

A view raises ``Problem``; everything else that can go wrong (routing, the framework, the database,
a bug) is turned into one here. ``code`` is the stable part that programs may rely on; texts are
for people and say what to do next.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any, Final
from urllib.parse import quote

import orjson
from flask import Flask, Response, request
from sqlalchemy.exc import DBAPIError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from werkzeug.exceptions import HTTPException, MethodNotAllowed
from werkzeug.routing import RequestRedirect

from hotface_api.http.carried import REQUEST_ID
from hotface_api.http.codes import Code
from hotface_api.http.refused import Refusal, refusal
from hotface_api.ledger.errors import LedgerError
from hotface_api.store.database import DatabaseError

__all__ = ["MEDIA_TYPE", "Code", "Problem", "as_problem", "install", "nearest", "unknown_id"]

MEDIA_TYPE: Final = "application/problem+json"
_MAX_GUESSED: Final = 64
_RETRY_SECONDS: Final = "2"
_log = logging.getLogger("hotface.http")


class Problem(Exception):  # noqa: N818 - named for what it becomes
    """Something the caller is told about.

    Parameters
    ----------
    code : Code
        What kind of problem it is.
    detail : str
        What was wrong and what to do.
    errors : iterable of mapping, optional
        Single faults, each with ``detail`` and ``pointer`` or ``parameter``.
    nearest : iterable of str, optional
        What may have been meant.
    headers : mapping, optional
        Header fields of the answer, such as ``Allow``.
    """

    def __init__(
        self,
        code: Code,
        detail: str,
        *,
        errors: Iterable[Mapping[str, str]] = (),
        nearest: Iterable[str] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.errors = [dict(error) for error in errors]
        self.nearest = list(nearest)
        self.headers = dict(headers or {})

    def document(self) -> dict[str, Any]:
        """Give the problem document for the request at hand."""
        code = self.code
        found: dict[str, Any] = {
            "type": f"{request.script_root}/v1/problems/{code.word}",
            "title": code.title,
            "status": code.status,
            "detail": self.detail,
            "instance": quote(request.script_root + request.path),
            "code": code.word,
            "request_id": request.environ.get(REQUEST_ID),
            "errors": self.errors,
        }
        if self.nearest:
            found["nearest"] = self.nearest
        return found


def nearest(
    word: str, known: Iterable[str], count: int = 5, *, under: Mapping[str, str] | None = None
) -> list[str]:
    """Give the known words most like one that is not known; none for one absurdly long.

    ``under`` says for other names under which id they are known.
    """
    if len(word) > _MAX_GUESSED:
        return []
    folded = {name.casefold(): name for name in known}
    found = [folded[n] for n in get_close_matches(word.casefold(), folded, n=count, cutoff=0.5)]
    return list(dict.fromkeys((under or {}).get(name, name) for name in found))


def unknown_id(
    what: str,
    word: str,
    known: Iterable[str],
    *,
    under: Mapping[str, str] | None = None,
    parameter: str | None = None,
    pointer: str | None = None,
) -> Problem:
    """Make the problem for an id that is not held, naming the nearest that are.

    An id in the path that is not held means the thing asked for does not exist (404); in a query
    (``parameter``) or a body (``pointer``) it is a value that cannot be used (400, 422).
    """
    close = nearest(word, known, under=under)
    shown = word if len(word) <= _MAX_GUESSED else word[:_MAX_GUESSED] + "..."
    detail = f"no {what} has the id {shown!r}"
    if close:
        detail += f"; the nearest is {close[0]!r}"
    code, place = Code.UNKNOWN_ID, {"parameter": what}
    if parameter is not None:
        code, place = Code.INVALID_PARAMETER, {"parameter": parameter}
    if pointer is not None:
        code, place = Code.INVALID_BODY, {"pointer": pointer}
    return Problem(code, detail, errors=[{"detail": detail, **place}], nearest=close)


def _database_problem(error: Exception) -> Problem:
    """Tell a database that is away or busy from one that was never migrated and from a bug."""
    retry = {"Retry-After": _RETRY_SECONDS}
    cause = str(getattr(error, "orig", error)).lower()
    if "no such table" in cause or ("relation" in cause and "does not exist" in cause):
        return Problem(
            Code.NOT_READY, "the database is not set up; run `hotface load`", headers=retry
        )
    away = isinstance(error, OperationalError | DatabaseError)
    if away or (isinstance(error, DBAPIError) and error.connection_invalidated):
        return Problem(
            Code.DATABASE_UNAVAILABLE,
            "the database is locked or cannot be reached; try again shortly",
            headers=retry,
        )
    if isinstance(error, PoolTimeoutError):
        return Problem(
            Code.DATABASE_UNAVAILABLE,
            "all connections to the database are in use; try again shortly",
            headers=retry,
        )
    return _internal()


def _internal() -> Problem:
    return Problem(
        Code.INTERNAL_ERROR,
        "the service failed to answer; report the request id if it happens again",
    )


_BY_STATUS: Final = {
    400: Code.INVALID_REQUEST,
    404: Code.NOT_FOUND,
    405: Code.METHOD_NOT_ALLOWED,
    406: Code.NOT_ACCEPTABLE,
    413: Code.BODY_TOO_LARGE,
    415: Code.UNSUPPORTED_MEDIA_TYPE,
    422: Code.INVALID_BODY,
}
_DETAILS: Final = {
    Code.INVALID_REQUEST: "the request is not well formed",
    Code.NOT_FOUND: "there is nothing at this address; GET /v1/ lists what there is",
    Code.BODY_TOO_LARGE: "the body is larger than the service reads",
}


def _framework_problem(error: HTTPException) -> Problem:
    """Turn an error of the framework into a problem, keeping what its header says."""
    status = error.code or 500
    if status >= 500:  # noqa: PLR2004 - where server errors begin
        return _internal()
    code = _BY_STATUS.get(status, Code.INVALID_REQUEST)
    headers: dict[str, str] = {}
    detail = _DETAILS.get(code, code.meaning)
    if isinstance(error, MethodNotAllowed):
        methods = sorted(error.valid_methods or ())
        headers["Allow"] = ", ".join(methods)
        detail = f"{request.method} is not known here; use {', '.join(methods)}"
    return Problem(code, detail, headers=headers)


def _refused(told: Refusal) -> Problem:
    return Problem(
        told.code, told.detail, errors=told.errors, nearest=told.nearest, headers=told.headers
    )


def as_problem(error: Exception) -> Problem:
    """Turn any exception into the problem that is told, logging what must not be told."""
    if isinstance(error, Problem):
        return error
    if isinstance(error, HTTPException):
        return _framework_problem(error)
    told = refusal(error) if isinstance(error, LedgerError) else None
    if told is not None and told.code.status < 500:  # noqa: PLR2004 - nothing failed here
        return _refused(told)
    problem = _internal() if told is None else _refused(told)
    if isinstance(error, SQLAlchemyError | DatabaseError):
        problem = _database_problem(error)
    name = request.environ.get(REQUEST_ID)
    if problem.code is Code.INTERNAL_ERROR:
        _log.error("request %s failed", name, exc_info=error)
    else:
        cause = type(getattr(error, "orig", error)).__name__
        _log.warning(
            "request %s: %s (%s)", request.environ.get(REQUEST_ID), problem.code.word, cause
        )
    return problem


def render(error: Exception) -> Response:
    """Answer with a problem document; a redirect passes through."""
    if isinstance(error, RequestRedirect):
        return Response(status=error.code, headers={"Location": error.new_url})
    problem = as_problem(error)
    response = Response(
        orjson.dumps(problem.document()), status=problem.code.status, content_type=MEDIA_TYPE
    )
    response.headers.update(problem.headers)
    response.headers["Cache-Control"] = "no-store"
    return response


def install(app: Flask) -> None:
    """Let every error of an application be answered by a problem document."""
    for kind in (Problem, HTTPException, SQLAlchemyError, DatabaseError, Exception):
        app.register_error_handler(kind, render)
