"""What a request carries with it on its way through, by name in its WSGI environment.

The names hold a dot and no capitals, so that no header field of a caller can set them.
"""

from __future__ import annotations

from typing import Final

__all__ = ["LATEST", "REQUEST_ID", "RULE"]

LATEST: Final = "hotface.latest"
"""The latest revision, once it was looked up."""
REQUEST_ID: Final = "hotface.request_id"
"""What names this very request in the log and in its answer."""
RULE: Final = "hotface.rule"
"""The rule of its route, once one was found."""
