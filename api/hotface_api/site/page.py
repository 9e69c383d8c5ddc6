"""What every page is made with: the data at the revision asked, addresses, and rendering.

A page shows the very objects ``/v1`` answers with, written by the same functions, so that page and
program cannot come to differ. Rendered pages are kept with the answers of the HTTP door, by
revision, and recognised by the same entity tags.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Final, cast
from urllib.parse import quote, urlencode

from flask import Response, current_app, request
from jinja2 import Environment, PackageLoader, StrictUndefined
from sqlalchemy import Connection

from hotface_api.http.conditional import answer_text
from hotface_api.http.context import Asked, ask, latest_revision, service
from hotface_api.http.problems import Code, Problem
from hotface_api.site import citing, words
from hotface_api.site.figures import Figures

__all__ = ["CSV", "HTML", "POLICY", "Page", "Site", "environment", "open_page", "site"]

HTML: Final = "text/html"
CSV: Final = "text/csv"
POLICY: Final = (
    "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self';"
    " base-uri 'none'; frame-ancestors 'none'"
)
_MIXES_KEPT: Final = 64
_FILTERS: Final = (
    "number",
    "quantity",
    "span",
    "reaches",
    "plain",
    "condition",
    "unit",
    "formula",
    "percent",
    "sentence_case",
    "unstopped",
)


@dataclass(frozen=True, slots=True)
class Site:
    """The parts of the pages, made once an application.

    Figures of mixes are kept apart, for there is no end of mixes.
    """

    shelf: citing.Shelf = field(default_factory=citing.Shelf)
    figures: Figures = field(default_factory=Figures)
    mixes: Figures = field(default_factory=lambda: Figures(_MIXES_KEPT))


def site() -> Site:
    """Give the parts of the pages of the application at hand."""
    return cast("Site", current_app.extensions["hotface-site"])


@cache
def style_version() -> str:
    """Give a digest of the style sheet: its address changes with it, so it may be kept for ever."""
    style = files("hotface_api.site").joinpath("static/site.css").read_bytes()
    return hashlib.blake2b(style, digest_size=6).hexdigest()


def alike(cautions: Sequence[Mapping[str, Any]]) -> list[list[Mapping[str, Any]]]:
    """Bring together cautions that give the same advice on the same hazard."""
    grouped: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for each in cautions:
        grouped.setdefault((each["hazard"], each["advice"]), []).append(each)
    return list(grouped.values())


@cache
def environment() -> Environment:
    """Make the templates' environment: everything escaped, nothing undefined passed over."""
    made = Environment(
        loader=PackageLoader("hotface_api.site", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        lstrip_blocks=True,
    )
    for name in _FILTERS:
        made.filters[name] = getattr(words, name)
    made.filters["alike"] = alike
    made.globals |= {
        "counted": words.counted,
        "KINDS": words.KINDS,
        "FORMS": words.FORMS,
        "BASES": words.BASES,
        "TRIGGERS": words.TRIGGERS,
    }
    return made


def _asked_for(name: str) -> str | None:
    return request.args.get(name) or None


def _units() -> str:
    found = _asked_for("units") or "si"
    if found not in ("si", "us"):
        raise _odd("units", "units are si or us")
    return found


def _revision() -> int | None:
    found = _asked_for("revision")
    if found is None:
        return None
    if not (found.isascii() and found.isdigit() and len(found) < 10 and int(found)):  # noqa: PLR2004
        raise _odd("revision", "a revision is a whole number from 1 on")
    return int(found)


def _odd(parameter: str, detail: str) -> Problem:
    fault = {"detail": detail, "parameter": parameter}
    return Problem(Code.INVALID_PARAMETER, detail, errors=[fault])


@dataclass(slots=True)
class Page:
    """A page in the making.

    Attributes
    ----------
    asked : Asked
        The data at the revision asked for, and the units to write in.
    revision_asked : int or None
        The revision named in the address, if one was.
    sources : mapping
        Every source by id, once ``reading`` has been entered.
    """

    asked: Asked
    revision_asked: int | None
    sources: Mapping[str, citing.Cited] = field(default_factory=dict)

    @property
    def units(self) -> str:
        """Give the system of units, ``si`` or ``us``."""
        return self.asked.output.system

    @property
    def latest(self) -> int:
        """Give the latest revision."""
        return latest_revision()

    def to(self, path: str, **query: Any) -> str:
        """Give the address of a page of ours, keeping units and revision."""
        if self.units == "us":
            query.setdefault("units", "us")
        if self.revision_asked is not None:
            query.setdefault("revision", self.revision_asked)
        return _address(path, query)

    @staticmethod
    def at(path: str) -> str:
        """Give the bare address of a form's target or a file of the pages."""
        return _address(path, {})

    def here(self, prefix: str = "", **changed: Any) -> str:
        """Give the address of this page with some of its query changed."""
        query: dict[str, Any] = dict(request.args.lists())
        query |= changed
        return _address(prefix + request.path, query)

    def say(self, text: str) -> str:
        """Write a sentence of the catalogue for people."""
        return words.sentence(text, self.units)

    def source(self, key: str | None) -> citing.Cited | None:
        """Give a source as it stands beside a number."""
        return None if key is None else self.sources.get(key)

    def name(self, material: str) -> str:
        """Give the name of a material."""
        row = self.asked.reference.materials.get(material)
        return material if row is None else str(row["name"])

    def property_name(self, key: str) -> str:
        """Give the name of a property."""
        return str(self.asked.reference.properties[key]["name"])

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Open a connection for this page, and have its sources at hand."""
        with service().database.read() as connection:
            self.sources = site().shelf.at(connection, self.asked.revision)
            yield connection

    def write(self, template: str, **shown: Any) -> bytes:
        """Render a template."""
        found = environment().get_template(template)
        text = found.render(p=self, path=request.path, style=style_version(), **shown)
        return text.encode()

    def answer(self, body: bytes, *, keep: bool = True) -> Response:
        """Answer with a page; ``keep`` is off where the number of questions has no end."""
        headers = {"Content-Security-Policy": POLICY}
        return answer_text(self.asked, body, headers, keep=keep)


def _address(path: str, query: Mapping[str, Any]) -> str:
    pairs: list[tuple[str, str]] = []
    for name, given in query.items():
        for each in given if isinstance(given, list) else [given]:
            if each not in (None, ""):
                pairs.append((name, str(each)))  # noqa: PERF401 - two loops read better so
    text = urlencode(pairs, quote_via=quote)
    place = quote(request.script_root + path, safe="/-._~")
    return f"{place}?{text}" if text else place


def open_page(*, dated: bool = True) -> Page:
    """Begin a page from the units and revision in its address.

    Without ``dated`` it is of the latest data, whatever revision the address names.
    """
    units, revision = _units(), _revision() if dated else None
    return Page(ask({"units": units, "revision": revision}), revision)
