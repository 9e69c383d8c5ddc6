"""Figures: accessible, free of styles, and drawn without touching anybody's plotting settings."""

from __future__ import annotations

import subprocess
import sys
from xml.etree import ElementTree as ET

import matplotlib as mpl
import pytest

from hotface_api.site.figures import MARKS, Band, Chart, Dot, Figures, Series, draw
from support.pages import MANY, MIX

BAND = Band([20, 500], [0.1, 0.2], [0.2, 0.3], [0.4, 0.5], [0.05, 0.05], [0.9, 1.0])
SVG = "{http://www.w3.org/2000/svg}"
DOTS = (
    Dot(20, 0.2, 0.1, 0.3, "/values/a", "0.2 at 20 °C"),
    Dot(500, 0.3, 0.3, 0.3, "/values/b", "b"),
)
ALONE = """
import sys
from hotface_api.site.figures import Chart, Dot, Series, draw
draw(Chart("t", "d", "T", "k", (Series("s", (Dot(20, 1.0, 1.0, 1.0, "/a", "a"),)),)), "one")
sys.exit("matplotlib.pyplot" in sys.modules)
"""
CHART = Chart("k of <demo>", "Two values & a band.", "T", "k", (Series("heap", DOTS),), BAND)


@pytest.fixture(scope="module")
def drawn():
    return ET.fromstring(draw(CHART, "one"))  # noqa: S314 - our own drawing


def test_the_drawing_is_one_image_with_a_title_and_a_description(drawn):
    image = drawn.find("g")
    assert image.get("role") == "img"
    title, description = image.find("title"), image.find("desc")
    assert image.get("aria-labelledby") == title.get("id")
    assert image.get("aria-describedby") == description.get("id")
    assert title.text == "k of <demo>"
    assert description.text == "Two values & a band."


def test_every_point_is_a_link_with_a_title_out_of_the_reading_order(drawn):
    points = drawn.find("g[@class='points']")
    assert points.get("aria-hidden") == "true"
    links = points.findall("a")
    assert [each.get("href") for each in links] == ["/values/a", "/values/b"]
    assert [each.find("title").text for each in links] == ["0.2 at 20 °C", "b"]
    assert {each.get("tabindex") for each in links} == {"-1"}
    assert all(each.find(".//use") is not None for each in links)


def test_no_style_no_colour_and_no_foreign_name_is_left(drawn):
    for each in drawn.iter():
        assert not {"style", "id"} & set(each.attrib) or each.get("id", "one-").startswith("one-")
        assert "style" not in each.attrib
        assert each.tag not in ("style", "metadata", "script")
        assert not any("}" in name for name in (each.tag, *each.attrib))
        assert not any(value.startswith("#0") for value in each.attrib.values())
    classes = {name for each in drawn.iter() for name in each.get("class", "").split()}
    assert {"fill-band", "stroke-ink", "fill-paper", "points"} <= classes


def test_what_is_referred_to_is_there_and_ids_belong_to_the_figure(drawn):
    ids = {each.get("id") for each in drawn.iter() if each.get("id")}
    for each in drawn.iter():
        for value in each.attrib.values():
            for start in ("url(#", "#"):
                if value.startswith(start):
                    assert value[len(start) :].rstrip(")") in ids
    other = ET.fromstring(draw(CHART, "two"))  # noqa: S314
    assert not ids & {each.get("id") for each in other.iter() if each.get("id")}


def test_the_band_is_hatched_and_bounds_are_dashed(drawn):
    assert drawn.find(".//pattern") is not None
    assert [each for each in drawn.iter() if each.get("stroke-dasharray", "").startswith("5,3")]


def test_the_same_chart_is_drawn_the_same():
    assert draw(CHART, "one") == draw(CHART, "one")


def test_settings_of_a_session_of_ones_own_are_left_alone():
    before = dict(mpl.rcParams)
    draw(CHART, "one")
    assert dict(mpl.rcParams) == before


def test_pyplot_is_not_loaded():
    assert subprocess.run([sys.executable, "-c", ALONE], check=False).returncode == 0  # noqa: S603


def test_marks_differ_by_shape():
    assert len({mark for mark, _ in MARKS}) == len({sign for _, sign in MARKS}) == len(MARKS)


def test_wide_spans_are_drawn_by_decades():
    dots = (Dot(20, 0.1, 0.1, 0.1, "/values/a", "a"), Dot(500, 30.0, 30.0, 30.0, "/values/b", "b"))
    made = draw(Chart("t", "d", "T", "k", (Series("s", dots),)), "log")
    assert ">0.1<" in made
    assert ">10<" in made


def test_figures_are_kept_and_the_oldest_let_go():
    kept, made = Figures(2), []
    for key in ("a", "b", "a", "c", "a", "b"):
        kept.get(key, lambda key=key: made.append(key) or key)
    assert made == ["a", "b", "c", "b"]


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
class TestOnPages:
    def test_every_measured_point_is_drawn_and_leads_to_its_value(self, client, show):
        address = f"/materials/{MANY}/properties/thermal_conductivity"
        page = show(address)
        points = next(each for each in page.tree.iter(f"{SVG}g") if each.get("class") == "points")
        drawn = {each.get("href") for each in points.iter(f"{SVG}a")}
        query = f"material={MANY}&property=thermal_conductivity&limit=200"
        values = client.get(f"/v1/values?{query}").json
        wanted = {
            f"/values/{each['id']}"
            for each in values["items"]
            if each["basis"] != "memory" and each["bound"] == "is"
        }
        assert drawn == wanted
        keyed = [each for each in page.tree.iter("ul") if each.get("class") == "key"]
        assert len(keyed) == 1

    def test_the_figure_has_its_numbers_beside_it(self, show):
        page = show(f"/mix/result?{MIX}")
        figure = next(page.tree.iter("figure"))
        assert "The table below holds every point of the curve." in "".join(figure.itertext())
        assert page.words("body/main").count("1000 °C") > 1

    def test_a_curve_is_shown_with_its_band_and_as_a_table(self, show):
        page = show("/materials/fireclay-brick/properties/thermal_conductivity")
        text = page.words("body/main")
        if "The curve as a table" in text:
            assert "The hatched band is what to expect" in text
