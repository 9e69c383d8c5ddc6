"""One mix worked by hand; the same steps stand in docs/understand/estimate.md."""

from __future__ import annotations

import pytest

from hotface_api.mixes.request import EstimateRequest, Mix, State
from support.mixes import exact, part

CEMENT = 25.0
BUCKETS = 0.045
WATER = 11.0
OWN_CEMENT = {"true_density": 3050.0, "bound_water": 0.20}
OWN_CLAY = {
    "loose_bulk_density": 400.0,
    "particle_density": 700.0,
    "true_density": 2550.0,
    "loss_on_ignition": 0.0,
    "water_absorption": 0.10,
}
CEMENT_VOLUME = 25 / 3050  # 8.197 L
CLAY = 0.045 * 400.0  # 18 kg
CLAY_VOLUME = 18 / 700  # 25.714 L
SOAKED = 0.75 * 0.10 * 18  # 1.35 kg: three quarters of what it absorbs, before the set
FREE = 11 - SOAKED  # 9.65 kg
FRESH_VOLUME = (CEMENT_VOLUME + CLAY_VOLUME + FREE / 998.2) / 0.97  # 44.93 L with 3 % air
PASTE_SHARE = (CEMENT_VOLUME + 11 / 998.2) / (CEMENT_VOLUME + 11 / 998.2 + CLAY_VOLUME)  # 0.428
DRYING = 0.001 * PASTE_SHARE**2  # a paste alone shrinks by 0.1 %, the grains hold it back
FIRING = 0.004 * PASTE_SHARE**2


@pytest.fixture
def answer(ask):
    mix = Mix(
        (
            part("cac-40", CEMENT, properties=exact(**OWN_CEMENT)),
            part("expanded-clay", BUCKETS, "volume", properties=exact(**OWN_CLAY)),
        ),
        WATER,
    )
    return ask(EstimateRequest(mix, State("dried", 383.15)))


def test_bucket_becomes_mass(answer):
    shares = {share.material: share for share in answer.composition.constituents}
    assert shares["expanded-clay"].mass_fraction == pytest.approx(CLAY / (CLAY + CEMENT))


def test_yield(answer):
    assert answer.composition.yield_.typical == pytest.approx(FRESH_VOLUME, rel=0.005)


def test_grains_have_room_and_paste_fills_their_gaps(answer):
    """Grains packed 1.12 times denser than poured take 25.7 / (0.571 x 1.12) = 40.2 L at least."""
    assert CLAY_VOLUME / (400 / 700 * 1.12) < FRESH_VOLUME
    assert "paste_short" not in {note.code for note in answer.assumptions}


def test_densities(answer):
    fresh = (25 + 18 + 11) / FRESH_VOLUME  # 1202 kg/m3
    assert answer.densities["fresh"].typical == pytest.approx(fresh, rel=0.005)
    # Dried: solids and 0.20 x 25 = 5 kg of bound water, in the same volume but for its shrinkage.
    dried_volume = FRESH_VOLUME * (1 - DRYING) ** 3
    dried = (25 + 18 + 5) / dried_volume  # 1069 kg/m3
    assert answer.densities["dried"].typical == pytest.approx(dried, rel=0.005)
    # Fired: the bound water is gone.
    fired = (25 + 18) / (dried_volume * (1 - FIRING) ** 3)  # 960 kg/m3
    assert answer.densities["fired"].typical == pytest.approx(fired, rel=0.005)


def test_porosity_follows_from_density(answer):
    # Dried solids: cement 25/3050, skeleton of the grains 18/2550, bound water 5 kg at 15 cm3/mol.
    solid = 25 / 3050 + 18 / 2550 + 5 * 15e-6 / 0.018015
    porosity = 1 - solid / (FRESH_VOLUME * (1 - DRYING) ** 3)  # 0.568
    assert answer.composition.porosity.typical == pytest.approx(porosity, abs=0.01)


def test_pack_factor_is_yield_over_buckets(ask):
    """JOB.md step 7: below one where the fines fill the gaps of the grains."""
    parts = (
        part("cac-40", 0.020, "volume", properties=exact(loose_bulk_density=1250.0, **OWN_CEMENT)),
        part("expanded-clay", BUCKETS, "volume", properties=exact(**OWN_CLAY)),
    )
    answer = ask(EstimateRequest(Mix(parts, WATER), State("dried", 383.15)))
    assert answer.composition.pack_factor.typical == pytest.approx(FRESH_VOLUME / 0.065, rel=0.01)
    assert answer.composition.pack_factor.typical < 1
