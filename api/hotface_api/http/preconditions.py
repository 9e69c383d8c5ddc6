"""What a change says of itself in its header: which version it is about, and its idempotency key.

RFC 9110, 13.1.1 (If-Match), RFC 6585, 3 (428), and the draft on the field ``Idempotency-Key``.
"""

from __future__ import annotations

import hashlib
import re
from typing import Final

from flask import g, request

from hotface_api.http.codes import Code
from hotface_api.http.problems import Problem
from hotface_api.ledger.replies import LONGEST_KEY, Idempotency
from hotface_api.ledger.standing import Version

__all__ = ["expected_version", "idempotency", "version_tag"]

_TAG: Final = re.compile(r'[ \t]*((?:W/)?"[\x21\x23-\x7e\x80-\xff]*")[ \t]*')
_VERSION: Final = re.compile(r'"([1-9][0-9]{0,8})"')
_QUOTED: Final = re.compile(r'"(?:[\x20-\x21\x23-\x5b\x5d-\x7e]|\\["\\])*"')
_PRINTABLE: Final = re.compile(r"[\x20-\x7e]+")


def version_tag(version: int) -> str:
    """Give the entity tag of a row version."""
    return f'"{version}"'


def _bad_field(name: str, detail: str) -> Problem:
    return Problem(Code.INVALID_HEADER, detail, errors=[{"detail": detail, "parameter": name}])


def expected_version() -> Version:
    """Read ``If-Match``: the version, or versions, one of which the row must have.

    Tags compare strongly: a weak one, or one that is no version, matches nothing and so gives an
    empty set, which the ledger answers with the version there is (412).

    Returns
    -------
    int, frozenset of int, or None
        None where the field is absent, which the ledger refuses (428).

    Raises
    ------
    Problem
        ``invalid_header`` for ``*``, which names no version, and for what is no list of tags.
    """
    given = request.headers.get("If-Match")
    if given is None:
        return None
    if given.strip() == "*":
        raise _bad_field(
            "If-Match",
            "`*` does not say which version was looked at; send the entity tag of the"
            " contribution, its version in quotes",
        )
    tags, place = [], 0
    while (match := _TAG.match(given, place)) is not None:
        tags.append(match[1])
        place = match.end()
        if place == len(given):
            found = (_VERSION.fullmatch(tag) for tag in tags)
            named = frozenset(int(each[1]) for each in found if each is not None)
            return next(iter(named)) if len(named) == 1 else named
        if given[place] != ",":
            break
        place += 1
    raise _bad_field("If-Match", 'write the version as an entity tag, in quotes: If-Match: "1"')


def idempotency() -> Idempotency | None:
    """Read ``Idempotency-Key``, bare or in quotes, and fingerprint the request.

    Raises
    ------
    Problem
        ``invalid_header`` for one that is empty, too long or not printable ASCII.
    """
    given = request.headers.get("Idempotency-Key")
    if given is None:
        return None
    key = given.strip()
    if key.startswith('"'):
        if not _QUOTED.fullmatch(key):
            raise _bad_field("Idempotency-Key", "the quoted text does not end where it should")
        key = re.sub(r"\\(.)", r"\1", key[1:-1])
    if len(key) > LONGEST_KEY or not _PRINTABLE.fullmatch(key):
        raise _bad_field(
            "Idempotency-Key", f"1 to {LONGEST_KEY} printable ASCII characters are wanted"
        )
    return Idempotency(key, _fingerprint())


def _fingerprint() -> str:
    """Digest what the request asks: method, path, query, media type and body."""
    digest = hashlib.sha256()
    query = "&".join(sorted(request.environ.get("QUERY_STRING", "").split("&")))
    for part in (
        request.method.encode(),
        request.path.encode(),
        query.encode("latin-1", "replace"),
        request.mimetype.encode(),
        g.sent,
    ):
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()
