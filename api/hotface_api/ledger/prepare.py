"""A whole submission from draft to rows ready to be written, compared with what is held.

Pure reading: runs on any connection, writes nothing. Called before the write lock is taken, and
again inside it if a revision was made in between.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.bodies import proposed_material, proposed_specimen
from hotface_api.ledger.canonical import digest, to_plain
from hotface_api.ledger.compare import Grounds, Told, tell
from hotface_api.ledger.drafts import SourceDraft, SubmissionDraft, UnreadDraft, ValueDraft
from hotface_api.ledger.errors import Fault, Hints, near
from hotface_api.ledger.figures import Surroundings, value_row
from hotface_api.ledger.identifiers import read_orcid
from hotface_api.ledger.sources import Cited, Sources
from hotface_api.ledger.texts import Faults
from hotface_api.store.models import Specimen
from hotface_api.store.read import find

__all__ = ["LICENCES", "MAX_BATCH", "Kept", "Prepared", "Ready", "prepare", "read_licence"]

Row = dict[str, Any]
LICENCES: Final = ("CC-BY-4.0", "CC0-1.0")
"""What a contribution may be licensed as: what the whole collection can be passed on under."""
MAX_BATCH: Final = 500
_TWIN: Final = (
    "A source of this title and year is held as {}: cite it by that id if it is the same text, or"
    " its figures count as those of another origin."
)


@dataclass(frozen=True, slots=True)
class Ready:
    """One value: its row, or what is wrong with it; and what is told of it."""

    row: Row | None
    content_hash: str
    told: Told | None
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Kept:
    """What a correction keeps of the value it replaces unless it says otherwise.

    ``proposed`` is what the earlier submission proposed, still to be opened with it.
    """

    value: str
    source: Cited
    specimen: str | None
    proposed: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Prepared:
    """A submission ready to be written, against one revision.

    ``proposed`` holds the rows to open with the first acceptance: ``sources`` (pairs of source and
    origin by source id), ``material``, ``specimen`` and its ``constituents``. ``faults`` are those
    of the whole; each value has its own.
    """

    revision: int
    licence: str
    values: tuple[Ready, ...]
    proposed: Mapping[str, Any]
    measured_by: tuple[str, str | None] | None
    faults: tuple[Fault, ...]

    def all_faults(self) -> list[Fault]:
        """List everything wrong, in order."""
        return [*self.faults, *(fault for value in self.values for fault in value.faults)]


def prepare(
    connection: Connection,
    reference: Reference,
    contributor: str,
    draft: SubmissionDraft,
    today: date,
    *,
    most: int = MAX_BATCH,
    kept: Kept | None = None,
) -> Prepared:
    """Check a submission and compare its values with what is held.

    Parameters
    ----------
    connection : Connection
        For reading only.
    reference : Reference
        At the revision to compare with.
    contributor : str
        Id of who submits; own measurements count under an origin of theirs.
    draft : SubmissionDraft
    today : date
        Own measurements lie not after it.
    most : int
        The most values taken.
    kept : Kept, optional
        What a correction keeps of the value it replaces.

    Returns
    -------
    Prepared
        Never raises for what is wrong with the draft; it is in ``faults``.
    """
    whole = Faults()
    if not draft.values:
        whole.add("/values", "at least one value is wanted")
    if len(draft.values) > most:
        whole.add("/values", f"at most {most} values at once; this has {len(draft.values)}")
        return Prepared(reference.revision, draft.licence, (), {}, None, tuple(whole.found))
    licence = read_licence(draft.licence, whole)
    measured_by = _measured_by(draft, whole)
    sources = Sources(connection, reference, contributor, today)
    material = proposed_material(draft.material, reference, contributor, whole)
    brought = [material, (kept.proposed if kept else {}).get("material")]
    new = frozenset(row["id"] for row in brought if row)
    bringing = _Bringing(connection, reference, contributor, sources, new, draft, whole)
    common = bringing.common_source(kept)
    specimen, recipe = proposed_specimen(draft.specimen, common, reference, new, contributor, whole)
    bringing.specimen = specimen
    bringing.kept = kept
    values = [bringing.value(index, each, common) for index, each in enumerate(draft.values)]
    values = _without_twice(values)
    earlier = kept.proposed if kept else {}
    proposed = {
        "sources": {**earlier.get("sources", {}), **bringing.new_sources},
        "material": material or earlier.get("material"),
        "specimen": specimen or earlier.get("specimen"),
        "constituents": recipe or earlier.get("constituents", []),
    }
    replaced = None if kept is None else kept.value
    told = _tell(connection, reference, values, replaced, bringing.alike)
    return Prepared(
        reference.revision, licence, tuple(told), proposed, measured_by, tuple(whole.found)
    )


def read_licence(text: Any, whole: Faults) -> str:
    """Check what a contribution is licensed as."""
    if text not in LICENCES:
        shown = str(text)[:40]
        whole.add(
            "/licence",
            f"a contribution is licensed as {' or '.join(LICENCES)}; say one",
            near(shown, LICENCES) or LICENCES,
        )
    return str(text)


def _measured_by(draft: SubmissionDraft, whole: Faults) -> tuple[str, str | None] | None:
    if draft.measured_by is None:
        return None
    name = whole.text("/measured_by/name", draft.measured_by.name, needed=True)
    orcid = None
    if draft.measured_by.orcid is not None:
        try:
            orcid = read_orcid(str(draft.measured_by.orcid))
        except ValueError as error:
            whole.add("/measured_by/orcid", str(error))
    return (name or "", orcid)


class _Bringing:
    """What one submission brings, gathered while its values are read."""

    def __init__(
        self,
        connection: Connection,
        reference: Reference,
        contributor: str,
        sources: Sources,
        materials: frozenset[str],
        draft: SubmissionDraft,
        whole: Faults,
    ) -> None:
        self._connection = connection
        self._reference = reference
        self._contributor = contributor
        self._sources = sources
        self._materials = materials
        self._draft = draft
        self._whole = whole
        self._resolved: dict[int, tuple[SourceDraft, Cited | None]] = {}
        self._bodies: dict[str, str | None] = {}
        self._hints = Hints()
        self.new_sources: dict[str, list[Row]] = {}
        self.alike: dict[str, str] = {}
        self.specimen: Row | None = None
        self.kept: Kept | None = None

    def common_source(self, kept: Kept | None) -> Cited | None:
        """Resolve the submission's own source, if it gives one or keeps one."""
        if self._draft.source is None:
            return None if kept is None else kept.source
        return self._resolve(self._draft.source, self._whole, "/source", seen=True)

    def _resolve(
        self, draft: SourceDraft, faults: Faults, place: str, *, seen: bool
    ) -> Cited | None:
        known = self._resolved.get(id(draft))
        if known is not None:
            if known[1] is None:
                faults.add(place, "this source cannot be used; what is wrong stands above")
            return known[1]
        cited = self._sources.resolve(draft, faults, place, seen=seen)
        self._resolved[id(draft)] = (draft, cited)
        if cited is not None and cited.new is not None:
            self.new_sources.setdefault(cited.id, list(cited.new))
        if cited is not None and cited.alike is not None:
            self.alike[cited.id] = cited.alike
        return cited

    def value(self, index: int, draft: ValueDraft | UnreadDraft, common: Cited | None) -> Ready:
        """Read one value."""
        faults = Faults(f"/values/{index}")
        if isinstance(draft, UnreadDraft):
            for fault in draft.faults:
                faults.add(fault.pointer, fault.message, fault.nearest)
            return Ready(None, "", None, tuple(faults.found))
        source, quoted_in = common, None
        if draft.source is not None:
            seen = draft.quoted_in is None
            source = self._resolve(draft.source, faults, "/source", seen=seen)
        elif self._draft.source is None and self.kept is None:
            faults.add("/source", "say where the figure stands, or that you measured it yourself")
        if draft.quoted_in is not None:
            quoted_in = self._resolve(draft.quoted_in, faults, "/quoted_in", seen=True)
        around = Surroundings(
            self._reference,
            self._materials,
            None if self.specimen is None else self.specimen["id"],
            self._specimen_material,
            self._hints,
        )
        row = value_row(draft, source, quoted_in, around, faults)
        self._check_body(row, faults)
        if row is None or faults.found:
            return Ready(None, "", None, tuple(faults.found))
        if self.kept is not None and draft.specimen is None:
            row["specimen"] = self.kept.specimen
        row["contributor"] = self._contributor
        row["licence"] = self._draft.licence
        return Ready(row, self._content_hash(row), None, ())

    def _check_body(self, row: Row | None, faults: Faults) -> None:
        if row is None or self.specimen is None or row["material"] == self.specimen["material"]:
            return
        faults.add("/material", f"the specimen is of {self.specimen['material']}")

    def _specimen_material(self, key: str) -> str | None:
        if key not in self._bodies:
            row = find(self._connection, Specimen, self._reference.revision, key)
            self._bodies[key] = None if row is None else row["material"]
        return self._bodies[key]

    def _content_hash(self, row: Row) -> str:
        """Hash what is said, not the ids it was given."""
        body = None if self._draft.specimen is None else to_plain(self._draft.specimen)
        said = {k: v for k, v in row.items() if k not in ("specimen", "contributor", "licence")}
        specimen = None if self.specimen is not None else row["specimen"]
        return digest({"value": said, "specimen": specimen, "body": body})


