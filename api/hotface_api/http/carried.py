"""What a request carries with it on its way through, by name in its WSGI environment.

The names hold a dot and no capitals, so that no header field of a caller can set them.
"""

from __future__ import annotations

from typing import Final

__all__ = ["ALLOWANCE", "EMBEDDED", "LATEST", "PROGRESS", "REQUEST_ID", "RULE"]

ALLOWANCE: Final = "hotface.allowance"
"""What its caller has left of this minute, once it was counted."""
EMBEDDED: Final = "hotface.embedded"
"""Set where the caller is in this very process."""
LATEST: Final = "hotface.latest"
"""The latest revision, once it was looked up."""
PROGRESS: Final = "hotface.progress"
"""What an embedded caller wants to be called with: how much is done, and of how much."""
REQUEST_ID: Final = "hotface.request_id"
"""What names this very request in the log and in its answer."""
RULE: Final = "hotface.rule"
"""The rule of its route, once one was found."""
