"""What the site builder is told besides ``mkdocs.yml``: our fences say more than a language.

``bash not-run`` and ``toml file=lid.toml`` are read by ``refresh.py``; the builder's Markdown takes
only the language. The name of a file is shown above its block.
"""

from __future__ import annotations

import re
from typing import Any

FENCE = re.compile(r"^```(\w+) ([^\n`]+)$", re.MULTILINE)
NAME = re.compile(r"file=(\S+)")


def _plain(fence: re.Match[str]) -> str:
    name = NAME.search(fence[2])
    above = f"`{name[1]}`:\n\n" if name else ""
    return f"{above}```{fence[1]}"


def on_page_markdown(markdown: str, **_: Any) -> str:
    """Give a page as the builder reads it."""
    return FENCE.sub(_plain, markdown)
