"""Submitting: checked, compared, and written as pending, all or nothing unless asked otherwise."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, insert, select

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger import audit
from hotface_api.ledger.canonical import digest, row_digest
from hotface_api.ledger.compare import Told
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.drafts import SubmissionDraft
from hotface_api.ledger.errors import Code, ConflictError, Fault, InvalidError
from hotface_api.ledger.identifiers import new_id
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.prepare import MAX_BATCH, Prepared, Ready, prepare
from hotface_api.ledger.replies import Idempotency, once, recall
from hotface_api.store.ledger_models import LIVE, Attribution, Contribution, Remark, Submission
from hotface_api.store.models import Value
from hotface_api.store.read import table

__all__ = ["ItemReceipt", "Receipt", "preview", "submit", "write_submission"]

Row = dict[str, Any]
_BATCH: Final = 200


@dataclass(frozen=True, slots=True)
class ItemReceipt:
    """What became of one value.

    Attributes
    ----------
    value : str or None
        Its id; None where it was refused (or nothing was to be written).
    state : str
        ``pending``, ``refused``, ``held`` (contributed before by the same contributor, under
        ``value``) or ``checked`` (a dry run).
    version : int or None
        The row version a review or correction names.
    told : Told or None
        How it stands against what is held.
    faults : tuple of Fault
    """

    value: str | None
    state: str
    version: int | None
    told: Told | None
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of a submission; items in the order they were handed in.

    ``revision`` is what the values were compared with: submitting makes none. ``replayed`` marks
    an answer given before and said again.
    """

    submission: str | None
    made_at: datetime
    revision: int
    contributor: str
    specimen: str | None
    sources: tuple[str, ...]
    items: tuple[ItemReceipt, ...]
    replayed: bool = False


def preview(
    ledger: Ledger, actor: Actor, draft: SubmissionDraft, *, most: int = MAX_BATCH
) -> Receipt:
    """Check and compare a submission without writing anything (a dry run).

    Never raises for what is wrong with single values: it is in their ``faults``.

    Raises
    ------
    InvalidError
        For what is wrong with the whole (licence, common source, specimen, number of values).
    UnavailableError
    """
    reference, now = ledger.reference(), ledger.now()
    with ledger.read() as connection:
        ready = prepare(connection, reference, actor.contributor, draft, now.date(), most=most)
        _refuse_whole(ready)
        known = _held_before(connection, actor.contributor, ready)
    items = [_checked_item(value, known) for value in ready.values]
    return Receipt(
        None,
        now,
        ready.revision,
        actor.contributor,
        _specimen_id(ready),
        tuple(ready.proposed["sources"]),
        tuple(items),
    )


def submit(
    ledger: Ledger,
    actor: Actor,
    draft: SubmissionDraft,
    *,
    partial: bool = False,
    idempotency: Idempotency | None = None,
    most: int = MAX_BATCH,
    progress: Callable[[int, int], None] | None = None,
) -> Receipt:
    """Submit values, with a specimen or a new material where needed.

    They become pending: seen by their owner and curators, in no answer until accepted.

    Parameters
    ----------
    ledger : Ledger
    actor : Actor
    draft : SubmissionDraft
    partial : bool
        Write the good values and report the others, instead of all or nothing.
    idempotency : Idempotency, optional
        Makes a repeated request get the first answer.
    most : int
        The most values taken at once.
    progress : callable, optional
        Called with values written and values in all.

    Returns
    -------
    Receipt
        Also where every value was contributed before by the same contributor: then nothing is
        written and the items are ``held``.

    Raises
    ------
    InvalidError
        With every fault found; nothing is written.
    ConflictError
        ``already_contributed`` if some, not all, were contributed before (all or nothing only).
    ReusedKeyError, UnavailableError
    """
    now = ledger.now()
    with ledger.read() as connection:
        said = recall(connection, actor.contributor, idempotency, Receipt, now)
    if said is not None:
        return said
    reference = ledger.reference()
    with ledger.read() as connection:
        ready = prepare(connection, reference, actor.contributor, draft, now.date(), most=most)
    _refuse(ready, partial=partial)
    with ledger.write() as connection:

        def act() -> Receipt:
            latest = _fresh(ledger, connection, actor, draft, reference, ready, most)
            _refuse(latest, partial=partial)
            return write_submission(
                connection, now, actor, latest, partial=partial, progress=progress
            )

        return once(connection, actor.contributor, idempotency, Receipt, now, act)


def _fresh(
    ledger: Ledger,
    connection: Connection,
    actor: Actor,
    draft: SubmissionDraft,
    reference: Reference,
    ready: Prepared,
    most: int,
) -> Prepared:
    """Prepare again where a revision was made since."""
    latest = ledger.reference_in(connection, reference)
    if latest is reference:
        return ready
    today = ledger.now().date()
    return prepare(connection, latest, actor.contributor, draft, today, most=most)


def _refuse_whole(ready: Prepared) -> None:
    if ready.faults:
        raise InvalidError(ready.all_faults())


def _refuse(ready: Prepared, *, partial: bool) -> None:
    _refuse_whole(ready)
    faults = ready.all_faults()
    if faults and (not partial or all(value.row is None for value in ready.values)):
        raise InvalidError(faults)


