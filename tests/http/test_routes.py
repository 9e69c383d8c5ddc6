"""What each address answers, on the small data whose every figure is known."""

from __future__ import annotations

import pytest

from support.problems import check_document, check_problem

ENVELOPE = {"database_id", "revision", "rules_version"}


def ids(response):
    return [item["id"] for item in response.get_json()["items"]]


@pytest.mark.parametrize(
    ("query", "wanted"),
    [
        ("kind=binder", ["cac-demo-40"]),
        ("kind=binder&kind=filler", ["cac-demo-40", "demo-flour"]),
        ("kind=binder,filler", ["cac-demo-40", "demo-flour"]),
        ("family=demo-grog", ["demo-grog-a", "demo-grog-b"]),
        ("q=GREY", ["cac-demo-40"]),
        ("q=größe", ["demo-sand"]),
        ("q=DÉMO", ["demo-sand"]),
        ("q=100 %25", ["demo-perlite"]),
        ("q=low_alumina", ["demo-grog-a"]),
        ("q=made glass", ["demo-perlite"]),
        ("kind=aggregate&q=clay", ["demo-grog-a", "demo-grog-b"]),
        ("has=thermal_conductivity", ["demo-brick", "demo-glass", "demo-grog-a"]),
        ("has=thermal_conductivity&has=service_limit", ["demo-brick", "demo-grog-a"]),
        ("survives=1000 Cel&kind=aggregate", ["demo-grog-a", "demo-grog-b"]),
        ("survives=3000 Cel", []),
        ("q=nothing of the kind", []),
        ("q=nothing&survives=100 Cel", []),
    ],
)
def test_materials_are_filtered(demo, query, wanted):
    assert ids(demo.get(f"/v1/materials?{query}")) == wanted


def test_a_material_tells_what_is_held_and_missing(demo):
    shown = demo.get("/v1/materials/demo-perlite").get_json()
    assert set(shown) >= ENVELOPE
    assert shown["also_known_as"] == ["demo light glass"]
    assert shown["solid"] == "demo-glass"
    loose = next(p for p in shown["properties"] if p["property"] == "loose_bulk_density")
    assert loose["values"] == 5
    assert loose["origins"] == 3
    assert loose["forms"] == ["heap"]
    assert loose["curve"] is False
    assert "thermal_conductivity" in shown["missing"]
    assert shown["grades"] == []


def test_a_material_shows_its_grades_and_cautions(demo):
    assert demo.get("/v1/materials/demo-grog-a").get_json()["grades"] == ["demo-grog-b"]
    cautions = demo.get("/v1/materials/demo-sand").get_json()["cautions"]
    assert [caution["id"] for caution in cautions] == ["demo-dust"]
    assert demo.get("/v1/materials/demo-brick").get_json()["properties"][0]["forms"] == ["body"]


def test_a_curve_is_told_of(demo):
    shown = demo.get("/v1/materials/demo-brick").get_json()["properties"]
    curve = next(p for p in shown if p["property"] == "thermal_conductivity")
    assert curve["curve"] is True
    assert curve["up_to"] == {"value": 800.0, "unit": "Cel"}


def test_a_material_at_an_old_revision(demo):
    def melting(url):
        return [p["property"] for p in demo.get(url).get_json()["properties"]]

    assert "melting_temperature" not in melting("/v1/materials/demo-perlite")
    assert "melting_temperature" in melting("/v1/materials/demo-perlite?revision=1")


def test_properties_by_group_and_words(demo):
    assert "true_density" in ids(demo.get("/v1/properties?group=density"))
    assert ids(demo.get("/v1/properties?q=demo 8894")) == ["thermal_conductivity"]
    shown = demo.get("/v1/properties/thermal_conductivity").get_json()
    assert shown["canonical_condition"] == {"form": "body", "state": "dried"}
    assert shown["forms"] == ["heap", "grain", "solid", "paste", "body"]
    assert shown["varies_with_temperature"] is True


