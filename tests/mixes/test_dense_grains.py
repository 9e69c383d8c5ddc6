"""Grains dense by kind are taken as nearly pore-free, and say so; all others still ask."""

from __future__ import annotations

import numpy as np
import pytest

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.candidates import OnHand
from hotface_api.mixes.dense import NEARLY_PORE_FREE
from hotface_api.mixes.grains import draw_grains
from hotface_api.mixes.held import Wanted, prepare
from hotface_api.mixes.inputs import gather
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.request import Constituent, EstimateRequest, Measured, Mix, MixError, Triple
from hotface_api.mixes.search import Musts, SearchRequest, search
from support.mixes import DRIED, FIRED, codes, exact, part, width

TAKEN = "grain_taken_nearly_pore_free"
GRAIN = "#/mix/constituents/1/properties"
TAKEN_SO = {
    "fused-alumina": "melted and crushed",
    "fused-alumina-sub-white": "melted and crushed",
    "fused-silica": "solid silica glass",
    "kyanite": "a natural crystal",
    "magnesia": "melted, or burnt dense",
    "silicon-carbide": "a synthetic crystal",
    "sillimanite": "a natural crystal",
    "spinel": "a synthetic crystal",
    "wollastonite": "a natural crystal",
    "zirconia": "a crystal, natural or melted",
}
NOT_TAKEN = {
    "dolomite": "a rock may hold pores",
    "sandstone": "a rock of sand grains with gaps between them",
    "quartzitic-stone": "held together with sandstone, 1920 to 2560 kg/m3",
    "calcium-aluminate-aggregate": "a clinker; nothing tells its pores",
    "glass-microspheres": "hollow, though the glass is dense",
}
"""Aggregates of which a pore-free density is held, and neither grain nor heap: still refused."""
LIGHT_WORDS = ("porous", "foam", "hollow", "light", "expanded", "bloated", "exfoliated", "pumice")
HELD_PAIRS = ("andalusite", "olivine", "zircon", "fused-alumina-brown", "mullite-fused")


def mix(grain, **more):
    return Mix((part("cac-70", 20.0), part(grain, 80.0, **more)), 10.0)


def fired(grain, **more):
    return EstimateRequest(mix(grain, **more), FIRED)


@pytest.fixture
def held(database, reference):
    """What is held of every aggregate."""
    names = [name for name, row in reference.materials.items() if row["kind"] == "aggregate"]
    wanted = [Wanted(name, "poured", (293.15,)) for name in names]
    with database.read() as connection:
        found = prepare(connection, reference, wanted)
    return {each.material: found[each] for each in wanted}


def test_the_list_and_its_reasons_are_these():
    assert dict(NEARLY_PORE_FREE) == TAKEN_SO


def test_of_every_aggregate_only_those_listed_are_taken_so(held):
    taken = {name for name, found in held.items() if "grain_porosity" in found.triples}
    assert taken == set(TAKEN_SO)


def test_aggregates_of_known_solid_that_are_left_out_are_these(held):
    left = {
        name
        for name, found in held.items()
        if not {"particle_density", "loose_bulk_density", "grain_porosity"} & set(found.triples)
        and "solid_density_assumed" not in {n.code for n in found.notes.get("true_density", ())}
    }
    assert left == set(NOT_TAKEN)


@pytest.mark.parametrize("name", TAKEN_SO)
def test_nothing_held_of_a_grain_taken_so_tells_of_lightness(reference, name):
    row = reference.materials[name]
    assert not [word for word in LIGHT_WORDS if word in row["description"].lower()]
    assert row["kind"] == "aggregate"
    assert row["family"] in (None, "fused-alumina")


def test_the_share_of_pores_is_that_of_held_pairs_of_like_grains(held):
    """Judged against what the seed holds: particle and pore-free density of like grains."""
    for name in HELD_PAIRS:
        found = held[name].triples
        pores = 1 - found["particle_density"].typical / found["true_density"].typical
        assert -0.01 < pores < take.DENSE_GRAIN_PORES.high, name


