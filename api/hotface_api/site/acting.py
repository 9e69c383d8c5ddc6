"""Pages for people with a session: one declaration each, for looking and for acting.

Such a page is kept by nobody, neither here nor in the browser. What acts is sent by POST, from a
form of ours and with the token of the session; whatever stands against that, nothing is done, and
what was typed is shown again to be sent once more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from flask import Blueprint, Response, redirect, request
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http.context import service
from hotface_api.http.problems import Code, Problem
from hotface_api.ledger.errors import UnavailableError
from hotface_api.site import session
from hotface_api.site.forms import Form
from hotface_api.site.page import HTML, POLICY, Page, open_page
from hotface_api.site.serving import Showing
from hotface_api.site.session import TOKEN_FIELD, Visitor
from hotface_api.site.valueform import LABELS

__all__ = [
    "BIG_FORM",
    "Desk",
    "DeskView",
    "OpenView",
    "again",
    "as_typed",
    "go_to",
    "kept_fields",
    "serve_desk",
    "show",
]

BIG_FORM: Final = 2 * 1024 * 1024
"""Largest form with a table in it; larger tables go by command line or SDK."""
_FOUND: Final = 302
_SEE_OTHER: Final = 303
_UNAUTHORIZED: Final = 401
_FORBIDDEN: Final = 403
_UNAVAILABLE: Final = 503
_NOT_KEPT: Final = (TOKEN_FIELD, "key")


@dataclass(slots=True)
class Desk:
    """What someone with a session works at.

    Attributes
    ----------
    page : Page
    visitor : Visitor
    form : Form
        What was typed: of a look, the query of the address.
    acts : bool
        Whether a form was sent that may act.
    """

    page: Page
    visitor: Visitor
    form: Form
    acts: bool


DeskView = Callable[..., Showing | BaseResponse]
OpenView = Callable[[Page, Form], Showing | BaseResponse]


_UNTYPED: Final = dict.fromkeys(
    code for code in (*range(0x20), *range(0x7F, 0xA0)) if chr(code) not in "\n\t"
)
"""Control characters, which no page may hold."""


def as_typed(text: str) -> str:
    """Take line ends as they were typed, not as forms send them, and only what can be shown."""
    return text.replace("\r\n", "\n").replace("\r", "\n").translate(_UNTYPED).strip()


def _typed() -> Form:
    """Read what was typed; of a field sent twice the last counts: the button that was pressed."""
    given = request.form if request.method == "POST" else request.args
    return Form({name: as_typed(given.getlist(name)[-1]) for name in given})


def kept_fields(form: Form) -> dict[str, str]:
    """Give what a form must send again, all but its token and never a key."""
    return {name: text for name, text in form.typed.items() if name not in _NOT_KEPT and text}


def show(page: Page, showing: Showing, visitor: Visitor | None) -> Response:
    """Answer with a page that nobody keeps.

    The form's pages name their origin to this host alone: without that, a browser sends a form
    with an ``Origin`` that says nothing.
    """
    with page.reading():
        body = page.write(
            showing.template, json=showing.json, csv=None, visitor=visitor, **showing.shown
        )
    response = Response(body, status=showing.status, content_type="text/html; charset=utf-8")
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cache-Control"] = "no-store"
    return response


def go_to(address: str, status: int = _SEE_OTHER) -> BaseResponse:
    """Lead on: after an act by 303, so that loading again does not send it again."""
    response = redirect(address, status)
    response.headers["Cache-Control"] = "no-store"
    return response


def _here() -> str:
    """Give the address of this page, to come back to."""
    return request.script_root + request.full_path.rstrip("?")


def again(
    page: Page, form: Form, visitor: Visitor | None, status: int = 200, **said: str
) -> Response:
    """Show what was typed, to be sent once more: signed in first where there is no session.

    ``reason`` is ``ended``, ``token``, ``away`` or ``resumed``; ``target`` is where it goes, if not
    here.
    """
    shown = {"kept": kept_fields(form), "target": _here(), "labels": LABELS}
    return show(page, Showing("again.html", {**shown, **said}, status=status), visitor)


def _from_elsewhere(page: Page) -> Response:
    return show(page, Showing("elsewhere.html", {}, status=_FORBIDDEN), None)


def _begin(limit: int, named: Mapping[str, str]) -> Page:
    """Bound what is read, before anything is."""
    if any("\x00" in word for word in named.values()):
        raise Problem(Code.NOT_FOUND, "no id holds the character U+0000")
    request.max_content_length = request.max_form_memory_size = limit
    return open_page(dated=False)


def _at_desk(view: DeskView, limit: int, **named: str) -> BaseResponse:
    page = _begin(limit or service().settings.max_body, named)
    acts = request.method == "POST"
    if acts and not session.came_from_here():
        return _from_elsewhere(page)
    visitor, form = session.current(), _typed()
    if visitor is None and acts:
        return again(page, form, None, _UNAUTHORIZED, reason="ended")
    if visitor is None:
        return go_to(page.to("/sign-in", next=_here()), _FOUND)
    if acts and not session.token_fits(visitor):
        return again(page, form, visitor, _FORBIDDEN, reason="token")
    try:
        found = view(Desk(page, visitor, form, acts), **named)
    except UnavailableError:
        if not acts:
            raise
        return _away(page, form, visitor)
    return found if isinstance(found, BaseResponse) else show(page, found, visitor)


def _away(page: Page, form: Form, visitor: Visitor) -> Response:
    response = again(page, form, visitor, _UNAVAILABLE, reason="away")
    response.headers["Retry-After"] = "2"
    return response


def _in_the_open(view: OpenView, limit: int) -> BaseResponse:
    page = _begin(limit or service().settings.max_body, {})
    if request.method == "POST" and not session.came_from_here():
        return _from_elsewhere(page)
    found = view(page, _typed())
    return found if isinstance(found, BaseResponse) else show(page, found, session.current())


def serve_desk(
    blueprint: Blueprint,
    rule: str,
    view: DeskView | OpenView,
    *,
    methods: str = "GET",
    signed_in: bool = True,
    limit: int = 0,
    media: str = HTML,
    weight: str = "read",
) -> None:
    """Serve a page of the desk at an address.

    Parameters
    ----------
    blueprint : Blueprint
    rule : str
        The address.
    view : callable
        Takes the desk and what the address names; where nobody need be signed in, the page and
        what was typed.
    methods : str
        ``GET``, ``POST`` or both.
    signed_in : bool
        Whether a session is needed.
    limit : int
        Largest form in bytes, if other than the service's own.
    media : str
        What it answers with.
    weight : str
        What a form sent to it counts as, of ``ledger.rates.WEIGHTS``.
    """
    run: Any = partial(_at_desk if signed_in else _in_the_open, view, limit)
    run.hotface_media = (media,)
    run.hotface_weight = weight
    blueprint.add_url_rule(rule, view.__name__, run, methods=methods.split())