def test_a_property_answer_weighs_every_value_or_says_why_not(demo):
    url = "/v1/materials/demo-perlite/properties/loose_bulk_density"
    shown = demo.get(url).get_json()
    assert shown["range"]["low"] < shown["range"]["typical"] < shown["range"]["high"]
    assert shown["range"]["kind"] == "interval"
    assert shown["range"]["coverage"] == 0.9
    assert shown["observed"] == {
        "low": 90.0,
        "typical": None,
        "high": 150.0,
        "unit": "kg/m3",
        "kind": "observed",
        "coverage": None,
    }
    assert shown["condition"]["fill"] == "poured"
    assert [other["condition"]["fill"] for other in shown["others"]] == ["compacted"]
    derivation = shown["derivation"]
    assert derivation["origins"] == 3
    assert sum(use["weight"] for use in derivation["used"]) == pytest.approx(1, abs=1e-5)
    left_out = {each["value"] for each in derivation["left_out"]}
    assert left_out == {"demo-perlite.loose_bulk_density.5"}
    assert shown["citations"] == ["demo-handbook-1", "demo-journal-1", "demo-supplier-1"]
    assert shown["points"] is None
    assert shown["band"] is None


def test_a_curve_is_answered_whole_or_at_temperatures(demo):
    url = "/v1/materials/demo-brick/properties/thermal_conductivity"
    band = demo.get(url).get_json()["band"]
    assert band["temperature_unit"] == "Cel"
    assert len(band["temperature"]) == len(band["typical"]) > 2
    shown = demo.get(f"{url}?at=300 Cel&at=1200 Cel&units=us").get_json()
    inside, outside = shown["points"]
    assert shown["band"] is None
    assert inside["temperature"] == {"value": 572.0, "unit": "[degF]"}
    assert inside["low"] < inside["typical"] < inside["high"]
    assert shown["unit"] == "[Btu_IT].[in_i]/([ft_i]2.h.[degR])"
    assert outside["typical"] is None
    assert outside["reason"]
    (beyond,) = demo.get(f"{url}?at=1200 Cel&extrapolate=true").get_json()["points"]
    assert beyond["extrapolated"] is True
    assert beyond["typical"] > 0


def test_a_hole_is_an_answer_with_its_reason(demo):
    shown = demo.get("/v1/materials/demo-flour/properties/thermal_conductivity").get_json()
    assert shown["range"] is None
    assert shown["condition"] is None
    assert shown["derivation"] is None
    assert "othing is held" in shown["reason"]


def test_a_property_answer_of_another_condition(demo):
    url = "/v1/materials/demo-perlite/properties/loose_bulk_density"
    shown = demo.get(f"{url}?form=heap&state=fired").get_json()
    assert shown["range"] is None
    assert shown["others"]
    limit = "/v1/materials/demo-grog-a/properties/service_limit?with=cac-demo-40"
    shown = demo.get(limit).get_json()
    assert shown["condition"]["with"] == "cac-demo-40"
    assert shown["observed"]["low"] == 1250.0


def test_survival_says_yes_no_and_unknown(demo):
    def outcome(material, query):
        response = demo.get(f"/v1/materials/{material}/survival?{query}")
        assert response.status_code == 200, response.text
        return response.get_json()

    yes = outcome("demo-grog-a", "temperature=1000 Cel")
    assert yes["outcome"] == "yes"
    assert yes["heading"] == "this material alone"
    assert yes["headroom"]["unit"] == "K"
    assert yes["margin_required"] == {"value": 50.0, "unit": "K"}
    assert yes["cycling"] is True
    assert yes["promise"]
    no = outcome("demo-perlite", "temperature=1200 Cel")
    assert no["outcome"] == "no"
    assert no["limiting_event"]["value"] in no["values"]
    partner = outcome("demo-grog-a", "temperature=1000 Cel&with=cac-demo-40&place=face")
    assert partner["heading"] == "with cac-demo-40"
    assert partner["place"] == "face"
    assert outcome("demo-flour", "temperature=1000 Cel")["outcome"] == "unknown"
    jump = outcome("demo-sand", "temperature=1000 Cel")
    calm = outcome("demo-sand", "temperature=1000 Cel&cycling=false")
    assert (jump["outcome"], calm["outcome"]) == ("borderline", "yes")
    wide = outcome("demo-grog-a", "temperature=1000 Cel&margin=900 [degR]&units=us")
    assert wide["outcome"] == "borderline"
    assert wide["margin_required"] == {"value": 900.0, "unit": "[degR]"}
    assert wide["temperature"] == {"value": 1832.0, "unit": "[degF]"}
    assert outcome("demo-sawdust", "temperature=500 Cel")["leaves_by_design"] is True


