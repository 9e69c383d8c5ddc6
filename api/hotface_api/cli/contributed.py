"""What became of contributed values, as text for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from hotface_api.cli.answers import words
from hotface_api.cli.tables import blocks, heading, lines, listed, table, wrapped

if TYPE_CHECKING:
    from hotface import Entry, ProblemError, Receipt, ReceiptItem, TableReport

__all__ = ["entries", "entry", "receipt", "refused_rows", "table_report"]

_PENDING = "Pending: no answer counts it until a curator has accepted it."


def _said(item: ReceiptItem) -> str:
    """Write what is wrong with a figure, or how it stands against what is held."""
    faults = [str(fault) for fault in item.errors]
    return " ".join([*faults, *([str(item.told)] if item.told is not None else [])])


def _counted(items: Sequence[ReceiptItem]) -> str:
    counts: dict[str, int] = {}
    for one in items:
        counts[one.state] = counts.get(one.state, 0) + 1
    return ", ".join(f"{count} {state}" for state, count in counts.items()) or "nothing"


def receipt(found: Receipt) -> str:
    """Write what became of a submission, a row a figure."""
    items = list(found)
    what = "Checked, nothing written" if found.dry_run else f"Submission {found.submission or '-'}"
    if found.replayed:
        what = f"Handed in before. {what}"
    rows = [
        [place, one.value, one.state, one.version, _said(one)]
        for place, one in enumerate(items, start=1)
    ]
    after: list[tuple[str, object]] = [
        ("measured body", found.specimen),
        ("new sources", listed(found.sources)),
        ("compared at revision", found.revision),
    ]
    return blocks(
        heading(f"{what}: {_counted(items)}"),
        table(["figure", "value", "state", "version", "told"], rows),
        lines(after),
        wrapped(_PENDING) if any(one.state == "pending" for one in items) else "",
    )


def table_report(found: TableReport) -> str:
    """Write what became of a file, a row a line."""
    items = list(found)
    what = "Written" if found.written else "Checked, nothing written"
    rows = [
        [one.line, one.value, one.state, _said(one).replace(f"#/{one.line}/", "")] for one in items
    ]
    receipt = found.receipt
    return blocks(
        heading(f"{what}: {_counted(items)}"),
        "\n".join(wrapped(str(fault)) for fault in found.errors),
        table(["line", "value", "state", "told"], rows) if rows else "",
        lines([("submission", None if receipt is None else receipt.submission)]),
        wrapped(_PENDING) if found.written else "",
    )


def refused_rows(error: ProblemError) -> str:
    """Write the faults of a refused file by line and column; empty where it has none."""
    rows = []
    for fault in error.errors:
        place = str(fault.get("pointer") or "").removeprefix("#").strip("/")
        line, _, column = place.partition("/")
        if not line.isdigit():
            return ""
        near = listed(fault.get("nearest") or ())
        hint = f"; did you mean {near}?" if near else ""
        rows.append([int(line), column, f"{fault.get('detail')}{hint}"])
    return table(["line", "column", "what is wrong"], rows) if rows else ""


def entries(found: Sequence[Entry]) -> str:
    """Write contributed values, a row each."""
    rows = [
        [
            one.id,
            one.state,
            one.version,
            f"{one.submitted_at:%Y-%m-%d}",
            f"{one.value.material} {words(one.value.property)}: {one.value.printed}",
        ]
        for one in found
    ]
    head = ["value", "state", "version", "handed in", "what"]
    return blocks(table(head, rows) if rows else "", f"{len(rows)} in all")


def _proposed(proposed: Mapping[str, Any]) -> str:
    return listed(words(name) for name, one in proposed.items() if one)


def entry(found: Entry) -> str:
    """Write a contributed value with its review."""
    value = found.value
    measured = None if found.measured_by is None else found.measured_by.get("name")
    about: list[tuple[str, object]] = [
        ("as printed", value.printed),
        ("temperature", value.temperature),
        ("holds for", value.condition),
        ("method", value.method),
        ("source", value.source or f"basis {value.basis}"),
        ("locator", value.locator),
        ("state", f"{found.state}, version {found.version}"),
        ("may be done", listed(found.acts)),
        ("handed in", f"{found.submitted_at:%Y-%m-%d} by {found.submitted_by or 'one erased'}"),
        ("measured by", measured),
        ("proposed with it", _proposed(found.proposed)),
        ("told", found.told),
        *(("said", remark) for remark in found.remarks),
    ]
    title = f"{value.id}: {value.material}, {words(value.property)}, {value.range}"
    return blocks(heading(title), lines(about))
