"""Contributions: submitting, seeing what is one's own or waits, and what the contributor may do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from flask import Response, request
from marshmallow import fields

from hotface_api.http import contribution_dumps as dumps
from hotface_api.http.callers import known_caller
from hotface_api.http.conditional import private_answer
from hotface_api.http.context import ask, raw_body, service
from hotface_api.http.contribution_reading import (
    in_body,
    read_correction,
    read_submission,
    receipt_places,
)
from hotface_api.http.contribution_schemas import (
    CorrectionBody,
    SpecimenSubmissionBody,
    SubmissionBody,
)
from hotface_api.http.contribution_shapes import (
    ContributionShape,
    ContributionsPage,
    ReceiptShape,
    TableReportShape,
)
from hotface_api.http.contribution_tables import DESCRIBED, is_table, read_table
from hotface_api.http.operations import Topic, changes, path_id, reads
from hotface_api.http.paging import link, page_of
from hotface_api.http.parameters import Choice, Flag, UnitsQuery, Whole, parameter_problem
from hotface_api.http.preconditions import expected_version, idempotency, version_tag
from hotface_api.http.rates import spend
from hotface_api.http.reader import Reader
from hotface_api.ledger import reading
from hotface_api.ledger.bulk import BulkReport, submit_csv
from hotface_api.ledger.correct import correct
from hotface_api.ledger.errors import Fault, InvalidError
from hotface_api.ledger.rates import WEIGHTS
from hotface_api.ledger.submit import Receipt, preview, submit
from hotface_api.store.ledger_models import STATES

__all__ = ["topic"]

topic = Topic(
    "contributions",
    __name__,
    url_prefix="/v1",
    description="Measured and cited figures handed in, and their review.",
)
_DRY_RUN: Final = "Check and compare only; write nothing."
_OF_FILES: Final = "Of a `text/csv` body: "
_MEASURED: Final = {
    "material": "expanded-perlite",
    "property": "loose_bulk_density",
    "printed": {"typical": "110", "unit": "kg/m3"},
    "temperature": "20 Cel",
    "condition": {"form": "heap", "fill": "poured"},
    "method": "jug filled by pouring from 10 cm, struck off, weighed five times",
    "uncertainty": {"standard": "4", "kind": "A", "n": 5},
}
_EXAMPLE: Final = {
    "licence": "CC-BY-4.0",
    "source": {
        "own_measurement": {
            "specimen": "two litres of perlite from the pottery club's bag",
            "instrument": "kitchen scale 1 g, measuring jug 2 L",
            "date": "2026-11-20",
        }
    },
    "values": [_MEASURED],
}
_BODY_EXAMPLE: Final = {
    "licence": "CC0-1.0",
    "source": {
        "own_measurement": {
            "specimen": "offcut of the lid of the pottery club's wood kiln",
            "instrument": "scale 1 g, calliper 0.1 mm",
            "date": "2026-11-21",
        }
    },
    "material": {
        "id": "perlite-lid",
        "name": "Perlite lid concrete",
        "kind": "body",
        "description": "Calcium aluminate cement with expanded perlite.",
    },
    "specimen": {
        "material": "perlite-lid",
        "name": "Lid of the small wood kiln",
        "constituents": [
            {"material": "cac-40", "part": "binder", "mass_percent": 45},
            {"material": "expanded-perlite", "part": "aggregate", "mass_percent": 55},
        ],
        "state": "fired",
        "treatment_temperature": {"value": 1000, "unit": "Cel"},
    },
    "values": [
        {
            "material": "perlite-lid",
            "property": "bulk_density",
            "printed": {"typical": "780", "unit": "kg/m3"},
            "condition": {"form": "body", "state": "fired"},
            "uncertainty": {"half_width": "15", "distribution": "rectangular"},
        }
    ],
}
_CORRECTION_EXAMPLE: Final = {
    "reason": "the tare of the jug was counted in",
    "value": {**_MEASURED, "printed": {"typical": "108", "unit": "kg/m3"}},
}


class SpecimensSubmitQuery(UnitsQuery):
    """How a submission is taken."""

    dry_run = Flag(load_default=False, metadata={"description": _DRY_RUN})


class SubmitQuery(SpecimensSubmitQuery):
    """How a submission of values is taken."""

    partial_ = Flag(
        load_default=False,
        data_key="partial",
        metadata={"description": "Write the good values and report the others. JSON bodies only."},
    )
    licence = fields.String(metadata={"description": f"{_OF_FILES}the licence of every row."})
    specimen = fields.String(metadata={"description": f"{_OF_FILES}what was measured."})
    instrument = fields.String(metadata={"description": f"{_OF_FILES}what it was measured with."})
    date = fields.String(metadata={"description": f"{_OF_FILES}the day it was measured."})


def _received(
    query: Mapping[str, Any], receipt: Receipt, *, dry_run: bool, fresh: bool
) -> Response:
    """Answer with a receipt: 201 where this very request wrote something."""
    made = fresh and not receipt.replayed and receipt.submission is not None
    headers = {"Idempotent-Replayed": "true"} if receipt.replayed else {}
    values = [item for item in receipt.items if item.value is not None]
    if made and len(values) == 1:
        headers["Location"] = f"{request.script_root}/v1/contributions/{values[0].value}"
        headers["ETag"] = version_tag(values[0].version or 1)
    document = dumps.receipt(ask(query), receipt, dry_run=dry_run)
    return private_answer(document, 201 if made else 200, headers)


def _submit(query: Mapping[str, Any], body: Mapping[str, Any], *, specimen: bool) -> Response:
    actor, ledger = known_caller(), service().ledger
    key = idempotency()
    draft = read_submission(body, specimen=specimen)
    with in_body(body):
        if query["dry_run"]:
            receipt = preview(ledger, actor, draft)
        else:
            partial = bool(query.get("partial_"))
            receipt = submit(ledger, actor, draft, partial=partial, idempotency=key)
    receipt = receipt_places(body, receipt)
    return _received(query, receipt, dry_run=query["dry_run"], fresh=not query["dry_run"])


def _submit_table(query: Mapping[str, Any]) -> Response:
    actor, ledger = known_caller(), service().ledger
    if query["partial_"]:
        raise parameter_problem("partial", "a file is taken whole or not at all")
    draft, dry_run = read_table(request, query)
    spend(WEIGHTS["bulk"] - WEIGHTS["submit"])
    key = None if dry_run else idempotency()
    report = submit_csv(ledger, actor, draft, dry_run=dry_run, idempotency=key)
    if not (report.good or dry_run):
        raise InvalidError(_all_faults(report))
    replayed = report.receipt is not None and report.receipt.replayed
    headers = {"Idempotent-Replayed": "true"} if replayed else {}
    made = report.receipt is not None and report.receipt.submission is not None and not replayed
    document = dumps.table_report(ask(query), report, dry_run=dry_run)
    return private_answer(document, 201 if made else 200, headers)


def _all_faults(report: BulkReport) -> list[Fault]:
    return [*report.faults, *(fault for row in report.rows for fault in row.item.faults)]


_JSON: Final = Reader(SubmissionBody)
_FILE_ONLY: Final = ("licence", "specimen", "instrument", "date")


@changes(
    topic,
    "/values",
    SubmitQuery,
    SubmissionBody,
    {"anyOf": [ReceiptShape, TableReportShape]},
    summary="Submit values",
    description="Hand in figures with their sources, all or nothing unless `partial`. They wait for"
    " a curator and change no answer until accepted. The answer tells at once how each stands"
    " against what is held: inside or outside and by how much, a known origin again, a unit slip"
    " suspected. Nothing is refused for being unusual, only for being impossible or untraceable."
    " As `text/csv` or `multipart/form-data` a whole file is taken, in the columns of the data"
    " package's values.",
    asks=_EXAMPLE,
    weight="submit",
    creates=True,
    read="nothing",
    also=DESCRIBED,
)
def post_values(query: dict[str, Any]) -> Response:
    """Take values, as JSON or as a file."""
    if is_table(request):
        return _submit_table(query)
    for name in _FILE_ONLY:
        if query.get(name) is not None:
            raise parameter_problem(name, "goes with a text/csv body; JSON says it in the body")
    return _submit(query, _JSON.sent(request), specimen=False)


@changes(
    topic,
    "/specimens",
    SpecimensSubmitQuery,
    SpecimenSubmissionBody,
    ReceiptShape,
    summary="Submit a measured body",
    description="Hand in a specimen with its recipe and what was measured on it, all or nothing. A"
    " material that is not held yet can be proposed with it.",
    asks=_BODY_EXAMPLE,
    weight="submit",
    creates=True,
    read="sent",
)
def post_specimens(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Take a specimen with its values."""
    return _submit(query, body, specimen=True)


