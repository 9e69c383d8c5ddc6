"""What a request works with: the service's parts, and the revision, units and media type asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from flask import current_app, g, request

from hotface_api.catalogue import RULES_VERSION
from hotface_api.catalogue.reference import Reference, ReferenceCache, RevisionUnknownError
from hotface_api.http.carried import LATEST
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import Output
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.rates import RateLimiter
from hotface_api.settings import Settings
from hotface_api.store.database import Database

if TYPE_CHECKING:
    from hotface_api.http.kept import AnswerCache
    from hotface_api.http.metrics import Metrics

__all__ = ["Asked", "Service", "ask", "latest_revision", "raw_body", "service"]


@dataclass(frozen=True, slots=True)
class Service:
    """The parts of one service, made once an application."""

    settings: Settings
    database: Database
    references: ReferenceCache
    answers: AnswerCache
    metrics: Metrics
    ledger: Ledger
    limiter: RateLimiter | None = None


def service() -> Service:
    """Give the parts of the service that answers the request at hand."""
    return cast("Service", current_app.extensions["hotface"])


def latest_revision() -> int:
    """Give the latest revision, looked up once a request.

    Raises
    ------
    Problem
        ``not_ready`` if nothing is loaded.
    """
    latest = request.environ.get(LATEST)
    if latest is None:
        latest = request.environ[LATEST] = service().database.revision()
    if latest == 0:
        raise Problem(
            Code.NOT_READY,
            "the database holds no data yet; run `hotface load`",
            headers={"Retry-After": "5"},
        )
    return int(latest)


def raw_body() -> dict[str, Any]:
    """Give the body of the request as it was sent, once the parser has read it."""
    return cast("dict[str, Any]", g.raw_body)


@dataclass(frozen=True, slots=True)
class Asked:
    """The data as it stands at the revision asked for, and how to write numbers."""

    reference: Reference
    output: Output

    @property
    def revision(self) -> int:
        """Give the revision the answer is of."""
        return self.reference.revision

    def envelope(self) -> dict[str, Any]:
        """Give the fields every single answer carries."""
        return {
            "database_id": self.reference.database_id,
            "revision": self.reference.revision,
            "rules_version": RULES_VERSION,
        }


def ask(query: Mapping[str, Any]) -> Asked:
    """Resolve the revision and units of a read or a computation.

    Raises
    ------
    Problem
        ``unknown_revision`` for one beyond the latest.
    """
    latest = latest_revision()
    try:
        reference = service().references.at(query.get("revision") or latest, latest)
    except RevisionUnknownError as error:
        fault = {"detail": str(error), "parameter": "revision"}
        raise Problem(Code.UNKNOWN_REVISION, str(error), errors=[fault]) from error
    g.revision = reference.revision
    return Asked(reference, Output(query.get("units", "si")))
