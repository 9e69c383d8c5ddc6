"""One's own contributions, one of them with what is said of it, and what may be done with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

import orjson
from flask import Response
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http import contribution_dumps as dumps
from hotface_api.http.conditional import JSON
from hotface_api.http.context import service
from hotface_api.http.contribution_reading import in_body, read_correction
from hotface_api.ledger import reading
from hotface_api.ledger.correct import correct
from hotface_api.ledger.errors import (
    ConflictError,
    InvalidError,
    StaleError,
)
from hotface_api.ledger.reading import Entry
from hotface_api.ledger.review import reply, withdraw
from hotface_api.site import charts, citing, judging, valueform
from hotface_api.site.acting import Desk, go_to
from hotface_api.site.forms import Form
from hotface_api.site.prefill import typed_of
from hotface_api.site.serving import Showing
from hotface_api.site.views.submit import form_key, nonce_of, pointed, shown_with_form
from hotface_api.store.ledger_models import STATES

__all__ = [
    "act_on",
    "as_json",
    "contribution_json",
    "contributions_json",
    "correct_contribution",
    "documents",
    "list_contributions",
    "listed_json",
    "one_state",
    "reply_to",
    "show_contribution",
    "shown_entry",
    "version_of",
    "withdraw_contribution",
]

Shape = dict[str, Any]
_UNUSABLE: Final = 422
_CONFLICT: Final = 409
_STALE: Final = 412
LABELS: Final[Mapping[str, str]] = {
    "note": "Your note",
    "text": "Your reply",
    "reason": "Why",
    "version": "Version",
}


def version_of(desk: Desk) -> int | None:
    """Give the version of the value that the form at hand was shown with."""
    text = desk.form.text("version")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None  # noqa: PLR2004


def one_state(desk: Desk) -> str | None:
    """Give the one state asked for, if it is one."""
    found = desk.form.text("state")
    return found if found in STATES else None


def documents(desk: Desk, found: reading.Page) -> list[Shape]:
    """Write a page of entries."""
    return [dumps.entry(desk.page.asked, each) for each in found.items]


def as_json(document: Any) -> Response:
    """Answer with what a page shows as data, which nobody keeps either."""
    response = Response(orjson.dumps(document), content_type=JSON)
    response.headers["Cache-Control"] = "no-store"
    return response


def listed_json(desk: Desk, found: reading.Page, path: str) -> Response:
    """Answer with a list as ``/v1/contributions`` does, for the page's data link."""
    state, further = one_state(desk) or "", found.after
    following = None if further is None else desk.page.to(path, state=state, after=further)
    return as_json({"items": documents(desk, found), "next": following})


def _own(desk: Desk) -> reading.Page:
    after = desk.form.text("after") or None
    actor = desk.visitor.actor
    return reading.mine(service().ledger, actor, state=one_state(desk), after=after)


def list_contributions(desk: Desk) -> Showing:
    """List what one contributed, in every state or one."""
    found, state = _own(desk), one_state(desk) or ""
    return Showing(
        "contributions.html",
        {
            "items": documents(desk, found),
            "after": found.after,
            "state": state,
            "states": STATES,
        },
        json=desk.page.to("/contributions.json", state=state, after=desk.form.text("after")),
    )


def contributions_json(desk: Desk) -> Response:
    """Give one's own contributions as data."""
    return listed_json(desk, _own(desk), "/contributions.json")


def _proposed_source(document: Shape) -> Shape | None:
    """Give the citation of a source that is not held yet."""
    for source in document["proposed"]["sources"]:
        if source["id"] == document["value"]["source"]:
            item = source["citation"]
            return {"line": citing.full_line(item), "address": citing.outside_address(item)}
    return None


def _figure(desk: Desk, entry: Entry, document: Shape) -> charts.Drawn | None:
    """Draw a value that waits among the held ones."""
    if entry.state not in ("pending", "asked"):
        return None
    interval = (document["told"] or {}).get("interval")
    with desk.page.reading() as connection:
        return judging.among_held(desk.page, connection, entry.row, interval)


def _news(desk: Desk, entry: Entry) -> int:
    """Give how many remarks stood there when the form that was sent was shown."""
    seen = desk.form.text("seen")
    return int(seen) if desk.acts and seen.isascii() and seen.isdigit() else len(entry.remarks)


