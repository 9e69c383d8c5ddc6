"""The pages in a real browser: from question to source and from buckets to card, scripts off."""

from __future__ import annotations

import re
from contextlib import contextmanager

import pytest
from axe_playwright_python.sync_playwright import Axe

from support.browser import Watched, opened, served
from support.pages import LIKE_ONE_HELD, MANY, MIX, MOULD, PAGES, SEARCH, WALL

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}
ONE_OF_EACH = (
    "/",
    "/reading",
    "/materials/expanded-perlite",
    "/materials/expanded-perlite/properties/emissivity",
    "/materials/expanded-perlite/survival?temperature=1050%20Cel",
    "/compare",
    f"/compare/result?{WALL}",
    "/mix",
    f"/mix/result?{LIKE_ONE_HELD}",
    f"/mix/card?{MOULD}",
    "/mix-search",
    f"/mix-search/result?{SEARCH}",
    "/mix/result?material_1=cac-40&kept_1=x&mould=y",
    "/properties/thermal_conductivity",
    "/sources?q=castable&page=1",
    "/values/aerated-concrete.pore_size.1",
    "/specimens/acid-bonded-vermiculite-light",
    "/holdings?kind=admixture",
    "/nothing",
    "/survival?material=x&temperature=y",
)
SERIOUS = ("serious", "critical")
A_SHEET = re.compile(rb"/Type\s*/Page\b(?!s)")
"""One page of a PDF document (ISO 32000-1, 7.7.3.3: its Type is Page)."""
MANY_PARTS = MOULD + "".join(
    f"&material_{row}={name}&amount_{row}=1&unit_{row}=kg"
    for row, name in enumerate(
        ("fireclay", "quartz-sand", "expanded-perlite", "pumice", "microsilica", "kaolin"), start=4
    )
)
BODY = "getComputedStyle(document.body).backgroundColor"
TOO_WIDE = "document.documentElement.scrollWidth > window.innerWidth"


@pytest.fixture(scope="module")
def base(app):
    with served(app) as address:
        yield address


@pytest.fixture(scope="module")
def browser():
    with opened() as found:
        yield found


@pytest.fixture
def watch(browser, base):
    """Open a page that is watched: phone or desk, light or dark, scripts off unless asked for."""

    @contextmanager
    def watching(**options):
        settings = {"viewport": PHONE, "java_script_enabled": False} | options
        context = browser.new_context(**settings)
        try:
            yield Watched(context, base)
        finally:
            context.close()

    return watching


def test_from_a_question_to_the_text_that_answers_it(watch):
    with watch() as seen:
        seen.go("/")
        seen.page.fill("#material", "perlite")
        seen.page.fill("#temperature", "1050")
        seen.page.click("section.ask >> nth=0 >> button")
        assert seen.page.url.endswith("/materials/expanded-perlite/survival?temperature=1050%20Cel")
        assert "No: Expanded perlite, grade not stated does not survive 1050 °C." in seen.text()
        seen.page.click("table.wide tbody tr >> nth=1 >> th a")
        assert "/values/" in seen.page.url
        assert "Printed as" in seen.text()
        seen.page.click("main a[href*='/sources/'] >> nth=0")
        assert "What it says" in seen.text()
        seen.check()


def test_an_answer_can_be_asked_again_otherwise(watch):
    with watch() as seen:
        seen.go("/materials/cac-40/survival?temperature=900%20Cel&with=chamotte-40&place=face")
        seen.page.click("text=Change the question")
        assert seen.page.input_value("#material") == "cac-40"
        assert seen.page.input_value("#with") == "chamotte-40"
        assert seen.page.input_value("#place") == "face"
        seen.page.fill("#temperature", "1400")
        seen.page.click("form.long button")
        assert "No:" in seen.text()
        seen.check()


def test_from_buckets_to_an_estimate_to_a_card(watch):
    with watch() as seen:
        seen.go("/")
        seen.page.click("text=the lid of a pottery club")
        assert seen.page.input_value("#amount_2") == "5"
        seen.page.click("text=One row more")
        seen.page.fill("#material_4", "polypropylene fibre")
        seen.page.fill("#amount_4", "0.05")
        seen.page.select_option("[name=unit_4]", "kg")
        seen.page.click("text=Estimate >> nth=-1")
        assert "What this mix will be" in seen.text()
        assert "this mix weighs about" in seen.text()
        seen.page.click("text=Mixing card to print")
        text = seen.text()
        assert "Mixing card: Kiln lid" in text
        assert "Polypropylene fibre" in text
        seen.page.emulate_media(media="print")
        assert seen.page.is_hidden("header nav >> nth=0")
        assert seen.page.is_hidden("text=Back to the estimate")
        assert seen.page.is_visible("h1")
        seen.check()


def test_from_what_is_on_hand_to_a_mix_to_its_card(watch):
    with watch() as seen:
        seen.go("/mix")
        seen.page.click("text=Let mixes worth trying be looked for")
        for row, name, most in ((1, "cac-40", "50"), (2, "expanded clay", "80")):
            seen.page.fill(f"#material_{row}", name)
            seen.page.fill(f"#most_{row}", most)
        seen.page.fill("#material_3", "fireclay")
        seen.page.fill("#density_below", "1300")
        seen.page.check("#wish_binder")
        seen.page.click("text=Look for mixes")
        assert "worth trying: no other beats" in seen.text()
        assert seen.page.locator("svg.chart").bounding_box()["width"] > 250
        seen.page.click("th >> text=Mix B")
        assert "What this mix will be" in seen.text()
        seen.page.click("text=Mixing card to print")
        assert "Mixing card: Mix B" in seen.text()
        seen.check()


