"""Every page: sound markup, safe headers, light, and no dead link inside."""

from __future__ import annotations

from collections import Counter
from urllib.parse import urlsplit

import pytest

from hotface_api.site.page import POLICY
from support.pages import BROWSER, MANY, MIX, PAGES, Shown

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)
HEAVIEST = 150_000


@pytest.mark.parametrize("address", PAGES)
def test_the_markup_is_sound(show, address):
    page = show(address)
    assert page.status == 200
    assert page.faults == []
    assert page.tree.get("lang") == "en"
    assert len(page.all(".//h1")) == 1
    assert len(page.all(".//main")) == 1
    assert page.words("head/title").endswith("– hotface")
    ids = Counter(each.get("id") for each in page.tree.iter() if each.get("id"))
    assert [key for key, count in ids.items() if count > 1] == []


@pytest.mark.parametrize("address", PAGES)
def test_nothing_in_it_needs_a_script_or_an_inline_style(show, address):
    page = show(address)
    assert page.headers["Content-Security-Policy"] == POLICY
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    for each in page.tree.iter():
        assert each.tag not in ("script", "style", "iframe", "object")
        assert "style" not in each.attrib
        assert not [name for name in each.attrib if str(name).startswith("on")]


@pytest.mark.parametrize("address", PAGES)
def test_what_it_loads_comes_from_here(show, address):
    page = show(address)
    loaded = [each.get("href") for each in page.tree.iter("link")]
    loaded += [each.get("src") for each in page.tree.iter() if each.get("src")]
    assert loaded
    assert all(not urlsplit(each).netloc for each in loaded)


@pytest.mark.parametrize("address", PAGES)
def test_it_is_light(show, address):
    assert len(show(address).text.encode()) < HEAVIEST


@pytest.mark.parametrize("address", PAGES)
def test_sentences_do_not_run_into_each_other(show, address):
    page = show(address)
    text = page.words("body/main")
    assert ">None" not in page.text
    for odd in (" ,", " ;", "( ", " )", ".It", "..", "Undefined"):
        _, found, after = text.replace("...", "").partition(odd)
        assert not found, text[: -len(after) or None][-60:]


@pytest.mark.parametrize("address", PAGES)
def test_every_field_has_a_label(show, address):
    page = show(address)
    labelled = {each.get("for") for each in page.tree.iter("label")}
    for each in page.tree.iter():
        if each.tag in ("input", "select") and each.get("type") != "hidden":
            assert each.get("id") in labelled or each.get("aria-label"), each.attrib
    for each in page.tree.iter("button"):
        assert "".join(each.itertext()).strip()


def test_no_link_inside_is_dead(client, show):
    seen = set()
    for address in PAGES:
        for link in show(address).links():
            parts = urlsplit(link)
            if parts.netloc or link.startswith("#"):
                continue
            seen.add(link.partition("#")[0])
    assert len(seen) > 500
    dead = []
    for link in sorted(seen)[:: len(seen) // 200]:
        wanted = {} if link.startswith("/v1") else BROWSER
        if link.startswith("/csv"):
            wanted = {"Accept": "text/csv"}
        status = client.get(link, headers=wanted).status_code
        if status not in (200, 302):
            dead.append((status, link))
    assert dead == []


def test_links_to_places_in_the_page_have_a_target(show):
    for address in PAGES:
        page = show(address)
        ids = {each.get("id") for each in page.tree.iter()}
        assert {link[1:] for link in page.links() if link.startswith("#")} <= ids


def test_every_material_page_is_there_and_light(app):
    reference = app.extensions["hotface"].references.latest()
    client = app.test_client()
    for place, key in enumerate(reference.materials):
        response = client.get(f"/materials/{key}", headers=BROWSER)
        assert response.status_code == 200, key
        assert len(response.data) < HEAVIEST, key
        if place % 16 == 0:  # a strict parse takes longer than the page
            assert Shown(response).faults == [], key


def test_the_heaviest_evidence_pages_are_light(app):
    client = app.test_client()
    for address in (
        f"/materials/{MANY}/properties/thermal_conductivity",
        "/materials/fireclay-brick/properties/thermal_conductivity",
        "/materials/portland-cement/properties/thermal_conductivity",
        "/sources/holland-2018-ds633",
        "/sources/supplier-castable-c401",
    ):
        assert len(client.get(address, headers=BROWSER).data) < HEAVIEST, address


def test_units_and_revision_stay_when_one_goes_on(show):
    page = show("/materials/expanded-perlite?units=us&revision=1")
    inside = [link for link in page.links() if link.startswith(("/materials/", "/values/"))]
    switch = [link for link in inside if "units=si" in link]
    assert len(switch) == 1
    assert len(inside) > 10
    assert all("revision=1" in link for link in inside)
    assert all("units=us" in link for link in set(inside) - set(switch))
    assert page.named("units").get("value") == "us"
    assert page.named("revision").get("value") == "1"


def test_us_units_are_shown_throughout(show):
    text = show("/materials/expanded-perlite?units=us").words("body/main")
    assert "lb/ft³" in text
    assert "BTU·in/(ft²·h·°F)" in text
    assert "kg/m³ (" not in text


def test_a_prefix_of_the_server_is_kept(client):
    response = client.get(
        "/materials/expanded-perlite",
        headers=BROWSER,
        environ_overrides={"SCRIPT_NAME": "/kiln", "PATH_INFO": "/materials/expanded-perlite"},
    )
    inside = [link for link in Shown(response).links() if not link.startswith(("#", "http"))]
    assert inside
    assert all(link.startswith("/kiln/") for link in inside)


@pytest.mark.parametrize("query", ["units=metric", "revision=0", "revision=x", "revision=99"])
def test_odd_units_and_revisions_are_refused(show, query):
    page = show(f"/materials/expanded-perlite?{query}")
    assert page.status in (400, 404)
    assert page.faults == []


def test_the_style_sheet_may_be_kept_for_ever(client, show):
    address = show("/").all("head/link")[0].get("href")
    response = client.get(address)
    assert response.status_code == 200
    assert response.content_type == "text/css; charset=utf-8"
    assert "immutable" in response.headers["Cache-Control"]
    assert "://" not in response.text.replace("http://www.w3.org", "")
    assert client.get("/assets/nothing.js").status_code == 404


def test_a_page_has_nothing_of_a_mix_behind_in_the_cache(app):
    client = app.test_client()
    answers = app.extensions["hotface"].answers
    before = len(answers)
    assert client.get(f"/mix/result?{MIX}&weighed=1100", headers=BROWSER).status_code == 200
    assert len(answers) == before
