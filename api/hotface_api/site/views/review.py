"""The curators' queue, and deciding on one contribution."""

from __future__ import annotations

from flask import Response
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http.context import service
from hotface_api.ledger import reading
from hotface_api.ledger.review import DECISIONS, review
from hotface_api.site.acting import Desk
from hotface_api.site.serving import Showing
from hotface_api.site.views.contributions import (
    act_on,
    documents,
    listed_json,
    one_state,
    version_of,
)
from hotface_api.site.views.submit import form_key
from hotface_api.store.ledger_models import STATES

__all__ = ["decide_on", "list_queue", "queue_json"]


def _queue(desk: Desk) -> reading.Page:
    after = desk.form.text("after") or None
    actor = desk.visitor.actor
    return reading.queue(service().ledger, actor, state=one_state(desk), after=after)


def list_queue(desk: Desk) -> Showing:
    """List what waits for curators, oldest first, or everything in one state."""
    found, state = _queue(desk), one_state(desk) or ""
    me = desk.visitor.actor.contributor
    return Showing(
        "queue.html",
        {
            "items": [
                {**each, "own": each["contributor"] == me} for each in documents(desk, found)
            ],
            "after": found.after,
            "state": state,
            "states": STATES,
        },
        json=desk.page.to("/review.json", state=state, after=desk.form.text("after")),
    )


def queue_json(desk: Desk) -> Response:
    """Give the queue as data."""
    return listed_json(desk, _queue(desk), "/review.json")


def decide_on(desk: Desk, id: str) -> Showing | BaseResponse:  # noqa: A002
    """Accept, decline or ask, for the version that was shown."""
    form, version = desk.form, version_of(desk)
    decision, note = form.text("decision"), form.text("note")
    if decision not in DECISIONS:
        form.fault("note", "press one of accept, decline and ask")
    key = form_key(form, [decision, id, version, note])
    return act_on(
        desk,
        id,
        lambda: review(
            service().ledger,
            desk.visitor.actor,
            id,
            decision,
            version=version,
            note=note or None,
            idempotency=key,
        ),
    )
