"""A thousand mixes in one call: one status each, the numbers of single ones, one look at the data.

The mixes are as a pottery club might try them: cement, light grains and sand by the bucket.
"""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hotface_api.mixes import held, nearest, service
from support.estimates import REQUEST
from support.problems import check_document, check_problem
from support.small import app_of

URL = "/v1/estimates"
GRAINS = ("demo-perlite", "demo-sand", "demo-grog-a", "demo-grog-b")


def mixed(cement, grains, **more):
    """Give a request: kilograms of cement, and kilograms of each grain by name."""
    parts = [{"material": "cac-demo-40", "amount": f"{cement} kg"}]
    parts += [{"material": name, "amount": f"{amount} kg"} for name, amount in grains.items()]
    return {"mix": {"constituents": parts, "water": f"{0.9 * cement} kg"}, **more}


def sent(client, mixes, query=""):
    response = client.post(URL + query, json={"mixes": mixes})
    assert response.status_code == 200, response.text[:500]
    return response.get_json()["results"]


def forget():
    for module in (held, service, nearest):
        module.forget()


def test_a_thousand_mixes_each_have_their_own_status(demo):
    """Every fifth is sound, and has the numbers it has alone."""
    mixes = [mixed(20, {"no-such-grain": 8}) for _ in range(1000)]
    for index in range(0, 1000, 5):
        mixes[index] = mixed(20 + index / 100, {"demo-perlite": 8}, seed=index)
    results = sent(demo, mixes)
    assert len(results) == 1000
    for index, result in enumerate(results):
        if index % 5 == 0:
            assert result["status"] == 200
            assert result["estimate"]["seed"] == index
            continue
        check_document(result["problem"], 422, "invalid_body")
        (error,) = result["problem"]["errors"]
        assert error["pointer"] == f"#/mixes/{index}/mix/constituents/1/material"
    for index in (0, 495, 995):
        assert results[index]["estimate"] == demo.post(URL, json=mixes[index]).get_json()


def test_a_body_of_a_thousand_wordy_mixes_is_read(demo):
    """Above what other bodies may have; refused for its mixes, not for its length."""
    figures = {"low": 300.0, "typical": 345.6789, "high": 400.0, "unit": "kg/m3"}
    wordy = mixed(20, {"no-such-grain": 8})
    wordy["mix"]["constituents"] = [
        {**part, "properties": {"loose_bulk_density": figures, "particle_density": figures}}
        for part in wordy["mix"]["constituents"] * 5
    ]
    assert len(json.dumps({"mixes": [wordy] * 1000})) > 1024 * 1024
    assert {result["status"] for result in sent(demo, [wordy] * 1000)} == {422}


@pytest.mark.parametrize("query", ["", "?revision=1", "?units=us"])
def test_the_numbers_are_those_of_single_ones(demo, query):
    mixes = [
        REQUEST,
        mixed(20, {"demo-sand": 30}, state={"kind": "dried"}),
        mixed(20, {"demo-perlite": 5, "demo-sand": 10}, measured={"bulk_density": "900 kg/m3"}),
        mixed(20, {"demo-perlite": 5}, rule="maxwell", coverage=0.5),
    ]
    for mix, result in zip(mixes, sent(demo, mixes, query), strict=True):
        assert result["estimate"] == demo.post(URL + query, json=mix).get_json()


def test_the_order_of_a_batch_changes_no_number(demo):
    mixes = [mixed(20 + n, {"demo-perlite": 5 + n}, seed=n) for n in range(6)]
    forwards, backwards = sent(demo, mixes), sent(demo, mixes[::-1])
    assert forwards == backwards[::-1]


def test_more_mixes_ask_the_database_no_more(small_app, statements):
    asking, database = small_app.test_client(), small_app.extensions["hotface"].database
    sent(asking, [REQUEST])
    counts = []
    for count in (1, 40):
        forget()
        with statements(database) as counted:
            sent(asking, [mixed(20 + n, {"demo-perlite": 5 + n}) for n in range(count)])
        counts.append(len(counted))
    assert counts[0] == counts[1]


