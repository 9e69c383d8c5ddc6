"""The estimate as a whole: seeded, ordered, bounded, and right where a mix is simple."""

from __future__ import annotations

import pytest

from hotface_api.mixes import held, nearest, service
from hotface_api.mixes.request import EstimateRequest, Mix, State, Triple
from support.mixes import FIRED, codes, collar, exact, lid, part, width


def test_same_seed_same_answer_other_seed_other(ask):
    one, two, other = ask(lid(seed=7)), ask(lid(seed=7)), ask(lid(seed=8))
    assert one == two
    assert one.bulk_density != other.bulk_density


def test_adding_a_constituent_leaves_the_draws_of_the_others(ask):
    """Named streams: a part too small to matter changes the answer by as little."""
    plain = ask(lid())
    grown = ask(
        EstimateRequest(Mix((*lid().mix.constituents, part("quartz-sand", 1e-6)), 11.0), FIRED)
    )
    assert grown.bulk_density.low == pytest.approx(plain.bulk_density.low, rel=1e-4)
    k, more = plain.thermal_conductivity[0].range, grown.thermal_conductivity[0].range
    assert more.typical == pytest.approx(k.typical, rel=1e-3)


@pytest.mark.parametrize("request_", [lid(), collar()], ids=["lid", "collar"])
def test_bounds_hold_the_estimate(ask, request_):
    for point in ask(request_).thermal_conductivity:
        assert point.series_bound < point.lower_bound < point.range.low
        assert point.range.high < point.upper_bound < point.parallel_bound


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


@pytest.mark.parametrize("kind", ["fresh", "demoulded", "air-dry", "dried", "fired"])
def test_the_fired_density_is_told_in_every_state(ask, kind):
    state = State(kind, 1273.15 if kind == "fired" else None)
    found = ask(lid(state=state)).densities["fired"]
    assert found.typical == pytest.approx(ask(lid()).densities["fired"].typical, rel=1e-9)


def test_a_cool_firing_leaves_bound_water(ask):
    """A supplier's dry-out sheet: a quarter is still there at 427 Cel, none at 621."""
    cool = ask(lid(state=State("fired", 700.15)))
    hot, dried = ask(lid()).densities["fired"], ask(lid()).densities["dried"]
    assert hot.typical < cool.bulk_density.typical < dried.typical
    assert "partly_dehydrated" in codes(cool)
    assert "partly_dehydrated" not in codes(ask(lid()))


def test_weighing_a_bucket_narrows_the_density_most(ask):
    plain = ask(lid())
    density = [doubt for doubt in plain.doubt_shares if doubt.output == "bulk_density"]
    assert "loose_bulk_density" in density[0].input
    assert "bucket" in density[0].advice
    weighed = part("expanded-clay", 0.060, "volume", bucket=(4.2, 0.010))
    known = ask(EstimateRequest(Mix((part("cac-40", 25.0), weighed), 11.0), FIRED))
    assert width(known.bulk_density) < 0.75 * width(plain.bulk_density)


def test_a_bucket_is_a_loose_density_of_ones_own(ask):
    def density(**own):
        clay = part("expanded-clay", 0.060, "volume", **own)
        return ask(EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED)).bulk_density

    bucket = density(bucket=(4.2, 0.010))
    own = density(properties=exact(loose_bulk_density=420.0))
    assert bucket.typical == pytest.approx(own.typical, rel=0.01)


@pytest.mark.parametrize("fill", ["shaken", "compacted"])
def test_a_packed_bucket_holds_more(ask, fill):
    def mass(how):
        clay = part("expanded-clay", 0.060, "volume", fill=how)
        answer = ask(EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED))
        return answer.composition.constituents[1].mass_fraction, answer

    packed, answer = mass(fill)
    assert packed > mass("poured")[0]
    assert packed > mass(None)[0]
    assert "fill_scaled" in codes(answer) or answer.citations


