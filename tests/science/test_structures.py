"""Estimates by structure: edges in order, no steps, and the trial the choice rests on."""

import csv
from pathlib import Path

import numpy as np
import pytest

from hotface_api.science import conductivity, structures
from hotface_api.science.inverse import back_solve
from hotface_api.science.structures import STRUCTURES

TRIAL = Path(__file__).with_name("trial.csv")


def random_mixtures(count, phases):
    generator = np.random.default_rng(11)
    return generator.dirichlet(np.ones(phases), count), np.exp(
        generator.uniform(-5, 2, (count, phases))
    )


@pytest.mark.parametrize("name", STRUCTURES)
@pytest.mark.parametrize("phases", [2, 3])
def test_band_is_in_order_and_inside_the_bounds(name, phases):
    parts, each = random_mixtures(500, phases)
    band = STRUCTURES[name].band(parts, each)
    lowest = conductivity.hashin_shtrikman_lower(parts, each)
    highest = conductivity.hashin_shtrikman_upper(parts, each)
    assert np.all(np.diff([lowest, *band, highest], axis=0) >= 0)


@pytest.mark.parametrize("name", STRUCTURES)
def test_band_of_one_is_a_row_of_the_band_of_many(name):
    parts, each = random_mixtures(20, 3)
    many = STRUCTURES[name].band(parts, each)
    one = STRUCTURES[name].band(parts[7], each[7])
    np.testing.assert_allclose(one, [edge[7] for edge in many], rtol=1e-12)


def test_sintered_estimate_has_no_step_over_porosity():
    porosity = np.linspace(0.0, 0.9, 901)
    found = structures.sintered_pores(np.stack([1 - porosity, porosity], axis=-1), [1.0, 0.03])
    steps = np.diff(found)
    assert np.all(steps < 0)
    assert np.abs(steps).max() < 0.002


def test_the_differential_rule_lies_above_a_sintered_body_of_high_porosity():
    """Why the low edge of a sintered body stays with the symmetric rule."""
    parts = [[0.4, 0.6], [0.3, 0.7]]
    middle = structures.sintered_pores(parts, [1.0, 0.03])
    assert np.all(conductivity.differential(parts, [1.0, 0.03]) > middle)


def test_low_edge_for_dense_grains_is_the_estimate_itself():
    band = STRUCTURES["grains"].band([0.6, 0.4], [0.5, 3.0])
    assert band.low == band.typical < band.high


def test_one_step_over_all_phases_underrates_a_light_mix():
    """Paste of 25 % solid and 20 % pores, grains of 5 % glass and 50 % gas, as in the survey."""
    all_phases = [0.25, 0.20, 0.05, 0.50], [1.0, 0.026, 1.1, 0.026]
    grain = structures.closed_pores([0.05 / 0.55, 0.5 / 0.55], [1.1, 0.026])
    paste = structures.closed_pores([0.25 / 0.45, 0.2 / 0.45], [1.0, 0.026])
    steps = conductivity.maxwell([0.45, 0.55], np.stack([paste, grain]))
    assert conductivity.effective_medium(*all_phases) < 0.6 * steps


def test_loose_fill_is_in_order_and_rises_with_radiation():
    grain = structures.thin_shell([0.05, 0.95], [1.1, 0.026])
    still = structures.loose_fill(grain, 1.1, 0.026, 0.03, 0.4)
    hot = structures.loose_fill(grain, 1.1, 0.026, 0.03, 0.4, radiation=[0.0, 0.05])
    assert still.low <= still.typical <= still.high
    assert np.all(hot.low <= hot.typical)
    assert np.all(hot.typical <= hot.high)
    assert hot.typical[0] == still.typical < hot.typical[1]


def trial_errors():
    """Relative error of the middle rule by family."""
    errors = {}
    with TRIAL.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            rule = STRUCTURES[row["structure"]].typical
            parts = [float(row["solid_fraction"]), 1 - float(row["solid_fraction"])]
            solid = row["k_solid"] or back_solve(
                rule, parts, [1.0, float(row["k_water"])], float(row["k_saturated"])
            )
            found = rule(parts, [float(solid), float(row["k_other"])])
            errors.setdefault(row["family"], []).append(abs(found / float(row["k_measured"]) - 1))
    return errors


@pytest.mark.parametrize(
    ("family", "median", "worst"),
    [
        ("paste-dry", 3.7, 14.7),
        ("foam-concrete", 2.4, 18.9),
        ("fired-clay-brick", 5.7, 10.9),
        ("alumina-starch", 3.1, 14.3),
        ("expanded-clay-concrete", 0.9, 2.6),
        ("perlite-vermiculite-concrete", 7.5, 17.2),
    ],
)
def test_stated_trial_errors(family, median, worst):
    """The figures the structures quote about themselves; computed, on smoothed published values."""
    errors = 100 * np.array(trial_errors()[family])
    assert np.median(errors) == pytest.approx(median, abs=0.06)
    assert errors.max() == pytest.approx(worst, abs=0.06)


def test_back_solve_finds_the_host_and_says_when_there_is_none():
    rule = STRUCTURES["paste"].typical
    parts, solid = [[0.7, 0.3], [0.6, 0.4]], np.array([1.4, 0.9])
    measured = rule(parts, np.stack([solid, [0.6, 0.6]], axis=-1))
    np.testing.assert_allclose(back_solve(rule, parts, [1.0, 0.6], measured), solid, rtol=1e-9)
    assert np.isnan(back_solve(rule, [0.5, 0.5], [1.0, 0.6], 1e-6))
    inside = back_solve(conductivity.maxwell, [0.7, 0.3], [1.0, 0.6], 0.95, phase=1)
    np.testing.assert_allclose(conductivity.maxwell([0.7, 0.3], [1.0, inside]), 0.95)
    with pytest.raises(ValueError, match="measured"):
        back_solve(rule, parts, [1.0, 0.6], 0.0)
