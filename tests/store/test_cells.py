"""Cells of CSV files: what a spreadsheet would run is made harmless, and comes back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.store.cells import plain_cell, safe_cell


@pytest.mark.parametrize(
    ("cell", "safe"),
    [
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("+1+1", "'+1+1"),
        ("-1", "-1"),
        ("-4.5e-6", "-4.5e-6"),
        ("-cmd", "'-cmd"),
        ("\t=1", "'\t=1"),
        ("plain", "plain"),
        (None, ""),
        ("", ""),
        ("'-1", "''-1"),
        ("'quoted'", "'quoted'"),
    ],
)
def test_cells_a_spreadsheet_would_run_are_made_harmless(cell, safe):
    assert safe_cell(cell) == safe
    assert plain_cell(safe) == (cell or "")


@given(st.text(alphabet="'=+-@\t\r\n1.ea", max_size=6))
def test_every_text_comes_back(text):
    assert plain_cell(safe_cell(text)) == text
    assert not safe_cell(text).startswith(("=", "@", "\t", "\r", "\n"))
