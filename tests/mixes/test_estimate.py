from __future__ import annotations

import math

import pytest
from support.mixes import FIRED, exact, lid, part

from hotface_api.mixes.request import (
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    MixError,
    State,
    Triple,
    check,
)


def width(found):
    return math.log(found.high / found.low)


def test_same_seed_same_answer_other_seed_other(ask):
    one, two, other = ask(lid(seed=7)), ask(lid(seed=7)), ask(lid(seed=8))
    assert one == two
    assert one.bulk_density != other.bulk_density


def test_adding_a_constituent_leaves_the_draws_of_the_others(ask):
    """Named streams: a part too small to matter changes the answer by as little."""
    plain = ask(lid())
    grown = ask(
        EstimateRequest(
            Mix((*lid().mix.constituents, part("quartz-sand", 1e-6)), 11.0), FIRED,
        )
    )
    assert grown.bulk_density.low == pytest.approx(plain.bulk_density.low, rel=1e-4)
    k, more = plain.thermal_conductivity[0].range, grown.thermal_conductivity[0].range
    assert more.typical == pytest.approx(k.typical, rel=1e-3)


def test_bounds_hold_the_estimate(ask):
    for point in ask(lid()).thermal_conductivity:
        assert point.lower_bound < point.range.low
        assert point.range.typical < point.upper_bound


def test_conductivity_rises_with_temperature_by_radiation(ask):
    """Loeb 1954: pore radiation grows with the cube of temperature."""
    points = ask(lid()).thermal_conductivity
    assert points[-1].range.typical > 1.15 * points[0].range.typical


def test_coarser_pores_conduct_more_when_hot(ask):
    def hot(size):
        clay = part("expanded-clay", 0.060, "volume", pore_size=Triple.exactly(size))
        request = EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED)
        return ask(request).thermal_conductivity[-1].range.typical

    assert hot(2e-3) > 1.1 * hot(2e-5)


def test_states_lose_mass_in_order(ask):
    densities = ask(lid()).densities
    order = [densities[name].typical for name in ("fresh", "demoulded", "dried", "fired")]
    assert order == sorted(order, reverse=True)


def test_weighing_a_bucket_narrows_the_density_most(ask):
    first = ask(lid()).doubt_shares[0]
    assert "loose_bulk_density" in first.input
    assert "bucket" in first.advice
    weighed = part(
        "expanded-clay", 0.060, "volume", properties=exact(loose_bulk_density=420.0)
    )
    known = ask(EstimateRequest(Mix((part("cac-40", 25.0), weighed), 11.0), FIRED))
    assert width(known.bulk_density) < 0.75 * width(ask(lid()).bulk_density)


def test_measured_density_narrows_and_centres(ask):
    plain = ask(lid())
    known = ask(lid(measured=Measured(bulk_density=1150.0)))
    assert known.bulk_density.typical == pytest.approx(1150.0, rel=0.02)
    assert width(known.bulk_density) < 0.5 * width(plain.bulk_density)
    assert width(known.thermal_conductivity[0].range) < width(plain.thermal_conductivity[0].range)
    assert known.thermal_conductivity[0].range.typical > plain.thermal_conductivity[0].range.typical


def test_measured_conductivity_moves_the_whole_curve(ask):
    known = ask(lid(measured=Measured(thermal_conductivity=0.50, thermal_conductivity_at=673.15)))
    at = {round(p.temperature - 273.15): p.range for p in known.thermal_conductivity}
    assert at[400].typical == pytest.approx(0.50, rel=0.05)
    assert at[1000].typical > ask(lid()).thermal_conductivity[-1].range.typical


def test_a_measurement_far_outside_is_told_not_refused(ask):
    answer = ask(lid(measured=Measured(bulk_density=4000.0)))
    assert "measured_outside" in {a.code for a in answer.assumptions}


def test_parts_give_yield_per_dry_mass_and_the_same_density(ask):
    by_parts = Mix(
        (part("cac-40", 25.0, "parts"), part("quartz-sand", 75.0, "parts")), 0.5,
        "ratio_to_binder", "mass",
    )
    by_mass = Mix((part("cac-40", 2.5), part("quartz-sand", 7.5)), 1.25)
    one, two = ask(EstimateRequest(by_parts, FIRED)), ask(EstimateRequest(by_mass, FIRED))
    assert one.bulk_density.typical == pytest.approx(two.bulk_density.typical)
    assert one.composition.yield_per_dry_mass
    assert one.composition.yield_.typical == pytest.approx(two.composition.yield_.typical / 10)


def test_moisture_makes_a_body_conduct_more(ask):
    """Tabulated values at normal-use moisture lie above oven-dry ones (Valore 1988, as quoted)."""
    dry = ask(EstimateRequest(lid().mix, State("dried"), at=(293.15,)))
    moist = ask(EstimateRequest(lid().mix, State("air-dry", moisture=0.08), at=(293.15,)))
    assert moist.bulk_density.typical > dry.bulk_density.typical
    k_dry, k_moist = (x.thermal_conductivity[0].range.typical for x in (dry, moist))
    assert k_moist > 1.05 * k_dry


