"""Review: accept, decline, ask; and what the contributor may do: reply, correct, withdraw.

Every change names the row version it is about. Two who act on the same version do so one after
the other (there is one writer at a time); the second finds another version and is told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, TypeVar

from sqlalchemy import Connection, select

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import Code, ForbiddenError, InvalidError
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.opening import close_orphans, close_value, open_proposed, open_revision
from hotface_api.ledger.replies import Answer, Idempotency, once
from hotface_api.ledger.standing import (
    Held,
    Version,
    expect_version,
    held_value,
    move,
    record,
    refuse_others,
    refuse_own,
    served_value,
)
from hotface_api.ledger.states import next_state
from hotface_api.ledger.texts import LONG, Faults
from hotface_api.store.ledger_models import Submission
from hotface_api.store.read import table

__all__ = ["DECISIONS", "Standing", "Standings", "reply", "review", "review_many", "withdraw"]

Row = dict[str, Any]
A = TypeVar("A", bound=Answer)
DECISIONS: Final = ("accept", "decline", "ask")
_MOST_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a value stands after an act; ``revision`` is the one it made, if it made one."""

    value: str
    state: str
    version: int
    revision: int | None
    replayed: bool = False


@dataclass(frozen=True, slots=True)
class Standings:
    """Where several values stand after one act."""

    items: tuple[Standing, ...]
    revision: int | None
    replayed: bool = False


def _text(text: str | None, *, needed: bool, place: str) -> str | None:
    faults = Faults()
    plain = faults.text(place, text, longest=LONG, needed=needed)
    if faults.found:
        raise InvalidError(faults.found)
    return plain


def review(
    ledger: Ledger,
    actor: Actor,
    value: str,
    decision: str,
    *,
    version: Version,
    note: str | None = None,
    idempotency: Idempotency | None = None,
) -> Standing:
    """Decide on one pending value.

    Parameters
    ----------
    ledger : Ledger
    actor : Actor
        A curator, and not the one who submitted it.
    value : str
    decision : str
        ``accept`` advances the revision in the same transaction; ``decline`` and ``ask`` need a
        note.
    version : int, frozenset of int or None
        The row version decided on.
    note : str, optional
    idempotency : Idempotency, optional

    Returns
    -------
    Standing

    Raises
    ------
    InvalidError
        Unknown decision, or a note that is missing or no text.
    UnknownError, ForbiddenError, VersionNeededError, StaleError, ConflictError, UnavailableError
    """
    text = _decision_note(decision, note)

    def act(connection: Connection, now: datetime, reference: Reference) -> Standing:
        decided = _decide(connection, now, actor, [(value, version)], decision, text, reference)
        return decided.items[0]

    return _acting(ledger, actor, idempotency, Standing, act)


def review_many(
    ledger: Ledger,
    actor: Actor,
    values: Sequence[tuple[str, Version]],
    decision: str,
    *,
    note: str | None = None,
    idempotency: Idempotency | None = None,
) -> Standings:
    """Decide on several values at once, all or nothing, in one revision; see ``review``."""
    text = _decision_note(decision, note)
    keys = [value for value, _ in values]
    if not keys or len(keys) > _MOST_AT_ONCE or len(set(keys)) < len(keys):
        raise InvalidError.of("/values", f"1 to {_MOST_AT_ONCE} values are wanted, each once")

    def act(connection: Connection, now: datetime, reference: Reference) -> Standings:
        return _decide(connection, now, actor, values, decision, text, reference)

    return _acting(ledger, actor, idempotency, Standings, act)


def _decision_note(decision: str, note: str | None) -> str | None:
    if decision not in DECISIONS:
        raise InvalidError.of(
            "/decision", f"{decision[:40]!r} is not one of {', '.join(DECISIONS)}", DECISIONS
        )
    return _text(note, needed=decision != "accept", place="/note")


def _acting(
    ledger: Ledger,
    actor: Actor,
    idempotency: Idempotency | None,
    kind: type[A],
    act: Callable[[Connection, datetime, Reference], A],
) -> A:
    now = ledger.now()
    known = ledger.reference()
    with ledger.write() as connection:

        def run() -> A:
            return act(connection, now, ledger.reference_in(connection, known))

        return once(connection, actor.contributor, idempotency, kind, now, run)


