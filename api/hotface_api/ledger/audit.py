"""The audit: an append-only chain in which every entry carries the hash of the one before.

An entry says that something happened to something, by whose opaque id, and carries digests of
what it was: never a name, an address or a text. Changing, removing or inserting an entry breaks
the chain at that place; losing its end is found by the contributions that no entry speaks of, and
by a head kept elsewhere (``AuditReport.head``). ``number`` orders the chain: the clock is only
told, and may go back.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, insert, select

from hotface_api.ledger.canonical import canonical, stamp
from hotface_api.store.ledger_models import AuditEntry
from hotface_api.store.read import table

__all__ = ["FIRST", "append", "chain_hash"]

FIRST: Final = "0" * 64
"""What the first entry carries as the hash before it."""


def chain_hash(entry: Mapping[str, Any]) -> str:
    """Give the hash of an entry: SHA-256 over its columns and the hash of the one before."""
    said = [entry[name] for name in ("number", "at", "actor", "action", "subject", "facts")]
    return hashlib.sha256(canonical([*said, entry["previous"]]).encode()).hexdigest()


def append(
    connection: Connection,
    now: datetime,
    actor: str,
    action: str,
    subject: str,
    facts: Mapping[str, Any],
) -> int:
    """Append one entry, inside the writing transaction it tells of.

    Parameters
    ----------
    connection : Connection
        Holding the write lock.
    now : datetime
    actor : str
        Opaque id of who acted; ``operator`` for the command line.
    action, subject : str
        What was done, to what.
    facts : mapping
        Digests, ids and words; nothing personal.

    Returns
    -------
    int
        The entry's number.
    """
    source = table(AuditEntry)
    newest = select(source.c.number, source.c.hash).order_by(source.c.number.desc()).limit(1)
    last = connection.execute(newest).first()
    entry = {
        "number": 1 if last is None else last.number + 1,
        "at": stamp(now),
        "actor": actor,
        "action": action,
        "subject": subject,
        "facts": canonical(facts),
        "previous": FIRST if last is None else last.hash,
    }
    entry["hash"] = chain_hash(entry)
    connection.execute(insert(source).values(**entry))
    return int(entry["number"])
