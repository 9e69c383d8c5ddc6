"""Heat capacity, expansion, elasticity and strength of mixtures and porous bodies."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface_api.science import elastic, expansion, heat, strength

searched = settings(database=None, deadline=None)
share = st.floats(0.0, 1.0)
modulus = st.floats(1e8, 4e11)
strain = st.floats(-0.01, 0.03)


@searched
@given(share, modulus, modulus, modulus, strain, strain)
def test_expansion_of_two_phases_runs_between_its_edges(part, host, other, shear, first, second):
    parts, strains, moduli = [1 - part, part], [first, second], [host, other]
    edges = sorted(
        [
            float(expansion.volume_mean_expansion(parts, strains)),
            float(expansion.turner_expansion(parts, strains, moduli)),
        ]
    )
    found = expansion.maxwell_expansion(parts, strains, moduli, shear)
    assert edges[0] - 1e-15 <= found <= edges[1] + 1e-15


@searched
@given(st.floats(0.01, 0.99), modulus, modulus, modulus, strain, strain)
def test_expansion_of_two_phases_meets_the_exact_relation(part, host, other, shear, first, second):
    if abs(host / other - 1) < 0.01:
        return
    body = elastic.mixed_bulk_modulus([1 - part, part], [host, other], shear)
    exact = expansion.levin_expansion(first, second, host, other, body)
    found = expansion.maxwell_expansion([1 - part, part], [first, second], [host, other], shear)
    np.testing.assert_allclose(found, exact, atol=1e-10)


@pytest.mark.parametrize("pores", [0.0, 0.3, 0.9])
def test_pores_change_no_expansion(pores):
    parts, strains, moduli = [1 - pores, pores], [0.006, 0.0], [5e10, 0.0]
    assert expansion.maxwell_expansion(parts, strains, moduli, 3e10) == pytest.approx(0.006)
    assert expansion.turner_expansion(parts, strains, moduli) == pytest.approx(0.006)


def test_one_modulus_gives_the_volume_mean():
    parts, strains = [0.2, 0.5, 0.3], [0.004, 0.008, 0.001]
    mean = expansion.volume_mean_expansion(parts, strains)
    alike = [4e10] * 3
    np.testing.assert_allclose(expansion.turner_expansion(parts, strains, alike), mean)
    np.testing.assert_allclose(expansion.maxwell_expansion(parts, strains, alike, 1e10), mean)


def test_expansion_over_draws_and_temperatures():
    strains = np.array([[0.001, 0.002], [0.004, 0.007]])
    moduli = np.array([[[3e10, 6e10]], [[2e10, 7e10]], [[3e10, 1e10]]])
    found = expansion.maxwell_expansion([0.6, 0.4], strains, moduli, np.full((3, 1), 2e10))
    assert found.shape == (3, 2)
    one = expansion.maxwell_expansion([0.6, 0.4], strains[1], moduli[2, 0], 2e10)
    np.testing.assert_allclose(found[2, 1], one, rtol=1e-14)


def test_unusable_expansion_is_refused():
    with pytest.raises(ValueError, match="all be zero"):
        expansion.turner_expansion([0.5, 0.5], [0.1, 0.2], [0.0, 0.0])
    with pytest.raises(ValueError, match="same number of phases"):
        expansion.volume_mean_expansion([0.5, 0.5], [0.1, 0.2, 0.3])
    with pytest.raises(ValueError, match="one bulk modulus"):
        expansion.levin_expansion(0.1, 0.2, 5.0, 5.0, 5.0)
    with pytest.raises(ValueError, match="expansions and fractions"):
        expansion.maxwell_expansion([0.5, 0.5], 0.1, [1.0, 2.0], 1.0)


def test_moduli_of_an_isotropic_solid_fit_together():
    young, poisson = 72.5, 0.35
    bulk, shear = elastic.bulk_modulus(young, poisson), elastic.shear_modulus(young, poisson)
    np.testing.assert_allclose([bulk, shear], [80.56, 26.85], atol=0.005)
    np.testing.assert_allclose(9 * bulk * shear / (3 * bulk + shear), young)
    with pytest.raises(ValueError, match="poisson"):
        elastic.bulk_modulus(1.0, 0.5)
    with pytest.raises(ValueError, match="poisson"):
        elastic.shear_modulus(1.0, -1.0)


def test_porous_moduli_fall_from_dense_to_nothing():
    porosity = np.linspace(0, 1, 21)
    for found in (elastic.porous_modulus(3e11, porosity), elastic.power_modulus(3e11, porosity)):
        assert found[0] == 3e11
        assert np.all(np.diff(found) < 0)
        assert found[-1] == pytest.approx(0.0, abs=1e-3)
    with pytest.raises(ValueError, match="porosity"):
        elastic.porous_modulus(1.0, 1.1)
    with pytest.raises(ValueError, match="exponent"):
        elastic.power_modulus(1.0, 0.1, 0.0)


@searched
@given(st.floats(0.0, 0.99), st.floats(0.0, 0.99), st.floats(1.0, 6.0))
def test_porosity_ratio_is_one_at_the_reference_and_turns_round(porosity, reference, exponent):
    there = strength.porosity_ratio(porosity, reference, exponent)
    back = strength.porosity_ratio(reference, porosity, exponent)
    np.testing.assert_allclose(there * back, 1.0, rtol=1e-9)
    assert (there > 1) == (porosity < reference) or there == pytest.approx(1.0)


@searched
@given(st.floats(1e-3, 1e12))
def test_class_holds_its_strength_and_is_a_factor_of_two_wide(value):
    low, high = strength.strength_class(value)
    assert low <= value < high
    assert high == 2 * low


def test_classes_of_edges_nothing_and_unknown():
    low, high = strength.strength_class([1e6, np.nextafter(2e6, 0), 2e6, 0.0, np.nan])
    np.testing.assert_array_equal(low, [1e6, 1e6, 2e6, 0.0, np.nan])
    np.testing.assert_array_equal(high, [2e6, 2e6, 4e6, 0.0, np.nan])
    with pytest.raises(ValueError, match="strength"):
        strength.strength_class(-1.0)


def test_strength_rules_refuse_what_they_cannot_mean():
    with pytest.raises(ValueError, match="reference_porosity"):
        strength.porosity_ratio(0.5, 1.0)
    with pytest.raises(ValueError, match="porosity"):
        strength.ryshkewitch(1.0, 1.2, 4.0)
    with pytest.raises(ValueError, match="gel_space_ratio"):
        strength.gel_space_strength(1.2)


def test_heat_capacity_of_a_mixture_runs_between_its_parts():
    found = heat.mix_heat_capacity([[0.2, 0.8], [1.0, 0.0]], [900.0, 1100.0])
    np.testing.assert_allclose(found, [1060.0, 900.0])
    with pytest.raises(ValueError, match="heat_capacities"):
        heat.mix_heat_capacity([0.5, 0.5], [900.0, -1.0])


def test_oxides_make_a_compound():
    """A compound of one oxide is that oxide; two half and half by mole weigh by mass."""
    np.testing.assert_allclose(heat.neumann_kopp([3.0, 0.0], [80.0, 45.0], [0.1, 0.06]), 800.0)
    np.testing.assert_allclose(heat.neumann_kopp([1.0, 1.0], [80.0, 45.0], [0.1, 0.06]), 125 / 0.16)
    with pytest.raises(ValueError, match="moles"):
        heat.neumann_kopp([0.0, 0.0], [80.0, 45.0], [0.1, 0.06])
    with pytest.raises(ValueError, match="molar_masses"):
        heat.neumann_kopp([1.0, 0.0], [80.0, 45.0], [0.1, 0.0])


def test_volumetric_heat_capacity():
    np.testing.assert_allclose(heat.volumetric_heat_capacity([900.0, 1200.0], 1000.0), [9e5, 1.2e6])


def test_integral_mean_is_what_a_steady_heat_flow_sees():
    kelvin = np.linspace(300.0, 1300.0, 2001)
    cubic = 0.1 + 2e-10 * kelvin**3
    exact = 0.1 + 2e-10 * (1300.0**4 - 300.0**4) / 4 / 1000.0
    assert heat.integral_mean(kelvin, cubic) == pytest.approx(exact, rel=1e-6)
    with pytest.raises(ValueError, match="rising"):
        heat.integral_mean([400.0, 300.0], [1.0, 2.0])
