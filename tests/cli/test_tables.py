"""Text that fits whatever terminal there is, and loses nothing."""

import doctest
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.cli import files, sheets, tables

WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=60)
WIDTHS = st.integers(30, 130)


def bare(text):
    return "".join(text.split())


def fits(text, columns):
    return all(len(line) <= columns for line in text.splitlines())


def at_width(columns):
    patch = pytest.MonkeyPatch()
    patch.setenv("COLUMNS", str(columns))
    return patch


@given(WIDTHS, st.integers(2, 7), st.data())
def test_a_table_fits_and_holds_every_cell(columns, count, data):
    row = st.lists(WORDS | st.none() | st.integers(), min_size=count, max_size=count)
    rows = data.draw(st.lists(row, min_size=1, max_size=4))
    head = [f"name {place}" for place in range(count)]
    patch = at_width(columns)
    try:
        written = tables.table(head, rows)
    finally:
        patch.undo()
    assert fits(written, columns)
    flat = bare(written)
    for cells in rows:
        # wrapping parts a long last cell with the start of the next line between: look at words
        for cell in cells[:-1]:
            if cell not in (None, "") and len(bare(str(cell))) < 12:
                assert bare(str(cell)) in flat


@given(WIDTHS, st.lists(st.tuples(WORDS, WORDS | st.none()), max_size=5))
def test_labelled_lines_fit(columns, pairs):
    patch = at_width(columns)
    try:
        written = tables.lines(pairs)
        title = tables.wrapped(" ".join(label for label, _ in pairs))
    finally:
        patch.undo()
    assert fits(written, columns)
    assert fits(title, columns)
    for label, value in pairs:
        if value not in (None, ""):
            assert bare(label)[:8] in bare(written)


@given(st.text())
def test_nothing_of_others_steers_the_terminal(text):
    shown = tables.plain(text)
    assert len(shown) == len(text)
    kinds = {unicodedata.category(one) for one in shown if one not in "\n\t"}
    assert not kinds & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def test_an_unbreakable_space_is_a_space():
    assert tables.plain("50\u00a0kg") == "50\u00a0kg"


@pytest.mark.parametrize("module", [tables, sheets, files])
def test_the_examples_hold(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0
