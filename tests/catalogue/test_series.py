"""One curve from several series: no jumps, steps kept, nothing beyond the evidence."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.science.series import REACH, Series, fit_curve
from support.catalogue_rows import searched


def series(points, weight=1.0):
    temperatures, values = zip(*points, strict=True)
    return Series(np.array(temperatures, dtype=float), np.array(values, dtype=float), weight)


def test_one_series_comes_back_as_it_is():
    points = [(300, 0.0), (500, 0.2), (700, 0.1), (900, 0.5)]
    fit = fit_curve([series(points)])
    assert fit([t for t, _ in points]) == pytest.approx([v for _, v in points])
    assert float(fit(600)) == pytest.approx(0.15)
    assert fit.span == (300, 900)


def test_a_series_that_ends_makes_no_jump():
    short = series([(300, 1.0), (500, 1.2)])
    long = series([(300, 0.0), (500, 0.2), (505, 0.205), (900, 0.6)])
    fit = fit_curve([short, long])
    assert abs(float(fit(506)) - float(fit(499))) < 0.01
    mean = (1.0 + 0.0) / 2
    assert float(fit(300)) == pytest.approx(mean)
    assert float(fit(900)) == pytest.approx(mean + 0.6)


def test_the_step_at_573_is_kept_beside_a_series_that_does_not_show_it():
    fine = series([(300, 0.0), (845, 0.5), (847, 0.9), (1200, 1.0)])
    coarse = series([(300, 0.1), (700, 0.5), (1000, 1.05), (1200, 1.1)])
    fit = fit_curve([fine, coarse])
    assert float(fit(847) - fit(845)) == pytest.approx(0.4, abs=0.01)
    total = float(fit(1200) - fit(300))
    assert total == pytest.approx(1.0)  # both rise by one: the step is not counted twice
    assert abs(float(fit(840) - fit(830))) < 0.03


def test_two_series_that_show_the_step_share_it():
    one = series([(300, 0.0), (845, 0.5), (847, 0.9), (1200, 1.0)])
    other = series([(300, 0.0), (844, 0.5), (848, 1.1), (1200, 1.2)])
    fit = fit_curve([one, other])
    assert float(fit(849) - fit(843)) == pytest.approx(0.5, abs=0.02)


def test_a_single_value_inside_moves_the_level_only():
    curve = series([(300, 0.0), (900, 0.6)])
    fit = fit_curve([curve, series([(600, 0.5)])])
    assert float(fit(600)) == pytest.approx(0.4)
    assert float(fit(900) - fit(300)) == pytest.approx(0.6)


def test_a_single_value_within_reach_continues_the_shape():
    curve = series([(400, 0.1), (900, 0.6)])
    fit = fit_curve([curve, series([(300, 0.2)])])
    assert fit.span == (300, 900)
    assert float(fit(400) - fit(300)) == pytest.approx(0.1)
    assert float(fit(300)) == pytest.approx((0.0 + 0.2) / 2)


def test_a_single_value_far_off_is_joined_by_a_straight_line():
    curve = series([(700, 0.5), (900, 0.6)])
    fit = fit_curve([curve, series([(300, 0.1)])])
    assert float(fit(300)) == pytest.approx(0.1)
    assert float(fit(700)) == pytest.approx(0.5)
    assert float(fit(500)) == pytest.approx(0.3)


def test_series_far_apart_keep_their_levels():
    fit = fit_curve([series([(300, 0.0), (400, 0.0)]), series([(800, 1.0), (900, 1.0)])])
    assert fit([300, 400, 800, 900]) == pytest.approx([0, 0, 1, 1])


def test_a_heavier_series_pulls_more():
    fit = fit_curve([series([(300, 0.0), (900, 0.0)], 3.0), series([(300, 1.0), (900, 1.0)], 1.0)])
    assert float(fit(600)) == pytest.approx(0.25)


def test_repeated_temperatures_are_averaged():
    fit = fit_curve([series([(300, 0.0), (300.2, 0.2), (900, 1.0)])])
    assert float(fit(300.1)) == pytest.approx(0.1)


def test_nothing_outside_the_span():
    fit = fit_curve([series([(300, 0.0), (900, 0.6)])])
    assert np.isnan(fit([299, 901])).all()


def test_single_values_alone_are_no_curve():
    with pytest.raises(ValueError, match="two temperatures"):
        fit_curve([series([(300, 0.0)]), series([(900, 1.0)])])


points = st.lists(st.tuples(st.integers(290, 1500), st.floats(-2, 2)), min_size=1, max_size=6)


@st.composite
def evidence(draw):
    found = [series(draw(points), draw(st.sampled_from([0.3, 1.0]))) for _ in range(3)]
    found.append(series([(draw(st.integers(290, 600)), 0.0), (draw(st.integers(700, 1500)), 1.0)]))
    return found


@searched
@given(evidence())
def test_the_curve_is_finite_on_its_span_and_spans_the_evidence(observed):
    fit = fit_curve(observed)
    every = np.concatenate([one.temperatures for one in observed])
    assert fit.span == pytest.approx((every.min(), every.max()), abs=1.0)
    assert np.isfinite(fit(np.linspace(*fit.span, 200))).all()
    assert np.all(np.diff(fit.knots) > 0)


@searched
@given(evidence(), st.randoms(use_true_random=False))
def test_order_does_not_matter(observed, random):
    shuffled = list(observed)
    random.shuffle(shuffled)
    here, there = fit_curve(observed), fit_curve(shuffled)
    at = np.linspace(*here.span, 50)
    assert there(at) == pytest.approx(here(at), abs=1e-9)


@searched
@given(evidence(), st.floats(-3, 3))
def test_moving_every_value_moves_the_curve(observed, shift):
    moved = [Series(one.temperatures, one.values + shift, one.weight) for one in observed]
    at = np.linspace(*fit_curve(observed).span, 50)
    assert fit_curve(moved)(at) == pytest.approx(fit_curve(observed)(at) + shift, abs=1e-9)


temperatures = st.lists(st.integers(300, 1400), min_size=2, max_size=8, unique=True)


@searched
@given(st.floats(1e-4, 3e-3), temperatures, temperatures, st.floats(-1, 1))
def test_series_of_one_shape_give_that_shape(slope, first, second, offset):
    """Whatever temperatures two series are read at, a shape they share survives."""
    one = series([(t, slope * t) for t in first])
    other = series([(t, slope * t + offset) for t in second])
    fit = fit_curve([one, other])
    at = np.array([t for t in first if fit.span[0] <= t <= fit.span[1]], dtype=float)
    apart = min(second) - max(first) > REACH or min(first) - max(second) > REACH
    if not apart:
        assert fit(at) - slope * at == pytest.approx(np.full(len(at), offset / 2), abs=1e-6)