def test_materials_are_compared_by_their_place(watch):
    with watch() as seen:
        seen.go("/")
        seen.page.click("text=compare several by their place in the wall")
        seen.page.fill("#material_1", "grog")
        seen.page.fill("#material_2", "perlite")
        seen.page.fill("#temperature", "1100")
        seen.page.fill("#behind", "700")
        seen.page.click("text=Compare >> nth=-1")
        seen.page.wait_for_url("**/compare/result?**")
        assert "Behind the hot face, 700 °C" in seen.text()
        seen.page.click("text=Change the question")
        assert seen.page.input_value("#behind") == "700.0"
        seen.check()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("query", [MIX, MOULD, MANY_PARTS, f"{MANY_PARTS}&units=us"])
def test_the_card_is_one_sheet(watch, query, paper):
    with watch(viewport=DESK) as seen:
        assert seen.go(f"/mix/card?{query}").status == 200
        assert len(A_SHEET.findall(seen.page.pdf(format=paper))) == 1


def test_a_fault_is_marked_and_mended(watch):
    with watch() as seen:
        seen.go("/mix")
        seen.page.fill("#material_1", "cac-40")
        seen.page.fill("#amount_1", "a few")
        seen.page.click("text=Estimate >> nth=-1")
        assert seen.page.get_attribute("#amount_1", "aria-invalid") == "true"
        assert seen.page.input_value("#amount_1") == "a few"
        assert "write a number" in seen.text()
        seen.page.fill("#amount_1", "25")
        seen.page.select_option("[name=unit_1]", "kg")
        seen.page.fill("#water", "9")
        seen.page.click("text=Estimate >> nth=-1")
        assert "What this mix will be" in seen.text()


def test_a_point_of_a_figure_leads_to_its_value(watch):
    with watch(viewport=DESK) as seen:
        seen.go(f"/materials/{MANY}/properties/thermal_conductivity")
        point = seen.page.locator(".points a").last
        target = point.get_attribute("href")
        point.locator("use").click(force=True)
        assert "/values/" in seen.page.url
        assert target.split(".")[0] in seen.page.url
        seen.check()


def test_the_keyboard_is_enough(watch):
    with watch(viewport=DESK) as seen:
        seen.go("/")
        seen.page.keyboard.press("Tab")
        assert seen.page.locator(":focus").inner_text() == "To the content"
        seen.page.keyboard.press("Enter")
        assert seen.page.url.endswith("#content")
        seen.page.keyboard.press("Tab")
        assert seen.page.locator(":focus").get_attribute("name") == "material"
        seen.page.keyboard.type("quartz")
        seen.page.keyboard.press("Tab")
        seen.page.keyboard.type("600")
        seen.page.keyboard.press("Enter")
        seen.page.wait_for_url("**/materials/quartz/survival**")
        assert "Borderline: Quartz at 600 °C" in seen.text()
        seen.check()


def test_units_can_be_switched(watch):
    with watch() as seen:
        seen.go("/materials/expanded-perlite")
        seen.page.click("text=US")
        assert "lb/ft³" in seen.text()
        seen.page.click("text=Sources")
        assert "units=us" in seen.page.url
        seen.check()


@pytest.mark.parametrize("address", PAGES)
def test_no_page_is_wider_than_a_phone(watch, address):
    with watch(java_script_enabled=True) as seen:
        assert seen.go(address).status == 200
        assert not seen.page.evaluate(TOO_WIDE)
        seen.check()


def test_dark_pages_are_dark(watch):
    shades = []
    for scheme in ("light", "dark"):
        with watch(java_script_enabled=True, color_scheme=scheme) as seen:
            seen.go("/")
            shades.append(seen.page.evaluate(BODY))
    assert len(set(shades)) == 2


def _grave_faults(watch, address, scheme):
    """Let axe look at a page; give what it calls serious or critical."""
    axe = Axe()
    with watch(java_script_enabled=True, color_scheme=scheme) as seen:
        seen.go(address)
        found = axe.run(seen.page).response["violations"]
    return {
        each["id"]: [node["html"][:160] for node in each["nodes"]][:3]
        for each in found
        if each["impact"] in SERIOUS
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("address", ONE_OF_EACH)
def test_a_checker_finds_no_serious_fault(watch, address, scheme):
    assert _grave_faults(watch, address, scheme) == {}


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("address", sorted(set(PAGES) - set(ONE_OF_EACH)))
def test_a_checker_finds_no_serious_fault_elsewhere(watch, address, scheme):
    assert _grave_faults(watch, address, scheme) == {}


def test_an_estimate_page_is_seen_whole(watch):
    with watch() as seen:
        seen.go(f"/mix/result?{MIX}")
        box = seen.page.locator("svg.chart").bounding_box()
        assert box["width"] > 250
        assert box["height"] > 150
        seen.check()
