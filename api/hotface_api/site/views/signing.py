"""Signing in with a key, and out again."""

from __future__ import annotations

from flask import request
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http.context import service
from hotface_api.ledger.errors import Code, KeyRefusedError
from hotface_api.ledger.sessions import close_session, open_session
from hotface_api.site import session
from hotface_api.site.acting import again, go_to, kept_fields
from hotface_api.site.forms import Form
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing

__all__ = ["sign_in", "sign_out"]

_DESK = "/contributions"
_REFUSED = 422
_FORBIDDEN = 403
_CARRIED = "typed."
"""Before the name of each field that goes with someone who must sign in again."""


def _ask(form: Form, status: int = 200) -> Showing:
    return Showing(
        "sign_in.html",
        {"form": form, "next": form.text("next"), "carried": _carried(form)},
        status=status,
    )


def _carried(form: Form) -> dict[str, str]:
    """Give what was typed into a form before its session ended, by its own names."""
    return {
        name.removeprefix(_CARRIED): text
        for name, text in kept_fields(form).items()
        if name.startswith(_CARRIED)
    }


def sign_in(page: Page, form: Form) -> Showing | BaseResponse:
    """Exchange a key for a session; the key itself is in no address, page or log."""
    if request.method != "POST":
        return _ask(form)
    key = form.text("key")
    if not key:
        form.fault("key", "paste the whole key; it begins with hf_")
        return _ask(form, _REFUSED)
    before = request.cookies.get(session.cookie_name())
    try:
        opened = open_session(service().ledger, key, before=before)
    except KeyRefusedError as error:
        form.fault("key", _said(error))
        return _ask(form, _REFUSED)
    return _signed_in(page, form, opened)


def _said(error: KeyRefusedError) -> str:
    if error.code is Code.KEY_INVALID:
        return "this key is not known here: check that all of it was pasted"
    return error.message


def _signed_in(page: Page, form: Form, opened: str) -> BaseResponse:
    """Lead on; what was typed before the session ended is shown again to be sent."""
    address = session.local_address(form.text("next")) or page.to(_DESK)
    carried = _carried(form)
    response: BaseResponse
    if carried:
        visitor = session.visitor_of(opened)
        response = again(page, Form(carried), visitor, target=address, reason="resumed")
    else:
        response = go_to(address)
    session.remember(response, opened)
    return response


def sign_out(page: Page, form: Form) -> BaseResponse:
    """End the session, here and in the database."""
    visitor = session.current()
    if visitor is not None and not session.token_fits(visitor):
        return again(page, form, visitor, _FORBIDDEN, reason="token")
    close_session(service().ledger, request.cookies.get(session.cookie_name(), ""))
    response = go_to(page.to("/"))
    session.forget(response)
    return response
