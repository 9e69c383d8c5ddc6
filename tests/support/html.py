"""Whether what a notebook is shown is well-formed and can be followed by a screen reader."""

from __future__ import annotations

from html.parser import HTMLParser

__all__ = ["Balanced", "check_html"]

VOID = {"br", "hr", "img", "meta"}


class Balanced(HTMLParser):
    """Fails on a tag that is not closed in order."""

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, _attributes):
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def check_html(result):
    """Check what a result shows in a notebook; gives it."""
    page = result._repr_html_()
    parser = Balanced()
    parser.feed(page)
    assert parser.open == []
    assert "<caption>" in page
    assert "<th scope=" in page
    return page
