"""Mass and room are conserved to rounding at every step, whatever the mix."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface_api.mixes.draws import STATE_INDEX, bound_left, draw_batch
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.request import Constituent, EstimateRequest, Mix, State, Triple
from hotface_api.mixes.structure import structure_of

searched = settings(database=None, deadline=None, max_examples=60)
POWDER = {"is_powder": True, "leaves": False}
STATES = ("fresh", "demoulded", "air-dry", "dried", "fired")


def triple(low, high):
    return st.tuples(st.floats(low, high), st.floats(low, high), st.floats(low, high)).map(
        lambda ends: Triple(*sorted(ends))
    )


@st.composite
def powders(draw, name):
    kind = draw(st.sampled_from(["hydraulic", "gypsum", "clay", "powder"]))
    triples = {"true_density": draw(triple(2000.0, 3500.0))}
    if kind in ("hydraulic", "gypsum"):
        triples["bound_water"] = draw(triple(0.05, 0.35))
    triples["loss_on_ignition"] = draw(triple(0.0, 0.2))
    amount = draw(st.floats(0.5, 50.0))
    return Part(Constituent(name, amount, "mass"), "binder", name, kind, **POWDER, triples=triples)


@st.composite
def aggregates(draw, name):
    triples = {
        "loose_bulk_density": draw(triple(60.0, 1400.0)),
        "true_density": draw(triple(2200.0, 4000.0)),
    }
    if draw(st.booleans()):
        triples["water_absorption"] = draw(triple(0.01, 1.0))
    if draw(st.booleans()):
        triples["crush_factor"] = draw(triple(0.5, 1.0))
    leaves = draw(st.booleans())
    if leaves:
        triples["loss_on_ignition"] = Triple.exactly(1.0)
    amount = draw(st.floats(0.001, 0.08))
    return Part(
        Constituent(name, amount, "volume"),
        "aggregate",
        name,
        "powder",
        is_powder=False,
        leaves=leaves,
        triples=triples,
    )


@st.composite
def mixes(draw):
    parts = [draw(powders(f"powder-{i}")) for i in range(draw(st.integers(1, 2)))]
    parts += [draw(aggregates(f"grain-{i}")) for i in range(draw(st.integers(0, 2)))]
    kind = draw(st.sampled_from(STATES))
    temperature = draw(st.floats(400.0, 1600.0)) if kind == "fired" else None
    water = draw(st.floats(0.5, 60.0))
    request = EstimateRequest(
        Mix(tuple(part.constituent for part in parts), water), State(kind, temperature), draws=100
    )
    return request, Gathered(parts, [], set())


def total(columns):
    return sum(columns, np.zeros(1))


@searched
@given(mixes())
def test_mass_is_kept_from_the_mixer_to_the_kiln(mix):
    request, gathered = mix
    batch = draw_batch(request, gathered, Latent(1, request.draws))
    account = batch.account
    dry = total(batch.masses)
    water = account.water_free + account.water_absorbed
    np.testing.assert_allclose(water, np.full_like(water, request.mix.water), rtol=1e-12)
    fresh = np.broadcast_to(dry + request.mix.water, account.mass[:, 0].shape)
    np.testing.assert_allclose(account.mass[:, 0], fresh, rtol=1e-12)
    gone = total(m * lost for m, lost in zip(batch.masses, batch.ignited, strict=True))
    left = bound_left(request.state) if request.state.kind == "fired" else 1.0
    np.testing.assert_allclose(account.mass[:, 2], dry + account.water_bound, rtol=1e-12)
    if request.state.kind == "fired":
        expected = dry - gone + account.water_bound * left
        np.testing.assert_allclose(account.mass[:, 3], expected, rtol=1e-10)
    np.testing.assert_allclose(account.mass, account.density * account.volume, rtol=1e-12)
    assert np.all(np.diff(account.mass[:, :3]) <= 1e-9)


@searched
@given(mixes())
def test_the_body_is_filled_and_weighs_what_it_holds(mix):
    request, gathered = mix
    batch = draw_batch(request, gathered, Latent(1, request.draws))
    body = structure_of(request, gathered, batch)
    density = batch.density[:, STATE_INDEX[request.state.kind]]
    solids = total(
        share * grains.true for share, grains in zip(body.solids, batch.grains, strict=True)
    )
    bound = body.bound / 15e-6 * 0.018015
    liquid = body.liquid
    if request.state.kind == "air-dry":
        density = density * (1.0 + batch.moisture)
    weighed = np.broadcast_to(solids + bound + liquid, density.shape)
    np.testing.assert_allclose(weighed, density, rtol=1e-9)
    filled = total(body.grains) + body.voids + body.paste
    assert np.all(filled >= 1.0 - 1e-9)
    assert np.all((body.paste_solid > 0) & (body.paste_solid < 1))
    assert np.all((body.grain_water >= 0) & (body.grain_water <= 1 + 1e-9))
    assert np.all((body.paste_water >= 0) & (body.paste_water <= 1 + 1e-9))


@searched
@given(mixes())
def test_no_grain_is_lighter_than_its_heap_or_heavier_than_its_solid(mix):
    request, gathered = mix
    batch = draw_batch(request, gathered, Latent(1, request.draws))
    for part, grains in zip(gathered.parts, batch.grains, strict=True):
        if not part.is_powder:
            assert np.all(grains.loose < grains.particle)
            assert np.all(grains.particle < grains.true)


def test_a_paste_too_scarce_leaves_gaps_and_the_yield_of_the_packed_grains():
    cement = Part(
        Constituent("cement", 1.0, "mass"),
        "binder",
        "cement",
        "hydraulic",
        **POWDER,
        triples={"true_density": Triple.exactly(3000.0), "bound_water": Triple.exactly(0.2)},
    )
    clay = Part(
        Constituent("clay", 0.030, "volume"),
        "aggregate",
        "clay",
        "powder",
        is_powder=False,
        leaves=False,
        triples={
            "loose_bulk_density": Triple.exactly(400.0),
            "particle_density": Triple.exactly(700.0),
            "true_density": Triple.exactly(2550.0),
        },
    )
    request = EstimateRequest(Mix((cement.constituent, clay.constituent), 1.5), State("dried"))
    batch = draw_batch(request, Gathered([cement, clay], [], set()), Latent(1, 1, centre=True))
    grains = float(batch.masses[1][0] / batch.grains[1].particle[0])
    packed = float((1 - 0.43) * 1.12)
    assert float(batch.unfilled[0]) > 0.1
    assert batch.account.fresh_volume[0] == pytest.approx(grains / packed, rel=0.03)
