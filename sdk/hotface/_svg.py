"""A matplotlib figure as SVG that may stand in a notebook: named, described, ids of its own."""

from __future__ import annotations

import re
from hashlib import sha256
from html import escape
from io import BytesIO
from typing import Any, Final

__all__ = ["inline_svg"]

_IDS: Final = re.compile(r'\bid="([^"]+)"')
_OPENING: Final = re.compile(r"<svg\b[^>]*>")
_VIEW: Final = re.compile(r'viewBox="([^"]+)"')
_DROPPED: Final = re.compile(r"<metadata>.*?</metadata>|<!--.*?-->", re.DOTALL)


def inline_svg(figure: Any, title: str, description: str) -> str:
    """Write a figure as one ``svg`` element: an image with a title and a description.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    title, description : str
        What it is, and what it shows in words and numbers, for who cannot see it.
    """
    import matplotlib as mpl  # noqa: PLC0415 - the figure exists, so it is loaded

    written = BytesIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "hotface"}):
        figure.savefig(written, format="svg", metadata={"Date": None}, transparent=True)
    text = written.getvalue().decode()
    key = "hf" + sha256(f"{title}{description}{text}".encode()).hexdigest()[:10]
    opening = _OPENING.search(text)
    assert opening is not None  # noqa: S101 - matplotlib writes one
    view = _VIEW.search(opening[0])
    inside = _DROPPED.sub("", text[opening.end() :])
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        f' viewBox="{view[1] if view else "0 0 100 100"}" role="img"'
        f' aria-labelledby="{key}-title" aria-describedby="{key}-desc"'
        ' style="max-width:40em;width:100%;background:white">'
        f'<title id="{key}-title">{escape(title)}</title>'
        f'<desc id="{key}-desc">{escape(description)}</desc>'
        f"{_own_ids(inside, key)}"
    )


def _own_ids(text: str, key: str) -> str:
    """Keep the ids that are referred to, made unique to the figure; drop the others."""
    referred = set(re.findall(r"url\(#([^)]+)\)", text)) | set(re.findall(r'href="#([^"]+)"', text))

    def renamed(found: re.Match[str]) -> str:
        return f'id="{key}-{found[1]}"' if found[1] in referred else ""

    text = _IDS.sub(renamed, text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", text)
    return re.sub(r'href="#([^"]+)"', rf'href="#{key}-\1"', text)
