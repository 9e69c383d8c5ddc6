"""Mixes worth trying: the form asks as a program does, and each mix found can be opened."""

from __future__ import annotations

import csv
import io

import pytest

from hotface_api.mixes.search import WISHES
from hotface_api.site import searchform
from support.pages import SEARCH, Shown

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)
SVG = "{http://www.w3.org/2000/svg}"
BODY = {
    "on_hand": [
        {"material": "cac-40", "share": {"low": 0.15, "high": 0.6}},
        {"material": "expanded-clay", "share": {"high": 0.8}},
        {"material": "expanded-perlite", "share": {"high": 0.5}},
        {"material": "fireclay", "share": {"high": 0.25}},
    ],
    "shares_by": "mass",
    "wishes": ["conductivity", "binder"],
    "state": {"kind": "fired", "temperature": {"value": 1000, "unit": "Cel"}},
    "musts": {
        "density_below": {"value": 1200, "unit": "kg/m3"},
        "conductivity_below": {"value": 0.4, "unit": "W/(m.K)"},
        "conductivity_at": {"value": 600, "unit": "Cel"},
    },
    "candidates": 2000,
    "results": 5,
}


def found(client, query):
    response = client.get(f"/mix-search/result.json?{query}")
    assert response.status_code == 200, response.json
    return response.json


def mixes_of(page):
    """Give the link of each mix in the table."""
    rows = [each for each in page.tree.iter("th") if each.get("data-label") == "Mix"]
    return [next(each.iter("a")).get("href") for each in rows]


def numbers_of(estimate):
    """Take away how the mix was written; the numbers stay."""
    return {key: value for key, value in estimate.items() if key != "mix"}


def test_the_form_asks_what_a_program_would(client):
    assert found(client, SEARCH) == client.post("/v1/mix-searches", json=BODY).json


@pytest.mark.parametrize("units", ["si", "us"])
def test_each_mix_opens_as_its_own_estimate_with_the_same_numbers(client, show, units):
    query = (
        SEARCH
        if units == "si"
        else SEARCH.replace("fired_at=1000", "fired_at=1832")
        .replace("density_below=1200", "density_below=75")
        .replace("conducts_below=0.4&conducts_at=600", "conducts_below=2.8&conducts_at=1112")
    )
    query += f"&units={units}"
    items = found(client, query)["mixes"]
    links = mixes_of(show(f"/mix-search/result?{query}"))
    assert len(links) == len(items) > 1
    for link, item in zip(links, items, strict=True):
        opened = client.get(link.replace("/mix/result", "/mix/estimate.json")).json
        assert numbers_of(opened) == numbers_of(item["estimate"])


def test_own_figures_go_along_to_the_mix(client, show):
    query = SEARCH + "&bucket_weighs_2=3.2&fill_2=shaken&grain_size_2=4-8"
    items = found(client, query)["mixes"]
    page = show(f"/mix-search/result?{query}")
    for link, item in zip(mixes_of(page), items, strict=True):
        opened = client.get(link.replace("/mix/result", "/mix/estimate.json")).json
        assert numbers_of(opened) == numbers_of(item["estimate"])
        if any(part["material"] == "expanded-clay" for part in item["mix"]["constituents"]):
            assert "bucket_weighs_" in link


def test_the_figure_has_a_lettered_point_a_mix_that_leads_to_it(client, show):
    page = show(f"/mix-search/result?{SEARCH}")
    links = mixes_of(page)
    chart = next(each for each in page.tree.iter(f"{SVG}svg"))
    points = next(each for each in chart.iter(f"{SVG}g") if each.get("class") == "points")
    assert [each.get("href") for each in points.iter(f"{SVG}a")] == links
    drawn = ["".join(each.itertext()).strip() for each in chart.iter(f"{SVG}text")]
    assert [word for word in drawn if word in "ABCDE"] == list("ABCDE"[: len(links)])
    described = "".join(next(chart.iter(f"{SVG}desc")).itertext())
    assert "each a lettered point with its intervals" in described


def test_the_table_as_csv_has_a_line_a_mix(client):
    response = client.get(f"/csv/mix-search/result?{SEARCH}")
    rows = list(csv.DictReader(io.StringIO(response.get_data(as_text=True), newline="")))
    items = found(client, SEARCH)["mixes"]
    assert [row["mix"] for row in rows] == list("ABCDE"[: len(items)])
    for row, item in zip(rows, items, strict=True):
        density = item["estimate"]["properties"]["bulk_density"]
        assert float(row["bulk_density"]) == density["typical"]
        assert float(row["conductivity_temperature"]) == 600


def test_none_worth_trying_says_why(show):
    page = show(f"/mix-search/result?{SEARCH.replace('density_below=1200', 'density_below=40')}")
    assert page.status == 200
    text = page.words("body/main")
    assert "none is worth trying: no candidate is that light" in text
    assert mixes_of(page) == []
    assert not list(page.tree.iter(f"{SVG}svg"))


def test_every_wish_is_offered(show):
    assert tuple(searchform.WISHES) == WISHES
    page = show("/mix-search")
    for wish in WISHES:
        assert page.by_id(f"wish_{wish}").get("type") == "checkbox"


def test_wishes_not_ticked_are_not_wished(client):
    asked = SEARCH.replace("&wish_conductivity=1", "")
    assert (
        found(client, asked)
        == client.post("/v1/mix-searches", json={**BODY, "wishes": ["binder"]}).json
    )


@pytest.mark.parametrize(
    ("query", "field", "said"),
    [
        ("sent=1&wish_binder=1", "material_1", "name what you have"),
        ("sent=1&wish_binder=1&material_2=expanded-clay", "material_2", "binder that sets"),
        (SEARCH.replace("&wish_conductivity=1&wish_binder=1", ""), "wish_conductivity", "wish"),
        (SEARCH.replace("least_1=15", "least_1=70"), "least_1", "more than the most"),
        (SEARCH.replace("least_1=15", "least_1=a+lot"), "least_1", "write a number"),
        (SEARCH.replace("most_2=80", "most_2=180"), "most_2", "between 0 and 100"),
        (SEARCH.replace("&conducts_at=600", ""), "conducts_at", "at which heat"),
        (SEARCH.replace("density_below=1200", "density_below=-4"), "density_below", "above"),
        (SEARCH.replace("material_3=expanded-perlite", "material_3=xyzzy"), "material_3", "no mat"),
        (SEARCH + "&wet=9", "wet", "2"),
    ],
)
def test_a_fault_is_told_at_its_field_and_what_was_typed_stays(show, query, field, said):
    page = show(f"/mix-search/result?{query}")
    assert page.status == 422
    assert said in "".join(page.by_id(f"{field}-fault").itertext())
    assert page.by_id(field).get("aria-invalid") == "true"
    for pair in query.split("&"):
        name, _, text = pair.partition("=")
        if name.startswith("material_"):
            assert page.by_id(name).get("value") == text


def test_a_faulty_search_is_a_problem_for_programs(client):
    response = client.get("/mix-search/result.json?sent=1&wish_binder=1")
    assert response.status_code == 400
    assert response.json["errors"][0]["parameter"] == "material_1"


def test_a_row_more_keeps_what_was_typed(client):
    page = Shown(client.get(f"/mix-search?{SEARCH}&add=1", headers={"Accept": "text/html"}))
    assert page.by_id("material_5").get("value") == ""
    assert page.by_id("most_3").get("value") == "50"
    assert page.by_id("wish_density").get("checked") is None
    assert page.by_id("wish_binder").get("checked") is not None
