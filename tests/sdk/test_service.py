"""The SDK against the real service: look-up, lists and survival, in process and over a socket."""

import itertools
import json
import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pint
import pytest
from sqlalchemy import func, select

from hotface import (
    Client,
    Figure,
    InvalidRequest,
    NoAnswer,
    NotAllowed,
    NotFound,
    OldServer,
    ProblemError,
    Question,
    Range,
    Survival,
)
from hotface_api.embedded import InProcessTransport
from hotface_api.store import models
from support.html import check_html
from support.scripted import Unhurried

Q = pint.get_application_registry().Quantity


@pytest.fixture(scope="session")
def curved(service):
    """Some material with a conductivity curve, and a temperature inside it."""
    client = Client(transport=InProcessTransport(service))
    for line in client.holdings(property="thermal_conductivity"):
        if any(held.curve for held in line.held):
            answer = client.property(line.material, "thermal_conductivity")
            if answer.band is not None and answer.band.span is not None:
                low, high = answer.band.span
                return line.material, (low + high) / 2, high
    pytest.fail("the seed holds no conductivity curve")


def test_the_first_lines_of_the_contract(db):
    found = db.survives("expanded-perlite", "1050 degC")
    assert found.outcome == "no"
    assert found.answer.startswith("No")
    assert found.limit.magnitudes.low < 1050
    assert found.headroom.value < 0
    assert found.headroom.difference
    assert found.citations
    assert found.promise


def test_a_property_is_reached_by_its_name(db, curved):
    material, middle, top = curved
    conductivity = db.material(material).thermal_conductivity
    found = conductivity.at((middle, "degC"))
    assert isinstance(found, Range)
    low, typical, high = found.magnitudes
    assert 0 < low <= typical <= high
    assert found.typical.to("mW/(m*K)").magnitude == pytest.approx(1000 * typical)
    k = conductivity.function()
    assert k(middle) == pytest.approx(typical, rel=0.02)
    assert k(np.array([middle, top])).shape == (2,)
    assert conductivity.curve.temperature_unit == "Cel"


def test_outside_the_evidence_the_reason_is_told(db, curved):
    material, _, top = curved
    conductivity = db.material(material).thermal_conductivity
    with pytest.raises(NoAnswer, match=f"{material} thermal_conductivity at"):
        conductivity.at((top + 300, "degC"))
    beyond = conductivity.answer([(top + 300, "degC")], extrapolate=True)
    assert beyond.points.extrapolated == (True,)
    assert beyond.at_point().magnitudes.typical > 0


def test_an_answer_carries_its_derivation(db, curved):
    answer = db.property(curved[0], "thermal_conductivity")
    assert answer.derivation.origins >= 1
    used = [one.value for one in answer.derivation.used]
    assert used
    value = db.value(used[0])
    assert value.material == curved[0]
    assert value.printed.code
    assert value.source is None or db.source(value.source).citation["id"] == value.source
    assert answer.expected == answer.range
    assert "independent origins" in str(answer)
    check_html(answer)


def test_a_material_tells_what_is_held_and_what_is_not(db):
    mullite = db.material("mullite")
    held = {one.property for one in mullite.properties}
    assert "melting_temperature" in held
    assert held <= set(dir(mullite))
    with pytest.raises(AttributeError, match="did you mean 'melting_temperature'"):
        _ = mullite.meltin_temperature
    with pytest.raises(AttributeError, match=r"nothing is held of .*; it is wanted"):
        _ = getattr(mullite, mullite.missing[0])
    with pytest.raises(NoAnswer):
        _ = mullite.get(mullite.missing[0]).range
    assert not hasattr(mullite, "_anything")
    assert "mullite: Mullite" in str(mullite)
    check_html(mullite)
    check_html(mullite.melting_temperature)
    assert "sources" in str(mullite.melting_temperature)


def test_a_melting_point_is_a_temperature(db):
    melting = db.material("mullite").melting_temperature.range
    assert melting.unit == "Cel"
    assert melting.low.to("K").magnitude == pytest.approx(melting.magnitudes.low + 273.15)


def test_published_figures_of_a_property_are_walked(db):
    values = db.material("mullite").melting_temperature.values().all()
    assert {one.property for one in values} == {"melting_temperature"}
    assert all(one.range.unit == "Cel" for one in values)
    assert "mullite melting_temperature" in str(values[0])


LISTS = {
    "materials": models.Material,
    "properties": models.Property,
    "values": models.Value,
    "sources": models.Source,
    "specimens": models.Specimen,
    "phases": models.Phase,
    "cones": models.Cone,
    "classes": models.ClassLimit,
    "standards": models.Standard,
    "cautions": models.Caution,
}


