"""How much to mix for a mould, what is printed on drying it, and the draws behind an estimate."""

from __future__ import annotations

import numpy as np
import pytest

from support.estimates import REQUEST, changed, estimated


def test_a_mould_is_answered_with_what_fills_it(demo):
    body = {**REQUEST, "mould": {"volume": "12 L", "spare": 0.25, "thickness": "60 mm"}}
    shown = estimated(demo, body)
    casting, plain = shown["casting"], estimated(demo, REQUEST)
    assert plain["casting"] is None
    assert casting["mould_volume"] == {"value": 12.0, "unit": "L"}
    filled = casting["batches"]["typical"] * plain["composition"]["yield"]["typical"]
    assert filled == pytest.approx(12 * 1.25, rel=0.01)
    cement, perlite = casting["constituents"]
    assert (cement["amount"]["unit"], cement["measured_as"]) == ("kg", None)
    assert (perlite["amount"]["unit"], perlite["measured_as"]) == ("L", "loose")
    for part, given in ((cement, 25), (perlite, 60)):
        assert part["amount"]["typical"] == pytest.approx(
            given * casting["batches"]["typical"], rel=1e-4
        )
    fresh = plain["densities"]["fresh"]["typical"] * 12 / 1000
    assert casting["piece"]["fresh"]["typical"] == pytest.approx(fresh, rel=0.01)
    drying = casting["drying"]
    assert drying["thickness"] == {"value": 60.0, "unit": "mm"}
    assert drying["reason"] or drying["steps"]
    assert "not a guarantee" in drying["promise"]


def test_drying_is_told_statement_by_statement_with_its_source(client):
    mix = {
        "constituents": [
            {"material": "cac-40", "amount": "25 kg"},
            {"material": "expanded-clay", "amount": "60 L"},
        ],
        "water": "11 L",
    }
    body = {"mix": mix, "mould": {"volume": "12 L", "thickness": "2 [in_i]"}}
    shown = estimated(client, body, "?units=us")
    drying = shown["casting"]["drying"]
    assert len(drying["steps"]) > 3
    for step in drying["steps"]:
        assert step["statement"]
        assert step["source"] in shown["citations"]
        assert step["ramp_at_most"] or step["hold"]
    holds = [step["hold"]["value"] for step in drying["steps"] if step["hold"]]
    assert holds == pytest.approx([2.032, 2.032])  # an hour per 25 mm, as printed
    assert drying["steps"][0]["ramp_at_most"]["unit"] == "[degR]/h"


def test_one_part_is_told_where_amounts_are_in_parts(demo):
    parts = [
        {"material": "cac-demo-40", "amount": "1 1"},
        {"material": "demo-perlite", "amount": "4 1"},
    ]
    mix = {"constituents": parts, "water": {"ratio_to_binder": 0.6}, "parts_by": "loose"}
    shown = estimated(demo, {"mix": mix, "mould": {"volume": "10 L"}})
    casting = shown["casting"]
    assert casting["batches"] is None
    assert casting["one_part"]["unit"] == "L"
    amounts = [part["amount"]["typical"] for part in casting["constituents"]]
    assert amounts[1] == pytest.approx(4 * casting["one_part"]["typical"], rel=1e-4)
    assert [part["dry_mass"] for part in shown["composition"]["constituents"]] == [None, None]


@pytest.mark.parametrize("query", ["", "?units=us"])
def test_draws_are_those_the_intervals_are_made_of(demo, query):
    shown = estimated(demo, {**REQUEST, "draws": 2000}, query)
    draws = shown["draws"]
    assert draws["count"] == 2000
    points = shown["properties"]["thermal_conductivity"]["points"]
    assert draws["temperatures"] == [point["temperature"]["value"] for point in points]
    rows = np.array(draws["thermal_conductivity"]["values"])
    assert rows.shape == (2000, 2)
    for column, point in zip(rows.T, points, strict=True):
        found = np.quantile(column, [0.05, 0.5, 0.95])
        assert found == pytest.approx([point[end] for end in ("low", "typical", "high")], rel=1e-4)
    for state, density in shown["densities"].items():
        told = draws["densities"][state]
        assert told["unit"] == density["unit"]
        assert np.median(told["values"]) == pytest.approx(density["typical"], rel=1e-4)
    assert draws["bulk_density"] == draws["densities"]["fired"]
    assert np.corrcoef(draws["bulk_density"]["values"], rows[:, 0])[0, 1] > 0.3
    assert draws["thermal_strain"] is None
    assert shown["reasons"]["thermal_strain"]
    few = estimated(demo, {**REQUEST, "draws": 3}, query)["draws"]
    assert few["thermal_conductivity"]["values"] == draws["thermal_conductivity"]["values"][:3]
    assert estimated(demo, {**REQUEST, "draws": 0}, query)["draws"] is None


def test_damp_grains_bring_water(demo):
    damp = estimated(demo, changed(["mix", "constituents", 1, "moisture"], "20 %"))
    dry = estimated(demo, REQUEST)
    assert damp["composition"]["water"]["typical"] > dry["composition"]["water"]["typical"]
    assert dry["state"]["water"]["high"] == 0
    wet = estimated(demo, changed(["state"], {"kind": "fresh"}) | {"at": ["20 Cel"]})
    assert wet["state"]["water"]["low"] > 0.05
