"""Bad input of contributions over HTTP: what is wrong, where, what may be meant."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from hotface_api.store.ledger_models import AuditEntry, Contribution, Reply, Submission
from hotface_api.store.models import Value
from hotface_api.store.read import table
from support.doors import OWN, body_of, doors_of, value_body
from support.problems import check_problem


@pytest.fixture
def doors(club):
    return doors_of(club)


@pytest.fixture(scope="module")
def quiet(quiet_club):
    """Doors of a ledger that is told only what it refuses."""
    return doors_of(quiet_club)


def counts(doors):
    tables = (Value, Contribution, Submission, AuditEntry, Reply)
    with doors.club.ledger.read() as connection:
        return [connection.scalar(select(func.count()).select_from(table(t))) for t in tables]


def own(**changes):
    return {"own_measurement": {**OWN["own_measurement"], **changes}}


BROKEN = "@article{lid,\n  title = {Lids},\n  author = {Club\n}"
WHOLE = [
    ({"licence": None}, "/licence"),
    ({"licence": "CC-BY-NC-4.0"}, "/licence"),
    ({"licence": 4}, "/licence"),
    ({"source": {}}, "/source"),
    ({"source": {"doi": "10.1000/x", "id": "y"}}, "/source"),
    ({"source": {"dio": "10.1000/x"}}, "/source"),
    ({"source": {"doi": "10.1000/x", "source_typ": "web"}}, "/source/source_typ"),
    ({"source": {"doi": 10.1}}, "/source/doi"),
    ({"source": {"doi": "doi.example/10.1"}}, "/source/doi"),
    ({"source": {"doi": "10.1000/x", "source_type": "leaflet"}}, "/source/source_type"),
    ({"source": {"id": "no-such-source"}}, "/source/id"),
    ({"source": "no-such-source"}, "/source"),
    ({"source": 7}, "/source"),
    ({"source": {"csl": "text"}}, "/source/csl"),
    ({"source": {"csl": {"type": "poem", "title": "x"}}}, "/source/csl/type"),
    ({"source": {"bibtex": BROKEN}}, "/source/bibtex"),
    ({"source": {"bibtex": "no entry"}}, "/source/bibtex"),
    ({"source": own(date="20 November")}, "/source/own_measurement/date"),
    ({"source": own(date="2026-02-30")}, "/source/own_measurement/date"),
    ({"source": own(date="2031-01-01")}, "/source/own_measurement/date"),
    ({"source": own(instrument=None)}, "/source/own_measurement/instrument"),
    ({"source": own(specimen=" ")}, "/source/own_measurement/specimen"),
    ({"source": own(instruments="x")}, "/source/own_measurement/instruments"),
    ({"measured_by": {"name": "A", "orcid": "0000-0002-1825-0098"}}, "/measured_by/orcid"),
    ({"measured_by": {"name": "A", "orcid": "0000"}}, "/measured_by/orcid"),
    ({"measured_by": {"orcid": "0000-0002-1825-0097"}}, "/measured_by/name"),
    (
        {"material": {"id": "No Slug", "name": "x", "kind": "body", "description": "y"}},
        "/material/id",
    ),
    (
        {"material": {"id": "expanded-perlite", "name": "x", "kind": "body", "description": "y"}},
        "/material/id",
    ),
    ({"material": {"id": "x", "name": "x", "kind": "bodi", "description": "y"}}, "/material/kind"),
    (
        {
            "material": {
                "id": "x",
                "name": "x",
                "kind": "body",
                "description": "y",
                "also_known_as": "z",
            }
        },
        "/material/also_known_as",
    ),
    ({"licens": "CC0-1.0"}, "/licens"),
    ({"values": {}}, "/values"),
    ({"values": []}, "/values"),
    ({"values": [7]}, "/values/0"),
]


@pytest.mark.parametrize(("changes", "place"), WHOLE)
def test_what_is_wrong_with_the_whole_is_told(quiet, changes, place):
    before = counts(quiet)
    body = body_of(value_body(locator="p. 3"), **changes)
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert f"#{place}" in {error["pointer"] for error in document["errors"]}
    assert counts(quiet) == before


VALUES = [
    ({"material": None}, "/material"),
    ({"material": "expanded-perlit"}, "/material"),
    ({"property": "loose_density"}, "/property"),
    ({"printed": None}, "/printed"),
    ({"printed": {"typical": 0.35, "unit": "kg/m3"}}, "/printed/typical"),
    ({"printed": {"typical": True, "unit": "kg/m3"}}, "/printed/typical"),
    ({"printed": {"typical": "1,1", "unit": "kg/m3"}}, "/printed/typical"),
    ({"printed": {"typical": "=1+1", "unit": "kg/m3"}}, "/printed/typical"),
    ({"printed": {"typical": "110"}}, "/printed/unit"),
    ({"printed": {"typical": "110", "unit": "parsec"}}, "/printed/unit"),
    ({"printed": {"typical": "110", "unit": "W/(m.K)"}}, "/printed/unit"),
    ({"printed": {"typical": "110", "unit": "kg per cube", "code": "kg/m4"}}, "/printed/code"),
    ({"printed": {"typical": "110", "unit": "m**9**9**9"}}, "/printed/unit"),
    ({"printed": {"low": "200", "high": "100", "unit": "kg/m3"}}, "/printed/low"),
    ({"printed": {"typical": "-5", "unit": "kg/m3"}}, "/printed/typical"),
    ({"printed": {"unit": "kg/m3"}}, "/printed/typical"),
    ({"bound": "about"}, "/bound"),
    ({"role": "limit"}, "/role"),
    ({"temperature": "-300 Cel"}, "/temperature"),
    ({"temperature": {"low": 30, "high": 20, "unit": "Cel"}}, "/temperature/low"),
    ({"temperature": {"low": 20, "unit": "kg"}}, "/temperature"),
    ({"temperature": {"lo": 20, "unit": "Cel"}}, "/temperature/lo"),
    ({"temperature": {"value": 9000, "unit": "K"}}, "/temperature"),
    ({"temperature": {"unit": "K"}}, "/temperature"),
    ({"condition": {"form": "lump"}}, "/condition/form"),
    (
        {
            "property": "specific_heat_capacity",
            "printed": {"typical": "800", "unit": "J/(kg.K)"},
            "condition": {},
        },
        "/condition/form",
    ),
    ({"condition": {"form": "heap", "fil": "poured"}}, "/condition/fil"),
    ({"condition": {"form": "heap", "with": "nothing"}}, "/condition/with"),
    ({"condition": {"form": "heap", "moisture": "3 kg"}}, "/condition/moisture"),
    (
        {"condition": {"form": "heap", "grain_size": {"low": 3, "high": 1, "unit": "mm"}}},
        "/condition/grain_size/low",
    ),
    ({"condition": {"form": "heap", "text": "\u202eevil"}}, "/condition/text"),
    ({"specimen": "none-such"}, "/specimen"),
    ({"quoted_in": {"doi": "10.1000/x"}}, "/quoted_in"),
    ({"note": "x" * 5000}, "/note"),
    ({"note": 3}, "/note"),
    ({"source": {"doi": "10.1000/x"}}, "/locator"),
    ({"uncertainty": {"standard": 4}}, "/uncertainty/standard"),
    ({"uncertainty": {"standard": "0"}}, "/uncertainty/standard"),
    ({"uncertainty": {"expanded": "4"}}, "/uncertainty/coverage_factor"),
    ({"uncertainty": {"standard": "4", "expanded": "8", "coverage_factor": 2}}, "/uncertainty"),
    ({"uncertainty": {"half_width": "4"}}, "/uncertainty/distribution"),
    ({"uncertainty": {"standard": "4", "kind": "A"}}, "/uncertainty"),
    ({"uncertainty": {"standard": "4", "kind": "C"}}, "/uncertainty/kind"),
    ({"uncertainty": {"standard": "4", "n": 0}}, "/uncertainty/n"),
    ({"uncertainty": {}}, "/uncertainty"),
    ({"id": "mine"}, "/id"),
    ({"status": "accepted"}, "/status"),
]


@pytest.mark.parametrize(("changes", "place"), VALUES)
def test_what_is_wrong_with_a_value_is_told(quiet, changes, place):
    before = counts(quiet)
    body = body_of(value_body("108"), value_body(**changes))
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    places = {error["pointer"] for error in document["errors"]}
    assert f"#/values/1{place}" in places
    assert not any(place.startswith("#/values/0") for place in places)
    assert counts(quiet) == before


def test_no_source_at_all(quiet):
    body = body_of()
    del body["source"]
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert document["errors"][0]["pointer"] == "#/values/0/source"


def test_a_figure_that_is_a_number_is_asked_for_as_text(quiet):
    body = body_of(value_body(0.35))
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert '"0.35"' in document["detail"]
    assert "as text" in document["detail"]


def test_broken_bibtex_names_the_line(quiet):
    body = body_of(value_body(locator="p. 3"), source={"bibtex": BROKEN})
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert "line" in document["errors"][0]["detail"]


def test_a_misspelt_member_names_the_right_one(quiet):
    body = {**body_of(), "measured_bi": {"name": "A"}}
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert "did you mean 'measured_by'?" in document["errors"][0]["detail"]


def test_an_unknown_material_names_the_nearest_as_codes_that_can_be_used(quiet):
    body = body_of(value_body(material="expanded-perlit"))
    document = check_problem(quiet.ann.post("/v1/values", body), 422, "invalid_contribution")
    assert "expanded-perlite" in document["nearest"]


MARKUP = '<script>alert(1)</script> & <img src=x onerror="x"> =cmd|calc'


def test_markup_is_text_and_is_kept_as_it_is(doors):
    (value,) = doors.ann.submits(value_body(note=MARKUP, method=MARKUP))
    entry = doors.cleo.get(f"/v1/contributions/{value}")
    assert entry.content_type == "application/json"
    assert entry.get_json()["value"]["note"] == MARKUP
    asked = doors.cleo.act(value, "review", {"decision": "ask", "note": MARKUP})
    assert asked.status_code == 200
    seen = doors.ann.get(f"/v1/contributions/{value}").get_json()
    assert seen["remarks"][0]["text"] == MARKUP


ACTS = [
    ("review", {}, "/decision"),
    ("review", {"decision": "maybe"}, "/decision"),
    ("review", {"decision": "accept", "notes": "x"}, "/notes"),
    ("reply", {}, "/text"),
    ("reply", {"text": 3}, "/text"),
    ("withdrawal", {}, "/reason"),
    ("withdrawal", {"reasn": "x"}, "/reasn"),
]


@pytest.mark.parametrize(("act", "body", "place"), ACTS)
def test_bodies_of_acts_are_read_strictly(doors, act, body, place):
    (value,) = doors.ann.submits()
    person = doors.cleo if act == "review" else doors.ann
    document = check_problem(person.act(value, act, body), 422, "invalid_body")
    assert f"#{place}" in {error["pointer"] for error in document["errors"]}
    assert doors.ann.get(f"/v1/contributions/{value}").headers["ETag"] == '"1"'


@pytest.mark.parametrize("decision", ["decline", "ask"])
def test_a_decision_against_says_why(doors, decision):
    (value,) = doors.ann.submits()
    response = doors.cleo.act(value, "review", {"decision": decision, "note": "  "})
    document = check_problem(response, 422, "invalid_contribution")
    assert document["errors"][0]["pointer"] == "#/note"


CORRECTIONS = [
    ({"value": value_body("120")}, "/reason"),
    ({"reason": "x"}, "/value"),
    ({"reason": "x", "value": []}, "/value"),
    ({"reason": " ", "value": value_body("120")}, "/reason"),
    ({"reason": "x", "value": value_body(120)}, "/value/printed/typical"),
    ({"reason": "x", "value": value_body("120", material="nothing")}, "/value/material"),
    (
        {"reason": "x", "value": value_body("120", condition={"form": "lump"})},
        "/value/condition/form",
    ),
    ({"reason": "x", "value": value_body("120", source={"doi": "10.1000/x"})}, "/value/locator"),
]


@pytest.mark.parametrize(("body", "place"), CORRECTIONS)
def test_corrections_are_read_as_strictly(doors, body, place):
    (value,) = doors.ann.submits()
    before = counts(doors)
    response = doors.ann.act(value, "correction", body)
    document = check_problem(response, 422, "invalid_contribution")
    assert f"#{place}" in {error["pointer"] for error in document["errors"]}
    assert counts(doors) == before


def test_another_s_value_is_not_corrected_or_withdrawn(doors):
    (value,) = doors.ann.submits()
    doors.cleo.act(value, "review", {"decision": "accept"})
    for act, body in (
        ("withdrawal", {"reason": "x"}),
        ("correction", {"value": value_body("120"), "reason": "x"}),
    ):
        check_problem(doors.ben.act(value, act, body, 2), 403, "not_yours")
    check_problem(doors.ben.act(value, "review", {"decision": "accept"}, 2), 403, "curators_only")


def test_media_types_and_bodies_that_are_none(doors):
    response = doors.ann.post("/v1/values", data=b"a,b", content_type="text/plain")
    check_problem(response, 415, "unsupported_media_type")
    for data, code in ((b"", 400), (b"[]", 400), (b'{"a":1,"a":2}', 400), (b"\xff", 400)):
        response = doors.ann.post("/v1/values", data=data, content_type="application/json")
        check_problem(response, code, "invalid_json")
    huge = b'{"licence": "%s"}' % (b"x" * 1024 * 1024)
    response = doors.ann.post("/v1/values", data=huge, content_type="application/json")
    check_problem(response, 413, "body_too_large")
    for query in ("dry_run=maybe", "dry_run=true&dry_run=true", "licence=CC0-1.0", "units=metric"):
        assert doors.ann.post(f"/v1/values?{query}", body_of()).status_code == 400
    response = doors.ann.post("/v1/values?dryrun=true", body_of())
    check_problem(response, 400, "unknown_parameter")
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
_PATHS = [
    ("licence",),
    ("source",),
    ("source", "own_measurement"),
    ("material",),
    ("measured_by",),
    ("values",),
    ("values", 0),
    ("values", 0, "material"),
    ("values", 0, "printed"),
    ("values", 0, "printed", "typical"),
    ("values", 0, "printed", "unit"),
    ("values", 0, "temperature"),
    ("values", 0, "condition"),
    ("values", 0, "condition", "form"),
    ("values", 0, "condition", "with"),
    ("values", 0, "condition", "grain_size"),
    ("values", 0, "uncertainty"),
    ("values", 0, "source"),
    ("values", 0, "quoted_in"),
    ("values", 0, "note"),
    ("values", 0, "specimen"),
]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(path=st.sampled_from(_PATHS), thing=anything)
def test_nothing_that_can_be_sent_is_a_server_error(quiet, path, thing):
    body = json.loads(json.dumps(body_of()))
    here = body
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = thing
    response = quiet.ann.post("/v1/values?dry_run=true", body)
    assert response.status_code in (200, 400, 422), response.text
    if response.status_code == 422:
        for error in response.get_json()["errors"]:
            assert _exists(body, error["pointer"]), error


def _exists(body, pointer):
    """Tell whether all but the last step of a pointer lead somewhere in a body."""
    steps = pointer.removeprefix("#").split("/")[1:-1]
    for step in steps:
        plain = step.replace("~1", "/").replace("~0", "~")
        try:
            body = body[int(plain)] if isinstance(body, list) else body[plain]
        except (KeyError, IndexError, ValueError, TypeError):
            return False
    return True
