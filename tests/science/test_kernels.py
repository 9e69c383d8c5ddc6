"""The unchecked inner loops against the public rules, which meet published cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface_api.science import conductivity, kernels, sampling

searched = settings(database=None, deadline=None)
share = st.floats(0.01, 0.99)
conducts = st.floats(0.02, 50.0)


def stacked(*columns):
    return np.stack([np.asarray(column, dtype=float) for column in columns], -1)


@searched
@given(share, conducts, conducts)
def test_pairs_are_the_public_rules(part, host, other):
    fractions, each = stacked(1 - part, part), stacked(host, other)
    pairs = (
        (kernels.pair_maxwell(part, host, other), conductivity.maxwell, 1e-10),
        (kernels.pair_differential(part, host, other), conductivity.differential, 1e-5),
        (kernels.pair_effective(1 - part, host, other), conductivity.effective_medium, 1e-8),
    )
    for found, rule, tolerance in pairs:
        assert float(found) == pytest.approx(float(rule(fractions, each)), rel=tolerance)


@searched
@given(share, conducts, conducts)
def test_the_cubic_is_met_to_the_last_digits(part, host, other):
    """(k2-k)/(k2-k1) (k1/k)^(1/3) = 1 - phi, multiplied out so that equal phases do no harm."""
    found = float(kernels.pair_differential(part, host, other))
    left = (other - found) * (host / found) ** (1 / 3)
    assert left == pytest.approx((1 - part) * (other - host), abs=1e-11 * (host + other))


@pytest.mark.parametrize("part", [0.0, 1.0])
def test_pairs_at_their_ends(part):
    end = 2.0 if part else 1.0
    assert float(kernels.pair_maxwell(part, 1.0, 2.0)) == pytest.approx(end)
    assert float(kernels.pair_differential(np.array(part), 1.0, 2.0)) == pytest.approx(end)
    assert float(kernels.pair_effective(np.array(1 - part), 1.0, 2.0)) == pytest.approx(end)


def mixture(seed, count=200, kinds=3):
    generator = np.random.default_rng(seed)
    fractions = generator.dirichlet([3.0] + [1.0] * kinds, count)
    fractions = 0.1 * np.eye(kinds + 1)[0] + 0.9 * fractions
    each = np.exp(generator.uniform(np.log(0.02), np.log(1.0), (count, kinds + 1)))
    return fractions, each


def columns(block):
    return [block[:, i] for i in range(block.shape[1])]


def test_many_phases_are_the_public_rules():
    fractions, each = mixture(1)
    shares, values = columns(fractions), columns(each)
    np.testing.assert_allclose(
        kernels.referenced(shares, values, values[0]), conductivity.maxwell(fractions, each)
    )
    np.testing.assert_allclose(
        kernels.parallel(shares, values), conductivity.wiener_parallel(fractions, each)
    )
    np.testing.assert_allclose(
        kernels.series(shares, values), conductivity.wiener_series(fractions, each)
    )
    exact = conductivity.differential(fractions, each)
    for steps, tolerance in ((12, 1e-4), (6, 2e-3)):
        found = kernels.spread_differential(shares[1:], values[1:], shares[0], values[0], steps)
        np.testing.assert_allclose(found, exact, rtol=tolerance)


def test_one_kind_takes_the_closed_form():
    fractions, each = mixture(2, kinds=1)
    shares, values = columns(fractions), columns(each)
    np.testing.assert_allclose(
        kernels.spread_differential(shares[1:], values[1:], shares[0], values[0]),
        kernels.pair_differential(shares[1], values[0], values[1]),
    )


def test_rank_scores_are_those_of_rank_shares():
    rows = np.random.default_rng(3).normal(size=(3, 5000))
    target = rows[0] + 0.5 * rows[1] ** 3
    scores = kernels.rank_scores(rows)
    np.testing.assert_allclose(scores.sum(-1), 0.0, atol=1e-12)
    np.testing.assert_allclose((scores**2).sum(-1), 1.0)
    marginal = (scores * kernels.rank_scores(target)).sum(-1) ** 2
    np.testing.assert_allclose(marginal, sampling.rank_shares(rows.T, target), atol=0.03)


def test_a_row_that_does_not_vary_scores_nothing():
    assert not kernels.rank_scores(np.ones((1, 50))).any()
