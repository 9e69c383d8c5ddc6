"""What the ledger refuses, as a problem: the one place where its errors become statuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from hotface_api.http.codes import Code
from hotface_api.ledger.errors import Code as LedgerCode
from hotface_api.ledger.errors import (
    ConflictError,
    Fault,
    InvalidError,
    KeyRefusedError,
    LedgerError,
    RateLimitedError,
    UnavailableError,
)

__all__ = ["CHALLENGE", "Refusal", "refusal"]

CHALLENGE: Final = 'Bearer realm="hotface"'
_BAD_TOKEN: Final = f'{CHALLENGE}, error="invalid_token"'
_AWAY: Final = "the database cannot take this now; nothing was written, try again shortly"
_CODES: Final[Mapping[LedgerCode, Code]] = {
    LedgerCode.INVALID: Code.INVALID_CONTRIBUTION,
    LedgerCode.UNKNOWN_VALUE: Code.UNKNOWN_VALUE,
    LedgerCode.KEY_INVALID: Code.KEY_INVALID,
    LedgerCode.KEY_EXPIRED: Code.KEY_EXPIRED,
    LedgerCode.KEY_REVOKED: Code.KEY_REVOKED,
    LedgerCode.CURATORS_ONLY: Code.CURATORS_ONLY,
    LedgerCode.NOT_YOURS: Code.NOT_YOURS,
    LedgerCode.OWN_SUBMISSION: Code.OWN_SUBMISSION,
    LedgerCode.VERSION_NEEDED: Code.VERSION_NEEDED,
    LedgerCode.WRONG_STATE: Code.WRONG_STATE,
    LedgerCode.STALE: Code.STALE_VERSION,
    LedgerCode.ALREADY_HELD: Code.ALREADY_CONTRIBUTED,
    LedgerCode.REFERENCE_GONE: Code.REFERENCE_GONE,
    LedgerCode.KEY_REUSED: Code.IDEMPOTENCY_KEY_REUSED,
    LedgerCode.RATE_LIMITED: Code.RATE_LIMITED,
    LedgerCode.UNAVAILABLE: Code.DATABASE_UNAVAILABLE,
    LedgerCode.NOT_READY: Code.NOT_READY,
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """What a problem is made of: its code, what is said, where, what else may be meant."""

    code: Code
    detail: str
    errors: list[dict[str, str]] = field(default_factory=list)
    nearest: tuple[str, ...] = ()
    headers: dict[str, str] = field(default_factory=dict)


def _error(fault: Fault) -> dict[str, str]:
    hint = f"; did you mean {', '.join(fault.nearest)}?" if fault.nearest else ""
    return {"detail": f"{fault.message}{hint}", "pointer": f"#{fault.pointer}"}


def _headers(error: LedgerError) -> dict[str, str]:
    if isinstance(error, KeyRefusedError):
        return {"WWW-Authenticate": _BAD_TOKEN}
    if isinstance(error, RateLimitedError | UnavailableError):
        return {"Retry-After": str(error.retry_after)}
    return {}


def refusal(error: LedgerError) -> Refusal | None:
    """Give what is told of an error of the ledger, or None where no door can bring it about."""
    code = _CODES.get(error.code)
    if code is None:
        return None
    if isinstance(error, InvalidError):
        errors = [_error(fault) for fault in error.faults]
        found = dict.fromkeys(word for fault in error.faults for word in fault.nearest)
        return Refusal(code, error.message, errors, tuple(found)[:5])
    if error.code is LedgerCode.UNAVAILABLE:  # the cause names files and hosts: for the log alone
        return Refusal(code, _AWAY, headers=_headers(error))
    nearest = error.nearest
    if isinstance(error, ConflictError) and error.value is not None and not nearest:
        nearest = (error.value,)
    errors = [_error(Fault(error.pointer, error.message))] if error.pointer else []
    return Refusal(code, error.message, errors, nearest, _headers(error))
