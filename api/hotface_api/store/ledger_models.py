"""The tables of contributions: who, with which key, what was said of it, and the audit chain.

A contributed figure itself is a row of ``value`` like any other, pending until a curator accepts
it; what is here is everything round it. Personal data stand in ``person`` and ``attribution``
alone, and nothing in the audit is computed from them, so they can be erased.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from sqlalchemy import BigInteger, ForeignKey, Index, Text, text
from sqlalchemy.orm import Mapped, mapped_column

from hotface_api.store.base import Base, one_of

__all__ = [
    "ApiKey",
    "Attribution",
    "AuditEntry",
    "Contribution",
    "Contributor",
    "Person",
    "RateWindow",
    "Remark",
    "Reply",
    "Submission",
    "WebSession",
]

ROLES: Final = ("contributor", "curator")
STATES: Final = ("pending", "asked", "accepted", "declined", "withdrawn", "replaced")
LIVE: Final = ("pending", "asked", "accepted")
ACTS: Final = ("submit", "ask", "reply", "accept", "decline", "correct", "withdraw")


class Contributor(Base):
    """Someone who may submit, under a name that says nothing about them."""

    __tablename__ = "contributor"
    id: Mapped[str] = mapped_column(primary_key=True)
    made_at: Mapped[datetime]
    erased_at: Mapped[datetime | None]


class Person(Base):
    """Who a contributor is. Erased on request."""

    __tablename__ = "person"
    contributor: Mapped[str] = mapped_column(ForeignKey("contributor.id"), primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    orcid: Mapped[str | None] = mapped_column(index=True)
    contact: Mapped[str | None] = mapped_column(Text)


class ApiKey(Base):
    """A key; of its secret only the SHA-256 digest."""

    __tablename__ = "api_key"
    id: Mapped[str] = mapped_column(primary_key=True)
    contributor: Mapped[str] = mapped_column(ForeignKey("contributor.id"), index=True)
    role: Mapped[str]
    digest: Mapped[str]
    label: Mapped[str] = mapped_column(Text)
    made_at: Mapped[datetime]
    expires_at: Mapped[datetime | None]
    last_used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]
    __table_args__ = (one_of("role", ROLES),)


class Submission(Base):
    """One act of submitting: its licence, and what it proposes besides values."""

    __tablename__ = "submission"
    id: Mapped[str] = mapped_column(primary_key=True)
    contributor: Mapped[str] = mapped_column(ForeignKey("contributor.id"), index=True)
    made_at: Mapped[datetime]
    licence: Mapped[str]
    against_revision: Mapped[int] = mapped_column(ForeignKey("revision.number"))
    proposed: Mapped[dict[str, Any]]


class Attribution(Base):
    """Whom a submission names as the one who measured. Erased on request."""

    __tablename__ = "attribution"
    submission: Mapped[str] = mapped_column(ForeignKey("submission.id"), primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    orcid: Mapped[str | None]


class Contribution(Base):
    """Where a contributed value stands in review. Its row version is the value's."""

    __tablename__ = "contribution"
    value: Mapped[str] = mapped_column(primary_key=True)
    submission: Mapped[str] = mapped_column(ForeignKey("submission.id"), index=True)
    contributor: Mapped[str] = mapped_column(ForeignKey("contributor.id"))
    position: Mapped[int]
    state: Mapped[str]
    content_hash: Mapped[str]
    __table_args__ = (
        one_of("state", STATES),
        Index(
            "uq_contribution_content",
            "contributor",
            "content_hash",
            unique=True,
            sqlite_where=text("state IN ('pending', 'asked', 'accepted')"),
            postgresql_where=text("state IN ('pending', 'asked', 'accepted')"),
        ),
        Index("ix_contribution_state", "state", "value"),
        Index("ix_contribution_contributor", "contributor", "value"),
    )


class Remark(Base):
    """What was said about a value. The text can be blanked; the chain holds a salted digest."""

    __tablename__ = "remark"
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    value: Mapped[str] = mapped_column(index=True)
    at: Mapped[datetime]
    author: Mapped[str] = mapped_column(ForeignKey("contributor.id"), index=True)
    act: Mapped[str]
    text: Mapped[str | None] = mapped_column(Text)
    salt: Mapped[str | None]
    __table_args__ = (one_of("act", ACTS),)


class AuditEntry(Base):
    """One link of the append-only chain; ``number`` orders it, whatever the clock says."""

    __tablename__ = "audit"
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[str]
    actor: Mapped[str]
    action: Mapped[str]
    subject: Mapped[str] = mapped_column(index=True)
    facts: Mapped[str] = mapped_column(Text)
    previous: Mapped[str]
    hash: Mapped[str]


class Reply(Base):
    """What was answered under an idempotency key, kept to be said again."""

    __tablename__ = "reply"
    owner: Mapped[str] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(primary_key=True)
    fingerprint: Mapped[str]
    answer: Mapped[str] = mapped_column(Text)
    made_at: Mapped[datetime]
    expires_at: Mapped[datetime] = mapped_column(index=True)


class RateWindow(Base):
    """Requests counted in one window of one caller, where workers share their counts here."""

    __tablename__ = "rate_window"
    key: Mapped[str] = mapped_column(primary_key=True)
    window: Mapped[int] = mapped_column(BigInteger, primary_key=True)
    hits: Mapped[int]
    expires_at: Mapped[float] = mapped_column(index=True)


class WebSession(Base):
    """A key exchanged for a browser's session; of its id only the SHA-256 digest."""

    __tablename__ = "web_session"
    digest: Mapped[str] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(ForeignKey("api_key.id"), index=True)
    made_at: Mapped[datetime]
    expires_at: Mapped[datetime] = mapped_column(index=True)
