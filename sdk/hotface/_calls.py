"""One question to the service: headers, retries, conditional requests, problems to errors."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, NamedTuple, TypeVar
from urllib.parse import quote

from hotface._cache import EtagCache, Kept
from hotface._errors import ConnectionFailed, KeyRefused, NotAnAnswer, OldServer, problem_error
from hotface._keys import Key, looks_like_key
from hotface._results import read
from hotface._retry import RETRIED, RetryPolicy, retry_after
from hotface._transport import Request, Response, Transport

T = TypeVar("T")

__all__ = ["JSON", "Answer", "Caller", "path_of", "query_of"]

JSON: Final = "application/json"
_PROBLEM: Final = "application/problem+json"
_NOT_MODIFIED = 304
_READS: Final = frozenset({"GET", "HEAD"})
_COMPUTED: Final = frozenset({"/v1/estimates", "/v1/survivals", "/v1/mix-searches", "/v1/linings"})
"""Answers to a body that change nothing."""
_FOR_A_KEY: Final = ("/v1/contributions", "/v1/key", "/v1/mix-searches")
"""What needs a key, or gives more to who has one."""
_ROUTE_MISSING: Final = frozenset({404, 405})
_ROUTE_CODES: Final = frozenset({"not_found", "method_not_allowed"})
_TAG = re.compile(r"<[^>]{0,2000}>")
_EXCERPT = 80


class Answer(NamedTuple):
    """A JSON object: as read, and the text it was sent as."""

    data: dict[str, Any]
    text: str


def path_of(*parts: str) -> str:
    """Make a path under ``/v1``; every part is encoded, so that an id stays one part.

    Raises
    ------
    NotFound
        For what would change the path and therefore can be no id: nothing, or dots alone.
    """
    for part in parts:
        if part.strip(".") == "":
            detail = f"{part!r} cannot be an id"
            raise problem_error(404, {"status": 404, "code": "unknown_id", "detail": detail})
    return "/v1/" + "/".join(quote(part, safe="") for part in parts)


def query_of(parameters: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Turn named parameters into a query; ``None`` is left out, a list repeats its name."""
    pairs: list[tuple[str, str]] = []
    for name, value in parameters.items():
        if value is None:
            continue
        values = [value] if isinstance(value, str) or not isinstance(value, Iterable) else value
        pairs.extend((name, _query_text(one)) for one in values)
    return tuple(pairs)


def _query_text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is no JSON number")


