"""What makes no sense is refused with a pointer and what would help."""

from __future__ import annotations

import math

import pytest

from hotface_api.mixes.checks import check
from hotface_api.mixes.request import (
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    MixError,
    State,
    Triple,
)
from support.mixes import FIRED, codes, exact, lid, part

NOTHING = Triple(0.0, 0.0, 0.0)


def pumice(**own):
    return Mix((part("pumice", 1.0, properties=exact(**own)),), 1.0)


BAD_MIXES = {
    "#/mix/constituents": Mix((), 1.0),
    "#/mix/constituents/0/amount": Mix((part("cac-40", 0.0),), 1.0),
    "#/mix/constituents/1/material": Mix((part("cac-40", 1.0), part("cac-40", 2.0)), 1.0),
    "#/mix/constituents/1/amount": Mix(
        (part("cac-40", 1.0), part("quartz-sand", 2.0, "parts")), 1.0
    ),
    "#/mix/water": Mix((part("cac-40", 1.0),), 0.0),
    "#/mix/parts_by": Mix((part("cac-40", 1.0, "parts"),), 0.4, "ratio_to_binder"),
    "#/mix/constituents/0/properties/porosity": pumice(porosity=0.4),
    "#/mix/constituents/0/properties/loose_bulk_density": pumice(
        loose_bulk_density=900.0, particle_density=700.0
    ),
    "#/mix/constituents/0/properties/particle_density": pumice(particle_density=0.0),
    "#/mix/constituents/0/properties/true_density": pumice(true_density=2.6e6),
    "#/mix/constituents/0/properties/thermal_conductivity": pumice(thermal_conductivity=0.0),
    "#/mix/constituents/0/moisture": Mix((part("pumice", 1.0, moisture=-0.1),), 1.0),
    "#/mix/constituents/0/properties/loss_on_ignition": pumice(loss_on_ignition=1.2),
    "#/mix/constituents/0/properties/water_absorption": pumice(water_absorption=60.0),
    "#/mix/constituents/0/properties/specific_heat_capacity": pumice(specific_heat_capacity=0.0),
    "#/mix/constituents/0/crush_factor": Mix((part("pumice", 1.0, crush_factor=1.5),), 1.0),
    "#/mix/constituents/0/pore_size": Mix((part("pumice", 1.0, pore_size=NOTHING),), 1.0),
    "#/mix/constituents/0/grain_size": Mix((part("pumice", 1.0, grain_size=NOTHING),), 1.0),
    "#/mix/constituents/0/bucket": Mix((part("pumice", 1.0, bucket=(5.0, 0.0)),), 1.0),
    "#/mix/constituents/0/fill": Mix((part("pumice", 1.0, fill="rammed"),), 1.0),
}


@pytest.mark.parametrize("pointer", BAD_MIXES)
def test_a_mix_without_sense_is_refused(pointer):
    with pytest.raises(MixError) as caught:
        check(EstimateRequest(BAD_MIXES[pointer], FIRED))
    assert caught.value.pointer == pointer


BAD_REQUESTS = {
    "#/state/moisture": {"state": State("dried", moisture=0.05)},
    "#/state/temperature": {"state": State("fired", 340.0)},
    "#/coverage": {"coverage": 0.999},
    "#/at/0": {"at": (2500.0,)},
    "#/seed": {"seed": -1},
    "#/draws": {"draws": 3},
    "#/measured/bulk_density": {"measured": Measured(bulk_density=-5.0)},
    "#/measured/densities/glazed": {"measured": Measured(densities={"glazed": 1000.0})},
    "#/measured/thermal_conductivity_at": {"measured": Measured(thermal_conductivity=0.4)},
    "#/measured/spread": {"measured": Measured(bulk_density=900.0, spread=0.0)},
    "#/rule": {"rule": "russell"},
    "#/rule_options/series_share": {"rule": "krischer"},
    "#/rule_options/colour": {"rule": "maxwell", "rule_options": {"colour": 0.5}},
}


@pytest.mark.parametrize("pointer", BAD_REQUESTS)
def test_a_request_without_sense_is_refused(pointer):
    with pytest.raises(MixError) as caught:
        check(lid(**BAD_REQUESTS[pointer]))
    assert caught.value.pointer == pointer


def test_a_conductivity_below_that_of_any_grain_is_refused():
    """Still air conducts 0.026 W/(m.K); silica aerogel, of pores finer than air needs, 0.013."""
    with pytest.raises(MixError) as caught:
        check(EstimateRequest(pumice(thermal_conductivity=0.004), FIRED))
    assert caught.value.pointer.endswith("/properties/thermal_conductivity")
    check(EstimateRequest(pumice(thermal_conductivity=0.013), FIRED))


IMPOSSIBLE = {
    "properties/particle_density": {"properties": exact(particle_density=5000.0)},
    "properties/true_density": {"properties": exact(true_density=450.0)},
    "properties/loose_bulk_density": {"properties": exact(loose_bulk_density=2000.0)},
    "bucket": {"bucket": (30.0, 0.010)},
}


@pytest.mark.parametrize("where", IMPOSSIBLE)
def test_an_own_figure_that_the_held_ones_rule_out_is_refused(ask, where):
    """Expanded clay: grains held at about 0.6 to 1.9, its solid taken as a silicate's."""
    clay = part("expanded-clay", 0.060, "volume", **IMPOSSIBLE[where])
    with pytest.raises(MixError, match=r"weighs by what is held, \d+ to \d+ kg/m3") as caught:
        ask(EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED))
    assert caught.value.pointer == f"#/mix/constituents/1/{where}"


