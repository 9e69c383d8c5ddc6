"""The SDK against the real service: draws, casting, rules, and what was measured."""

import copy
import pickle
import sys

import numpy as np
import pandas as pd
import pytest

from hotface import (
    BadQuantity,
    Casting,
    Client,
    Draws,
    Estimate,
    InvalidRequest,
    Measured,
    Mix,
    NoAnswer,
    NotInstalled,
    ProblemError,
)
from hotface_api.embedded import InProcessTransport
from support.html import check_html

AT = ["200 degC", "600 degC"]
LID = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L", fill="poured")


@pytest.fixture(scope="session")
def drawn(service):
    """The lid with draws and a mould, asked for once."""
    client = Client(transport=InProcessTransport(service))
    return client.estimate(
        LID, fired="1000 degC", at=AT, seed=1, draws=400, mould="12 L", spare=0.1
    )


def test_draws_come_as_arrays(drawn, db):
    draws = drawn.draws
    assert isinstance(draws, Draws)
    assert len(draws) == draws.count == 400
    assert draws.temperatures == (200.0, 600.0)
    assert draws.bulk_density.shape == (400,)
    assert draws.thermal_conductivity.shape == draws.specific_heat_capacity.shape == (400, 2)
    assert draws.units["thermal_conductivity"] == "W/(m.K)"
    assert draws["fired_density"] == pytest.approx(draws.bulk_density)
    assert np.array_equal(
        draws.at("thermal_conductivity", "600 degC"), draws["thermal_conductivity"][:, 1]
    )
    assert np.array_equal(draws.at("thermal_conductivity", 200), draws.thermal_conductivity[:, 0])
    again = db.estimate(LID, fired="1000 degC", at=AT, seed=1, draws=400, mould="12 L", spare=0.1)
    assert again.draws == draws


def test_draws_are_those_behind_the_interval(drawn):
    low, typical, high = drawn.bulk_density.magnitudes
    found = np.percentile(drawn.draws.bulk_density, [5, 50, 95])
    assert found == pytest.approx([low, typical, high], rel=0.1)
    curve = drawn.thermal_conductivity
    middle = np.median(drawn.draws.thermal_conductivity, axis=0)
    assert middle == pytest.approx(curve.typical, rel=0.1)


def test_draws_are_correlated_as_drawn(drawn):
    """A light chance piece insulates well: what a shuffled column would lose."""
    density = np.log(drawn.draws.bulk_density)
    conductivity = np.log(drawn.draws.thermal_conductivity)
    together = np.corrcoef(density, conductivity[:, 0])[0, 1]
    hot = np.corrcoef(conductivity[:, 0], conductivity[:, 1])[0, 1]
    shuffled = np.random.default_rng(1).permutation(density)
    assert together > 0.3
    assert hot > 0.8
    assert abs(np.corrcoef(shuffled, conductivity[:, 0])[0, 1]) < 0.2


def test_draws_cannot_be_written_over(drawn):
    with pytest.raises(ValueError, match="read-only"):
        drawn.draws.bulk_density[0] = 1.0
    assert copy.copy(drawn.draws) == drawn.draws
    with pytest.raises(TypeError):
        hash(drawn.draws)


def test_what_the_draws_do_not_hold_is_told(drawn):
    with pytest.raises(NoAnswer, match=r"no 'colour'; they hold bulk_density"):
        drawn.draws["colour"]
    with pytest.raises(NoAnswer, match="only at 200, 600 °C"):
        drawn.draws.at("thermal_conductivity", "400 degC")
    with pytest.raises(NoAnswer, match="at no temperature"):
        drawn.draws.at("bulk_density", "400 degC")


def test_draws_as_a_data_frame(drawn):
    frame = drawn.draws.to_dataframe()
    assert isinstance(frame, pd.DataFrame)
    assert len(frame) == 400
    curve = frame["thermal_conductivity"]
    assert list(curve.columns) == [200.0, 600.0]
    assert np.array_equal(curve.to_numpy(), drawn.draws.thermal_conductivity)
    assert frame.attrs["units"]["bulk_density"] == "kg/m3"
    assert frame.attrs["temperature_unit"] == "Cel"
    check_html(drawn.draws)
    assert "400 draws of bulk_density" in repr(drawn.draws)


def test_draws_travel_in_files_and_to_processes(drawn, tmp_path):
    drawn.save(tmp_path / "lid.json")
    assert Estimate.load(tmp_path / "lid.json").draws == drawn.draws
    assert pickle.loads(pickle.dumps(drawn)) == drawn  # noqa: S301 - our own bytes


def test_without_numpy_the_next_step_is_told(drawn, monkeypatch):
    monkeypatch.setitem(sys.modules, "numpy", None)
    with pytest.raises(NotInstalled, match="pip install numpy"):
        Estimate.from_json(drawn.to_dict(), drawn.to_json())


def test_no_draws_come_unless_asked_for(db):
    plain = db.estimate(LID, fired="1000 degC", at=AT)
    assert (plain.draws, plain.casting) == (None, None)
    with pytest.raises(InvalidRequest) as caught:
        db.estimate(LID, fired="1000 degC", at=AT, draws=5000)
    assert caught.value.errors[0]["pointer"] == "#/draws"


