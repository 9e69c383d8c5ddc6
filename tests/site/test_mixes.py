"""The mix page: all a builder can tell is asked, and all that is answered is shown."""

from __future__ import annotations

import csv
import io

import pytest

from hotface_api.mixes.rules import SELECTABLE
from hotface_api.site import mixwords
from hotface_api.site.words import number, sentence
from support.pages import LIKE_ONE_HELD, MIX, MOULD

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)
SVG = "{http://www.w3.org/2000/svg}"


def asked(client, query):
    """Give the estimate of a form, and what it says it was asked."""
    response = client.get(f"/mix/estimate.json?{query}")
    assert response.status_code == 200, response.json
    return response.json


def test_all_that_is_typed_reaches_the_estimate(client):
    query = (
        "bucket=10&material_1=cac-40&amount_1=25&unit_1=kg&material_2=expanded-clay&amount_2=5"
        "&unit_2=bucket&bucket_weighs_2=3,4&grain_size_2=4-8&kept_2=95&damp_2=6"
        "&true_density_2=2500-2700&material_3=Our+own+grog&amount_3=8&unit_3=kg&like_3=chamotte-40"
        "&water=11&water_unit=L&state=fired&fired_at=900&mould=0.02&mould_unit=m3&spare=15&thick=40"
        "&weighed=1250&weighed_when=fresh&rule=krischer&series_share=0.2&at=20,+300;600&coverage=0.8"
        "&seed=7"
    )
    found = asked(client, query)
    clay, own = found["mix"]["constituents"][1:]
    assert clay["bucket"] == {
        "mass": {"value": 3.4, "unit": "kg"},
        "volume": {"value": 10.0, "unit": "L"},
    }
    assert clay["grain_size"] == {"low": 4.0, "high": 8.0, "unit": "mm"}
    assert clay["crush_factor"] == 0.95
    assert clay["moisture"] == {"value": 6.0, "unit": "%"}
    assert clay["properties"] == {"true_density": {"low": 2500.0, "high": 2700.0, "unit": "kg/m3"}}
    assert own["material"] == "Our own grog"
    assert own["like"] == "chamotte-40"
    assert found["state"]["temperature"] == {"value": 900, "unit": "Cel"}
    assert found["casting"]["mould_volume"] == {"value": 20, "unit": "L"}
    assert found["casting"]["spare"] == 0.15
    assert found["casting"]["drying"]["thickness"] == {"value": 40, "unit": "mm"}
    assert found["measured"]["densities"] == {"fresh": {"value": 1250, "unit": "kg/m3"}}
    assert (found["rule"], found["rule_options"]) == ("krischer", {"series_share": 0.2})
    points = found["properties"]["thermal_conductivity"]["points"]
    assert [point["temperature"]["value"] for point in points] == [20, 300, 600]
    assert (found["coverage"], found["seed"]) == (0.8, 7)


def test_a_measured_conductivity_and_the_narrowing_are_told(client, show):
    query = f"{MIX}&weighed=1100&conducts=0.3&conducts_at=400"
    found = asked(client, query)
    assert found["measured"]["bulk_density"] == {"value": 1100, "unit": "kg/m3"}
    assert found["measured"]["thermal_conductivity"]["temperature"]["value"] == 400
    assert found["narrowed_by"]
    assert "What you measured narrowed its" in show(f"/mix/result?{query}").words("body/main")


def test_parts_are_counted_by_what_is_said(client):
    query = (
        "material_1=cac-40&amount_1=1&unit_1=1&material_2=expanded-clay&amount_2=2&unit_2=1"
        "&parts_by=loose&water=0.5&water_unit=ratio"
    )
    found = asked(client, query)
    assert found["mix"]["parts_by"] == "loose"
    assert found["composition"]["yield"]["unit"] == "L/kg"


