"""The batch account: mass is kept, volumes add up, densities stay in order."""

import numpy as np
import periodictable
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface_api.science import accounting, hydrates
from hotface_api.science.accounting import STATES, account

searched = settings(database=None, deadline=None)
FRESH, DEMOULDED, DRIED, FIRED = range(4)
share = st.floats(0.0, 1.0)


@st.composite
def batches(draw):
    """A batch of up to four constituents with everything that can happen to it."""
    count = draw(st.integers(1, 4))

    def each(low, high):
        floats = st.floats(low, high)
        return np.array(draw(st.lists(floats, min_size=count, max_size=count)))

    true = each(1500.0, 4000.0)
    return {
        "masses": each(0.1, 100.0),
        "particle_densities": true * (1 - each(0.0, 0.95)),
        "true_densities": true,
        "water": draw(st.floats(0.0, 100.0)),
        "absorption": each(0.0, 2.0),
        "bound_water": each(0.0, 0.5),
        "loss_on_ignition": each(0.0, 0.9),
        "air": draw(st.floats(0.0, 0.9)),
        "early_loss": draw(share),
        "drying_change": draw(st.floats(-0.1, 0.0)),
        "permanent_change": draw(st.floats(-0.1, 0.1)),
        "bound_left": draw(share),
    }


@searched
@given(batches())
def test_mass_is_kept(batch):
    found = account(**batch)
    dry, water = batch["masses"].sum(), batch["water"]
    np.testing.assert_allclose(found.mass[FRESH], dry + water, rtol=1e-14)
    np.testing.assert_allclose(found.water_free + found.water_absorbed, water, atol=1e-12)
    unbound = water - found.water_bound
    burnt = np.sum(batch["masses"] * batch["loss_on_ignition"])
    np.testing.assert_allclose(found.mass[FRESH] - found.mass[DRIED], unbound, atol=1e-10)
    bound = found.water_bound * (1 - batch["bound_left"])
    np.testing.assert_allclose(found.mass[DRIED] - found.mass[FIRED], bound + burnt, atol=1e-10)
    assert np.all(np.diff(found.mass) <= 1e-10)


@searched
@given(batches())
def test_fresh_volume_is_filled_exactly(batch):
    found = account(**batch)
    filled = found.volume_fractions.sum() + found.water_fraction + found.air_fraction
    np.testing.assert_allclose(filled, 1.0, rtol=1e-12)
    np.testing.assert_allclose(found.mass_fractions.sum(), 1.0, rtol=1e-12)
    np.testing.assert_allclose(found.density * found.volume, found.mass, rtol=1e-12)


@searched
@given(batches())
def test_porosity_is_one_less_solid(batch):
    found = account(**{**batch, "bound_left": 0.0})
    left = batch["masses"] * (1 - batch["loss_on_ignition"])
    shares = left / left.sum()
    expected = accounting.porosity_from_density(
        found.density[FIRED], shares, batch["true_densities"]
    )
    np.testing.assert_allclose(found.porosity[FIRED], expected, atol=1e-12)
    assert found.porosity[DEMOULDED] <= found.porosity[FRESH] + 1e-12


@searched
@given(batches())
def test_water_taken_is_never_more_than_there_is(batch):
    found = account(**batch)
    assert 0 <= found.water_absorbed <= batch["water"]
    assert 0 <= found.water_bound <= batch["water"]


def test_array_of_draws_gives_what_single_batches_give():
    masses = np.array([[25.0, 12.0], [25.0, 14.0], [20.0, 10.0]])
    options = {"absorption": [0.0, 0.4], "bound_water": [0.2, 0.0], "air": 0.04}
    water = np.array([10.0, 11.0, 12.0])
    many = account(masses, [3000.0, 400.0], [3000.0, 2400.0], water, **options)
    assert many.density.shape == (3, len(STATES))
    for row in range(3):
        one = account(masses[row], [3000.0, 400.0], [3000.0, 2400.0], water[row], **options)
        for field in one._fields:
            np.testing.assert_allclose(getattr(many, field)[row], getattr(one, field), rtol=1e-13)


