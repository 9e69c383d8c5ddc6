"""The SDK against the real service: what a mix will be."""

import json
import pickle
import sys

import numpy as np
import pint
import pytest

from hotface import (
    Client,
    Curve,
    Estimate,
    EstimateRequest,
    Figure,
    HotfaceError,
    InvalidRequest,
    Mix,
    NoAnswer,
    NotAnAnswer,
    NotInstalled,
    OutsideSpan,
    ProblemError,
    Range,
    ServiceLimit,
)
from hotface_api.embedded import InProcessTransport

Q = pint.get_application_registry().Quantity
AT = ["200 degC", "600 degC"]
TWICE = Mix(water="1 L").add("cac-40", "1 kg").add("cac-40", "2 kg")


@pytest.fixture(scope="session")
def est(service):
    """The estimate of the lid, asked for once."""
    mix = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
    client = Client(transport=InProcessTransport(service))
    return client.estimate(mix, fired="1000 degC", at=AT, seed=1)


def test_the_lid_is_estimated_both_ways_alike(db, lid, est):
    found = db.estimate(lid, fired="1000 degC", at=AT, seed=1)
    assert found.to_json() == est.to_json()
    assert found == est


def test_its_numbers_are_a_lids(est):
    low, typical, high = est.bulk_density.magnitudes
    assert 500 < low < typical < high < 2500
    assert est.bulk_density.typical.to("g/cm^3").magnitude == pytest.approx(typical / 1000)
    assert est.densities["fresh"].magnitudes.typical > typical
    assert set(est.densities) == {"fresh", "demoulded", "dried", "fired"}
    assert sum(one.mass_fraction for one in est.composition.constituents) == pytest.approx(1)
    assert 0 < est.composition.porosity.magnitudes.typical < 1
    assert est.composition.yield_.magnitudes.typical > 0
    assert est.state.temperature == Figure(1000, "Cel")
    assert (est.coverage, est.seed, est.revision) == (0.9, 1, 1)
    assert est.citations
    assert est.assumptions


def test_its_conductivity_is_a_function_for_a_solver(est):
    curve = est.thermal_conductivity
    assert isinstance(curve, Curve)
    assert curve.temperatures == (200.0, 600.0)
    for lower, low, high, upper in zip(
        curve.lower_bound, curve.low, curve.high, curve.upper_bound, strict=True
    ):
        assert 0 < lower <= low <= high <= upper
    k = curve.function()
    assert k(400) == pytest.approx(sum(curve.typical) / 2)
    assert k(np.linspace(200, 600, 3))[1] == pytest.approx(k(400))
    assert k(Q(400, "degC")).to("W/m/K").magnitude == pytest.approx(k(400))
    assert curve.function(which="upper_bound")(200) == curve.upper_bound[0]
    with pytest.raises(OutsideSpan, match="200 to 600 °C"):
        k(601)


def test_its_service_limit_names_the_weakest_part(est):
    limit = est.service_limit
    assert isinstance(limit, ServiceLimit)
    assert limit.limited_by in ("cac-40", "expanded-clay")
    assert limit.range.high.to("degC").magnitude < 1500
    assert limit.limited_by in str(limit)


def test_what_is_not_held_is_told_with_its_reason(est):
    missing = [name for name, found in est.to_dict()["properties"].items() if found is None]
    assert missing
    for name in missing:
        assert est.get(name) is None
        with pytest.raises(NoAnswer, match=name.replace("_", " ")) as caught:
            getattr(est, name)
        assert est.reasons[name] in str(caught.value)


def test_what_stands_beside_the_numbers_is_read(est):
    document = est.to_dict()
    assert [one.output for one in est.doubt_shares] == [
        one.get("output") for one in document["doubt_shares"]
    ]
    near = document["nearest_specimens"]
    assert [one.specimen.id for one in est.nearest_specimens] == [one["id"] for one in near]
    if est.nearest_specimens:
        assert est.nearest_specimens[0].specimen.values
        assert est.nearest_specimens[0].specimen.name in str(est)
    if est.closest_class is not None:
        assert est.closest_class.text in str(est)
    if est.get("strength_class") is not None:
        assert "not for load" in str(est.strength_class)


