"""Example answers for the OpenAPI document, kept beside the code as JSON.

They are real answers to example requests, shortened; ``docs/make_examples.py`` writes them anew.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["example_of"]


@cache
def _held() -> dict[str, Any]:
    path = files("hotface_api.http").joinpath("examples.json")
    held: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return held


def example_of(operation: str, media: str = "application/json") -> Any:
    """Give the example answer of an operation, or ``None`` if there is none."""
    return _held().get(f"{operation} {media}")
