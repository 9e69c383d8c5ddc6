"""Quantities in and out: units, differences, absolute zero, rounding."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface.units import UNITS, UnitError
from hotface_api.http.quantities import Output, read_quantity, significant


@pytest.mark.parametrize(
    ("given_", "dimension", "wanted"),
    [
        ("1050 Cel", "temperature", 1323.15),
        ("1050Cel", "temperature", 1323.15),
        ("1050 °C", "temperature", 1323.15),
        ("32 degF", "temperature", 273.15),
        ({"value": 25, "unit": "kg"}, "mass", 25.0),
        ({"value": 1.5, "unit": "L"}, "volume", 0.0015),
        ("3", "1", 3.0),
        ("0 K", "temperature", 0.0),
    ],
)
def test_a_quantity_is_read_into_si(given_, dimension, wanted):
    kind = "point" if dimension == "temperature" else None
    assert math.isclose(read_quantity(given_, dimension, temperature=kind)[0], wanted)


@pytest.mark.parametrize(
    "given_",
    [
        "",
        "Cel",
        "1050",
        "1050 kg",
        "-273.16 Cel",
        "-1 K",
        "nan K",
        "1e400 K",
        "1 m**9**9**9",
        "1 " + "K" * 10_000,
        "1e16 K",
        None,
        True,
        7,
        [],
        {},
        {"value": 1},
        {"unit": "K"},
        {"value": "1", "unit": "K"},
        {"value": True, "unit": "K"},
        {"value": 1, "unit": None},
        {"value": 1, "unit": "K", "extra": 1},
        {"value": 1e300, "unit": "K"},
    ],
)
def test_what_is_no_temperature_is_refused(given_):
    with pytest.raises(UnitError):
        read_quantity(given_, "temperature", temperature="point")


def test_a_difference_takes_no_offset_and_no_point_unit():
    assert read_quantity("90 [degR]", "temperature", temperature="difference")[0] == 50.0
    with pytest.raises(UnitError, match="difference"):
        read_quantity("50 Cel", "temperature", temperature="difference")


@given(st.floats(min_value=-1e15, max_value=1e15, allow_nan=False))
def test_rounding_keeps_six_digits_and_settles(value):
    rounded = significant(value)
    assert math.isclose(rounded, value, rel_tol=5.1e-6, abs_tol=1e-300)
    assert significant(rounded) == rounded
    assert math.copysign(1.0, rounded) == 1.0 or rounded != 0


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_is_never_served(odd):
    with pytest.raises(ValueError, match="finite"):
        significant(odd)


@given(st.floats(min_value=-273.15, max_value=3000))
def test_temperatures_come_back_as_they_went_in(celsius):
    kelvin, _ = read_quantity({"value": celsius, "unit": "Cel"}, "temperature", temperature="point")
    shown = Output("si").quantity("temperature", kelvin)
    assert shown["unit"] == "Cel"
    assert math.isclose(shown["value"], celsius, rel_tol=1e-5, abs_tol=1e-3)


def test_the_two_systems_use_the_published_table():
    si, us = Output("si"), Output("us")
    assert si.quantity("difference", 50.0) == {"value": 50.0, "unit": "K"}
    assert us.quantity("difference", 50.0) == {"value": 90.0, "unit": "[degR]"}
    assert us.quantity("temperature", 273.15) == {"value": 32.0, "unit": "[degF]"}
    assert us.span("length", 0.0254, None) == {"low": 1.0, "high": None, "unit": "[in_i]"}
    assert si.quantity("temperature", None) is None
    assert si.span("length", None, None) is None


def test_every_output_unit_is_in_the_table():
    from hotface_api.http import quantities  # noqa: PLC0415 - its table is private

    for pair in quantities._UNITS_OUT.values():
        assert UNITS[pair[0]].dimension == UNITS[pair[1]].dimension


def _value(demo, key, units="si"):
    return demo.get(f"/v1/values/{key}?units={units}").get_json()


def test_a_value_is_served_in_either_system_and_as_printed(demo):
    key = "demo-perlite.loose_bulk_density.2"
    si, us = _value(demo, key), _value(demo, key, "us")
    assert (si["typical"], si["unit"]) == (120.138, "kg/m3")
    assert (us["typical"], us["unit"]) == (7.5, "[lb_av]/[cft_i]")
    assert si["printed"] == us["printed"]
    assert si["printed"]["typical"] == "7.5"
    assert si["printed"]["unit"] == "lb/ft³"
    assert si["uncertainty"]["standard"] == {"value": 5.0, "unit": "kg/m3"}
    assert us["uncertainty"]["standard"]["unit"] == "[lb_av]/[cft_i]"


def test_points_and_differences_of_temperature_keep_apart(demo):
    limit = _value(demo, "demo-grog-a.service_limit.2")
    assert (limit["typical"], limit["unit"]) == (1300.0, "Cel")
    assert limit["uncertainty"]["standard"] == {"value": 9.0, "unit": "K"}
    limit = _value(demo, "demo-grog-a.service_limit.2", "us")
    assert limit["typical"] == 2372.0
    assert limit["uncertainty"]["standard"] == {"value": 16.2, "unit": "[degR]"}
    assert _value(demo, "demo-brick.shrinkage_span.1")["typical"] == 120.0
    span = _value(demo, "demo-brick.shrinkage_span.1", "us")
    assert (span["typical"], span["unit"]) == (216.0, "[degR]")


def test_conditions_are_written_with_their_units(demo):
    strength = _value(demo, "demo-brick.compressive_strength.1")
    assert strength["condition"]["treatment_temperature"] == {"value": 110.0, "unit": "Cel"}
    assert strength["condition"]["age"] == {"value": 28.0, "unit": "d"}
    assert strength["condition"]["moisture"] == {"value": 0.01, "unit": "1"}
    grains = _value(demo, "demo-perlite.loose_bulk_density.3")["condition"]["grain_size"]
    assert grains == {"low": 1.0, "high": 3.0, "unit": "mm"}
    curve = _value(demo, "demo-brick.thermal_conductivity.1", "us")
    assert curve["temperature"] == {"low": 212.0, "high": 212.0, "unit": "[degF]"}
    assert curve["unit"] == "[Btu_IT].[in_i]/([ft_i]2.h.[degR])"
    assert curve["condition"]["specimen_density"]["unit"] == "[lb_av]/[cft_i]"
