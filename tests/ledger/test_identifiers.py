"""ORCID check digits and DOIs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.ledger.identifiers import new_id, read_doi, read_orcid, slug

# The sample identifiers ORCID itself publishes with its description of the check digit.
PUBLISHED = ("0000-0002-1825-0097", "0000-0001-5109-3700", "0000-0002-1694-233X")


@pytest.mark.parametrize("orcid", PUBLISHED)
def test_published_orcids_pass_in_every_form(orcid):
    bare = orcid.replace("-", "")
    for form in (
        orcid,
        bare,
        f"https://orcid.org/{orcid}",
        f" http://www.orcid.org/{bare}/ ",
        orcid.lower(),
    ):
        assert read_orcid(form) == orcid


@pytest.mark.parametrize("orcid", PUBLISHED)
@given(data=st.data())
def test_every_single_wrong_digit_is_found(orcid, data):
    plain = orcid.replace("-", "")
    place = data.draw(st.integers(0, 14))
    digit = data.draw(st.sampled_from([d for d in "0123456789" if d != plain[place]]))
    with pytest.raises(ValueError, match="check digit"):
        read_orcid(plain[:place] + digit + plain[place + 1 :])


@pytest.mark.parametrize("orcid", PUBLISHED)
def test_every_swap_of_neighbours_is_found(orcid):
    plain = orcid.replace("-", "")
    for place in range(14):
        if plain[place] != plain[place + 1]:
            swapped = plain[:place] + plain[place + 1] + plain[place] + plain[place + 2 :]
            with pytest.raises(ValueError, match="check digit"):
                read_orcid(swapped)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "0000-0002-1825-009",
        "0000-0002-1825-00970",
        "٠٠٠٠-0002-1825-0097",
        "000X-0002-1825-0097",
        "https://example.org/0000-0002-1825-0097",
    ],
)
def test_other_forms_are_no_orcid(text):
    with pytest.raises(ValueError, match="sixteen characters"):
        read_orcid(text)


@pytest.mark.parametrize(
    ("text", "doi"),
    [
        ("10.1000/182", "10.1000/182"),
        ("doi:10.1016/J.Cemconres.2011.01.001", "10.1016/j.cemconres.2011.01.001"),
        ("https://doi.org/10.1000/ABC", "10.1000/abc"),
        ("http://dx.doi.org/10.1002/(SICI)1-2", "10.1002/(sici)1-2"),
    ],
)
def test_dois_are_read_bare_and_lower_case(text, doi):
    assert read_doi(text) == doi


@pytest.mark.parametrize(
    "text",
    [
        "",
        "11.1000/1",
        "10.1/x",
        "10.1000/",
        "10.1000/a b",
        "javascript:alert(1)",
        '10.1000/"><script>',
        "see 10.1000/1",
        "10.1000/" + "a" * 300,
    ],
)
def test_what_is_no_doi_is_refused(text):
    with pytest.raises(ValueError, match="DOI"):
        read_doi(text)


def test_ids_do_not_repeat_and_slugs_are_plain():
    assert len({new_id("c-") for _ in range(2000)}) == 2000
    assert slug("Über Kiln & Flue: 3rd ed.") == "uber-kiln-flue-3rd-ed"
    assert slug("窯") == ""
