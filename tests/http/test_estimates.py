"""Estimates over HTTP: what is asked is read whole or refused where it fails."""

from __future__ import annotations

import dataclasses

import pytest

from hotface_api.catalogue.melt import FirstMelt
from hotface_api.catalogue.nearest import NearSpecimen
from hotface_api.http import openapi
from hotface_api.mixes import answer
from hotface_api.mixes.classes import ClosestClass
from hotface_api.mixes.drying import DryingPractice, DryingStep
from hotface_api.mixes.rules import SELECTABLE
from hotface_api.mixes.service import ServiceLimit
from hotface_api.mixes.strength import StrengthClass
from support.estimates import REQUEST, URL, changed, estimated
from support.problems import check_document, check_problem


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


@pytest.mark.parametrize("fired", ["1500 Cel", "1600 Cel", "2000 Cel"])
def test_what_is_fired_hotter_than_air_is_known_is_answered_up_to_there(demo, fired):
    body = {"mix": REQUEST["mix"], "state": {"kind": "fired", "temperature": fired}}
    points = estimated(demo, body)["properties"]["thermal_conductivity"]["points"]
    assert points[-1]["temperature"] == {"value": 1400.0, "unit": "Cel"}


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
    ([*C0, "amount"], {"value": 5e-324, "unit": "kg"}, "#/mix/constituents/0/amount"),
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
    (
        ["measured"],
        {"thermal_conductivity_at": "400 Cel"},
        "#/measured/thermal_conductivity",
    ),
    (
        ["measured"],
        {"thermal_conductivity": {"value": 0.3, "unit": "W/(m.K)", "temperature": "4 kg"}},
        "#/measured/thermal_conductivity/temperature",
    ),
    (
        ["measured"],
        {
            "thermal_conductivity": {"value": 0.3, "unit": "W/(m.K)", "temperature": "4 Cel"},
            "thermal_conductivity_at": "4 Cel",
        },
        "#/measured/thermal_conductivity_at",
    ),
    (["measured"], {"thermal_conductivity": "0 W/(m.K)"}, "#/measured/thermal_conductivity"),
    (["measured"], {"spread": 0}, "#/measured/spread"),
    (["measured"], {"spread": 1.5}, "#/measured/spread"),
    (["measured"], {"spread": "3 %"}, "#/measured/spread"),
    (["rule"], "maxwel", "#/rule"),
    (["rule"], 3, "#/rule"),
    (["rule"], "krischer", "#/rule_options/series_share"),
    (["rule_options"], {"series_share": 0.2}, "#/rule"),
    (["rule_options"], {"series_share": "0.2"}, "#/rule_options/series_share"),
    (["rule_options"], [1], "#/rule_options"),
    (["draws"], 2001, "#/draws"),
    (["draws"], -1, "#/draws"),
    (["draws"], True, "#/draws"),
    (["mould"], "12 L", "#/mould"),
    (["mould"], {"volume": "12 kg"}, "#/mould/volume"),
    (["mould"], {"volume": "0 L"}, "#/mould/volume"),
    (["mould"], {"volume": "2000 m3"}, "#/mould/volume"),
    (["mould"], {"spare": 0.2}, "#/mould/volume"),
    (["mould"], {"volume": "12 L", "spare": 2}, "#/mould/spare"),
    (["mould"], {"volume": "12 L", "thickness": "0 mm"}, "#/mould/thickness"),
    (["mould"], {"volume": "12 L", "thickness": "60 m"}, "#/mould/thickness"),
    ([*C0, "moisture"], "-4 %", "#/mix/constituents/0/moisture"),
    ([*C0, "moisture"], "3000 %", "#/mix/constituents/0/moisture"),
    ([*C0, "moisture"], 0.04, "#/mix/constituents/0/moisture"),
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


def test_every_rule_can_be_chosen_and_says_where_it_holds(demo):
    usual = estimated(demo, REQUEST)["properties"]["thermal_conductivity"]
    options = {"krischer": {"series_share": 0.2}, "hamilton-crosser": {"sphericity": 0.8}}
    told = openapi.document()["components"]["schemas"]["EstimateRequest"]["properties"]["rule"]
    assert told["enum"] == list(SELECTABLE)
    for name in set(SELECTABLE) - {"exponential-pores"}:
        body = {**REQUEST, "rule": name, "rule_options": options.get(name, {})}
        shown = estimated(demo, body)
        assert (shown["rule"], shown["rule_options"]) == (name, body["rule_options"])
        curve = shown["properties"]["thermal_conductivity"]
        assert curve["method"] != usual["method"]
        assert "valid" in curve["method"]
        points = zip(curve["points"], usual["points"], strict=True)
        assert any(one["typical"] != other["typical"] for one, other in points)
        assert f"`{name}`" in told["description"]


