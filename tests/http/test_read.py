"""Reads from the store: alike on both databases, at any revision."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from hotface_api.store import read
from hotface_api.store.models import Material, Specimen, Value
from support.small import CHANGED, GONE, REPLACED, REPLACING


@pytest.fixture
def connection(small):
    with small.read() as opened:
        yield opened


def test_rows_are_those_of_the_revision(connection):
    assert read.find(connection, Value, 1, CHANGED)["printed_typical"] == "950"
    assert read.find(connection, Value, 2, CHANGED)["printed_typical"] == "960"
    assert read.find(connection, Value, 1, GONE) is not None
    assert read.find(connection, Value, 2, GONE) is None
    assert read.find(connection, Value, 1, REPLACING) is None


def test_pending_rows_hold_at_no_revision(connection):
    pending = select(read.table(Value).c.id).where(read.dated(Value, 10**6))
    assert GONE not in set(connection.scalars(pending))


def test_whole_tables_come_by_bytes_of_their_ids(connection):
    ids = [row["id"] for row in read.held(connection, Material, 2)]
    assert ids == sorted(ids)
    assert set(read.known_ids(connection, Material, 2)) == set(ids)


def test_bytes_order_capitals_and_signs_before_letters(connection):
    words = ["a-b", "a.b", "aB", "ab", "Ab", "a_b", "é", "z"]
    union = " UNION ALL ".join(f"SELECT '{word}' AS w" for word in words)
    from sqlalchemy import String, column, text  # noqa: PLC0415 - only here

    w = column("w", String)
    statement = select(w).select_from(text(f"({union}) AS listed")).order_by(read.bytewise(w))
    found = list(connection.scalars(statement))
    assert found == sorted(words, key=lambda word: word.encode())


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("50_50", 5),
        ("5050", 0),
        ("50%50", 0),
        ("MEAN temperature", 5),
        ("temperature mean", 5),
        ("mean demo-sand", 0),
        ("lb/FT³", 1),
        ("°f", 1),
        ("°F", 1),
        ("\\", 0),
        ("'", 0),
    ],
)
def test_words_are_found_alike(connection, text, wanted):
    found = read.values(connection, 2, read.ValueFilter(q=text), None, 100)
    assert len(found) == wanted


def test_a_percent_sign_means_itself(connection):
    found = read.specimens(connection, 2, read.SpecimenFilter(q="50 %"), None, 10)
    assert [row["id"] for row in found] == ["demo-curve-1"]
    assert read.specimens(connection, 2, read.SpecimenFilter(q="5%t"), None, 10) == []


def test_filters_are_any_of_within_and_all_of_between(connection):
    wanted = read.ValueFilter(material=("demo-sand", "demo-perlite"), role=("use_limit",))
    found = read.values(connection, 2, wanted, None, 100)
    assert {row["material"] for row in found} == {"demo-sand", "demo-perlite"}
    assert {row["role"] for row in found} == {"use_limit"}


def test_materials_having_every_property(connection):
    both = read.having(connection, 2, ["service_limit", "loose_bulk_density"])
    assert "demo-perlite" in both
    assert "demo-brick" not in both
    assert "demo-brick" in read.having(connection, 2, ["service_limit"])


@pytest.mark.parametrize("start", [REPLACED, REPLACING])
def test_history_follows_replacements_both_ways(connection, start):
    chain = [(row["id"], row["from_revision"]) for row in read.value_history(connection, 2, start)]
    assert chain == [(REPLACED, 1), (REPLACING, 2)]


def test_history_of_before_knows_nothing_of_after(connection):
    assert [row["id"] for row in read.value_history(connection, 1, REPLACED)] == [REPLACED]
    assert read.value_history(connection, 1, REPLACING) == []


def test_history_tells_a_mended_row_twice(connection):
    chain = [
        (row["printed_typical"], row["to_revision"])
        for row in read.value_history(connection, 2, CHANGED)
    ]
    assert chain == [("950", 2), ("960", None)]


def test_a_specimen_comes_with_its_recipe_in_order(connection):
    row, recipe = read.specimen(connection, 2, "demo-cast-1")
    assert row["name"] == "Demo cast body 1"
    assert [line["material"] for line in recipe] == ["cac-demo-40", "demo-perlite"]
    assert read.specimen(connection, 2, "demo-curve-1")[1] == []
    assert read.specimen(connection, 2, "nothing") is None
    assert read.constituents(connection, 2, []) == {}


def test_specimens_are_found_by_what_they_hold(connection):
    wanted = read.SpecimenFilter(constituent=("demo-perlite",))
    found = read.specimens(connection, 2, wanted, None, 10)
    assert [row["id"] for row in found] == ["demo-cast-1"]
    assert "demo-curve-1" in read.known_ids(connection, Specimen, 2)


def test_values_of_a_specimen_come_by_property_and_temperature(connection):
    found = read.values_of_specimen(connection, 2, "demo-cast-1")
    keys = [(row["property"], row["temperature_low"] or 0) for row in found]
    assert keys == sorted(keys)
    assert len(keys) == 4


def test_revisions_come_newest_first(connection):
    assert [row["number"] for row in read.revisions(connection, 2, None, 10)] == [2, 1]
    assert [row["number"] for row in read.revisions(connection, 1, None, 10)] == [1]
    assert [row["number"] for row in read.revisions(connection, 2, 2, 10)] == [1]
