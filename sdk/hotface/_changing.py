"""Changes: sent with the version they are about, under a key that lets them be done once."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from hotface._asking import Asking
from hotface._calls import JSON, Answer, query_of
from hotface._transport import Request

if TYPE_CHECKING:
    from hotface._entries import Entry, Standing

__all__ = ["AskedEntry", "Changing", "key_field", "seen_version"]

AskedEntry: TypeAlias = "Entry | Standing | str"
"""A contributed value: what was looked at, or its id."""


class Changing(Asking):
    """Sends changes."""

    def _contributed(self) -> dict[str, Any]:
        """Contributions are asked for as they stand, at no revision."""
        return {"units": self._common.get("units")}

    def _change(
        self,
        path: str,
        body: Mapping[str, Any],
        *,
        version: int | None = None,
        parameters: Mapping[str, Any] | None = None,
        idempotency_key: str | None = None,
        patience: float = 0.0,
    ) -> Answer:
        """Send a change: with the version it is about, and a key under which it is done once."""
        headers = {"Content-Type": JSON, **key_field(idempotency_key)}
        if version is not None:
            headers["If-Match"] = f'"{version}"'
        query = query_of({**(parameters or {}), **self._contributed()})
        sent = json.dumps(body, ensure_ascii=False, allow_nan=False).encode()
        return self._caller.answer(Request("POST", path, query, headers, sent, patience))


def key_field(idempotency_key: str | None) -> dict[str, str]:
    return {} if idempotency_key is None else {"Idempotency-Key": idempotency_key}


def seen_version(entry: AskedEntry, version: int | None) -> tuple[str, int]:
    """Give the value and the version of it that was looked at."""
    if isinstance(entry, str):
        if version is None:
            raise ValueError(
                f"say which version of {entry} you looked at: give the entry that"
                " Client.contribution gave, or version="
            )
        return entry, version
    value = entry.value if isinstance(entry.value, str) else entry.value.id
    return value, entry.version if version is None else version
