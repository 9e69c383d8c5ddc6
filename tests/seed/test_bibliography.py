"""Citations through tools that know nothing of us: a citation processor and a BibTeX parser."""

from __future__ import annotations

import re
import warnings

import pytest

from hotface_api.http.bibtex import entries

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import bibtexparser
    import citeproc
    from citeproc.source.json import CiteProcJSON

KNOWN = {  # a citation worked out by hand from the item's own fields
    "kaiser-2008-zircon": ("Kaiser", "2008", "Thermal stability of zircon"),
    "rankin-1915-ternary": ("Rankin", "1915", "The ternary system CaO-Al2O3-SiO2"),
    "barea-2005-mullite": ("Barea", "2005", "Thermal conductivity of highly porous mullite"),
}


@pytest.mark.filterwarnings("default")
def test_a_citation_processor_prints_every_source(seed):
    style = citeproc.CitationStylesStyle("harvard-cite-them-right", validate=False)
    source = CiteProcJSON([dict(item) for item in seed.items.values()])
    bibliography = citeproc.CitationStylesBibliography(style, source, citeproc.formatter.plain)
    for key in seed.items:
        bibliography.register(citeproc.Citation([citeproc.CitationItem(key)]))
    printed = dict(zip(bibliography.keys, map(str, bibliography.bibliography()), strict=True))
    assert len(printed) == len(seed.items)
    for key, item in seed.items.items():
        text = re.sub(r"\W+", " ", printed[key])
        first = re.sub(r"\W+", " ", item["title"]).split()[:3]
        assert " ".join(first) in text, (key, printed[key])


@pytest.fixture(scope="module")
def parsed(seed):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return bibtexparser.parse_string(entries(seed.items.values()))


def test_a_bibtex_parser_reads_every_source(seed, parsed):
    assert parsed.failed_blocks == []
    assert [entry.key for entry in parsed.entries] == list(seed.items)


def test_what_the_parser_reads_is_what_the_item_says(seed, parsed):
    for entry in parsed.entries:
        item, fields = seed.items[entry.key], entry.fields_dict
        title = re.sub(r"\\text\w+\{\}|[{}\\]", "", fields["title"].value)
        assert re.sub(r"[\s~^_]", "", title) == re.sub(r"[\s~^_]", "", item["title"]), entry.key
        years = item.get("issued", {}).get("date-parts", [[]])[0]
        assert ("year" in fields) == bool(years), entry.key
        if years:
            assert fields["year"].value == str(years[0]), entry.key
        if "DOI" in item:
            assert fields["doi"].value == item["DOI"], entry.key
        if "author" in item:
            names = re.sub(r"\{[^{}]*\}", "one", fields["author"].value).split(" and ")
            assert len(names) == len(item["author"]), entry.key


@pytest.mark.parametrize("key", KNOWN)
def test_known_papers_carry_author_year_and_title(seed, parsed, key):
    if key not in seed.items:
        pytest.fail(f"{key} is no longer cited")
    item = seed.items[key]
    author, year, title = KNOWN[key]
    assert title.lower() in item["title"].lower()
    assert item["issued"]["date-parts"][0][0] == int(year)
    entry = parsed.entries_dict[key]
    if "author" in item:
        assert author in entry.fields_dict["author"].value
