"""Pages by key: a cursor says where the last page ended, and for which question.

A cursor carries a digest of the filters and the revision, so that it cannot be used with others
and skip or repeat rows without a word. ``next`` names the revision: a walk that started before a
change of the data ends on the data it started with.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote, urlencode

from flask import Response, request

from hotface_api.http.conditional import answer
from hotface_api.http.context import Asked
from hotface_api.http.problems import Code, Problem

__all__ = ["Page", "link", "page_of", "page_slice"]

MAX_LIMIT: Final = 200
_DIGEST: Final = 12
_NOT_FILTERS: Final = frozenset({"cursor", "limit", "revision", "units"})

Row = Mapping[str, Any]


def _digest(revision: int) -> str:
    """Digest the question: address, filters in any order, revision."""
    filters = sorted(pair for pair in request.args.items(multi=True) if pair[0] not in _NOT_FILTERS)
    text = "\n".join([request.path, str(revision), *(f"{name}={value}" for name, value in filters)])
    return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()


def _encode(digest: str, key: str) -> str:
    return base64.urlsafe_b64encode(f"{digest}{key}".encode()).decode().rstrip("=")


def _mismatch(why: str) -> Problem:
    detail = f"{why}; start again without a cursor"
    fault = {"detail": detail, "parameter": "cursor"}
    return Problem(Code.CURSOR_MISMATCH, detail, errors=[fault])


def _decode(cursor: str, digest: str) -> str:
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        text = base64.b64decode(padded, altchars=b"-_", validate=True).decode("utf-8")
    except (binascii.Error, ValueError) as error:
        raise _mismatch("the cursor is damaged") from error
    key = text[_DIGEST:]
    if not key or "\x00" in key or not text.isprintable():
        raise _mismatch("the cursor is damaged")
    if text[:_DIGEST] != digest:
        raise _mismatch("the cursor was made for other filters or another revision")
    return key


@dataclass(frozen=True, slots=True)
class Page:
    """Where a page starts and how many items it holds.

    Attributes
    ----------
    after : str or None
        Key of the last item of the page before.
    limit : int
        Items on the page; one more is read to see whether a next page exists.
    """

    after: str | None
    limit: int
    digest: str

    @property
    def reach(self) -> int:
        """Give how many rows to read."""
        return self.limit + 1

    def number(self) -> int | None:
        """Give the key of the last item as the number it must be."""
        if self.after is None:
            return None
        if not (self.after.isascii() and self.after.isdigit() and len(self.after) < 10):  # noqa: PLR2004
            raise _mismatch("the cursor is damaged")
        return int(self.after)

    def answer(
        self, asked: Asked, rows: Sequence[Row], dump: Callable[[Row], Any], key: str = "id"
    ) -> Response:
        """Answer with a page of rows, of which one more than the page holds may be given."""
        following = self.following(asked, rows, key)
        document = {
            "items": [dump(row) for row in rows[: self.limit]],
            "next": following,
            "revision": asked.revision,
        }
        return answer(asked, document, link(following))

    def following(self, asked: Asked, rows: Sequence[Row], key: str = "id") -> str | None:
        """Give the address of the next page, if the rows read tell of one."""
        if len(rows) <= self.limit:
            return None
        return self.address(str(rows[self.limit - 1][key]), revision=asked.revision)

    def address(self, last: str, *, revision: int | None = None) -> str:
        """Give the address of the page after an item; of undated lists without a revision."""
        kept = [
            pair
            for pair in request.args.items(multi=True)
            if pair[0] not in ("cursor", "limit", "revision")
        ]
        kept.append(("limit", str(self.limit)))
        if revision is not None:
            kept.append(("revision", str(revision)))
        kept.append(("cursor", _encode(self.digest, last)))
        place = quote(request.script_root + request.path)
        return f"{place}?{urlencode(kept, quote_via=quote)}"


def link(following: str | None) -> dict[str, str]:
    """Give the header that leads to the next page."""
    return {} if following is None else {"Link": f'<{following}>; rel="next"'}


def page_of(asked: Asked | None, query: Mapping[str, Any]) -> Page:
    """Read the page asked for; without ``asked`` it is of a list that no revision dates.

    Raises
    ------
    Problem
        ``cursor_mismatch`` for a damaged cursor or one of another question.
    """
    digest = _digest(0 if asked is None else asked.revision)
    cursor = query.get("cursor")
    after = None if cursor is None else _decode(cursor, digest)
    return Page(after, min(query["limit"], MAX_LIMIT), digest)


def page_slice(page: Page, rows: Sequence[Row], key: str = "id") -> list[Row]:
    """Cut the rows of a page, and one more, out of a list sorted by key."""
    following = [row for row in rows if page.after is None or row[key] > page.after]
    return list(following[: page.reach])
