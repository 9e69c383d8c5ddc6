"""Entity tags from the revision, and the media types of answers.

The tag is made of what determines an answer (build, database, revision, query, media type), not of
the answer: an unchanged answer is recognised before anything is computed, by any worker.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any, Final

import orjson
from flask import Response, current_app, g, request

from hotface_api import __version__
from hotface_api.catalogue import RULES_VERSION
from hotface_api.http.carried import RULE
from hotface_api.http.context import Asked, latest_revision, service
from hotface_api.http.kept import Kept, key_of
from hotface_api.http.problems import Code, Problem

__all__ = [
    "JSON",
    "answer",
    "answer_early",
    "answer_text",
    "entity_tag",
    "negotiate",
    "plain_answer",
    "private_answer",
]

JSON: Final = "application/json"
_FOR_ONE: Final = "private, max-age=300"
"""Of an answer to a request with a key: it is the same for all, but no cache need know that."""
_ANY: Final = (None, "", "*/*")


def negotiate(offered: tuple[str, ...]) -> str:
    """Choose the media type of the answer.

    Raises
    ------
    Problem
        ``not_acceptable`` if none offered is accepted.
    """
    if request.environ.get("HTTP_ACCEPT") in _ANY:
        return offered[0]
    accepted = request.accept_mimetypes
    best = accepted.best_match(offered)
    if best is None or accepted.quality(best) <= 0:
        raise Problem(
            Code.NOT_ACCEPTABLE,
            f"this address answers as {', '.join(offered)}; the Accept field allows none of these",
        )
    return best


def entity_tag(revision: int, database_id: str, media: str) -> str:
    """Make the tag of the answer to the request at hand, without computing the answer."""
    query = sorted(request.args.items(multi=True)) if request.environ.get("QUERY_STRING") else ()
    parts = [
        __version__,
        RULES_VERSION,
        database_id,
        str(revision),
        request.path,
        media,
        *(f"{name}={text}" for name, text in query),
    ]
    return hashlib.blake2b("\n".join(parts).encode(), digest_size=12).hexdigest()


def _known_already(latest: int) -> Response | None:
    """Answer 304 without a look at the values, if the caller holds the very answer."""
    given = request.environ.get("HTTP_IF_NONE_MATCH")
    if not given:
        return None
    asked = request.args.get("revision", latest, int)
    if not 1 <= asked <= latest:
        return None
    reference = service().references.at(asked, latest)
    kept = Kept(b"", g.media, entity_tag(asked, reference.database_id, g.media), _shown(asked))
    return kept.respond() if kept.is_held(given) else None


def answer_early() -> Response | None:
    """Agree on the media type, and answer 304 where possible; runs before every view."""
    if request.url_rule is not None:
        request.environ[RULE] = request.url_rule.rule
    view = current_app.view_functions.get(request.endpoint or "")
    offered = getattr(view, "hotface_media", None)
    if offered is None:
        return None
    g.media = negotiate(offered)
    if not getattr(view, "hotface_dated", False) or request.method not in ("GET", "HEAD"):
        return None
    return _known_already(latest_revision())


def _shown(revision: int) -> dict[str, str]:
    return {"Hotface-Revision": str(revision)}


def answer(asked: Asked, document: Any, headers: Mapping[str, str] | None = None) -> Response:
    """Render a document as JSON, keep it, and answer with it."""
    return answer_text(asked, orjson.dumps(document), headers)


def answer_text(
    asked: Asked, body: bytes, headers: Mapping[str, str] | None = None, *, keep: bool = True
) -> Response:
    """Answer with bytes of the media type agreed on.

    ``keep`` is off where the number of questions has no end.
    """
    tag = entity_tag(asked.revision, asked.reference.database_id, g.media)
    shown = {**_shown(asked.revision), **(headers or {})}
    rule = request.environ[RULE]
    kept = Kept(body, g.media, tag, shown, latest=latest_revision(), rule=rule)
    if "HTTP_AUTHORIZATION" in request.environ:
        response = kept.respond()
        response.headers["Cache-Control"] = _FOR_ONE
        return response
    if keep:
        service().answers.put(key_of(request.environ), kept)
    return kept.respond()


def private_answer(
    document: Any, status: int = 200, headers: Mapping[str, str] | None = None
) -> Response:
    """Answer the holder of a key alone: nobody keeps it, not even the caller."""
    response = Response(orjson.dumps(document), status, content_type=JSON)
    response.headers["Cache-Control"] = "no-store"
    response.headers["Vary"] = "Accept, Authorization"
    response.headers.update(headers or {})
    return response


def plain_answer(asked: Asked, document: Any) -> Response:
    """Answer a computation: a POST has no tag and is kept by nobody."""
    response = Response(orjson.dumps(document), content_type=JSON)
    response.headers["Hotface-Revision"] = str(asked.revision)
    response.headers["Cache-Control"] = "no-store"
    return response
