"""Figures and what a notebook shows: drawn where matplotlib is, plain tables where it is not."""

import re
import sys
from xml.etree import ElementTree as ET

import pytest
from matplotlib.figure import Figure as Drawing

from hotface import Client, Curve, Estimate, Mix, NoAnswer, NotInstalled
from hotface_api.embedded import InProcessTransport
from support.html import check_html

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="session")
def asked(service):
    return Client(transport=InProcessTransport(service))


@pytest.fixture(scope="session")
def est(asked):
    """A mix to which a measured body with a conductivity lies near."""
    mix = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-perlite", "60 L")
    return asked.estimate(mix, fired="1000 degC", seed=1)


@pytest.fixture(scope="session")
def brick(asked):
    return asked.property("fireclay-brick", "thermal_conductivity")


def drawn(page):
    """The SVG images of what a notebook is shown."""
    return [ET.fromstring(one) for one in re.findall(r"<svg.*?</svg>", page, re.DOTALL)]  # noqa: S314


def test_an_estimate_is_drawn_with_band_bounds_and_measured_bodies(est):
    figure = est.figure()
    assert isinstance(figure, Drawing)
    (axes,) = figure.axes
    assert axes.get_xlabel().startswith("temperature, °C")
    assert axes.get_ylabel() == "W/(m·K)"
    labels = axes.get_legend_handles_labels()[1]
    assert "interval" in labels
    assert any("no arrangement" in label for label in labels)
    near = [one for one in est.nearest_specimens if one.specimen.name in "".join(labels)]
    assert near
    lines = {tuple(line.get_ydata()) for line in axes.get_lines()}
    assert tuple(est.thermal_conductivity.typical) in lines
    assert tuple(est.thermal_conductivity.upper_bound) in lines
    assert axes.collections  # the band


def test_nothing_is_told_by_colour_alone(est):
    (axes,) = est.figure().axes
    assert axes.collections[0].get_hatch()
    strokes = {line.get_linestyle() for line in axes.get_lines()[:5]}
    assert len(strokes) == 3


def test_other_curves_are_drawn_and_what_is_not_held_is_told(est):
    assert est.figure("specific_heat_capacity").axes[0].get_ylabel() == "J/(kg·K)"
    with pytest.raises(NoAnswer, match="no curve over temperature"):
        est.figure("bulk_density")
    with pytest.raises(NoAnswer):
        est.figure("colour")


def test_in_a_notebook_the_figure_has_a_title_and_says_what_it_shows(est):
    page = check_html(est)
    (image,) = drawn(page)
    assert image.get("role") == "img"
    title, description = image.find(f"{SVG}title"), image.find(f"{SVG}desc")
    assert image.get("aria-labelledby") == title.get("id")
    assert image.get("aria-describedby") == description.get("id")
    assert title.text == "Thermal conductivity of the mix, 90% interval"
    assert "20 °C: " in description.text
    assert "Measured, " in description.text
    texts = "".join(image.itertext())
    assert "no arrangement of the parts" in texts  # kept as text, not as shapes


def test_figures_of_one_page_share_no_ids(est, brick):
    page = est._repr_html_() + brick._repr_html_()
    ids = re.findall(r'id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)


def test_it_shows_its_citations_and_folds_its_cautions(est):
    page = est._repr_html_()
    assert "<p>Sources</p>" in page
    for source in est.sources():
        assert source.title.replace("&", "&amp;").replace("'", "&#x27;") in page
    assert len(est.sources()) == len(est.citations)
    assert "<summary>Cautions: " in page
    assert est.cautions[0].hazard in page


def test_without_a_service_the_citations_are_ids(est):
    alone = Estimate.from_json(est.to_dict(), est.to_json())
    assert f"<li>{est.citations[0]}</li>" in alone._repr_html_()


def test_a_property_is_drawn_with_the_values_it_rests_on(brick):
    page = check_html(brick)
    assert len(drawn(page)) == 1
    assert "Thermal conductivity of fireclay-brick" in page
    used = {one.value for one in brick.derivation.used}
    values = brick.values()
    assert {one.id for one in values} <= used
    (axes,) = brick.figure().axes
    labels = axes.get_legend_handles_labels()[1]
    assert {one.source for one in values} <= set(labels)
    alone = brick.figure(points=False).axes[0].get_legend_handles_labels()[1]
    assert not {one.source for one in values} & set(alone)


def test_a_property_without_a_curve_is_a_table(asked):
    answer = asked.property("mullite", "true_density")
    assert drawn(check_html(answer)) == []
    with pytest.raises(NoAnswer):
        answer.figure()


def test_a_curve_alone_is_drawn():
    curve = Curve((20.0, 400.0), (0.1, None), (0.2, 0.3), (0.3, None), "W/(m.K)")
    (axes,) = curve.figure("one's own").axes
    assert axes.get_title(loc="left") == "one's own"


def test_without_matplotlib_there_are_tables(est, brick, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    for result in (est, brick):
        page = check_html(result)
        assert "<svg" not in page
        with pytest.raises(NotInstalled, match="pip install matplotlib"):
            result.figure()


def test_drawing_touches_nothing_of_the_callers(est):
    import matplotlib.pyplot as plt  # noqa: PLC0415 - only to see that it is left alone

    before = plt.get_fignums()
    est.figure()
    est._repr_html_()
    assert plt.get_fignums() == before
