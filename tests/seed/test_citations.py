"""Where figures come from: a source and a place for each, and nothing cited that was not seen."""

from __future__ import annotations

import re

CITED = (
    "values",
    "specimens",
    "phases",
    "cones",
    "classes",
    "standards",
    "cautions",
    "practice",
    "correlations",
)
CSL_TYPES = {  # the CSL 1.0.2 list, less what no text cited is
    "article",
    "article-journal",
    "article-magazine",
    "article-newspaper",
    "book",
    "chapter",
    "dataset",
    "document",
    "entry",
    "entry-dictionary",
    "entry-encyclopedia",
    "legislation",
    "paper-conference",
    "patent",
    "post",
    "post-weblog",
    "regulation",
    "report",
    "software",
    "standard",
    "thesis",
    "webpage",
}
SOURCE_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")


def cited_rows(seed):
    for name in CITED:
        for row in seed.rows[name]:
            yield name, row


def test_what_was_read_or_quoted_says_where(seed):
    for name, row in cited_rows(seed):
        if row["basis"] in ("read", "quoted") and name != "standards":
            assert row["source"], (name, row["id"])
            assert row["locator"], (name, row["id"])
        if row["basis"] == "quoted" and row["source"]:
            assert row["quoted_in"], (name, row["id"])
        if row["basis"] == "computed":
            assert row["source"] or row["note"], (name, row["id"])


def test_memory_cites_nothing_and_reaches_no_origin(seed):
    seen = 0
    for name, row in cited_rows(seed):
        if row["basis"] == "memory":
            seen += 1
            assert not row["source"], (name, row["id"])
            assert not row["quoted_in"], (name, row["id"])
            assert not row.get("origin"), (name, row["id"])
    assert seen > 100


def test_what_is_recalled_is_told_in_words_not_as_a_citation(seed):
    for name, row in cited_rows(seed):
        recalled = row.get("recalled_source")
        if recalled:
            assert row["basis"] == "memory", (name, row["id"])
            assert not SOURCE_ID.fullmatch(recalled), (name, row["id"], recalled)


def test_no_source_and_no_origin_is_an_orphan(seed):
    used = {row[k] for _, row in cited_rows(seed) for k in ("source", "quoted_in") if row[k]}
    assert used == set(seed.sources)
    origins = {row["origin"] for row in seed.rows["sources"]}
    origins |= {row["origin"] for _, row in cited_rows(seed) if row.get("origin")}
    assert origins == {row["id"] for row in seed.rows["origins"]}


def test_only_contributors_measure(seed):
    assert not [row["id"] for _, row in cited_rows(seed) if row["basis"] == "measured"]
    assert not [row["id"] for row in seed.rows["values"] if row["contributor"]]


def test_values_of_one_specimen_share_its_material_and_origin(seed):
    specimens = {row["id"]: row for row in seed.rows["specimens"]}
    held = set()
    for row in seed.rows["values"]:
        if row["specimen"]:
            body = specimens[row["specimen"]]
            held.add(row["specimen"])
            assert body["material"] == row["material"], row["id"]
            assert row["origin"] in (body["origin"], None), row["id"]
    assert held == set(specimens)


def test_sources_are_csl_items(seed):
    for key, item in seed.items.items():
        assert item["id"] == key
        assert item["type"] in CSL_TYPES, key
        assert item["title"].strip(), key
        for person in item.get("author", []):
            assert person.get("family") or person.get("literal"), key
        for part in item.get("issued", {}).get("date-parts", [[1900]])[0]:
            assert isinstance(part, int), key
        if "DOI" in item:
            assert re.fullmatch(r"10\.\d{4,9}/\S+", item["DOI"]), key
        if "URL" in item:
            assert re.fullmatch(r"https?://[^\s/]+\.[^\s]+", item["URL"]), key


def test_suppliers_stay_unnamed(seed):
    suppliers = [key for key, row in seed.sources.items() if row["source_type"] == "supplier"]
    assert len(suppliers) > 100
    for key in suppliers:
        item = seed.items[key]
        assert item["title"].startswith("Supplier data, generic class: "), key
        assert not {"URL", "author", "publisher", "DOI"} & set(item), key


def test_a_reader_can_find_each_source_or_is_told_why_not(seed):
    """Supplier data are generic by rule; any other text names what it can be found by."""
    found = 0
    for key, row in seed.sources.items():
        item = seed.items[key]
        if row["source_type"] != "supplier":
            handles = ("author", "DOI", "URL", "publisher", "container-title", "number")
            can = any(item.get(handle) for handle in handles)
            found += can
            assert can != ("cannot be found again" in row["seen"]), key
    assert found > 350


def test_one_text_is_one_source(seed):
    """Two items may share a title only where edition, author or year tells them apart."""
    seen = {}
    for key, item in seed.items.items():
        authors = tuple(p.get("family") or p.get("literal") for p in item.get("author", []))
        year = str(item.get("issued", {}).get("date-parts", [[""]])[0][0])
        title = re.sub(r"[^a-z0-9]+", " ", item["title"].lower()).strip()
        label = (title, authors, year, item.get("container-title"), item.get("publisher"))
        assert label not in seen, (key, seen.get(label))
        seen[label] = key


def test_what_is_left_out_says_why(seed):
    tables = {"values", "phases", "classes"}
    for row in seed.rows["left_out"]:
        assert row["table"] in tables, row["id"]
        assert len(row["reason"]) > 10, row["id"]
