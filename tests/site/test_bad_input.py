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
