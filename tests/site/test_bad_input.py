"""Whatever is asked, a page says what is wrong; it never fails. On both databases."""

from __future__ import annotations

from urllib.parse import quote

import pytest

from support.pages import BROWSER, MIX, Shown

ODD = (
    "\x00",
    "a\x00b",
    "%",
    "_",
    "'; DROP TABLE value; --",
    "../../etc/passwd",
    "{{ 7 * 7 }}",
    "\ud800".encode("utf-8", "surrogatepass"),
    "é" * 300,
    "١٢٣",
    "1e999",
    "NaN",
    "-0",
    "9" * 400,
)
MIX_FIELDS = (
    "mould",
    "mould=12&mould_unit",
    "mould=12&spare",
    "mould=12&thick",
    "weighed",
    "weighed=1000&weighed_when",
    "conducts",
    "conducts=0.3&conducts_at",
    "rule",
    "rule=krischer&series_share",
    "at",
    "coverage",
    "seed",
    "state=air-dry&moisture",
    "parts_by",
    "bucket_weighs_2",
    "grain_size_2",
    "pore_size_2",
    "kept_2",
    "damp_2",
    "like_2",
)
BARE_SEARCH = (
    "sent=1&material_1=cac-40&material_2=expanded-clay&wish_density=1&candidates=2000&results=3"
    "&conducts_at=600"
)
SEARCH_FIELDS = (
    "least_2",
    "most_2",
    "limit_above",
    "density_below",
    "conducts_below",
    "wet",
    "shares_by",
    "fired_at",
    "material_3",
    "at",
)
WITH_A_WORD = (
    "/materials?q=",
    "/materials?kind=",
    "/materials/",
    "/materials/quartz/properties/",
    "/materials/quartz/properties/true_density?form=",
    "/materials/quartz/properties/true_density?with=",
    "/materials/quartz/survival?temperature=",
    "/materials/quartz/survival?temperature=900%20Cel&margin=",
    "/survival?material=quartz&temperature=",
    "/survival?temperature=900&material=",
    "/survival?material=quartz&temperature=900&unit=",
    f"/mix/result?{MIX}&weighed=",
    f"/mix/card?{MIX}&title=",
    "/mix?rows=",
    "/mix/result?water=1&amount_1=1&unit_1=kg&material_1=",
    "/mix/result?material_1=cac-40&unit_1=kg&water=1&amount_1=",
    "/mix/result?material_1=cac-40&amount_1=1&water=1&unit_1=",
    "/mix/result?material_1=cac-40&amount_1=1&unit_1=kg&water=1&water_unit=",
    "/mix/result?material_1=cac-40&amount_1=1&unit_1=kg&water=1&state=",
    *(f"/mix/result?{MIX}&{name}=" for name in MIX_FIELDS),
    *(f"/mix-search/result?{BARE_SEARCH}&{name}=" for name in SEARCH_FIELDS),
    "/mix-search?rows=",
    "/compare?temperature=900&material_1=",
    "/compare?material_1=quartz&temperature=",
    "/compare?material_1=quartz&temperature=900&behind=",
    "/compare/result?material=",
    "/compare/result?material=quartz&temperature=",
    "/compare/result?material=quartz&temperature=900%20Cel&behind=",
    "/compare/result?material=quartz&temperature=900%20Cel&place=",
    "/properties/",
    "/sources?q=",
    "/sources?page=",
    "/sources/",
    "/values/",
    "/specimens?q=",
    "/specimens/",
    "/holdings?kind=",
    "/csv/materials/",
    "/csv/values/",
    "/assets/",
    "/?units=",
    "/?revision=",
)


@pytest.mark.parametrize("start", WITH_A_WORD)
def test_an_odd_word_is_answered(client, start):
    for word in ODD:
        response = client.get(start + quote(word, safe=""), headers=BROWSER)
        assert response.status_code < 500, (start, word)
        assert "Traceback" not in response.get_data(as_text=True)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_word_that_is_typed_is_never_a_template_nor_markup(client):
    for word in ("{{ 7 * 7 }}", "<b>bold</b>", "'\"><i>"):
        page = Shown(client.get(f"/materials?q={quote(word)}", headers=BROWSER))
        assert page.faults == []
        assert word in page.words("body/main")