@pytest.mark.parametrize("name", LISTS)
def test_every_list_is_walked_to_its_end(connect, database, name):
    items = getattr(connect(), name)().all()
    with database.read() as connection:
        count = connection.scalar(select(func.count()).select_from(LISTS[name]))
    ids = [item.id for item in items]
    assert len(ids) == count > 0
    assert len(set(ids)) == count


def test_the_other_lists(db):
    assert [one.number for one in db.revisions()] == [1]
    assert {one.material for one in db.holdings(kind="binder")} == {
        one.id for one in db.materials(kind="binder")
    }
    cone = db.cones().first()[0]
    assert isinstance(cone.temperature, Figure)
    assert cone["temperature"] == cone.temperature
    with pytest.raises(KeyError, match="no column 'colour'"):
        _ = cone["colour"]
    assert cone.get("colour", "red") == "red"
    check_html(cone)
    limit = db.classes().first()[0]
    assert limit["class"] == limit.class_
    assert limit.class_ in str(limit)
    for name in ("phases", "cones", "standards", "holdings"):
        row = getattr(db, name)().first()[0]
        assert str(row)
        assert set(row.columns()) >= {"held", "missing"} or row.columns()["id"] == row.id
    specimen = db.specimen(db.specimens().first()[0].id)
    assert specimen.values
    assert db.history(specimen.values[0].id)[-1] == db.value(specimen.values[0].id)


def test_filters_narrow_a_list(db):
    both = db.materials(kind=["binder", "filler"], q="silica").all()
    assert both
    assert {one.kind for one in both} <= {"binder", "filler"}
    with_k = {one.id for one in db.materials(has=["thermal_conductivity", "true_density"])}
    assert with_k < {one.id for one in db.materials()}
    hot = [one.id for one in db.materials(survives="1000 degC")]
    assert hot == [one.id for one in db.materials(survives=Q(1832, "degF"))] != []
    assert {one.outcome for one in db.survivals([(name, "1000 degC") for name in hot])} == {"yes"}


def test_a_filter_that_is_misspelt_is_never_ignored(db):
    with pytest.raises(InvalidRequest, match="material") as caught:
        db.values(materail="mullite").all()
    assert "material" in caught.value.nearest


def test_an_unknown_id_names_the_nearest(db):
    with pytest.raises(NotFound, match="'mullite'") as caught:
        db.material("mulite")
    assert "mullite" in caught.value.nearest
    assert caught.value.code == "unknown_id"
    assert len(caught.value.request_id) == 32


def test_the_request_id_of_an_error_is_the_one_sent(noted):
    client, notes = noted
    with pytest.raises(NotFound) as caught:
        client.material("mulite")
    assert caught.value.request_id == notes.requests[0].headers["X-Request-Id"]


def test_a_route_that_is_not_there_means_an_old_service(db):
    with pytest.raises(OldServer, match="GET /v1/wishes"):
        db.ask("GET", "/v1/wishes")


SAME = [
    "1050 degC",
    "1050 Cel",
    (1050, "degC"),
    (1922, "degF"),
    Figure(1323.15, "K"),
    Q(1050, "degC"),
    Q(1922, "degF"),
]


def test_every_way_to_write_a_temperature_gives_the_same_answer(db):
    answers = {db.survives("chamotte", asked).to_json() for asked in SAME[:4]}
    assert len({json.loads(one)["headroom"]["value"] for one in answers}) == 1
    outcomes = {
        (one.outcome, one.headroom.value)
        for one in db.survivals(zip(["chamotte"] * 7, SAME, strict=True))
    }
    assert len(outcomes) == 1


def test_one_by_one_and_in_a_batch_the_answers_are_the_same(db):
    options = itertools.product((None, "cac-40"), ("face", "behind"), (True, False))
    questions = [
        Question("expanded-clay", "900 degC", with_=partner, place=place, load=load, margin="30 K")
        for partner, place, load in options
    ]
    batch = db.survivals(questions)
    envelope = {"database_id", "revision", "rules_version"}
    for question, found in zip(questions, batch, strict=True):
        alone = db.survives(
            question.material,
            question.temperature,
            with_=question.with_,
            place=question.place,
            load=question.load,
            margin=question.margin,
        )
        first, second = alone.to_dict(), found.to_dict()
        for name in envelope:
            first.pop(name, None)
            second.pop(name, None)
        assert first == second


def test_a_question_that_cannot_be_answered_has_its_place_in_the_batch(db):
    questions = [("mullite", "1000 degC"), ("mulite", "1000 degC")]
    good, bad = db.survivals(questions, on_problem="return")
    assert isinstance(good, Survival)
    assert isinstance(bad, ProblemError)
    assert bad.index == 1
    with pytest.raises(ProblemError, match="question 1"):
        db.survivals(questions)


