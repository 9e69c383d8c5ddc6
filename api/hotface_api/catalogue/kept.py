"""A small store of what was read or prepared, shared by all requests and safe between threads."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, TypeVar

__all__ = ["Kept"]

Thing = TypeVar("Thing")


class Kept(Generic[Thing]):
    """Keeps the things asked for last.

    What is kept depends on nothing but its key: keys carry the database and revision, so a new
    revision never meets old inputs.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._things: OrderedDict[Hashable, Thing] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Thing | None:
        """Give what is kept under a key."""
        with self._lock:
            found = self._things.get(key)
            if found is not None:
                self._things.move_to_end(key)
            return found

    def put(self, key: Hashable, thing: Thing) -> Thing:
        """Keep a thing and forget the one not asked for longest."""
        with self._lock:
            self._things[key] = thing
            while len(self._things) > self._most:
                self._things.popitem(last=False)
        return thing

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._things.clear()
