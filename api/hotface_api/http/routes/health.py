"""Is it alive, is it ready, how busy is it: for the machine that runs it."""

from __future__ import annotations

import orjson
from flask import Flask, Response
from sqlalchemy.exc import SQLAlchemyError

from hotface_api.http.context import service
from hotface_api.http.metrics import MEDIA_TYPE
from hotface_api.http.operations import serves
from hotface_api.http.problems import Code, Problem
from hotface_api.store import schema

__all__ = ["install"]

_RETRY = {"Retry-After": "5"}


def _json(document: dict[str, object]) -> Response:
    response = Response(orjson.dumps(document), content_type="application/json")
    response.headers["Cache-Control"] = "no-store"
    return response


def _healthz() -> Response:
    """Tell that the process answers; asks nothing of the database."""
    return _json({"status": "ok"})


def _readyz() -> Response:
    """Tell whether the database is at this code's schema and holds data."""
    database = service().database
    with database.read() as connection:
        current = schema.is_current(connection)
    if not current:
        raise Problem(
            Code.NOT_READY, "the database is not set up; run `hotface load`", headers=_RETRY
        )
    revision = database.revision()
    if revision == 0:
        raise Problem(
            Code.NOT_READY, "the database holds no data yet; run `hotface load`", headers=_RETRY
        )
    return _json({"status": "ready", "revision": revision})


def _metrics() -> Response:
    """Tell counts and durations; the revision is left out while the database is away."""
    parts = service()
    try:
        revision: int | None = parts.database.revision()
    except SQLAlchemyError:
        revision = None
    failures = None if parts.limiter is None else parts.limiter.failures
    text = parts.metrics.text(revision, len(parts.answers), failures)
    response = Response(text, content_type=MEDIA_TYPE)
    response.headers["Cache-Control"] = "no-store"
    return response


def install(app: Flask) -> None:
    """Register the three addresses."""
    serves(app, "/healthz", _healthz, "healthz")
    serves(app, "/readyz", _readyz, "readyz")
    serves(app, "/metrics", _metrics, "metrics")
