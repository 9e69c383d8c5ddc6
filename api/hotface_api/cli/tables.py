"""Text for people: lines and tables that fit the terminal."""

from __future__ import annotations

import os
import shutil
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Final

import click

__all__ = ["blocks", "heading", "lines", "listed", "number", "plain", "table", "width", "wrapped"]

_NARROWEST: Final = 30
_GAP: Final = 2
_LABEL: Final = 24
_LEAST: Final = 10
_SLIMMEST: Final = 20
"""A last column slimmer than this is no longer read with ease: the table is written in lines."""


def width() -> int:
    """Give the columns of the terminal; 80 where there is none."""
    return max(_NARROWEST, shutil.get_terminal_size((80, 24)).columns)


def plain(text: object) -> str:
    r"""Give text without what would steer a terminal: others wrote it.

    Examples
    --------
    >>> plain("a lid\x1b[2J, fired")
    'a lid�[2J, fired'
    """
    return "".join(one if _harmless(one) else "\N{REPLACEMENT CHARACTER}" for one in str(text))


def _harmless(one: str) -> bool:
    """Tell what only shows; of the spaces Python calls the unbreakable ones not printable."""
    return one.isprintable() or one in "\n\t" or unicodedata.category(one) == "Zs"


def blocks(*parts: str) -> str:
    """Part blocks of text by an empty line, leaving out those that are empty."""
    return "\n\n".join(part for part in parts if part)


def listed(names: Iterable[object]) -> str:
    """Write several names after one another."""
    return ", ".join(str(name) for name in names)


def number(value: float | None) -> str:
    """Write a number with four significant digits; a dash where there is none.

    Examples
    --------
    >>> number(0.12345), number(1325.0), number(12345.6), number(None)
    ('0.1235', '1325', '12350', '-')
    """
    if value is None:
        return "-"
    text = f"{value:.4g}"
    return f"{float(text):.0f}" if "e+" in text else text


def wrapped(text: str) -> str:
    """Write a line of text, wrapped to the terminal."""
    return textwrap.fill(plain(text), width(), break_on_hyphens=False)


def heading(text: str) -> str:
    """Write a heading: bold on a terminal; click takes it off when the output is piped."""
    return wrapped(text) if os.environ.get("NO_COLOR") else click.style(wrapped(text), bold=True)


def lines(pairs: Iterable[tuple[str, object]]) -> str:
    """Write labelled lines, leaving out what is absent; long ones hang under their text."""
    shown = [(label, plain(value)) for label, value in pairs if value not in (None, "", ())]
    most = min(_LABEL, width() // 2)
    column = min(most, max((len(label) for label, _ in shown), default=0) + _GAP)
    return "\n".join(_line(label, text, column) for label, text in shown)


def _line(label: str, text: str, column: int) -> str:
    """Write one labelled line; a label that leaves no room for text stands above it."""
    head = label.ljust(column) if len(label) < column else f"{label}: "
    above = ""
    if len(head) + _LEAST > width():
        above = f"{textwrap.fill(label, width(), break_on_hyphens=False)}\n"
        head = " " * column
    written = textwrap.fill(
        text,
        width(),
        initial_indent=head,
        subsequent_indent=" " * column,
        break_on_hyphens=False,
    )
    return above + written


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a table; the last column is wrapped so that the whole fits.

    Where even that does not fit, each row is written in lines under its first cell.
    """
    cells = [["-" if c in (None, "") else plain(c) for c in row] for row in rows]
    every = [list(head), *cells]
    widths = [max(len(row[i]) for row in every) for i in range(len(head))]
    before = sum(widths[:-1]) + _GAP * (len(widths) - 1)
    left = width() - before
    if left < min(widths[-1], _SLIMMEST):
        return "\n".join(_stacked(head, row) for row in cells)
    widths[-1] = min(widths[-1], left)
    return "\n".join(line for row in every for line in _row(row, widths))


def _stacked(head: Sequence[str], row: Sequence[str]) -> str:
    """Write a row of a table that is too wide: its first cell, and the others below it."""
    indent = " " * _GAP
    name = f"{row[0]} {head[0]}" if row[0][:1].isdigit() else row[0]  # a number says little alone
    first = textwrap.fill(name, width(), subsequent_indent=indent, break_on_hyphens=False)
    below = [
        textwrap.fill(
            f"{label}: {cell}",
            width(),
            initial_indent=indent,
            subsequent_indent=indent * 2,
            break_on_hyphens=False,
        )
        for label, cell in zip(head[1:], row[1:], strict=True)
        if cell != "-"
    ]
    return "\n".join([first, *below])


def _row(row: Sequence[str], widths: Sequence[int]) -> list[str]:
    last = textwrap.wrap(row[-1], widths[-1], break_on_hyphens=False) or [""]
    start = "".join(cell.ljust(one + _GAP) for cell, one in zip(row[:-1], widths[:-1], strict=True))
    return [
        ((start if number == 0 else " " * len(start)) + text).rstrip()
        for number, text in enumerate(last)
    ]
