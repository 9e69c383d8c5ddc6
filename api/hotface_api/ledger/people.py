"""Contributors: an opaque id for ever, and a name that can be erased."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from hotface_api.ledger import audit
from hotface_api.ledger.canonical import as_utc
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import Code, InvalidError, UnknownError
from hotface_api.ledger.identifiers import new_id, read_orcid
from hotface_api.ledger.texts import Faults
from hotface_api.store.ledger_models import (
    ApiKey,
    Attribution,
    Contributor,
    Person,
    Remark,
    Submission,
)
from hotface_api.store.read import table

__all__ = ["OPERATOR", "PersonCard", "add_contributor", "erase_person", "list_people"]

OPERATOR = "operator"
"""Who acts by the command line."""


@dataclass(frozen=True, slots=True)
class PersonCard:
    """A contributor as curators and the operator see one; name and the rest None once erased."""

    contributor: str
    name: str | None
    orcid: str | None
    contact: str | None
    made_at: datetime
    erased_at: datetime | None


def add_contributor(
    ledger: Ledger, name: str, *, orcid: str | None = None, contact: str | None = None
) -> PersonCard:
    """Enter someone who may submit.

    Raises
    ------
    InvalidError
        If the name is missing, or the ORCID's check digit does not fit.
    """
    faults = Faults()
    shown = faults.text("/name", name, needed=True)
    reached = faults.text("/contact", contact)
    plain = None
    if orcid is not None:
        try:
            plain = read_orcid(orcid)
        except ValueError as error:
            faults.add("/orcid", str(error))
    if faults.found:
        raise InvalidError(faults.found)
    key, now = new_id("p-", 8), ledger.now()
    with ledger.write() as connection:
        connection.execute(insert(table(Contributor)).values(id=key, made_at=now))
        connection.execute(
            insert(table(Person)).values(contributor=key, name=shown, orcid=plain, contact=reached)
        )
        audit.append(connection, now, OPERATOR, "add-contributor", key, {})
    return PersonCard(key, shown, plain, reached, now, None)


def erase_person(ledger: Ledger, contributor: str, *, remarks: bool = False) -> None:
    """Erase who a contributor is; what they contributed stays, under the opaque id.

    Name, ORCID, contact and the names in their submissions go, and every key is revoked. With
    ``remarks`` the texts they wrote in reviews are blanked too. The audit stays whole: it never
    held any of it.

    Raises
    ------
    UnknownError
        If there is no such contributor.
    """
    now = ledger.now()
    with ledger.write() as connection:
        _known(connection, contributor)
        connection.execute(delete(table(Person)).where(table(Person).c.contributor == contributor))
        theirs = select(table(Submission).c.id).where(
            table(Submission).c.contributor == contributor
        )
        named = table(Attribution).c.submission.in_(theirs)
        connection.execute(delete(table(Attribution)).where(named))
        if remarks:
            own = table(Remark).c.author == contributor
            connection.execute(update(table(Remark)).where(own).values(text=None, salt=None))
        keys = table(ApiKey).c
        live = (keys.contributor == contributor) & keys.revoked_at.is_(None)
        connection.execute(update(table(ApiKey)).where(live).values(revoked_at=now))
        mine = table(Contributor).c.id == contributor
        connection.execute(update(table(Contributor)).where(mine).values(erased_at=now))
        audit.append(connection, now, OPERATOR, "erase-person", contributor, {"remarks": remarks})


def _known(connection: Connection, contributor: str) -> None:
    columns = table(Contributor).c
    found = connection.scalar(select(columns.id).where(columns.id == contributor))
    if found is None:
        raise UnknownError(
            Code.UNKNOWN_CONTRIBUTOR, f"there is no contributor {contributor[:40]!r}"
        )


def list_people(ledger: Ledger) -> list[PersonCard]:
    """List every contributor, for the operator."""
    who, card = table(Contributor), table(Person)
    joined = who.outerjoin(card, card.c.contributor == who.c.id)
    statement = (
        select(who.c.id, card.c.name, card.c.orcid, card.c.contact, who.c.made_at, who.c.erased_at)
        .select_from(joined)
        .order_by(who.c.made_at, who.c.id)
    )
    with ledger.read() as connection:
        rows = connection.execute(statement).all()
    return [
        PersonCard(
            row.id,
            row.name,
            row.orcid,
            row.contact,
            as_utc(row.made_at),
            None if row.erased_at is None else as_utc(row.erased_at),
        )
        for row in rows
    ]
