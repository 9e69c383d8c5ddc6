"""Review: curators decide, contributors reply and withdraw; and whose key this is."""

from __future__ import annotations

from typing import Any, Final

import marshmallow as ma
from flask import Response

from hotface_api.http import contribution_dumps as dumps
from hotface_api.http.callers import known_caller
from hotface_api.http.conditional import private_answer
from hotface_api.http.context import service
from hotface_api.http.contribution_schemas import (
    ReplyBody,
    ReviewBody,
    ReviewsBody,
    WithdrawalBody,
)
from hotface_api.http.contribution_shapes import KeyShape, StandingShape, StandingsShape
from hotface_api.http.operations import Topic, changes, path_id, reads
from hotface_api.http.preconditions import expected_version, idempotency, version_tag
from hotface_api.ledger import review as acts
from hotface_api.ledger.keys import key_card

__all__ = ["topic"]

topic = Topic("reviews", __name__, url_prefix="/v1", description="Review of contributions.")
_VALUE: Final = (path_id("Value id.", "c-7k2m9x4q1tzb"),)


class NoQuery(ma.Schema):
    """No parameters."""


def _plain(key: str) -> str:
    """Keep a character out of the database that PostgreSQL refuses in any text."""
    return key.replace("\x00", "\N{REPLACEMENT CHARACTER}")


def _stands(standing: acts.Standing) -> Response:
    """Answer where a value stands, with the version the next act names."""
    headers = {"ETag": version_tag(standing.version)}
    if standing.replayed:
        headers["Idempotent-Replayed"] = "true"
    return private_answer(dumps.standing(standing), headers=headers)


@reads(
    topic,
    "/key",
    NoQuery,
    KeyShape,
    summary="The caller's key",
    description="Whose key this is, what it may do, and until when. The secret is never shown.",
    keyed=True,
)
def get_key(query: dict[str, Any]) -> Response:
    """Show the caller's key."""
    del query
    return private_answer(dumps.key_card(key_card(service().ledger, known_caller())))


@changes(
    topic,
    "/values/<id>/review",
    NoQuery,
    ReviewBody,
    StandingShape,
    summary="Review a value",
    description="Accept, decline or ask, as a curator, and never on one's own submission. Accepting"
    " advances the revision in the same transaction; only then do ranges move. The version looked"
    " at is named in `If-Match`: of two curators at once one decides, the other is told.",
    asks={"decision": "ask", "note": "Was the jug shaken while it was filled?"},
    weight="review",
    path=_VALUE,
    versioned=True,
)
def post_review(query: dict[str, Any], body: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Take a decision."""
    del query
    version, key = expected_version(), idempotency()
    return _stands(
        acts.review(
            service().ledger,
            known_caller(),
            _plain(id),
            body["decision"],
            version=version,
            note=body.get("note"),
            idempotency=key,
        )
    )


@changes(
    topic,
    "/values/<id>/reply",
    NoQuery,
    ReplyBody,
    StandingShape,
    summary="Reply to a curator",
    description="Answer what was asked about one's own value; it then waits for review again.",
    asks={"text": "No, it was poured and struck off."},
    weight="review",
    path=_VALUE,
    versioned=True,
)
def post_reply(query: dict[str, Any], body: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Take a reply."""
    del query
    version, key = expected_version(), idempotency()
    ledger, who = service().ledger, known_caller()
    return _stands(
        acts.reply(ledger, who, _plain(id), body["text"], version=version, idempotency=key)
    )


@changes(
    topic,
    "/values/<id>/withdrawal",
    NoQuery,
    WithdrawalBody,
    StandingShape,
    summary="Withdraw a value",
    description="Take back one's own value; an accepted one leaves with a new revision and stays"
    " reachable in its history. A curator may withdraw an accepted value of another.",
    asks={"reason": "the scale turned out to be faulty"},
    weight="review",
    path=_VALUE,
    versioned=True,
)
def post_withdrawal(query: dict[str, Any], body: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Take a withdrawal."""
    del query
    version, key = expected_version(), idempotency()
    ledger, who = service().ledger, known_caller()
    return _stands(
        acts.withdraw(ledger, who, _plain(id), body["reason"], version=version, idempotency=key)
    )


@changes(
    topic,
    "/reviews",
    NoQuery,
    ReviewsBody,
    StandingsShape,
    summary="Review several values",
    description="One decision on several values, all or nothing, in one revision. Each value is"
    " named with the version that was looked at.",
    asks={"decision": "accept", "values": [{"value": "c-7k2m9x4q1tzb", "version": 1}]},
    weight="review",
)
def post_reviews(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Take one decision on several values."""
    del query
    key = idempotency()
    found = acts.review_many(
        service().ledger,
        known_caller(),
        [(_plain(each["value"]), each["version"]) for each in body["values"]],
        body["decision"],
        note=body.get("note"),
        idempotency=key,
    )
    headers = {"Idempotent-Replayed": "true"} if found.replayed else {}
    return private_answer(dumps.standings(found), headers=headers)
