"""Everything of the HTTP door put onto an application, in the order it must come."""

from __future__ import annotations

from flask import Flask

from hotface_api.catalogue.reference import ReferenceCache
from hotface_api.http import openapi, problems, rates
from hotface_api.http.around import Around
from hotface_api.http.callers import refuse_key_in_query
from hotface_api.http.conditional import answer_early
from hotface_api.http.context import Service
from hotface_api.http.kept import AnswerCache
from hotface_api.http.metrics import Metrics
from hotface_api.http.routes import health, root
from hotface_api.ledger.core import Ledger
from hotface_api.settings import Settings
from hotface_api.store.database import Database

__all__ = ["install"]


def install(app: Flask, settings: Settings, database: Database) -> None:
    """Let an application answer over HTTP from a database."""
    references = ReferenceCache(database)
    parts = Service(
        settings=settings,
        database=database,
        references=references,
        answers=AnswerCache(settings.cache_answers),
        metrics=Metrics(),
        ledger=Ledger(database, references),
        limiter=rates.limiter_of(settings, database),
    )
    app.extensions["hotface"] = parts
    app.wsgi_app = Around(app.wsgi_app, parts)  # type: ignore[method-assign]
    for step in (refuse_key_in_query, rates.identify, answer_early, rates.weigh):
        app.before_request(step)
    problems.install(app)
    openapi.install(app)
    root.install(app)
    health.install(app)
