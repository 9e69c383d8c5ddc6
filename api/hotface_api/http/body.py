"""Request bodies, read strictly.

The standard reader takes the last of two equal keys, lets ``NaN`` and ``1e999`` through and accepts
half of a surrogate pair. Each of these turns one person's typing error into another's wrong number,
so they are refused, with a pointer to the place.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any, Final, NoReturn

from flask import Request, g

from hotface_api.http.problems import Code, Problem

__all__ = [
    "check_encoding",
    "parse_object",
    "parse_strictly",
    "pointer",
    "read_bytes",
    "read_object",
]

MAX_DEPTH: Final = 16
_MAX_FAULTS: Final = 20
_MAX_DIGITS: Final = 30
_SURROGATES: Final = range(0xD800, 0xE000)


class _Twice(dict[str, Any]):
    """An object that holds a key twice; remembers which until its place is known."""

    key: str = ""


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) == len(pairs):
        return made
    seen: set[str] = set()
    faulty = _Twice(made)
    for key, _ in pairs:
        if key in seen:
            faulty.key = key
        seen.add(key)
    return faulty


def _whole(text: str) -> int | float:
    return int(text) if len(text) <= _MAX_DIGITS else float(text)


def pointer(*steps: str | int) -> str:
    """Write a JSON pointer (RFC 6901) as a fragment: ``#/mix/constituents/0``."""
    return "#" + "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)


def _text_fault(text: str) -> str | None:
    if "\x00" in text:
        return "a text must not hold the character U+0000"
    if not text.isascii() and any(ord(letter) in _SURROGATES for letter in text):
        return "a text holds half of a surrogate pair"
    return None


def _faults(value: Any, *steps: str | int) -> Iterator[tuple[str, str]]:
    """Walk a document and yield the pointer and description of each fault."""
    if isinstance(value, dict | list) and len(steps) >= MAX_DEPTH:
        yield pointer(*steps), f"objects and arrays nest deeper than {MAX_DEPTH}"
        return
    if isinstance(value, str):
        fault = _text_fault(value)
        if fault:
            yield pointer(*steps), fault
    elif isinstance(value, float) and not math.isfinite(value):
        yield pointer(*steps), "a number must be finite; NaN, Infinity and 1e999 are not"
    elif isinstance(value, dict):
        yield from _object_faults(value, *steps)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _faults(item, *steps, index)


def _object_faults(value: dict[str, Any], *steps: str | int) -> Iterator[tuple[str, str]]:
    if isinstance(value, _Twice):
        yield pointer(*steps, _shown(value.key)), "a key stands twice in one object"
    for key, item in value.items():
        if fault := _text_fault(key):
            yield pointer(*steps), fault
        else:
            yield from _faults(item, *steps, _shown(key))


def _shown(key: str) -> str:
    """Shorten a key for a pointer and keep it encodable."""
    return key[:64].encode("utf-8", "replace").decode()


def _refuse(detail: str, errors: list[dict[str, str]] | None = None) -> NoReturn:
    raise Problem(Code.INVALID_JSON, detail, errors=errors or [{"detail": detail, "pointer": "#"}])


def _check_media_type(request: Request) -> None:
    media = request.mimetype
    is_json = media == "application/json" or (
        media.startswith("application/") and media.endswith("+json")
    )
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if not is_json or charset not in ("utf-8", "utf8"):
        shown = media[:64] or "none"
        raise Problem(
            Code.UNSUPPORTED_MEDIA_TYPE,
            f"send the body as application/json in UTF-8; its type is {shown}",
            headers={"Accept-Post": "application/json"},
        )
    check_encoding(request)


def check_encoding(request: Request) -> None:
    """Refuse a body that would have to be unpacked first.

    Raises
    ------
    Problem
        ``unsupported_media_type``.
    """
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        raise Problem(Code.UNSUPPORTED_MEDIA_TYPE, "send the body without a content encoding")


def read_bytes(request: Request, limit: int) -> bytes:
    """Read at most ``limit`` bytes, whether or not the length was told beforehand.

    Raises
    ------
    Problem
        ``body_too_large``.
    """
    told = request.content_length
    body = bytearray()
    if told is None or told <= limit:
        while len(body) <= limit and (piece := request.stream.read(limit + 1 - len(body))):
            body += piece
    if len(body) > limit or (told is not None and told > limit):
        raise Problem(
            Code.BODY_TOO_LARGE,
            f"the body may have at most {limit} bytes; send several smaller requests",
        )
    return bytes(body)


def _parse(body: bytes) -> Any:
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        _refuse(f"the body is not UTF-8 (byte {error.start})")
    try:
        return json.loads(text, object_pairs_hook=_pairs, parse_int=_whole)
    except json.JSONDecodeError as error:
        _refuse(f"the body is not JSON: {error.msg} in line {error.lineno}, column {error.colno}")
    except RecursionError:
        _refuse(f"objects and arrays nest deeper than {MAX_DEPTH}")


def read_object(request: Request, limit: int) -> dict[str, Any]:
    """Read the body of a request as one JSON object.

    The bytes as sent are kept for the request, as ``g.sent``.

    Parameters
    ----------
    request : flask.Request
    limit : int
        Largest body in bytes.

    Raises
    ------
    Problem
        ``unsupported_media_type``, ``body_too_large`` or ``invalid_json``.
    """
    _check_media_type(request)
    g.sent = read_bytes(request, limit)
    if not g.sent:
        _refuse("the body is empty; send one JSON object")
    return parse_object(g.sent)


def parse_strictly(body: bytes) -> Any:
    """Read bytes as JSON of any kind.

    Raises
    ------
    Problem
        ``invalid_json``.
    """
    document = _parse(body)
    errors = [
        {"detail": detail, "pointer": place}
        for (place, detail), _ in zip(_faults(document), range(_MAX_FAULTS), strict=False)
    ]
    if errors:
        _refuse(f"{errors[0]['detail']} ({errors[0]['pointer']})", errors)
    return document


def parse_object(body: bytes) -> dict[str, Any]:
    """Read bytes as one JSON object, strictly.

    Raises
    ------
    Problem
        ``invalid_json``.
    """
    document = parse_strictly(body)
    if not isinstance(document, dict):
        _refuse("the body is JSON, but must be an object: {...}")
    return document
