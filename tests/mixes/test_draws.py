"""Draws on request: those the intervals were made of, whole mixes and not columns apart."""

from __future__ import annotations

import numpy as np
import pytest

from hotface_api.mixes.answer import range_of
from hotface_api.mixes.checks import check
from hotface_api.mixes.request import Measured, MixError, State
from support.mixes import DRIED, lid

AT = (293.15, 673.15, 1073.15)


def ends(found):
    return found.low, found.typical, found.high


def test_none_are_made_unless_asked_for(ask):
    assert ask(lid()).draws is None


@pytest.mark.parametrize(
    "more", [{}, {"measured": Measured(bulk_density=1150.0)}, {"coverage": 0.8}]
)
def test_their_quantiles_are_the_intervals_told(ask, more):
    answer = ask(lid(at=AT, returned_draws=2000, **more))
    draws = answer.draws
    assert draws.count == 2000
    assert draws.temperatures == AT

    def same(told, column):
        assert ends(range_of(column, answer.bulk_density.coverage)) == pytest.approx(
            ends(told), rel=1e-12
        )

    same(answer.bulk_density, draws.bulk_density)
    for name, told in answer.densities.items():
        same(told, draws.densities[name])
    for place, point in enumerate(answer.thermal_conductivity):
        same(point.range, draws.thermal_conductivity[place])
    for place, point in enumerate(answer.specific_heat_capacity):
        same(point.range, draws.specific_heat_capacity[place])


def test_asking_changes_no_number(ask):
    plain, drawn = ask(lid()), ask(lid(returned_draws=300))
    assert drawn.draws.count == 300
    assert drawn.bulk_density == plain.bulk_density
    assert drawn.thermal_conductivity == plain.thermal_conductivity
    assert drawn.doubt_shares == plain.doubt_shares


def test_fewer_are_the_first_of_more(ask):
    few, many = ask(lid(returned_draws=50)).draws, ask(lid(returned_draws=400)).draws
    np.testing.assert_array_equal(few.bulk_density, many.bulk_density[:50])
    np.testing.assert_array_equal(few.thermal_conductivity, many.thermal_conductivity[:, :50])


def test_each_place_is_one_mix(ask):
    """A lighter draw is a draw that conducts less, in every state and at every temperature."""
    draws = ask(lid(at=AT, returned_draws=2000)).draws
    ranks = [
        np.argsort(np.argsort(column))
        for column in (draws.bulk_density, draws.densities["fresh"], draws.thermal_conductivity[0])
    ]
    assert np.corrcoef(ranks[0], ranks[1])[0, 1] > 0.95
    assert np.corrcoef(ranks[0], ranks[2])[0, 1] > 0.4
    assert np.all(draws.densities["fired"] < draws.densities["dried"])


def test_a_measurement_moves_the_draws(ask):
    free = ask(lid(returned_draws=2000))
    target = 1.08 * free.bulk_density.typical
    known = ask(lid(returned_draws=2000, measured=Measured(bulk_density=target))).draws
    assert np.median(known.bulk_density) == pytest.approx(target, rel=0.02)
    assert np.std(np.log(known.bulk_density)) < 0.5 * np.std(np.log(free.draws.bulk_density))


def test_what_is_not_answered_is_not_drawn(ask):
    """A wet body has no expansion; its reason stands in the estimate."""
    answer = ask(lid(state=State("fresh"), returned_draws=20))
    assert answer.draws.thermal_strain is None
    assert "thermal_strain" in answer.reasons


def test_they_are_the_callers_own(ask):
    answer = ask(lid(state=DRIED, returned_draws=10))
    answer.draws.bulk_density[0] = -1.0
    assert ask(lid(state=DRIED, returned_draws=10)).draws.bulk_density[0] > 0


def test_equal_requests_give_equal_draws(ask):
    one, two = ask(lid(returned_draws=30)), ask(lid(returned_draws=30))
    assert one == two
    assert one.draws != ask(lid(returned_draws=30, seed=9)).draws
    assert one.draws != ask(lid(returned_draws=30, at=AT)).draws


@pytest.mark.parametrize("count", [-1, 2001])
def test_more_than_are_kept_is_refused(count):
    with pytest.raises(MixError) as caught:
        check(lid(returned_draws=count))
    assert caught.value.pointer == "#/draws"