@pytest.mark.parametrize("name", TAKEN_SO)
def test_a_mix_by_mass_is_answered_and_tells_what_is_taken(ask, name):
    answer = ask(fired(name))
    told = [note.text for note in answer.assumptions if note.code == TAKEN]
    assert len(told) == 1
    assert TAKEN_SO[name] in told[0]
    assert "0.5 to 10 %" in told[0]
    assert "our judgement, no source" in told[0]


@pytest.mark.parametrize("name", TAKEN_SO)
def test_no_grain_drawn_is_denser_than_its_solid(database, reference, name):
    with database.read() as connection:
        gathered = gather(connection, reference, fired(name))
    grains = draw_grains(gathered.parts[1], Latent(3, 2000))
    pores = 1 - grains.particle / grains.true
    assert np.all((pores > 0) & (pores < 0.2001))
    low, middle, high = np.quantile(pores, [0.05, 0.5, 0.95])
    asked = take.DENSE_GRAIN_PORES
    assert [low, middle, high] == pytest.approx([asked.low, asked.typical, asked.high], rel=0.15)
    assert np.all(grains.loose < grains.particle)


@pytest.mark.parametrize("name", NOT_TAKEN)
def test_other_grains_of_known_solid_are_refused_as_before(ask, name):
    with pytest.raises(MixError, match=f"no particle density of {name} is held") as caught:
        ask(fired(name))
    assert caught.value.pointer == f"{GRAIN}/particle_density"


@pytest.mark.parametrize(
    "name", ["expanded-perlite", "pumice", "expanded-clay", "exfoliated-vermiculite", "granite"]
)
def test_grains_whose_heap_or_grain_is_held_are_not_taken_so(ask, name):
    assert TAKEN not in codes(ask(fired(name)))


def test_an_own_material_of_known_solid_alone_is_not_taken_dense(ask):
    with pytest.raises(MixError, match="no particle density of grit is held"):
        ask(fired("grit", kind="aggregate", properties=exact(true_density=3200.0)))


def test_a_grain_like_a_dense_one_is_taken_dense(ask):
    like = ask(fired("club-grit", like="silicon-carbide"))
    assert {TAKEN, "like"} <= codes(like)


@pytest.mark.parametrize("name", ["silicon-carbide", "zirconia"])
def test_the_interval_carries_what_is_taken_and_an_own_figure_wins(ask, name):
    taken = ask(fired(name))
    middle = taken.bulk_density.typical
    grain = {"silicon-carbide": 3070.0, "zirconia": 5510.0}[name]
    own = ask(fired(name, properties=exact(particle_density=grain)))
    assert TAKEN not in codes(own)
    assert width(taken.bulk_density) > 1.05 * width(own.bulk_density)
    assert own.bulk_density.typical == pytest.approx(middle, rel=0.03)
    assert own.narrowed_by["bulk_density"] > 0.05
    lighter = ask(fired(name, properties=exact(particle_density=0.8 * grain)))
    assert lighter.bulk_density.typical < 0.95 * middle
    blamed = {d.input: d.advice for d in taken.doubt_shares if d.output == "bulk_density"}
    assert "soaked weight" in blamed[f"{name} grain_porosity"]


def test_an_own_solid_density_carries_its_grain_and_a_slip_is_refused(ask):
    plain, own = ask(fired("spinel")), ask(fired("spinel", properties=exact(true_density=3450.0)))
    assert TAKEN in codes(own)
    assert own.bulk_density.typical < plain.bulk_density.typical
    for slip in (345.0, 34500.0 / 5):
        with pytest.raises(MixError, match="what the pore-free solid of spinel") as caught:
            ask(fired("spinel", properties=exact(true_density=slip)))
        assert caught.value.pointer == f"{GRAIN}/true_density"


def test_flour_of_a_dense_grain_is_a_powder_without_pores(ask):
    flour = ask(fired("silicon-carbide", grain_size=Triple(1e-6, 2e-5, 5e-5)))
    assert TAKEN not in codes(flour)


