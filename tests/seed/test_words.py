"""The words of the data: no brands, no talk of how the data were gathered, nothing borrowed.

``names.sha256`` holds digests of well known makers' and trade names (words, pairs and triples of
words, lower case), so that the list itself prints none of them.
"""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from hotface_seed import PACKAGE_PATH

NAMES = set((Path(__file__).parent / "names.sha256").read_text(encoding="ascii").split())
WORD = re.compile(r"[^\W_]+")
TALK = re.compile(
    r"\b(computed here|evaluated here|this survey|our set|this set|this file|evidence row"
    r"|row \d+ of the set|helper|session|workspace|todo|fixme|xxx|lorem|chatgpt|llm"
    r"|video|channel|subscriber)\b|/(tmp|work|home)/|values\.csv|https?://localhost",
    re.IGNORECASE,
)


def digests(text):
    words = WORD.findall(text.lower())
    for size in (1, 2, 3):
        for start in range(len(words) - size + 1):
            group = " ".join(words[start : start + size])
            yield group, hashlib.sha256(group.encode()).hexdigest()[:16]


def texts(seed):
    """Every text of the package with the id of its row."""
    for name, rows in seed.rows.items():
        for row in rows:
            key = row.get("id") or f"{row['specimen']} {row['position']}"
            for column, cell in row.items():
                if isinstance(cell, str):
                    yield f"{name} {key}", column, cell
            if "item" in row:
                yield f"{name} {key}", "item", json.dumps(row["item"], ensure_ascii=False)


def test_the_list_of_names_is_a_list_of_names():
    assert len(NAMES) > 200
    sample = "kao" + "wool"  # written apart so that this file holds no name either
    assert hashlib.sha256(sample.encode()).hexdigest()[:16] in NAMES


def test_no_brand_and_no_maker_is_named(seed, exceptions):
    named = {}
    for key, column, text in texts(seed):
        for _, digest in digests(text):
            if digest in NAMES:
                named[key] = column
    exceptions("no brand").hold(named)


def test_nothing_tells_of_how_the_data_were_gathered(seed):
    for key, column, text in texts(seed):
        found = TALK.search(text)
        assert found is None, (key, column, found[0])


@pytest.mark.parametrize("path", sorted(PACKAGE_PATH.parent.glob("*")), ids=lambda p: p.name)
def test_no_file_of_the_seed_names_a_place_on_a_machine(path):
    if path.is_file() and path.suffix in (".csv", ".json", ".py"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"/(tmp|root|work|home)/|site-packages", text)


def test_texts_are_short_words_of_our_own(seed):
    """Long quotation marks would be a copied sentence; condition and note stay short."""
    for row in seed.rows["values"]:
        for column in ("condition_text", "note"):
            text = row[column] or ""
            assert len(text) <= 220, (row["id"], column, len(text))
            for quoted in re.findall(r'"([^"]*)"', text):
                assert len(quoted.split()) <= 8, (row["id"], quoted)


def test_texts_use_the_units_and_marks_of_the_rest(seed):
    """Degrees are written ``Cel`` and ``K``; no degree sign, no curly quotes, no tabs."""
    for name in ("values", "specimens", "phases", "cautions", "practice", "materials"):
        for row in seed.rows[name]:
            for column in ("condition_text", "note", "description", "statement", "fact", "advice"):
                assert not re.search(r"[°“”‘’\t]", row.get(column) or ""), (row["id"], column)