def test_a_grade_of_ones_own_may_lie_past_the_held_ones(ask):
    own = exact(loose_bulk_density=1100.0, particle_density=1700.0)
    clay = part("expanded-clay", 0.060, "volume", properties=own)
    assert ask(EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED)).bulk_density.low > 0
    shot = part("my-shot", 30.0, kind="aggregate", properties=exact(particle_density=7500.0))
    assert ask(EstimateRequest(Mix((part("cac-40", 25.0), shot), 11.0), FIRED)).bulk_density.low > 0


@pytest.mark.parametrize("own", [1.0, 1.0e6])
def test_a_heat_capacity_is_that_of_a_solid(own):
    with pytest.raises(MixError) as caught:
        check(EstimateRequest(pumice(specific_heat_capacity=own), FIRED))
    assert caught.value.pointer.endswith("/properties/specific_heat_capacity")


def test_a_pore_is_smaller_than_its_grain_and_both_than_the_part():
    sizes = {"pore_size": Triple.exactly(0.01), "grain_size": Triple.exactly(0.001)}
    for more in (sizes, {"pore_size": Triple.exactly(1.0)}):
        mix = Mix((part("pumice", 1.0, **more),), 1.0)
        with pytest.raises(MixError) as caught:
            check(EstimateRequest(mix, FIRED))
        assert caught.value.pointer == "#/mix/constituents/0/pore_size"


def test_a_tiny_batch_is_a_batch(ask):
    """Checks go by ratios: a millionth of a millionth of the mix is the same mix."""

    def mix(scale):
        parts = (part("cac-40", 25.0 * scale), part("expanded-perlite", 6.0 * scale))
        return EstimateRequest(Mix(parts, 20.0 * scale), FIRED)

    small, large = ask(mix(1e-12)), ask(mix(1.0))
    assert small.bulk_density.typical == pytest.approx(large.bulk_density.typical, rel=1e-9)
    assert codes(small) == codes(large)


@pytest.mark.parametrize("amount", [-1.0, math.nan, math.inf])
def test_amounts_are_finite_and_positive(amount):
    with pytest.raises(MixError):
        check(EstimateRequest(Mix((part("cac-40", amount),), 1.0), FIRED))


def test_a_weighed_bucket_heavier_than_its_grains_is_refused():
    heavy = part("pumice", 1.0, bucket=(9.0, 0.010), properties=exact(particle_density=700.0))
    with pytest.raises(MixError) as caught:
        check(EstimateRequest(Mix((part("cac-40", 1.0), heavy), 1.0), FIRED))
    assert caught.value.pointer == "#/mix/constituents/1/bucket"


def test_a_wet_body_has_no_conductivity_above_boiling():
    with pytest.raises(MixError, match="boils"):
        check(EstimateRequest(lid().mix, State("fresh"), at=(473.15,)))


def test_unknown_material_names_the_nearest(ask):
    with pytest.raises(MixError) as caught:
        ask(EstimateRequest(Mix((part("cac40", 1.0),), 1.0), FIRED))
    assert "cac-40" in caught.value.nearest
    assert "your own" in caught.value.message


def test_an_unknown_kind_of_an_own_material_is_refused(ask):
    own = part("my-stuff", 1.0, kind="magic")
    with pytest.raises(MixError) as caught:
        ask(EstimateRequest(Mix((part("cac-40", 1.0), own), 1.0), FIRED))
    assert caught.value.pointer == "#/mix/constituents/1/kind"


def test_a_hole_in_a_needed_density_is_named_and_can_be_filled(ask):
    def mix(**own):
        brick = Constituent("crushed-firebrick", 0.010, "volume", properties=exact(**own))
        return EstimateRequest(Mix((part("cac-40", 5.0), brick), 2.0), FIRED)

    with pytest.raises(MixError) as caught:
        ask(mix())
    assert caught.value.pointer.endswith("loose_bulk_density")
    assert ask(mix(loose_bulk_density=1150.0)).bulk_density.typical > 1000


def test_a_mix_without_binder_is_refused(ask):
    with pytest.raises(MixError, match="no binder"):
        ask(EstimateRequest(Mix((part("quartz-sand", 10.0),), 1.0), FIRED))


def test_a_ratio_needs_a_binder_that_sets(ask):
    mix = Mix((part("fireclay", 1.0, "parts"),), 0.4, "ratio_to_binder", "mass")
    with pytest.raises(MixError) as caught:
        ask(EstimateRequest(mix, FIRED))
    assert caught.value.pointer == "#/mix/water"


def test_water_above_what_anything_holds_is_refused(ask):
    with pytest.raises(MixError, match="ten times"):
        ask(EstimateRequest(Mix((part("cac-40", 1.0), part("quartz-sand", 1.0)), 100.0), FIRED))


def test_water_below_what_the_binder_binds_is_refused_and_short_water_told(ask):
    def with_water(water):
        return EstimateRequest(Mix((part("cac-40", 10.0), part("quartz-sand", 20.0)), water), FIRED)

    with pytest.raises(MixError, match="binds about") as caught:
        ask(with_water(0.5))
    assert caught.value.pointer == "#/mix/water"
    assert "water_short" in codes(ask(with_water(2.0)))
    assert "water_short" not in codes(ask(with_water(5.0)))


def test_water_that_runs_out_is_told(ask):
    mix = Mix((part("cac-40", 1.0), part("quartz-sand", 20.0)), 5.0)
    assert "water_bleeds" in codes(ask(EstimateRequest(mix, FIRED)))


def test_paste_too_scarce_is_told(ask):
    mix = Mix((part("cac-40", 2.0), part("expanded-clay", 0.060, "volume")), 3.0)
    assert "paste_short" in codes(ask(EstimateRequest(mix, FIRED)))
