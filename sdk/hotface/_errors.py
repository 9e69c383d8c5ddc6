# ruff: noqa: N818 - the names read as what happened, and all end in the base HotfaceError
"""What can go wrong, as one tree; each message says what to do next.

::

    HotfaceError
    ├── BadQuantity (ValueError)     a number or unit that cannot be read; found before asking
    ├── BadContribution (ValueError) a figure, source or file to hand in that cannot be sent
    ├── BadMixFile (ValueError)      a mix file that cannot be read; names the place
    ├── OutsideSpan (ValueError)     a curve was asked where it has no evidence
    ├── NoAnswer (LookupError)       answered, and the answer is that nothing is held: the reason
    ├── NotInstalled (ImportError)   Client() without the server extra; no pandas, no matplotlib
    ├── ConnectionFailed (OSError)   nothing answered: refused, timed out, wrong name
    ├── NotAnAnswer                  something answered, not hotface: a proxy's page, a cut answer
    ├── OldServer                    404, 405: a service that lacks what this SDK asks for
    └── ProblemError                 the service answered with a problem document
        ├── InvalidRequest           400, 406, 413, 415, 422: what was asked makes no sense
        │                            (invalid_body, invalid_contribution, unknown_parameter ...)
        ├── NotAllowed               403: not with this key, or read-only
        │   │                        (curators_only, not_yours, own_submission, larger_search)
        │   ├── KeyNeeded            401 key_needed: this asks for a key
        │   └── KeyRefused           401: the key is not known, expired or revoked
        ├── NotFound                 404: an unknown id; nearest ids are named
        ├── Gone                     410: withdrawn or replaced; its history is kept
        ├── Conflict                 409: its state excludes this, or it was handed in before
        │   │                        (wrong_state, already_contributed, reference_gone)
        │   ├── Stale                412: someone changed it meanwhile; read it again
        │   └── VersionNeeded        428: a change names the version it is about
        ├── RateLimited              429: asked too often; `retry_after` says how long to wait
        └── ServerFault              5xx: the service failed; report it with the request id
            └── Unavailable          503: not ready, or its database is away; ask again
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = [
    "BadContribution",
    "BadMixFile",
    "BadQuantity",
    "Conflict",
    "ConnectionFailed",
    "Gone",
    "HotfaceError",
    "InvalidRequest",
    "KeyNeeded",
    "KeyRefused",
    "NoAnswer",
    "NotAllowed",
    "NotAnAnswer",
    "NotFound",
    "NotInstalled",
    "OldServer",
    "OutsideSpan",
    "ProblemError",
    "RateLimited",
    "ServerFault",
    "Stale",
    "Unavailable",
    "VersionNeeded",
    "problem_error",
]


class HotfaceError(Exception):
    """Anything this package raises on purpose."""


class BadQuantity(HotfaceError, ValueError):
    """A number or unit that cannot be read; ``nearest`` lists units that can."""

    def __init__(self, message: str, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(message, nearest)
        self.nearest = nearest

    def __str__(self) -> str:
        hint = f" (units that can be used: {', '.join(self.nearest)})" if self.nearest else ""
        return f"{self.args[0]}{hint}"


class BadContribution(HotfaceError, ValueError):
    """A figure, source or file that cannot be handed in; found before anything is sent."""


class BadMixFile(HotfaceError, ValueError):
    """A mix file that cannot be read; the message names file and place."""


class OutsideSpan(HotfaceError, ValueError):
    """A curve was asked at a temperature where it has no evidence."""


class NoAnswer(HotfaceError, LookupError):
    """The service answered that nothing is held; the message gives its reason."""


class NotInstalled(HotfaceError, ImportError):
    """Something optional was asked for that is not installed; the message says how to get it."""


class ConnectionFailed(HotfaceError, OSError):
    """Nothing answered at the address, or not in time.

    Attributes
    ----------
    final : bool
        True if asking again cannot help, as with a certificate that is not accepted.
    idempotency_key : str or None
        Of a change: sent again under this key it is done once.
    """

    request_id: str | None = None
    idempotency_key: str | None = None

    def __init__(self, message: str, *, final: bool = False) -> None:
        super().__init__(message)
        self.final = final

    def __str__(self) -> str:
        return f"{self.args[0]}{_perhaps_done(self.idempotency_key)}"


class NotAnAnswer(HotfaceError):
    """Something answered, but not with what a hotface service sends.

    Attributes
    ----------
    status : int or None
        The HTTP status, if one was read.
    cut : bool
        True if the answer broke off half way; asking again may help.
    idempotency_key : str or None
        Of a change: sent again under this key it is done once.
    """

    request_id: str | None = None
    idempotency_key: str | None = None

    def __init__(self, message: str, status: int | None = None, *, cut: bool = False) -> None:
        super().__init__(message, status)
        self.status = status
        self.cut = cut

    def __str__(self) -> str:
        return f"{self.args[0]}{_perhaps_done(self.idempotency_key)}"


def _perhaps_done(idempotency_key: str | None) -> str:
    """Tell what to do about a change of which no answer came."""
    if idempotency_key is None:
        return ""
    return (
        "; whether the change was made is not known: look, or make it again with"
        f" idempotency_key={idempotency_key!r}, under which it is made once"
    )


class OldServer(HotfaceError):
    """The service answers, but lacks what this SDK asks for."""

    request_id: str | None = None


class ProblemError(HotfaceError):
    """The service refused or failed, and said why.

    Attributes
    ----------
    status : int
        HTTP status.
    problem : dict
        The problem document (RFC 9457) as sent.
    request_id : str or None
        Names this request in the service's log.
    retry_after : float or None
        Seconds the service asks to wait before the next attempt.
    index : int or None
        In a batch, the place of the question this is the answer to.
    """

    def __init__(
        self,
        status: int,
        problem: Mapping[str, Any],
        request_id: str | None = None,
        retry_after: float | None = None,
        index: int | None = None,
    ) -> None:
        super().__init__(status, problem, request_id, retry_after, index)
        self.status = status
        self.problem = dict(problem)
        self.request_id = request_id or self.problem.get("request_id")
        self.retry_after = retry_after
        self.index = index

    @property
    def code(self) -> str | None:
        """The stable word for this kind of problem."""
        return self.problem.get("code")

    @property
    def detail(self) -> str:
        """What was wrong and what to do, in a sentence."""
        return str(self.problem.get("detail") or self.problem.get("title") or "no detail given")

    @property
    def errors(self) -> tuple[dict[str, Any], ...]:
        """Each thing wrong with its place: ``detail`` and ``pointer`` or ``parameter``."""
        return tuple(self.problem.get("errors") or ())

    @property
    def nearest(self) -> tuple[str, ...]:
        """The nearest right words, such as ids that exist."""
        return tuple(str(word) for word in self.problem.get("nearest") or ())

    def __str__(self) -> str:
        lines = [self.detail if self.index is None else f"question {self.index}: {self.detail}"]
        for error in self.errors:
            place = error.get("pointer") or error.get("parameter")
            text = f"{place}: {error.get('detail')}" if place else str(error.get("detail"))
            if self.detail not in (error.get("detail"), text):
                lines.append(f"  {text}")
        if self.nearest and not any(word in lines[0] for word in self.nearest):
            lines.append(f"  nearest: {', '.join(self.nearest)}")
        if advice := self._advice():
            lines.append(f"  {advice}")
        request = f", request {self.request_id}" if self.request_id else ""
        lines.append(f"  ({self.status} {self.code or 'problem'}{request})")
        return "\n".join(lines)

    def _advice(self) -> str:
        return ""


class InvalidRequest(ProblemError):
    """What was asked makes no sense; ``errors`` names the places."""


class NotAllowed(ProblemError):
    """Not with the key that was sent; or the service is read-only."""


class KeyNeeded(NotAllowed):
    """A key is needed, and none was sent."""

    def _advice(self) -> str:
        return (
            "give Client(key=...) or set HOTFACE_KEY; who runs the service makes keys with"
            " 'hotface key make'"
        )


class KeyRefused(NotAllowed):
    """The key is not known here, has expired or was revoked.

    Attributes
    ----------
    key_from : str or None
        Where the key came from, such as ``HOTFACE_KEY``; never the key itself.
    """

    key_from: str | None = None

    def _advice(self) -> str:
        where = f"the key came from {self.key_from}; " if self.key_from else ""
        return f"{where}ask who runs the service for another"


class NotFound(ProblemError):
    """Nothing has that id; ``nearest`` names ids that exist."""


class Gone(ProblemError):
    """It was withdrawn or replaced; ``Client.history`` still shows it."""


class Conflict(ProblemError):
    """The state of the value excludes this, or it was handed in before."""


class Stale(Conflict):
    """Someone changed it meanwhile: read it again, and repeat the change if it still holds."""

    def _advice(self) -> str:
        return "read it again with Client.contribution, and repeat the change if it still holds"


class VersionNeeded(Conflict):
    """A change names the version it is about."""

    def _advice(self) -> str:
        return "give the entry you looked at, or its version"


class RateLimited(ProblemError):
    """Asked too often, and waiting as long as this client may did not help."""

    def _advice(self) -> str:
        if self.retry_after is None:
            return "wait a minute, or ask many questions in one call (survivals, estimates)"
        return f"wait {self.retry_after:.0f} s, or ask many questions in one call"


class ServerFault(ProblemError):
    """The service failed; nothing was wrong with the question as far as this side can tell."""

    def _advice(self) -> str:
        return "try again later; if it stays, report it with the request id"


class Unavailable(ServerFault):
    """The service is not ready, or its database is locked or away; nothing was written."""

    def _advice(self) -> str:
        wait = "shortly" if self.retry_after is None else f"in {self.retry_after:.0f} s"
        return f"ask again {wait}; a change sent twice with one key is done once"


_KINDS: dict[int, type[ProblemError]] = {
    401: KeyRefused,
    403: NotAllowed,
    404: NotFound,
    409: Conflict,
    410: Gone,
    412: Stale,
    428: VersionNeeded,
    429: RateLimited,
    503: Unavailable,
}
_SERVER_FAULTS = 500


def problem_error(
    status: int,
    problem: Mapping[str, Any],
    request_id: str | None = None,
    retry_after: float | None = None,
    index: int | None = None,
) -> ProblemError:
    """Make the error of the right kind for a problem document."""
    kind = _KINDS.get(status, ServerFault if status >= _SERVER_FAULTS else InvalidRequest)
    if kind is KeyRefused and problem.get("code") == "key_needed":
        kind = KeyNeeded
    return kind(status, problem, request_id, retry_after, index)
