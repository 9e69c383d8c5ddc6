"""Figures are drawn once a revision, and drawn anew where the data have changed."""

from __future__ import annotations

import pytest

from support.pages import BROWSER, LIKE_ONE_HELD, MANY, SEARCH
from support.small import app_of, small_database

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


@pytest.fixture
def drawn(monkeypatch):
    """Count what is drawn, by title."""
    from hotface_api.site import charts, figures, mixcharts  # noqa: PLC0415

    titles = []

    def note(chart, key):
        titles.append(chart.title)
        return figures.draw(chart, key)

    monkeypatch.setattr(charts, "draw", note)
    monkeypatch.setattr(mixcharts, "draw", note)
    return titles


@pytest.fixture
def fresh(database):
    """A service that has drawn nothing yet."""
    return app_of(database).test_client()


def shown(client, address):
    response = client.get(address, headers=BROWSER)
    assert response.status_code == 200
    assert "<svg" in response.text
    return response


def test_a_figure_is_drawn_once_for_all_pages_that_show_it(fresh, drawn):
    for address in (
        f"/materials/{MANY}",
        f"/materials/{MANY}/properties/thermal_conductivity",
        f"/materials/{MANY}?",
        f"/materials/{MANY}/properties/thermal_conductivity?form=heap",
    ):
        shown(fresh, address)
    assert len(drawn) == 1
    shown(fresh, f"/materials/{MANY}?units=us")
    assert len(drawn) == 2


@pytest.mark.parametrize(
    ("address", "other"),
    [
        (f"/mix/result?{LIKE_ONE_HELD}", "&seed=5"),
        (f"/mix-search/result?{SEARCH}", "&results=3"),
    ],
)
def test_a_figure_of_mixes_is_drawn_once_a_question(fresh, drawn, address, other):
    first = shown(fresh, address)
    assert shown(fresh, address).text == first.text
    assert len(drawn) == 1
    shown(fresh, address + other)
    assert len(drawn) == 2


def test_a_new_revision_is_drawn_anew(tmp_path, drawn, database):
    del database
    with small_database("sqlite", tmp_path) as held:
        client = app_of(held).test_client()
        latest = client.get("/v1/revisions").json["items"]
        assert len(latest) == 2
        address = next(
            f"/materials/{each['id']}"
            for each in client.get("/v1/materials").json["items"]
            if "<svg" in client.get(f"/materials/{each['id']}", headers=BROWSER).text
        )
        before = len(drawn)
        shown(client, f"{address}?revision=1")
        shown(client, f"{address}?revision=1&units=")
        assert len(drawn) == before + 1
        shown(client, f"{address}?revision=2")
        assert len(drawn) == before + 2
