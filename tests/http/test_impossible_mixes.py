"""What cannot be a mix is refused with its place and what to do; what is only odd is told.

The mix is the lid of a pottery club's kiln, on the published data; the slips are invented.
"""

from __future__ import annotations

import copy

import pytest

from support.problems import check_problem

URL = "/v1/estimates"
CEMENT = {"material": "cac-40", "amount": "25 kg"}
CLAY = {"material": "expanded-clay", "amount": "60 L"}
LID = {"mix": {"constituents": [CEMENT, CLAY], "water": "11 L"}}


def lid(constituent=None, **more):
    """Give the lid with members of its light grains changed, or of the request."""
    made = copy.deepcopy(LID)
    made["mix"]["constituents"][1] |= constituent or {}
    made["mix"] |= more.pop("mix", {})
    return made | more


def own(**figures):
    return lid({"properties": figures})


def in_parts(*amounts, unit="%"):
    parts = [
        {"material": material, "amount": {"value": amount, "unit": unit}}
        for material, amount in zip(("cac-40", "fireclay", "expanded-clay"), amounts, strict=True)
    ]
    return {"mix": {"constituents": parts, "water": {"ratio_to_binder": 0.8}, "parts_by": "mass"}}


GRAINS = "#/mix/constituents/1"
REFUSED = {
    "percentages below a hundred": (
        in_parts(30, 20, 40),
        "#/mix/constituents",
        "add up to 90, not to 100",
    ),
    "percentages above a hundred": (
        in_parts(50, 20, 40),
        "#/mix/constituents",
        "add up to 110, not to 100",
    ),
    "too little water": (lid(mix={"water": "0.5 kg"}), "#/mix/water", "binds about 5.2"),
    "more water than it could hold": (
        lid(mix={"water": "2000 L"}),
        "#/mix/water",
        "ten times the volume of the solids",
    ),
    "a piece too heavy": (
        lid(measured={"bulk_density": "5000 kg/m3"}),
        "#/measured/bulk_density",
        "kg/m3",
    ),
    "a fresh piece too heavy": (
        lid(measured={"densities": {"fresh": "5000 kg/m3"}}),
        "#/measured/densities/fresh",
        "kg/m3",
    ),
    "no density held": (
        lid({"material": "fireclay"}),
        f"{GRAINS}/properties/loose_bulk_density",
        "no loose bulk density of fireclay is held",
    ),
    "no density of one's own": (
        lid({"material": "dust-of-mine", "kind": "filler", "amount": "3 kg"}),
        f"{GRAINS}/properties/true_density",
        "no true density of dust-of-mine is held",
    ),
    "no kind of one's own": (
        lid({"material": "grains-of-mine"}),
        f"{GRAINS}/material",
        "give its kind and densities",
    ),
    "pores of no size": (lid({"pore_size": "0 mm"}), f"{GRAINS}/pore_size", "above zero"),
    "grains lighter than their heap": (
        own(loose_bulk_density="900 kg/m3", particle_density="800 kg/m3"),
        f"{GRAINS}/properties/loose_bulk_density",
        "cannot exceed particle density",
    ),
    "grains heavier than their solid": (
        own(particle_density="2800 kg/m3", true_density="2600 kg/m3"),
        f"{GRAINS}/properties/particle_density",
        "cannot exceed true density",
    ),
    "a heap heavier than its solid": (
        own(loose_bulk_density="2700 kg/m3", true_density="2600 kg/m3"),
        f"{GRAINS}/properties/loose_bulk_density",
        "cannot exceed true density",
    ),
    "a bucket heavier than its grains": (
        lid(
            {
                "bucket": {"mass": "9 kg", "volume": "10 L"},
                "properties": {"particle_density": "800 kg/m3"},
            }
        ),
        f"{GRAINS}/bucket",
        "more than the particle density",
    ),
    "a conductor below its gas": (
        own(thermal_conductivity="0.001 W/(m.K)"),
        f"{GRAINS}/properties/thermal_conductivity",
        "air",
    ),
    "a heap heavier than any that is held": (
        own(loose_bulk_density="2000 kg/m3"),
        f"{GRAINS}/properties/loose_bulk_density",
        "by what is held",
    ),
    "a bucket heavier than any heap that is held": (
        lid({"bucket": {"mass": "30 kg", "volume": "10 L"}}),
        f"{GRAINS}/bucket",
        "by what is held",
    ),
    "grains heavier than any solid that is held": (
        own(particle_density="5000 kg/m3"),
        f"{GRAINS}/properties/particle_density",
        "by what is held",
    ),
    "a solid lighter than the grains that are held": (
        own(true_density="600 kg/m3"),
        f"{GRAINS}/properties/true_density",
        "by what is held",
    ),
    "a heat capacity above that of water": (
        own(specific_heat_capacity="10000 J/(kg.K)"),
        f"{GRAINS}/properties/specific_heat_capacity",
        "lies from",
    ),
    "pores larger than their grain": (
        lid({"pore_size": "9 mm", "grain_size": "4 mm"}),
        f"{GRAINS}/pore_size",
        "larger than its grain",
    ),
    "a heap lighter than air": (
        own(loose_bulk_density="0.3 kg/m3"),
        f"{GRAINS}/properties/loose_bulk_density",
        "slip",
    ),
    "a bucket of next to nothing": (
        lid({"bucket": {"mass": "3 g", "volume": "10 L"}}),
        f"{GRAINS}/bucket",
        "slip",
    ),
    "grains crushed to nothing": (
        lid({"crush_factor": 1e-9}),
        f"{GRAINS}/crush_factor",
        "between",
    ),
    "a slip of unit": (
        own(true_density="2600 g/cm3"),
        f"{GRAINS}/properties/true_density",
        "slip",
    ),
    "more lost than there is": (
        own(loss_on_ignition="150 %"),
        f"{GRAINS}/properties/loss_on_ignition",
        "share of the mass",
    ),
    "nothing that binds": (
        {"mix": {"constituents": [CLAY], "water": "11 L"}},
        "#/mix/constituents",
        "no binder",
    ),
}


