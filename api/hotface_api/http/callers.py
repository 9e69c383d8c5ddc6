"""Who asks: the key of a request, looked up each time, so that a revoked one is dead at once."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import unquote_plus

from flask import g, request

from hotface_api.http.codes import Code
from hotface_api.http.context import service
from hotface_api.http.problems import Problem
from hotface_api.http.refused import CHALLENGE
from hotface_api.ledger.errors import Code as LedgerCode
from hotface_api.ledger.errors import KeyRefusedError
from hotface_api.ledger.keys import Actor, authenticate

__all__ = ["caller", "known_caller", "refuse_key_in_query"]

_NAMES: Final = frozenset({"key", "api_key", "apikey", "access_token", "token"})
_LIKE_A_KEY: Final = re.compile(r"hf_(contributor|curator)_", re.IGNORECASE)
_SCHEME: Final = "bearer"


def refuse_key_in_query() -> None:
    """Refuse a request whose address carries a key: it stands in logs and histories by now.

    Raises
    ------
    Problem
        ``key_in_query``.
    """
    query = request.environ.get("QUERY_STRING", "")
    if not query:
        return
    for pair in query.split("&"):
        name = pair.partition("=")[0]
        if unquote_plus(name).lower() in _NAMES or _LIKE_A_KEY.search(unquote_plus(pair)):
            raise _in_query()


def _in_query() -> Problem:
    detail = (
        "a key never belongs into an address, which is logged on its way: revoke it, and send a"
        " new one in the field Authorization as `Bearer hf_...`"
    )
    return Problem(
        Code.KEY_IN_QUERY, detail, errors=[{"detail": detail, "parameter": "Authorization"}]
    )


def caller() -> Actor | None:
    """Give who sends the request at hand, or None for nobody in particular.

    A field ``Authorization`` of another scheme is not ours and says nothing here.

    Raises
    ------
    KeyRefusedError, UnavailableError
    """
    if "caller" not in g:
        g.caller = _authenticated(request.environ.get("HTTP_AUTHORIZATION"))
    found: Actor | None = g.caller
    return found


def _authenticated(given: str | None) -> Actor | None:
    if given is None:
        return None
    scheme, _, token = given.partition(" ")
    if scheme.lower() != _SCHEME:
        return None
    if not token.strip():
        raise KeyRefusedError(LedgerCode.KEY_INVALID, "the field Authorization holds no key")
    return authenticate(service().ledger, token.strip())


def known_caller() -> Actor:
    """Give who sends the request at hand.

    Raises
    ------
    Problem
        ``key_needed`` if it carries no key.
    """
    found = caller()
    if found is None:
        raise Problem(
            Code.KEY_NEEDED,
            "this asks for a key: send it in the field Authorization as `Bearer hf_...`; whoever"
            " runs the service makes one with `hotface key make`",
            headers={"WWW-Authenticate": CHALLENGE},
        )
    return found
