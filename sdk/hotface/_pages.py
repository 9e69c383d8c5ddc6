"""Lists that come in pages, read as they are walked."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Generic, TypeVar
from urllib.parse import parse_qsl, unquote, urlsplit

from hotface._calls import Answer, Caller
from hotface._errors import NotAnAnswer
from hotface._results import items_of, read
from hotface._transport import Request

__all__ = ["Pages"]

T = TypeVar("T")


def _next_request(request: Request, address: str) -> Request:
    """Follow the address of the next page, but only its query: never to another host or path."""
    return Request(
        request.method, request.path, tuple(parse_qsl(urlsplit(address).query)), request.headers
    )


class Pages(Generic[T]):
    """A list of the service; iterating asks for one page after the other.

    Every walk starts anew, so a list can be walked twice.
    """

    def __init__(self, caller: Caller, request: Request, kind: str) -> None:
        self._caller = caller
        self._request = request
        self._kind = kind

    def answers(self) -> Iterator[Answer]:
        """Give the pages as the service's JSON.

        Raises
        ------
        NotAnAnswer
            If a page names itself as the next one.
        """
        request: Request | None = self._request
        seen: set[str] = set()
        while request is not None:
            if request.target in seen:
                raise NotAnAnswer("a page of the list names an earlier one as the next; stopped")
            seen.add(request.target)
            answer = self._caller.answer(request)
            yield answer
            following = answer.data.get("next")
            if following is not None and not isinstance(following, str):
                raise NotAnAnswer("a page of the list names a next one that is no address; stopped")
            request = _next_request(request, following) if following else None

    def __iter__(self) -> Iterator[T]:
        for answer in self.answers():
            for item in items_of(answer.data):
                yield read(self._kind, item)

    def all(self) -> list[T]:
        """Read the whole list."""
        return list(self)

    def first(self, count: int = 1) -> list[T]:
        """Read the first few items."""
        return list(islice(self, count))

    def __repr__(self) -> str:
        return f"<list of {unquote(self._request.target)}; iterate over it or call .all()>"
