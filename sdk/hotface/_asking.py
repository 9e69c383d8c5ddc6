"""The ground of the client: one way to ask, with the client's units and revision on it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, Literal, TypeAlias, TypeVar

from hotface._calls import JSON, Answer, Caller, path_of, query_of
from hotface._errors import ProblemError
from hotface._results import batch_result, build, items_of
from hotface._transport import Request

__all__ = ["Asking", "OnProblem", "Progress"]

T = TypeVar("T")
OnProblem = Literal["raise", "return"]
Progress: TypeAlias = Callable[[int, int], object]
"""Called with how many are done and how many there are."""
_SECONDS_A_QUESTION: Final = 0.1
"""Seconds allowed beyond the timeout for each question of a batch."""


class Asking:
    """Asks the service anything; the rest of the client rests on it."""

    _caller: Caller
    _common: Mapping[str, Any]

    def ask(
        self,
        method: str,
        path: str,
        parameters: Mapping[str, Any] | None = None,
        body: Mapping[str, Any] | None = None,
        *,
        headers: Mapping[str, str] | None = None,
        patience: float = 0.0,
        progress: Progress | None = None,
    ) -> Answer:
        """Ask anything of the service: the way to routes that have no method here.

        What changes something is sent with an ``Idempotency-Key``, so that repeating it while the
        service is away does it once.

        Parameters
        ----------
        method, path : str
            Such as ``"GET"`` and ``"/v1/holdings"``.
        parameters : mapping, optional
            Query parameters.
        body : mapping, optional
            A JSON object to send.
        headers : mapping of str to str, optional
            Further request headers, such as ``If-Match``.
        patience : float
            Seconds to wait for the answer beyond the client's timeout.
        progress : callable, optional
            Told how far a long question is, where whatever answers can tell.

        Returns
        -------
        Answer
            ``data``, the object as read, and ``text``, as it was sent.
        """
        query = query_of({**(parameters or {}), **self._common})
        said = dict(headers or {})
        sent: bytes | None = None
        if body is not None:
            said["Content-Type"] = JSON
            sent = json.dumps(body, ensure_ascii=False, allow_nan=False).encode()
        return self._caller.answer(Request(method, path, query, said, sent, patience, progress))

    def _result(self, kind: str, path: str, parameters: Mapping[str, Any], *more: Any) -> Any:
        """Read an answer into the result class of a name."""
        query = query_of({**parameters, **self._common})
        return self._caller.result(Request("GET", path, query), kind, *more)

    def _post(self, route: str, body: Mapping[str, Any], patience: float = 0.0) -> dict[str, Any]:
        return self.ask("POST", path_of(route), None, body, patience=patience).data

    def _many(
        self,
        route: str,
        name: str,
        part: str,
        asked: Sequence[dict[str, Any]],
        size: int,
        on_problem: OnProblem,
        make: Callable[[dict[str, Any]], T],
        progress: Progress | None = None,
    ) -> list[T | ProblemError]:
        """Ask in batches of ``size`` and read the results in order."""
        found: list[T | ProblemError] = []
        for start in range(0, len(asked), size):
            batch = asked[start : start + size]
            data = self._post(route, {name: batch}, _SECONDS_A_QUESTION * len(batch))
            results = items_of(data, "results")
            if len(results) != len(batch):
                build(_refuse_count, len(results), len(batch))
            for result in results:
                try:
                    found.append(batch_result(len(found), result, part, make))
                except ProblemError as problem:
                    if on_problem == "raise":
                        raise
                    found.append(problem)
            if progress is not None:
                progress(len(found), len(asked))
        return found


def _refuse_count(got: int, asked: int) -> None:
    raise ValueError(f"{got} results for {asked} questions")
