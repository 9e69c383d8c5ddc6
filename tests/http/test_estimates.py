"""Estimates over HTTP: what is asked is read whole or refused where it fails."""

from __future__ import annotations

import copy
import dataclasses

import pytest

from support.estimates import REQUEST
from support.problems import check_document, check_problem

URL = "/v1/estimates"


def changed(path, value):
    """Give the request with one place changed; ``...`` takes it away."""
    made = copy.deepcopy(REQUEST)
    *steps, last = path
    place = made
    for step in steps:
        place = place.setdefault(step, {}) if isinstance(place, dict) else place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return made


def estimated(client, body, query=""):
    response = client.post(URL + query, json=body)
    assert response.status_code == 200, response.text
    return response.get_json()


def test_an_estimate_answers_with_everything_or_its_reason(demo):
    shown = estimated(demo, REQUEST)
    assert shown["mix"] == REQUEST["mix"]
    assert (shown["seed"], shown["coverage"]) == (1, 0.9)
    assert shown["state"]["temperature"] == {"value": 900.0, "unit": "Cel"}
    points = shown["properties"]["thermal_conductivity"]["points"]
    assert [point["temperature"]["value"] for point in points] == [200.0, 600.0]
    for point in points:
        assert point["lower_bound"] < point["low"] < point["typical"] < point["high"]
        assert point["high"] < point["upper_bound"]
    shares = shown["composition"]["constituents"]
    assert sum(share["mass_fraction"] for share in shares) == pytest.approx(1, abs=1e-5)
    fresh, fired = shown["densities"]["fresh"], shown["densities"]["fired"]
    assert fresh["typical"] > fired["typical"]
    for name, value in {**shown["properties"], "closest_class": shown["closest_class"]}.items():
        assert value is not None or shown["reasons"][name]
    assert shown["properties"]["service_limit"]["limited_by"] == "demo-perlite"
    assert shown["citations"]


def test_the_same_request_gives_the_same_answer(demo):
    assert demo.post(URL, json=REQUEST).data == demo.post(URL, json=REQUEST).data
    other = estimated(demo, changed(["seed"], 2))
    assert other["densities"] != estimated(demo, REQUEST)["densities"]


def test_units_out_are_as_asked(demo):
    shown = estimated(demo, REQUEST, "?units=us")
    assert shown["densities"]["fresh"]["unit"] == "[lb_av]/[cft_i]"
    assert shown["composition"]["yield"]["unit"] == "[cft_i]"
    assert shown["state"]["temperature"]["value"] == 1652.0


def test_parts_give_a_yield_per_dry_mass(demo):
    body = changed(["mix", "water"], {"ratio_to_binder": 0.45})
    body["mix"]["parts_by"] = "loose"
    for part in body["mix"]["constituents"]:
        part["amount"] = {"value": 2, "unit": "1"}
    shown = estimated(demo, body)
    assert shown["composition"]["yield"]["unit"] == "L/kg"
    assert shown["composition"]["water"]["unit"] == "1"


def test_what_can_be_left_out_may_be(demo):
    shown = estimated(demo, {"mix": REQUEST["mix"]})
    assert shown["state"]["kind"] == "fired"
    assert len(shown["properties"]["thermal_conductivity"]["points"]) > 3


def test_own_figures_and_measurements_are_taken(demo):
    body = changed(
        ["mix", "constituents", 1, "properties"],
        {
            "loose_bulk_density": {"low": 95, "high": 105, "unit": "kg/m3"},
            "particle_density": {"low": 250, "typical": 300, "high": 350, "unit": "kg/m3"},
            "true_density": "2.35 g/cm3",
        },
    )
    body["mix"]["constituents"][1] |= {"pore_size": "0.3 mm", "crush_factor": 0.9}
    plain = estimated(demo, REQUEST)["densities"]["fired"]
    assert estimated(demo, body)["densities"]["fired"] != plain
    measured = changed(
        ["measured"],
        {
            "bulk_density": {"value": 900, "unit": "kg/m3"},
            "thermal_conductivity": "0.25 W/(m.K)",
            "thermal_conductivity_at": "400 Cel",
        },
    )
    shown = estimated(demo, measured)["properties"]["bulk_density"]
    assert shown["low"] < 900 < shown["high"]
    assert shown["high"] - shown["low"] < plain["high"] - plain["low"]