class ContributionsQuery(UnitsQuery):
    """Which contributions, and how many."""

    state = Choice(
        STATES, metadata={"description": "Only those in this state.", "example": "asked"}
    )
    mine = Flag(
        metadata={
            "description": "The caller's own; what a contributor gets in any case. A curator gets"
            " what waits for review unless this is true."
        }
    )
    limit = Whole(
        1,
        load_default=50,
        metadata={"description": "How many items a page holds; more than 200 counts as 200."},
    )
    cursor = fields.String(
        metadata={"description": "Where to go on, from `next` of the page before; opaque."}
    )


@reads(
    topic,
    "/contributions",
    ContributionsQuery,
    ContributionsPage,
    summary="List contributions",
    description="A contributor's own in any state; for curators what waits for review, pending and"
    " asked. Oldest first.",
    statuses=(403,),
    keyed=True,
)
def list_contributions(query: dict[str, Any]) -> Response:
    """List contributions."""
    actor, ledger = known_caller(), service().ledger
    asked, page = ask(query), page_of(None, query)
    own = query.get("mine", not actor.is_curator)
    listed = (reading.mine if own else reading.queue)(
        ledger, actor, state=query.get("state"), after=page.after, limit=page.limit
    )
    following = None if listed.after is None else page.address(listed.after)
    items = [dumps.entry(asked, each) for each in listed.items]
    return private_answer({"items": items, "next": following}, headers=link(following))


