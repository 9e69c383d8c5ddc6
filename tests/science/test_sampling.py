"""Draws that repeat, hold their ranges, name the doubt and learn from measurements."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from hotface_api.science import sampling

searched = settings(database=None, deadline=None)
DRAWS = 4000
PINNED = [0.738144230970094, 0.9816386280178292, 0.6913663470807606]


def test_stream_depends_on_seed_and_name_only():
    first = sampling.normals(1, "cac-40/density", 5)
    np.testing.assert_array_equal(first, sampling.normals(1, "cac-40/density", 5))
    assert not np.any(first == sampling.normals(2, "cac-40/density", 5))
    assert not np.any(first == sampling.normals(1, "cac-50/density", 5))
    assert sampling.stream(1, "a").random() == sampling.stream(1, "a").random()


def test_stream_gives_these_draws_on_every_platform():
    """Regression: computed here once; a change would shift every stored estimate."""
    found = sampling.uniforms(1, "cac-40/density", 3)
    np.testing.assert_array_equal(found, PINNED)


def test_more_draws_begin_with_the_fewer():
    np.testing.assert_array_equal(sampling.normals(3, "a", 10)[:4], sampling.normals(3, "a", 4))
    assert sampling.normals(3, "a", (2, 5)).shape == (2, 5)


def test_negative_seed_is_refused():
    with pytest.raises(ValueError, match="seed"):
        sampling.stream(-1, "a")


@pytest.mark.parametrize("seed", [0, 1, 2**63])
def test_draws_are_normal_and_streams_unrelated(seed):
    first, second = (sampling.normals(seed, name, DRAWS) for name in ("a", "b"))
    assert stats.kstest(first, "norm").pvalue > 1e-4
    assert abs(np.corrcoef(first, second)[0, 1]) < 5 / np.sqrt(DRAWS)
    uniforms = sampling.uniforms(seed, "a", DRAWS)
    assert np.all((uniforms > 0) & (uniforms < 1))


ranges = st.tuples(st.floats(1e-3, 1e3), st.floats(1.0, 5.0), st.floats(1.0, 5.0))


@searched
@given(ranges, st.floats(0.5, 0.99))
def test_lognormal_draws_hold_their_range(given_range, coverage):
    low = given_range[0]
    typical, high = low * given_range[1], low * given_range[1] * given_range[2]
    tail = (1 - coverage) / 2
    steps = stats.norm.ppf([tail, 0.5, 1 - tail])
    found = sampling.two_piece_lognormal(low, typical, high, steps, coverage)
    np.testing.assert_allclose(found, [low, typical, high], rtol=1e-9)


def test_without_typical_the_middle_of_the_scale_stands_in():
    for missing in (None, np.nan):
        assert sampling.two_piece_lognormal(2.0, missing, 8.0, 0.0) == pytest.approx(4.0)
        assert sampling.two_piece_normal(-2.0, missing, 8.0, 0.0) == pytest.approx(3.0)
        assert sampling.two_piece_fraction(0.2, missing, 0.8, 0.0) == pytest.approx(0.5)


def test_typical_may_be_known_for_some():
    found = sampling.two_piece_lognormal([2.0, 2.0], [np.nan, 3.0], [8.0, 8.0], 0.0)
    np.testing.assert_allclose(found, [4.0, 3.0])


def test_equal_ends_draw_that_value_and_zero_draws_zero():
    steps = sampling.normals(1, "a", 100)
    np.testing.assert_allclose(sampling.two_piece_lognormal(0.3, 0.3, 0.3, steps), 0.3)
    np.testing.assert_array_equal(sampling.two_piece_lognormal(0.0, 0.0, 0.0, steps), 0.0)
    np.testing.assert_array_equal(sampling.two_piece_lognormal(0.0, None, 0.0, steps), 0.0)
    np.testing.assert_allclose(sampling.two_piece_normal(-0.01, -0.01, -0.01, steps), -0.01)


def test_draws_over_constituents():
    steps = np.stack([sampling.normals(1, name, DRAWS) for name in "ab"], axis=-1)
    found = sampling.two_piece_lognormal([1.0, 10.0], [2.0, 20.0], [5.0, 30.0], steps)
    low, typical, high = sampling.quantiles(found)
    np.testing.assert_allclose(typical, [2.0, 20.0], rtol=0.05)
    np.testing.assert_allclose(low, [1.0, 10.0], rtol=0.1)
    np.testing.assert_allclose(high, [5.0, 30.0], rtol=0.1)


@searched
@given(st.floats(0.05, 0.4), st.floats(0.5, 0.95), st.floats(-8.0, 8.0))
def test_drawn_fraction_stays_a_fraction(low, high, step):
    found = sampling.two_piece_fraction(low, 0.45, high, step)
    assert 0 < found < 1


@pytest.mark.parametrize(
    ("low", "typical", "high"), [(2.0, 1.0, 3.0), (1.0, 4.0, 3.0), (3.0, None, 1.0)]
)
def test_range_out_of_order_is_refused(low, typical, high):
    for draw in (sampling.two_piece_lognormal, sampling.two_piece_normal):
        with pytest.raises(ValueError, match="in order"):
            draw(low, typical, high, 0.0)


def test_unusable_range_is_refused():
    with pytest.raises(ValueError, match="low"):
        sampling.two_piece_lognormal(0.0, 1.0, 2.0, 0.0)
    with pytest.raises(ValueError, match="typical"):
        sampling.two_piece_lognormal(0.0, -1.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="high"):
        sampling.two_piece_fraction(0.5, 0.7, 1.0, 0.0)
    with pytest.raises(ValueError, match="probability"):
        sampling.two_piece_lognormal(1.0, 2.0, 3.0, 0.0, coverage=1.0)


def test_quantiles_of_an_axis():
    drawn = np.arange(101.0)[:, None] * [1.0, 2.0]
    found = sampling.quantiles(drawn, 0.9)
    np.testing.assert_allclose(found, [[5.0, 10.0], [50.0, 100.0], [95.0, 190.0]])
    np.testing.assert_allclose(sampling.quantiles(drawn.T, 0.9, axis=1), found)
    assert np.isnan(sampling.quantiles([1.0, np.nan]).typical)
    with pytest.raises(ValueError, match="coverage"):
        sampling.quantiles(drawn, 1.5)


def drawn_inputs(count=3):
    return np.stack([sampling.normals(9, f"input {each}", DRAWS) for each in range(count)], axis=-1)


def test_shares_of_unrelated_inputs_are_squared_rank_correlations():
    inputs = drawn_inputs()
    output = np.exp(2.0 * inputs[:, 0] - 1.0 * inputs[:, 1])
    found = sampling.rank_shares(inputs, output)
    expected = [stats.spearmanr(column, output).statistic ** 2 for column in inputs.T]
    np.testing.assert_allclose(found, expected, atol=0.02)
    assert found[0] > found[1] > found[2]
    assert found.sum() <= 1 + 1e-12


def test_shares_of_related_inputs_are_split_and_never_sum_past_one():
    base = drawn_inputs()
    inputs = np.stack([base[:, 0], base[:, 0] + 1e-3 * base[:, 1], base[:, 2]], axis=-1)
    found = sampling.rank_shares(inputs, base[:, 0] + base[:, 2])
    assert found.sum() <= 1 + 1e-9
    assert found[0] == pytest.approx(found[1], rel=0.05)
    assert found[0] + found[1] == pytest.approx(found[2], rel=0.15)


def test_input_that_does_not_vary_has_no_share():
    inputs = drawn_inputs()
    inputs[:, 1] = 4.0
    found = sampling.rank_shares(inputs, inputs[:, 0])
    np.testing.assert_allclose(found, [1.0, 0.0, 0.0], atol=0.01)
    np.testing.assert_array_equal(sampling.rank_shares(inputs, np.ones(DRAWS)), 0.0)


def test_shares_of_tied_outputs_follow_the_reference():
    inputs = drawn_inputs(1)
    output = np.round(inputs[:, 0])
    expected = stats.spearmanr(inputs[:, 0], output).statistic ** 2
    np.testing.assert_allclose(sampling.rank_shares(inputs, output), [expected], rtol=1e-9)


def test_unusable_shares_are_refused():
    with pytest.raises(ValueError, match="inputs must be"):
        sampling.rank_shares(np.zeros(5), np.zeros(5))
    with pytest.raises(ValueError, match="more draws"):
        sampling.rank_shares(np.zeros((3, 3)), np.zeros(3))


def test_update_meets_the_exact_posterior_of_a_linear_model():
    size = 200_000
    inputs = np.stack([sampling.normals(5, name, size) for name in "abc"], axis=-1)
    inputs = inputs * [0.3, 0.1, 0.2] + [0.0, 1.0, -1.0]
    model = np.array([[1.0, 0.5, 0.0], [0.0, 1.0, 0.0]])
    observed, sd = np.array([0.9, 1.05]), np.array([0.05, 0.1])
    noise = np.stack([sampling.normals(5, f"error {each}", size) for each in range(2)], axis=-1)
    found = sampling.ensemble_update(inputs, inputs @ model.T, observed, sd, noise)
    prior = np.diag([0.3, 0.1, 0.2]) ** 2
    gain = prior @ model.T @ np.linalg.inv(model @ prior @ model.T + np.diag(sd**2))
    mean = [0.0, 1.0, -1.0] + gain @ (observed - model @ [0.0, 1.0, -1.0])
    covariance = prior - gain @ model @ prior
    np.testing.assert_allclose(found.mean(axis=0), mean, atol=3e-3)
    np.testing.assert_allclose(np.cov(found.T), covariance, atol=5e-4)


def test_update_of_few_draws_by_hand():
    inputs, said = np.array([[0.0], [1.0], [2.0]]), np.array([0.0, 1.0, 5.0])
    joint, spread = np.cov(inputs[:, 0], said)[0, 1], np.var(said, ddof=1) + 0.5**2
    noise = np.array([0.0, 1.0, -1.0])
    expected = inputs[:, 0] + joint / spread * (3.0 + 0.5 * noise - said)
    found = sampling.ensemble_update(inputs, said, 3.0, 0.5, noise)
    np.testing.assert_allclose(found[:, 0], expected, rtol=1e-12)
    shifted = sampling.ensemble_update(inputs, said, 3.0, 0.5, noise + 2.0)
    np.testing.assert_allclose(shifted, found, rtol=1e-12)


def test_update_by_a_worthless_measurement_changes_nothing():
    inputs = drawn_inputs()
    found = sampling.ensemble_update(inputs, inputs[:, 0], 3.0, 1e6, np.zeros(DRAWS))
    np.testing.assert_allclose(found, inputs, atol=1e-4)


def test_update_by_a_sure_measurement_meets_it():
    inputs = drawn_inputs()
    found = sampling.ensemble_update(inputs, inputs[:, 0], 0.5, 1e-6, np.zeros(DRAWS))
    np.testing.assert_allclose(found[:, 0], 0.5, atol=1e-5)
    assert found[:, 1].std() == pytest.approx(inputs[:, 1].std(), rel=0.01)


def test_unusable_update_is_refused():
    inputs = drawn_inputs()
    with pytest.raises(ValueError, match="log_inputs"):
        sampling.ensemble_update(inputs[:, 0], inputs[:, 0], 0.5, 0.1, np.zeros(DRAWS))
    with pytest.raises(ValueError, match="have those draws"):
        sampling.ensemble_update(inputs, inputs[:9, 0], 0.5, 0.1, np.zeros(9))
    with pytest.raises(ValueError, match="normals"):
        sampling.ensemble_update(inputs, inputs[:, 0], 0.5, 0.1, np.zeros(9))
    with pytest.raises(ValueError, match="sd"):
        sampling.ensemble_update(inputs, inputs[:, 0], 0.5, 0.0, np.zeros(DRAWS))