def test_many_survivals_in_order_each_with_its_status(demo):
    body = {
        "questions": [
            {"material": "demo-grog-a", "temperature": {"value": 1000, "unit": "Cel"}},
            {"material": "demo-grog", "temperature": "1000 Cel"},
            {"material": "demo-sand", "temperature": "1000 kg"},
            {"material": "demo-sand", "temperature": "1000 Cel", "with": "demo-cement"},
            {"material": "demo-sand", "temperature": "1000 Cel", "cycling": "no"},
            {"material": "demo-sand", "temperature": "1000 Cel", "tempo": 1},
            {
                "material": "demo-sand",
                "temperature": "1000 Cel",
                "with": None,
                "load": True,
                "place": None,
                "cycling": False,
                "margin": "20 K",
            },
        ]
    }
    results = demo.post("/v1/survivals", json=body).get_json()["results"]
    assert [result["status"] for result in results] == [200, 422, 422, 422, 422, 422, 200]
    places = ["material", "temperature", "with", "cycling", "tempo"]
    for index, (result, place) in enumerate(zip(results[1:6], places, strict=True), start=1):
        check_document(result["problem"], 422, "invalid_body")
        assert result["problem"]["errors"][0]["pointer"] == f"#/questions/{index}/{place}"
    assert results[0]["survival"]["outcome"] == "yes"
    last = results[-1]["survival"]
    assert (last["load"], last["cycling"], last["margin_required"]["value"]) == (True, False, 20.0)
    single = demo.get("/v1/materials/demo-grog-a/survival?temperature=1000 Cel").get_json()
    assert results[0]["survival"] == single


MIX = {
    "constituents": [
        {"material": "cac-demo-40", "amount": "25 kg"},
        {"material": "demo-grog-a", "amount": {"value": 30, "unit": "L"}},
    ],
    "water": {"value": 9, "unit": "L"},
}


def test_a_mix_is_asked_about_part_by_part(demo):
    body = {"mix": MIX, "temperature": "1000 Cel", "cycling": False, "margin": "60 K"}
    results = demo.post("/v1/survivals", json=body).get_json()["results"]
    shown = [(r["survival"]["material"], r["survival"]["with"]) for r in results]
    assert shown == [("cac-demo-40", "demo-grog-a"), ("demo-grog-a", "cac-demo-40")]
    assert results[0]["survival"]["margin_required"]["value"] == 60.0


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ({}, "#/questions"),
        ({"questions": []}, "#/questions"),
        ({"questions": [3]}, "#/questions/0"),
        ({"questions": [{}] * 1001}, "#/questions"),
        ({"questions": [], "margin": "1 K"}, "#/questions"),
        ({"mix": MIX}, "#/temperature"),
        ({"mix": 3, "temperature": "1 Cel"}, "#/mix"),
        (
            {
                "mix": {**MIX, "constituents": [{"material": "x", "amount": "1 kg"}]},
                "temperature": "1 Cel",
            },
            "#/mix/constituents/0/material",
        ),
    ],
)
def test_a_bad_survivals_body_is_told_where(demo, body, place):
    document = check_problem(demo.post("/v1/survivals", json=body), 422, "invalid_body")
    assert document["errors"][0]["pointer"] == place


def test_sources_by_filter_and_words(demo):
    assert ids(demo.get("/v1/sources?source_type=journal")) == ["demo-journal-1"]
    assert ids(demo.get("/v1/sources?origin=demo-handbook-1")) == ["demo-copy-1", "demo-handbook-1"]
    assert ids(demo.get("/v1/sources?q=MÜLLER invented")) == ["demo-journal-1"]
    assert ids(demo.get("/v1/sources?q=family")) == []
    assert ids(demo.get("/v1/sources?id=demo-copy-1&id=demo-journal-1")) == [
        "demo-copy-1",
        "demo-journal-1",
    ]


def test_a_source_in_three_forms(demo):
    url = "/v1/sources/demo-journal-1"
    shown = demo.get(url).get_json()
    assert shown["citation"]["DOI"] == "10.9999/demo_1"
    csl = "application/vnd.citationstyles.csl+json"
    bare = demo.get(url, headers={"Accept": csl})
    assert bare.content_type == csl
    assert bare.get_json(force=True) == shown["citation"]
    text = demo.get(url, headers={"Accept": "application/x-bibtex"})
    assert text.content_type == "application/x-bibtex"
    assert text.text.startswith("@article{demo-journal-1,\n")