def test_a_rule_that_cannot_be_asked_of_a_mix_says_why(demo):
    document = check_problem(
        demo.post(URL, json={**REQUEST, "rule": "exponential-pores"}), 422, "invalid_body"
    )
    assert document["errors"][0]["pointer"] == "#/rule"
    near = demo.post(URL, json={**REQUEST, "rule": "maxwel"}).get_json()["nearest"]
    assert near == ["maxwell"]


def test_what_was_measured_is_shown_in_the_units_of_the_answer(demo):
    conductivity = {"value": 0.25, "unit": "W/(m.K)", "temperature": "400 Cel"}
    body = {
        **REQUEST,
        "measured": {
            "densities": {"fresh": "1000 kg/m3", "air-dry": "52 [lb_av]/[cft_i]"},
            "thermal_conductivity": conductivity,
            "spread": 0.05,
        },
    }
    shown = estimated(demo, body)["measured"]
    assert shown["densities"]["fresh"] == {"value": 1000.0, "unit": "kg/m3"}
    assert shown["thermal_conductivity"]["temperature"] == {"value": 400.0, "unit": "Cel"}
    assert (shown["spread"], shown["bulk_density"]) == (0.05, None)
    american = estimated(demo, body, "?units=us")["measured"]
    assert american["densities"]["air-dry"] == {"value": 52.0, "unit": "[lb_av]/[cft_i]"}
    assert american["thermal_conductivity"]["temperature"]["value"] == 752.0
    assert estimated(demo, REQUEST)["measured"] is None


def test_both_ways_to_give_a_measured_conductivity_are_one(demo):
    within = {"value": 0.25, "unit": "W/(m.K)", "temperature": "400 Cel"}
    beside = {"thermal_conductivity": "0.25 W/(m.K)", "thermal_conductivity_at": "400 Cel"}
    one = estimated(demo, changed(["measured"], {"thermal_conductivity": within}))
    assert one == estimated(demo, changed(["measured"], beside))
    assert one["narrowed_by"]["thermal_conductivity"] > 0


def test_a_smaller_spread_of_the_measurement_narrows_more(demo):
    def width(spread):
        body = changed(["measured"], {"bulk_density": "700 kg/m3", "spread": spread})
        found = estimated(demo, body)["properties"]["bulk_density"]
        return found["high"] - found["low"]

    assert width(0.01) < width(0.03) < width(0.2)


SHAPES = {
    answer.CastPart: "CastPart",
    answer.Casting: "Casting",
    answer.Composition: "Composition",
    answer.CurvePoint: "BoundedPoint",
    answer.Doubt: "Doubt",
    answer.Draws: "Draws",
    answer.Estimate: "Estimate",
    answer.Share: "Share",
    answer.Validation: "Validation",
    ClosestClass: "ClosestClass",
    DryingPractice: "Drying",
    DryingStep: "DryingStep",
    FirstMelt: "FirstMelt",
    NearSpecimen: "NearestSpecimen",
    ServiceLimit: "ServiceLimit",
    StrengthClass: "StrengthClass",
}
ELSEWHERE = {
    "Composition.yield_": "yield",
    "Composition.yield_per_dry_mass": "yield",  # its unit tells
    "ClosestClass.sources": "citations",
    "Estimate.method": "thermal_conductivity",
    "Estimate.moisture": "state",  # as `water`
    "Estimate.request": "mix",  # and what else was asked
    "NearSpecimen.parts": "because",
    "NearSpecimen.specimen": "id",
    "CastPart.amount_kind": "amount",  # its unit tells
    "CurvePoint.range": "typical",
    "ServiceLimit.reason": "unknown",  # in words under `reasons`
}


@pytest.mark.parametrize("kind", SHAPES)
def test_nothing_that_is_computed_is_kept_from_the_answer(kind):
    schemas = openapi.document()["components"]["schemas"]
    shown = set(schemas[SHAPES[kind]]["properties"])
    shown |= set(schemas["EstimateProperties"]["properties"]) if kind is answer.Estimate else set()
    for field in dataclasses.fields(kind):
        name = ELSEWHERE.get(f"{kind.__name__}.{field.name}", field.name)
        assert name in shown, f"{kind.__name__}.{field.name} never reaches the answer"


ASKED = (
    "Bucket",
    "Constituent",
    "EstimateBody",
    "EstimateRequest",
    "Measured",
    "MeasuredDensities",
    "Mix",
    "Mould",
    "Musts",
    "OnHand",
    "SearchBody",
    "SearchWater",
    "ShareBounds",
    "State",
)


@pytest.mark.parametrize("name", ASKED)
def test_whatever_can_be_told_is_described_and_shown_by_example(name):
    schema = openapi.document()["components"]["schemas"][name]
    for member, told in schema["properties"].items():
        assert told["description"], f"{name}.{member}"
        plain = {"enum", "$ref", "default", "items"} & set(told) or told.get("type") == "boolean"
        assert plain or "example" in told, f"{name}.{member}"


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
        ({"mixes": [REQUEST] * 1001}, "#/mixes"),
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