@pytest.mark.parametrize("slip", REFUSED)
def test_what_cannot_be_is_refused_where_it_stands(client, slip):
    body, place, words = REFUSED[slip]
    document = check_problem(client.post(URL, json=body), 422, "invalid_body")
    assert [error["pointer"] for error in document["errors"]] == [place]
    assert words in document["errors"][0]["detail"]
    (alone,) = client.post(URL, json={"mixes": [body]}).get_json()["results"]
    assert alone["status"] == 422
    assert alone["problem"]["errors"][0]["pointer"] == place.replace("#", "#/mixes/0")


def test_a_density_out_of_reach_tells_the_span(client):
    document = client.post(URL, json=REFUSED["a piece too heavy"][0]).get_json()
    plain = client.post(URL, json=LID).get_json()["properties"]["bulk_density"]
    words = document["errors"][0]["detail"].replace(",", " ").replace(")", " ").split()
    numbers = [float(word) for word in words if word.replace(".", "").isdigit()]
    assert any(number <= plain["low"] for number in numbers)
    assert any(plain["high"] <= number < 5000 for number in numbers)


@pytest.mark.parametrize("amounts", [(33.3, 33.3, 33.3), (30, 20, 50), (30.4, 20, 50)])
def test_percentages_may_be_rounded(client, amounts):
    shown = client.post(URL, json=in_parts(*amounts))
    assert shown.status_code == 200
    plain = client.post(URL, json=in_parts(*amounts, unit="1")).get_json()
    for one, other in zip(
        shown.get_json()["composition"]["constituents"],
        plain["composition"]["constituents"],
        strict=True,
    ):
        assert one["mass_fraction"] == pytest.approx(other["mass_fraction"], rel=1e-5)


def test_percentages_stand_with_percentages(client):
    body = in_parts(30, 20, 50)
    body["mix"]["constituents"][2]["amount"] = {"value": 5, "unit": "1"}
    document = check_problem(client.post(URL, json=body), 422, "invalid_body")
    assert document["errors"][0]["pointer"] == "#/mix/constituents/2/amount"
    assert "percent" in document["errors"][0]["detail"]


TOLD = {
    "water_short": lid(mix={"water": "4 kg"}),
    "water_bleeds": lid(mix={"water": "100 L"}),
    "above_limit": lid(at=["1400 Cel"], state={"kind": "fired", "temperature": "1450 Cel"}),
    "hotter_than_fired": lid(at=["1100 Cel"], state={"kind": "fired", "temperature": "900 Cel"}),
    "measured_outside": lid(measured={"bulk_density": "450 kg/m3"}),
    "measured_outside_bounds": lid(
        measured={"thermal_conductivity": "5 W/(m.K)", "thermal_conductivity_at": "20 Cel"}
    ),
    "own_solid_assumed": lid(
        {
            "material": "grains-of-mine",
            "kind": "aggregate",
            "properties": {"loose_bulk_density": "340 kg/m3", "particle_density": "600 kg/m3"},
        }
    ),
}


@pytest.mark.parametrize("code", TOLD)
def test_what_is_only_odd_is_answered_and_told(client, code):
    response = client.post(URL, json=TOLD[code])
    assert response.status_code == 200, response.text[:500]
    texts = {each["code"]: each["text"] for each in response.get_json()["assumptions"]}
    assert code in texts
    if code == "above_limit":
        limit = response.get_json()["properties"]["service_limit"]
        assert f"{limit['high']:.0f} Cel" in texts[code]
        assert limit["limited_by"] in texts[code]


def test_a_percentage_needs_nothing_in_a_survival_question_either(client):
    """The same mix may be asked about as a survival question; its percentages hold there too."""
    good = {"mix": in_parts(30, 20, 50)["mix"], "temperature": "1000 Cel"}
    assert client.post("/v1/survivals", json=good).status_code == 200
    bad = {"mix": in_parts(30, 20, 40)["mix"], "temperature": "1000 Cel"}
    check_problem(client.post("/v1/survivals", json=bad), 422, "invalid_body")
