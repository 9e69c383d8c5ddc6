"""One declaration a page: its address, what it shows, and the same as CSV under ``/csv``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from flask import Blueprint, Response, g
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http.problems import Code, Problem
from hotface_api.site import csvs
from hotface_api.site.page import CSV, HTML, POLICY, Page, open_page

__all__ = ["Showing", "View", "serve"]

_FINE: Final = 200


@dataclass(frozen=True, slots=True)
class Showing:
    """What a view found to show.

    Attributes
    ----------
    template : str
        Which template shows it.
    shown : mapping
        What the template works with.
    columns, rows : sequence of str, iterable of mapping
        The same as a table, for the CSV.
    json : str or None
        The address of the same data under ``/v1``.
    status : int
        Other than 200 for a form with a fault.
    keep : bool
        Whether the rendered page is kept; off where the number of questions has no end.
    """

    template: str
    shown: Mapping[str, Any]
    columns: Sequence[str] = ()
    rows: Iterable[Mapping[str, Any]] = field(default_factory=tuple)
    json: str | None = None
    status: int = _FINE
    keep: bool = True


View = Callable[..., Showing | BaseResponse]


def _faulty(page: Page, showing: Showing) -> Response:
    """Answer with a form that has a fault; nobody keeps it."""
    body = page.write(showing.template, json=None, csv=None, **showing.shown)
    response = Response(body, status=showing.status, content_type="text/html; charset=utf-8")
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cache-Control"] = "no-store"
    return response


def _respond(page: Page, showing: Showing) -> Response:
    if showing.status != _FINE and g.media == HTML:
        return _faulty(page, showing)
    if showing.status != _FINE:
        form = showing.shown["form"]
        raise form.problem()
    if g.media == CSV:
        return page.answer(csvs.write(showing.columns, showing.rows), keep=showing.keep)
    table = page.here("/csv") if showing.columns else None
    body = page.write(showing.template, json=showing.json, csv=table, **showing.shown)
    return page.answer(body, keep=showing.keep)


def _run(view: View, **named: str) -> BaseResponse:
    if any("\x00" in word for word in named.values()):
        raise Problem(Code.NOT_FOUND, "no id holds the character U+0000")
    page = open_page()
    with page.reading() as connection:
        found = view(page, connection, **named)
    return found if isinstance(found, BaseResponse) else _respond(page, found)


def _register(blueprint: Blueprint, rule: str, view: View, media: str, endpoint: str) -> None:
    run: Any = partial(_run, view)
    run.hotface_media = (media,)
    run.hotface_dated = True
    blueprint.add_url_rule(rule, endpoint, run, methods=["GET"])


def serve(blueprint: Blueprint, rule: str, view: View, *, table: bool = True) -> None:
    """Serve a page at an address, and its table at the same address under ``/csv``.

    Parameters
    ----------
    blueprint : Blueprint
    rule : str
        The address.
    view : callable
        Takes the page, a connection and what the address names; gives what to show.
    table : bool
        Whether there is a table to give as CSV.
    """
    name = view.__name__
    _register(blueprint, rule, view, HTML, name)
    if table:
        _register(blueprint, "/csv" + rule, view, CSV, f"{name}_csv")
