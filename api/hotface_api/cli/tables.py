"""Text for people: lines and tables that fit the terminal."""

from __future__ import annotations

import os
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

import click

__all__ = ["heading", "lines", "table", "width"]

_NARROWEST: Final = 40
_GAP: Final = 2
_LABEL: Final = 24


def width() -> int:
    """Give the columns of the terminal; 80 where there is none."""
    return max(_NARROWEST, shutil.get_terminal_size((80, 24)).columns)


def heading(text: str) -> str:
    """Write a heading: bold on a terminal; click takes it off when the output is piped."""
    wrapped = textwrap.fill(text, width(), break_on_hyphens=False)
    return wrapped if os.environ.get("NO_COLOR") else click.style(wrapped, bold=True)


def lines(pairs: Iterable[tuple[str, object]]) -> str:
    """Write labelled lines, leaving out what is absent; long ones hang under their text."""
    shown = [(label, str(value)) for label, value in pairs if value not in (None, "", ())]
    column = min(_LABEL, max((len(label) for label, _ in shown), default=0) + _GAP)
    written = []
    for label, text in shown:
        head = label.ljust(column) if len(label) < column else f"{label}: "
        written.append(
            textwrap.fill(
                text,
                width(),
                initial_indent=head,
                subsequent_indent=" " * column,
                break_on_hyphens=False,
            )
        )
    return "\n".join(written)


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a table; the last column is wrapped so that the whole fits."""
    cells = [list(head), *(["-" if c in (None, "") else str(c) for c in row] for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    before = sum(widths[:-1]) + _GAP * (len(widths) - 1)
    widths[-1] = min(widths[-1], max(_NARROWEST // 2, width() - before))
    return "\n".join(line for row in cells for line in _row(row, widths))


def _row(row: Sequence[str], widths: Sequence[int]) -> list[str]:
    last = textwrap.wrap(row[-1], widths[-1], break_on_hyphens=False) or [""]
    start = "".join(cell.ljust(one + _GAP) for cell, one in zip(row[:-1], widths[:-1], strict=True))
    return [
        ((start if number == 0 else " " * len(start)) + text).rstrip()
        for number, text in enumerate(last)
    ]