def test_a_weighed_bucket_and_measured_densities_are_taken(demo):
    plain = estimated(demo, REQUEST)["densities"]["fresh"]
    body = changed(["mix", "constituents", 1, "bucket"], {"mass": "1.3 kg", "volume": "10 L"})
    body["mix"]["constituents"][1]["grain_size"] = {"low": 1, "high": 3, "unit": "mm"}
    weighed = estimated(demo, body)["densities"]["fresh"]
    assert weighed["high"] - weighed["low"] < plain["high"] - plain["low"]
    measured = changed(["measured"], {"densities": {"fresh": "1100 kg/m3"}})
    shown = estimated(demo, measured)
    assert shown["narrowed_by"]["bulk_density"] > 0
    fresh = shown["densities"]["fresh"]
    assert fresh["high"] - fresh["low"] < plain["high"] - plain["low"]


def test_a_material_of_ones_own_is_estimated_from_its_sheet(demo):
    own = {
        "material": "bag-of-mine",
        "amount": "60 L",
        "kind": "aggregate",
        "like": "demo-perlite",
        "properties": {"loose_bulk_density": "140 kg/m3", "particle_density": "330 kg/m3"},
    }
    shown = estimated(demo, changed(["mix", "constituents", 1], own))
    names = [share["material"] for share in shown["composition"]["constituents"]]
    assert names == ["cac-demo-40", "bag-of-mine"]


C0 = ["mix", "constituents", 0]
BAD = [
    (["mix"], ..., "#/mix"),
    (["mix"], 3, "#/mix"),
    (["mix", "water"], ..., "#/mix/water"),
    (["mix", "water"], "0 kg", "#/mix/water"),
    (["mix", "water"], "-3 kg", "#/mix/water"),
    (["mix", "water"], "3 m", "#/mix/water"),
    (["mix", "water"], {"value": 3, "unit": "1"}, "#/mix/water"),
    (["mix", "water"], {"ratio_to_binder": "x"}, "#/mix/water"),
    (["mix", "water"], {"ratio_to_binder": True}, "#/mix/water"),
    (["mix", "water"], {"ratio_to_binder": 1, "unit": "kg"}, "#/mix/water"),
    (["mix", "constituents"], [], "#/mix/constituents"),
    (["mix", "constituents"], ["cement"], "#/mix/constituents/0"),
    (["mix", "constituents"], [REQUEST["mix"]["constituents"][0]] * 31, "#/mix/constituents"),
    (["mix", "parts_by"], "weight", "#/mix/parts_by"),
    (["mix", "parts_by"], "mass", "#/mix/parts_by"),
    ([*C0, "material"], "cac-demo", "#/mix/constituents/0/material"),
    ([*C0, "material"], "demo-perlite", "#/mix/constituents/1/material"),
    ([*C0, "material"], 7, "#/mix/constituents/0/material"),
    ([*C0, "amount"], ..., "#/mix/constituents/0/amount"),
    ([*C0, "amount"], "0 kg", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], "25", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], " 1e3 ", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], "25 K", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], "25 kgs and a bit", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], "1 m**9**9**9", "#/mix/constituents/0/amount"),
    ([*C0, "amount"], {"value": 25, "unit": "kg", "per": "m3"}, "#/mix/constituents/0/amount"),
    ([*C0, "amount"], {"value": True, "unit": "kg"}, "#/mix/constituents/0/amount"),
    ([*C0, "measured_as"], "heaped", "#/mix/constituents/0/measured_as"),
    ([*C0, "fill"], "thrown", "#/mix/constituents/0/fill"),
    ([*C0, "colour"], "grey", "#/mix/constituents/0/colour"),
    ([*C0, "crush_factor"], 1.5, "#/mix/constituents/0/crush_factor"),
    ([*C0, "crush_factor"], "1", "#/mix/constituents/0/crush_factor"),
    ([*C0, "crush_factor"], 0, "#/mix/constituents/0/crush_factor"),
    ([*C0, "pore_size"], "3 kg", "#/mix/constituents/0/pore_size"),
    ([*C0, "properties"], 3, "#/mix/constituents/0/properties"),
    (
        [*C0, "properties"],
        {"truedensity": "3 kg/m3"},
        "#/mix/constituents/0/properties/truedensity",
    ),
    ([*C0, "properties"], {"true_density": "3 K"}, "#/mix/constituents/0/properties/true_density"),
    (
        [*C0, "properties"],
        {"true_density": {"low": 3, "unit": "kg/m3"}},
        "#/mix/constituents/0/properties/true_density",
    ),
    (
        [*C0, "properties"],
        {"true_density": {"low": 3000, "high": 2000, "unit": "kg/m3"}},
        "#/mix/constituents/0/properties/true_density",
    ),
    ([*C0, "bucket"], {"mass": "3 kg"}, "#/mix/constituents/0/bucket/volume"),
    ([*C0, "bucket"], {"mass": "3 kg", "volume": "0 L"}, "#/mix/constituents/0/bucket/volume"),
    ([*C0, "kind"], "dust", "#/mix/constituents/0/kind"),
    ([*C0, "grain_size"], "3 L", "#/mix/constituents/0/grain_size"),
    (["measured"], {"densities": {"wet": "3 kg/m3"}}, "#/measured/densities/wet"),
    (["measured"], {"densities": {"fresh": "3 L"}}, "#/measured/densities/fresh"),
    (["state", "kind"], "burnt", "#/state/kind"),
    (["state", "temperature"], "-300 Cel", "#/state/temperature"),
    (["state", "moisture"], "3", "#/state/moisture"),
    (["state", "moisture"], "-3 %", "#/state/moisture"),
    (["at"], [], "#/at"),
    (["at"], ["600 Cel"] * 51, "#/at"),
    (["at"], ["600 Cel", "9000 Cel"], "#/at/1"),
    (["at"], "600 Cel", "#/at"),
    (["measured"], {"bulk_density": "0 kg/m3"}, "#/measured/bulk_density"),
    (["measured"], {"bulk_density": "3 K"}, "#/measured/bulk_density"),
    (
        ["measured"],
        {"thermal_conductivity": "0.3 W/(m.K)"},
        "#/measured/thermal_conductivity_at",
    ),
    (["coverage"], 1, "#/coverage"),
    (["coverage"], "0.9", "#/coverage"),
    (["seed"], -1, "#/seed"),
    (["seed"], "1", "#/seed"),
    (["seed"], True, "#/seed"),
    (["seed"], 2**53, "#/seed"),
    (["seeds"], 1, "#/seeds"),
]


