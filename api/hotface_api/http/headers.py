"""The header fields of every answer, whatever it is."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from typing import Final

__all__ = ["DOCS_POLICY", "common_fields", "request_id"]

Field = tuple[str, str]
_CSP: Final = "Content-Security-Policy"
_NOT_MODIFIED: Final = 304
_SANE_ID: Final = re.compile(r"[A-Za-z0-9._-]{1,64}")
_POLICY: Final = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
DOCS_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:;"
    " connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)
_EXPOSED: Final = (
    "ETag, Hotface-Revision, Link, RateLimit, RateLimit-Policy, Retry-After, X-Request-Id"
)
_READS: Final = ("GET", "HEAD", "OPTIONS")


def request_id(given: str) -> str:
    """Take over the caller's request id if it is one, or make one."""
    return given if given and _SANE_ID.fullmatch(given) else uuid.uuid4().hex


def _fields(method: str) -> list[Field]:
    """List the fields of every answer to a method.

    Pages of any origin may read; reads need no credentials and none are allowed.
    """
    fields = [("X-Content-Type-Options", "nosniff"), ("Referrer-Policy", "no-referrer")]
    if method in _READS:
        fields.append(("Access-Control-Allow-Origin", "*"))
        fields.append(("Access-Control-Expose-Headers", _EXPOSED))
    if method == "OPTIONS":
        fields.append(("Access-Control-Allow-Methods", "GET, HEAD, OPTIONS"))
        fields.append(("Access-Control-Allow-Headers", "Accept, If-None-Match, X-Request-Id"))
        fields.append(("Access-Control-Max-Age", "86400"))
    return fields


_KNOWN: Final = {method: _fields(method) for method in (*_READS, "other")}


def common_fields(method: str, status: int, given: Iterable[Field] = ()) -> list[Field]:
    """List the fields of every answer to a method, beside those that are given already.

    A 304 says nothing of its own on what a page may load: a browser would take it over.
    """
    fields = _KNOWN.get(method) or _KNOWN["other"]
    if status == _NOT_MODIFIED or any(name == _CSP for name, _ in given):
        return fields
    return [*fields, (_CSP, _POLICY)]
