"""When to ask again, and how long to wait before."""

from __future__ import annotations

import random
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Final

from hotface._transport import Response

__all__ = ["RETRIED", "RetryPolicy", "retry_after"]

RETRIED: Final = frozenset({429, 502, 503, 504})
"""Statuses that say *not now*: all questions here can be asked twice without harm."""


def retry_after(response: Response) -> float | None:
    """Read ``Retry-After`` as seconds from now.

    A date is held against the answer's own ``Date``, so that a wrong clock on this side does not
    matter.
    """
    text = response.headers.get("retry-after", "").strip()
    if not text:
        return None
    if text.isascii() and text.isdigit():
        return float(text[:9])
    when, now = _date(text), _date(response.headers.get("date", "")) or datetime.now(UTC)
    return None if when is None else max(0.0, (when - now).total_seconds())


def _date(text: str) -> datetime | None:
    try:
        read = parsedate_to_datetime(text)
    except (TypeError, ValueError):
        return None
    return read if read.tzinfo else read.replace(tzinfo=UTC)


@dataclass(frozen=True)
class RetryPolicy:
    """How often and after what wait a request is repeated.

    Attributes
    ----------
    retries : int
        Attempts after the first; 0 asks once.
    first : float
        Seconds before the first repeat; doubles with each.
    cap : float
        Longest wait of our own choice.
    longest : float
        Longest wait the service may ask for; if it asks for more, the error is raised at once.
    """

    retries: int = 3
    first: float = 0.5
    cap: float = 5.0
    longest: float = 60.0

    def __post_init__(self) -> None:
        if self.retries < 0:
            raise ValueError("retries is the number of attempts after the first: 0 or more")

    def jitter(self) -> float:
        """Share of the full wait to take, so that many clients do not come back at once."""
        return random.uniform(0.5, 1.0)  # noqa: S311 - spreads load, guards nothing

    def pause(self, seconds: float) -> None:
        """Wait; a method of its own so that a test need not."""
        time.sleep(seconds)

    def back_off(self, attempt: int) -> float:
        """Seconds before repeat number ``attempt`` (from 0) when the service names no time."""
        return float(min(self.cap, self.first * 2**attempt)) * self.jitter()

    def wait(self, attempt: int, asked: float | None = None) -> float | None:
        """Seconds to wait before the next attempt, or ``None`` to give up.

        Parameters
        ----------
        attempt : int
            Repeats made so far.
        asked : float, optional
            What the service asked for with ``Retry-After``.
        """
        if attempt >= self.retries:
            return None
        if asked is None:
            return self.back_off(attempt)
        return asked if asked <= self.longest else None
