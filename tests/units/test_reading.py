"""Reading unit texts and quantities: there and back, common spellings, and text from strangers."""

from __future__ import annotations

import math
import time

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hotface.units import (
    ALIASES,
    MAX_QUANTITY_LENGTH,
    MAX_UNIT_LENGTH,
    UNITS,
    UnitError,
    convert,
    find_unit,
    from_si,
    parse_quantity,
    to_si,
)

codes = st.sampled_from(sorted(UNITS))
numbers = st.floats(min_value=-1e9, max_value=1e9, allow_nan=False)


@given(numbers, codes, st.booleans())
def test_there_and_back_is_where_one_started(value, code, difference):
    unit = UNITS[code]
    back = from_si(to_si(value, unit, difference=difference), unit, difference=difference)
    span = abs(unit.offset / unit.factor)
    assert math.isclose(back, value, rel_tol=1e-12, abs_tol=1e-12 * span + 1e-200)


@given(numbers, codes, st.data())
def test_a_detour_over_a_third_unit_changes_nothing(value, start, data):
    same = sorted(c for c, u in UNITS.items() if u.dimension == UNITS[start].dimension)
    middle, end = data.draw(st.sampled_from(same)), data.draw(st.sampled_from(same))
    direct = convert(value, start, end)
    detour = convert(convert(value, start, middle), middle, end)
    scale = abs(convert(1.0, start, end, difference=True))
    assert math.isclose(direct, detour, rel_tol=1e-9, abs_tol=1e-6 * scale + 1e-200)


@given(numbers, numbers, codes)
def test_conversion_keeps_order(first, second, code):
    assume(first < second)
    unit = UNITS[code]
    assert to_si(first, unit) <= to_si(second, unit)


@given(numbers, numbers)
def test_differences_of_points_are_differences(first, second):
    for scale in ("Cel", "[degF]"):
        unit = UNITS[scale]
        gap = to_si(first, unit) - to_si(second, unit)
        assert math.isclose(
            gap, to_si(first - second, unit, difference=True), rel_tol=1e-6, abs_tol=1e-6
        )


@given(codes)
def test_a_code_reads_as_itself(code):
    assert find_unit(code) is UNITS[code]
    assert find_unit(code, UNITS[code].dimension) is UNITS[code]


@pytest.mark.parametrize(
    ("spelling", "code"),
    [
        ("°C", "Cel"),
        ("℃", "Cel"),
        ("degC", "Cel"),
        ("deg C", "Cel"),
        ("°F", "[degF]"),
        ("℉", "[degF]"),
        ("kg/m³", "kg/m3"),
        ("kg/m^3", "kg/m3"),
        ("g/cm³", "g/cm3"),
        ("pcf", "[lb_av]/[cft_i]"),
        ("lb/ft³", "[lb_av]/[cft_i]"),
        ("W/(m·K)", "W/(m.K)"),
        ("W/mK", "W/(m.K)"),
        ("W/m/K", "W/(m.K)"),
        ("BTU·in/(h·ft²·°F)", "[Btu_IT].[in_i]/([ft_i]2.h.[degR])"),
        ("J/kg·K", "J/(kg.K)"),
        ("psi", "[psi]"),
        ("N/mm²", "N/mm2"),
        ("kg/cm2", "kgf/cm2"),
        ("µm", "um"),
        ("μm", "um"),
        ("litre", "L"),
        ("K⁻¹", "1/K"),
        ("10^-6/K", "10*-6/K"),
        ("°C/h", "K/h"),
        ("percent", "%"),
        ("", "1"),
        ("cc", "cm3"),
        ("GAL", "[gal_us]"),
        ("kJ/(kg.K)", "kJ/(kg.K)"),
        ("cone", "{cone}"),
    ],
)
def test_common_spellings_are_understood(spelling, code):
    assert find_unit(spelling).code == code


