"""Contributing and reviewing in a real browser, scripts off: from a figure to the public page."""

from __future__ import annotations

from contextlib import contextmanager

import pytest
from axe_playwright_python.sync_playwright import Axe

from support.browser import Watched, opened, served
from support.desk import PERLITE

pytestmark = pytest.mark.parametrize("desk_template", ["sqlite"], indirect=True)
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}
SERIOUS = ("serious", "critical")
TOO_WIDE = "document.documentElement.scrollWidth > window.innerWidth"
NOTE = "<img src=x onerror=alert(1)> poured from 10 cm"
DENSITY = "/materials/expanded-perlite/properties/loose_bulk_density"
CHOSEN = ("property", "form", "fill", "licence", "uncertainty_way")


@pytest.fixture(scope="module")
def browser():
    with opened() as found:
        yield found


@pytest.fixture
def watch(browser, desk):
    """Open a watched page, each a browser of its own: scripts off unless asked for."""
    with served(desk.app) as base:

        @contextmanager
        def watching(**options):
            settings = {"viewport": PHONE, "java_script_enabled": False} | options
            context = browser.new_context(**settings)
            try:
                yield Watched(context, base)
            finally:
                context.close()

        yield watching


def sign_in(seen, key):
    seen.page.fill("#key", key)
    with seen.page.expect_navigation():
        seen.page.click("main button")


def fill(seen, typed):
    for name, text in typed.items():
        if name in CHOSEN:
            seen.page.select_option(f"#{name}", text)
        else:
            seen.page.fill(f"#{name}", text)


def press(seen, text):
    with seen.page.expect_navigation():
        seen.page.click(f"main button:has-text('{text}'):not(.skip)")


def silent_but_for(seen, status):
    """Hold that the console told of nothing but forms refused with a status, as browsers do."""
    seen.said[:] = [text for text in seen.said if f"status of {status}" not in text]
    seen.check()


def contribute(seen, desk, **changed):
    """Sign in and hand a measurement in; give the address of its page."""
    seen.go("/contribute")
    sign_in(seen, desk.keys["ann"])
    fill(seen, {**PERLITE, **changed})
    press(seen, "Check")
    press(seen, "Hand it in")
    return seen.page.url.removeprefix(seen.base).partition("?")[0]


def hand_in(ann, desk):
    """From the page of a material to a value that waits, by way of a fault."""
    ann.go("/materials/expanded-perlite")
    ann.page.click("text=Contribute a value of Expanded perlite")
    sign_in(ann, desk.keys["ann"])
    assert "/contribute?material=expanded-perlite" in ann.page.url
    assert ann.page.input_value("#material") == "Expanded perlite, grade not stated"
    fill(ann, {**PERLITE, "note": NOTE, "typical": "1,1"})
    press(ann, "Check")
    assert ann.page.get_attribute("#typical", "aria-invalid") == "true"
    assert ann.page.input_value("#typical") == "1,1"
    assert ann.page.input_value("#note") == NOTE
    ann.page.click("#mend a")
    assert ann.page.url.endswith("#typical")
    ann.page.fill("#typical", "110")
    press(ann, "Check")
    assert "Inside the interval held" in ann.text()
    press(ann, "Hand it in")
    assert "Waits for review." in ann.text()
    return ann.page.url.removeprefix(ann.base).partition("?")[0]


def ask(cleo, desk, value):
    """From the queue to a question, by way of a note that is missing."""
    cleo.go("/review")
    sign_in(cleo, desk.keys["cleo"])
    cleo.page.click("table a")
    assert cleo.page.url.endswith(value)
    assert NOTE in cleo.text()
    assert cleo.page.locator("figure svg").bounding_box()["width"] > 250
    press(cleo, "Ask the contributor")
    assert cleo.page.get_attribute("#note", "aria-invalid") == "true"
    cleo.page.fill("#note", "Which bag was it?")
    press(cleo, "Ask the contributor")
    assert "Asked: waits for a reply." in cleo.text()


def answer(ann):
    """From one's list to a reply."""
    ann.page.click("text=My contributions >> nth=0")
    assert "Which bag was it?" in ann.text()
    ann.page.click("table a")
    ann.page.fill("#text", "The one opened in November.")
    press(ann, "Send the reply")
    assert "Waits for review." in ann.text()


def test_from_a_measurement_to_the_public_page(watch, desk):
    with watch() as ann, watch(viewport=DESK) as cleo, watch() as anyone:
        anyone.go(DENSITY)
        assert "8 origins" in anyone.text()
        value = hand_in(ann, desk)
        anyone.page.reload()
        assert "8 origins" in anyone.text()
        ask(cleo, desk, value)
        answer(ann)
        cleo.page.reload()
        assert "The one opened in November." in cleo.text()
        press(cleo, "Accept")
        assert "Accepted. In the data since revision 2" in cleo.text()
        anyone.page.reload()
        assert "9 origins" in anyone.text()
        assert "Revision 2 of the data" in anyone.page.inner_text("footer")
        anyone.go(f"/values/{value.rpartition('/')[2]}")
        assert NOTE in anyone.text()
        assert "Which bag" not in anyone.text()
        ann.page.click("text=Sign out")
        assert ann.page.url == ann.base + "/"
        ann.go(value)
        assert "/sign-in" in ann.page.url
        for seen in (ann, cleo, anyone):
            silent_but_for(seen, "422")
            assert all("hf_" not in url for url in seen.asked)


def test_forms_name_their_origin_to_this_host_alone(watch, desk):
    """Where ``Sec-Fetch-Site`` is not sent (plain http in a workshop), ``Origin`` must tell."""
    with watch() as ann:
        posted = []
        ann.page.on("request", lambda asked: posted.append(asked) if asked.method == "POST" else 0)
        contribute(ann, desk)
        assert [asked.all_headers()["origin"] for asked in posted] == [ann.base] * 3


