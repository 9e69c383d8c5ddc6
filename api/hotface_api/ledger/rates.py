"""Rate limits by weight: each caller has so much a minute, and a request costs what it weighs.

The counting is the ``limits`` library's, a sliding window over two counters. Counts live in this
process by default; with a shared store (this database, or Redis by its address) all workers count
together. A store that fails lets requests through, and that is counted: a limiter guards the
service, it must not be what takes it down.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from hotface_api.ledger.errors import RateLimitedError
from hotface_api.store.database import Database

__all__ = ["WEIGHTS", "Allowance", "RateLimiter", "StoreError"]

WINDOW: Final = 60
WEIGHTS: Final[Mapping[str, int]] = {
    "read": 1,
    "estimate": 5,
    "search": 10,
    "submit": 5,
    "review": 2,
    "bulk": 20,
}
"""What a request costs; a 304 and the health checks cost nothing and are not counted."""
_PATIENCE: Final = 0.25
"""Seconds to wait for a store elsewhere: no request is worth more waiting for its counter."""


class StoreError(ValueError):
    """A store for counters that cannot be used."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a caller has left: for the fields ``RateLimit`` and ``RateLimit-Policy``.

    Attributes
    ----------
    policy : str
        Its name.
    quota, window : int
        Weight allowed in so many seconds.
    remaining : int
    reset_after : int
        Seconds until some of it is free again.
    allowed : bool
    """

    policy: str
    quota: int
    window: int
    remaining: int
    reset_after: int
    allowed: bool

    def check(self) -> None:
        """Raise where the request is over the limit.

        Raises
        ------
        RateLimitedError
        """
        if not self.allowed:
            raise RateLimitedError(
                f"over the limit of {self.quota} in {self.window} s; wait {self.reset_after} s",
                retry_after=self.reset_after,
            )


class RateLimiter:
    """Counts requests by caller.

    Parameters
    ----------
    store : str or Database
        ``"memory"`` (each process for itself), a ``Database`` (shared by all that use it), or an
        address that ``limits`` knows, such as ``redis://host:6379``.
    policies : mapping
        Weight a minute by the name of the policy: ``anonymous`` and ``key``.

    Attributes
    ----------
    failures : int
        How often the store failed and a request was let through uncounted.

    Raises
    ------
    StoreError
        If there is no such store, or what it needs is not installed.
    """

    def __init__(self, store: str | Database, policies: Mapping[str, int]) -> None:
        from limits import RateLimitItemPerMinute  # noqa: PLC0415 - loads much; few need it
        from limits.strategies import SlidingWindowCounterRateLimiter  # noqa: PLC0415

        self._limiter = SlidingWindowCounterRateLimiter(_storage(store))
        self._items = {
            name: RateLimitItemPerMinute(quota, namespace=name) for name, quota in policies.items()
        }
        self.policies = dict(policies)
        self.failures = 0

    def count(self, policy: str, caller: str, cost: int = 1) -> Allowance:
        """Count a request of a caller.

        Parameters
        ----------
        policy : str
            ``anonymous`` or ``key``.
        caller : str
            An address or a key's id.
        cost : int
            What it weighs; 0 only looks.

        Returns
        -------
        Allowance
            Its ``check()`` raises where the request is over the limit; such a request is not
            counted.
        """
        quota, item = self.policies[policy], self._items[policy]
        try:
            fits = cost == 0 or self._limiter.hit(item, caller, cost=cost)
            stats = self._limiter.get_window_stats(item, caller)
        except Exception:  # noqa: BLE001 - whatever a store raises, the service goes on
            self.failures += 1
            return Allowance(policy, quota, WINDOW, quota, WINDOW, allowed=True)
        wait = min(WINDOW, max(1, math.ceil(stats.reset_time - time.time())))
        return Allowance(policy, quota, WINDOW, max(0, stats.remaining), wait, allowed=fits)


def _storage(store: str | Database) -> Any:
    if isinstance(store, Database):
        from hotface_api.ledger.windows import DatabaseWindows  # noqa: PLC0415

        return DatabaseWindows(store)
    from limits.errors import ConfigurationError  # noqa: PLC0415
    from limits.storage import storage_from_string  # noqa: PLC0415

    quick: Any = {"socket_connect_timeout": _PATIENCE, "socket_timeout": _PATIENCE}
    address = "memory://" if store == "memory" else store
    try:
        return storage_from_string(address, **(quick if address.startswith("redis") else {}))
    except ConfigurationError as error:
        raise StoreError(str(error)) from error
