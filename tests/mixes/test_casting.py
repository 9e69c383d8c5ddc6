"""What fills a mould: worked by hand, and the same mass whichever way it is counted."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hotface_api.mixes.checks import check
from hotface_api.mixes.request import EstimateRequest, Measured, Mix, MixError, Mould
from support.mixes import FIRED, exact, lid, part

LITRE = 1e-3
KNOWN = {
    "cac-40": {"true_density": 3000.0, "bound_water": 0.2, "loose_bulk_density": 1250.0},
    "quartz-sand": {
        "true_density": 2650.0,
        "particle_density": 2640.0,
        "loose_bulk_density": 1500.0,
        "water_absorption": 1e-6,
    },
}


def known(material, amount, kind="mass", **more):
    return part(material, amount, kind, properties=exact(**KNOWN[material]), **more)


def middle(mix, mould, ask):
    return ask(EstimateRequest(mix, FIRED, mould=mould)).casting


def test_batches_by_hand(ask):
    """10 kg of cement, 30 kg of sand and 5 kg of water, with 3 % of air, in a 20 L mould."""
    mix = Mix((known("cac-40", 10.0), known("quartz-sand", 30.0)), 5.0)
    fresh = (10 / 3000 + 30 / 2640 + 5 / 998.2) / 0.97
    found = middle(mix, Mould(20 * LITRE, 0.1), ask)
    batches = 20 * LITRE * 1.1 / fresh
    assert found.batches.typical == pytest.approx(batches, rel=0.005)
    cement, sand = found.constituents
    assert cement.dry_mass.typical == pytest.approx(10 * batches, rel=0.005)
    assert sand.dry_mass.typical == pytest.approx(30 * batches, rel=0.005)
    assert found.water.typical == pytest.approx(5 * batches, rel=0.005)
    assert found.piece["fresh"].typical == pytest.approx(45 / fresh * 20 * LITRE, rel=0.005)
    assert found.piece["dried"].typical == pytest.approx(42 / fresh * 20 * LITRE, rel=0.005)
    assert found.one_part is None


def test_amounts_come_in_the_measure_given(ask):
    mix = Mix((known("cac-40", 10.0), known("quartz-sand", 0.020, "volume")), 5.0)
    cement, sand = middle(mix, Mould(20 * LITRE), ask).constituents
    assert (cement.amount_kind, cement.measured_as) == ("mass", None)
    assert (sand.amount_kind, sand.measured_as) == ("volume", "loose")
    assert cement.amount == cement.dry_mass
    assert sand.dry_mass.typical == pytest.approx(1500.0 * sand.amount.typical, rel=1e-9)


@pytest.mark.parametrize(
    ("by", "kind", "measured"),
    [("mass", "mass", None), ("loose", "volume", "loose"), ("absolute", "volume", "absolute")],
)
def test_parts_tell_how_big_one_part_is(ask, by, kind, measured):
    parts = (known("cac-40", 1.0, "parts"), known("quartz-sand", 3.0, "parts"))
    mix = Mix(parts, 0.5, "ratio_to_binder", by)
    found = middle(mix, Mould(20 * LITRE), ask)
    cement, sand = found.constituents
    assert found.batches is None
    assert (sand.amount_kind, sand.measured_as) == (kind, measured)
    assert cement.amount.typical == pytest.approx(found.one_part.typical)
    assert sand.amount.typical == pytest.approx(3 * found.one_part.typical)
    ratio = {"mass": 1.0, "loose": 1250.0, "absolute": 3000.0}[by]
    assert cement.dry_mass.typical == pytest.approx(ratio * cement.amount.typical, rel=1e-9)
    assert found.water.typical == pytest.approx(0.5 * cement.dry_mass.typical, rel=1e-9)


def test_parts_and_masses_cast_the_same(ask):
    parts = Mix(
        (known("cac-40", 1.0, "parts"), known("quartz-sand", 3.0, "parts")),
        0.5,
        "ratio_to_binder",
        "mass",
    )
    masses = Mix((known("cac-40", 7.0), known("quartz-sand", 21.0)), 3.5)
    one, two = (middle(mix, Mould(20 * LITRE), ask) for mix in (parts, masses))
    for left, right in zip(one.constituents, two.constituents, strict=True):
        assert left.dry_mass.low == pytest.approx(right.dry_mass.low, rel=1e-9)
        assert left.dry_mass.high == pytest.approx(right.dry_mass.high, rel=1e-9)
    assert one.piece["fired"].typical == pytest.approx(two.piece["fired"].typical, rel=1e-9)


def test_the_intervals_come_from_the_same_draws(ask):
    """What fills a mould with certainty is what the least yield needs."""
    answer = ask(lid(mould=Mould(0.010, 0.0)))
    yields, batches = answer.composition.yield_, answer.casting.batches
    assert batches.low == pytest.approx(0.010 / yields.high, rel=1e-3)
    assert batches.high == pytest.approx(0.010 / yields.low, rel=1e-3)
    dried = answer.casting.piece["fresh"]
    assert dried.typical == pytest.approx(0.010 * answer.densities["fresh"].typical, rel=1e-9)


def test_a_measured_mould_tells_better_how_much_to_mix(ask):
    mould = Mould(0.010)
    plain = ask(lid(mould=mould))
    fresh = 1.05 * plain.densities["fresh"].typical
    known_ = ask(lid(mould=mould, measured=Measured(densities={"fresh": fresh})))
    clay = [answer.casting.constituents[1].dry_mass for answer in (plain, known_)]
    assert math.log(clay[1].high / clay[1].low) < math.log(clay[0].high / clay[0].low)


def test_nothing_is_told_without_a_mould(ask):
    assert ask(lid()).casting is None


def test_dry_masses_stand_in_the_composition(ask):
    cement, clay = ask(lid()).composition.constituents
    assert (cement.dry_mass.low, cement.dry_mass.high) == (25.0, 25.0)
    assert 60 * 0.2 < clay.dry_mass.typical < 60 * 0.8
    parts = Mix(
        (part("cac-40", 1.0, "parts"), part("quartz-sand", 3.0, "parts")),
        0.5,
        "ratio_to_binder",
        "mass",
    )
    found = ask(EstimateRequest(parts, FIRED)).composition.constituents
    assert [share.dry_mass for share in found] == [None, None]


@settings(
    database=None,
    deadline=None,
    max_examples=15,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.floats(1e-4, 5.0), st.floats(0.0, 1.0), st.floats(0.05, 0.3))
def test_what_is_mixed_is_what_is_cast(ask, volume, spare, damp):
    """Dry mass, poured water and the water of damp sand make up the mould and its spare."""
    sand = known("quartz-sand", 30.0, moisture=damp)
    mix = Mix((known("cac-40", 10.0), sand), 5.0)
    request = EstimateRequest(mix, FIRED, mould=Mould(volume, spare), draws=100)
    found = ask(request).casting
    cement, grains = found.constituents
    assert grains.amount.typical == pytest.approx((1 + damp) * grains.dry_mass.typical)
    mixed = cement.amount.typical + grains.amount.typical + found.water.typical
    assert mixed == pytest.approx(found.piece["fresh"].typical * (1 + spare), rel=1e-9)


BAD = {
    "#/mould/volume": Mould(0.0),
    "#/mould/spare": Mould(0.01, 1.5),
    "#/mould/thickness": Mould(0.01, 0.1, -0.05),
}


@pytest.mark.parametrize("pointer", BAD)
def test_a_mould_without_sense_is_refused(pointer):
    with pytest.raises(MixError) as caught:
        check(lid(mould=BAD[pointer]))
    assert caught.value.pointer == pointer


@pytest.mark.parametrize("volume", [math.nan, math.inf, 1e6])
def test_a_mould_has_a_size(volume):
    with pytest.raises(MixError) as caught:
        check(lid(mould=Mould(volume)))
    assert caught.value.pointer == "#/mould/volume"