@pytest.mark.parametrize(("path", "value", "place"), BAD)
def test_a_bad_request_is_refused_where_it_fails(demo, path, value, place):
    document = check_problem(demo.post(URL, json=changed(path, value)), 422, "invalid_body")
    assert place in [error["pointer"] for error in document["errors"]]


def test_an_unknown_constituent_has_near_ones(demo):
    document = demo.post(URL, json=changed([*C0, "material"], "cac-demo")).get_json()
    assert "cac-demo-40" in document["nearest"]


def test_a_batch_answers_in_order_each_with_its_status(demo):
    body = {"mixes": [REQUEST, changed([*C0, "material"], "x"), changed(["at"], ["1 kg"]), {}]}
    results = estimated(demo, body)["results"]
    assert [result["status"] for result in results] == [200, 422, 422, 422]
    assert results[0]["estimate"] == estimated(demo, REQUEST)
    places = ["#/mixes/1/mix/constituents/0/material", "#/mixes/2/at/0", "#/mixes/3/mix"]
    for result, place in zip(results[1:], places, strict=True):
        check_document(result["problem"], 422, "invalid_body")
        assert result["problem"]["errors"][0]["pointer"] == place


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ({"mixes": []}, "#/mixes"),
        ({"mixes": [1]}, "#/mixes/0"),
        ({"mixes": [REQUEST] * 201}, "#/mixes"),
        ({"mixes": [REQUEST], "seed": 1}, "#/mixes"),
        ({}, "#/mix"),
    ],
)
def test_a_batch_stands_alone_and_is_bounded(demo, body, place):
    document = check_problem(demo.post(URL, json=body), 422, "invalid_body")
    assert document["errors"][0]["pointer"] == place


def test_parameters_of_a_computation_are_strict_too(demo):
    check_problem(demo.post(f"{URL}?unit=us", json=REQUEST), 400, "unknown_parameter")
    check_problem(demo.post(f"{URL}?revision=9", json=REQUEST), 404, "unknown_revision")


def test_an_estimate_of_before_is_the_estimate_then(demo):
    then = estimated(demo, REQUEST, "?revision=1")
    assert then["revision"] == 1
    assert then["densities"] == estimated(demo, REQUEST)["densities"]


@pytest.mark.parametrize(
    "name", ["bound_water", "bulk_density", "specific_heat_capacity", "thermal_conductivity"]
)
def test_data_without_a_property_estimates_rest_on_are_told(demo, small_app, monkeypatch, name):
    parts = small_app.extensions["hotface"]
    whole = parts.references.latest()
    fewer = {key: row for key, row in whole.properties.items() if key != name}
    monkeypatch.setattr(
        parts.references, "at", lambda *_: dataclasses.replace(whole, properties=fewer)
    )
    document = check_problem(demo.post("/v1/estimates", json=REQUEST), 503, "not_ready")
    assert name in document["detail"]
    answer = demo.get("/v1/materials/demo-sand/survival?temperature=901 Cel")
    assert answer.status_code == 200