def test_weakest_part_limits_and_leavers_do_not(ask):
    mix = Mix(
        (part("cac-40", 25.0), part("expanded-perlite", 2.0), part("polypropylene-fibre", 0.02)),
        20.0,
    )
    limit = ask(EstimateRequest(mix, FIRED)).service_limit
    assert limit.limited_by == "expanded-perlite"
    assert "polypropylene-fibre" not in limit.unknown
    assert limit.high - 273.15 < 1100


def test_insulating_concrete_lies_in_the_span_a_standard_prints(ask):
    """ASTM C332 group I: 0.065 W/(m.K) at 240 kg/m3 to 0.22 at 800, oven dry."""
    mix = Mix(
        (part("portland-cement", 1.0, "parts"), part("expanded-perlite", 6.0, "parts")), 0.8,
        "ratio_to_binder", "loose",
    )
    for density, low, high in ((320.0, 0.065, 0.15), (560.0, 0.09, 0.22)):
        answer = ask(
            EstimateRequest(
                mix, State("dried"), at=(297.15,), measured=Measured(bulk_density=density)
            )
        )
        found = answer.thermal_conductivity[0].range
        assert found.low < high
        assert found.high > low


def test_much_perlite_is_lighter_and_insulates_better_than_expanded_clay(ask):
    """Common practice, no source."""
    clay = ask(lid())
    mix = Mix((part("cac-40", 25.0), part("expanded-perlite", 0.120, "volume")), 20.0)
    perlite = ask(EstimateRequest(mix, FIRED))
    assert perlite.bulk_density.typical < clay.bulk_density.typical
    k = [x.thermal_conductivity[0].range.typical for x in (perlite, clay)]
    assert k[0] < k[1]


def test_two_statements_a_request(database, ask, statements):
    ask(lid())
    with statements(database) as counted:
        ask(lid())
    assert len(counted) <= 3


BAD = {
    "#/mix/constituents": Mix((), 1.0),
    "#/mix/constituents/0/amount": Mix((part("cac-40", 0.0),), 1.0),
    "#/mix/constituents/1/material": Mix((part("cac-40", 1.0), part("cac-40", 2.0)), 1.0),
    "#/mix/constituents/1/amount": Mix(
        (part("cac-40", 1.0), part("quartz-sand", 2.0, "parts")), 1.0
    ),
    "#/mix/water": Mix((part("cac-40", 1.0),), 0.0),
    "#/mix/parts_by": Mix((part("cac-40", 1.0, "parts"),), 0.4, "ratio_to_binder"),
    "#/mix/constituents/0/properties/porosity": Mix(
        (part("cac-40", 1.0, properties=exact(porosity=0.4)),), 1.0
    ),
    "#/mix/constituents/0/properties/loose_bulk_density": Mix(
        (part("pumice", 1.0, properties=exact(loose_bulk_density=900.0, particle_density=700.0)),),
        1.0,
    ),
    "#/mix/constituents/0/crush_factor": Mix((part("pumice", 1.0, crush_factor=1.5),), 1.0),
    "#/mix/constituents/0/pore_size": Mix(
        (part("pumice", 1.0, pore_size=Triple(0.0, 0.0, 0.0)),), 1.0
    ),
}


@pytest.mark.parametrize("pointer", BAD)
def test_what_makes_no_sense_is_refused_with_a_pointer(pointer):
    with pytest.raises(MixError) as caught:
        check(EstimateRequest(BAD[pointer], FIRED))
    assert caught.value.pointer == pointer


@pytest.mark.parametrize("amount", [-1.0, float("nan"), float("inf")])
def test_amounts_are_finite_and_positive(amount):
    with pytest.raises(MixError):
        check(EstimateRequest(Mix((part("cac-40", amount),), 1.0), FIRED))


def test_unknown_material_names_the_nearest(ask):
    with pytest.raises(MixError) as caught:
        ask(EstimateRequest(Mix((part("cac40", 1.0),), 1.0), FIRED))
    assert "cac-40" in caught.value.nearest


def test_a_hole_in_a_needed_density_is_named_and_can_be_filled(ask):
    def mix(**own):
        brick = Constituent("crushed-firebrick", 0.010, "volume", properties=exact(**own))
        return EstimateRequest(Mix((part("cac-40", 5.0), brick), 2.0), FIRED)

    with pytest.raises(MixError) as caught:
        ask(mix())
    assert caught.value.pointer.endswith("loose_bulk_density")
    assert ask(mix(loose_bulk_density=1150.0)).bulk_density.typical > 1000


def test_water_above_what_anything_holds_is_refused(ask):
    with pytest.raises(MixError, match="ten times"):
        ask(EstimateRequest(Mix((part("cac-40", 1.0), part("quartz-sand", 1.0)), 100.0), FIRED))


def test_a_wet_body_has_no_conductivity_above_boiling():
    with pytest.raises(MixError, match="boils"):
        check(EstimateRequest(lid().mix, State("fresh"), at=(473.15,)))
