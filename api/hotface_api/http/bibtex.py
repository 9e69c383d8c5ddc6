"""CSL-JSON items as BibTeX entries.

Only what BibTeX can hold is written. Texts are escaped for TeX and titles wrapped in a second pair
of braces, so that styles keep their capitals; addresses and DOIs are left as they are, since the
packages that print them read them raw.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

__all__ = ["MEDIA_TYPE", "entries", "entry"]

MEDIA_TYPE: Final = "application/x-bibtex"
Item = Mapping[str, Any]

_TYPES: Final[Mapping[str, str]] = {
    "article": "article",
    "article-journal": "article",
    "article-magazine": "article",
    "book": "book",
    "chapter": "incollection",
    "entry-dictionary": "incollection",
    "entry-encyclopedia": "incollection",
    "paper-conference": "inproceedings",
    "report": "techreport",
    "standard": "techreport",
    "thesis": "phdthesis",
}
_CONTAINERS: Final[Mapping[str, str]] = {
    "article": "journal",
    "incollection": "booktitle",
    "inproceedings": "booktitle",
}
_PUBLISHERS: Final[Mapping[str, str]] = {"techreport": "institution", "phdthesis": "school"}
_PLAIN: Final = (
    ("volume", "volume"),
    ("issue", "number"),
    ("edition", "edition"),
    ("ISBN", "isbn"),
    ("ISSN", "issn"),
    ("note", "note"),
)
_MONTHS: Final = (
    "jan",
    "feb",
    "mar",
    "apr",
    "may",
    "jun",
    "jul",
    "aug",
    "sep",
    "oct",
    "nov",
    "dec",
)
_ESCAPES: Final = str.maketrans(
    {
        "\\": r"\textbackslash{}",
        "{": r"\{",
        "}": r"\}",
        "&": r"\&",
        "%": r"\%",
        "$": r"\$",
        "#": r"\#",
        "_": r"\_",
        "~": r"\textasciitilde{}",
        "^": r"\textasciicircum{}",
    }
)
_SPACES: Final = re.compile(r"\s+")
_UNSAFE_KEY: Final = re.compile(r"[^A-Za-z0-9:._/+-]")


def _escape(text: Any) -> str:
    return _SPACES.sub(" ", str(text)).strip().translate(_ESCAPES)


def _raw(text: Any) -> str:
    """Keep an address as it is, but for what would end or open a BibTeX group."""
    swaps = str.maketrans({"{": "%7B", "}": "%7D", "\\": "%5C", " ": "%20"})
    return _SPACES.sub(" ", str(text)).strip().translate(swaps)


def _name(person: Mapping[str, Any]) -> str:
    """Write one name; a literal is wrapped so that it is not split into first and last."""
    if "family" not in person:
        return "{" + _escape(person.get("literal", "")) + "}"
    family = _escape(
        " ".join(filter(None, (person.get("non-dropping-particle"), person["family"])))
    )
    given = _escape(person.get("given", ""))
    return f"{family}, {given}" if given else "{" + family + "}"


def _names(people: Sequence[Mapping[str, Any]]) -> str:
    return " and ".join(_name(person) for person in people)


def _issued(item: Item) -> tuple[str | None, str | None]:
    """Give year and month."""
    dates = (item.get("issued") or {}).get("date-parts") or [[]]
    parts = [str(part) for part in dates[0]]
    year = parts[0] if parts else None
    month = parts[1] if len(parts) > 1 else ""
    is_month = month.isascii() and month.isdigit() and 1 <= int(month) <= len(_MONTHS)
    return year, _MONTHS[int(month) - 1] if is_month else None


def _places(item: Item, kind: str) -> Iterable[tuple[str, str]]:
    """Give where it appeared."""
    if "container-title" in item:
        yield _CONTAINERS.get(kind, "howpublished"), _escape(item["container-title"])
    if "publisher" in item:
        yield _PUBLISHERS.get(kind, "publisher"), _escape(item["publisher"])
    if "number" in item and "issue" not in item:
        yield "number", _escape(item["number"])
    if "page" in item:
        yield "pages", re.sub(r"\s*[-–—]+\s*", "--", _escape(item["page"]))


def _fields(item: Item, kind: str) -> Iterable[tuple[str, str]]:
    for csl, name in (("author", "author"), ("editor", "editor")):
        if item.get(csl):
            yield name, _names(item[csl])
    yield "title", "{" + _escape(item.get("title", item["id"])) + "}"
    yield from _places(item, kind)
    for csl, name in _PLAIN:
        if csl in item:
            yield name, _escape(item[csl])
    year, month = _issued(item)
    if year:
        yield "year", _escape(year)
    if month:
        yield "month", month
    for csl in ("DOI", "URL"):
        if csl in item:
            yield csl.lower(), _raw(item[csl])


def entry(item: Item) -> str:
    """Write one CSL item as a BibTeX entry.

    Parameters
    ----------
    item : mapping
        A CSL-JSON item with at least an ``id``.

    Returns
    -------
    str
        The entry, ending in a line feed.
    """
    kind = _TYPES.get(item.get("type", ""), "misc")
    key = _UNSAFE_KEY.sub("-", str(item["id"]))
    lines = [f"@{kind}{{{key},"]
    for name, text in _fields(item, kind):
        lines.append(f"  {name} = {text}," if name == "month" else f"  {name} = {{{text}}},")
    lines.append("}")
    return "\n".join(lines) + "\n"


def entries(items: Iterable[Item]) -> str:
    """Write a list of CSL items as a BibTeX file."""
    return "\n".join(entry(item) for item in items)
