"""Rendered answers, kept until the data change, and found by the request as it arrives."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

from flask import Response, request
from werkzeug.http import parse_etags

from hotface_api.http.headers import common_fields

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIEnvironment

__all__ = ["AnswerCache", "Kept", "Key", "key_of"]

_MAX_BYTES: Final = 64 * 1024 * 1024
_MAX_ACCEPT: Final = 256
_CACHE_CONTROL: Final = "public, max-age=300"
_AGAIN: Final = (
    "ETag",
    "Cache-Control",
    "Vary",
    "Hotface-Revision",
    "Content-Security-Policy",
)
"""What a 304 says again: what it leaves out the caller keeps, the rest is taken over."""
_CHARSETS: Final = {"text/html": "text/html; charset=utf-8", "text/csv": "text/csv; charset=utf-8"}


class Key(NamedTuple):
    """What tells one request for a kept answer from another."""

    place: str
    path: str
    query: str
    accept: str


def key_of(environ: WSGIEnvironment) -> Key:
    """Give the key of a request."""
    get = environ.get
    return Key(
        get("SCRIPT_NAME", ""),
        get("PATH_INFO", ""),
        get("QUERY_STRING", ""),
        get("HTTP_ACCEPT", ""),
    )


class Kept:
    """A rendered answer.

    The header fields are listed once, when the answer is made: setting them one by one at each
    request costs more than finding the answer.

    Parameters
    ----------
    body : bytes
        The answer.
    media : str
        Its media type.
    tag : str
        Its entity tag.
    headers : mapping, optional
        Further header fields.
    latest : int
        The latest revision when it was made; with a later one it is old.
    rule : str
        The rule of the route that made it, for the metrics.
    """

    __slots__ = ("_again", "_fields", "_weak", "body", "latest", "media", "rule", "tag")

    def __init__(
        self,
        body: bytes,
        media: str,
        tag: str,
        headers: Mapping[str, str] | None = None,
        *,
        latest: int = 0,
        rule: str = "unmatched",
    ) -> None:
        self.body, self.tag, self.latest, self.rule = body, tag, latest, rule
        self.media = _CHARSETS.get(media, media)
        self._weak = f'W/"{tag}"'
        self._fields = (
            ("ETag", self._weak),
            ("Cache-Control", _CACHE_CONTROL),
            ("Vary", "Accept"),
            *(headers or {}).items(),
        )
        self._again = tuple(field for field in self._fields if field[0] in _AGAIN)

    def is_held(self, given: str | None) -> bool:
        """Tell whether an ``If-None-Match`` says that the caller holds this very answer."""
        if given is None:
            return False
        return given == self._weak or parse_etags(given).contains_weak(self.tag)

    def respond(self) -> Response:
        """Answer with the bytes, or with 304 if the caller has them already."""
        if self.is_held(request.environ.get("HTTP_IF_NONE_MATCH")):
            response = Response(b"", 304, self._again)
            del response.headers["Content-Type"]
            return response
        return Response(self.body, 200, (("Content-Type", self.media), *self._fields))

    def fields(self, method: str, *, held: bool) -> list[tuple[str, str]]:
        """List every header field but the request's id."""
        if held:
            return [*self._again, *common_fields(method, 304)]
        found = [("Content-Type", self.media), ("Content-Length", str(len(self.body)))]
        found += self._fields
        return found + common_fields(method, 200, found)


class AnswerCache:
    """The most recently used rendered answers, bounded in number and in bytes.

    Parameters
    ----------
    size : int
        How many answers are kept; 0 keeps none.
    """

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: OrderedDict[Key, Kept] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def __len__(self) -> int:
        """Count the answers kept."""
        return len(self._kept)

    def get(self, key: Key) -> Kept | None:
        """Give a kept answer, whether or not it is old."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
            return found

    def put(self, key: Key, kept: Kept) -> None:
        """Keep an answer, and let go of the ones used longest ago."""
        if self._size == 0 or len(key.accept) > _MAX_ACCEPT:
            return
        with self._lock:
            old = self._kept.pop(key, None)
            self._bytes += len(kept.body) - (0 if old is None else len(old.body))
            self._kept[key] = kept
            while len(self._kept) > self._size or self._bytes > _MAX_BYTES:
                _, gone = self._kept.popitem(last=False)
                self._bytes -= len(gone.body)
