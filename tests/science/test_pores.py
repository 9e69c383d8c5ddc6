"""Air, water and pores against a reference library of fluid properties."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from hotface_api.science import fluids, pores

AIR_SPAN = np.linspace(250.0, 1800.0, 312)
WATER_SPAN = np.linspace(273.16, 373.12, 101)


def reference(output, kelvin, fluid="Air"):
    return np.array([PropsSI(output, "T", each, "P", pores.ATMOSPHERE, fluid) for each in kelvin])


@pytest.mark.parametrize(
    ("function", "output", "stated"),
    [
        (pores.air_conductivity, "L", 0.0003),
        (pores.air_viscosity, "V", 0.0007),
        (pores.air_heat_capacity, "C", 0.0013),
    ],
)
def test_air_is_within_the_stated_misfit(function, output, stated):
    np.testing.assert_allclose(function(AIR_SPAN), reference(output, AIR_SPAN), rtol=stated)


def test_water_is_within_the_stated_misfit():
    found = pores.water_conductivity(WATER_SPAN)
    np.testing.assert_allclose(found, reference("L", WATER_SPAN, "Water"), rtol=0.0016)


def test_molar_mass_of_air():
    assert PropsSI("M", "Air") == pytest.approx(pores.AIR_MOLAR_MASS, rel=1e-6)


@pytest.mark.parametrize("kelvin", [249.9, 1800.1, -5.0, np.inf])
@pytest.mark.parametrize(
    "function", [pores.air_conductivity, pores.air_viscosity, pores.air_heat_capacity]
)
def test_air_is_refused_outside_its_span(function, kelvin):
    with pytest.raises(ValueError, match="250 and 1800"):
        function([300.0, kelvin])


@pytest.mark.parametrize("kelvin", [273.0, 373.2])
def test_water_is_refused_when_it_is_ice_or_steam(kelvin):
    with pytest.raises(ValueError, match=r"273\.15 and 373\.15"):
        pores.water_conductivity(kelvin)


def test_span_ends_belong_to_the_span():
    assert np.all(np.isfinite(pores.air_conductivity(fluids.AIR_SPAN)))
    assert np.all(np.isfinite(pores.water_conductivity(fluids.WATER_SPAN)))


def test_missing_temperature_stays_missing():
    found = pores.pore_conductivity([np.nan, 300.0], 1e-3)
    assert np.isnan(found[0])
    assert np.isfinite(found[1])


def test_mean_free_path_falls_with_pressure():
    path = pores.mean_free_path(300.0, [pores.ATMOSPHERE, 10 * pores.ATMOSPHERE])
    assert path[0] == pytest.approx(10 * path[1])


def test_gas_in_a_wide_pore_is_free_and_in_a_narrow_one_nearly_still():
    sizes = np.geomspace(1e-9, 1.0, 50)
    found = pores.knudsen_gas(0.026, 67e-9, sizes)
    assert np.all(np.diff(found) > 0)
    assert found[0] < 0.01 * 0.026
    assert found[-1] == pytest.approx(0.026, rel=1e-6)


def test_pore_is_gas_plus_radiation_at_each_temperature_and_size():
    kelvin, size = np.array([[300.0], [1273.15]]), np.array([1e-6, 1e-4, 1e-3])
    found = pores.pore_conductivity(kelvin, size, 0.8, "cylinder")
    assert found.shape == (2, 3)
    gas = pores.knudsen_gas(pores.air_conductivity(kelvin), pores.mean_free_path(kelvin), size)
    glow = np.pi * 0.8 * pores.STEFAN_BOLTZMANN * size * kelvin**3
    np.testing.assert_allclose(found, gas + glow, rtol=1e-12)
    one = pores.pore_conductivity(1273.15, 1e-3, 0.8, "cylinder")
    np.testing.assert_allclose(found[1, 2], one, rtol=1e-14)


def test_radiation_rules_a_millimetre_pore_at_furnace_heat():
    assert pores.radiation_in_pore(1273.15, 1e-3) > 3 * pores.air_conductivity(1273.15)
    assert pores.radiation_in_pore(300.0, 1e-3) < 0.2 * pores.air_conductivity(300.0)


def test_black_bed_radiates_as_a_flat_gap():
    flat = pores.radiation_in_pore(900.0, 2e-3, 1.0, "laminar")
    np.testing.assert_allclose(pores.bed_radiation(900.0, 2e-3, 1.0), flat)
    assert pores.bed_radiation(900.0, 2e-3, 0.5) == pytest.approx(float(flat) / 3)


def test_rosseland_grows_with_the_square_of_the_index():
    assert pores.rosseland(1000.0, 2000.0, 1.5) == pytest.approx(
        2.25 * pores.rosseland(1000.0, 2000.0)
    )


@pytest.mark.parametrize(
    ("call", "reason"),
    [
        (lambda: pores.radiation_in_pore(1000.0, 1e-3, shape="star"), "shape must be one of"),
        (lambda: pores.radiation_in_pore(-1.0, 1e-3), "temperature"),
        (lambda: pores.radiation_in_pore(1000.0, -1e-3), "pore_size"),
        (lambda: pores.radiation_in_pore(1000.0, 1e-3, 1.1), "emissivity"),
        (lambda: pores.knudsen_gas(0.026, 67e-9, 0.0), "pore_size"),
        (lambda: pores.knudsen_gas(-0.026, 67e-9, 1e-6), "k_gas"),
        (lambda: pores.mean_free_path(300.0, 0.0), "pressure"),
        (lambda: pores.bed_radiation(1000.0, 1e-3, 0.0), "emissivity"),
        (lambda: pores.rosseland(1000.0, 0.0), "extinction"),
    ],
)
def test_unusable_input_is_refused(call, reason):
    with pytest.raises(ValueError, match=reason):
        call()