def test_it_is_kept_in_a_file_and_comes_back(est, tmp_path):
    place = tmp_path / "lid.json"
    est.save(place)
    est.save(str(place))
    assert place.read_text(encoding="utf-8") == est.to_json()
    assert [one.name for one in tmp_path.iterdir()] == ["lid.json"]
    back = Estimate.load(place)
    assert back == est
    assert back.thermal_conductivity.function()(300) == est.thermal_conductivity.function()(300)
    with pytest.raises(HotfaceError, match="knows no service"):
        back.bibtex()
    again = Estimate.load(place, client=est.client)
    assert again.bibtex() == est.bibtex()


@pytest.mark.parametrize("text", ["", "[1]", "{}", "water = 1"])
def test_another_file_is_no_estimate(tmp_path, text):
    place = tmp_path / "other.json"
    place.write_text(text, encoding="utf-8")
    with pytest.raises(NotAnAnswer, match=r"other\.json holds no estimate"):
        Estimate.load(place)


def test_a_folder_that_is_not_there_leaves_nothing_behind(est, tmp_path):
    with pytest.raises(FileNotFoundError):
        est.save(tmp_path / "none" / "lid.json")


def test_its_sources_come_as_bibtex(est):
    text = est.bibtex()
    assert text.count("@") >= len(est.citations)


def test_it_can_be_sent_to_another_process(est):
    alone = Estimate.from_json(est.to_dict(), est.to_json())
    assert pickle.loads(pickle.dumps(alone)) == est  # noqa: S301 - our own bytes


def test_it_reads_in_a_terminal_and_a_notebook(est):
    assert "bulk density" in str(est)
    assert "90% intervals" in str(est)
    page = est._repr_html_()
    assert page.count("<table>") == page.count("</table>") == 2
    assert "lower bound" in page


def test_a_measured_density_narrows_the_estimate(db, lid, est):
    known = db.estimate(
        lid, fired="1000 degC", at=AT, measured={"bulk_density": "1150 kg/m3"}, seed=1
    )
    low, _, high = known.bulk_density.magnitudes
    assert high - low < est.bulk_density.magnitudes.high - est.bulk_density.magnitudes.low


def test_every_way_to_say_the_same_mix_gives_the_same_estimate(db, lid, est):
    pounds = (
        Mix(water=Q(11, "kg"))
        .add("cac-40", Q(25, "kg").to("lb"))
        .add("expanded-clay", Q(0.06, "m**3"))
    )
    found = db.estimate(pounds, fired=Q(1832, "degF"), at=[Q(473.15, "K"), (600, "degC")], seed=1)
    assert found.bulk_density.magnitudes == pytest.approx(est.bulk_density.magnitudes, rel=1e-4)
    request = EstimateRequest(lid, fired="1000 degC", at=AT, seed=1)
    assert db.estimate(request) == est
    assert db.estimate(lid.to_dict(), fired="1000 degC", at=AT, seed=1) == est


def test_parts_and_other_states(db):
    mix = Mix(water_to_binder=0.5, parts_by="loose").add("cac-40", 1).add("expanded-clay", 3)
    dried = db.estimate(mix, state="dried", at=["20 degC"])
    assert dried.state.kind == "dried"
    assert dried.composition.yield_.to("m3/kg").magnitudes.typical > 0
    assert dried.bulk_density.magnitudes.typical > 0


def test_in_a_batch_the_estimates_are_the_same(db, lid, est):
    other = lid.with_water("12 L")
    first, second = db.estimates([lid, other], fired="1000 degC", at=AT, seed=1)
    mine, theirs = first.to_dict(), est.to_dict()
    for name in ("database_id", "revision", "rules_version"):
        mine.pop(name, None)
        theirs.pop(name, None)
    assert mine == theirs
    assert (
        second.densities["dried"].magnitudes.typical < first.densities["dried"].magnitudes.typical
    )


