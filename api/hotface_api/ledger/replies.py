"""Idempotency: what was answered under a key is kept thirty days and said again.

The answer is stored in the transaction that did the work, so that there is never one without the
other. Writers stand in line, so a request that comes while its twin is still running waits and
then gets its twin's answer.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, ClassVar, Final, Protocol, TypeVar

from sqlalchemy import Connection, delete, insert, select

from hotface_api.ledger.canonical import as_utc, canonical, from_plain, to_plain
from hotface_api.ledger.errors import Code, InvalidError, ReusedKeyError
from hotface_api.store.ledger_models import Reply
from hotface_api.store.read import table

__all__ = ["KEPT", "Answer", "Idempotency", "once", "recall"]

KEPT: Final = timedelta(days=30)
LONGEST_KEY: Final = 255


@dataclass(frozen=True, slots=True)
class Idempotency:
    """The key of a request and a fingerprint of what it asks.

    ``fingerprint`` is made by the door: SHA-256 over method, path, query, media type and body. Keys
    belong to their contributor: another's key of the same text is another key.
    """

    key: str
    fingerprint: str


class Answer(Protocol):
    """What an act answers: a dataclass that tells whether it is said again."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def replayed(self) -> bool:
        """Tell whether this was answered before."""


A = TypeVar("A", bound=Answer)


def recall(
    connection: Connection, owner: str, asked: Idempotency | None, kind: type[A], now: datetime
) -> A | None:
    """Give the stored answer to a request, or None.

    Raises
    ------
    InvalidError
        If the key is empty, longer than 255 characters or not printable ASCII.
    ReusedKeyError
        If the key was used for another request.
    """
    if asked is None:
        return None
    if not asked.key or len(asked.key) > LONGEST_KEY or not _printable(asked.key):
        raise InvalidError.of(
            "/idempotency_key", f"1 to {LONGEST_KEY} printable ASCII characters are wanted"
        )
    columns = table(Reply).c
    found = connection.execute(
        select(columns.fingerprint, columns.answer, columns.expires_at).where(
            columns.owner == owner, columns.key == asked.key
        )
    ).first()
    if found is None or as_utc(found.expires_at) <= now:
        return None
    if found.fingerprint != asked.fingerprint:
        raise ReusedKeyError(
            Code.KEY_REUSED,
            "this idempotency key was used for another request; use a new key for a new request",
        )
    return replace(from_plain(kind, json.loads(found.answer)), replayed=True)


def _printable(key: str) -> bool:
    return key.isascii() and key.isprintable()


def once(
    connection: Connection,
    owner: str,
    asked: Idempotency | None,
    kind: type[A],
    now: datetime,
    act: Callable[[], A],
) -> A:
    """Do something, or say again what was answered when it was done.

    Parameters
    ----------
    connection : Connection
        Holding the write lock.
    owner : str
        Contributor id.
    asked : Idempotency or None
        None does it in any case and stores nothing.
    kind : type
        The dataclass of the answer.
    now : datetime
    act : callable
        Does the work on the same connection; what it raises is not stored.
    """
    said = recall(connection, owner, asked, kind, now)
    if said is not None:
        return said
    answer = act()
    if asked is not None:
        source = table(Reply)
        old = (source.c.expires_at <= now) | (
            (source.c.owner == owner) & (source.c.key == asked.key)
        )
        connection.execute(delete(source).where(old))
        connection.execute(
            insert(source).values(
                owner=owner,
                key=asked.key,
                fingerprint=asked.fingerprint,
                answer=canonical(to_plain(answer)),
                made_at=now,
                expires_at=now + KEPT,
            )
        )
    return answer