def shown_entry(desk: Desk, value: str, status: int = 200, stale: str = "") -> Showing:
    """Show one contribution with what may be done with it by whom looks.

    ``stale`` says what has changed since the form that was sent was shown.
    """
    entry = reading.view(service().ledger, desk.visitor.actor, value)
    document = dumps.entry(desk.page.asked, entry)
    own = entry.row["contributor"] == desk.visitor.actor.contributor
    judges = desk.visitor.is_curator and not own
    may: Callable[[str], bool] = entry.acts.__contains__
    return Showing(
        "contribution.html",
        {
            "entry": document,
            "source": _proposed_source(document),
            "figure": _figure(desk, entry, document),
            "own": own,
            "may_judge": judges and may("accept"),
            "may_reply": own and may("reply"),
            "may_correct": own and may("correct"),
            "may_withdraw": may("withdraw") and (own or (judges and entry.state == "accepted")),
            "form": desk.form,
            "labels": LABELS,
            "nonce": nonce_of(Form({}) if stale else desk.form),
            "seen": _news(desk, entry),
            "stale": stale,
            "sent": desk.form.text("sent") if not desk.acts else "",
        },
        json=desk.page.to(f"/contributions/{value}.json"),
        status=status,
    )


def act_on(desk: Desk, value: str, act: Callable[[], Any]) -> Showing | BaseResponse:
    """Do something with a value and show where it stands, or say what stands against it.

    A fault is shown at its field; where someone else was faster, what has changed is told, and
    what was typed may be sent again for the value as it is now.
    """
    try:
        act()
    except ConflictError as error:
        status = _STALE if isinstance(error, StaleError) else _CONFLICT
        return shown_entry(desk, value, status, stale=error.message)
    except InvalidError as error:
        for pointer, message in pointed(error):
            desk.form.fault(pointer.strip("#/") or "note", message)
        return shown_entry(desk, value, _UNUSABLE)
    return go_to(desk.page.to(f"/contributions/{value}"))


def show_contribution(desk: Desk, id: str) -> Showing:  # noqa: A002
    """Show one contribution to its owner or a curator."""
    return shown_entry(desk, id)


def contribution_json(desk: Desk, id: str) -> Response:  # noqa: A002
    """Give what the page shows as ``/v1/contributions/{id}`` does, for the page's data link."""
    entry = reading.view(service().ledger, desk.visitor.actor, id)
    return as_json(dumps.entry(desk.page.asked, entry))


def reply_to(desk: Desk, id: str) -> Showing | BaseResponse:  # noqa: A002
    """Answer a curator's question."""
    text, version = desk.form.text("text"), version_of(desk)
    key = form_key(desk.form, ["reply", id, version, text])
    actor = desk.visitor.actor
    return act_on(
        desk,
        id,
        lambda: reply(service().ledger, actor, id, text, version=version, idempotency=key),
    )


def withdraw_contribution(desk: Desk, id: str) -> Showing | BaseResponse:  # noqa: A002
    """Withdraw a value, with the reason."""
    reason, version = desk.form.text("reason"), version_of(desk)
    key = form_key(desk.form, ["withdraw", id, version, reason])
    actor = desk.visitor.actor
    return act_on(
        desk,
        id,
        lambda: withdraw(service().ledger, actor, id, reason, version=version, idempotency=key),
    )


def _correction(desk: Desk, entry: Entry, status: int = 200, stale: str = "") -> Showing:
    return Showing(
        "correction.html",
        {
            **shown_with_form(desk.page),
            "form": desk.form,
            "value": entry.row["id"],
            "version": entry.row["version"],
            "nonce": nonce_of(desk.form),
            "stale": stale,
        },
        status=status,
    )


def _corrected(desk: Desk, entry: Entry) -> Shape:
    """Read the form of a correction as the body ``/v1/values/{id}/correction`` takes."""
    form = desk.form
    new = (entry.proposed.get("material") or {}).get("id")
    kept = new if new is not None and form.text("material") == new else None
    value = valueform.read_value(form, desk.page.asked.reference, new=kept)
    if not form.text("reason"):
        form.fault("reason", "say why it is corrected; curators read it")
    return {"value": value, "reason": form.text("reason")}


def correct_contribution(desk: Desk, id: str) -> Showing | BaseResponse:  # noqa: A002
    """Show the form filled with a value of one's own; sent, put the new one in its place."""
    ledger, actor = service().ledger, desk.visitor.actor
    entry = reading.view(ledger, actor, id)
    if not desk.acts:
        desk.form = Form(typed_of(desk.page, entry.row))
        return _correction(desk, entry)
    body, version = _corrected(desk, entry), version_of(desk)
    if desk.form.faults:
        return _correction(desk, entry, _UNUSABLE)
    try:
        with in_body(body, "/value"):
            draft, reason = read_correction(body)
            key = form_key(desk.form, [id, version, body])
            made = correct(ledger, actor, id, draft, reason, version=version, idempotency=key)
    except InvalidError as error:
        valueform.note(desk.form, pointed(error))
        return _correction(desk, entry, _UNUSABLE)
    except ConflictError as error:
        status = _STALE if isinstance(error, StaleError) else _CONFLICT
        return _correction(desk, entry, status, stale=error.message)
    return go_to(desk.page.to(f"/contributions/{made.items[0].value}", sent="new"))
