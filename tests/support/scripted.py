"""A transport that answers from a script, for what the real service cannot be made to do."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from hotface import Client, Request, Response, RetryPolicy

__all__ = ["Scripted", "Unhurried", "answered", "client_of", "problem"]


def answered(data: Any, status: int = 200, **headers: str) -> Response:
    """Make a JSON response; header names with underscores for hyphens."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    body = json.dumps(data).encode()
    return Response(status, {"content-type": "application/json", **named}, body)


def problem(status: int, code: str, detail: str = "no", **headers: str) -> Response:
    """Make a problem response."""
    document = {"type": "x", "title": "t", "status": status, "detail": detail, "code": code}
    response = answered({**document, "errors": []}, status, **headers)
    media = {"content-type": "application/problem+json"}
    return Response(status, {**response.headers, **media}, response.body)


class Scripted:
    """Gives the responses of a script in order and keeps the requests."""

    def __init__(self, *script: Response | Exception) -> None:
        self.script = list(script)
        self.requests: list[Request] = []
        self.closed = False

    def __repr__(self) -> str:
        return "the scripted service"

    def send(self, request: Request) -> Response:
        self.requests.append(request)
        step = self.script.pop(0)
        if isinstance(step, Exception):
            raise step
        return step

    def close(self) -> None:
        self.closed = True

    @property
    def headers(self) -> Mapping[str, str]:
        """Headers of the last request."""
        return self.requests[-1].headers


class Unhurried(RetryPolicy):
    """Waits nowhere, writes down how long it would have, and takes the whole wait."""

    def jitter(self) -> float:
        return 1.0

    def pause(self, seconds: float) -> None:
        self.__dict__.setdefault("waits", []).append(seconds)

    @property
    def waited(self) -> list[float]:
        waits: list[float] = self.__dict__.get("waits", [])
        return waits


def client_of(*script: Response | Exception, **options: Any) -> tuple[Client, Scripted]:
    """Make a client over a script."""
    transport = Scripted(*script)
    return Client(transport=transport, **{"retries": Unhurried(), **options}), transport
