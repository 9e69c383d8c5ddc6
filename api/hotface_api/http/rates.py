"""Requests counted by weight, by key or address, and told in the fields of their answers.

The fields are those of the draft on rate limit header fields: ``RateLimit-Policy`` and
``RateLimit``. A 304 and the health checks cost nothing, and embedded use counts nothing.
"""

from __future__ import annotations

from functools import lru_cache
from ipaddress import IPv6Address, ip_address
from typing import Final

from flask import current_app, request

from hotface_api.http.callers import caller
from hotface_api.http.carried import ALLOWANCE
from hotface_api.http.context import service
from hotface_api.ledger.errors import KeyRefusedError
from hotface_api.ledger.rates import WEIGHTS, Allowance, RateLimiter, StoreError
from hotface_api.settings import Settings, SettingsError
from hotface_api.store.database import Database

__all__ = [
    "address_of",
    "allowance_fields",
    "identify",
    "limiter_of",
    "spend",
    "weigh",
]

_FREE: Final = frozenset({"healthz", "readyz", "metrics"})
_HOST_BITS: Final = 64
_LONGEST: Final = 64


def limiter_of(settings: Settings, database: Database) -> RateLimiter | None:
    """Make what counts requests, or None where nothing does.

    Raises
    ------
    SettingsError
        If the store cannot be used.
    """
    if settings.rate_limits is None:
        return None
    store = database if settings.rate_store == "database" else settings.rate_store
    try:
        return RateLimiter(store, settings.rate_limits)
    except ValueError as error:
        why = error if isinstance(error, StoreError) else "its address cannot be read"
        raise SettingsError(f"the store of HOTFACE_RATE_STORE cannot be used: {why}") from None


@lru_cache(maxsize=4096)
def address_of(given: str | None) -> str:
    """Name a caller by address; of IPv6 by the network a household is given, 64 bits."""
    try:
        address = ip_address(given or "")
    except ValueError:
        return (given or "unknown")[:_LONGEST]
    if not isinstance(address, IPv6Address):
        return str(address)
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return f"{IPv6Address(int(address) >> _HOST_BITS << _HOST_BITS)}/{_HOST_BITS}"


def allowance_fields(allowance: Allowance | None) -> list[tuple[str, str]]:
    """List what a counted answer tells its caller."""
    if allowance is None:
        return []
    name = f'"{allowance.policy}"'
    return [
        ("RateLimit-Policy", f"{name};q={allowance.quota};w={allowance.window}"),
        ("RateLimit", f"{name};r={allowance.remaining};t={allowance.reset_after}"),
    ]


def identify() -> None:
    """Look up the key of a request that carries one; a bad key counts for its address.

    Raises
    ------
    KeyRefusedError, RateLimitedError, UnavailableError
    """
    if request.endpoint in _FREE:
        return
    try:
        caller()
    except KeyRefusedError:
        _count("anonymous", address_of(request.remote_addr), WEIGHTS["read"])
        raise


def weigh() -> None:
    """Count a request before its view runs.

    Raises
    ------
    RateLimitedError
    """
    if service().limiter is None or request.endpoint in _FREE:
        return
    counted: Allowance | None = request.environ.get(ALLOWANCE)
    if counted is not None:  # on the way in, for an answer that is kept
        counted.check()
        return
    view = current_app.view_functions.get(request.endpoint or "")
    weight: str = getattr(view, "hotface_weight", "read")
    spend(WEIGHTS[weight if request.method == "POST" else "read"])


def spend(weight: int) -> None:
    """Count a weight for whoever sends the request at hand.

    A view calls it where a body turns out to ask for more than its route weighs.

    Raises
    ------
    RateLimitedError
    """
    actor = caller()
    if actor is None:
        _count("anonymous", address_of(request.remote_addr), weight)
    else:
        _count("key", actor.key, weight)


def _count(policy: str, who: str, weight: int) -> None:
    limiter = service().limiter
    if limiter is not None:
        found = request.environ[ALLOWANCE] = limiter.count(policy, who, weight)
        found.check()