def test_only_one_input_drawn_still_gives_every_draw():
    found = account(
        [25.0, 12.0], [3000.0, 400.0], [3000.0, 2400.0], 10.0, permanent_change=[-0.02, 0.0, 0.01]
    )
    assert found.density.shape == (3, 4)
    assert np.all(np.diff(found.density[:, FIRED]) < 0)
    np.testing.assert_array_equal(found.density[:, FRESH], found.density[0, FRESH])


def test_burnt_out_filler_leaves_its_volume_as_pores():
    kept = account([10.0, 1.0], [2500.0, 1000.0], [2500.0, 1000.0], 2.0)
    gone = account(
        [10.0, 1.0], [2500.0, 1000.0], [2500.0, 1000.0], 2.0, loss_on_ignition=[0.0, 1.0]
    )
    gain = gone.porosity[FIRED] - kept.porosity[FIRED]
    np.testing.assert_allclose(gain, kept.volume_fractions[1], rtol=1e-12)


def test_thirsty_grains_share_what_water_there_is():
    found = account([10.0], [500.0], [2500.0], 3.0, absorption=1.0)
    assert found.water_absorbed == 3.0
    assert found.water_free == 0.0
    np.testing.assert_allclose(found.fresh_volume, 10.0 / 500.0)


def test_changes_of_length_act_on_all_three_directions():
    found = account([10.0], [2000.0], [2500.0], 0.0, drying_change=-0.01, permanent_change=-0.02)
    np.testing.assert_allclose(found.volume[DRIED] / found.volume[DEMOULDED], 0.99**3)
    np.testing.assert_allclose(found.volume[FIRED] / found.volume[DRIED], 0.98**3)


def test_early_loss_is_gone_at_demoulding_and_not_lost_twice():
    found = account([10.0], [2500.0], [2500.0], 4.0, bound_water=0.1, early_loss=0.5)
    np.testing.assert_allclose(found.mass, [14.0, 12.5, 11.0, 10.0])


def test_hydrates_fill_part_of_the_space():
    found = account([10.0], [3000.0], [3000.0], 4.0, bound_water=0.2)
    space = found.porosity[FRESH] - found.porosity[DRIED]
    np.testing.assert_allclose(space * found.fresh_volume, 2.0 * accounting.BOUND_WATER_VOLUME)


def test_porosity_by_hand():
    """3 kg at 1000 with 3000 inside, 1 kg of water, a tenth air, 0.4 kg bound at 0.5 L/kg."""
    found = account(
        [3.0],
        [1000.0],
        [3000.0],
        1.0,
        bound_water=0.4 / 3,
        air=0.1,
        bound_left=0.25,
        water_density=1000.0,
        bound_water_volume=5e-4,
    )
    litres = 4.0 / 0.9
    solid = np.array([1.0, 1.2, 1.2, 1.05])
    np.testing.assert_allclose(found.fresh_volume, litres / 1000, rtol=1e-12)
    np.testing.assert_allclose(found.porosity, 1 - solid / litres, rtol=1e-12)
    np.testing.assert_allclose(found.mass, [4.0, 4.0, 3.4, 3.1], rtol=1e-12)


def test_bound_water_takes_less_room_than_free_water():
    """15 cm3/mol over 18.015 g/mol."""
    assert pytest.approx(15e-6 / 18.015e-3, rel=1e-6) == accounting.BOUND_WATER_VOLUME


def test_gentle_firing_keeps_the_bound_water():
    found = account([10.0], [3000.0], [3000.0], 4.0, bound_water=0.2, bound_left=[0.0, 1.0])
    np.testing.assert_allclose(found.mass[:, FIRED], [10.0, 12.0])
    np.testing.assert_allclose(found.porosity[1, FIRED], found.porosity[1, DRIED])


def test_fired_solids_may_have_another_density():
    plain = account([10.0], [2500.0], [2500.0], 2.0)
    denser = account([10.0], [2500.0], [2500.0], 2.0, fired_true_densities=3000.0)
    assert denser.porosity[FIRED] > plain.porosity[FIRED]
    assert denser.porosity[DRIED] == plain.porosity[DRIED]


@searched
@given(st.floats(1.0, 5000.0), share)
def test_loose_density_drawn_through_voids_never_passes_the_grain(particle, void):
    loose = accounting.loose_from_void(void, particle)
    assert 0 <= loose <= particle
    np.testing.assert_allclose(accounting.void_fraction_from(loose, particle), void, atol=1e-12)