def test_lists_of_sources_page_in_every_form(demo):
    for accept in ("application/vnd.citationstyles.csl+json", "application/x-bibtex"):
        first = demo.get("/v1/sources?limit=3", headers={"Accept": accept})
        following = first.headers["Link"].split(">")[0][1:]
        rest = demo.get(following, headers={"Accept": accept})
        assert "Link" not in rest.headers
        assert "demo-copy-1" in first.text
        assert "demo-supplier-1" in rest.text


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("property=service_limit&material=demo-grog-a", 3),
        ("specimen=demo-curve-1", 3),
        ("basis=memory", 1),
        ("origin=demo-handbook-1&source=demo-copy-1", 1),
        ("role=event", 2),
        ("form=paste,heap&material=cac-demo-40", 5),
        ("id=demo-sand.service_limit.2,nothing", 1),
    ],
)
def test_values_are_filtered(demo, query, count):
    assert len(demo.get(f"/v1/values?{query}").get_json()["items"]) == count


def test_a_value_carries_everything(demo):
    shown = demo.get("/v1/values/demo-grog-a.service_limit.3").get_json()
    assert set(shown) >= ENVELOPE
    assert shown["condition"]["with"] == "cac-demo-40"
    assert shown["source_type"] == "web"
    assert shown["origin"] == "demo-handbook-1"
    assert shown["status"] == "accepted"
    memory = demo.get("/v1/values/demo-perlite.loose_bulk_density.5").get_json()
    assert memory["source"] is None
    assert memory["recalled_source"] == "something recalled"
    event = demo.get("/v1/values/demo-sawdust.decomposition_temperature.1").get_json()
    assert event["event_kind"] == "leaves-by-design"


def test_history_keeps_what_left(demo):
    items = demo.get("/v1/values/demo-perlite.service_limit.2/history").get_json()["items"]
    shown = [(i["typical"], i["from_revision"], i["to_revision"]) for i in items]
    assert shown == [(950.0, 1, 2), (960.0, 2, None)]
    gone = demo.get("/v1/values/demo-perlite.melting_temperature.1/history").get_json()["items"]
    assert [(i["to_revision"], i["status"]) for i in gone] == [(2, "withdrawn")]
    replaced = demo.get("/v1/values/demo-sand.service_limit.1/history").get_json()["items"]
    assert [i["status"] for i in replaced] == ["accepted", "accepted"]
    before = "/v1/values/demo-perlite.melting_temperature.1/history?revision=1"
    assert [i["to_revision"] for i in demo.get(before).get_json()["items"]] == [None]


def test_a_value_that_left_says_by_what_it_was_replaced(demo):
    replaced = demo.get("/v1/values/demo-sand.service_limit.1").get_json()
    assert replaced["nearest"] == ["demo-sand.service_limit.1b"]
    withdrawn = demo.get("/v1/values/demo-perlite.melting_temperature.1").get_json()
    assert "withdrawn" in withdrawn["detail"]
    assert demo.get("/v1/values/demo-sand.service_limit.1?revision=1").status_code == 200


def test_a_specimen_comes_with_recipe_and_values(demo):
    shown = demo.get("/v1/specimens/demo-cast-1").get_json()
    assert shown["constituents"][0] == {
        "material": "cac-demo-40",
        "part": "binder",
        "mass_percent": 80.0,
        "volume_percent": 25.0,
    }
    assert shown["treatment_temperature"] == {"value": 110.0, "unit": "Cel"}
    assert shown["age"] == {"value": 28.0, "unit": "d"}
    assert len(shown["values"]) == 4
    listed = demo.get("/v1/specimens?kind=specimen").get_json()["items"]
    assert listed == [{key: shown[key] for key in listed[0]}]


def test_measured_bodies_near_a_mix_come_nearest_first(demo):
    url = "/v1/specimens?near=cac-demo-40:4,demo-perlite:1"
    document = demo.get(f"{url}&density=700 kg/m3&state=dried").get_json()
    (body,) = document["items"]
    assert body["id"] == "demo-cast-1"
    assert sum(body["because"].values()) == pytest.approx(body["distance"], abs=1e-5)
    assert len(body["values"]) == 4
    assert "reason" not in document
    nothing = demo.get("/v1/specimens?near=demo-sand:1").get_json()
    assert (nothing["items"], nothing["next"]) == ([], None)
    assert nothing["reason"]


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ("near=cac-demo-40", "near"),
        ("near=cac-demo-40:0", "near"),
        ("near=cac-demo-40:-1", "near"),
        ("near=cac-demo-40:nan", "near"),
        ("near=cac-demo-40:1e9", "near"),
        ("near=cac-demo-40:1,cac-demo-40:2", "near"),
        ("near=cac-demo:1", "near"),
        ("near=cac-demo-40:1&q=x", "q"),
        ("near=cac-demo-40:1&material=demo-brick", "material"),
        ("density=900 kg/m3", "density"),
        ("near=cac-demo-40:1&density=0 kg/m3", "density"),
        ("state=fired", "state"),
    ],
)
def test_near_is_strict(demo, query, parameter):
    document = check_problem(demo.get(f"/v1/specimens?{query}"), 400, "invalid_parameter")
    assert document["errors"][0]["parameter"] == parameter


