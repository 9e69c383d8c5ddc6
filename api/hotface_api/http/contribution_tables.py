"""Files of contributed values: CSV as the body, or as a part of a form with what goes with it."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from typing import Any, Final

import marshmallow as ma
from flask import Request, g
from werkzeug.datastructures import FileStorage, MultiDict
from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.formparser import FormDataParser

from hotface_api.http.body import check_encoding, parse_object, read_bytes
from hotface_api.http.codes import Code
from hotface_api.http.contribution_fields import own_measurement
from hotface_api.http.problems import Problem, nearest
from hotface_api.ledger.bulk import MAX_BYTES, BulkDraft
from hotface_api.ledger.drafts import OwnMeasurement
from hotface_api.ledger.prepare import LICENCES

__all__ = ["CSV", "DESCRIBED", "FORM", "is_table", "read_table"]

CSV: Final = "text/csv"
FORM: Final = "multipart/form-data"
DESCRIBED: Final[Mapping[str, Any]] = {
    CSV: {
        "schema": {
            "type": "string",
            "description": "UTF-8, in columns of the data package's values, any of them in any"
            " order; material, property and unit are needed. The licence, and of own measurements"
            " specimen, instrument and date, stand in the query.",
        },
        "example": "material,property,printed_typical,unit,form,basis\n"
        "expanded-perlite,loose_bulk_density,110,kg/m3,heap,measured\n",
    },
    FORM: {
        "schema": {
            "type": "object",
            "properties": {
                "values": {
                    "type": "string",
                    "contentMediaType": CSV,
                    "description": "The file.",
                },
                "licence": {"type": "string", "enum": list(LICENCES)},
                "sources": {
                    "type": "string",
                    "contentMediaType": "application/json",
                    "description": "A list of CSL-JSON items, whose ids the file's columns source"
                    " and quoted_in may name.",
                },
                "own_measurement": {
                    "type": "string",
                    "contentMediaType": "application/json",
                    "description": "`{specimen, instrument, date}` of the rows measured oneself.",
                },
                "dry_run": {"type": "string", "enum": ["true", "false"]},
            },
            "required": ["values", "licence"],
            "additionalProperties": False,
        }
    },
}
"""The media types of files, as the document tells them."""
PARTS: Final = ("values", "licence", "sources", "own_measurement", "dry_run")
_OWN: Final = ("specimen", "instrument", "date")
_ROOM: Final = 1024 * 1024
"""What the other parts of a form and its borders may take beside the file."""
_MOST_SOURCES: Final = 500


def is_table(request: Request) -> bool:
    """Tell whether the body of a request is a file of values."""
    return request.mimetype in (CSV, FORM)


def read_table(request: Request, query: Mapping[str, Any]) -> tuple[BulkDraft, bool]:
    """Read a file of values and what its rows share.

    Returns
    -------
    BulkDraft
    bool
        Whether it is a dry run.

    Raises
    ------
    Problem
        For a body or a part of one that cannot be read.
    """
    check_encoding(request)
    if request.mimetype == CSV:
        return _read_csv(request, query)
    for name in ("licence", *_OWN):
        if query.get(name) is not None:
            raise _bad_part(name, f"{name} is a part of the form here, not of the address")
    return _read_form(request, dry_run=bool(query["dry_run"]))


def _read_csv(request: Request, query: Mapping[str, Any]) -> tuple[BulkDraft, bool]:
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if charset not in ("utf-8", "utf8"):
        raise Problem(
            Code.UNSUPPORTED_MEDIA_TYPE, f"send the file as UTF-8; its type says {charset[:40]}"
        )
    g.sent = read_bytes(request, MAX_BYTES)
    own = {name: query[name] for name in _OWN if query.get(name) is not None}
    measured = _own(own, "") if own else None
    return _draft(g.sent, query.get("licence"), (), measured), bool(query["dry_run"])


def _bad_part(name: str, detail: str, place: str | None = None) -> Problem:
    pointer = f"#/{name}" if place is None else place
    return Problem(Code.INVALID_BODY, detail, errors=[{"detail": detail, "pointer": pointer}])


def _draft(data: bytes, licence: str | None, sources: Any, own: OwnMeasurement | None) -> BulkDraft:
    return BulkDraft(data=data, licence=licence or "", sources=sources, own=own)


def _read_form(request: Request, *, dry_run: bool) -> tuple[BulkDraft, bool]:
    form, files = _parsed(request)
    parts = _parts(form, files)
    g.sent = b"".join(_framed(name) + _framed(text) for name, text in sorted(parts.items()))
    if "values" not in parts:
        raise _bad_part("values", "the part `values` holds the file, and is missing")
    text = parts.get("dry_run", b"true" if dry_run else b"false")
    if text not in (b"true", b"false"):
        raise _bad_part("dry_run", "must be true or false")
    licence = parts.get("licence", b"").decode("utf-8", "replace").strip()
    sources = _sources(parts["sources"]) if "sources" in parts else ()
    own = None
    if "own_measurement" in parts:
        own = _own(parse_object(parts["own_measurement"]), "own_measurement")
    return _draft(parts["values"], licence, sources, own), text == b"true"


def _in_memory(*_told: Any, **_named: Any) -> io.BytesIO:
    """Give a part its place: the whole body is bounded already, so nothing need go to disk."""
    return io.BytesIO()


def _parsed(request: Request) -> tuple[MultiDict[str, str], MultiDict[str, FileStorage]]:
    body = read_bytes(request, MAX_BYTES + _ROOM)
    parser = FormDataParser(
        stream_factory=_in_memory,
        max_form_memory_size=None,
        max_form_parts=4 * len(PARTS),
        silent=False,
    )
    try:
        _, form, files = parser.parse(
            io.BytesIO(body), FORM, len(body), dict(request.mimetype_params)
        )
    except RequestEntityTooLarge as error:
        detail = f"a form has the parts {', '.join(PARTS)} and no more"
        raise Problem(Code.BODY_TOO_LARGE, detail) from error
    except ValueError as error:
        raise Problem(Code.INVALID_REQUEST, f"the form cannot be read: {error}") from error
    return form, files


def _framed(part: str | bytes) -> bytes:
    data = part.encode() if isinstance(part, str) else part
    return len(data).to_bytes(8, "big") + data


def _parts(form: MultiDict[str, str], files: MultiDict[str, FileStorage]) -> dict[str, bytes]:
    """Gather the parts of a form, whether they came as files or as fields, each once."""
    found: dict[str, bytes] = {}
    given = [(name, text.encode()) for name, text in form.items(multi=True)]
    given += [(name, file.stream.read()) for name, file in files.items(multi=True)]
    for name, data in given:
        if name not in PARTS:
            close = nearest(name, PARTS, 1)
            hint = f"did you mean {close[0]!r}?" if close else f"known: {', '.join(PARTS)}"
            raise _bad_part(name[:40], f"there is no such part; {hint}")
        if name in found:
            raise _bad_part(name, f"the part {name} stands twice")
        found[name] = data
    return found


def _own(content: Any, place: str) -> OwnMeasurement:
    try:
        return own_measurement(content, place)
    except ma.ValidationError as error:
        faults = error.messages_dict[place]
        if not isinstance(faults, dict):
            raise _bad_part(place, str(faults[0])) from error
        start = f"#/{place}/" if place else "#/"
        errors = [
            {"detail": str(texts[0]), "pointer": f"{start}{name}"} for name, texts in faults.items()
        ]
        detail = "say specimen, instrument and date of the file's own measurements"
        raise Problem(Code.INVALID_BODY, detail, errors=errors) from error


def _sources(data: bytes) -> list[dict[str, Any]]:
    """Read a list of CSL-JSON items, as strictly as any body."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _bad_part("sources", "the part `sources` is not UTF-8") from error
    try:
        json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise _bad_part("sources", f"the part `sources` is not JSON: {error}") from error
    found = parse_object(b'{"sources":%s}' % text.encode())["sources"]
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
        raise _bad_part("sources", "the part `sources` is a list of CSL-JSON items")
    if len(found) > _MOST_SOURCES:
        raise _bad_part("sources", f"at most {_MOST_SOURCES} sources at once")
    return found