class Caller:
    """Asks through a transport and gives whole, checked answers.

    Parameters
    ----------
    transport : Transport
        What sends.
    policy : RetryPolicy
        When to ask again.
    cache : EtagCache
        Answers kept for conditional requests.
    agent : str
        The ``User-Agent``.
    key : Key, optional
        Sent with everything if it was given for this client; one of the environment only with what
        asks for a key, so that reading does not depend on it.
    """

    def __init__(
        self,
        transport: Transport,
        policy: RetryPolicy,
        cache: EtagCache,
        agent: str,
        key: Key | None = None,
    ) -> None:
        self._key = key
        self.transport = transport
        self._policy = policy
        self._cache = cache
        self._agent = agent

    def answer(self, request: Request) -> Answer:
        """Ask and give the JSON object that was answered.

        Raises
        ------
        HotfaceError
            Of the kind that fits; see the tree in ``hotface._errors``.
        """
        return self.asked(request, lambda response, _kept: self._object(response))

    def text(self, request: Request) -> str:
        """Ask and give the answer as text, for formats other than JSON."""
        return self.asked(request, lambda response, _kept: _decode(response))

    def result(self, request: Request, kind: str, *more: Any) -> Any:
        """Ask and give the result class of a name.

        What was made of an answer is kept with it: if the service says that the answer is still the
        same, so is the result.
        """

        def make(response: Response, kept: Kept | None) -> Any:
            if kept is not None and kind in kept.made:
                return kept.made[kind]
            answer = self._object(response)
            found = read(kind, answer.data, answer.text, *more)
            if kept is not None:
                kept.made[kind] = found
            return found

        return self.asked(request, make)

    def _object(self, response: Response) -> Answer:
        text = _decode(response)
        data = _parse(text, response)
        if not isinstance(data, dict):
            raise NotAnAnswer(
                f"{self.transport!r} sent JSON that is not an object; is this a hotface service?",
                response.status,
            )
        return Answer(data, text)

    def asked(self, request: Request, make: Callable[[Response, Kept | None], T]) -> T:
        """Ask, and make something of a good answer; what fails is told with the request's id.

        Raises
        ------
        ValueError
            If a key stands in the address; it would be logged on its way.
        """
        if looks_like_key(request.target):
            raise ValueError("a key stands in the address; have it revoked, and give Client(key=)")
        request_id = uuid.uuid4().hex
        headers = {"Accept": JSON, "User-Agent": self._agent, "X-Request-Id": request_id}
        headers |= self._said(request)
        headers |= request.headers
        try:
            return make(*self._exchange(request, headers))
        except (ConnectionFailed, NotAnAnswer, OldServer) as error:
            error.request_id = request_id
            if not isinstance(error, OldServer):
                error.idempotency_key = headers.get("Idempotency-Key")
            raise

    def _exchange(self, request: Request, headers: dict[str, str]) -> tuple[Response, Kept | None]:
        """Ask conditionally, repeat as the policy allows, and raise what is not a good answer."""
        reads = request.method == "GET"
        question = f"{request.target} {headers['Accept']}"
        kept = self._cache.get(question) if reads else None
        if kept is not None:
            headers["If-None-Match"] = kept.response.headers["etag"]
        response = self._send(request.under(headers))
        if response.status == _NOT_MODIFIED and kept is not None:
            return kept.response, kept
        if not 200 <= response.status < 300:  # noqa: PLR2004 - the good statuses
            raise self._error(request, response, headers["X-Request-Id"])
        return response, self._cache.put(question, response) if reads else None

    def _said(self, request: Request) -> dict[str, str]:
        """Say who asks, and let a change that is sent twice be done once."""
        said: dict[str, str] = {}
        reads = request.method in _READS or request.path in _COMPUTED
        if not reads:
            said["Idempotency-Key"] = str(uuid.uuid4())
        if self._key is not None and (
            self._key.given or not reads or request.path.startswith(_FOR_A_KEY)
        ):
            said["Authorization"] = self._key.field()
        return said

    def _send(self, request: Request) -> Response:
        """Send, and send again while there is hope."""
        attempt = 0
        while True:
            failure: ConnectionFailed | NotAnAnswer | None = None
            response: Response | None = None
            try:
                response = self.transport.send(request)
            except ConnectionFailed as error:
                failure = error
                hopeless = error.final
            except NotAnAnswer as error:
                failure = error
                hopeless = not error.cut
            else:
                hopeless = response.status not in RETRIED
            asked = None if response is None else retry_after(response)
            seconds = None if hopeless else self._policy.wait(attempt, asked)
            if seconds is None:
                if response is not None:
                    return response
                assert failure is not None  # noqa: S101 - no response means it was raised
                raise failure
            self._policy.pause(seconds)
            attempt += 1

    def _error(self, request: Request, response: Response, request_id: str) -> Exception:
        """Make the error that an answer outside 2xx stands for."""
        if response.media_type not in (_PROBLEM, JSON):
            return self._foreign(response, f"with status {response.status}")
        problem = _parse(_decode(response), response)
        if not isinstance(problem, dict) or "status" not in problem:
            return self._foreign(response, f"with status {response.status} and no problem document")
        if response.status in _ROUTE_MISSING and problem.get("code") in _ROUTE_CODES:
            return OldServer(
                f"the service has no {request.method} {request.path}, which this hotface asks for:"
                " update the service, or install the hotface version that belongs to it"
                f" (request {request_id})"
            )
        sent = response.headers.get("x-request-id", request_id)
        error = problem_error(response.status, problem, sent, retry_after(response))
        if isinstance(error, KeyRefused) and self._key is not None:
            error.key_from = self._key.origin
        return error

    def _foreign(self, response: Response, how: str) -> NotAnAnswer:
        """Describe an answer that no hotface service sends."""
        words = " ".join(_TAG.sub(" ", response.body[:4000].decode("utf-8", "replace")).split())
        said = f' that says "{words[:_EXCERPT]}"' if words else ""
        kind = response.media_type or "no content type"
        return NotAnAnswer(
            f"{self.transport!r} answered {how} and {kind}{said}; a proxy or another service is"
            " at this address: check it, and whether the service behind it runs",
            response.status,
        )

    def close(self) -> None:
        """Close the transport."""
        self.transport.close()


def _decode(response: Response) -> str:
    try:
        return response.body.decode("utf-8")
    except UnicodeDecodeError:
        raise NotAnAnswer(
            "the answer is not UTF-8 text; a proxy changed it", response.status
        ) from None


def _parse(text: str, response: Response) -> Any:
    try:
        return json.loads(text, parse_constant=_no_constant)
    except ValueError:
        if response.media_type not in (JSON, _PROBLEM):
            kind = response.media_type or "no content type"
            start = " ".join(_TAG.sub(" ", text[:4000]).split())[:_EXCERPT]
            raise NotAnAnswer(
                f'instead of JSON came {kind} that says "{start}";'
                " a proxy or another service is at this address: check it",
                response.status,
            ) from None
        raise NotAnAnswer(
            f"the JSON of the answer breaks off or is damaged after {len(text)} characters; ask"
            " again, and check the proxy between",
            response.status,
            cut=True,
        ) from None