def _decide(
    connection: Connection,
    now: datetime,
    actor: Actor,
    values: Sequence[tuple[str, Version]],
    decision: str,
    note: str | None,
    reference: Reference,
) -> Standings:
    if not actor.is_curator:
        raise ForbiddenError(Code.CURATORS_ONLY, "only a curator's key may review")
    helds = []
    for value, version in values:
        held = held_value(connection, actor, value)
        expect_version(held, version)
        refuse_own(connection, actor, held)
        next_state(held.state, decision, value)
        helds.append(held)
    if decision == "accept":
        return _accept(connection, now, actor, helds, note, reference)
    items = []
    for held in helds:
        value = str(held.row["id"])
        state, version = move(connection, held, decision)
        record(connection, now, actor, decision, value, note, version=version)
        items.append(Standing(value, state, version, None))
    return Standings(tuple(items), None)


def _accept(
    connection: Connection,
    now: datetime,
    actor: Actor,
    helds: Sequence[Held],
    note: str | None,
    reference: Reference,
) -> Standings:
    replaced = {h.row["id"]: served_value(connection, h.row["replaces"]) for h in helds}
    corrects = all(old is not None for old in replaced.values())
    named = ", ".join(f"{h.row['property']} of {h.row['material']}" for h in helds[:3])
    more = f" and {len(helds) - 3} more" if len(helds) > 3 else ""  # noqa: PLR2004
    number = open_revision(
        connection, now, "correction" if corrects else "contribution", f"accepted {named}{more}"
    )
    items = []
    for held in helds:
        value, old = str(held.row["id"]), replaced[held.row["id"]]
        proposed = connection.scalar(
            select(table(Submission).c.proposed).where(table(Submission).c.id == held.submission)
        )
        open_proposed(connection, reference, proposed or {}, held.row, number)
        if old is not None:
            _replace(connection, now, actor, old, value, number)
        state, version = move(connection, held, "accept", from_revision=number)
        record(connection, now, actor, "accept", value, note, version=version, revision=number)
        items.append(Standing(value, state, version, number))
    if any(old is not None for old in replaced.values()):
        close_orphans(connection, number)
    return Standings(tuple(items), number)


def _replace(
    connection: Connection, now: datetime, actor: Actor, old: Held, by: str, number: int
) -> None:
    value = str(old.row["id"])
    _, version = move(connection, old, "replace")
    close_value(connection, value, number)
    record(connection, now, actor, "replace", value, None, version=version, revision=number, by=by)


def reply(
    ledger: Ledger,
    actor: Actor,
    value: str,
    text: str,
    *,
    version: Version,
    idempotency: Idempotency | None = None,
) -> Standing:
    """Answer a curator's question; the value is pending again.

    Raises
    ------
    InvalidError, UnknownError, ForbiddenError, VersionNeededError, StaleError, ConflictError,
    UnavailableError
    """
    said = _text(text, needed=True, place="/text")

    def act(connection: Connection, now: datetime, _reference: Reference) -> Standing:
        held = held_value(connection, actor, value)
        refuse_others(actor, held)
        expect_version(held, version)
        state, after = move(connection, held, "reply")
        record(connection, now, actor, "reply", value, said, version=after)
        return Standing(value, state, after, None)

    return _acting(ledger, actor, idempotency, Standing, act)


def withdraw(
    ledger: Ledger,
    actor: Actor,
    value: str,
    reason: str,
    *,
    version: Version,
    idempotency: Idempotency | None = None,
) -> Standing:
    """Withdraw a value; an accepted one leaves with a new revision and stays reachable.

    Its contributor may at any time; a curator may withdraw an accepted one of another.

    Raises
    ------
    InvalidError, UnknownError, ForbiddenError, VersionNeededError, StaleError, ConflictError,
    UnavailableError
    """
    said = _text(reason, needed=True, place="/reason")

    def act(connection: Connection, now: datetime, _reference: Reference) -> Standing:
        held = held_value(connection, actor, value)
        if not (actor.is_curator and held.state == "accepted"):
            refuse_others(actor, held)
        expect_version(held, version)
        next_state(held.state, "withdraw", value)
        number = None
        if held.state == "accepted":
            what = f"withdrew {held.row['property']} of {held.row['material']}"
            number = open_revision(connection, now, "withdrawal", what)
            close_value(connection, value, number)
        state, after = move(connection, held, "withdraw")
        if number is not None:
            close_orphans(connection, number)
        record(connection, now, actor, "withdraw", value, said, version=after, revision=number)
        return Standing(value, state, after, number)

    return _acting(ledger, actor, idempotency, Standing, act)
