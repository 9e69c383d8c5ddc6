"""Is the record whole: the chain, and every contribution against what the chain says of it.

Run by the operator, after a restore above all. It reads everything and changes nothing.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from hotface_api.ledger.audit import FIRST, chain_hash
from hotface_api.ledger.canonical import digest, row_digest
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import ConflictError
from hotface_api.ledger.states import next_state
from hotface_api.store.ledger_models import AuditEntry, Contribution, Remark, Submission
from hotface_api.store.models import Revision, Value
from hotface_api.store.read import table

__all__ = ["AuditReport", "check_audit", "check_connection"]

Row = Mapping[str, Any]
_MOST: Final = 100
_ACTS: Final = frozenset({"accept", "decline", "ask", "reply", "withdraw", "replace", "corrected"})
_OURS: Final = ("contribution", "correction", "withdrawal")


@dataclass(frozen=True, slots=True)
class AuditReport:
    """What a check found.

    Attributes
    ----------
    entries : int
        Length of the chain.
    contributions : int
        Contributed values checked against it.
    head : tuple of int and str, or None
        Number and hash of the last entry: keep it elsewhere to notice a cut end later.
    faults : tuple of str
        At most a hundred, each with what and where.
    """

    entries: int
    contributions: int
    head: tuple[int, str] | None
    faults: tuple[str, ...]

    @property
    def intact(self) -> bool:
        """Tell whether nothing is wrong."""
        return not self.faults


@dataclass(slots=True)
class _Story:
    """What the chain says happened, gathered while it is walked."""

    states: dict[str, str]
    digests: dict[str, str]
    proposed: dict[str, str]
    remarks: dict[int, str]
    opened: dict[str, int]
    closed: dict[str, int]
    revisions: set[int]


def check_audit(ledger: Ledger, *, expected: tuple[int, str] | None = None) -> AuditReport:
    """Check the audit chain and every contribution against it.

    Parameters
    ----------
    ledger : Ledger
    expected : tuple of int and str, optional
        A head noted earlier, which must still be in the chain.

    Returns
    -------
    AuditReport
    """
    with ledger.read() as connection:
        return check_connection(connection, expected)


def check_connection(
    connection: Connection, expected: tuple[int, str] | None = None
) -> AuditReport:
    """Check on a connection at hand; see ``check_audit``."""
    faults: list[str] = []
    columns = table(AuditEntry).c
    statement = select(table(AuditEntry)).order_by(columns.number)
    entries = [dict(row) for row in connection.execute(statement).mappings()]
    story = _walk(entries, faults)
    _check_expected(entries, expected, faults)
    standings = _check_standings(connection, story, faults)
    _check_rows(connection, story, faults)
    _check_texts(connection, story, faults)
    _check_revisions(connection, story, faults)
    head = (entries[-1]["number"], entries[-1]["hash"]) if entries else None
    return AuditReport(len(entries), standings, head, tuple(faults[:_MOST]))


def _walk(entries: list[dict[str, Any]], faults: list[str]) -> _Story:
    story = _Story({}, {}, {}, {}, {}, {}, set())
    previous = FIRST
    for place, entry in enumerate(entries, start=1):
        number = entry["number"]
        if number != place:
            faults.append(f"audit entry {place}: missing; {number} stands in its place")
            return story
        if entry["previous"] != previous or chain_hash(entry) != entry["hash"]:
            faults.append(f"audit entry {number}: the chain breaks here")
            return story
        previous = entry["hash"]
        _follow(story, entry, faults)
    return story


def _follow(story: _Story, entry: Row, faults: list[str]) -> None:
    """Take in what one entry says."""
    facts = json.loads(entry["facts"])
    action, subject = entry["action"], entry["subject"]
    if "remark" in facts:
        story.remarks[entry["number"]] = facts["remark"]
    if facts.get("revision") is not None:
        story.revisions.add(facts["revision"])
    if action in ("submit", "correct"):
        story.proposed[subject] = facts["proposed"]
        for value, said in facts["values"].items():
            if value in story.states:
                faults.append(f"audit entry {entry['number']}: {value} was submitted before")
            story.states[value], story.digests[value] = "pending", said
    elif action in _ACTS:
        _move(story, entry, facts, faults)


def _move(story: _Story, entry: Row, facts: Row, faults: list[str]) -> None:
    action, value = entry["action"], entry["subject"]
    act = "correct" if action == "corrected" else action
    try:
        story.states[value] = next_state(story.states.get(value, "unknown"), act, value)
    except ConflictError as error:
        faults.append(f"audit entry {entry['number']}: {error.message}")
    if action == "accept":
        story.opened[value] = facts["revision"]
    elif action in ("replace", "withdraw") and facts.get("revision") is not None:
        story.closed[value] = facts["revision"]


def _check_expected(
    entries: list[dict[str, Any]], expected: tuple[int, str] | None, faults: list[str]
) -> None:
    if expected is None:
        return
    number, known = expected
    if len(entries) < number or entries[number - 1]["hash"] != known:
        faults.append(f"audit entry {number}: not the one whose hash was noted before")


def _check_standings(connection: Connection, story: _Story, faults: list[str]) -> int:
    statement = select(table(Contribution).c.value, table(Contribution).c.state)
    held = {row.value: row.state for row in connection.execute(statement)}
    said = story.states
    faults += [
        f"{value}: contributed, but the audit does not speak of it"
        for value in sorted(held.keys() - said.keys())
    ]
    faults += [
        f"{value}: the audit speaks of it, but it is gone"
        for value in sorted(said.keys() - held.keys())
    ]
    faults += [
        f"{value}: is {held[value]}; the audit says {said[value]}"
        for value in sorted(held.keys() & said.keys())
        if held[value] != said[value]
    ]
    return len(held)


def _check_rows(connection: Connection, story: _Story, faults: list[str]) -> None:
    source = table(Value)
    statement = select(source).where(source.c.contributor.is_not(None))
    rows = [dict(row) for row in connection.execute(statement).mappings()]
    count = Counter(row["id"] for row in rows)
    faults += [f"{value}: its row is gone" for value in sorted(story.digests.keys() - count.keys())]
    for row in rows:
        value = row["id"]
        if count[value] > 1:
            faults.append(f"{value}: stands {count[value]} times")
        if story.digests.get(value) != row_digest(source, row):
            faults.append(f"{value}: its row is not what was submitted")
        if row["from_revision"] != story.opened.get(value):
            faults.append(f"{value}: opened by revision {row['from_revision']}, unlike the audit")
        closed = story.closed.get(value)
        if closed is not None and row["to_revision"] != closed:
            faults.append(f"{value}: closed by revision {row['to_revision']}, unlike the audit")


def _check_texts(connection: Connection, story: _Story, faults: list[str]) -> None:
    """Hold remarks and proposals to their digests; what was blanked on request passes."""
    remarks = {row.number: row for row in connection.execute(select(table(Remark)))}
    for number, said in sorted(story.remarks.items()):
        row = remarks.get(number)
        if row is None:
            faults.append(f"audit entry {number}: its remark is gone")
        elif row.text is not None and digest([row.salt, row.text]) != said:
            faults.append(f"audit entry {number}: its remark was changed")
    proposed = {row.id: row.proposed for row in connection.execute(select(table(Submission)))}
    for submission, said in sorted(story.proposed.items()):
        if submission not in proposed:
            faults.append(f"{submission}: the submission is gone")
        elif digest(proposed[submission]) != said:
            faults.append(f"{submission}: what it proposed was changed")


def _check_revisions(connection: Connection, story: _Story, faults: list[str]) -> None:
    columns = table(Revision).c
    ours = set(connection.scalars(select(columns.number).where(columns.kind.in_(_OURS))))
    faults += [
        f"revision {number}: the audit speaks of it, but it is gone"
        for number in sorted(story.revisions - ours)
    ]
    faults += [
        f"revision {number}: made by a contribution the audit does not speak of"
        for number in sorted(ours - story.revisions)
    ]
