"""The search returns what no candidate beats, with the numbers of single estimates."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface_api.catalogue.reference import ReferenceCache
from hotface_api.mixes.candidates import OnHand, drawn_shares, subsets
from hotface_api.mixes.held import forget as forget_inputs
from hotface_api.mixes.inputs import gather, with_amounts
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.model import Case, run
from hotface_api.mixes.pareto import front, spread
from hotface_api.mixes.priors import CALIBRATED
from hotface_api.mixes.request import Constituent, EstimateRequest, Mix, MixError, State, Triple
from hotface_api.mixes.search import Musts, SearchRequest, search
from hotface_api.mixes.service import forget as forget_limits

FIRED = State("fired", 1273.15)


def on_hand(material, least=0.0, most=1.0, **more):
    return OnHand(Constituent(material, 1.0, "parts", **more), least, most)


SHED = (
    on_hand("cac-40", 0.10, 0.60),
    on_hand("expanded-clay", 0.0, 0.90),
    on_hand("expanded-perlite", 0.0, 0.60),
    on_hand("fireclay", 0.0, 0.20),
)


def asked(**more):
    more.setdefault("candidates", 4000)
    more.setdefault("shares_by", "mass")
    return SearchRequest(SHED, state=FIRED, **more)


@pytest.fixture
def look(database, reference):
    def run_search(request, **more):
        with database.read() as connection:
            return search(connection, reference, request, **more)

    return run_search


def k_at(answer, kelvin):
    return next(
        point.range.typical
        for point in answer.thermal_conductivity
        if abs(point.temperature - kelvin) < 1
    )


def test_returned_numbers_are_those_of_the_single_estimate(look, ask):
    found = look(asked()).found
    assert found
    for each in found:
        assert each.estimate == ask(each.request)


def test_musts_hold_in_what_is_returned(look):
    musts = Musts(density_below=900.0, conductivity_below=0.30, conductivity_at=873.15)
    found = look(asked(musts=musts)).found
    assert found
    for each in found:
        assert each.estimate.bulk_density.typical < 900.0
        assert k_at(each.estimate, 873.15) < 0.30


def test_a_service_limit_that_must_be_proven_rules_materials_out(look):
    musts = Musts(service_limit_above=1150.0, allow_unproven=True)
    found = look(asked(musts=musts)).found
    assert found
    for each in found:
        assert "expanded-perlite" not in {p.material for p in each.request.mix.constituents}


def test_nothing_found_says_why(look):
    result = look(asked(musts=Musts(density_below=50.0)))
    assert result.found == ()
    assert "that light" in result.reason
    assert result.met["density"] == 0
    hot = look(asked(musts=Musts(service_limit_above=2500.0)))
    assert "service limit" in hot.reason


def test_none_of_the_returned_beats_another(look):
    found = look(asked(wishes=("conductivity", "binder"))).found
    costs = []
    for each in found:
        answer = each.estimate
        binder = next(
            s.mass_fraction for s in answer.composition.constituents if s.material == "cac-40"
        )
        costs.append((k_at(answer, 293.15), binder))
    for one in costs:
        assert not [o for o in costs if o != one and o[0] <= one[0] and o[1] <= one[1]]


def test_water_is_what_the_mix_needs(look):
    for each in look(asked()).found:
        codes = {note.code for note in each.estimate.assumptions}
        assert "water_bleeds" not in codes
        assert "water_short" not in codes


def test_the_same_seed_finds_the_same_mixes(look):
    one, two = look(asked(candidates=500)), look(asked(candidates=500))
    assert [f.request for f in one.found] == [f.request for f in two.found]
    other = look(asked(candidates=500, seed=2))
    assert [f.request for f in other.found] != [f.request for f in one.found]


def test_progress_is_told_and_reaches_the_end(look):
    calls = []
    look(asked(candidates=20000), progress=lambda done, whole: calls.append((done, whole)))
    assert calls[-1] == (20000, 20000)
    assert [done for done, _ in calls] == sorted(done for done, _ in calls)


def test_the_callers_cap_holds(look):
    with pytest.raises(MixError) as caught:
        look(asked(candidates=5000), cap=1000)
    assert caught.value.pointer == "#/candidates"


def test_candidates_weigh_alone_what_they_weigh_together(database):
    """Vectorised over mixes: each candidate is what it is by itself."""
    reference = ReferenceCache(database).latest()
    names = ("cac-40", "fireclay", "expanded-clay", "expanded-perlite")
    generator = np.random.default_rng(1)
    amounts = generator.uniform(0.05, 1.0, (4, 9))
    water = generator.uniform(0.5, 1.5, 9)

    def request(amount, ratio):
        parts = tuple(
            Constituent(name, float(each), "parts")
            for name, each in zip(names, amount, strict=True)
        )
        mix = Mix(parts, ratio, "ratio_to_binder", "mass")
        return EstimateRequest(mix, FIRED, at=(293.15, 1073.15))

    def centre(case):
        found = run(case, Latent(1, 1, centre=True))
        return found.thermal.draws, found.density(case)

    with database.read() as connection:
        template = request(amounts[:, 0], 1.0)
        gathered = gather(connection, reference, template)
        together = request(amounts[:, 0], water)
        k, density = centre(Case(together, with_amounts(gathered, amounts), CALIBRATED))
        for index in range(9):
            alone = request(amounts[:, index], float(water[index]))
            one_k, one_density = centre(
                Case(alone, gather(connection, reference, alone), CALIBRATED)
            )
            np.testing.assert_allclose(k[:, index], one_k[:, 0], rtol=1e-12)
            np.testing.assert_allclose(density[index], one_density[0], rtol=1e-12)


BAD = {
    "#/candidates": {"candidates": 0},
    "#/results": {"results": 0},
    "#/wishes": {"wishes": ("beauty",)},
    "#/water": {"water": 9.0},
    "#/musts/conductivity_at": {"musts": Musts(conductivity_below=0.3)},
    "#/musts/density_below": {"musts": Musts(density_below=-1.0)},
}


@pytest.mark.parametrize("pointer", BAD)
def test_what_makes_no_sense_is_refused(look, pointer):
    with pytest.raises(MixError) as caught:
        look(asked(**BAD[pointer]))
    assert caught.value.pointer == pointer


SHEDS = {
    "#/on_hand": (on_hand("cac-40", 0.7), on_hand("expanded-clay", 0.7)),
    "#/on_hand/1/material": (on_hand("cac-40"), on_hand("cac-40")),
    "#/on_hand/0/share": (on_hand("cac-40", 0.9, 0.1),),
}


@pytest.mark.parametrize("pointer", SHEDS)
def test_shares_that_do_not_add_up_are_refused(look, pointer):
    with pytest.raises(MixError) as caught:
        look(SearchRequest(SHEDS[pointer], state=FIRED))
    assert caught.value.pointer == pointer


def test_shares_too_small_for_a_whole_are_refused(look):
    with pytest.raises(MixError, match="less than the whole"):
        look(SearchRequest((on_hand("cac-40", 0.1, 0.3), on_hand("pumice", 0.0, 0.5))))


def test_a_shed_without_cement_is_refused(look):
    with pytest.raises(MixError, match="binder that sets"):
        look(SearchRequest((on_hand("expanded-clay"), on_hand("fireclay")), "mass"))


FAULTS = {
    "#/on_hand/1/material": ((on_hand("cac-40"), on_hand("cac40")), {}),
    "#/on_hand/2/pore_size": (
        (
            on_hand("cac-40"),
            on_hand("expanded-clay"),
            on_hand("pumice", pore_size=Triple.exactly(0.0)),
        ),
        {},
    ),
    "#/on_hand/1/properties/loose_bulk_density": (
        (on_hand("cac-40"), on_hand("fireclay")),
        {"shares_by": "loose"},
    ),
    "#/musts/conductivity_at": (
        SHED,
        {"musts": Musts(conductivity_below=0.3, conductivity_at=5000.0)},
    ),
    "#/at/1": (SHED, {"at": (293.15, 5000.0)}),
    "#/state/temperature": (SHED, {"state": State("fired", 300.0)}),
}


@pytest.mark.parametrize("pointer", FAULTS)
def test_a_fault_points_to_where_it_was_given_whatever_is_searched(look, pointer):
    """Even for a material that few choices hold, and before any candidate is weighed."""
    shed, more = FAULTS[pointer]
    more = {"state": FIRED, "shares_by": "mass", **more}
    calls = []
    with pytest.raises(MixError) as caught:
        look(SearchRequest(shed, **more), progress=lambda *done: calls.append(done))
    assert caught.value.pointer == pointer
    assert calls == []


def test_limits_of_all_choices_come_in_one_statement(database, look, statements):
    forget_inputs()
    forget_limits()
    with statements(database) as counted:
        look(asked(candidates=64, results=1, musts=Musts(service_limit_above=5000.0)))
    assert len(counted) <= 3


def test_damp_grains_bring_their_water(look):
    """What is returned holds as much water in all: less is poured in."""

    def water(moisture):
        shed = (
            on_hand("cac-40", 0.3, 0.3),
            on_hand("expanded-clay", 0.7, 0.7, moisture=moisture),
        )
        found = look(SearchRequest(shed, "absolute", state=FIRED, candidates=1)).found[0]
        return found.request.mix.water, found.estimate.composition.water.typical

    (dry_poured, dry), (damp_poured, damp) = water(0.0), water(0.1)
    assert damp_poured < dry_poured
    assert damp == pytest.approx(dry, rel=0.02)


@settings(database=None, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.0, 0.2), st.floats(0.4, 1.0)), min_size=3, max_size=6),
    st.integers(0, 2**31),
)
def test_drawn_shares_keep_their_bounds_and_add_up(bounds, seed):
    parts = [on_hand(f"m{i}", low, high) for i, (low, high) in enumerate(bounds)]
    shares = drawn_shares(parts, 50, np.random.default_rng(seed))
    np.testing.assert_allclose(shares.sum(0), 1.0, atol=0.001 * len(parts))
    for share, (low, high) in zip(shares, bounds, strict=True):
        assert np.all(share >= low - 0.001)
        assert np.all(share <= high + 0.001)


def test_choices_leave_out_what_may_be_left_out(database):
    reference = ReferenceCache(database).latest()
    chosen = list(subsets(reference, SHED, 1000, 1))
    assert sum(count for _, count in chosen) == 1000
    for parts, _ in chosen:
        assert "cac-40" in {each.constituent.material for each in parts}
    assert len({tuple(p.constituent.material for p in parts) for parts, _ in chosen}) > 3


@settings(database=None, deadline=None)
@given(st.integers(0, 2**31), st.integers(1, 1500), st.integers(1, 3))
def test_the_front_is_what_pairwise_comparison_gives(seed, count, wishes):
    costs = np.random.default_rng(seed).integers(0, 12, (count, wishes)).astype(float)
    found = front(costs)
    better = np.all(costs[None] <= costs[:, None], -1) & np.any(costs[None] < costs[:, None], -1)
    expected = {tuple(row) for row in costs[~better.any(-1)]}
    assert {tuple(row) for row in costs[found]} == expected
    assert len(found) == len(expected)


def test_a_spread_keeps_the_best_of_each_wish():
    line = np.linspace(0.0, 1.0, 200)
    costs = np.stack([line, 1.0 - line], -1)
    chosen = spread(costs, 5)
    assert {0, 199} <= set(chosen.tolist())
    gaps = np.diff(costs[chosen, 0])
    assert gaps.max() < 2.1 * gaps.min()
