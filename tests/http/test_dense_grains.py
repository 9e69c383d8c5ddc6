"""A grain dense by kind goes into a mix over HTTP, and the answer tells what is taken of it.

The mix is a hard-wearing hearth of the pottery club's kiln; its amounts are invented.
"""

from __future__ import annotations

import pytest

from support.problems import check_problem

URL = "/v1/estimates"
CEMENT = {"material": "cac-70", "amount": "20 kg"}
TAKEN = "grain_taken_nearly_pore_free"


def hearth(grain):
    return {
        "mix": {"constituents": [CEMENT, grain], "water": "9 L"},
        "state": {"kind": "fired", "temperature": "1000 Cel"},
    }


def told(client, grain):
    response = client.post(URL, json=hearth(grain))
    assert response.status_code == 200, response.text
    return response.get_json()


def taken(answer):
    return [each["text"] for each in answer["assumptions"] if each["code"] == TAKEN]


@pytest.mark.parametrize("material", ["fused-alumina", "silicon-carbide", "zirconia"])
def test_the_answer_shows_the_assumption(client, material):
    (words,) = taken(told(client, {"material": material, "amount": "80 kg"}))
    assert "pores of 0.5 to 10 % of its volume" in words
    assert "our judgement, no source" in words


def test_a_figure_of_ones_own_takes_its_place(client):
    plain = told(client, {"material": "silicon-carbide", "amount": "80 kg"})
    own = told(
        client,
        {
            "material": "silicon-carbide",
            "amount": "80 kg",
            "properties": {"particle_density": "3080 kg/m3"},
        },
    )
    assert taken(own) == []
    assert own["densities"]["fired"] != plain["densities"]["fired"]
    assert own["narrowed_by"]["bulk_density"] > 0


@pytest.mark.parametrize(
    ("grain", "missing", "advice"),
    [
        (
            {"material": "silicon-carbide", "amount": "40 L"},
            "loose_bulk_density",
            "weigh one bucket of it",
        ),
        (
            {"material": "glass-microspheres", "amount": "5 kg"},
            "particle_density",
            "give your own under properties",
        ),
        ({"material": "sandstone", "amount": "50 kg"}, "particle_density", "turn mass into volume"),
    ],
)
def test_what_is_still_missing_is_named(client, grain, missing, advice):
    problem = check_problem(client.post(URL, json=hearth(grain)), 422, "invalid_body")
    (error,) = problem["errors"]
    assert error["pointer"] == f"#/mix/constituents/1/properties/{missing}"
    assert advice in error["detail"]


def test_a_search_over_http_shows_it_in_its_estimates(client):
    on_hand = [
        {"material": "cac-70", "share": {"low": 0.2, "high": 0.4}},
        {"material": "silicon-carbide", "share": {"low": 0.6, "high": 0.8}},
    ]
    body = {"on_hand": on_hand, "shares_by": "mass", "candidates": 200, "results": 1}
    response = client.post("/v1/mix-searches", json=body)
    assert response.status_code == 200, response.text
    (found,) = response.get_json()["mixes"]
    assert len(taken(found["estimate"])) == 1
