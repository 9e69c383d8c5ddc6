"""What may be seen of contributions: the curators' queue, one's own, one value, the history."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Select, func, select

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.canonical import as_utc
from hotface_api.ledger.compare import Told, tell
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import Code, ForbiddenError, InvalidError, UnknownError
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.states import acts_from
from hotface_api.store.ledger_models import (
    STATES,
    Attribution,
    Contribution,
    Person,
    Remark,
    Submission,
)
from hotface_api.store.models import Value
from hotface_api.store.read import bytewise, revisions, table, value_history

__all__ = [
    "Entry",
    "Page",
    "RemarkText",
    "RevisionCard",
    "history",
    "list_revisions",
    "mine",
    "queue",
    "view",
]

Row = Mapping[str, Any]
_MOST: Final = 200


@dataclass(frozen=True, slots=True)
class RemarkText:
    """One thing said in a review; ``text`` is None once blanked."""

    at: datetime
    author: str
    act: str
    text: str | None


@dataclass(frozen=True, slots=True)
class Entry:
    """A contributed value as its owner and curators see it.

    Attributes
    ----------
    row : row
        The value in the store's columns, SI; ``row["version"]`` is the row version.
    state : str
    acts : tuple of str
        What may be done in this state.
    submission : str
    submitted_at : datetime
    submitted_by : str or None
        The name behind the key, None once erased.
    measured_by : tuple or None
        Name and ORCID of who measured, where the submission names one.
    proposed : mapping
        What was proposed with it: ``sources``, ``material``, ``specimen``, ``constituents``.
    remarks : tuple of RemarkText
    told : Told or None
        How it stands against what is held now; only by ``view`` and while pending.
    """

    row: Row
    state: str
    acts: tuple[str, ...]
    submission: str
    submitted_at: datetime
    submitted_by: str | None
    measured_by: tuple[str, str | None] | None
    proposed: Mapping[str, Any]
    remarks: tuple[RemarkText, ...]
    told: Told | None


@dataclass(frozen=True, slots=True)
class Page:
    """A page of entries in order of submission; ``after`` asks for the next, None at the end."""

    items: tuple[Entry, ...]
    after: str | None


@dataclass(frozen=True, slots=True)
class RevisionCard:
    """A revision: when, what kind, and how many values it opened and closed."""

    number: int
    made_at: datetime
    kind: str
    summary: str
    package_version: str | None
    opened: int
    closed: int


def queue(
    ledger: Ledger,
    actor: Actor,
    *,
    state: str | None = None,
    after: str | None = None,
    limit: int = 50,
) -> Page:
    """List what waits for curators: pending and asked values, oldest first.

    Parameters
    ----------
    ledger : Ledger
    actor : Actor
        A curator.
    state : str, optional
        One state instead of those two.
    after : str, optional
        ``Page.after`` of the page before.
    limit : int
        1 to 200.

    Raises
    ------
    ForbiddenError, InvalidError, UnavailableError
    """
    if not actor.is_curator:
        raise ForbiddenError(Code.CURATORS_ONLY, "only a curator's key may see the queue")
    states = ("pending", "asked") if state is None else (state,)
    statement = _entries().where(table(Contribution).c.state.in_(_states(states)))
    return _page(ledger, statement, after, limit)


def mine(
    ledger: Ledger,
    actor: Actor,
    *,
    state: str | None = None,
    after: str | None = None,
    limit: int = 50,
) -> Page:
    """List what the caller contributed, oldest first, in any state or one."""
    statement = _entries().where(table(Contribution).c.contributor == actor.contributor)
    if state is not None:
        statement = statement.where(table(Contribution).c.state.in_(_states((state,))))
    return _page(ledger, statement, after, limit)


def view(ledger: Ledger, actor: Actor | None, value: str) -> Entry:
    """Show one contributed value with its review, for its owner and curators.

    Raises
    ------
    UnknownError
        If there is none, or the caller may not see it: nobody learns of another's pending values.
    """
    with ledger.read() as connection:
        statement = _entries().where(table(Contribution).c.value == value)
        found = _listed(connection, statement)
        if not found or actor is None or not _may_see(actor, found[0]):
            raise UnknownError(Code.UNKNOWN_VALUE, f"there is no contributed value {value[:60]!r}")
        entry = found[0]
        if entry.state not in ("pending", "asked"):
            return entry
    return _with_told(ledger, entry)


def _may_see(actor: Actor, entry: Entry) -> bool:
    return actor.is_curator or bool(entry.row["contributor"] == actor.contributor)


def _states(states: tuple[str, ...]) -> tuple[str, ...]:
    for state in states:
        if state not in STATES:
            raise InvalidError.of("/state", f"{state[:40]!r} is not one of {', '.join(STATES)}")
    return states


def _entries() -> Select[Any]:
    value, entry, submission = table(Value), table(Contribution), table(Submission)
    named, person = table(Attribution), table(Person)
    joined = (
        entry.join(value, value.c.id == entry.c.value)
        .join(submission, submission.c.id == entry.c.submission)
        .outerjoin(named, named.c.submission == submission.c.id)
        .outerjoin(person, person.c.contributor == entry.c.contributor)
    )
    return (
        select(
            value,
            entry.c.state.label("review"),
            entry.c.position,
            entry.c.submission.label("within"),
            submission.c.made_at.label("submitted_at"),
            submission.c.proposed,
            person.c.name.label("submitted_by"),
            named.c.name.label("named"),
            named.c.orcid.label("named_orcid"),
        )
        .select_from(joined)
        .where(value.c.contributor.is_not(None))
    )


def _page(ledger: Ledger, statement: Select[Any], after: str | None, limit: int) -> Page:
    """Page by moment of submission, submission and position: the order of what came first."""
    submission, entry = table(Submission).c, table(Contribution).c
    key = (submission.made_at, bytewise(entry.submission), entry.position)
    size = max(1, min(limit, _MOST))
    with ledger.read() as connection:
        if after is not None:
            start = connection.execute(
                select(submission.made_at, entry.submission, entry.position)
                .join(table(Contribution), entry.submission == submission.id)
                .where(entry.value == after)
            ).first()
            if start is None:
                raise InvalidError.of("/after", "this names no contributed value")
            same = (key[0] == start[0]) & (key[1] == start[1]) & (key[2] > start[2])
            later = (key[0] == start[0]) & (key[1] > start[1])
            statement = statement.where((key[0] > start[0]) | later | same)
        found = _listed(connection, statement.order_by(*key).limit(size + 1))
    last = found[size - 1].row["id"] if len(found) > size else None
    return Page(tuple(found[:size]), last)


def _listed(connection: Connection, statement: Select[Any]) -> list[Entry]:
    rows = [dict(row) for row in connection.execute(statement).mappings()]
    remarks = _remarks(connection, [row["id"] for row in rows])
    return [_entry(row, tuple(remarks.get(row["id"], ()))) for row in rows]


def _entry(row: dict[str, Any], remarks: tuple[RemarkText, ...]) -> Entry:
    state, submission = row.pop("review"), row.pop("within")
    row.pop("position")
    submitted_at, proposed = as_utc(row.pop("submitted_at")), row.pop("proposed")
    submitted_by, named, orcid = (row.pop(k) for k in ("submitted_by", "named", "named_orcid"))
    measured_by = None if named is None else (named, orcid)
    return Entry(
        row,
        state,
        acts_from(state),
        submission,
        submitted_at,
        submitted_by,
        measured_by,
        proposed,
        remarks,
        None,
    )


def _remarks(connection: Connection, values: list[str]) -> dict[str, list[RemarkText]]:
    if not values:
        return {}
    columns = table(Remark).c
    statement = select(table(Remark)).where(columns.value.in_(values)).order_by(columns.number)
    found: dict[str, list[RemarkText]] = {}
    for row in connection.execute(statement):
        found.setdefault(row.value, []).append(
            RemarkText(as_utc(row.at), row.author, row.act, row.text)
        )
    return found


def _with_told(ledger: Ledger, entry: Entry) -> Entry:
    """Compare a pending value with what is held now, for whoever is to judge it."""
    reference = ledger.reference()
    definition = reference.properties.get(entry.row["property"])
    if definition is None:
        return entry
    with ledger.read() as connection:
        held = _held(connection, reference, entry.row)
    return replace(entry, told=tell(entry.row, held, definition, reference))


def _held(connection: Connection, reference: Reference, row: Row) -> list[Row]:
    found = material_rows(connection, reference, (row["material"],), (row["property"],))
    return [other for other in found if other["id"] != row["replaces"]]


def list_revisions(
    ledger: Ledger, *, up_to: int | None = None, after: int | None = None, limit: int = 50
) -> list[RevisionCard]:
    """List the revisions, newest first, with what each did to the values.

    Parameters
    ----------
    ledger : Ledger
    up_to : int, optional
        The newest to list; the latest by default.
    after : int, optional
        The number read last, for the next page.
    limit : int
        1 to 200.
    """
    newest = ledger.reference().revision if up_to is None else up_to
    with ledger.read() as connection:
        rows = revisions(connection, newest, after, max(1, min(limit, _MOST)))
        numbers = [row["number"] for row in rows]
        opened = _counts(connection, "from_revision", numbers)
        closed = _counts(connection, "to_revision", numbers)
    return [
        RevisionCard(
            row["number"],
            as_utc(row["made_at"]),
            row["kind"],
            row["summary"],
            row["package_version"],
            opened.get(row["number"], 0),
            closed.get(row["number"], 0),
        )
        for row in rows
    ]


def _counts(connection: Connection, column: str, numbers: list[int]) -> dict[int, int]:
    when = table(Value).c[column]
    statement = select(when, func.count()).where(when.in_(numbers)).group_by(when)
    return {row[0]: row[1] for row in connection.execute(statement)}


def history(ledger: Ledger, value: str, *, revision: int | None = None) -> list[Row]:
    """Give every accepted row of a value, of those it replaced and of those that replaced it.

    Oldest first; withdrawn and replaced rows stay reachable here. Empty where the value was never
    accepted.
    """
    newest = ledger.reference().revision if revision is None else revision
    with ledger.read() as connection:
        return list(value_history(connection, newest, value))
