"""Correcting: a new value takes the place of an old one; neither is ever rewritten."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.drafts import SubmissionDraft, ValueDraft
from hotface_api.ledger.errors import Code, ConflictError, InvalidError
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.prepare import Kept, Prepared, prepare
from hotface_api.ledger.replies import Idempotency, once, recall
from hotface_api.ledger.sources import Cited
from hotface_api.ledger.standing import (
    Held,
    Version,
    expect_version,
    held_value,
    move,
    record,
    refuse_others,
    refuse_second_correction,
    to_replace,
)
from hotface_api.ledger.states import next_state
from hotface_api.ledger.submit import Receipt, write_submission
from hotface_api.ledger.texts import LONG, Faults
from hotface_api.store.ledger_models import Submission
from hotface_api.store.read import table

__all__ = ["correct"]


def correct(
    ledger: Ledger,
    actor: Actor,
    value: str,
    draft: ValueDraft,
    reason: str,
    *,
    version: Version,
    idempotency: Idempotency | None = None,
) -> Receipt:
    """Hand in a corrected value for one of one's own.

    The draft is whole: what it leaves out is not taken from the old value, except source,
    specimen and licence. A pending value is replaced at once; an accepted one is served until
    its correction is accepted.

    Parameters
    ----------
    ledger : Ledger
    actor : Actor
        The contributor of the old value.
    value : str
        The old value.
    draft : ValueDraft
    reason : str
        Why; curators read it.
    version : int, frozenset of int or None
        The row version of the old value.
    idempotency : Idempotency, optional

    Returns
    -------
    Receipt
        Of the new value.

    Raises
    ------
    InvalidError, UnknownError, ForbiddenError, VersionNeededError, StaleError, ConflictError,
    UnavailableError
    """
    said = _reason(reason)
    now = ledger.now()
    with ledger.read() as connection:
        told = recall(connection, actor.contributor, idempotency, Receipt, now)
    if told is not None:
        return told
    known = ledger.reference()
    with ledger.write() as connection:

        def act() -> Receipt:
            held = held_value(connection, actor, value)
            refuse_others(actor, held)
            expect_version(held, version)
            next_state(held.state, "correct", value)
            old = to_replace(connection, held)
            refuse_second_correction(connection, old, beside=value)
            reference = ledger.reference_in(connection, known)
            ready = _prepared(connection, reference, actor, held, old, draft, now.date())
            receipt = write_submission(connection, now, actor, ready, replaces=old, reason=said)
            new = receipt.items[0]
            if new.state != "pending":
                raise ConflictError(
                    Code.ALREADY_HELD,
                    f"this says just what {new.value} says already",
                    value=new.value,
                )
            _, after = move(connection, held, "correct")
            record(connection, now, actor, "corrected", value, None, version=after, by=new.value)
            return receipt

        return once(connection, actor.contributor, idempotency, Receipt, now, act)


def _reason(reason: str) -> str:
    faults = Faults()
    said = faults.text("/reason", reason, longest=LONG, needed=True)
    if said is None:
        raise InvalidError(faults.found)
    return said


def _prepared(
    connection: Connection,
    reference: Reference,
    actor: Actor,
    held: Held,
    old: str,
    draft: ValueDraft,
    today: date,
) -> Prepared:
    """Prepare the new value with what it keeps of the one at hand and of what came with that."""
    columns = table(Submission).c
    came = connection.execute(
        select(columns.proposed, columns.licence).where(columns.id == held.submission)
    ).one()
    source = _kept_source(held, came.proposed)
    kept = Kept(old, source, held.row["specimen"], came.proposed)
    submission = SubmissionDraft(values=(draft,), licence=came.licence)
    ready = prepare(connection, reference, actor.contributor, submission, today, kept=kept)
    if ready.all_faults():
        raise InvalidError(
            [
                replace(fault, pointer=fault.pointer.removeprefix("/values/0"))
                for fault in ready.all_faults()
            ]
        )
    return ready


def _kept_source(held: Held, proposed: dict[str, Any]) -> Cited:
    key, own = str(held.row["source"]), held.row["basis"] == "measured"
    pair = proposed.get("sources", {}).get(key)
    new = None if pair is None else (pair[0], pair[1])
    return Cited(key, str(held.row["origin"]), own=own, new=new)
