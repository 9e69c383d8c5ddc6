"""Every number of an estimate in US units is the one in SI, and none is left in SI."""

from __future__ import annotations

import pytest

from hotface.units import convert
from support.estimates import REQUEST

EVERYTHING = {
    **REQUEST,
    "measured": {
        "densities": {"fresh": "1000 kg/m3"},
        "thermal_conductivity": {"value": 0.25, "unit": "W/(m.K)", "temperature": "400 Cel"},
    },
    "mould": {"volume": "12 L", "thickness": "60 mm"},
    "draws": 3,
}


def cast(binder, grains, **more):
    """Give a mix of the published materials."""
    parts = [{"material": binder, "amount": "30 kg"}, {"material": grains, "amount": "100 L"}]
    mix = {"constituents": parts, "water": "25 L"}
    return {**EVERYTHING, "mix": mix, "measured": {"bulk_density": "900 kg/m3"}, **more}


SAME = {"1", "%", "h", "d"}
"""Units of both systems."""
AS_GIVEN = {"mix", "request", "printed"}
"""Members that are shown as they were sent or printed."""
PLAIN = {"coverage", "spread", "count", "from_revision", "to_revision", "n", "coverage_factor"}
MARK = "unit"


def units_of(node, unit=None):
    """Walk an answer and yield each number under a unit, with that unit."""
    if isinstance(node, list):
        for member in node:
            yield from units_of(member, unit)
    elif isinstance(node, dict):
        mine = node.get(MARK) or unit
        for key, member in node.items():
            if key in AS_GIVEN | PLAIN:
                continue
            if key == "temperatures":
                yield from units_of(member, node["temperature_unit"])
            else:
                yield from units_of(member, None if isinstance(member, dict) else mine)
    elif isinstance(node, int | float) and not isinstance(node, bool) and unit is not None:
        yield float(node), unit


def check(plain, american):
    first, second = list(units_of(plain)), list(units_of(american))
    assert len(first) == len(second) > 60
    for (one, si), (other, us) in zip(first, second, strict=True):
        assert us in SAME or us != si, f"{other} {us} is left in SI"
        back = convert(other, us, si)
        assert back == pytest.approx(one, rel=2e-5, abs=2e-3 if si == "Cel" else 1e-12), (si, us)
    return {us for _, us in second}


@pytest.mark.parametrize("body", [EVERYTHING, {**EVERYTHING, "state": {"kind": "dried"}}])
def test_an_estimate_of_everything(demo, body):
    plain = demo.post("/v1/estimates", json=body).get_json()
    american = demo.post("/v1/estimates?units=us", json=body).get_json()
    units = check(plain, american)
    assert {"[lb_av]", "[cft_i]", "[in_i]", "[degF]", "[lb_av]/[cft_i]"} <= units


@pytest.mark.parametrize(
    ("body", "units"),
    [
        (cast("cac-40", "expanded-clay"), {"[degR]/h", "h", "[Btu_IT]/([lb_av].[degR])"}),
        (cast("portland-cement", "expanded-perlite", state={"kind": "dried"}), {"[psi]"}),
    ],
)
def test_an_estimate_on_the_published_data(client, body, units):
    plain = client.post("/v1/estimates", json=body).get_json()
    american = client.post("/v1/estimates?units=us", json=body).get_json()
    assert units <= check(plain, american)
    assert plain["closest_class"] or plain["nearest_specimens"]


def test_a_search(demo):
    body = {
        "on_hand": [{"material": "cac-demo-40"}, {"material": "demo-perlite"}],
        "shares_by": "mass",
        "candidates": 200,
    }
    plain = demo.post("/v1/mix-searches", json=body).get_json()
    american = demo.post("/v1/mix-searches?units=us", json=body).get_json()
    assert plain["mixes"]
    check(plain, american)


def test_the_check_can_fail(demo):
    plain = demo.post("/v1/estimates", json=EVERYTHING).get_json()
    with pytest.raises(AssertionError, match="left in SI"):
        check(plain, plain)
