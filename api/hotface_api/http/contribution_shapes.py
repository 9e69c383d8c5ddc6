"""The documented answers about contributions."""

from __future__ import annotations

from typing import Final

import marshmallow as ma
from marshmallow import fields

from hotface_api.http.documented import flag, integer, listed, nested, number, strings, text, word
from hotface_api.http.schemas import (
    MaterialItem,
    QuantityShape,
    RangeShape,
    SourceItem,
    SpecimenItem,
    ValueItem,
)
from hotface_api.store.ledger_models import ACTS, ROLES, STATES

__all__ = [
    "ContributionShape",
    "ContributionsPage",
    "KeyShape",
    "ReceiptShape",
    "StandingShape",
    "StandingsShape",
    "TableReportShape",
]

ITEM_STATES: Final = ("pending", "refused", "held", "checked")
POSITIONS: Final = ("inside", "outside", "not compared")


def _moment(description: str, *, null: bool = False) -> fields.DateTime:
    return fields.DateTime(
        required=True, allow_none=null, metadata={"description": f"{description} RFC 3339, UTC."}
    )


class KeyShape(ma.Schema):
    """The key of the caller."""

    contributor = text("Id of whose key it is.")
    role = word(ROLES)
    prefix = text("The part of the key that may be shown.")
    label = text("What it is for.")
    made_at = _moment("When it was made.")
    expires_at = _moment("When it ends; null for never.", null=True)
    last_used_at = _moment("When it was last used, to a quarter of an hour.", null=True)


class AgreementShape(ma.Schema):
    """How the figure agrees with one held value, where both state an uncertainty."""

    value = text("Id of the held value.")
    e_n = number("E_n: difference over the expanded uncertainties of both.")
    agrees = flag("Whether E_n is at most 1.")


class SlipShape(ma.Schema):
    """A reading of the figure that would fit."""

    unit = text("Unit it may really be in; null for another slip.", null=True)
    factor = number("What it would have to be multiplied by.")
    would_be = nested(QuantityShape)
    words = text()


class ToldShape(ma.Schema):
    """How a figure stands against what is held; nothing is refused for it."""

    position = word(POSITIONS)
    interval = nested(RangeShape, "Where a further origin is expected.", null=True)
    beyond = number("How far outside: a ratio on a logarithmic scale, else a distance.")
    z = number("Robust score against the origins held.")
    origins = integer("Origins compared with.")
    agreements = listed(AgreementShape)
    known_origin = strings("Held values of the same origin: no independent vote.")
    same_figure = strings("Held values of other origins with exactly this figure.")
    slips = listed(SlipShape, "Unit slips suspected.")
    words = strings("All of it in sentences.")


class ItemFaultShape(ma.Schema):
    """One thing wrong with a value."""

    detail = text()
    pointer = text("JSON pointer into the body; of a file, line and column.")
    nearest = fields.List(fields.String(), metadata={"description": "What may be meant."})


class OutcomeShape(ma.Schema):
    """What became of one value."""

    value = text("Its id; null where nothing was written.", null=True)
    state = word(ITEM_STATES)
    version = integer("Row version, for `If-Match`.", null=True)
    told = nested(ToldShape, null=True)
    errors = listed(ItemFaultShape)


class SubmissionShape(ma.Schema):
    """One act of submitting."""

    submission = text("Its id; null where nothing was written.", null=True)
    made_at = _moment("When.")
    revision = integer("Revision of the data it was compared with; submitting makes none.")
    contributor = text()
    specimen = text("Id of the specimen that came with it.", null=True)
    sources = strings("Ids of the sources that came with it.")
    dry_run = flag()
    replayed = flag("Whether this was answered before, under the same idempotency key.")


class ReceiptShape(SubmissionShape):
    """What became of a submission, value by value."""

    items = listed(OutcomeShape)


class RowOutcomeShape(OutcomeShape):
    """What became of one row of a file."""

    line = integer("Line of the file; the header is line 1.")


class TableReportShape(ma.Schema):
    """What became of a file, row by row."""

    written = flag()
    dry_run = flag()
    good = flag("Whether every row could be submitted.")
    receipt = nested(SubmissionShape, null=True)
    rows = listed(RowOutcomeShape)
    errors = listed(ItemFaultShape)


class MeasuredByShape(ma.Schema):
    """Who measured."""

    name = text()
    orcid = text(null=True)


class ProposedShape(ma.Schema):
    """What came with a value and opens with its acceptance."""

    sources = listed(SourceItem)
    material = nested(MaterialItem, null=True)
    specimen = nested(SpecimenItem, null=True)


class RemarkShape(ma.Schema):
    """One thing said in a review."""

    at = _moment("When.")
    author = text("Contributor id.")
    act = word(ACTS)
    text = text("Null once erased.", null=True)


class ContributionShape(ma.Schema):
    """A contributed value as its owner and curators see it."""

    value = nested(ValueItem)
    state = word(STATES)
    acts = strings("What may be done in this state, by whoever may do it.")
    version = integer("Row version; the entity tag of the contribution.")
    submission = text()
    submitted_at = _moment("When.")
    contributor = text()
    submitted_by = text("Name behind the key; null once erased.", null=True)
    measured_by = nested(MeasuredByShape, "Who measured, if named.", null=True)
    proposed = nested(ProposedShape)
    remarks = listed(RemarkShape)
    told = nested(
        ToldShape, "Against what is held now; while it waits, and not in lists.", null=True
    )


class ContributionsPage(ma.Schema):
    """A page of contributions, oldest first."""

    items = listed(ContributionShape)
    next = text("Address of the next page; null on the last.", null=True)


class StandingShape(ma.Schema):
    """Where a value stands after an act."""

    value = text()
    state = word(STATES)
    version = integer("Row version now.")
    revision = integer("Revision this made; null if none.", null=True)
    replayed = flag("Whether this was answered before, under the same idempotency key.")


class StandingsShape(ma.Schema):
    """Where several values stand after one act."""

    items = listed(StandingShape)
    revision = integer("Revision this made; null if none.", null=True)
    replayed = flag()
