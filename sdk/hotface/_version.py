"""The version of this package, looked up when first needed."""

from __future__ import annotations

from functools import cache

__all__ = ["agent", "version"]


@cache
def version() -> str:
    """Give the installed version."""
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - costs time

    try:
        return version("hotface")
    except PackageNotFoundError:
        return "0+unknown"


def agent() -> str:
    """Give the ``User-Agent`` of this client."""
    return f"hotface-python/{version()}"
