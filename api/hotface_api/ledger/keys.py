"""API keys: made by the operator, shown once, looked up in the database every time.

A key is ``hf_contributor_<id>_<secret>`` or ``hf_curator_<id>_<secret>``: the front may be shown
in lists and logs, the secret is 32 random bytes of which only the SHA-256 is stored (a slow hash
guards guessable passwords, not 256 random bits). Nothing is cached, so that a revoked key is dead
in every worker with its next request.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import RowMapping, insert, select, update

from hotface_api.ledger import audit
from hotface_api.ledger.canonical import as_utc
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import (
    Code,
    InvalidError,
    KeyRefusedError,
    UnavailableError,
    UnknownError,
)
from hotface_api.ledger.identifiers import new_id
from hotface_api.ledger.people import OPERATOR
from hotface_api.ledger.texts import Faults
from hotface_api.store.ledger_models import ROLES, ApiKey, Contributor
from hotface_api.store.read import table

__all__ = [
    "Actor",
    "KeyCard",
    "NewKey",
    "authenticate",
    "key_card",
    "list_keys",
    "make_key",
    "revoke_key",
]

_BYTES: Final = 32
_FORM: Final = re.compile(r"hf_(contributor|curator)_([0-9a-z]{12})_([A-Za-z0-9_-]{43})")
_NOBODY: Final = hashlib.sha256(b"").hexdigest()
_NOTED_EVERY: Final = timedelta(minutes=15)
_LONGEST_LIFE: Final = timedelta(days=3660)


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is asking: contributor, role and key. What doors pass to every other function."""

    contributor: str
    role: str
    key: str

    @property
    def is_curator(self) -> bool:
        """Tell whether this key may review."""
        return self.role == "curator"