def test_a_mix_that_cannot_be_estimated_has_its_place_in_the_batch(db, lid):
    wrong = lid.add("no-such-thing", "1 kg")
    good, bad = db.estimates([lid, wrong], on_problem="return", fired="1000 degC", at=AT)
    assert isinstance(good, Estimate)
    assert isinstance(bad, ProblemError)
    assert bad.index == 1
    with pytest.raises(ProblemError, match="question 1"):
        db.estimates([lid, wrong], fired="1000 degC", at=AT)


@pytest.mark.parametrize(
    ("mix", "pointer"),
    [
        (Mix().add("cac-40", "25 kg"), "#/mix/water"),
        (Mix(water="1 L"), "#/mix/constituents"),
        (Mix(water="1 L").add("cac-40", "0 kg"), "#/mix/constituents/0/amount"),
        (
            Mix(water="1 L").add("cac-40", "1 kg").add("cac-40", "1 kg"),
            "#/mix/constituents/1/material",
        ),
    ],
)
def test_a_mix_that_makes_no_sense_is_told_where(db, mix, pointer):
    with pytest.raises(InvalidRequest) as caught:
        db.estimate(mix, fired="1000 degC")
    assert pointer in [error["pointer"] for error in caught.value.errors]


def test_a_weighed_bucket_and_an_own_material_are_taken(db, lid):
    weighed = Mix(water="11 L").add("cac-40", "25 kg")
    own = weighed.add(
        "our-clay-balls", "60 L", bucket=("6.4 kg", "20 L"), kind="aggregate", like="expanded-clay"
    )
    weighed = weighed.add("expanded-clay", "60 L", bucket=("6.4 kg", "20 L"))
    plain, known, ours = db.estimates([lid, weighed, own], fired="1000 degC", at=AT)
    spans = [one.bulk_density.magnitudes for one in (plain, known, ours)]
    assert spans[1].high - spans[1].low < spans[0].high - spans[0].low
    assert spans[2].typical == pytest.approx(spans[1].typical, rel=0.1)


def test_each_part_of_a_mix_is_asked_about_with_what_it_meets(db, lid):
    answers = db.mix_survives(lid, "900 degC", place="face")
    assert [one.material for one in answers] == ["cac-40", "expanded-clay"]
    assert answers[1].with_ == "cac-40"
    assert {one.place for one in answers} == {"face"}


def test_us_units(connect, lid, est):
    us = connect(units="us").estimate(lid, fired="1000 degC", at=AT, seed=1)
    assert us.bulk_density.unit == "[lb_av]/[cft_i]"
    assert us.thermal_conductivity.temperatures == (392.0, 1112.0)
    back = us.thermal_conductivity.function(temperature_unit="degC", unit="W/(m.K)")
    assert back(400) == pytest.approx(est.thermal_conductivity.function()(400), rel=1e-4)


def test_a_data_frame_holds_the_curves(est):
    pandas = pytest.importorskip("pandas")
    frame = est.to_dataframe()
    assert isinstance(frame, pandas.DataFrame)
    conductivity = frame[frame["property"] == "thermal_conductivity"]
    assert list(conductivity["temperature"]) == [200.0, 600.0]
    assert list(conductivity["typical"]) == list(est.thermal_conductivity.typical)
    assert set(conductivity["unit"]) == {"W/(m.K)"}


def test_without_pandas_the_next_step_is_told(est, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(NotInstalled, match="pip install pandas"):
        est.to_dataframe()


def test_the_answer_of_a_newer_service_is_still_read(est):
    newer = {**est.to_dict(), "colour": "red"}
    newer["properties"] = {**newer["properties"], "shade": {"low": 1, "high": 2, "unit": "1"}}
    read = Estimate.from_json(newer, json.dumps(newer))
    assert isinstance(read.get("shade"), Range)