def test_crushed_grains_are_denser():
    np.testing.assert_allclose(accounting.crushed_density(180.0, [1.0, 0.8]), [180.0, 225.0])


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"masses": [-1.0, 2.0]}, "masses"),
        ({"masses": [0.0, 0.0]}, "sum above zero"),
        ({"masses": 1.0, "particle_densities": 1.0, "true_densities": 1.0}, "last axis"),
        ({"particle_densities": [3100.0, 400.0]}, "above the true density"),
        ({"true_densities": [3000.0, 0.0]}, "true_densities"),
        ({"water": -1.0}, "water"),
        ({"air": 1.0}, "air"),
        ({"absorption": [-0.1, 0.0]}, "absorption"),
        ({"bound_water": [-0.1, 0.0]}, "bound_water"),
        ({"loss_on_ignition": [1.1, 0.0]}, "loss_on_ignition"),
        ({"early_loss": 1.5}, "early_loss"),
        ({"bound_left": 1.5}, "bound_left"),
        ({"drying_change": -1.0}, "drying_change"),
        ({"permanent_change": -1.5}, "permanent_change"),
        ({"water_density": 0.0}, "water_density"),
        ({"bound_water_volume": -1.0}, "bound_water_volume"),
    ],
)
def test_unusable_batch_is_refused(change, reason):
    batch = {
        "masses": [25.0, 12.0],
        "particle_densities": [3000.0, 400.0],
        "true_densities": [3000.0, 2400.0],
        "water": 10.0,
    }
    with pytest.raises(ValueError, match=reason):
        account(**{**batch, **change})


@pytest.mark.parametrize(
    ("call", "reason"),
    [
        (lambda: accounting.void_fraction_from(200.0, 180.0), "above the particle"),
        (lambda: accounting.loose_from_void(1.1, 180.0), "void"),
        (lambda: accounting.mass_from_loose(-1.0, 100.0), "volume"),
        (lambda: accounting.absolute_volume(1.0, 0.0), "particle"),
        (lambda: accounting.crushed_density(180.0, 1.2), "crush_factor"),
    ],
)
def test_unusable_density_is_refused(call, reason):
    with pytest.raises(ValueError, match=reason):
        call()


OXIDES = {"lime": "CaO", "alumina": "Al2O3", "water": "H2O"}


@pytest.mark.parametrize("name", hydrates.COMPOUNDS)
def test_molar_mass_agrees_with_a_reference_table(name):
    moles = hydrates.COMPOUNDS[name]._asdict()
    mass = sum(periodictable.formula(OXIDES[part]).mass * count for part, count in moles.items())
    assert 1000 * hydrates.molar_mass(name) == pytest.approx(mass, rel=2e-5)


@pytest.mark.parametrize("route", ["CAH10", "C2AH8", "C3AH6"])
def test_lime_and_alumina_of_a_route_are_those_of_ca(route):
    parts = hydrates._ROUTES[route].items()
    for oxide in ("lime", "alumina"):
        held = sum(moles * getattr(hydrates.COMPOUNDS[name], oxide) for name, moles in parts)
        assert held == pytest.approx(1.0)


def test_bound_water_scales_with_share_and_reaction():
    found = hydrates.stable_bound_water([0.5, 1.0], 0.8)
    np.testing.assert_allclose(found, hydrates.water_per_ca("C3AH6") * np.array([0.4, 0.8]))
    with pytest.raises(ValueError, match="ca_share"):
        hydrates.stable_bound_water(1.2)
    with pytest.raises(KeyError):
        hydrates.molar_mass("C4AF")


def test_printed_steps_of_conversion_balance():
    """2 CAH10 -> C2AH8 + AH3 + 9 H and 3 C2AH8 -> 2 C3AH6 + AH3 + 9 H."""
    mass = hydrates.molar_mass
    nine = 9 * hydrates.WATER
    assert 2 * mass("CAH10") == pytest.approx(mass("C2AH8") + mass("AH3") + nine)
    assert 3 * mass("C2AH8") == pytest.approx(2 * mass("C3AH6") + mass("AH3") + nine)
