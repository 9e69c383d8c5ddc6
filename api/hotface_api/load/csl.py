"""What a CSL-JSON item must be for citations to be printed from it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

__all__ = ["TYPES", "item_faults"]

TYPES: Final = frozenset(
    {
        "article",
        "article-journal",
        "article-magazine",
        "article-newspaper",
        "bill",
        "book",
        "broadcast",
        "chapter",
        "classic",
        "collection",
        "dataset",
        "document",
        "entry",
        "entry-dictionary",
        "entry-encyclopedia",
        "event",
        "figure",
        "graphic",
        "hearing",
        "interview",
        "legal_case",
        "legislation",
        "manuscript",
        "map",
        "motion_picture",
        "musical_score",
        "pamphlet",
        "paper-conference",
        "patent",
        "performance",
        "periodical",
        "personal_communication",
        "post",
        "post-weblog",
        "regulation",
        "report",
        "review",
        "review-book",
        "software",
        "song",
        "speech",
        "standard",
        "thesis",
        "treaty",
        "webpage",
    }
)
"""The item types of CSL 1.0.2."""

_NAMES: Final = ("author", "editor")
_TEXTS: Final = (
    "title",
    "container-title",
    "publisher",
    "publisher-place",
    "volume",
    "issue",
    "page",
    "number",
    "edition",
    "DOI",
    "ISBN",
    "ISSN",
    "URL",
    "note",
    "genre",
    "section",
    "language",
)
_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,119}")
_DOI: Final = re.compile(r"10\.\d{4,9}/\S+")
_ADDRESS: Final = re.compile(r"https?://[^\s/]+\S*")


def item_faults(item: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Give what is wrong with an item as (field, message) pairs.

    Parameters
    ----------
    item : mapping
        One element of a CSL-JSON list.
    """
    if not isinstance(item.get("id"), str) or not _ID.fullmatch(item["id"]):
        yield "id", f"{item.get('id')!r} is not an identifier"
    if item.get("type") not in TYPES:
        yield "type", f"{item.get('type')!r} is not a CSL type"
    if not item.get("title"):
        yield "title", "a source has a title, in our words where none was seen"
    for field in _TEXTS:
        if field in item and not isinstance(item[field], str | int):
            yield field, "is not a text"
    for field in _NAMES:
        if field in item and not _is_names(item[field]):
            yield field, "is a list of people with a family or a literal name"
    if "issued" in item and not _is_date(item["issued"]):
        yield "issued", 'is written {"date-parts": [[year, month, day]]}'
    yield from _address_faults(item)


def _address_faults(item: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if "DOI" in item and not _DOI.fullmatch(str(item["DOI"])):
        yield "DOI", f"{item['DOI']!r} is not a DOI"
    if "URL" in item and not _ADDRESS.fullmatch(str(item["URL"])):
        yield "URL", f"{item['URL']!r} is not a web address"


def _is_names(people: Any) -> bool:
    return isinstance(people, list) and all(
        isinstance(person, dict)
        and any(isinstance(person.get(part), str) for part in ("family", "literal"))
        for person in people
    )


def _is_date(date: Any) -> bool:
    parts = date.get("date-parts") if isinstance(date, dict) else None
    return (
        isinstance(parts, list)
        and bool(parts)
        and all(
            isinstance(part, list)
            and 1 <= len(part) <= 3  # noqa: PLR2004 - year, month, day
            and all(isinstance(number, int) and not isinstance(number, bool) for number in part)
            for part in parts
        )
    )