def test_the_sentence_comes_first_and_what_to_measure_next_is_said_in_words(show):
    text = show(f"/mix/result?{MIX}").words("body/main")
    sentence, figure = text.index("this mix weighs about"), text.index("Bulk density")
    following, evidence = text.index("Measure next."), text.index("Measured bodies like it")
    assert sentence < figure < following < evidence
    assert "weigh one bucket of it" in text[following:evidence]
    assert "% of the doubt in thermal conductivity" in text[following:evidence]


def test_the_points_measured_on_like_bodies_stand_in_the_figure_and_lead_to_their_source(
    client, show
):
    found = asked(client, LIKE_ONE_HELD)
    wanted = {
        f"/values/{value['id']}"
        for body in found["nearest_specimens"]
        for value in body["values"]
        if value["property"] == "thermal_conductivity" and value["bound"] == "is"
    }
    assert wanted
    page = show(f"/mix/result?{LIKE_ONE_HELD}")
    points = next(each for each in page.tree.iter(f"{SVG}g") if each.get("class") == "points")
    assert {each.get("href") for each in points.iter(f"{SVG}a")} == wanted
    key = next(each for each in page.tree.iter("ul") if each.get("class") == "key")
    links = [each.get("href") for each in key.iter("a")]
    for body in found["nearest_specimens"]:
        if any(value["property"] == "thermal_conductivity" for value in body["values"]):
            assert f"/specimens/{body['id']}" in links
            assert f"/sources/{body['source']}" in links


def test_the_band_and_both_pairs_of_bounds_are_drawn_and_tabled(client, show):
    point = asked(client, MIX)["properties"]["thermal_conductivity"]["points"][0]
    page = show(f"/mix/result?{MIX}")
    dashes = [
        each.get("stroke-dasharray")
        for each in page.tree.iter(f"{SVG}path")
        if each.get("stroke-dasharray")
    ]
    starts = {dash.split(",")[0] for dash in dashes}
    assert len([dash for dash in dashes if dash.startswith(min(starts))]) >= 2
    assert len(starts) >= 2  # dashed and dotted
    text = page.words("body/main")
    for low, high in (("lower_bound", "upper_bound"), ("series_bound", "parallel_bound")):
        assert f"{number(point[low])} to {number(point[high])}" in text


def test_a_mix_like_none_that_was_measured_says_so(show):
    text = show(f"/mix/result?{MIX}").words("body/main")
    assert "No measured mix like this is held." in text
    assert "no mark stands in it" in text


def test_every_rule_that_can_be_chosen_is_offered_with_where_it_holds(show):
    page = show("/mix")
    offered = [each.get("value") for each in page.by_id("rule").iter("option")]
    assert offered == ["", *SELECTABLE]
    text = page.words("body/main")
    for title, about in mixwords.RULES.values():
        assert title in text
        assert "valid: " in about


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ("at=20,1450", "above_limit"),
        ("conducts=5&conducts_at=20", "measured_outside_bounds"),
        ("weighed=600", "air_from_density"),
    ],
)
def test_what_may_overturn_the_answer_stands_beside_the_number(client, show, more, code):
    told = {each["code"]: each["text"] for each in asked(client, f"{MIX}&{more}")["assumptions"]}
    text = show(f"/mix/result?{MIX}&{more}").words("body/main")
    place = text.index(sentence(told[code]).replace("\N{NO-BREAK SPACE}", " "))
    assert text.index("Before you rely on it:") < place < text.index("Measure next.")


def test_the_table_holds_every_number_of_the_estimate(client):
    made = asked(client, MOULD)
    response = client.get(f"/csv/mix/result?{MOULD}")
    rows = list(csv.DictReader(io.StringIO(response.get_data(as_text=True), newline="")))
    k = [row for row in rows if row["quantity"] == "thermal_conductivity"]
    points = made["properties"]["thermal_conductivity"]["points"]
    for row, point in zip(k, points, strict=True):
        for name in ("low", "typical", "high", "lower_bound", "parallel_bound"):
            assert float(row[name]) == point[name]
    for kind, held in (
        ("dry_mass", made["composition"]["constituents"]),
        ("mould_dry_mass", made["casting"]["constituents"]),
    ):
        told = {row["of"]: float(row["typical"]) for row in rows if row["quantity"] == kind}
        assert told == {part["material"]: part["dry_mass"]["typical"] for part in held}
    assert {row["quantity"] for row in rows} >= {"yield", "service_limit", "piece_mass_fired"}


