"""What the ledger refuses, as one tree.

::

    LedgerError                  code, pointer, message, nearest
    ├── InvalidError             what was handed in cannot be used; every fault is listed
    ├── UnknownError             no such value, key or contributor (or not for this caller)
    ├── KeyRefusedError          the API key is not good: unknown, expired, revoked
    ├── ForbiddenError           the caller may not do this
    ├── VersionNeededError       a change says which version of the row it is about
    ├── ConflictError            the state of the row does not allow it
    │   ├── StaleError           the row has changed since the version named
    │   └── ReusedKeyError       an idempotency key with another request
    ├── BackupRefusedError       a backup that cannot be made or is not fit to be restored
    ├── RateLimitedError         too many requests; ``retry_after`` seconds
    └── UnavailableError         the database is locked, full or away; ``retry_after`` seconds

``code`` is the part programs may rely on; messages are for people and say what to do next.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import Final

__all__ = [
    "BackupRefusedError",
    "Code",
    "ConflictError",
    "Fault",
    "ForbiddenError",
    "Hints",
    "InvalidError",
    "KeyRefusedError",
    "LedgerError",
    "RateLimitedError",
    "ReusedKeyError",
    "StaleError",
    "UnavailableError",
    "UnknownError",
    "VersionNeededError",
    "near",
]

_MAX_FAULTS: Final = 200
_MAX_COMPARED: Final = 80


class Code(StrEnum):
    """The codes; never renamed."""

    INVALID = "invalid_contribution"
    UNKNOWN_VALUE = "unknown_value"
    UNKNOWN_KEY = "unknown_key"
    UNKNOWN_CONTRIBUTOR = "unknown_contributor"
    KEY_INVALID = "key_invalid"
    KEY_EXPIRED = "key_expired"
    KEY_REVOKED = "key_revoked"
    CURATORS_ONLY = "curators_only"
    NOT_YOURS = "not_yours"
    OWN_SUBMISSION = "own_submission"
    VERSION_NEEDED = "version_needed"
    WRONG_STATE = "wrong_state"
    STALE = "stale_version"
    ALREADY_HELD = "already_contributed"
    REFERENCE_GONE = "reference_gone"
    KEY_REUSED = "idempotency_key_reused"
    RATE_LIMITED = "rate_limited"
    UNAVAILABLE = "database_unavailable"
    NOT_READY = "not_ready"
    BACKUP_REFUSED = "backup_refused"


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: where (a JSON pointer), what, and the nearest right things."""

    pointer: str
    message: str
    nearest: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Say where, then what, then what may be meant."""
        hint = f" (did you mean {', '.join(self.nearest)}?)" if self.nearest else ""
        return f"{self.pointer or '/'}: {self.message}{hint}"


class LedgerError(Exception):
    """Anything the ledger refuses.

    Attributes
    ----------
    code : Code
    pointer : str
        JSON pointer to what is wrong; empty where it is not one place.
    message : str
    nearest : tuple of str
        What may be meant instead.
    """

    def __init__(
        self, code: Code, message: str, *, pointer: str = "", nearest: Iterable[str] = ()
    ) -> None:
        super().__init__(message)
        self.code = code
        self.pointer = pointer
        self.message = message
        self.nearest = tuple(nearest)


class InvalidError(LedgerError):
    """What was handed in cannot be used; ``faults`` lists everything found."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults[:_MAX_FAULTS])
        self.more = len(faults) - len(self.faults)
        first = self.faults[0]
        rest = len(faults) - 1
        tail = f"; and {rest} more" if rest else ""
        super().__init__(
            Code.INVALID, f"{first}{tail}", pointer=first.pointer, nearest=first.nearest
        )

    @classmethod
    def of(cls, pointer: str, message: str, nearest: Iterable[str] = ()) -> InvalidError:
        """Make one of a single fault."""
        return cls([Fault(pointer, message, tuple(nearest))])


class UnknownError(LedgerError):
    """No such thing, or not one this caller may see."""


class KeyRefusedError(LedgerError):
    """The API key is unknown, expired or revoked."""


class ForbiddenError(LedgerError):
    """The caller is known and may not do this."""


class VersionNeededError(LedgerError):
    """A change to a row must say which version of it was seen."""


class ConflictError(LedgerError):
    """The row is not in a state that allows this; ``value`` names another row that matters."""

    def __init__(
        self,
        code: Code,
        message: str,
        *,
        pointer: str = "",
        nearest: Iterable[str] = (),
        value: str | None = None,
    ) -> None:
        super().__init__(code, message, pointer=pointer, nearest=nearest)
        self.value = value


class StaleError(ConflictError):
    """The row has changed since; ``version`` is the present one."""

    def __init__(self, message: str, *, version: int, value: str) -> None:
        super().__init__(Code.STALE, message, value=value)
        self.version = version


class ReusedKeyError(ConflictError):
    """An idempotency key came again with another request."""


class BackupRefusedError(LedgerError):
    """A backup that cannot be made, or is not fit to be restored."""

    def __init__(self, message: str) -> None:
        super().__init__(Code.BACKUP_REFUSED, message)


class RateLimitedError(LedgerError):
    """Too many requests; may be repeated after ``retry_after`` seconds."""

    def __init__(self, message: str, *, retry_after: int) -> None:
        super().__init__(Code.RATE_LIMITED, message)
        self.retry_after = retry_after


class UnavailableError(LedgerError):
    """The database cannot take this now; nothing was written."""

    def __init__(
        self, message: str, *, retry_after: int = 2, code: Code = Code.UNAVAILABLE
    ) -> None:
        super().__init__(code, message)
        self.retry_after = retry_after


class Hints:
    """Gives what comes nearest to the first so many unknown words of one submission.

    Looking costs more than all the rest of reading a value, and nobody reads the five-thousandth.
    """

    def __init__(self, most: int = 100) -> None:
        self._left = most

    def near(self, text: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
        """Give what comes nearest to a word, as ``near`` does, until enough was given."""
        if self._left <= 0:
            return ()
        self._left -= 1
        return near(text, known, count)


def near(text: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Give what comes nearest to a word among those that are known."""
    if not text or len(text) > _MAX_COMPARED:
        return ()
    return tuple(get_close_matches(text.lower(), list(known), n=count, cutoff=0.6))
