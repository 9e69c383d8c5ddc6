"""Contributing one value: look at the form, check what is told of the figure, hand it in."""

from __future__ import annotations

import secrets
from typing import Any, Final

from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http import contribution_dumps as dumps
from hotface_api.http.context import service
from hotface_api.http.contribution_reading import in_body, read_submission, receipt_places
from hotface_api.http.problems import Problem, as_problem
from hotface_api.ledger.canonical import digest
from hotface_api.ledger.errors import Fault, LedgerError, UnavailableError
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.submit import preview, submit
from hotface_api.site import valueform
from hotface_api.site.acting import Desk, go_to
from hotface_api.site.forms import Form
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing

__all__ = ["contribute", "form_key", "nonce_of", "pointed", "shown_with_form"]

Shape = dict[str, Any]
_UNUSABLE: Final = 422


def nonce_of(form: Form) -> str:
    """Give what names this very form, made when it was first shown."""
    given = form.text("nonce")
    return given if given.isalnum() and given.isascii() else secrets.token_hex(16)


def form_key(form: Form, said: Any) -> Idempotency:
    """Give the idempotency key of a form: sent twice as it stands, it is done once.

    What was changed in between is another request, under another key.
    """
    fingerprint = digest(said)
    return Idempotency(f"form-{nonce_of(form)[:64]}-{fingerprint[:32]}", fingerprint)


def pointed(error: Problem | LedgerError) -> list[tuple[str, str]]:
    """Give what is wrong, each with its pointer; one without any belongs to the whole."""
    problem = as_problem(error)
    faults = [(each.get("pointer", ""), each["detail"]) for each in problem.errors]
    return faults or [("", problem.detail)]


def shown_with_form(page: Page) -> Shape:
    """Give what a template needs to write the fields of a value."""
    reference = page.asked.reference
    grouped: dict[str, list[tuple[str, str]]] = {}
    for key, row in reference.properties.items():
        grouped.setdefault(str(row["group"]), []).append((key, str(row["name"])))
    return {
        "labels": valueform.LABELS,
        "choices": valueform.CHOICES,
        "names": reference.materials,
        "properties": grouped,
    }


def _page(desk: Desk, status: int = 200, **found: Any) -> Showing:
    shown: Shape = {
        **shown_with_form(desk.page),
        "form": desk.form,
        "nonce": nonce_of(desk.form),
        "checked": "",
        "item": None,
        "changed": False,
        **found,
    }
    return Showing("contribute.html", shown, status=status)


def _prefilled(page: Page, form: Form) -> Form:
    """Name a material that came in the address by its name."""
    row = page.asked.reference.materials.get(form.text("material"))
    return form if row is None else Form({**form.typed, "material": str(row["name"])})


def contribute(desk: Desk) -> Showing | BaseResponse:
    """Show the form; checked, with what is told; handed in, lead to the value."""
    if not desk.acts:
        desk.form = _prefilled(desk.page, desk.form)
        return _page(desk)
    form = desk.form
    body = valueform.read_body(form, desk.page.asked.reference)
    if form.faults:
        return _page(desk, _UNUSABLE)
    try:
        return _checked(desk, body)
    except UnavailableError:
        raise
    except (Problem, LedgerError) as error:
        valueform.note(form, pointed(error))
        return _page(desk, _UNUSABLE)


def _checked(desk: Desk, body: Shape) -> Showing | BaseResponse:
    """Hand in what was checked as it stands; show what is told of anything else."""
    form, said, draft = desk.form, digest(body), read_submission(body)
    ledger, actor = service().ledger, desk.visitor.actor
    wanted = form.text("act") == "submit"
    with in_body(body):
        if wanted and form.text("checked") == said:
            made = submit(ledger, actor, draft, idempotency=form_key(form, body)).items[0]
            sent = "held" if made.state == "held" else "new"
            return go_to(desk.page.to(f"/contributions/{made.value}", sent=sent))
        item = receipt_places(body, preview(ledger, actor, draft)).items[0]
    if item.faults:
        valueform.note(form, map(_as_fault, item.faults))
        return _page(desk, _UNUSABLE)
    found = {
        "state": item.state,
        "value": item.value,
        "told": dumps.told(desk.page.asked, item.told),
    }
    return _page(desk, checked=said, item=found, changed=wanted)


def _as_fault(found: Fault) -> tuple[str, str]:
    """Write a fault with what may be meant."""
    hint = f"; did you mean {', '.join(found.nearest)}?" if found.nearest else ""
    return found.pointer, found.message + hint
