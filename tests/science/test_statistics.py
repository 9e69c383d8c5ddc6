"""Quantiles against a reference library; intervals against simulation and their own promises."""

import numpy as np
import pytest
from hypothesis import settings
from scipy import stats

from hotface_api.science import statistics

searched = settings(database=None, deadline=None)
PROBABILITIES = np.concatenate(
    [10.0 ** -np.arange(1, 13), np.linspace(0.02, 0.98, 49), 1 - 10.0 ** -np.arange(1, 13)]
)


def test_normal_quantile_meets_the_reference():
    found = statistics.normal_quantile(PROBABILITIES)
    np.testing.assert_allclose(found, stats.norm.ppf(PROBABILITIES), rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("dof", [1.0, 1.5, 2.0, 2.7, 3.0, 5.0, 10.0, 40.0, 333.3, 1e4, 1e6])
def test_student_quantile_meets_the_reference(dof):
    chance = PROBABILITIES[(PROBABILITIES >= 1e-4) & (PROBABILITIES <= 1 - 1e-4)]
    found = statistics.student_t_quantile(chance, dof)
    stated = 1e-6 if dof >= 2 else 1e-5
    np.testing.assert_allclose(found, stats.t.ppf(chance, dof), rtol=stated, atol=1e-12)


@pytest.mark.parametrize("dof", [2.0, 4.0, 30.0])
def test_student_quantile_holds_far_out(dof):
    chance = np.array([1e-10, 1e-7, 1 - 1e-7, 1 - 1e-10])
    found = statistics.student_t_quantile(chance, dof)
    np.testing.assert_allclose(found, stats.t.ppf(chance, dof), rtol=1e-4)


def test_student_quantile_broadcasts_and_is_symmetric():
    chance, dof = np.array([0.1, 0.5, 0.9]), np.array([[2.0], [np.inf]])
    found = statistics.student_t_quantile(chance, dof)
    assert found.shape == (2, 3)
    np.testing.assert_allclose(found[:, 0], -found[:, 2], rtol=1e-12)
    np.testing.assert_array_equal(found[:, 1], 0.0)
    np.testing.assert_allclose(found[1], statistics.normal_quantile(chance), rtol=1e-5)
    one = statistics.student_t_quantile(0.9, 2.0)
    np.testing.assert_allclose(found[0, 2], one, rtol=1e-14)


def test_missing_probability_stays_missing():
    assert np.isnan(statistics.normal_quantile(np.nan))
    assert np.isnan(statistics.student_t_quantile([0.9, np.nan], 3.0))[1]


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, 1.1])
def test_impossible_probability_is_refused(chance):
    with pytest.raises(ValueError, match="probability"):
        statistics.normal_quantile(chance)
    with pytest.raises(ValueError, match="probability"):
        statistics.student_t_quantile(chance, 3.0)


def test_too_few_degrees_of_freedom_are_refused():
    with pytest.raises(ValueError, match="dof"):
        statistics.student_t_quantile(0.9, 0.5)
