"""Answers kept with their ETag, so that asking again costs a 304 and no body."""

from __future__ import annotations

import threading
from collections import OrderedDict

from hotface._transport import Response

__all__ = ["EtagCache"]

_LARGEST = 1024 * 1024


class EtagCache:
    """The answers used last, by question; safe to share between threads.

    Parameters
    ----------
    size : int
        How many answers to keep; 0 keeps none.
    """

    def __init__(self, size: int = 128) -> None:
        self._size = size
        self._answers: OrderedDict[str, Response] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, question: str) -> Response | None:
        """Give the answer kept for a question and mark it as used."""
        with self._lock:
            answer = self._answers.get(question)
            if answer is not None:
                self._answers.move_to_end(question)
            return answer

    def put(self, question: str, answer: Response) -> None:
        """Keep an answer that carries an ETag, dropping the one unused longest."""
        if "etag" not in answer.headers or len(answer.body) > _LARGEST:
            return
        with self._lock:
            self._answers[question] = answer
            self._answers.move_to_end(question)
            while len(self._answers) > self._size:
                self._answers.popitem(last=False)
