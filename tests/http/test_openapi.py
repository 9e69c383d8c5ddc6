"""The OpenAPI document: valid, stored, complete, and true of every answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from openapi_spec_validator import validate

from hotface_api.http import openapi
from hotface_api.http.problems import Code
from support.document import hold
from support.estimates import REQUEST

STORED = Path(__file__).parents[2] / "docs" / "openapi.json"
DOCUMENT = openapi.document()
ZIP = "application/zip"
OPERATIONS = {
    operation["operationId"]: (path, method, operation)
    for path, item in DOCUMENT["paths"].items()
    for method, operation in item.items()
    if method in ("get", "post")
}
KEYED = {name for name, (_, _, operation) in OPERATIONS.items() if "security" in operation}
"""Operations that ask for a key: their answers are held in test_contributions."""


def answer_schema(operation, media="application/json"):
    return OPERATIONS[operation][2]["responses"]["200"]["content"][media]["schema"]


def test_the_document_is_valid():
    validate(DOCUMENT)
    assert DOCUMENT["openapi"].startswith("3.1")


def test_the_stored_copy_is_the_document():
    assert STORED.read_bytes() == openapi.written(), (
        "the interface changed: look at the difference, then run"
        " `python -m hotface_api.http.openapi docs/openapi.json`"
    )


def test_it_is_served_and_written(demo, tmp_path):
    served = demo.get("/v1/openapi.json")
    assert served.content_type == "application/json"
    assert served.get_json() == DOCUMENT
    tag = {"If-None-Match": served.headers["ETag"]}
    assert demo.get("/v1/openapi.json", headers=tag).status_code == 304
    assert openapi.main([str(tmp_path / "o.json")]) == 0
    assert json.loads((tmp_path / "o.json").read_text(encoding="utf-8")) == DOCUMENT
    assert openapi.main([]) == 2


@pytest.mark.parametrize("name", sorted(OPERATIONS))
def test_an_operation_is_told_whole(name):
    path, _, operation = OPERATIONS[name]
    assert operation["summary"]
    assert operation["description"]
    for parameter in operation.get("parameters", []):
        assert parameter["description"], (name, parameter["name"])
    content = operation["responses"]["200"]["content"]
    for media, told in content.items():
        assert told["schema"], media
        assert "example" in told or media == ZIP, (name, media)
    named = {part[1:-1] for part in path.split("/") if part.startswith("{")}
    item = DOCUMENT["paths"][path].get("parameters", [])
    told = {p["name"]: p for p in item + operation.get("parameters", []) if p["in"] == "path"}
    assert set(told) == named
    assert all(parameter["example"] for parameter in told.values())


@pytest.mark.parametrize("name", sorted(OPERATIONS))
def test_examples_are_answers(name):
    content = OPERATIONS[name][2]["responses"]["200"]["content"]
    for media, told in content.items():
        if media != ZIP:  # an archive has no example; test_lookups opens one
            hold(told["schema"], told["example"])


def test_example_bodies_are_bodies():
    for _, method, operation in OPERATIONS.values():
        if method == "post":
            told = operation["requestBody"]["content"]["application/json"]
            hold(told["schema"], told["example"])


@pytest.mark.parametrize("name", ["post_estimates", "post_mix_searches", "post_survivals"])
def test_example_bodies_answer_on_the_seed(client, name):
    path, _, operation = OPERATIONS[name]
    told = operation["requestBody"]["content"]["application/json"]["example"]
    response = client.post(path, json=told)
    assert response.status_code == 200, response.text
    hold(answer_schema(name), response.get_json())


@pytest.mark.parametrize("state", ["dried", "fired"])
def test_an_estimate_near_measured_bodies_is_as_documented(client, state):
    body = {
        "mix": {
            "constituents": [
                {"material": "cac-40", "amount": "30 kg"},
                {"material": "expanded-perlite", "amount": "100 L"},
            ],
            "water": "25 L",
        },
        "state": {"kind": state},
    }
    document = client.post("/v1/estimates", json=body).get_json()
    hold(answer_schema("post_estimates"), document)
    assert document["nearest_specimens"] or document["reasons"]["nearest_specimens"]
    for name in ("strength_class", "thermal_strain"):
        assert document["properties"][name] or document["reasons"][name]
    assert document["closest_class"] or document["reasons"]["closest_class"]


def test_every_problem_code_is_told_where_its_status_is():
    told = "".join(r["description"] for r in DOCUMENT["components"]["responses"].values())
    not_of_an_operation = {Code.METHOD_NOT_ALLOWED}
    for code in set(Code) - not_of_an_operation:
        assert f"`{code.word}`" in told


def test_schemas_carry_no_names_of_the_code():
    for name in DOCUMENT["components"]["schemas"]:
        assert not name.endswith(("Shape", "Schema"))
    assert "PaginationMetadata" not in DOCUMENT["components"]["schemas"]


ANSWERS = [
    ("get_entrance", "/v1/"),
    ("list_problems", "/v1/problems"),
    ("get_problem", "/v1/problems/gone"),
    ("list_materials", "/v1/materials"),
    ("get_material", "/v1/materials/demo-perlite"),
    ("get_material", "/v1/materials/demo-brick?units=us"),
    ("list_properties", "/v1/properties"),
    ("get_property", "/v1/properties/service_limit"),
    ("get_material_property", "/v1/materials/demo-perlite/properties/loose_bulk_density"),
    ("get_material_property", "/v1/materials/demo-brick/properties/thermal_conductivity"),
    ("get_material_property", "/v1/materials/demo-brick/properties/thermal_conductivity?at=1 Cel"),
    ("get_material_property", "/v1/materials/demo-brick/properties/thermal_conductivity?at=2000 K"),
    ("get_material_property", "/v1/materials/demo-flour/properties/thermal_conductivity"),
    ("get_material_property", "/v1/materials/demo-grog-a/properties/service_limit"),
    ("get_material_property", "/v1/materials/demo-grog-b/properties/pyrometric_cone_equivalent"),
    ("get_material_property", "/v1/materials/demo-perlite/properties/water_absorption"),
    ("get_material_property", "/v1/materials/demo-brick/properties/shrinkage_span?units=us"),
    ("get_survival", "/v1/materials/demo-perlite/survival?temperature=900 Cel"),
    ("get_survival", "/v1/materials/demo-sand/survival?temperature=900 Cel&place=behind"),
    ("get_survival", "/v1/materials/demo-flour/survival?temperature=900 Cel&units=us"),
    ("list_sources", "/v1/sources"),
    ("get_source", "/v1/sources/demo-journal-1"),
    ("list_values", "/v1/values?limit=200"),
    ("get_value", "/v1/values/demo-perlite.loose_bulk_density.2"),
    ("get_value_history", "/v1/values/demo-perlite.service_limit.2/history"),
    ("list_specimens", "/v1/specimens"),
    ("list_specimens", "/v1/specimens?near=cac-demo-40:4&near=demo-perlite:1"),
    ("list_specimens", "/v1/specimens?near=demo-sand:1"),
    ("get_specimen", "/v1/specimens/demo-cast-1"),
    ("list_holdings", "/v1/holdings"),
    ("list_phases", "/v1/phases"),
    ("list_cones", "/v1/cones"),
    ("list_classes", "/v1/classes"),
    ("list_standards", "/v1/standards"),
    ("list_cautions", "/v1/cautions"),
    ("list_revisions", "/v1/revisions"),
    ("get_cone_firings", "/v1/cone-firings?cone=04"),
    ("get_cone_firings", "/v1/cone-firings?temperature=1100 Cel&heating_rate=60 K/h&units=us"),
    ("get_meltings", "/v1/meltings?oxides=CaO,Al2O3,SiO2"),
]
MOULD = {"volume": "12 L", "thickness": "60 mm"}
NEEDED = {"get_cone_firings": "?temperature=1200 Cel", "get_meltings": "?oxides=CaO,Al2O3,SiO2"}
"""Queries of reads that answer nothing without one."""


def test_every_read_is_held_below():
    reads = {name for name, (_, method, _) in OPERATIONS.items() if method == "get"} - KEYED
    assert {name for name, _ in ANSWERS} == reads - {"get_export"}


@pytest.mark.parametrize(("name", "url"), ANSWERS)
def test_answers_are_what_the_document_says(demo, name, url):
    response = demo.get(url)
    assert response.status_code == 200, response.text
    hold(answer_schema(name), response.get_json())


@pytest.mark.parametrize(
    ("name", "url", "body"),
    [
        (
            "post_survivals",
            "/v1/survivals",
            {
                "questions": [
                    {"material": "demo-sand", "temperature": "900 Cel"},
                    {"material": "demo-sand"},
                ]
            },
        ),
        ("post_survivals", "/v1/survivals", {"mix": REQUEST["mix"], "temperature": "900 Cel"}),
        ("post_estimates", "/v1/estimates", REQUEST),
        ("post_estimates", "/v1/estimates", {"mixes": [REQUEST, {}]}),
        ("post_estimates", "/v1/estimates", {**REQUEST, "mould": MOULD, "draws": 2}),
        (
            "post_mix_searches",
            "/v1/mix-searches",
            {"on_hand": [{"material": "cac-demo-40"}], "shares_by": "mass", "candidates": 10},
        ),
    ],
)
def test_computations_are_what_the_document_says(demo, name, url, body):
    response = demo.post(url, json=body)
    assert response.status_code == 200, response.text
    hold(answer_schema(name), response.get_json())


def test_the_strict_schema_can_fail(demo):
    document = demo.get("/v1/materials/demo-sand").get_json()
    document["surprise"] = 1
    with pytest.raises(AssertionError, match="surprise"):
        hold(answer_schema("get_material"), document)
    del document["surprise"], document["name"]
    with pytest.raises(AssertionError, match="name"):
        hold(answer_schema("get_material"), document)


def test_problems_are_what_the_document_says(demo):
    for status, url in ((404, "/v1/materials/x"), (400, "/v1/materials?x=1")):
        content = DOCUMENT["components"]["responses"][f"Problem{status}"]["content"]
        hold(content["application/problem+json"]["schema"], demo.get(url).get_json())


@pytest.mark.parametrize("name", sorted(OPERATIONS))
def test_every_answer_of_the_seed_is_as_documented(client, name):
    """Walk what the seed holds, a few of each: real rows meet corners invented ones do not."""
    path, method, _ = OPERATIONS[name]
    if method == "post" or "{" in path or name == "get_export" or name in KEYED:
        return
    response = client.get(path + NEEDED.get(name, ""))
    assert response.status_code == 200, response.text
    hold(answer_schema(name), response.get_json())


def _some(client, url, count=25):
    items = client.get(f"{url}?limit=200").get_json()["items"]
    return items[:: max(1, len(items) // count)]


def test_materials_of_the_seed_answer_as_documented(client):
    for item in _some(client, "/v1/materials", 12):
        material = client.get(f"/v1/materials/{item['id']}").get_json()
        hold(answer_schema("get_material"), material)
        survival = client.get(f"/v1/materials/{item['id']}/survival?temperature=1050 Cel")
        hold(answer_schema("get_survival"), survival.get_json())
        for held in material["properties"]:
            url = f"/v1/materials/{item['id']}/properties/{held['property']}"
            response = client.get(url)
            assert response.status_code == 200, (url, response.text)
            hold(answer_schema("get_material_property"), response.get_json())


def test_specimens_of_the_seed_answer_as_documented(client):
    for item in _some(client, "/v1/specimens", 10):
        specimen = client.get(f"/v1/specimens/{item['id']}").get_json()
        hold(answer_schema("get_specimen"), specimen)
