"""Formulas of comparison against published figures."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface.units import UNITS
from hotface_api.ledger.drafts import UncertaintyDraft
from hotface_api.ledger.texts import Faults
from hotface_api.ledger.uncertainty import read_uncertainty
from hotface_api.science.comparison import e_n, limits_uncertainty, robust_mean, robust_z

# 24 determinations of copper in wholemeal flour, ppm: Analytical Methods Committee, Analyst 114
# (1989) 1693-1702. Robust mean 3.2055 and spread 0.67365 by Huber's proposal 2 (k = 1.5), which
# Algorithm A of ISO 5725-5 and ISO 13528 is: Venables and Ripley, Modern Applied Statistics with
# S (2002) 5.5; the same figures stand in the tests of statsmodels (robust/tests/test_scale.py).
COPPER = (
    2.20,
    2.20,
    2.4,
    2.4,
    2.5,
    2.7,
    2.8,
    2.9,
    3.03,
    3.03,
    3.10,
    3.37,
    3.4,
    3.4,
    3.4,
    3.5,
    3.6,
    3.7,
    3.7,
    3.7,
    3.7,
    3.77,
    5.28,
    28.95,
)


def test_robust_statistics_of_the_published_interlaboratory_data():
    found = robust_mean(COPPER)
    assert found.mean == pytest.approx(3.20549, abs=1e-5)
    assert found.spread == pytest.approx(0.67365, abs=5e-6)
    assert np.mean(COPPER) == pytest.approx(4.2804, abs=5e-5)  # which the one stray result pulled


def test_the_factor_is_the_one_iso_prints():
    """1.134 in ISO 13528; a normal sample's spread comes out right with it."""
    sample = np.random.default_rng(1).normal(10.0, 2.0, 20_000)
    assert robust_mean(sample).spread == pytest.approx(2.0, rel=0.02)


@given(
    st.lists(st.integers(0, 100_000), min_size=5, max_size=15),
    st.integers(-10_000, 10_000),
    st.sampled_from([0.001, 0.5, 3.0, 1e4]),
)
def test_robust_mean_moves_with_its_results(values, shift, scale):
    first = robust_mean(values)
    moved = robust_mean([scale * value + shift for value in values])
    size = scale * (1 + max(values)) + abs(shift)
    assert moved.mean == pytest.approx(scale * first.mean + shift, abs=1e-6 * size)
    assert moved.spread == pytest.approx(scale * first.spread, abs=1e-6 * size)


def test_one_result_has_no_spread_and_equal_results_none():
    with pytest.raises(ValueError, match="two results"):
        robust_mean([1.0])
    assert robust_mean([2.0, 2.0, 2.0, 9.0]).spread == 0.0


def test_gum_4_3_7_rectangular_limits():
    """The expansion coefficient of copper, 16.52e-6 within 0.40e-6: u^2 = 53.3e-15, u = 0.23e-6."""
    u = float(limits_uncertainty(0.40e-6))
    assert u**2 == pytest.approx(53.3e-15, rel=1e-3)
    assert round(u * 1e6, 2) == 0.23


def test_gum_4_3_9_triangular_is_narrower():
    assert float(limits_uncertainty(1.0, "triangular")) == pytest.approx(1 / math.sqrt(6))
    with pytest.raises(ValueError, match="distribution"):
        limits_uncertainty(1.0, "normal")


def stated(unit="g", **given):
    faults = Faults()
    read = read_uncertainty(UncertaintyDraft(**given), UNITS[unit], faults, "/uncertainty")
    assert not faults.found, faults.found
    return read


def test_gum_4_3_3_certificate_at_three_standard_deviations():
    """A mass standard's 240 ug at k = 3 is 80 ug."""
    read = stated(expanded="240e-6", coverage_factor=3.0, distribution="normal")
    assert read["uncertainty_standard"] == pytest.approx(80e-6 * 1e-3)


def test_gum_4_3_4_certificate_at_99_percent():
    """A resistor's 129 uOhm at 99 %, normal, k = 2.58, is 50 uOhm (any unit will do)."""
    read = stated(expanded="129", coverage_factor=2.58, distribution="normal")
    assert round(read["uncertainty_standard"] * 1e3) == 50


def test_uncertainties_are_differences_whatever_the_unit():
    """Half a width of 9 Fahrenheit steps is 5 kelvin, not 260."""
    read = stated("[degF]", half_width="9", distribution="rectangular")
    assert read["uncertainty_standard"] == pytest.approx(5 / math.sqrt(3))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({}, "give one of"),
        ({"standard": "1", "expanded": "2"}, "give one of"),
        ({"expanded": "2"}, "factor"),
        ({"half_width": "2"}, "rectangular or triangular"),
        ({"standard": "-1"}, "above zero"),
        ({"standard": "0"}, "above zero"),
        ({"standard": "1e-320"}, "no smaller"),
        ({"standard": "1e300"}, "larger"),
        ({"standard": "nan"}, "figure"),
        ({"standard": "1", "kind": "C"}, "not one of A, B"),
        ({"standard": "1", "kind": "A"}, "repeated readings"),
        ({"standard": "1", "n": 0}, "outside"),
        ({"standard": "1", "distribution": "flat"}, "not one"),
        ({"expanded": "1", "coverage_factor": 0.0}, "outside"),
    ],
)
def test_faulty_uncertainties_are_told(given, told):
    faults = Faults()
    read_uncertainty(UncertaintyDraft(**given), UNITS["g"], faults, "/uncertainty")
    assert any(told in fault.message for fault in faults.found), faults.found


def test_e_n_says_when_two_results_agree():
    assert float(e_n(10.0, 13.0, 3.0, 4.0)) == pytest.approx(0.6)
    assert float(e_n(0.30, 0.40, 0.03, 0.04)) == pytest.approx(2.0)
    with pytest.raises(ValueError, match="uncertainty"):
        e_n(1.0, 2.0, 0.0, 0.0)


@given(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3), st.floats(0.1, 50), st.floats(0.1, 50))
def test_e_n_does_not_care_who_is_first(first, second, u_first, u_second):
    assert e_n(first, second, u_first, u_second) == e_n(second, first, u_second, u_first)


def test_z_needs_a_spread():
    assert float(robust_z(1.0, 3.0, 0.5)) == -4.0
    with pytest.raises(ValueError, match="spread"):
        robust_z(1.0, 1.0, 0.0)