def _held_before(
    connection: Connection, contributor: str, ready: Prepared
) -> Mapping[str, tuple[str, int]]:
    """Give value and version of each content hash this contributor has live already."""
    hashes = [value.content_hash for value in ready.values if value.row is not None]
    columns, values = table(Contribution).c, table(Value).c
    found: dict[str, tuple[str, int]] = {}
    for start in range(0, len(hashes), _BATCH):
        statement = (
            select(columns.content_hash, columns.value, values.version)
            .join(table(Value), values.id == columns.value)
            .where(
                columns.contributor == contributor,
                columns.state.in_(LIVE),
                columns.content_hash.in_(hashes[start : start + _BATCH]),
            )
        )
        for row in connection.execute(statement):
            found[row.content_hash] = (row.value, row.version)
    return found


def _checked_item(value: Ready, known: Mapping[str, tuple[str, int]]) -> ItemReceipt:
    if value.row is None:
        return ItemReceipt(None, "refused", None, None, value.faults)
    if value.content_hash in known:
        held, version = known[value.content_hash]
        return ItemReceipt(held, "held", version, value.told, ())
    return ItemReceipt(None, "checked", None, value.told, ())


def _specimen_id(ready: Prepared) -> str | None:
    specimen = ready.proposed.get("specimen")
    return None if specimen is None else str(specimen["id"])


def write_submission(
    connection: Connection,
    now: datetime,
    actor: Actor,
    ready: Prepared,
    *,
    partial: bool = False,
    replaces: str | None = None,
    reason: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Receipt:
    """Write a prepared submission inside a writing transaction.

    ``replaces`` is the value a correction (of one value) stands in for; its reason is kept.
    """
    known = _held_before(connection, actor.contributor, ready)
    items = [_checked_item(value, known) for value in ready.values]
    receipt = Receipt(
        None,
        now,
        ready.revision,
        actor.contributor,
        _specimen_id(ready),
        tuple(ready.proposed["sources"]),
        tuple(items),
    )
    fresh = [index for index, item in enumerate(items) if item.state == "checked"]
    if not fresh:
        return replace(receipt, specimen=None, sources=())
    if not partial and len(fresh) < len(items):
        _refuse_some_held(items)
    submission = _open_submission(connection, now, actor, ready)
    for start in range(0, len(fresh), _BATCH):
        chunk = fresh[start : start + _BATCH]
        for index, key in zip(
            chunk,
            _write_values(connection, submission, actor, ready, chunk, replaces),
            strict=True,
        ):
            items[index] = replace(items[index], value=key, state="pending", version=1)
        if progress is not None:
            progress(min(start + _BATCH, len(fresh)), len(fresh))
    written = [items[index].value or "" for index in fresh]
    _record(connection, now, actor, submission, ready, fresh, written, replaces, reason)
    return replace(receipt, submission=submission, items=tuple(items))


def _refuse_some_held(items: list[ItemReceipt]) -> None:
    held = [(index, item.value) for index, item in enumerate(items) if item.state == "held"]
    index, value = held[0]
    raise ConflictError(
        Code.ALREADY_HELD,
        f"{len(held)} of these were contributed before, the first as {value}; leave them out,"
        " or submit in part",
        pointer=f"/values/{index}",
        value=value,
    )


def _open_submission(connection: Connection, now: datetime, actor: Actor, ready: Prepared) -> str:
    key = new_id("s-")
    connection.execute(
        insert(table(Submission)).values(
            id=key,
            contributor=actor.contributor,
            made_at=now,
            licence=ready.licence,
            against_revision=ready.revision,
            proposed=dict(ready.proposed),
        )
    )
    if ready.measured_by is not None:
        name, orcid = ready.measured_by
        connection.execute(
            insert(table(Attribution)).values(submission=key, name=name, orcid=orcid)
        )
    return key


def _write_values(
    connection: Connection,
    submission: str,
    actor: Actor,
    ready: Prepared,
    chunk: list[int],
    replaces: str | None,
) -> list[str]:
    rows, standings = [], []
    for index in chunk:
        value = ready.values[index]
        key = new_id("c-")
        rows.append(
            {
                **(value.row or {}),
                "id": key,
                "status": "pending",
                "version": 1,
                "from_revision": None,
                "to_revision": None,
                "replaces": replaces,
            }
        )
        standings.append(
            {
                "value": key,
                "submission": submission,
                "contributor": actor.contributor,
                "position": index,
                "state": "pending",
                "content_hash": value.content_hash,
            }
        )
    connection.execute(insert(table(Value)), rows)
    connection.execute(insert(table(Contribution)), standings)
    return [row["id"] for row in rows]


def _record(
    connection: Connection,
    now: datetime,
    actor: Actor,
    submission: str,
    ready: Prepared,
    fresh: list[int],
    written: list[str],
    replaces: str | None,
    reason: str | None,
) -> None:
    """Append to the audit what was submitted: a digest of every row, and of what is proposed."""
    source = table(Value)
    digests = {
        key: row_digest(
            source, {**(ready.values[index].row or {}), "id": key, "replaces": replaces}
        )
        for index, key in zip(fresh, written, strict=True)
    }
    facts: Row = {
        "values": digests,
        "proposed": digest(ready.proposed),
        "licence": ready.licence,
        "key": actor.key,
    }
    if replaces is not None:
        facts["replaces"] = replaces
    act = "submit" if replaces is None else "correct"
    if reason is not None:
        salt = secrets.token_hex(16)
        facts["remark"] = digest([salt, reason])
    number = audit.append(connection, now, actor.contributor, act, submission, facts)
    if reason is not None:
        connection.execute(
            insert(table(Remark)).values(
                number=number,
                value=written[0],
                at=now,
                author=actor.contributor,
                act=act,
                text=reason,
                salt=salt,
            )
        )
