"""From what a contributor cites to a source and an origin, held already or new.

A new source, and the origin its figures count under, are only proposed: their rows are opened in
the revision that accepts the first value citing them. Ids of new sources are made from their
content, so that the same text cited twice is one source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.canonical import digest
from hotface_api.ledger.csl import SOURCE_TYPE_OF, check_item
from hotface_api.ledger.drafts import (
    BibtexSource,
    CslSource,
    DoiSource,
    HeldSource,
    OwnMeasurement,
    SourceDraft,
)
from hotface_api.ledger.errors import Hints
from hotface_api.ledger.identifiers import read_doi, slug
from hotface_api.ledger.texts import Faults
from hotface_api.store.models import Source
from hotface_api.store.read import find, held
from hotface_api.store.vocabulary import SOURCE_TYPES

__all__ = ["Cited", "Sources"]

Row = dict[str, Any]
_EARLIEST: Final = date(1850, 1, 1)
_FIRST_WORDS: Final = 3
SEEN_BY_CONTRIBUTOR: Final = "read by the contributor"
SEEN_BY_NOBODY: Final = "not seen; named by the text that quotes it"


@dataclass(frozen=True, slots=True)
class Cited:
    """A source as a value will cite it; ``new`` holds the rows to open where it is not held.

    ``own`` marks the contributor's own measurement. ``alike`` names a held source that seems to be
    the same text.
    """

    id: str
    origin: str
    own: bool = False
    new: tuple[Row, Row] | None = None
    alike: str | None = None


class Sources:
    """Resolves the sources of one submission; the held ones are read once, and only if needed."""

    def __init__(
        self, connection: Connection, reference: Reference, contributor: str, today: date
    ) -> None:
        self._connection = connection
        self._reference = reference
        self._contributor = contributor
        self._today = today
        self._held: list[Row] | None = None
        self._hints = Hints()

    def resolve(
        self, draft: SourceDraft | Cited, faults: Faults, place: str, *, seen: bool = True
    ) -> Cited | None:
        """Resolve one source; None, with faults told, where it cannot be used.

        One that is resolved already (a correction keeps its source) is given back.
        """
        if isinstance(draft, Cited):
            return draft
        if isinstance(draft, HeldSource):
            return self._by_id(draft.id, faults, place)
        if isinstance(draft, OwnMeasurement):
            return self._own(draft, faults, place)
        item = self._item(draft, faults, place)
        if item is None:
            return None
        said = faults.word(f"{place}/source_type", draft.source_type, SOURCE_TYPES)
        return self._by_item(item, said or SOURCE_TYPE_OF[item["type"]], seen=seen)

    def _item(
        self, draft: DoiSource | CslSource | BibtexSource, faults: Faults, place: str
    ) -> Row | None:
        if isinstance(draft, DoiSource):
            try:
                doi = read_doi(draft.doi)
            except (ValueError, AttributeError):
                faults.add(f"{place}/doi", "this is no DOI; one looks like 10.1000/abc")
                return None
            return {"type": "document", "DOI": doi, "URL": f"https://doi.org/{doi}"}
        if isinstance(draft, BibtexSource):
            from hotface_api.ledger.bibtex import read_bibtex  # noqa: PLC0415 - loads a parser

            read = read_bibtex(draft.text, faults, f"{place}/bibtex")
            return None if read is None else check_item(read, faults, f"{place}/bibtex")
        return check_item(draft.item, faults, f"{place}/csl")

    def _by_id(self, key: str, faults: Faults, place: str) -> Cited | None:
        if key not in self._reference.source_types:
            shown = str(key)[:60]
            nearest = self._hints.near(shown, self._reference.source_types)
            faults.add(f"{place}/id", f"no source {shown!r} is held", nearest)
            return None
        return self._cited(key)

    def _cited(self, key: str) -> Cited:
        row = find(self._connection, Source, self._reference.revision, key)
        if row is None:
            raise AssertionError(key)
        return Cited(key, row["origin"])

    def _by_item(self, item: Row, source_type: str, *, seen: bool) -> Cited:
        same = self._with_doi(item.get("DOI"))
        if same is not None:
            return Cited(same["id"], same["origin"])
        key = _source_id(item)
        if key in self._reference.source_types:
            return self._cited(key)
        title = item.get("title") or item.get("URL") or ""
        source = {
            "id": key,
            "source_type": source_type,
            "origin": key,
            "seen": SEEN_BY_CONTRIBUTOR if seen else SEEN_BY_NOBODY,
            "item": {"id": key, **item},
            "contributor": self._contributor,
        }
        origin = {"id": key, "title": title, "note": None, "contributor": self._contributor}
        return Cited(key, key, new=(source, origin), alike=self._alike(item))

    def _own(self, draft: OwnMeasurement, faults: Faults, place: str) -> Cited | None:
        before = len(faults.found)
        specimen = faults.text(f"{place}/specimen", draft.specimen, needed=True)
        instrument = faults.text(f"{place}/instrument", draft.instrument, needed=True)
        when = draft.date
        if isinstance(when, datetime) or not isinstance(when, date):
            faults.add(f"{place}/date", "the day of the measurement is needed, like 2026-11-20")
        elif not _EARLIEST <= when <= self._today + timedelta(days=1):
            faults.add(f"{place}/date", f"{when.isoformat()} cannot be the day of a measurement")
        if len(faults.found) > before:
            return None
        origin = f"measured-by-{self._contributor}"
        item: Row = {
            "type": "dataset",
            "title": f"Own measurement of {specimen}",
            "issued": {"date-parts": [[when.year, when.month, when.day]]},
            "note": f"Instrument: {instrument}",
        }
        key = f"own-{self._contributor}-{digest(item)[:10]}"
        source = {
            "id": key,
            "source_type": "dataset",
            "origin": origin,
            "seen": "measured by the contributor",
            "item": {"id": key, **item},
            "contributor": self._contributor,
        }
        held_origin = {
            "id": origin,
            "title": f"Measurements of contributor {self._contributor}",
            "note": None,
            "contributor": self._contributor,
        }
        return Cited(key, origin, own=True, new=(source, held_origin))

    def _all(self) -> list[Row]:
        if self._held is None:
            self._held = held(self._connection, Source, self._reference.revision)
        return self._held

    def _with_doi(self, doi: str | None) -> Row | None:
        if doi is None:
            return None
        for row in self._all():
            if str(row["item"].get("DOI", "")).lower() == doi:
                return row
        return None

    def _alike(self, item: Mapping[str, Any]) -> str | None:
        """Name a held source of the same title and year."""
        mark = _mark(item)
        if not mark[0]:
            return None
        return next((row["id"] for row in self._all() if _mark(row["item"]) == mark), None)


def _mark(item: Mapping[str, Any]) -> tuple[str, str]:
    return slug(str(item.get("title") or "")), _year(item)


def _year(item: Mapping[str, Any]) -> str:
    parts = item.get("issued", {}).get("date-parts") or [[""]]
    return str(parts[0][0])


def _source_id(item: Mapping[str, Any]) -> str:
    """Name a source by first author, year and title, with a mark of its content behind."""
    names = item.get("author") or item.get("editor") or [{}]
    who = slug(names[0].get("family") or names[0].get("literal") or "")
    what = "-".join(slug(str(item.get("title") or "")).split("-")[:_FIRST_WORDS])
    parts = [part for part in (who, _year(item) or "nd", what, digest(item)[:8]) if part]
    return "-".join(parts)