def test_two_curators_at_once(watch, desk):
    with watch() as ann, watch() as cleo, watch() as dora:
        value = contribute(ann, desk)
        for seen, name in ((cleo, "cleo"), (dora, "dora")):
            seen.go(value)
            sign_in(seen, desk.keys[name])
        cleo.page.fill("#note", "Which bag?")
        press(cleo, "Ask the contributor")
        dora.page.fill("#note", "No bag is named.")
        press(dora, "Decline")
        assert "Nothing was done" in dora.text()
        assert "Which bag?" in dora.text()
        assert dora.page.input_value("#note") == "No bag is named."
        press(dora, "Decline")
        assert "Declined." in dora.text()


def test_enter_checks_and_never_hands_in(watch, desk):
    with watch(viewport=DESK) as ann:
        ann.go("/contribute")
        sign_in(ann, desk.keys["ann"])
        fill(ann, PERLITE)
        for _ in range(2):
            ann.page.press("#typical", "Enter")
            assert "Checked, not yet handed in" in ann.text()
        ann.check()


def test_a_table_is_uploaded_and_handed_in(watch, desk, tmp_path):
    file = tmp_path / "densities.csv"
    rows = "".join(
        f"expanded-perlite,loose_bulk_density,heap,poured,{figure},kg/m3\r\n"
        for figure in (99, 104, 118)
    )
    file.write_bytes(b"material,property,form,fill,printed_typical,unit\r\n" + rows.encode())
    with watch() as ann:
        ann.go("/contribute/table")
        sign_in(ann, desk.keys["ann"])
        ann.page.set_input_files("#file", str(file))
        own = ("own_specimen", "own_instrument", "own_date", "licence")
        fill(ann, {name: PERLITE[name] for name in own})
        press(ann, "Check")
        assert "Every row can be handed in: 3 new values" in ann.text()
        press(ann, "Hand them in")
        assert "3 values wait for review" in ann.text()
        ann.page.click("text=See my contributions")
        assert ann.page.locator("table tbody tr").count() == 3
        ann.check()


def test_a_session_that_ends_loses_nothing(watch, desk):
    with watch() as ann:
        ann.go("/contribute")
        sign_in(ann, desk.keys["ann"])
        fill(ann, {**PERLITE, "note": NOTE})
        ann.page.context.clear_cookies()
        press(ann, "Check")
        assert "nothing you typed is lost" in ann.text()
        sign_in(ann, desk.keys["ann"])
        press(ann, "Send it again")
        assert "Checked, not yet handed in" in ann.text()
        assert ann.page.input_value("#note") == NOTE
        silent_but_for(ann, "401")


@pytest.fixture
def places(watch, desk):
    """Every kind of page of the desk, with whom it is for, and how it comes to be seen."""
    with watch() as ann:
        value = contribute(ann, desk, note="a note", uncertainty_way="standard", uncertainty="4")
        ann.go(value)
    return {
        "sign in": (None, "/sign-in"),
        "form": ("ann", "/contribute"),
        "table": ("ann", "/contribute/table"),
        "mine": ("ann", "/contributions"),
        "one": ("ann", value),
        "correction": ("ann", f"{value}/correction"),
        "queue": ("cleo", "/review"),
        "judged": ("cleo", value),
    }


def visit(seen, desk, who, address):
    seen.go(address)
    if who is not None:
        sign_in(seen, desk.keys[who])


def _grave(page):
    found = Axe().run(page).response["violations"]
    return {
        each["id"]: [node["html"][:160] for node in each["nodes"]][:3]
        for each in found
        if each["impact"] in SERIOUS
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_checker_finds_no_serious_fault_and_no_page_is_too_wide(watch, desk, places, scheme):
    faults = {}
    for name, (who, address) in places.items():
        with watch(java_script_enabled=True, color_scheme=scheme) as seen:
            visit(seen, desk, who, address)
            faults[name] = _grave(seen.page)
            assert not seen.page.evaluate(TOO_WIDE), name
            seen.check()
    assert {name: found for name, found in faults.items() if found} == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_checker_finds_no_serious_fault_in_forms_at_fault(watch, desk, scheme):
    with watch(java_script_enabled=True, color_scheme=scheme) as seen:
        seen.go("/contribute")
        sign_in(seen, desk.keys["ann"])
        press(seen, "Check")
        assert _grave(seen.page) == {}
        assert not seen.page.evaluate(TOO_WIDE)
        fill(seen, {**PERLITE, "typical": "7"})
        press(seen, "Check")
        assert "Unit slip suspected" in seen.text()
        assert _grave(seen.page) == {}
        seen.go("/contribute/table")
        seen.page.fill("#table", "material,property,unit,printed_typical\nx,y,z,1\n")
        fill(seen, {name: PERLITE[name] for name in ("own_specimen", "own_instrument", "own_date")})
        seen.page.select_option("#licence", "CC0-1.0")
        press(seen, "Check")
        assert "1 row needs another look" in seen.text()
        assert _grave(seen.page) == {}
        assert not seen.page.evaluate(TOO_WIDE)


def test_print_leaves_out_what_only_acts(watch, desk):
    with watch() as ann, watch() as cleo:
        value = contribute(ann, desk)
        cleo.go(value)
        sign_in(cleo, desk.keys["cleo"])
        cleo.page.emulate_media(media="print")
        assert cleo.page.is_visible("h1")
        assert cleo.page.is_visible("figure")
        assert cleo.page.is_hidden("main form")
        assert cleo.page.is_hidden("header nav >> nth=0")
