"""A contributed value as it stands: read under the lock, held to its version, moved, recorded."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, insert, select, update

from hotface_api.ledger import audit
from hotface_api.ledger.canonical import digest
from hotface_api.ledger.errors import (
    Code,
    ConflictError,
    ForbiddenError,
    StaleError,
    UnknownError,
    VersionNeededError,
)
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.states import ROW_STATUS, next_state
from hotface_api.store.ledger_models import Attribution, Contribution, Person, Remark
from hotface_api.store.models import Value
from hotface_api.store.read import table

__all__ = [
    "Held",
    "Version",
    "expect_version",
    "held_value",
    "move",
    "record",
    "refuse_others",
    "refuse_own",
    "refuse_second_correction",
    "served_value",
    "to_replace",
]

Row = dict[str, Any]
Version = int | frozenset[int] | None
"""The row version a change is about, or several of which one is; None where none was said."""


@dataclass(frozen=True, slots=True)
class Held:
    """A contributed value with its standing, as read under the write lock."""

    row: Row
    state: str
    submission: str
    contributor: str


def held_value(connection: Connection, actor: Actor, value: str) -> Held:
    """Read a contributed value for someone who may know of it.

    Raises
    ------
    UnknownError
        If there is none, or it is pending and another's.
    """
    held = _found(connection, _contributed(value))
    if held is not None:
        public = held.row["from_revision"] is not None
        if public or actor.is_curator or held.contributor == actor.contributor:
            return held
    raise UnknownError(Code.UNKNOWN_VALUE, f"there is no contributed value {value[:60]!r}")


def expect_version(held: Held, version: Version) -> None:
    """Hold a change to the version it is about; of several named, any will do.

    Raises
    ------
    VersionNeededError, StaleError
    """
    present = int(held.row["version"])
    if version is None:
        raise VersionNeededError(
            Code.VERSION_NEEDED,
            f"say which version of {held.row['id']} this is about (If-Match); it is {present} now",
        )
    named = {version} if isinstance(version, int) else version
    if present not in named:
        seen = ", ".join(map(str, sorted(named)))
        what = f"has changed since version {seen}" if seen else "is at none of the versions named"
        raise StaleError(
            f"{held.row['id']} {what}: it is {held.state}, version {present}; look at it again",
            version=present,
            value=str(held.row["id"]),
        )


def move(connection: Connection, held: Held, act: str, **changes: Any) -> tuple[str, int]:
    """Move a value to its next state and version; give both."""
    value = str(held.row["id"])
    state = next_state(held.state, act, value)
    served = held.row["from_revision"] is not None or changes.get("from_revision") is not None
    status = "accepted" if served else ROW_STATUS[state]
    version = int(held.row["version"]) + 1
    connection.execute(
        update(table(Value))
        .where(table(Value).c.row == held.row["row"])
        .values(version=version, status=status, **changes)
    )
    connection.execute(
        update(table(Contribution)).where(table(Contribution).c.value == value).values(state=state)
    )
    return state, version


def record(
    connection: Connection,
    now: datetime,
    actor: Actor,
    act: str,
    value: str,
    text: str | None,
    **facts: Any,
) -> None:
    """Append an act to the audit, and keep its text beside it."""
    salt = None if text is None else secrets.token_hex(16)
    said = facts if text is None else {**facts, "remark": digest([salt, text])}
    number = audit.append(
        connection, now, actor.contributor, act, value, {**said, "key": actor.key}
    )
    if text is not None:
        connection.execute(
            insert(table(Remark)).values(
                number=number,
                value=value,
                at=now,
                author=actor.contributor,
                act=act,
                text=text,
                salt=salt,
            )
        )


def refuse_own(connection: Connection, actor: Actor, held: Held) -> None:
    """Let nobody review what they submitted, under this id or another of the same ORCID.

    Raises
    ------
    ForbiddenError
    """
    own = held.contributor == actor.contributor
    if not own:
        people, named = table(Person).c, table(Attribution).c
        mine = connection.scalar(
            select(people.orcid).where(people.contributor == actor.contributor)
        )
        theirs = {
            connection.scalar(select(people.orcid).where(people.contributor == held.contributor)),
            connection.scalar(select(named.orcid).where(named.submission == held.submission)),
        }
        own = mine is not None and mine in theirs
    if own:
        raise ForbiddenError(
            Code.OWN_SUBMISSION, "nobody reviews their own submission; ask another curator"
        )


def served_value(connection: Connection, value: str | None) -> Held | None:
    """Give the accepted value a correction replaces, if it is still served."""
    if value is None:
        return None
    served = _contributed(value).where(
        table(Contribution).c.state == "accepted", table(Value).c.to_revision.is_(None)
    )
    return _found(connection, served)


def _contributed(value: str) -> Select[Any]:
    """Select a contributed value; a row a newer package opened under its id is another's."""
    columns, rows = table(Contribution).c, table(Value).c
    return (
        select(table(Value), columns.state.label("review"), columns.submission.label("within"))
        .join(table(Contribution), columns.value == rows.id)
        .where(columns.value == value, rows.contributor.is_not(None))
    )


def _found(connection: Connection, statement: Select[Any]) -> Held | None:
    found = connection.execute(statement).mappings().first()
    if found is None:
        return None
    row = dict(found)
    return Held(row, row.pop("review"), row.pop("within"), row["contributor"])


def refuse_others(actor: Actor, held: Held) -> None:
    """Let only the contributor go on.

    Raises
    ------
    ForbiddenError
    """
    if held.contributor != actor.contributor:
        raise ForbiddenError(Code.NOT_YOURS, "only its contributor may do this")


def to_replace(connection: Connection, held: Held) -> str:
    """Name the value that a correction of this one is to replace.

    A correction that was never accepted hands on what it was to replace itself: otherwise that
    would be served beside the new one.

    Raises
    ------
    ConflictError
        If that was replaced by another meanwhile.
    """
    value, before = str(held.row["id"]), held.row["replaces"]
    if held.row["from_revision"] is not None or before is None:
        return value
    first = _found(connection, _contributed(before))
    if first is None or first.row["from_revision"] is None:
        return value
    if first.state == "replaced":
        raise ConflictError(
            Code.WRONG_STATE,
            f"{before}, which it was to replace, was replaced by another since; correct that one",
            value=str(before),
        )
    return str(before)


def refuse_second_correction(connection: Connection, value: str, *, beside: str) -> None:
    """Let one correction of a value be under review at a time, beside the one at hand.

    Raises
    ------
    ConflictError
    """
    columns = table(Contribution).c
    waiting = connection.scalar(
        select(columns.value)
        .join(table(Value), table(Value).c.id == columns.value)
        .where(
            table(Value).c.replaces == value,
            columns.state.in_(("pending", "asked")),
            columns.value != beside,
        )
    )
    if waiting is not None:
        raise ConflictError(
            Code.WRONG_STATE,
            f"a correction of it waits for review already: {waiting}",
            value=str(waiting),
        )
