"""One mix worked by hand; the same steps stand in docs/understand/estimate.md."""

from __future__ import annotations

import pytest
from support.mixes import exact, part

from hotface_api.mixes.request import EstimateRequest, Mix, State

CEMENT = 25.0
BUCKETS = 0.060
WATER = 11.0
OWN_CEMENT = {"true_density": 3050.0, "bound_water": 0.20}
OWN_CLAY = {
    "loose_bulk_density": 400.0, "particle_density": 700.0, "true_density": 2550.0,
    "loss_on_ignition": 0.0,
}


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
    clay_mass = BUCKETS * 400.0  # 24 kg
    shares = {share.material: share for share in answer.composition.constituents}
    assert shares["expanded-clay"].mass_fraction == pytest.approx(clay_mass / (clay_mass + CEMENT))


def test_yield_and_densities(answer):
    # Absolute volumes: cement 25/3050 = 8.197 L, grains 24/700 = 34.286 L.
    solids = 25 / 3050 + 24 / 700
    # Grains hold 24 x (1/700 - 1/2550) = 24.87 L of pores; a tenth of them, 2.49 L, takes up water.
    soaked = 0.10 * 24 * (1 / 700 - 1 / 2550)
    # Free water 11/998.2 - 2.49 L = 8.53 L; air 3 % of the fresh volume.
    fresh_volume = (solids + WATER / 998.2 - soaked) / 0.97
    assert answer.composition.yield_.typical == pytest.approx(fresh_volume, rel=0.02)
    fresh = (25 + 24 + 11) / fresh_volume
    assert answer.densities["fresh"].typical == pytest.approx(fresh, rel=0.02)
    # Dried: solids and 0.20 x 25 = 5 kg of bound water, in the same volume but for 0.1 % shrinkage.
    dried = (25 + 24 + 5) / (fresh_volume * 0.999**3)
    assert answer.densities["dried"].typical == pytest.approx(dried, rel=0.02)
    # Fired: the bound water is gone; 0.4 % firing shrinkage.
    fired = (25 + 24) / (fresh_volume * 0.999**3 * 0.996**3)
    assert answer.densities["fired"].typical == pytest.approx(fired, rel=0.02)


def test_porosity_follows_from_density(answer):
    # Dried solids: cement 25/3050, skeleton of the grains 24/2550, bound water 5 kg at 15 cm3/mol.
    solid = 25 / 3050 + 24 / 2550 + 5 * 15e-6 / 0.018015
    volume = (25 + 24 + 5) / answer.densities["dried"].typical
    assert answer.composition.porosity.typical == pytest.approx(1 - solid / volume, abs=0.02)
