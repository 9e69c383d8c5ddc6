"""The whole data set to carry away: one Data Package at a revision."""

from __future__ import annotations

import io
from typing import Any, Final

from flask import Response

from hotface_api.http import bibtex
from hotface_api.http.conditional import answer_text
from hotface_api.http.context import ask, service
from hotface_api.http.operations import Topic, reads
from hotface_api.http.parameters import DatedQuery
from hotface_api.http.rates import spend
from hotface_api.ledger.rates import WEIGHTS
from hotface_api.load.export import export

__all__ = ["ZIP", "topic"]

ZIP: Final = "application/zip"
topic = Topic("carry", __name__, url_prefix="/v1", description="The whole data set to carry away.")
_BYTES: Final = {"type": "string", "format": "binary", "description": "A Data Package as a zip."}


@reads(
    topic,
    "/export",
    DatedQuery,
    _BYTES,
    media=ZIP,
    summary="The whole data set",
    description="Everything served at a revision as one Data Package in a zip: a CSV file a table,"
    " the sources as CSL-JSON and BibTeX, and the schema that checks them. Loading it into an empty"
    " database gives the same data again. Texts of contributors that a spreadsheet would run as a"
    " formula have a quote before them; loading takes it off.",
)
def get_export(query: dict[str, Any]) -> Response:
    """Give the data set as a zip."""
    spend(WEIGHTS["bulk"] - WEIGHTS["read"])
    asked = ask(query)
    held = io.BytesIO()
    export(service().database, asked.revision, held, bibtex.entries)
    name = f"hotface-revision-{asked.revision}.zip"
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return answer_text(asked, held.getvalue(), disposition, keep=False)
