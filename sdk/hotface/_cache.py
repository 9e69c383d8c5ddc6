"""Answers kept with their ETag, so that asking again costs a 304 and no body."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Any

from hotface._transport import Response

__all__ = ["EtagCache", "Kept"]

_LARGEST = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer, and the results already made of it, by kind: they are frozen like it."""

    response: Response
    made: dict[str, Any] = field(default_factory=dict)


class EtagCache:
    """The answers used last, by question; safe to share between threads.

    Parameters
    ----------
    size : int
        How many answers to keep; 0 keeps none.
    """

    def __init__(self, size: int = 128) -> None:
        self._size = size
        self._answers: OrderedDict[str, Kept] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, question: str) -> Kept | None:
        """Give the answer kept for a question and mark it as used."""
        with self._lock:
            answer = self._answers.get(question)
            if answer is not None:
                self._answers.move_to_end(question)
            return answer

    def put(self, question: str, answer: Response) -> Kept | None:
        """Keep an answer that carries an ETag and may be kept, dropping the one unused longest."""
        if "etag" not in answer.headers or len(answer.body) > _LARGEST or not self._size:
            return None
        if "no-store" in answer.headers.get("cache-control", ""):
            return None
        kept = Kept(answer)
        with self._lock:
            self._answers[question] = kept
            self._answers.move_to_end(question)
            while len(self._answers) > self._size:
                self._answers.popitem(last=False)
        return kept
