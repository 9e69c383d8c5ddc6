"""BibTeX that a style can read: escaped, braced, and cut to what BibTeX holds."""

from __future__ import annotations

import re

import pytest

from hotface_api.http.bibtex import entries, entry


def field(text, name):
    """Give a field of an entry, without the braces around it."""
    return re.search(rf"^  {name} = \{{(.*)\}},$", text, re.MULTILINE)[1]


def test_a_whole_entry():
    item = {
        "id": "doe-2001",
        "type": "article-journal",
        "title": "Of Heat",
        "author": [{"family": "Doe", "given": "Jane"}, {"literal": "Heat Board"}],
        "container-title": "J. Heat",
        "volume": "3",
        "issue": "2",
        "page": "11-19",
        "issued": {"date-parts": [[2001, 5]]},
        "DOI": "10.1/a_b",
    }
    assert entry(item) == (
        "@article{doe-2001,\n"
        "  author = {Doe, Jane and {Heat Board}},\n"
        "  title = {{Of Heat}},\n"
        "  journal = {J. Heat},\n"
        "  pages = {11--19},\n"
        "  volume = {3},\n"
        "  number = {2},\n"
        "  year = {2001},\n"
        "  month = may,\n"
        "  doi = {10.1/a_b},\n"
        "}\n"
    )


@pytest.mark.parametrize(
    ("kind", "name", "container", "publisher"),
    [
        ("book", "book", "howpublished", "publisher"),
        ("chapter", "incollection", "booktitle", "publisher"),
        ("paper-conference", "inproceedings", "booktitle", "publisher"),
        ("report", "techreport", "howpublished", "institution"),
        ("standard", "techreport", "howpublished", "institution"),
        ("thesis", "phdthesis", "howpublished", "school"),
        ("webpage", "misc", "howpublished", "publisher"),
        ("", "misc", "howpublished", "publisher"),
    ],
)
def test_types_and_their_fields(kind, name, container, publisher):
    item = {"id": "a", "type": kind, "title": "T", "container-title": "C", "publisher": "P"}
    text = entry(item)
    assert text.startswith(f"@{name}{{a,")
    assert field(text, container) == "C"
    assert field(text, publisher) == "P"


def test_signs_of_tex_are_escaped():
    text = entry({"id": "a", "title": r"50 % & $2 #1_x {y} ~z ^q \w"})
    assert field(text, "title") == (
        r"{50 \% \& \$2 \#1\_x \{y\} \textasciitilde{}z \textasciicircum{}q \textbackslash{}w}"
    )


def test_line_ends_cannot_open_a_field():
    text = entry({"id": "a", "title": "x},\n  url = {evil"})
    assert text.count("\n") == 3
    assert "\n  url" not in text


def test_addresses_stay_as_they_are_but_for_braces():
    text = entry({"id": "a", "URL": "https://e.org/a_b?c={d}&e=%20 f"})
    assert field(text, "url") == "https://e.org/a_b?c=%7Bd%7D&e=%20%20f"


def test_a_key_holds_safe_signs_only():
    assert entry({"id": "a b,{c}é"}).startswith("@misc{a-b--c--,")


def test_names_of_every_form():
    people = [
        {"family": "Berg", "given": "A.", "non-dropping-particle": "van den"},
        {"family": "Plato"},
        {"literal": "Board & Co"},
        {},
    ]
    text = field(entry({"id": "a", "author": people}), "author")
    assert text == r"van den Berg, A. and {Plato} and {Board \& Co} and {}"


@pytest.mark.parametrize(
    ("issued", "year", "month"),
    [
        ({"date-parts": [[1999]]}, "1999", None),
        ({"date-parts": [["1999", "12", 3]]}, "1999", "dec"),
        ({"date-parts": [[1999, 13]]}, "1999", None),
        ({"date-parts": []}, None, None),
        ({"raw": "old"}, None, None),
        (None, None, None),
    ],
)
def test_dates(issued, year, month):
    text = entry({"id": "a", "issued": issued})
    assert ("year" in text) == (year is not None)
    assert (f"month = {month}," in text) == (month is not None)
    assert year is None or field(text, "year") == year


def test_a_number_is_that_of_the_report_unless_there_is_an_issue():
    assert field(entry({"id": "a", "type": "standard", "number": "C 155"}), "number") == "C 155"
    both = entry({"id": "a", "type": "article", "number": "e7", "issue": "2"})
    assert re.findall(r"number = \{(.*)\}", both) == ["2"]


def test_an_entry_without_a_title_is_named_by_its_id():
    assert field(entry({"id": "a-1"}), "title") == "{a-1}"


def test_entries_stand_apart():
    assert entries([{"id": "a"}, {"id": "b"}]).count("\n\n@misc{b,") == 1
    assert entries([]) == ""


def test_the_whole_seed_is_written_with_balanced_braces(client):
    url, count = "/v1/sources?limit=200", 0
    while url:
        response = client.get(url, headers={"Accept": "application/x-bibtex"})
        for text in response.text.split("\n\n"):
            bare = re.sub(r"\\[{}]", "", text)
            assert bare.count("{") == bare.count("}")
            count += 1
        link = response.headers.get("Link")
        url = link.split(">")[0][1:] if link else None
    assert count > 500