@reads(
    topic,
    "/contributions/<id>",
    UnitsQuery,
    ContributionShape,
    summary="One contribution",
    description="A contributed value with what was said of it; while it waits also how it stands"
    " against what is held now. Only its contributor and curators learn that it exists. The entity"
    " tag is its version, which every act names in `If-Match`.",
    path=(path_id("Value id.", "c-7k2m9x4q1tzb"),),
    statuses=(404,),
    keyed=True,
    headers={"ETag": {"schema": {"type": "string"}, "description": "Its version, in quotes."}},
)
def get_contribution(query: dict[str, Any], id: str) -> Response:  # noqa: A002 - the public name
    """Show a contribution."""
    found = reading.view(service().ledger, known_caller(), id.replace("\x00", "\ufffd"))
    headers = {"ETag": version_tag(found.row["version"])}
    return private_answer(dumps.entry(ask(query), found), headers=headers)


@changes(
    topic,
    "/values/<id>/correction",
    UnitsQuery,
    CorrectionBody,
    ReceiptShape,
    summary="Correct a value",
    description="Hand in a new value in place of one's own. A waiting value is replaced at once; an"
    " accepted one is served until its correction is accepted. Neither is ever rewritten.",
    asks=_CORRECTION_EXAMPLE,
    weight="submit",
    path=(path_id("Value id.", "c-7k2m9x4q1tzb"),),
    creates=True,
    versioned=True,
    read="sent",
)
def post_correction(query: dict[str, Any], body: dict[str, Any], id: str) -> Response:  # noqa: A002
    """Take a correction."""
    version, key = expected_version(), idempotency()
    draft, reason = read_correction(raw_body())
    with in_body(body, "/value"):
        receipt = correct(
            service().ledger,
            known_caller(),
            id.replace("\x00", "\ufffd"),
            draft,
            reason,
            version=version,
            idempotency=key,
        )
    return _received(query, receipt, dry_run=False, fresh=True)
