"""Contributing many values at once: a CSV file, or rows pasted from a spreadsheet.

The file is checked first and its rows stand in the form again, so that handing in needs no second
choosing of the file, and a row at fault can be mended where it stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from flask import request
from werkzeug.wrappers import Response as BaseResponse

from hotface_api.http import contribution_dumps as dumps
from hotface_api.http.context import service
from hotface_api.ledger.bulk import BulkDraft, BulkReport, columns, submit_csv
from hotface_api.ledger.canonical import digest
from hotface_api.ledger.drafts import OwnMeasurement
from hotface_api.ledger.errors import ConflictError, InvalidError
from hotface_api.ledger.prepare import LICENCES
from hotface_api.site import valueform
from hotface_api.site.acting import Desk, as_typed
from hotface_api.site.forms import Form
from hotface_api.site.serving import Showing
from hotface_api.site.views.submit import form_key, nonce_of, pointed

__all__ = ["contribute_table"]

Shape = dict[str, Any]
_UNUSABLE: Final = 422
_CONFLICT: Final = 409
_SHOWN: Final = 300
"""Rows of a report shown; those at fault come first."""
LABELS: Final[Mapping[str, str]] = {
    **{name: valueform.LABELS[name] for name in ("own_specimen", "own_instrument", "own_date")},
    "licence": valueform.LABELS["licence"],
    "file": "CSV file",
    "table": "Or its rows, pasted",
    "sources": "Sources named in it that are not held, as a CSL-JSON list",
}


def _page(desk: Desk, status: int = 200, **found: Any) -> Showing:
    shown: Shape = {
        "form": desk.form,
        "labels": LABELS,
        "licences": tuple((name, name) for name in LICENCES),
        "columns": columns(),
        "nonce": nonce_of(desk.form),
        "checked": "",
        "report": None,
        "rows": (),
        "changed": False,
        "counts": {},
        **found,
    }
    return Showing("table.html", shown, status=status)


def _data(desk: Desk) -> bytes:
    """Give the rows: of the file, which then stand in the form, or as they stand there."""
    file = request.files.get("file")
    data = b"" if file is None else file.read()
    if not data:
        return desk.form.text("table").encode()
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n").strip()
    except UnicodeDecodeError:
        return data  # the ledger says which byte is wrong; it cannot stand in the form
    desk.form = Form({**desk.form.typed, "table": as_typed(text)})
    return text.encode() if as_typed(text) == text else data


def _sources(form: Form) -> list[Mapping[str, Any]]:
    if not form.text("sources"):
        return []
    found = valueform.json_of(form, "sources")
    if isinstance(found, dict):
        found = [found]
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
        form.fault("sources", "this is no JSON list of CSL items: [{...}, ...]")
        return []
    return found


def _own(form: Form) -> OwnMeasurement | None:
    typed = [form.text(name) for name in ("own_specimen", "own_instrument", "own_date")]
    if not any(typed):
        return None
    try:
        day = date.fromisoformat(typed[2])
    except ValueError:
        form.fault("own_date", "give the day, such as 2026-11-20")
        return None
    return OwnMeasurement(typed[0], typed[1], day)


def contribute_table(desk: Desk) -> Showing | BaseResponse:
    """Show the form; checked, with a report a row; handed in, what was written."""
    if not desk.acts:
        return _page(desk)
    data = _data(desk)
    form = desk.form
    if not data:
        form.fault("file", "choose a CSV file, or paste its rows below")
    if not form.text("licence"):
        form.fault("licence", "choose the licence you give them under")
    draft = BulkDraft(
        data=data, licence=form.text("licence"), sources=_sources(form), own=_own(form)
    )
    if form.faults:
        return _page(desk, _UNUSABLE)
    try:
        return _checked(desk, draft)
    except InvalidError as error:
        for pointer, message in pointed(error):
            form.fault(_field(pointer), f"{pointer.lstrip('#/')}: {message}".removeprefix(": "))
        return _page(desk, _UNUSABLE)
    except ConflictError as error:
        form.fault("table", error.message)
        return _page(desk, _CONFLICT)


def _field(pointer: str) -> str:
    plain = pointer.lstrip("#")
    if plain.startswith("/licence"):
        return "licence"
    return "table"


def _checked(desk: Desk, draft: BulkDraft) -> Showing:
    """Hand in what was checked as it stands; report on anything else."""
    form, ledger, actor = desk.form, service().ledger, desk.visitor.actor
    said = digest([draft.data.decode(errors="replace"), form.text("sources"), *_about(form)])
    wanted = form.text("act") == "submit"
    writes = wanted and form.text("checked") == said
    key = form_key(form, said) if writes else None
    report = submit_csv(ledger, actor, draft, dry_run=not writes, idempotency=key)
    document = dumps.table_report(desk.page.asked, report, dry_run=not writes)
    return _page(
        desk,
        200 if report.good else _UNUSABLE,
        report=document,
        rows=_listed(document),
        checked=said if report.good and not report.written else "",
        changed=wanted and not writes,
        counts=_counts(report),
    )


def _about(form: Form) -> list[str]:
    return [form.text(name) for name in ("licence", "own_specimen", "own_instrument", "own_date")]


def _listed(document: Shape) -> list[Shape]:
    """Give the rows to show: those at fault, then the rest, as many as a page holds."""
    rows = sorted(document["rows"], key=lambda row: (not row["errors"], row["line"]))
    return rows[:_SHOWN]


def _counts(report: BulkReport) -> dict[str, int]:
    found: dict[str, int] = {}
    for row in report.rows:
        found[row.item.state] = found.get(row.item.state, 0) + 1
    return found