@dataclass(frozen=True, slots=True)
class KeyCard:
    """A key as it may be shown."""

    id: str
    prefix: str
    contributor: str
    role: str
    label: str
    made_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None
    revoked_at: datetime | None


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key just made; ``token`` is not stored and cannot be shown again."""

    token: str
    card: KeyCard


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


def make_key(
    ledger: Ledger,
    contributor: str,
    role: str,
    *,
    label: str = "",
    lives: timedelta | None = None,
) -> NewKey:
    """Make a key for a contributor.

    Parameters
    ----------
    ledger : Ledger
    contributor : str
        Id of someone entered before and not erased.
    role : str
        ``contributor`` or ``curator``.
    label : str
        What the key is for, for lists.
    lives : timedelta, optional
        How long it holds; for ever by default.

    Raises
    ------
    InvalidError
        If the role is none, or the life is not above zero and below ten years.
    UnknownError
        If there is no such contributor, or they were erased.
    """
    faults = Faults()
    faults.word("/role", role, ROLES)
    shown = faults.text("/label", label) or ""
    if lives is not None and not timedelta(0) < lives <= _LONGEST_LIFE:
        faults.add("/lives", "a key lives longer than nothing and at most ten years")
    if faults.found:
        raise InvalidError(faults.found)
    key, secret, now = new_id(""), secrets.token_urlsafe(_BYTES), ledger.now()
    row: dict[str, Any] = {
        "id": key,
        "contributor": contributor,
        "role": role,
        "digest": _digest(secret),
        "label": shown,
        "made_at": now,
        "expires_at": None if lives is None else now + lives,
        "last_used_at": None,
        "revoked_at": None,
    }
    with ledger.write() as connection:
        people = table(Contributor).c
        known = select(people.id).where(people.id == contributor, people.erased_at.is_(None))
        if connection.scalar(known) is None:
            raise UnknownError(
                Code.UNKNOWN_CONTRIBUTOR, f"there is no contributor {contributor[:40]!r}"
            )
        connection.execute(insert(table(ApiKey)).values(**row))
        audit.append(
            connection, now, OPERATOR, "make-key", key, {"contributor": contributor, "role": role}
        )
    return NewKey(f"hf_{role}_{key}_{secret}", _card(row))


def authenticate(ledger: Ledger, token: str) -> Actor:
    """Tell whose key this is, with one statement.

    Raises
    ------
    KeyRefusedError
        ``key_invalid``, or for a right secret ``key_revoked`` or ``key_expired``.
    UnavailableError
        If the database cannot be asked.
    """
    match = _FORM.fullmatch(token) if token.isascii() else None
    key = match[2] if match else ""
    with ledger.read() as connection:
        columns = table(ApiKey).c
        row = connection.execute(select(table(ApiKey)).where(columns.id == key)).mappings().first()
    held = _NOBODY if row is None else row["digest"]
    right = hmac.compare_digest(_digest(match[3] if match else token[:200]), held)
    if row is None or match is None or not right or row["role"] != match[1]:
        raise KeyRefusedError(Code.KEY_INVALID, "this key is not known here")
    if row["revoked_at"] is not None:
        raise KeyRefusedError(Code.KEY_REVOKED, "this key was revoked; ask for a new one")
    now = ledger.now()
    if row["expires_at"] is not None and as_utc(row["expires_at"]) <= now:
        raise KeyRefusedError(Code.KEY_EXPIRED, "this key has expired; ask for a new one")
    _note_use(ledger, row, now)
    return Actor(row["contributor"], row["role"], row["id"])


def _note_use(ledger: Ledger, row: RowMapping, now: datetime) -> None:
    """Keep when a key was last used, at most every quarter of an hour, and never fail for it."""
    last = row["last_used_at"]
    if last is not None and now - as_utc(last) < _NOTED_EVERY:
        return
    columns = table(ApiKey).c
    try:
        with ledger.write() as connection:
            connection.execute(
                update(table(ApiKey)).where(columns.id == row["id"]).values(last_used_at=now)
            )
    except UnavailableError:
        return


def revoke_key(ledger: Ledger, key: str) -> KeyCard:
    """Revoke a key; from then on it is refused everywhere. Revoking twice changes nothing.

    Raises
    ------
    UnknownError
        If there is no such key.
    """
    columns = table(ApiKey).c
    now = ledger.now()
    with ledger.write() as connection:
        row = connection.execute(select(table(ApiKey)).where(columns.id == key)).mappings().first()
        if row is None:
            raise UnknownError(Code.UNKNOWN_KEY, f"there is no key {key[:40]!r}")
        if row["revoked_at"] is not None:
            return _card(row)
        connection.execute(update(table(ApiKey)).where(columns.id == key).values(revoked_at=now))
        audit.append(connection, now, OPERATOR, "revoke-key", key, {})
    return _card({**row, "revoked_at": now})


def key_card(ledger: Ledger, actor: Actor) -> KeyCard:
    """Show the key a caller came with.

    Raises
    ------
    UnknownError
        If there is no such key.
    """
    columns = table(ApiKey).c
    with ledger.read() as connection:
        found = connection.execute(select(table(ApiKey)).where(columns.id == actor.key))
        row = found.mappings().first()
    if row is None:
        raise UnknownError(Code.UNKNOWN_KEY, f"there is no key {actor.key[:40]!r}")
    return _card(row)


def list_keys(ledger: Ledger) -> list[KeyCard]:
    """List every key, newest first, for the operator."""
    columns = table(ApiKey).c
    statement = select(table(ApiKey)).order_by(columns.made_at.desc(), columns.id)
    with ledger.read() as connection:
        return [_card(row) for row in connection.execute(statement).mappings()]


def _card(row: Any) -> KeyCard:
    def moment(name: str) -> datetime | None:
        return None if row[name] is None else as_utc(row[name])

    return KeyCard(
        row["id"],
        f"hf_{row['role']}_{row['id']}",
        row["contributor"],
        row["role"],
        row["label"],
        as_utc(row["made_at"]),
        moment("expires_at"),
        moment("last_used_at"),
        moment("revoked_at"),
    )
