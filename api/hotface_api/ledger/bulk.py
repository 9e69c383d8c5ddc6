"""Many values from one CSV file, in the columns of the data package's ``values``.

The header may name any of the columns in any order; what is left out is blank. Ids, contributor,
licence and origin are given by the ledger. All rows or none are submitted; each row's faults are
reported with its line. And the way out: cells that a spreadsheet would run are made harmless.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from hotface_api.ledger.core import Ledger
from hotface_api.ledger.drafts import (
    CslSource,
    HeldSource,
    OwnMeasurement,
    SourceDraft,
    SubmissionDraft,
    UncertaintyDraft,
    ValueDraft,
)
from hotface_api.ledger.errors import Fault, InvalidError, near
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.prepare import read_licence
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.submit import ItemReceipt, Receipt, preview, submit
from hotface_api.ledger.texts import Faults
from hotface_api.store.cells import cell_check
from hotface_api.store.figures import COLUMN_UNITS, fixed_units
from hotface_seed import PACKAGE_PATH

__all__ = ["MAX_ROWS", "BulkDraft", "BulkReport", "RowReport", "columns", "submit_csv"]

Row = dict[str, Any]
MAX_ROWS: Final = 5000
MAX_BYTES: Final = 8 * 1024 * 1024
_GIVEN: Final = frozenset({"id", "contributor", "licence", "origin", "replaces", "recalled_source"})
"""Columns of the package that a contributor leaves blank."""
_NEEDED: Final = ("material", "property", "unit")
_SI_UNCERTAINTY: Final = "uncertainty_standard"


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkDraft:
    """A CSV file and what its rows share.

    Attributes
    ----------
    data : bytes
        UTF-8, with or without a byte order mark.
    licence : str
    sources : sequence of mappings
        CSL-JSON items; a row's ``source`` or ``quoted_in`` may name their ``id``.
    own : OwnMeasurement, optional
        What rows with basis ``measured`` were measured on, with and when.
    """

    data: bytes
    licence: str
    sources: Sequence[Mapping[str, Any]] = ()
    own: OwnMeasurement | None = None


@dataclass(frozen=True, slots=True)
class RowReport:
    """What became of one line of the file (the header is line 1)."""

    line: int
    item: ItemReceipt


@dataclass(frozen=True, slots=True)
class BulkReport:
    """What became of a file; ``written`` is False for a dry run and for a refused file."""

    rows: tuple[RowReport, ...]
    faults: tuple[Fault, ...]
    receipt: Receipt | None
    written: bool

    @property
    def good(self) -> bool:
        """Tell whether every row could be submitted."""
        return not self.faults and all(report.item.state != "refused" for report in self.rows)


def columns(descriptor: Path = PACKAGE_PATH) -> dict[str, Mapping[str, Any]]:
    """Give the columns a file may have: name to field definition of the data package."""
    package = json.loads(descriptor.read_text(encoding="utf-8"))
    fields = next(r for r in package["resources"] if r["name"] == "values")["schema"]["fields"]
    return {field["name"]: field for field in fields if field["name"] not in _GIVEN}


def submit_csv(
    ledger: Ledger,
    actor: Actor,
    draft: BulkDraft,
    *,
    dry_run: bool = False,
    progress: Callable[[int, int], None] | None = None,
    idempotency: Idempotency | None = None,
) -> BulkReport:
    """Submit every row of a file, or none.

    Parameters
    ----------
    ledger : Ledger
    actor : Actor
    draft : BulkDraft
    dry_run : bool
        Check and compare only; write nothing.
    progress : callable, optional
        Called with rows written and rows in all.
    idempotency : Idempotency, optional

    Returns
    -------
    BulkReport
        With a report a row, also where the file is refused for its rows.

    Raises
    ------
    InvalidError
        If the file cannot be read as a table at all: encoding, header, size; or the licence is
        none.
    ConflictError, UnavailableError
    """
    whole = Faults()
    read_licence(draft.licence, whole)
    if whole.found:
        raise InvalidError(whole.found)
    lines, drafts, broken = _read(draft)
    if broken:
        return _report(lines, broken)
    submission = SubmissionDraft(values=tuple(drafts), licence=draft.licence)
    checked = preview(ledger, actor, submission, most=MAX_ROWS)
    items = [_on_line(item, line) for item, line in zip(checked.items, lines, strict=True)]
    reports = tuple(map(RowReport, lines, items))
    if dry_run or any(item.state == "refused" for item in items):
        return BulkReport(reports, (), None, written=False)
    receipt = submit(
        ledger, actor, submission, idempotency=idempotency, most=MAX_ROWS, progress=progress
    )
    items = [_on_line(item, line) for item, line in zip(receipt.items, lines, strict=True)]
    return BulkReport(tuple(map(RowReport, lines, items)), (), receipt, written=True)


def _on_line(item: ItemReceipt, line: int) -> ItemReceipt:
    """Point the faults of an item at its line and column."""
    return replace(
        item,
        faults=tuple(
            Fault(re.sub(r"^/values/\d+", f"/{line}", f.pointer), f.message, f.nearest)
            for f in item.faults
        ),
    )


def _report(lines: list[int], broken: dict[int, list[Fault]]) -> BulkReport:
    """Report a file of which some rows cannot even be read; nothing is compared then."""
    reports = []
    for line in sorted({*lines, *broken}):
        faults = tuple(broken.get(line, ()))
        state = "refused" if faults else "checked"
        reports.append(RowReport(line, ItemReceipt(None, state, None, None, faults)))
    return BulkReport(tuple(reports), (), None, written=False)


def _read(draft: BulkDraft) -> tuple[list[int], list[ValueDraft], dict[int, list[Fault]]]:
    """Read the file into drafts; faults by line for rows that cannot be."""
    reader = csv.reader(io.StringIO(_decode(draft.data), newline=""), strict=True)
    lines: list[int] = []
    drafts: list[ValueDraft] = []
    broken: dict[int, list[Fault]] = {}
    try:
        names = _header(next(reader, []))
        checks = {name: cell_check(definition) for name, definition in columns().items()}
        for cells in reader:
            line = reader.line_num
            if not any(cells):
                continue
            if len(lines) + len(broken) >= MAX_ROWS:
                raise InvalidError.of("", f"a file holds at most {MAX_ROWS} rows; split it")
            faults: list[Fault] = []
            value = _value(line, names, cells, checks, draft, faults)
            if faults or value is None:
                broken[line] = faults
            else:
                lines.append(line)
                drafts.append(value)
    except csv.Error as error:
        raise InvalidError.of(f"/{reader.line_num}", f"this is not CSV: {error}") from error
    if not lines and not broken:
        raise InvalidError.of("", "the file holds a header and no rows")
    return lines, drafts, broken


def _decode(data: bytes) -> str:
    """Read UTF-8 with or without its mark, and say plainly what anything else is."""
    if len(data) > MAX_BYTES:
        raise InvalidError.of("", f"a file holds at most {MAX_BYTES} bytes; split it")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InvalidError.of("", "the file is UTF-16; save it as CSV UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InvalidError.of(
            f"/{line}",
            f"byte {error.start + 1} (line {line}) is not UTF-8: the file mixes encodings or is in"
            " another one; save it as CSV UTF-8",
        ) from error
    if "\0" in text:
        raise InvalidError.of("", "the file holds zero bytes; it is no text file")
    return text


def _header(names: list[str]) -> list[str]:
    known = columns()
    faults = []
    if len(names) == 1 and names[0].count(";") > 1:
        raise InvalidError.of("/1", "the columns are parted by semicolons; commas are wanted")
    most = len(known) + len(_GIVEN)
    if len(names) > most:  # each would be compared with every column there is
        raise InvalidError.of("/1", f"{len(names)} columns stand here; there are {most} at most")
    for name in names:
        if name in _GIVEN:
            faults.append(Fault(f"/1/{name}", "the ledger gives this; leave the column out"))
        elif name not in known:
            faults.append(Fault(f"/1/{name[:40]}", "no such column", near(name, known)))
    faults += [
        Fault(f"/1/{name}", "this column is needed") for name in _NEEDED if name not in names
    ]
    if len(set(names)) < len(names):
        faults.append(Fault("/1", "a column stands twice"))
    if faults:
        raise InvalidError(faults)
    return names


def _value(
    line: int,
    names: list[str],
    cells: list[str],
    checks: Mapping[str, Callable[[str], Any]],
    draft: BulkDraft,
    faults: list[Fault],
) -> ValueDraft | None:
    if len(cells) != len(names):
        faults.append(Fault(f"/{line}", f"{len(cells)} cells where {len(names)} belong"))
        return None
    row: Row = dict.fromkeys(checks)
    for name, cell in zip(names, cells, strict=True):
        try:
            row[name] = _cell(name, cell.strip(), checks[name])
        except ValueError as error:
            faults.append(Fault(f"/{line}/{name}", str(error)))
    if faults:
        return None
    return _draft(line, row, draft, faults)


def _cell(name: str, cell: str, check: Callable[[str], Any]) -> Any:
    if cell == "" and name not in _NEEDED:
        return None  # which of the others are needed depends on the property
    return check(cell)


def _draft(line: int, row: Row, draft: BulkDraft, faults: list[Fault]) -> ValueDraft | None:
    basis = row["basis"] or ("measured" if row["source"] is None and draft.own else "read")
    if basis in ("memory", "computed"):
        faults.append(Fault(f"/{line}/basis", f"a contribution cannot be of basis {basis}"))
        return None
    source: SourceDraft | None = draft.own if basis == "measured" else None
    if basis == "measured" and draft.own is None:
        faults.append(
            Fault(
                f"/{line}/basis", "say specimen, instrument and date of the file's own measurements"
            )
        )
        return None
    if basis != "measured" and row["source"] is not None:
        source = _source(row["source"], draft)
    quoted = None if row["quoted_in"] is None else _source(row["quoted_in"], draft)
    si = fixed_units("values", row)
    kept = {name: si[name] for name in COLUMN_UNITS["values"]}
    same = (
        "material",
        "property",
        "unit",
        "role",
        "event_kind",
        "form",
        "state",
        "fill",
        "moisture",
        "specimen_density_low",
        "specimen_density_high",
        "place",
        "atmosphere",
        "direction",
        "condition_text",
        "method",
        "locator",
        "specimen",
        "note",
        "printed_unit",
    )
    return ValueDraft(
        **{name: row[name] for name in same},
        **kept,
        bound=row["bound"] or "is",
        low=row["printed_low"],
        typical=row["printed_typical"],
        high=row["printed_high"],
        with_=row["with"],
        source=source,
        quoted_in=quoted,
        uncertainty=_uncertainty(row),
    )


def _source(key: str, draft: BulkDraft) -> SourceDraft:
    for item in draft.sources:
        if item.get("id") == key:
            return CslSource(item)
    return HeldSource(key)


def _uncertainty(row: Row) -> UncertaintyDraft | None:
    """Take an uncertainty of the package, which is in the SI unit there."""
    if row[_SI_UNCERTAINTY] is None:
        return None
    return UncertaintyDraft(
        standard_si=row[_SI_UNCERTAINTY],
        kind=row["uncertainty_kind"] or "B",
        distribution=row["uncertainty_distribution"],
        coverage_factor=row["uncertainty_coverage_factor"],
        degrees_of_freedom=row["uncertainty_degrees_of_freedom"],
        n=row["uncertainty_n"],
    )
