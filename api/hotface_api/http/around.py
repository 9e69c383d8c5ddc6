"""What is done around every request, at the border to the server: id, header fields, metrics.

And the quickest answer: one that is kept is given from here. It is recognised by the request as it
arrives (address, query, media types accepted) and costs one look at the latest revision; routing,
parameters and views come in only where nothing is kept.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy.exc import SQLAlchemyError

from hotface_api.http.carried import ALLOWANCE, LATEST, REQUEST_ID, RULE
from hotface_api.http.context import Service
from hotface_api.http.headers import common_fields, request_id
from hotface_api.http.kept import Kept, key_of
from hotface_api.http.rates import address_of, allowance_fields
from hotface_api.ledger.rates import WEIGHTS

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = ["Around"]

_READ: Final = WEIGHTS["read"]
_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})


class Around:
    """The outermost part of the application.

    Parameters
    ----------
    inner : WSGI application
        What answers where nothing is kept.
    service : Service
    """

    def __init__(self, inner: WSGIApplication, service: Service) -> None:
        self._inner = inner
        self._service = service

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        began = time.perf_counter()
        environ[REQUEST_ID] = request_id(environ.get("HTTP_X_REQUEST_ID", ""))
        kept = self._find(environ)
        if kept is not None:
            held = kept.is_held(environ.get("HTTP_IF_NONE_MATCH"))
            if held or self._is_allowed(environ):
                return self._give(kept, environ, start_response, began, held=held)

        def start(status: str, fields: list[tuple[str, str]], exc_info: Any = None) -> Any:
            number = int(status[:3])
            fields += common_fields(environ["REQUEST_METHOD"], number, fields)
            fields += allowance_fields(environ.get(ALLOWANCE))
            fields.append(("X-Request-Id", environ[REQUEST_ID]))
            self._count(environ, environ.get(RULE, "unmatched"), number, began)
            return start_response(status, fields, exc_info)

        return self._inner(environ, start)

    def _count(self, environ: WSGIEnvironment, rule: str, status: int, began: float) -> None:
        method = environ["REQUEST_METHOD"]
        known = method if method in _METHODS else "other"
        self._service.metrics.observe(rule, known, status, time.perf_counter() - began)

    def _find(self, environ: WSGIEnvironment) -> Kept | None:
        """Find the answer to a read, if one is kept that is not old."""
        if environ["REQUEST_METHOD"] not in ("GET", "HEAD") or "HTTP_AUTHORIZATION" in environ:
            return None
        kept = self._service.answers.get(key_of(environ))
        if kept is None:
            return None
        try:
            latest = self._service.database.revision()
        except SQLAlchemyError:
            return None  # the framework looks again, and tells what is wrong
        if kept.latest == latest:
            return kept
        environ[LATEST] = latest
        return None

    def _is_allowed(self, environ: WSGIEnvironment) -> bool:
        """Count a read, where reads are counted; one too many is told by the framework."""
        limiter = self._service.limiter
        if limiter is None:
            return True
        found = limiter.count("anonymous", address_of(environ.get("REMOTE_ADDR")), _READ)
        environ[ALLOWANCE] = found
        return found.allowed

    def _give(
        self,
        kept: Kept,
        environ: WSGIEnvironment,
        start_response: StartResponse,
        began: float,
        *,
        held: bool,
    ) -> Iterable[bytes]:
        method = environ["REQUEST_METHOD"]
        fields = kept.fields(method, held=held) + allowance_fields(environ.get(ALLOWANCE))
        fields.append(("X-Request-Id", environ[REQUEST_ID]))
        self._count(environ, kept.rule, 304 if held else 200, began)
        start_response("304 NOT MODIFIED" if held else "200 OK", fields)
        return (b"",) if held or method == "HEAD" else (kept.body,)
