"""Citations from outside: whatever text arrives is read or told, never a fault of ours."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hotface_api.ledger.bibtex import read_bibtex
from hotface_api.ledger.csl import SOURCE_TYPE_OF, check_item
from hotface_api.ledger.texts import Faults
from hotface_api.store.vocabulary import SOURCE_TYPES

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                [
                    "type",
                    "title",
                    "author",
                    "issued",
                    "date-parts",
                    "family",
                    "literal",
                    "DOI",
                    "URL",
                    "volume",
                    "raw",
                    "x",
                ]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


def read(text):
    faults = Faults()
    return read_bibtex(text, faults, "/bibtex"), faults.found


def checked(item):
    faults = Faults()
    return check_item(item, faults, "/csl"), faults.found


@settings(max_examples=150, deadline=None)
@given(JSON)
def test_any_json_is_an_item_or_is_told(item):
    clean, found = checked(item)
    assert (clean is None) == bool(found)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet='@{}"=,#\\ \nabcité%$&and1', max_size=120))
@example("@" * 100)
@example("@article{" + "{" * 500)
@example("@article{a, title = " + "{" * 2000 + "}" * 2000 + "}")
@example('@string{a = "b"} @string{b = a # a} @misc{x, title = b # b # b}')
@example("@article{a, author = {and and and}, title = {x}}")
@example("@comment{x} @preamble{y} @article{a}")
def test_any_text_is_bibtex_or_is_told(text):
    item, found = read(text)
    assert (item is None) == bool(found)
    if item is not None:
        checked(item)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "needed"),
        ("hello", "0 are here"),
        ("@book{a,title={x}} @book{b,title={y}}", "2 are"),
        ("@article{a,\n title = {x\n", "line 2"),
        ("@book{a,\n\n title = {x}\n@book{b}", "line 4"),
        ("@film{a, title = {x}}", "@film"),
        ("@book{a, title={x}, title={y}}", "title twice"),
        ("x" * 5000, "at most 4000"),
    ],
)
def test_bibtex_that_does_not_parse_says_where(text, told):
    item, found = read(text)
    assert item is None
    assert told in found[0].message


def test_names_and_accents_come_out_of_bibtex():
    item, found = read(
        r"@inproceedings{x, author = {Jos\'e van der Berg and {Kiln \& Co} and M{\"u}ller, A. B.},"
        r" title = {A {CAC} lid}, booktitle = {Proc.}, year = 1999, month = mar, pages = {1--9}}"
    )
    assert found == []
    assert item["author"] == [
        {"family": "van der Berg", "given": "José"},
        {"literal": "Kiln & Co"},
        {"family": "Müller", "given": "A. B."},
    ]
    assert item["title"] == "A CAC lid"
    assert item["issued"] == {"date-parts": [[1999, 3]]}
    assert item["page"] == "1-9"
    assert item["type"] == "paper-conference"


def test_every_type_that_may_be_cited_counts_as_a_source_type():
    assert set(SOURCE_TYPE_OF.values()) <= set(SOURCE_TYPES)


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"type": "film"}, "/csl/type"),
        ({"DOI": "x"}, "/csl/DOI"),
        ({"URL": "ftp://a.b"}, "/csl/URL"),
        ({"author": "Smith"}, "/csl/author"),
        ({"author": [{"name": "S"}]}, "/csl/author/0"),
        ({"issued": {"date-parts": [[99]]}}, "/csl/issued"),
        ({"issued": "2001"}, "/csl/issued"),
        ({"issued": {"date-parts": [[2001, 13]]}}, "/csl/issued"),
        ({"titel": "x"}, "/csl/titel"),
        ({"abstract": "x" * 5000}, "/csl/abstract"),
        ({"title": "a\0"}, "/csl/title"),
    ],
)
def test_faulty_items_are_told_by_field(changes, place):
    clean, found = checked({"type": "book", "title": "T", "publisher": "P", **changes})
    assert clean is None
    assert place in {fault.pointer for fault in found}


def test_an_item_is_kept_clean():
    clean, found = checked(
        {
            "id": "theirs",
            "type": "article-journal",
            "title": " T ",
            "volume": 3,
            "DOI": "https://doi.org/10.1000/X",
            "custom": {"a": 1},
            "author": [{"family": "S", "given": "A"}],
            "issued": {"raw": "2001-04"},
        }
    )
    assert found == []
    assert clean == {
        "type": "article-journal",
        "title": "T",
        "volume": "3",
        "DOI": "10.1000/x",
        "author": [{"family": "S", "given": "A"}],
        "issued": {"date-parts": [[2001, 4]]},
    }