def _without_twice(values: Sequence[Ready]) -> list[Ready]:
    """Fault every value that stands earlier in the same submission."""
    seen: dict[str, int] = {}
    found = []
    for index, value in enumerate(values):
        first = seen.setdefault(value.content_hash, index)
        if value.row is None or first == index:
            found.append(value)
            continue
        fault = Fault(f"/values/{index}", f"this stands already at /values/{first}")
        found.append(Ready(None, "", None, (fault,)))
    return found


def _tell(
    connection: Connection,
    reference: Reference,
    values: Sequence[Ready],
    replaced: str | None,
    alike: Mapping[str, str],
) -> list[Ready]:
    """Compare every good value, with one statement for what is held besides what it replaces."""
    rows = [value.row for value in values if value.row is not None]
    if not rows:
        return list(values)
    held: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    materials = {row["material"] for row in rows}
    properties = {row["property"] for row in rows}
    for other in material_rows(connection, reference, materials, properties):
        if other["id"] != replaced:
            held.setdefault((other["material"], other["property"]), []).append(other)
    found = []
    grounds: Grounds = {}
    for value in values:
        if value.row is None:
            found.append(value)
            continue
        key = (value.row["material"], value.row["property"])
        definition = reference.properties[value.row["property"]]
        told = tell(value.row, held.get(key, ()), definition, reference, grounds)
        twin = alike.get(value.row["source"])
        if twin is not None:
            told = replace(told, words=(*told.words, _TWIN.format(twin)))
        found.append(Ready(value.row, value.content_hash, told, value.faults))
    return found