def test_case_tells_mega_from_milli_where_both_exist():
    assert find_unit("MPa").factor == 1e6
    assert find_unit("mW/(m.K)").factor == 1e-3
    assert find_unit("W/(m.K)").factor == 1


@given(st.sampled_from(sorted(ALIASES)))
def test_an_alias_reads_in_any_case_but_never_as_another_dimension(alias):
    dimension = UNITS[ALIASES[alias]].dimension
    for spelling in (alias, alias.upper(), alias.title()):
        assert find_unit(spelling).dimension == dimension or spelling in UNITS


@given(codes, codes)
def test_another_dimension_is_refused_with_codes_that_would_do(code, other):
    wanted = UNITS[other].dimension
    assume(UNITS[code].dimension != wanted)
    with pytest.raises(UnitError) as caught:
        find_unit(code, wanted)
    assert caught.value.nearest
    assert all(UNITS[near].dimension == wanted for near in caught.value.nearest)


def attempt(read, text):
    """Give what was read, or the refusal, which must be short whatever it refuses."""
    try:
        return read(text), ""
    except UnitError as error:
        refusal = str(error)
    assert 0 < len(refusal) < 300
    return None, refusal


@given(st.text(max_size=200))
def test_any_text_is_a_unit_or_a_plain_refusal(text):
    unit, refusal = attempt(find_unit, text)
    assert refusal or unit.code in UNITS


@given(st.text(max_size=200))
def test_any_text_is_a_quantity_or_a_plain_refusal(text):
    read, refusal = attempt(parse_quantity, text)
    assert refusal or (math.isfinite(read[0]) and len(read[1]) <= MAX_QUANTITY_LENGTH)


@given(numbers, codes)
def test_a_written_quantity_reads_as_itself(value, code):
    read, unit = parse_quantity(f"{value!r} {code}")
    assert (read, unit) == (value, code)
    if not code[0].isdigit():
        read, unit = parse_quantity(f" {value!r}{code} ")
        assert (read, unit) == (value, code)


@pytest.mark.parametrize(
    "text",
    [
        "(" * 40 + ")" * 40,
        "m" + "/m" * 100,
        "10*" * 12,
        "m9999999999",
        "1e99999",
        "é" * 48,
        "kg\x00",
        "kg\n/m3",
        "K; DROP TABLE value",
        "__import__('os')",
        "%s%s%s",
        "{0.__class__}",
        "W/(m.K",
        "W//m",
        "[Btu_IT",
        "Cel/h",
        "kilowatt",
        "\u202ekg",
        "９kg",
        "\ud800",
    ],
)
def test_hostile_units_are_refused_at_once(text):
    start = time.perf_counter()
    with pytest.raises(UnitError):
        find_unit(text)
    assert time.perf_counter() - start < 0.5


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "Cel",
        "nan Cel",
        "inf K",
        "-inf",
        "1e999 Cel",
        "0x10 kg",
        "1_000 kg",
        "1,5 kg",
        "١٢ kg",
        "９ kg",
        "1" * 31 + " kg",
        "1e",
        "--1 K",
        "1.2.3 K",
        "+ K",
        "9" * MAX_QUANTITY_LENGTH + "9",
    ],
)
def test_hostile_quantities_are_refused_at_once(text):
    start = time.perf_counter()
    with pytest.raises(UnitError):
        find_unit(parse_quantity(text)[1], "mass" if "kg" in text else "temperature")
    assert time.perf_counter() - start < 0.5


def test_length_is_looked_at_first():
    with pytest.raises(UnitError, match=f"at most {MAX_UNIT_LENGTH}"):
        find_unit("m" * 1_000_000)
    with pytest.raises(UnitError, match=f"at most {MAX_QUANTITY_LENGTH}"):
        parse_quantity("1" * 1_000_000)


def test_a_refusal_names_the_nearest_right_thing():
    with pytest.raises(UnitError) as caught:
        find_unit("W/(m*C)", "thermal conductivity")
    assert "W/(m.K)" in caught.value.nearest