def test_drying_is_shown_with_the_promise_it_does_not_make(client, show):
    made = asked(client, MOULD)["casting"]
    text = show(f"/mix/result?{MOULD}").words("body/main")
    drying = made["drying"]
    assert "Drying 50 mm of it" in text
    assert drying["promise"] in text
    for step in drying["steps"]:
        assert step["title"] in text
    for other in drying["others"]:
        assert other["practice"]
    assert text.index("not a guarantee") < text.index(drying["steps"][0]["title"])
    assert f"{number(made['piece']['fired']['typical'])} kg" in text


def test_drying_without_a_sheet_says_why(show):
    text = show(f"/mix/result?{LIKE_ONE_HELD}&mould=12&thick=50").words("body/main")
    assert "No drying by thickness is held for bodies without calcium aluminate cement." in text


def test_a_part_is_told_in_kilograms_for_the_mould(client, show):
    query = (
        "material_1=cac-40&amount_1=1&unit_1=1&material_2=expanded-clay&amount_2=2&unit_2=1"
        "&parts_by=mass&water=0.5&water_unit=ratio&mould=12"
    )
    part = asked(client, query)["casting"]["one_part"]
    text = show(f"/mix/result?{query}").words("body/main")
    assert f"one part is {number(part['typical'])} kg" in text


def test_strength_is_never_told_without_not_for_load(show):
    for address in (f"/mix/result?{MIX}", f"/mix/result?{LIKE_ONE_HELD}", f"/mix/card?{MOULD}"):
        assert "not for load" in show(address).words("body/main")


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ("mould=-3", "mould", "above 0"),
        ("mould=12&spare=900", "spare", "between 0 and 1"),
        ("mould=12&thick=0", "thick", "above 0"),
        ("weighed=9000", "weighed", "kg/m3"),
        ("weighed=much", "weighed", "write a number"),
        ("conducts=0.3", "conducts_at", "say at which temperature"),
        ("at=20,%20hot", "at", "'hot' is no number"),
        ("at=5000", "at", "answered from"),
        ("rule=krischer", "rule", "needs series_share"),
        ("kept_2=120", "kept_2", "at most 100"),
        ("grain_size_2=big", "grain_size_2", "write a number"),
        ("grain_size_2=8-4", "grain_size_2", "in order"),
        ("material_2=our%20grog&like_2=nothing%20held", "like_2", "no material held"),
    ],
)
def test_a_fault_is_told_at_its_field_and_what_was_typed_stays(show, change, field, said):
    names = [each.partition("=")[0] for each in change.split("&")]
    rest = [each for each in MIX.split("&") if each.partition("=")[0] not in names]
    page = show(f"/mix/result?{'&'.join(rest)}&{change}")
    assert page.status == 422
    assert said in "".join(page.by_id(f"{field}-fault").itertext())
    assert page.by_id(field).get("aria-invalid") == "true"
    assert page.by_id("title").get("value") == "Kiln lid"
    for inner in page.tree.iter("details"):
        if field in {each.get("id") for each in inner.iter()}:
            assert inner.get("open") is not None


def test_data_without_what_an_estimate_needs_is_told_on_a_page(monkeypatch, show):
    monkeypatch.setattr("hotface_api.http.routes.estimates._NEEDED", ("a_property_not_held",))
    page = show(f"/mix/result?{MIX}&seed=91")
    assert page.status == 503
    assert "a_property_not_held" in page.words("body/main")