def test_nor_do_mixes_of_ever_other_materials(small_app, statements):
    asking, database = small_app.test_client(), small_app.extensions["hotface"].database
    sets = [
        {name: 10 for place, name in enumerate(GRAINS) if bits >> place & 1}
        for bits in range(1, 16)
    ]
    sent(asking, [REQUEST])
    counts = []
    for chosen in (sets[-1:], sets):
        forget()
        with statements(database) as counted:
            results = sent(asking, [mixed(20, grains) for grains in chosen])
        assert {result["status"] for result in results} == {200}
        counts.append(len(counted))
    assert counts[0] == counts[1]


def test_what_is_kept_changes_no_number(demo):
    warm = demo.post(URL, json=REQUEST).data
    forget()
    assert demo.post(URL, json=REQUEST).data == warm


def test_a_batch_counts_by_its_mixes(club):
    """Towards the rate limit: an unsound mix costs next to nothing to answer, but is counted."""
    asking = app_of(club.database, rate_limits={"anonymous": 300, "key": 1000}).test_client()
    response = asking.post(URL, json={"mixes": [{}] * 1000})
    assert response.status_code == 200
    assert response.headers["RateLimit"].startswith('"anonymous";r=95;')
    check_problem(asking.post(URL, json={"mixes": [{}] * 1000}), 429, "rate_limited")


AMOUNTS = st.one_of(
    st.floats(1, 50).map(lambda value: {"value": value, "unit": "kg"}),
    st.floats(1, 100).map(lambda value: f"{value!r} [lb_av]"),
    st.floats(5, 80).map(lambda value: f"{value!r} L"),
    st.floats(1, 10).map(lambda value: {"value": value, "unit": "[gal_us]"}),
)
GRAIN = st.fixed_dictionaries(
    {"material": st.sampled_from(["demo-perlite", "grains-of-mine"]), "amount": AMOUNTS},
    optional={
        "measured_as": st.sampled_from(["loose", "absolute"]),
        "fill": st.sampled_from(["poured", "shaken", "compacted"]),
        "crush_factor": st.floats(0.5, 1),
        "pore_size": st.floats(0.01, 2).map(lambda value: f"{value!r} mm"),
        "grain_size": st.just({"low": 1, "high": 4, "unit": "mm"}),
        "bucket": st.floats(0.9, 1.5).map(lambda mass: {"mass": f"{mass!r} kg", "volume": "10 L"}),
        "properties": st.just({"specific_heat_capacity": "840 J/(kg.K)"}),
    },
).map(
    lambda part: (
        part
        if part["material"] == "demo-perlite"
        else {**part, "kind": "aggregate", "like": "demo-perlite"}
    )
)
MIXES = st.builds(
    lambda grain, cement, water: {
        "constituents": [{"material": "cac-demo-40", "amount": cement}, grain],
        "water": water,
    },
    GRAIN,
    st.floats(10, 40).map(lambda value: {"value": value, "unit": "kg"}),
    st.floats(0.4, 2).map(lambda value: {"ratio_to_binder": value})
    | st.floats(8, 30).map(lambda value: f"{value!r} L"),
)


@given(mix=MIXES, seed=st.integers(0, 2**53 - 1))
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_mix_comes_back_as_it_was_given_and_can_be_asked_again(small_app, mix, seed):
    asking = small_app.test_client()
    body = {"mix": mix, "seed": seed, "at": ["400 Cel"]}
    first = asking.post(URL, json=body)
    assert first.status_code == 200, first.text[:500]
    shown = first.get_json()
    assert shown["mix"] == mix
    again = {
        "mix": shown["mix"],
        "seed": shown["seed"],
        "coverage": shown["coverage"],
        "at": [point["temperature"] for point in _curve(shown)["points"]],
    }
    assert asking.post(URL, json=again).data == first.data
    (alone,) = sent(asking, [body])
    assert alone["estimate"] == shown


def _curve(shown):
    return shown["properties"]["thermal_conductivity"]