def test_parts_give_yield_per_dry_mass_and_the_same_density(ask):
    by_parts = Mix(
        (part("cac-40", 25.0, "parts"), part("quartz-sand", 75.0, "parts")),
        0.5,
        "ratio_to_binder",
        "mass",
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
    assert moist.bulk_density.typical == pytest.approx(1.08 * dry.bulk_density.typical)
    k_dry, k_moist = (x.thermal_conductivity[0].range.typical for x in (dry, moist))
    assert k_moist > 1.05 * k_dry


def test_moisture_is_gone_above_boiling(ask):
    hot = 473.15
    dry = ask(EstimateRequest(lid().mix, State("dried"), at=(hot,)))
    moist = ask(EstimateRequest(lid().mix, State("air-dry", moisture=0.08), at=(hot,)))
    k_dry, k_moist = (x.thermal_conductivity[0].range.typical for x in (dry, moist))
    assert k_moist == pytest.approx(k_dry)
    assert "moisture_gone" in codes(moist)


def test_a_fresh_mix_conducts_better_than_the_dried_piece(ask):
    at = (293.15,)
    fresh = ask(EstimateRequest(lid().mix, State("fresh"), at=at)).thermal_conductivity[0]
    dried = ask(EstimateRequest(lid().mix, State("dried"), at=at)).thermal_conductivity[0]
    assert fresh.range.typical > 1.5 * dried.range.typical


def test_a_pore_former_leaves_its_room_as_pores(ask):
    beads = part("polystyrene-bead", 0.020, "volume")
    mix = Mix((*lid().mix.constituents, beads), 11.0)
    dried, fired = ask(EstimateRequest(mix, State("dried"))), ask(EstimateRequest(mix, FIRED))
    plain = ask(lid())
    assert fired.composition.porosity.typical > plain.composition.porosity.typical
    assert fired.bulk_density.typical < dried.bulk_density.typical
    assert fired.thermal_conductivity[0].range.typical < plain.thermal_conductivity[0].range.typical
    assert "polystyrene-bead" not in fired.service_limit.unknown


def test_a_few_steel_fibres_change_little(ask):
    """A per cent by mass is a third of a per cent by volume; grains of steel, not a steel host."""
    mix = Mix((*lid().mix.constituents, part("stainless-steel-fibre", 0.5)), 11.0)
    with_, without = ask(EstimateRequest(mix, FIRED)), ask(lid())
    k = [x.thermal_conductivity[0].range for x in (with_, without)]
    assert 1.0 < k[0].typical / k[1].typical < 1.1
    assert width(k[0]) < 1.1 * width(k[1])


def test_weakest_part_limits_and_leavers_do_not(ask):
    mix = Mix(
        (part("cac-40", 25.0), part("expanded-perlite", 2.0), part("polypropylene-fibre", 0.02)),
        20.0,
    )
    limit = ask(EstimateRequest(mix, FIRED)).service_limit
    assert limit.limited_by == "expanded-perlite"
    assert "polypropylene-fibre" not in limit.unknown
    assert limit.high - 273.15 < 1100


def test_a_temperature_above_the_limit_is_answered_and_told(ask):
    mix = Mix((part("cac-40", 25.0), part("expanded-perlite", 2.0)), 20.0)
    answer = ask(EstimateRequest(mix, FIRED, at=(1473.15,)))
    assert answer.thermal_conductivity[0].range.typical > 0
    assert "above_limit" in codes(answer)
    assert "hotter_than_fired" in codes(answer)


def test_an_own_material_from_its_bag_sheet(ask):
    sheet = exact(loose_bulk_density=500.0, particle_density=850.0, thermal_conductivity=0.18)
    own = part("bag-of-light-grog", 0.060, "volume", kind="aggregate", properties=sheet)
    answer = ask(EstimateRequest(Mix((part("cac-40", 25.0), own), 11.0), FIRED))
    assert answer.bulk_density.typical > ask(lid()).bulk_density.typical
    assert "own_solid_assumed" in codes(answer)
    assert "bag-of-light-grog" in answer.service_limit.unknown


def test_an_own_material_like_a_held_one_takes_the_rest_from_it(ask):
    own = part(
        "club-clay", 0.060, "volume", like="expanded-clay", properties=exact(loose_bulk_density=420)
    )
    answer = ask(EstimateRequest(Mix((part("cac-40", 25.0), own), 11.0), FIRED))
    assert "like" in codes(answer)
    assert answer.specific_heat_capacity is not None
    assert answer.service_limit.high == ask(lid()).service_limit.high


def test_fine_grains_are_part_of_the_paste(ask):
    fine = Triple(1e-6, 1e-5, 5e-5)
    mix = Mix((part("mullite", 10.0, grain_size=fine),), 4.0)
    answer = ask(EstimateRequest(mix, State("fired", 1573.15)))
    assert 1000 < answer.bulk_density.typical < 2500


def test_a_held_absorption_is_used(ask):
    def fresh(absorption):
        clay = part("expanded-clay", 0.045, "volume", properties=exact(water_absorption=absorption))
        return ask(EstimateRequest(Mix((part("cac-40", 25.0), clay), 11.0), FIRED))

    dry, thirsty = fresh(0.0), fresh(0.25)
    assert thirsty.composition.yield_.typical < dry.composition.yield_.typical


def test_no_statement_for_what_is_kept(database, ask, statements):
    held.forget()
    service.forget()
    nearest.forget()
    with statements(database) as counted:
        ask(lid())
    assert len(counted) <= 6
    with statements(database) as counted:
        ask(lid())
    assert len(counted) == 0


def test_a_crushed_body_has_grains_of_its_own_density(ask):
    brick = part("clay-brick", 20.0)
    answer = ask(EstimateRequest(Mix((part("cac-40", 10.0), brick), 6.0), FIRED))
    assert "grain_like_body" in codes(answer)
    assert 1300 < answer.bulk_density.typical < 2400


def test_how_parts_were_measured_is_told(ask):
    """Fill, moisture and crush of light grains are inputs; what is taken without them is said."""
    plain = ask(collar())
    assert {"poured_taken", "crush_taken", "taken_dry"} <= codes(plain)
    told = {note.code: note.text for note in plain.assumptions}
    assert "expanded-perlite" in told["crush_taken"]
    assert "expanded-clay" not in told["crush_taken"]
    perlite = part("expanded-perlite", 0.040, "volume", fill="poured", crush_factor=0.8)
    stated = ask(EstimateRequest(Mix((part("cac-40", 25.0), perlite), 14.0), FIRED))
    assert not {"poured_taken", "crush_taken"} & codes(stated)


def test_damp_grains_weigh_what_they_hold(ask):
    """A tenth of water in weighed sand: a tenth less dry sand, and its water in the mix."""

    def mix(kilograms, water, **more):
        sand = part("quartz-sand", kilograms, **more)
        return EstimateRequest(Mix((part("cac-40", 10.0), sand), water), FIRED)

    damp, dry = ask(mix(33.0, 2.0, moisture=0.1)), ask(mix(30.0, 5.0))
    assert damp.bulk_density.low == pytest.approx(dry.bulk_density.low, rel=1e-9)
    assert damp.bulk_density.high == pytest.approx(dry.bulk_density.high, rel=1e-9)
    assert damp.composition.water.typical == pytest.approx(5.0)
    assert damp.composition.constituents[1].dry_mass.typical == pytest.approx(30.0)
