"""Whom a part meets, and which edge of the limit stays open."""

from __future__ import annotations

import pytest

from hotface_api.mixes.inputs import gather
from hotface_api.mixes.request import EstimateRequest, Mix
from hotface_api.mixes.service import partner_of, partners
from support.mixes import FIRED, exact, lid, part


def test_partners_need_no_densities(reference):
    mix = Mix(
        (
            part("cac-40", 25.0),
            part("crushed-firebrick", 0.010, "volume"),
            part("expanded-clay", 0.060, "volume"),
            part("unheard-of", 1.0),
        ),
        10.0,
    )
    assert dict(partners(reference, mix)) == {
        "cac-40": "expanded-clay",
        "crushed-firebrick": "cac-40",
        "expanded-clay": "cac-40",
    }


def test_a_lone_binder_meets_nobody(reference):
    assert partners(reference, Mix((part("cac-40", 1.0),), 0.5)) == [("cac-40", None)]


def test_the_partner_of_a_gathered_part(database, reference):
    with database.read() as connection:
        gathered = gather(connection, reference, lid())
    cement, clay = gathered.parts
    assert partner_of(cement, gathered) == "expanded-clay"
    assert partner_of(clay, gathered) == "cac-40"


def test_a_part_of_no_held_limit_leaves_the_low_edge_open(ask):
    own = exact(true_density=2600.0)
    mix = Mix((*lid().mix.constituents, part("wood-ash", 2.0, properties=own)), 11.0)
    limit = ask(EstimateRequest(mix, FIRED)).service_limit
    assert "wood-ash" in limit.unknown
    assert limit.low is None
    assert limit.high == pytest.approx(ask(lid()).service_limit.high)
    assert "wood-ash" in limit.reason
