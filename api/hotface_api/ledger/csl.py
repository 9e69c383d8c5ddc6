"""CSL-JSON items from contributors: checked, cleaned, and made from BibTeX."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import urlsplit

from hotface_api.ledger.canonical import canonical
from hotface_api.ledger.errors import near
from hotface_api.ledger.identifiers import read_doi
from hotface_api.ledger.texts import LONG, Faults

__all__ = ["SOURCE_TYPE_OF", "check_item"]

SOURCE_TYPE_OF: Final[Mapping[str, str]] = {
    "article": "report",
    "article-journal": "journal",
    "article-magazine": "web",
    "article-newspaper": "web",
    "book": "handbook",
    "chapter": "handbook",
    "dataset": "dataset",
    "document": "report",
    "entry": "encyclopedia",
    "entry-dictionary": "encyclopedia",
    "entry-encyclopedia": "encyclopedia",
    "legislation": "standard",
    "manuscript": "report",
    "pamphlet": "supplier",
    "paper-conference": "journal",
    "patent": "patent",
    "personal_communication": "report",
    "post": "web",
    "post-weblog": "web",
    "regulation": "standard",
    "report": "report",
    "review": "journal",
    "software": "dataset",
    "speech": "report",
    "standard": "standard",
    "thesis": "report",
    "webpage": "web",
}
"""The CSL types that may be cited here, and the source type each counts as unless one is said."""

_NAMES: Final = ("author", "editor", "translator", "container-author", "collection-editor")
_DATES: Final = ("issued", "accessed", "original-date", "submitted")
_TEXTS: Final = (
    "title",
    "title-short",
    "container-title",
    "container-title-short",
    "collection-title",
    "collection-number",
    "publisher",
    "publisher-place",
    "volume",
    "issue",
    "page",
    "number",
    "number-of-pages",
    "number-of-volumes",
    "chapter-number",
    "section",
    "edition",
    "version",
    "genre",
    "medium",
    "note",
    "abstract",
    "keyword",
    "language",
    "ISBN",
    "ISSN",
    "URL",
    "DOI",
    "event-title",
    "event-place",
    "archive",
    "archive_location",
    "authority",
    "jurisdiction",
    "original-title",
    "original-publisher",
    "status",
    "part",
    "supplement",
    "PMID",
)
_KEYS: Final = frozenset({"id", "type", "custom", *_NAMES, *_DATES, *_TEXTS})
_NAME_PARTS: Final = frozenset(
    {"family", "given", "literal", "suffix", "dropping-particle", "non-dropping-particle"}
)
_FINDABLE: Final = frozenset(
    {"DOI", "URL", "author", "editor", "publisher", "container-title", "number", "ISBN"}
)
_MOST_NAMES: Final = 100
_LARGEST: Final = 16_384
_YEARS: Final = (1000, 2200)
_DATE_PARTS: Final = 3


def check_item(item: Any, faults: Faults, place: str) -> dict[str, Any] | None:
    """Check and clean one CSL-JSON item.

    Parameters
    ----------
    item : mapping
        As handed in. Its ``id`` and ``custom`` are dropped.
    faults : Faults
        Told what is wrong.
    place : str
        JSON pointer of the item below the faults' base.

    Returns
    -------
    dict or None
        The clean item without ``id``; None if it cannot be used.
    """
    before = len(faults.found)
    if not isinstance(item, Mapping):
        faults.add(place, "one CSL-JSON item is wanted, as an object")
        return None
    for key in sorted(str(key) for key in item if key not in _KEYS):
        faults.add(f"{place}/{key[:40]}", "CSL has no such field here", near(key, _KEYS))
    clean: dict[str, Any] = {"type": _type(item.get("type"), faults, place)}
    for keys, read in ((_TEXTS, _text), (_NAMES, _names), (_DATES, _date)):
        for key in keys:
            found = read(item.get(key), faults, f"{place}/{key}")
            if found:
                clean[key] = found
    _identify(clean, faults, place)
    if len(faults.found) > before:
        return None
    if len(canonical(clean)) > _LARGEST:
        faults.add(place, f"the item is larger than {_LARGEST} bytes")
        return None
    return clean


def _type(kind: Any, faults: Faults, place: str) -> str | None:
    if kind is None:
        faults.add(f"{place}/type", "a CSL item says its type, such as article-journal")
        return None
    return faults.word(f"{place}/type", kind, tuple(SOURCE_TYPE_OF))


def _text(value: Any, faults: Faults, place: str) -> Any:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)  # CSL lets volume, issue and page be numbers
    return faults.text(place, value, longest=LONG)


def _names(names: Any, faults: Faults, place: str) -> Any:
    if names is None:
        return None
    if not isinstance(names, list | tuple) or len(names) > _MOST_NAMES:
        faults.add(place, f"a list of at most {_MOST_NAMES} names is wanted")
        return None
    found = []
    for index, name in enumerate(names):
        if not isinstance(name, Mapping) or not set(name) <= _NAME_PARTS or not name:
            faults.add(f"{place}/{index}", "a name has family and given, or literal")
            continue
        parts = {k: faults.text(f"{place}/{index}/{k}", v) for k, v in name.items()}
        kept = {k: v for k, v in parts.items() if v}
        if "family" not in kept and "literal" not in kept:
            faults.add(f"{place}/{index}", "a name has family and given, or literal")
        found.append(kept)
    return found


def _date(moment: Any, faults: Faults, place: str) -> Any:
    if moment is None:
        return None
    parts = moment.get("date-parts") if isinstance(moment, Mapping) else None
    if isinstance(moment, Mapping) and isinstance(moment.get("raw"), str):
        year = re.fullmatch(r"\s*(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?\s*", moment["raw"], re.ASCII)
        parts = [[int(part) for part in year.groups() if part]] if year else None
    if not isinstance(parts, list | tuple) or len(parts) != 1 or not _is_date(parts[0]):
        faults.add(place, 'a date is {"date-parts": [[year, month, day]]}')
        return None
    return {"date-parts": [[int(part) for part in parts[0]]]}


def _is_date(parts: Any) -> bool:
    if not isinstance(parts, list | tuple) or not 1 <= len(parts) <= _DATE_PARTS:
        return False
    try:
        numbers = [int(part) for part in parts]
    except (TypeError, ValueError, OverflowError):
        return False
    highest = (_YEARS[1], 12, 31)
    lowest = (_YEARS[0], 1, 1)
    return all(low <= n <= high for n, low, high in zip(numbers, lowest, highest, strict=False))


def _identify(clean: dict[str, Any], faults: Faults, place: str) -> None:
    """Normalise DOI and URL; a text nobody could find again is refused."""
    if "DOI" in clean:
        try:
            clean["DOI"] = read_doi(clean["DOI"])
        except ValueError as error:
            faults.add(f"{place}/DOI", str(error))
    if "URL" in clean and not _is_web(clean["URL"]):
        faults.add(f"{place}/URL", "an address starts with http:// or https:// and names a host")
    if not {"title", "DOI", "URL"} & set(clean):
        faults.add(place, "give a title, a DOI or an address: nobody could find this text again")
    if "title" in clean and not _FINDABLE & set(clean):
        faults.add(place, "besides the title give an author, a publisher, a number or an address")


def _is_web(address: str) -> bool:
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(parts.hostname) and " " not in address
