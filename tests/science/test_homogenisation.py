"""The analytic rules against an independent numerical homogenisation on voxels."""

from __future__ import annotations

import numpy as np
import pytest

from hotface_api.science import conductivity as rules
from support.voxels import (
    balls,
    effective_conductivity,
    overlapping_balls,
    separate_centres,
)

AIR = 0.026
FACE_CENTRED = ((0, 0, 0), (0, 0.5, 0.5), (0.5, 0, 0.5), (0.5, 0.5, 0))


def two(share, host, other):
    return [1.0 - share, share], [host, other]


def test_layers_are_the_wiener_limits():
    k = np.ones((16, 8, 8))
    k[::4] = 0.1
    shares, values = two(0.25, 1.0, 0.1)
    assert effective_conductivity(k) == pytest.approx(
        float(rules.wiener_series(shares, values)), rel=1e-6
    )
    along = np.moveaxis(k, 0, 1)
    assert effective_conductivity(along) == pytest.approx(
        float(rules.wiener_parallel(shares, values)), rel=1e-6
    )


@pytest.mark.parametrize(("other", "radius"), [(AIR, 0.25), (AIR, 0.28), (10.0, 0.25)])
def test_face_centred_balls_meet_maxwell(other, radius):
    """Maxwell is within a per cent to a share of 0.4; the steps of voxels cost the rest."""
    inside = balls(40, FACE_CENTRED, radius)
    k = np.where(inside, other, 1.0)
    shares, values = two(inside.mean(), 1.0, other)
    found = effective_conductivity(k)
    assert found == pytest.approx(float(rules.maxwell(shares, values)), rel=0.05)


@pytest.mark.parametrize("porosity", [0.2, 0.35, 0.45])
def test_overlapping_pores_follow_the_symmetric_rule(porosity):
    """Burnt-out pores run into each other: the rule of sintered bodies up to 0.45."""
    pores = overlapping_balls(40, porosity, 0.11, seed=3)
    found = effective_conductivity(np.where(pores, AIR, 1.0))
    shares, values = two(pores.mean(), 1.0, AIR)
    assert found == pytest.approx(float(rules.effective_medium(shares, values)), rel=0.10)
    assert found < float(rules.hashin_shtrikman_upper(shares, values))


def test_light_grains_in_a_paste_lie_between_differential_and_maxwell():
    grains = balls(44, separate_centres(40, 0.118, seed=1), 0.118)
    k = np.where(grains, 0.08, 0.5)
    shares, values = two(grains.mean(), 0.5, 0.08)
    assert shares[1] > 0.2
    found = effective_conductivity(k)
    low = float(rules.differential(shares, values))
    high = float(rules.maxwell(shares, values))
    assert low * 0.98 < found < high * 1.03


def test_two_kinds_of_grain_meet_the_many_phase_rule():
    centres = separate_centres(40, 0.118, seed=2)
    light, dense = (balls(44, half, 0.118) for half in (centres[::2], centres[1::2]))
    k = np.where(light, 0.08, np.where(dense, 2.0, 0.5))
    shares = [1 - light.mean() - dense.mean(), light.mean(), dense.mean()]
    values = [0.5, 0.08, 2.0]
    found = effective_conductivity(k)
    assert float(rules.hashin_shtrikman_lower(shares, values)) < found
    assert found < float(rules.hashin_shtrikman_upper(shares, values))
    assert found == pytest.approx(float(rules.maxwell(shares, values)), rel=0.06)


def test_one_step_over_all_phases_is_wrong_for_light_mixes():
    """Hollow grains in a paste: right in steps, a fifth too low in one symmetric step."""
    shells, hollow = balls(60, FACE_CENTRED, 0.33), balls(60, FACE_CENTRED, 0.29)
    k = np.where(hollow, AIR, np.where(shells, 1.2, 0.5))
    gas, shell = hollow.mean(), (shells & ~hollow).mean()
    found = effective_conductivity(k)
    grain = rules.maxwell([shell / (shell + gas), gas / (shell + gas)], [1.2, AIR])
    steps = float(rules.maxwell([1 - shell - gas, shell + gas], [0.5, float(grain)]))
    one = float(rules.effective_medium([1 - shell - gas, shell, gas], [0.5, 1.2, AIR]))
    assert found == pytest.approx(steps, rel=0.08)
    assert one < 0.85 * found
