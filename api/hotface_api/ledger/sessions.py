"""Sessions of the pages: a key exchanged for an opaque id that a browser may carry.

The key itself then need not be sent again. A session says nothing and proves nothing by itself: it
is looked up with its key at every request, so that one that was ended, and one whose key was
revoked or has expired, is dead at once in every worker. Of its id only the SHA-256 is stored.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import delete, insert, select

from hotface_api.ledger.canonical import as_utc
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import Actor, authenticate
from hotface_api.store.ledger_models import ApiKey, Person, WebSession
from hotface_api.store.read import table

__all__ = ["LIVES", "OpenSession", "close_session", "find_session", "open_session"]

LIVES: Final = timedelta(hours=12)
"""How long a session holds: a day in the workshop, not a night on a forgotten tablet."""
_BYTES: Final = 32
_LONGEST: Final = 200


@dataclass(frozen=True, slots=True)
class OpenSession:
    """A session that holds: who is behind it, by which name, and until when."""

    actor: Actor
    name: str | None
    expires_at: datetime


def _digest(session: str) -> str:
    return hashlib.sha256(session.encode(errors="replace")).hexdigest()


def open_session(ledger: Ledger, token: str, *, before: str | None = None) -> str:
    """Exchange a key for a session.

    Parameters
    ----------
    ledger : Ledger
    token : str
        The whole key.
    before : str, optional
        Id of the session the browser had until now; it ends.

    Returns
    -------
    str
        The id of a new session, never one that came from outside. It is not stored and cannot be
        given again.

    Raises
    ------
    KeyRefusedError, UnavailableError
    """
    actor = authenticate(ledger, token)
    session, now = secrets.token_urlsafe(_BYTES), ledger.now()
    columns = table(WebSession).c
    over = columns.expires_at <= now
    if before is not None:
        over |= columns.digest == _digest(before[:_LONGEST])
    with ledger.write() as connection:
        connection.execute(delete(table(WebSession)).where(over))
        connection.execute(
            insert(table(WebSession)).values(
                digest=_digest(session), key=actor.key, made_at=now, expires_at=now + LIVES
            )
        )
    return session


def find_session(ledger: Ledger, session: str) -> OpenSession | None:
    """Tell who is behind a session, with one statement; None where it does not hold (any more).

    Raises
    ------
    UnavailableError
        If the database cannot be asked.
    """
    if len(session) > _LONGEST:
        return None
    held, keys, people = table(WebSession), table(ApiKey), table(Person)
    statement = (
        select(
            held.c.expires_at.label("session_ends"),
            keys.c.id,
            keys.c.contributor,
            keys.c.role,
            keys.c.expires_at,
            keys.c.revoked_at,
            people.c.name,
        )
        .select_from(
            held.join(keys, keys.c.id == held.c.key).outerjoin(
                people, people.c.contributor == keys.c.contributor
            )
        )
        .where(held.c.digest == _digest(session))
    )
    with ledger.read() as connection:
        row = connection.execute(statement).first()
    now = ledger.now()
    if row is None or row.revoked_at is not None:
        return None
    ends = [as_utc(end) for end in (row.session_ends, row.expires_at) if end is not None]
    if min(ends) <= now:
        return None
    return OpenSession(Actor(row.contributor, row.role, row.id), row.name, min(ends))


def close_session(ledger: Ledger, session: str) -> None:
    """End a session; ending one that does not hold changes nothing."""
    with ledger.write() as connection:
        ended = table(WebSession).c.digest == _digest(session[:_LONGEST])
        connection.execute(delete(table(WebSession)).where(ended))