@pytest.mark.parametrize(
    ("url", "wanted"),
    [
        ("/v1/phases?oxide=CaO&oxide=SiO2", ["demo-cao-al2o3-sio2"]),
        ("/v1/phases?kind=melting", ["demo-sio2"]),
        ("/v1/phases?q=CRISTOBALITE", ["demo-sio2"]),
        ("/v1/cones?series=orton-large", ["demo-cone-04-60", "demo-cone-10-60"]),
        ("/v1/cones?cone=10,34", ["demo-cone-10-60", "demo-pce-34"]),
        ("/v1/classes?standard=DEMO 155", ["demo-class-1"]),
        ("/v1/classes?edition=1999", ["demo-class-1"]),
        ("/v1/classes?edition=1998", []),
        ("/v1/standards?q=exist", ["demo-standard"]),
        ("/v1/cautions?material=demo-sand", ["demo-dust"]),
        ("/v1/cautions?trigger=first-fire", ["demo-steam"]),
        ("/v1/specimens?constituent=demo-perlite", ["demo-cast-1"]),
    ],
)
def test_small_tables_are_filtered(demo, url, wanted):
    assert ids(demo.get(url)) == wanted


def test_small_tables_tell_their_numbers(demo):
    (phase, _) = demo.get("/v1/phases?units=us").get_json()["items"]
    assert phase["oxides"] == ["CaO", "Al2O3", "SiO2"]
    assert phase["temperature"] == {"value": 2138.0, "unit": "[degF]"}
    cone = demo.get("/v1/cones").get_json()["items"][0]
    assert cone["heating_rate"] == {"value": 60.0, "unit": "K/h"}
    (limit,) = demo.get("/v1/classes?units=us").get_json()["items"]
    assert (limit["limit_low"], limit["limit_high"], limit["unit"]) == (845.0, None, "Cel")
    caution = demo.get("/v1/cautions?q=all").get_json()["items"][0]
    assert caution["above"] == {"value": 1000.0, "unit": "Cel"}
    dust = demo.get("/v1/cautions?material=demo-sand").get_json()["items"][0]
    assert dust["materials"] == ["demo-sand", "demo-flour"]


def test_revisions_tell_what_was_loaded(demo):
    document = demo.get("/v1/revisions").get_json()
    assert [item["number"] for item in document["items"]] == [2, 1]
    assert all(item["made_at"].endswith("Z") for item in document["items"])
    assert {item["kind"] for item in document["items"]} == {"seed"}
    assert [i["number"] for i in demo.get("/v1/revisions?revision=1").get_json()["items"]] == [1]


def test_holdings_show_holes(demo):
    items = demo.get("/v1/holdings?kind=pore-former").get_json()["items"]
    assert [item["material"] for item in items] == ["demo-sawdust"]
    assert items[0]["missing"] == []
    (only,) = demo.get(
        "/v1/holdings?material=demo-perlite&property=service_limit,thermal_conductivity"
    ).get_json()["items"]
    assert [held["property"] for held in only["held"]] == ["service_limit"]
    assert only["missing"] == [{"property": "thermal_conductivity", "need": 1}]


def test_the_entrance_leads_everywhere(demo):
    document = demo.get("/v1/").get_json()
    assert set(document) >= ENVELOPE
    for name, url in document["links"].items():
        expected = 405 if name in ("survivals", "estimates", "mix_searches") else 200
        expected = 401 if name == "contributions" else expected  # asks for a key
        assert demo.get(url).status_code == expected, name


def test_single_answers_carry_the_envelope_and_items_do_not(demo):
    assert not ENVELOPE & set(demo.get("/v1/values").get_json()["items"][0])
    one = demo.get("/v1/").get_json()
    assert one["database_id"] == demo.get("/v1/materials/demo-sand").get_json()["database_id"]
