"""What was measured moves the draws: the answer centres, narrows and says by how much."""

from __future__ import annotations

import numpy as np
import pytest

from hotface_api.mixes.request import EstimateRequest, Measured, Mix, MixError, State
from support.mixes import FIRED, codes, exact, lid, part, width


def at(answer, celsius):
    return next(
        point.range
        for point in answer.thermal_conductivity
        if round(point.temperature - 273.15) == celsius
    )


def test_measured_density_narrows_and_centres(ask):
    plain = ask(lid())
    target = 1.10 * plain.bulk_density.typical
    known = ask(lid(measured=Measured(bulk_density=target)))
    assert known.bulk_density.typical == pytest.approx(target, rel=0.02)
    assert width(known.bulk_density) < 0.6 * width(plain.bulk_density)
    assert width(at(known, 20)) < width(at(plain, 20))
    assert at(known, 20).typical > at(plain, 20).typical
    assert known.composition.porosity.typical < plain.composition.porosity.typical


def test_narrowing_is_told(ask):
    plain = ask(lid())
    assert plain.narrowed_by == {}
    known = ask(lid(measured=Measured(bulk_density=plain.bulk_density.typical)))
    share = known.narrowed_by["bulk_density"]
    assert share == pytest.approx(1 - width(known.bulk_density) / width(plain.bulk_density))
    assert 0.3 < share < 1
    assert 0 < known.narrowed_by["thermal_conductivity"] < share


def test_a_weighed_bucket_tells_by_how_much_it_narrowed(ask):
    plain = ask(lid())
    weighed = part("expanded-clay", 0.060, "volume", bucket=(4.2, 0.010))
    known = ask(EstimateRequest(Mix((part("cac-40", 25.0), weighed), 11.0), FIRED))
    share = known.narrowed_by["bulk_density"]
    assert share == pytest.approx(1 - width(known.bulk_density) / width(plain.bulk_density))
    assert share > 0.25
    assert known.narrowed_by["thermal_conductivity"] > 0


def test_own_figures_of_a_constituent_tell_by_how_much_they_narrowed(ask):
    own = part("expanded-clay", 0.060, "volume", properties=exact(thermal_conductivity=0.25))
    known = ask(EstimateRequest(Mix((part("cac-40", 25.0), own), 11.0), FIRED))
    assert known.narrowed_by["thermal_conductivity"] > 0.02
    assert known.narrowed_by["bulk_density"] == 0


def test_bucket_and_piece_narrow_together(ask):
    """Counted from what is held alone, whichever of the two was measured."""
    plain = ask(lid())
    weighed = part("expanded-clay", 0.060, "volume", bucket=(4.2, 0.010))
    mix = Mix((part("cac-40", 25.0), weighed), 11.0)
    bucket = ask(EstimateRequest(mix, FIRED))
    measured = Measured(bulk_density=bucket.bulk_density.typical)
    both = ask(EstimateRequest(mix, FIRED, measured=measured))
    share = both.narrowed_by["bulk_density"]
    assert share == pytest.approx(1 - width(both.bulk_density) / width(plain.bulk_density))
    assert share > bucket.narrowed_by["bulk_density"]


def test_what_is_of_ones_own_alone_narrows_nothing(ask):
    own = part("my-grain", 20.0, kind="aggregate", properties=exact(particle_density=900.0))
    found = ask(EstimateRequest(Mix((part("cac-40", 25.0), own), 11.0), FIRED))
    assert found.narrowed_by == {}


def test_density_of_another_state_teaches_too(ask):
    """The club weighs the wet mould; the fired piece follows."""
    plain = ask(lid())
    fresh = 1.06 * plain.densities["fresh"].typical
    known = ask(lid(measured=Measured(densities={"fresh": fresh})))
    assert known.densities["fresh"].typical == pytest.approx(fresh, rel=0.02)
    assert known.bulk_density.typical > plain.bulk_density.typical
    assert width(known.bulk_density) < width(plain.bulk_density)


def test_a_trusted_figure_teaches_more_than_a_doubtful_one(ask):
    target = 1.1 * ask(lid()).bulk_density.typical
    sure, unsure = (
        ask(lid(measured=Measured(bulk_density=target, spread=spread))) for spread in (0.01, 0.10)
    )
    assert width(sure.bulk_density) < width(unsure.bulk_density)
    assert abs(sure.bulk_density.typical - target) < abs(unsure.bulk_density.typical - target)


def test_measured_conductivity_moves_the_whole_curve(ask):
    plain = ask(lid())
    target = 1.3 * at(plain, 400).typical
    measured = Measured(thermal_conductivity=target, thermal_conductivity_at=673.15)
    known = ask(lid(measured=measured))
    assert at(known, 400).typical == pytest.approx(target, rel=0.04)
    assert width(at(known, 400)) < 0.3 * width(at(plain, 400))
    assert at(known, 1000).typical > at(plain, 1000).typical
    assert width(at(known, 400)) < width(at(known, 1000)) < width(at(plain, 1000))


