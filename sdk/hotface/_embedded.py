"""Finding the embedded service: the same answers in this process, without a server.

The SDK imports nothing of the service. The service announces itself in the entry point group
``hotface.embedded``: a function that gives a transport.
"""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points
from typing import Final

from hotface._errors import NotInstalled
from hotface._transport import Transport

__all__ = ["GROUP", "open_embedded"]

GROUP: Final = "hotface.embedded"
_ADVICE: Final = (
    "install it with  pip install 'hotface[server]'  or give the address of a service:"
    " Client('https://...')"
)


def _find() -> EntryPoint:
    found = list(entry_points(group=GROUP))
    if not found:
        raise NotInstalled(f"no embedded service is installed here; {_ADVICE}")
    return found[0]


def open_embedded(*, writable: bool = False) -> Transport:
    """Open the embedded service.

    Raises
    ------
    NotInstalled
        If the service or something it needs is not installed.
    """
    entry = _find()
    try:
        opened: Transport = entry.load()(writable=writable)
    except ImportError as error:
        missing = error.name or str(error)
        raise NotInstalled(f"the embedded service lacks {missing}; {_ADVICE}") from error
    return opened
