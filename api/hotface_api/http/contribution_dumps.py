"""Contributions as JSON: receipts, what is told of a figure, entries, standings, keys."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from hotface.units import UNITS
from hotface_api.catalogue.ranges import scale_of
from hotface_api.http import shapes
from hotface_api.http.context import Asked, service
from hotface_api.http.quantities import significant
from hotface_api.ledger.bulk import BulkReport, RowReport
from hotface_api.ledger.canonical import as_utc
from hotface_api.ledger.compare import Told
from hotface_api.ledger.errors import Fault
from hotface_api.ledger.keys import KeyCard
from hotface_api.ledger.reading import Entry
from hotface_api.ledger.review import Standing, Standings
from hotface_api.ledger.states import ROW_STATUS
from hotface_api.ledger.submit import ItemReceipt, Receipt
from hotface_api.ledger.wording import words_in

__all__ = [
    "entry",
    "fault",
    "key_card",
    "knowing",
    "receipt",
    "standing",
    "standings",
    "table_report",
    "told",
]

Shape = dict[str, Any]


def _moment(moment: datetime | None) -> str | None:
    if moment is None:
        return None
    return as_utc(moment).isoformat(timespec="seconds").replace("+00:00", "Z")


def _finite(number: float | None) -> float | None:
    return None if number is None or not math.isfinite(number) else significant(number)


def fault(found: Fault) -> Shape:
    """Write one fault: what, where in the body, and what may be meant."""
    shape: Shape = {"detail": found.message, "pointer": f"#{found.pointer}"}
    if found.nearest:
        shape["nearest"] = list(found.nearest)
    return shape


def knowing(asked: Asked, property_: str) -> Asked:
    """Give the data as they stood when a property was last defined.

    A newer package may have dropped it under a value that still waits, or an answer kept.
    """
    number = asked.revision
    while property_ not in asked.reference.properties and number > 1:
        number -= 1
        asked = replace(asked, reference=service().references.at(number, asked.revision))
    return asked


def told(asked: Asked, found: Told | None) -> Shape | None:
    """Write how a figure stands against what is held, in the units asked for."""
    if found is None:
        return None
    row = knowing(asked, found.property).reference.properties[found.property]
    number, code = asked.output.writer(row)
    unit = UNITS[code]
    interval = None
    if found.position != "not compared":
        interval = {
            "low": number(found.low),
            "typical": number(found.typical),
            "high": number(found.high),
            "unit": code,
            "kind": "interval",
            "coverage": found.coverage,
        }
    beyond = found.beyond
    if beyond is not None and not scale_of(row).logarithmic:
        beyond = beyond / unit.factor  # a distance, so that no offset counts
    return {
        "position": found.position,
        "interval": interval,
        "beyond": _finite(beyond),
        "z": _finite(found.z),
        "origins": found.origins,
        "agreements": [
            {"value": each.value, "e_n": _finite(each.e_n), "agrees": each.agrees}
            for each in found.agreements
        ],
        "known_origin": list(found.known_origin),
        "same_figure": list(found.same_figure),
        "slips": [
            {
                "unit": slip.unit,
                "factor": _finite(slip.factor),
                "would_be": {"value": number(slip.would_be), "unit": code},
                "words": slip.words,
            }
            for slip in found.slips
        ],
        "words": list(words_in(found, row, unit)),
    }


def _outcome(asked: Asked, item: ItemReceipt) -> Shape:
    return {
        "value": item.value,
        "state": item.state,
        "version": item.version,
        "told": told(asked, item.told),
        "errors": [fault(each) for each in item.faults],
    }


def _receipt(found: Receipt, *, dry_run: bool) -> Shape:
    return {
        "submission": found.submission,
        "made_at": _moment(found.made_at),
        "revision": found.revision,
        "contributor": found.contributor,
        "specimen": found.specimen,
        "sources": list(found.sources),
        "dry_run": dry_run,
        "replayed": found.replayed,
    }


def receipt(asked: Asked, found: Receipt, *, dry_run: bool = False) -> Shape:
    """Write what became of a submission."""
    items = [_outcome(asked, item) for item in found.items]
    return {**_receipt(found, dry_run=dry_run), "items": items}


def table_report(asked: Asked, found: BulkReport, *, dry_run: bool) -> Shape:
    """Write what became of a file, row by row."""
    return {
        "written": found.written,
        "dry_run": dry_run,
        "good": found.good,
        "receipt": None if found.receipt is None else _receipt(found.receipt, dry_run=dry_run),
        "rows": [_row(asked, row) for row in found.rows],
        "errors": [fault(each) for each in found.faults],
    }


def _row(asked: Asked, row: RowReport) -> Shape:
    return {"line": row.line, **_outcome(asked, row.item)}


def standing(found: Standing) -> Shape:
    """Write where a value stands after an act."""
    return {
        "value": found.value,
        "state": found.state,
        "version": found.version,
        "revision": found.revision,
        "replayed": found.replayed,
    }


def standings(found: Standings) -> Shape:
    """Write where several values stand after one act."""
    items = [{**standing(each), "replayed": found.replayed} for each in found.items]
    return {"items": items, "revision": found.revision, "replayed": found.replayed}


def key_card(found: KeyCard) -> Shape:
    """Write a key as its holder sees it."""
    return {
        "contributor": found.contributor,
        "role": found.role,
        "prefix": found.prefix,
        "label": found.label,
        "made_at": _moment(found.made_at),
        "expires_at": _moment(found.expires_at),
        "last_used_at": _moment(found.last_used_at),
    }


def _value(asked: Asked, found: Entry) -> Shape:
    """Write the value as served, with the status and source type it has while it waits."""
    shape = shapes.value(asked, found.row)
    shape["status"] = ROW_STATUS[found.state]
    proposed = found.proposed.get("sources", {}).get(found.row["source"])
    if shape["source_type"] is None and proposed is not None:
        shape["source_type"] = proposed[0]["source_type"]
    return shape


def _proposed(asked: Asked, found: Entry) -> Shape:
    """Write what was proposed with a value and it needs: sources, a material, a specimen."""
    row, proposed = found.row, found.proposed
    specimen = proposed.get("specimen")
    if specimen is not None and specimen["id"] != row["specimen"]:
        specimen = None
    material = proposed.get("material")
    cited: Sequence[Any] = (
        row["source"],
        row["quoted_in"],
        None if specimen is None else specimen["source"],
    )
    held: Mapping[str, Any] = proposed.get("sources", {})
    recipe = proposed.get("constituents") or ()
    return {
        "sources": [shapes.source(held[key][0]) for key in dict.fromkeys(cited) if key in held],
        "material": None if material is None else shapes.material(material),
        "specimen": None if specimen is None else shapes.specimen(asked, specimen, recipe),
    }


def entry(asked: Asked, found: Entry) -> Shape:
    """Write a contributed value as its owner and curators see it."""
    asked = knowing(asked, found.row["property"])
    named = found.measured_by
    return {
        "value": _value(asked, found),
        "state": found.state,
        "acts": list(found.acts),
        "version": found.row["version"],
        "submission": found.submission,
        "submitted_at": _moment(found.submitted_at),
        "contributor": found.row["contributor"],
        "submitted_by": found.submitted_by,
        "measured_by": None if named is None else {"name": named[0], "orcid": named[1]},
        "proposed": _proposed(asked, found),
        "remarks": [
            {
                "at": _moment(remark.at),
                "author": remark.author,
                "act": remark.act,
                "text": remark.text,
            }
            for remark in found.remarks
        ],
        "told": told(asked, found.told),
    }