def test_both_at_once(ask):
    plain = ask(lid())
    measured = Measured(
        bulk_density=1.05 * plain.bulk_density.typical,
        thermal_conductivity=0.9 * at(plain, 400).typical,
        thermal_conductivity_at=673.15,
    )
    known = ask(lid(measured=measured))
    assert known.bulk_density.typical == pytest.approx(measured.bulk_density, rel=0.02)
    assert at(known, 400).typical == pytest.approx(measured.thermal_conductivity, rel=0.04)


def test_a_conductivity_measured_off_the_grid_needs_no_point_of_its_own(ask):
    measured = Measured(thermal_conductivity=0.5, thermal_conductivity_at=655.0)
    known = ask(lid(measured=measured))
    assert len(known.thermal_conductivity) == len(ask(lid()).thermal_conductivity)


def test_a_piece_too_light_is_told_and_taken_for_foamed(ask):
    known = ask(lid(measured=Measured(bulk_density=400.0)))
    assert {"measured_outside", "air_from_density"} <= codes(known)
    assert known.bulk_density.typical == pytest.approx(400.0, rel=0.02)
    assert known.thermal_conductivity[0].range.typical < 0.5 * at(ask(lid()), 20).typical


def test_a_heavy_piece_of_light_grains_is_taken_for_crushed(ask):
    known_heap = exact(loose_bulk_density=90.0, particle_density=170.0)
    perlite = part("expanded-perlite", 0.160, "volume", properties=known_heap)
    mix = Mix((part("cac-40", 25.0), perlite), 24.0)
    plain = ask(EstimateRequest(mix, FIRED))
    target = 1.45 * plain.bulk_density.typical
    known = ask(EstimateRequest(mix, FIRED, measured=Measured(bulk_density=target)))
    assert {"measured_outside", "crush_from_density"} <= codes(known)
    assert known.bulk_density.typical == pytest.approx(target, rel=0.05)


def test_a_measurement_outside_is_told_with_the_allowed_span_not_refused(ask):
    answer = ask(lid(measured=Measured(bulk_density=500.0)))
    told = next(note for note in answer.assumptions if note.code == "measured_outside")
    assert "500 kg/m3" in told.text
    assert " to " in told.text


@pytest.mark.parametrize("density", [20.0, 4000.0, 5.0e6])
def test_a_density_nothing_explains_is_refused_with_the_allowed_span(ask, density):
    """Neither air nor broken grains: a slip of unit, or other materials."""
    with pytest.raises(MixError, match=r"the constituents allow .* \d+ to \d+ kg/m3") as caught:
        ask(lid(measured=Measured(bulk_density=density)))
    assert caught.value.pointer == "#/measured/bulk_density"
    with pytest.raises(MixError) as caught:
        ask(lid(measured=Measured(densities={"fresh": density})))
    assert caught.value.pointer == "#/measured/densities/fresh"


def test_a_conductivity_past_the_bounds_is_flagged_not_refused(ask):
    measured = Measured(thermal_conductivity=20.0, thermal_conductivity_at=293.15)
    assert "measured_outside_bounds" in codes(ask(lid(measured=measured)))


@pytest.mark.parametrize("k", [0.001, 100.0])
def test_a_conductivity_past_the_bounds_does_not_move_what_the_parts_weigh(ask, k):
    plain = ask(lid())
    measured = Measured(thermal_conductivity=k, thermal_conductivity_at=293.15)
    found = ask(lid(measured=measured))
    assert found.bulk_density == plain.bulk_density
    assert found.composition.porosity == plain.composition.porosity
    moved = np.log(at(found, 20).typical / at(plain, 20).typical)
    assert moved * np.log(k) > 0.8
    with_density = ask(
        lid(
            measured=Measured(
                bulk_density=1.05 * plain.bulk_density.typical,
                thermal_conductivity=k,
                thermal_conductivity_at=293.15,
            )
        )
    )
    assert with_density.bulk_density.typical == pytest.approx(
        1.05 * plain.bulk_density.typical, rel=0.02
    )


def test_the_update_is_right_where_it_can_be_worked_out(ask):
    """A log-linear case: prior and measurement of a density combine by their precisions."""
    state = State("dried", 383.15)
    plain = ask(lid(state=state, draws=8000))
    prior = width(plain.bulk_density) / (2 * 1.645)
    centre = np.log(plain.bulk_density.typical)
    spread = 0.04
    target = np.exp(centre + 1.5 * prior)
    known = ask(lid(state=state, draws=8000, measured=Measured(bulk_density=target, spread=spread)))
    weight = prior**2 / (prior**2 + spread**2)
    assert np.log(known.bulk_density.typical) == pytest.approx(
        centre + weight * 1.5 * prior, abs=0.35 * prior
    )
    assert width(known.bulk_density) / (2 * 1.645) == pytest.approx(
        prior * np.sqrt(1 - weight), rel=0.2
    )