def test_many_questions_go_in_few_calls(noted):
    client, notes = noted
    found = client.survivals([("mullite", (t, "degC")) for t in range(500, 1501)])
    assert len(found) == 1001
    assert len(notes.requests) == 2


def test_a_survival_answer_is_not_true_or_false(db):
    found = db.survives("mullite", "1000 degC")
    with pytest.raises(TypeError, match=r"\.outcome"):
        bool(found)
    check_html(found)
    assert str(found).startswith(found.answer)


def test_the_json_is_the_services_own(db, service):
    path = "/v1/materials/mullite/survival?temperature=1000%20Cel"
    assert db.survives("mullite", "1000 degC").to_json() == service.test_client().get(path).text
    path = "/v1/materials/mullite"
    assert db.material("mullite").to_json() == service.test_client().get(path).text


def test_asking_again_costs_a_304(noted):
    client, notes = noted
    first = client.material("mullite")
    again = client.material("mullite")
    assert [response.status for response in notes.responses] == [200, 304]
    assert notes.responses[1].body == b""
    assert first.to_dict() == again.to_dict()
    client.survives("mullite", "1000 degC")
    client.survives("mullite", "1000 degC")
    assert notes.responses[-1].status == 304


def test_one_client_serves_many_threads(db):
    materials = [one.id for one in db.materials().first(6)]
    asked = [(name, f"{heat} degC") for name in materials for heat in (600, 900)] * 3
    alone = [db.survives(*each).to_json() for each in asked]
    with ThreadPoolExecutor(8) as pool:
        together = list(pool.map(lambda each: db.survives(*each).to_json(), asked))
    assert together == alone


def test_us_units_come_out_when_asked_for(connect):
    si, us = connect(), connect(units="us")
    ours, theirs = si.survives("chamotte", "1000 degC"), us.survives("chamotte", "1000 degC")
    assert theirs.temperature == Figure(1832, "[degF]")
    assert theirs.headroom.unit == "[degR]"
    assert theirs.headroom.to("K").value == pytest.approx(ours.headroom.value, rel=1e-4)
    assert theirs.outcome == ours.outcome
    density = us.property("mullite", "true_density").range
    assert density.unit == "[lb_av]/[cft_i]"
    expected = si.property("mullite", "true_density").range.magnitudes.typical
    assert density.to("kg/m3").magnitudes.typical == pytest.approx(expected, rel=1e-4)
    (batch,) = us.survivals([("chamotte", "1000 degC")])
    assert batch.temperature == theirs.temperature


def test_a_revision_can_be_held(connect):
    assert connect(revision=1).material("mullite").revision == 1
    with pytest.raises(NotFound):
        connect(revision=10**6).material("mullite")


def test_sources_come_as_bibtex(db):
    ids = [one.id for one in db.sources().first(60)]
    text = db.bibtex(ids)
    assert text.count("\n@") + text.startswith("@") == 60
    one = db.bibtex(ids[0])
    assert one.startswith("@")
    assert db.bibtex([]) == ""


def test_results_can_be_sent_to_another_process(db, curved):
    for result in (
        db.survives("mullite", "1000 degC"),
        db.property(curved[0], "thermal_conductivity"),
        db.materials().first()[0],
        db.values().first()[0],
        db.cones().first()[0],
    ):
        assert pickle.loads(pickle.dumps(result)) == result  # noqa: S301 - our own bytes


def test_results_are_frozen(db):
    found = db.survives("mullite", "1000 degC")
    with pytest.raises(AttributeError):
        found.outcome = "yes"
    found.to_dict()["outcome"] = "yes"
    assert found.to_dict()["outcome"] == found.outcome


def test_the_embedded_service_is_read_only_unless_asked(service):
    client = Client(transport=InProcessTransport(service), retries=Unhurried())
    with pytest.raises(NotAllowed, match=r"read-only.*Client\(key=\.\.\.\)"):
        client.ask("POST", "/v1/values", None, {"material": "mullite"})
    for path in ("/v1/values/x/review", "/v1/materials/mullite"):
        with pytest.raises(NotAllowed):
            client.ask("POST", path, None, {})
    passed = []

    def application(environ, start):
        passed.append(environ["PATH_INFO"])
        start("201 Created", [("Content-Type", "application/json")])
        return [b'{"id": ', b'"x"}']

    writable = Client(transport=InProcessTransport(application, writable=True))
    assert writable.ask("POST", "/v1/values", None, {}).data == {"id": "x"}
    assert passed == ["/v1/values"]
