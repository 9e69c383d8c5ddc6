"""Single records: a source, a value, a specimen; and the lists of sources and specimens."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import request
from sqlalchemy import Connection

from hotface_api.http import shapes
from hotface_api.http.problems import Code, Problem, unknown_id
from hotface_api.site import citing, evidence, words
from hotface_api.site.page import Page
from hotface_api.site.serving import Showing
from hotface_api.store import read
from hotface_api.store.models import Source

__all__ = ["list_sources", "list_specimens", "show_source", "show_specimen", "show_value"]

Row = Mapping[str, Any]
_ON_A_PAGE: Final = 100
_VALUES: Final = 150
_LONGEST: Final = 200
_SOURCE_COLUMNS: Final = ("id", "source_type", "origin", "title", "line", "seen")


def _text(name: str = "q") -> str:
    return " ".join(request.args.get(name, "").replace("\x00", " ").split())[:_LONGEST]


def _number() -> int:
    """Give the number of the page of a list."""
    given = request.args.get("page", "1")
    if not (given.isascii() and given.isdigit() and 0 < len(given) < 5 and int(given) > 0):  # noqa: PLR2004
        fault = {"detail": "must be a whole number from 1 on", "parameter": "page"}
        raise Problem(Code.INVALID_PARAMETER, "page: " + fault["detail"], errors=[fault])
    return int(given)


def _cut(rows: Sequence[Any]) -> tuple[Sequence[Any], dict[str, Any]]:
    """Cut out the page asked for, and tell where it stands."""
    number = _number()
    pages = max(1, -(-len(rows) // _ON_A_PAGE))
    shown = rows[(number - 1) * _ON_A_PAGE : number * _ON_A_PAGE]
    return shown, {"number": number, "pages": pages, "count": len(rows)}


def _source_line(row: Row) -> dict[str, Any]:
    found = citing.cited(row)
    return {
        **shapes.source(row),
        "short": found.short,
        "title": found.title,
        "line": citing.full_line(row["item"]),
        "type": found.type,
    }


def list_sources(page: Page, connection: Connection) -> Showing:
    """List sources, all or those that hold the words searched for."""
    text, type_ = _text(), request.args.get("source_type", "")
    wanted = text.casefold().split()
    lines = [_source_line(row) for row in read.held(connection, Source, page.asked.revision)]
    if type_ in words.SOURCE_TYPES:
        lines = [each for each in lines if each["source_type"] == type_]
    found = [
        each
        for each in lines
        if all(word in f"{each['id']} {each['line']}".casefold() for word in wanted)
    ]
    shown, where = _cut(found)
    return Showing(
        "sources.html",
        {"items": shown, "where": where, "q": text, "type": type_, "types": words.SOURCE_TYPES},
        columns=_SOURCE_COLUMNS,
        rows=shown,
        json=page.to("/v1/sources", q=text, source_type=type_, limit=200),
    )


def show_source(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Show a source, who measured, what was seen of it, and every value that cites it."""
    row = read.find(connection, Source, page.asked.revision, id)
    if row is None:
        raise unknown_id("source", id, page.asked.reference.source_types)
    wanted = read.ValueFilter(source=(id,))
    rows = read.values(connection, page.asked.revision, wanted, None, _VALUES + 1)
    values = evidence.listed(page, rows[:_VALUES])
    specimens = read.specimens(
        connection, page.asked.revision, read.SpecimenFilter(source=(id,)), None, _ON_A_PAGE
    )
    return Showing(
        "source.html",
        {
            "source": _source_line(row),
            "outside": citing.outside_address(row["item"]),
            "same_origin": _same_origin(page, connection, row),
            "origin": page.asked.reference.origins.get(row["origin"] or ""),
            "values": values,
            "more": len(rows) > _VALUES,
            "specimens": specimens,
        },
        columns=evidence.COLUMNS,
        rows=evidence.flat(values),
        json=page.to(f"/v1/sources/{id}"),
    )


def _same_origin(page: Page, connection: Connection, row: Row) -> list[dict[str, Any]]:
    """Give the other texts that repeat the same origin: together they count once."""
    if row["origin"] is None:
        return []
    held = read.held(connection, Source, page.asked.revision)
    return [
        _source_line(each)
        for each in held
        if each["origin"] == row["origin"] and each["id"] != row["id"]
    ]


def show_value(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Show a value: what was printed, what it was read as, under what conditions, by whom."""
    history = read.value_history(connection, page.asked.revision, id)
    rows = [row for row in history if row["id"] == id]
    if not rows:
        raise unknown_id("value", id, ())
    value = shapes.value(page.asked, rows[-1])
    return Showing(
        "value.html",
        {
            "value": value,
            "material": page.asked.reference.materials[value["material"]],
            "property": page.asked.reference.properties[value["property"]],
            "history": [shapes.value(page.asked, row) for row in history],
        },
        columns=evidence.COLUMNS,
        rows=evidence.flat([{**value, "weight": None, "left_out": None}]),
        json=page.to(f"/v1/values/{id}"),
    )


def list_specimens(page: Page, connection: Connection) -> Showing:
    """List measured bodies and curves, all or those that hold the words searched for."""
    text = _text()
    rows = read.specimens(
        connection, page.asked.revision, read.SpecimenFilter(q=text or None), None, 10_000
    )
    shown, where = _cut(rows)
    return Showing(
        "specimens.html",
        {"items": shown, "where": where, "q": text},
        columns=("id", "name", "material", "kind", "source"),
        rows=shown,
        json=page.to("/v1/specimens", q=text, limit=200),
    )


def show_specimen(page: Page, connection: Connection, id: str) -> Showing:  # noqa: A002
    """Show a measured body: its recipe, and everything measured on it."""
    found = read.specimen(connection, page.asked.revision, id)
    if found is None:
        raise unknown_id("specimen", id, ())
    row, recipe = found
    rows = read.values_of_specimen(connection, page.asked.revision, id)
    values = evidence.listed(page, rows)
    return Showing(
        "specimen.html",
        {"specimen": shapes.specimen(page.asked, row, recipe), "values": values},
        columns=evidence.COLUMNS,
        rows=evidence.flat(values),
        json=page.to(f"/v1/specimens/{id}"),
    )