def test_absolute_volume_needs_no_heap(ask):
    parts = (part("cac-70", 20.0), part("zirconia", 0.015, "volume", measured_as="absolute"))
    answer = ask(EstimateRequest(Mix(parts, 10.0), DRIED))
    assert TAKEN in codes(answer)
    mass = answer.composition.constituents[1].dry_mass
    assert 0.015 * 5000 < mass.low < mass.typical < mass.high < 0.015 * 5900


def test_a_bucket_has_to_be_weighed_and_tells_the_heap_not_the_grain(ask):
    bucket = Mix((part("cac-70", 20.0), part("silicon-carbide", 0.03, "volume")), 10.0)
    with pytest.raises(MixError, match="weigh one bucket of it, or give your own") as caught:
        ask(EstimateRequest(bucket, FIRED))
    assert caught.value.pointer == f"{GRAIN}/loose_bulk_density"
    weighed = part("silicon-carbide", 0.03, "volume", bucket=(16.0, 0.010))
    answer = ask(EstimateRequest(Mix((bucket.constituents[0], weighed), 10.0), FIRED))
    assert TAKEN in codes(answer)
    assert answer.composition.constituents[1].dry_mass.typical == pytest.approx(48.0, rel=0.01)
    by_mass = Mix((bucket.constituents[0], part("silicon-carbide", 48.0)), 10.0)
    same = ask(EstimateRequest(by_mass, FIRED))
    assert answer.bulk_density.typical == pytest.approx(same.bulk_density.typical, rel=0.02)


def test_a_heap_weighed_beside_a_mass_tells_only_how_the_grains_pack(ask):
    """Its wide void share leaves gaps the paste does not fill; the grain itself stays the same."""
    plain = ask(fired("silicon-carbide"))
    beside = ask(fired("silicon-carbide", bucket=(16.0, 0.010)))
    assert TAKEN in codes(beside)
    shares = [answer.composition.constituents[1].dry_mass for answer in (plain, beside)]
    assert shares[0] == shares[1]
    assert 0.97 < beside.bulk_density.typical / plain.bulk_density.typical < 1.0


def test_grains_of_a_heap_that_packs_beyond_belief_are_as_dense_as_it_packs(ask):
    answer = ask(fired("silicon-carbide", bucket=(24.5, 0.010)))
    assert TAKEN in codes(answer)
    assert answer.bulk_density.low > 0


def test_a_measured_density_moves_the_pores_taken(ask):
    plain = ask(EstimateRequest(mix("silicon-carbide"), FIRED))
    low, high = plain.bulk_density.low, plain.bulk_density.high
    heavy = EstimateRequest(mix("silicon-carbide"), FIRED, measured=Measured(bulk_density=high))
    known = ask(heavy)
    assert width(known.bulk_density) < width(plain.bulk_density)
    assert known.bulk_density.typical > plain.bulk_density.typical > low


def _search(shares_by, material="silicon-carbide", **more):
    on_hand = (
        OnHand(Constituent("cac-70", 1.0, "parts"), 0.15, 0.4),
        OnHand(Constituent(material, 1.0, "parts", **more), 0.3, 0.85),
        OnHand(Constituent("expanded-clay", 1.0, "parts"), 0.0, 0.3),
    )
    return SearchRequest(
        on_hand, shares_by, Musts(), state=FIRED, candidates=400, results=3, wishes=("density",)
    )


def test_a_search_takes_the_same_and_returns_the_single_estimates(database, reference, ask):
    with database.read() as connection:
        found = search(connection, reference, _search("mass"))
    assert found.found
    for each in found.found:
        assert TAKEN in codes(each.estimate)
        assert ask(each.request).bulk_density == each.estimate.bulk_density


@pytest.mark.parametrize(
    ("shares_by", "material", "missing"),
    [
        ("loose", "silicon-carbide", "loose_bulk_density"),
        ("mass", "sandstone", "particle_density"),
    ],
)
def test_a_search_refuses_what_an_estimate_does(database, reference, shares_by, material, missing):
    with database.read() as connection, pytest.raises(MixError) as caught:
        search(connection, reference, _search(shares_by, material))
    assert caught.value.pointer == f"#/on_hand/1/properties/{missing}"
