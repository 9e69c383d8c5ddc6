"""Who is at a page: the browser's session, and whether a form really came from a page of ours.

The cookie carries an opaque id and nothing else; ``ledger.sessions`` tells at every request who is
behind it. A form that changes something is taken only with a sign of its origin (``Sec-Fetch-Site``
or ``Origin``, which no page can forge) and with a token made from the session's secret id.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from urllib.parse import urlsplit

from flask import request
from werkzeug.wrappers import Response

from hotface_api.http.context import service
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.sessions import LIVES, find_session

__all__ = [
    "TOKEN_FIELD",
    "Visitor",
    "came_from_here",
    "cookie_name",
    "current",
    "forget",
    "local_address",
    "remember",
    "token_fits",
    "visitor_of",
]

TOKEN_FIELD: Final = "form_token"  # noqa: S105 - the name of a field
_NAME: Final = "hotface-session"
_HOST: Final = "__Host-"
_OURS: Final = ("same-origin", "none")
_LONGEST_ADDRESS: Final = 2000
_PORTS: Final = {"http": 80, "https": 443}


@dataclass(frozen=True, slots=True)
class Visitor:
    """Someone with a session.

    Attributes
    ----------
    actor : Actor
    name : str
        How the page names them: their name, or the opaque id once it is erased.
    token : str
        What their forms carry.
    until : datetime
        When the session ends.
    """

    actor: Actor
    name: str
    token: str
    until: datetime

    @property
    def is_curator(self) -> bool:
        """Tell whether they may review."""
        return self.actor.is_curator


def cookie_name() -> str:
    """Name the cookie; under https by the name browsers hold to this host, path ``/``, Secure."""
    return _HOST + _NAME if request.is_secure else _NAME


def _token(session: str) -> str:
    return hmac.new(session.encode(), b"hotface form", hashlib.sha256).hexdigest()


def current() -> Visitor | None:
    """Give who has a session that holds, looked up in the database every time."""
    session = request.cookies.get(cookie_name())
    return visitor_of(session) if session else None


def visitor_of(session: str) -> Visitor | None:
    """Give who is behind the id of a session."""
    found = find_session(service().ledger, session)
    if found is None:
        return None
    name = found.name or found.actor.contributor
    return Visitor(found.actor, name, _token(session), found.expires_at)


def remember(response: Response, session: str) -> None:
    """Let the browser carry a session."""
    response.set_cookie(
        cookie_name(),
        session,
        max_age=LIVES,
        path="/",
        secure=request.is_secure,
        httponly=True,
        samesite="Strict",
    )


def forget(response: Response) -> None:
    """Let the browser drop its session."""
    response.delete_cookie(
        cookie_name(), path="/", secure=request.is_secure, httponly=True, samesite="Strict"
    )


def token_fits(visitor: Visitor) -> bool:
    """Tell whether the form at hand carries the token of this visitor's session."""
    given = request.form.get(TOKEN_FIELD, "")
    return hmac.compare_digest(given.encode(errors="replace"), visitor.token.encode())


def _place(address: str) -> tuple[str, str | None, int | None] | None:
    """Give scheme, host and port of an address, the port that goes without saying filled in."""
    try:
        parts = urlsplit(address)
        return parts.scheme, parts.hostname, parts.port or _PORTS.get(parts.scheme)
    except ValueError:
        return None


def came_from_here() -> bool:
    """Tell whether a browser says that the form at hand was sent by a page of ours.

    Every browser in use sends ``Origin`` with a form, and on trustworthy connections
    ``Sec-Fetch-Site`` too; who sends neither is no browser with our page in it.
    """
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None:
        return site in _OURS
    origin = request.headers.get("Origin")
    return origin is not None and _place(origin) == _place(request.host_url)


def local_address(text: str) -> str | None:
    """Give an address of ours to go on to, or None for anything that leads elsewhere."""
    if not text.startswith("/") or text.startswith("//") or len(text) > _LONGEST_ADDRESS:
        return None
    if "\\" in text or any(ord(letter) <= ord(" ") for letter in text):
        return None
    parts = urlsplit(text)
    return None if parts.scheme or parts.netloc else text