def test_what_to_weigh_out_for_the_mould(drawn):
    casting = drawn.casting
    assert isinstance(casting, Casting)
    assert (casting.mould_volume.value, casting.mould_volume.unit) == (12, "L")
    assert casting.spare == 0.1
    wanted = 12 * 1.1
    batches = casting.batches.magnitudes.typical
    assert batches * drawn.composition.yield_.to("L").magnitudes.typical == pytest.approx(
        wanted, rel=0.02
    )
    cement, clay = casting.constituents
    assert (cement.material, clay.material) == ("cac-40", "expanded-clay")
    assert cement.amount.to("kg").magnitudes.typical == pytest.approx(25 * batches, rel=0.02)
    assert clay.amount.to("L").magnitudes.typical == pytest.approx(60 * batches, rel=0.02)
    assert clay.measured_as == "loose"
    assert "expanded-clay" in str(casting)
    assert "10% spare" in str(drawn)
    page = check_html(casting)
    assert "water" in page
    check_html(drawn)


def test_drying_is_published_practice_and_no_guarantee(db):
    casting = db.estimate(LID, fired="1000 degC", at=AT, mould="12 L", thickness="60 mm").casting
    found = casting.drying
    assert "Drying a piece 60 mm thick" in check_html(casting)
    assert found.promise
    assert found.promise in str(found)
    assert found.steps or found.reason
    for step in found.steps:
        assert step.source
        assert step.statement


def test_spare_and_thickness_go_with_a_mould(db):
    with pytest.raises(ValueError, match="give mould too"):
        db.estimate(LID, fired="1000 degC", spare=0.1)
    with pytest.raises(BadQuantity, match="mould"):
        db.estimate(LID, fired="1000 degC", mould="12 kg")


def test_another_rule_is_used_and_told(db):
    plain = db.estimate(LID, fired="1000 degC", at=AT, seed=1)
    other = db.estimate(LID, fired="1000 degC", at=AT, seed=1, rule="wiener-series")
    assert other.thermal_conductivity.typical[0] < plain.thermal_conductivity.typical[0]
    krischer = db.estimate(
        LID, fired="1000 degC", at=AT, rule="krischer", rule_options={"series_share": 0.3}
    )
    assert krischer.thermal_conductivity.method
    with pytest.raises(InvalidRequest) as caught:
        db.estimate(LID, fired="1000 degC", at=AT, rule="maxwel")
    assert caught.value.errors[0]["pointer"] == "#/rule"
    assert "maxwell" in caught.value.nearest
    assert str(caught.value).count("is not known") == 1


def test_what_was_measured_narrows_the_estimate(db):
    plain = db.estimate(LID, fired="1000 degC", at=AT, seed=1)
    middle = plain.thermal_conductivity.typical[0]
    known = db.estimate(
        LID,
        fired="1000 degC",
        at=AT,
        seed=1,
        measured=Measured(
            densities={"fresh": (plain.densities["fresh"].magnitudes.typical, "kg/m3")},
            thermal_conductivity=(middle, "W/(m.K)"),
            thermal_conductivity_at="200 degC",
            spread="2 %",
        ),
    )
    for name in ("bulk_density", "thermal_conductivity"):
        assert known.narrowed_by[name] > 0
    low, high = (known.thermal_conductivity.low[0], known.thermal_conductivity.high[0])
    assert high - low < plain.thermal_conductivity.high[0] - plain.thermal_conductivity.low[0]


def test_what_cannot_be_measured_is_told_before_asking():
    with pytest.raises(BadQuantity, match="did you mean 'bulk_density'"):
        Measured.of({"bulk_densty": "1150 kg/m3"})
    with pytest.raises(BadQuantity, match="go together"):
        Measured(thermal_conductivity="0.25 W/(m.K)").to_json()
    with pytest.raises(BadQuantity, match="density, fresh"):
        Measured(densities={"fresh": "1150 kg"}).to_json()


def test_a_conductivity_is_taken_as_the_service_writes_it():
    written = {"value": 0.25, "unit": "W/(m.K)", "temperature": {"value": 400, "unit": "Cel"}}
    measured = Measured.of({"thermal_conductivity": written})
    assert measured.to_json() == {"thermal_conductivity": written}


def test_damp_grains_and_own_materials_go_in(db):
    damp = (
        Mix(water="11 L")
        .add("cac-40", "25 kg")
        .add(
            "our-clay-balls",
            "20 kg",
            kind="aggregate",
            like="expanded-clay",
            moisture="8 %",
            properties={"particle_density": "900 kg/m3"},
        )
    )
    found = db.estimate(damp, fired="1000 degC", at=AT)
    shares = {one.material: one for one in found.composition.constituents}
    dry = shares["our-clay-balls"].dry_mass.to("kg").magnitudes.typical
    assert dry == pytest.approx(20 / 1.08, rel=1e-3)


def test_many_mixes_go_a_thousand_a_call_and_tell_how_far_they_are(noted):
    client, notes = noted
    mixes = [LID.with_water((10 + number / 1000, "L")) for number in range(40)]
    mixes[7] = mixes[7].add("no-such-thing", "1 kg")
    news = []
    found = client.estimates(
        mixes,
        fired="1000 degC",
        at=["200 degC"],
        on_problem="return",
        draws=1000,
        progress=lambda done, total: news.append((done, total)),
    )
    assert len(notes.requests) == 2  # 20,000 draws a call
    assert news == [(20, 40), (40, 40)]
    assert isinstance(found[7], ProblemError)
    assert found[7].index == 7
    assert all(isinstance(one, Estimate) for place, one in enumerate(found) if place != 7)
    client.estimates(mixes[:3], fired="1000 degC", at=["200 degC"])
    assert len(notes.requests) == 3
