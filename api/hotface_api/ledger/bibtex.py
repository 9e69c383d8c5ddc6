"""BibTeX from contributors into CSL-JSON; what does not parse is told by its line."""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from typing import Any, Final

from bibtexparser.entrypoint import parse_string
from bibtexparser.exceptions import BlockAbortedException
from bibtexparser.middlewares import (
    LatexDecodingMiddleware,
    NameParts,
    SeparateCoAuthors,
    SplitNameParts,
)
from bibtexparser.model import DuplicateFieldKeyBlock, Entry, ParsingFailedBlock

from hotface_api.ledger.errors import near
from hotface_api.ledger.texts import LONG, Faults

__all__ = ["read_bibtex"]

_TYPES: Final[Mapping[str, str]] = {
    "article": "article-journal",
    "book": "book",
    "booklet": "pamphlet",
    "conference": "paper-conference",
    "dataset": "dataset",
    "inbook": "chapter",
    "incollection": "chapter",
    "inproceedings": "paper-conference",
    "manual": "report",
    "mastersthesis": "thesis",
    "misc": "document",
    "online": "webpage",
    "patent": "patent",
    "phdthesis": "thesis",
    "proceedings": "book",
    "report": "report",
    "standard": "standard",
    "techreport": "report",
    "thesis": "thesis",
    "unpublished": "manuscript",
    "www": "webpage",
}
_FIELDS: Final[Mapping[str, str]] = {
    "title": "title",
    "journal": "container-title",
    "journaltitle": "container-title",
    "booktitle": "container-title",
    "publisher": "publisher",
    "institution": "publisher",
    "school": "publisher",
    "organization": "publisher",
    "howpublished": "medium",
    "address": "publisher-place",
    "location": "publisher-place",
    "volume": "volume",
    "pages": "page",
    "edition": "edition",
    "chapter": "chapter-number",
    "isbn": "ISBN",
    "issn": "ISSN",
    "doi": "DOI",
    "url": "URL",
    "note": "note",
    "series": "collection-title",
    "version": "version",
}
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
_DEEPEST: Final = 20

logging.getLogger("bibtexparser").setLevel(logging.ERROR)


def read_bibtex(text: Any, faults: Faults, place: str) -> dict[str, Any] | None:
    """Read BibTeX with one entry as a CSL-JSON item (not checked yet).

    Parameters
    ----------
    text : str
        At most 4000 characters.
    faults : Faults
        Told what is wrong, with the line.
    place : str
        JSON pointer of the text below the faults' base.

    Returns
    -------
    dict or None
    """
    plain = faults.text(place, text, longest=LONG, needed=True)
    if plain is None:
        return None
    if _depth(plain) > _DEEPEST:
        faults.add(place, f"braces are nested deeper than {_DEEPEST} in this BibTeX")
        return None
    reading = [LatexDecodingMiddleware(keep_braced_groups=True), SeparateCoAuthors()]
    library = parse_string(plain, append_middleware=[*reading, SplitNameParts()])
    if library.failed_blocks:
        faults.add(place, _failure(library.failed_blocks[0], plain))
        return None
    if len(library.entries) != 1:
        faults.add(place, f"one BibTeX entry is wanted; {len(library.entries)} are here")
        return None
    return _item(library.entries[0], faults, place)


def _depth(text: str) -> int:
    """Give how deep braces nest; the parser recurses into them."""
    depth = deepest = 0
    for mark in text:
        depth += (mark == "{") - (mark == "}")
        deepest = max(deepest, depth)
    return deepest


def _failure(block: ParsingFailedBlock, text: str) -> str:
    start = (block.start_line or 0) + 1
    if isinstance(block, DuplicateFieldKeyBlock):
        twice = ", ".join(sorted(block.duplicate_keys))
        return f"the BibTeX entry of line {start} gives {twice} twice"
    line = start
    if isinstance(block.error, BlockAbortedException) and block.error.end_index is not None:
        line = 1 + text[: block.error.end_index].count("\n")
    return f"this BibTeX does not parse, line {line} (the entry starts on line {start})"


def _item(entry: Entry, faults: Faults, place: str) -> dict[str, Any] | None:
    kind = entry.entry_type.lower()
    if kind not in _TYPES:
        faults.add(place, f"@{kind[:40]} is not an entry type read here", near(kind, _TYPES))
        return None
    raw = {key.lower(): field.value for key, field in entry.fields_dict.items()}
    fields = {key: _plain(value) for key, value in raw.items()}
    item: dict[str, Any] = {"type": _TYPES[kind]}
    for name, key in _FIELDS.items():
        if fields.get(name):
            item.setdefault(key, fields[name])
    for name in ("author", "editor"):
        if fields.get(name):
            item[name] = [_name(parts) for parts in raw[name]]
    if fields.get("number"):
        item["issue" if kind == "article" else "number"] = fields["number"]
    issued = _issued(fields)
    if issued:
        item["issued"] = {"date-parts": [issued]}
    if "page" in item:
        item["page"] = re.sub(r"\s*-{1,3}\s*|\s*\u2013\s*", "-", item["page"])
    return item


def _plain(value: Any) -> str:
    """Drop the braces that guard capitals; they mean nothing outside BibTeX."""
    return re.sub(r"\s+", " ", str(value)).strip().replace("{", "").replace("}", "")


def _name(parts: NameParts) -> dict[str, str]:
    """Turn the parts of a name; one in braces, or of one word, is a body's and stays whole."""
    family = _plain(" ".join([*parts.von, *parts.last]))
    given = _plain(" ".join(parts.first))
    if not given:
        return {"literal": family}
    jr = _plain(" ".join(parts.jr))
    return {"family": family, "given": given, **({"suffix": jr} if jr else {})}


def _issued(fields: Mapping[str, str]) -> list[int] | None:
    year = re.search(r"\d{4}", fields.get("year") or fields.get("date") or "", re.ASCII)
    if year is None:
        return None
    month = (fields.get("month") or "").lower()[:3]
    return [int(year[0]), _MONTHS.index(month) + 1] if month in _MONTHS else [int(year[0])]
