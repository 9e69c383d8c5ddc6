"""Quantities in every form they are taken and given."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface import BadQuantity, Figure, Magnitudes, Range
from hotface._quantities import read_quantity
from hotface.units import UNITS

U = pint.get_application_registry()
Q = U.Quantity


@pytest.mark.parametrize(
    ("given", "value", "unit"),
    [
        ("1050 degC", 1050, "Cel"),
        ("1050°C", 1050, "Cel"),
        ((1050, "Cel"), 1050, "Cel"),
        (Figure(1922, "[degF]"), 1922, "[degF]"),
        (Q(1050, "degC"), 1050, "Cel"),
        (Q(1922, "degF"), 1922, "[degF]"),
        (Q(1323.15, "K"), 1323.15, "K"),
    ],
)
def test_a_temperature_is_read_in_every_form(given, value, unit):
    assert read_quantity(given, "temperature", "temperature") == Figure(value, unit)


@pytest.mark.parametrize(
    ("given", "kelvin"),
    [
        ("50 K", 50),
        ("90 degR", 50),
        (Q(50, "K"), 50),
        (Q(50, "delta_degC"), 50),
        (Q(90, "delta_degF"), 50),
    ],
)
def test_a_difference_takes_no_offset(given, kelvin):
    found = read_quantity(given, "margin", "temperature", difference=True)
    assert found.to("K").value == pytest.approx(kelvin)
    assert found.quantity.to("K").magnitude == pytest.approx(kelvin)


@pytest.mark.parametrize("given", ["50 degC", (50, "degC"), Q(50, "degC"), Q(122, "degF")])
def test_a_point_is_no_difference(given):
    with pytest.raises(BadQuantity, match="difference"):
        read_quantity(given, "margin", "temperature", difference=True)


def test_a_difference_is_no_point():
    with pytest.raises(BadQuantity, match="not a difference"):
        read_quantity(Q(50, "delta_degC"), "temperature", "temperature")
    with pytest.raises(BadQuantity, match="difference"):
        Figure(50, "K", difference=True).to("degC")


def test_a_difference_given_out_cannot_be_mistaken_for_a_point():
    headroom = Figure(50, "K", difference=True).quantity
    assert (Q(1000, "degC") + headroom).to("degC").magnitude == pytest.approx(1050)
    with pytest.raises(pint.DimensionalityError):
        headroom.to("degC")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (1050, "has no unit"),
        ("1050", "has no unit"),
        (None, "has no unit"),
        (True, "has no unit"),
        ("hot", "does not start with a number"),
        ("1e999 degC", "too large"),
        ("nan degC", "does not start with a number"),
        ((float("nan"), "degC"), "finite"),
        ((float("inf"), "degC"), "finite"),
        ((True, "degC"), "not numbers"),
        ((None, "degC"), "not one number"),
        ("9**9**9**9 degC", "not known"),
        ("1 m**9**9**9", "not known"),
        ("1 " + "x" * 10_000, "at most"),
        ("25 kg", "measures mass"),
        (Q(25, "kg"), "does not measure"),
        (Q([1, 2], "degC"), "not one number"),
    ],
)
def test_what_is_no_temperature_is_refused_with_what_it_was_for(given, says):
    with pytest.raises(BadQuantity, match=says) as caught:
        read_quantity(given, "the firing", "temperature")
    assert str(caught.value).startswith("the firing")
    assert isinstance(caught.value, ValueError)


def test_the_message_names_units_that_can_be_used():
    with pytest.raises(BadQuantity) as caught:
        read_quantity("11 degC", "water", "mass", "volume")
    assert "kg" in caught.value.nearest
    assert "'25 kg'" in str(caught.value)


@pytest.mark.parametrize("code", sorted(UNITS))
def test_every_unit_of_the_table_comes_back_from_pint(code):
    figure = Figure(2.5, code)
    back = read_quantity(figure.quantity, "it", UNITS[code].dimension)
    assert back.to(code).value == pytest.approx(2.5)


def test_a_pint_unit_outside_the_table_is_converted():
    assert read_quantity(Q(3, "stone"), "amount", "mass").to("kg").value == pytest.approx(19.05088)


def test_a_quantity_of_another_registry_is_read():
    other = pint.UnitRegistry()
    assert read_quantity(other.Quantity(25, "kg"), "amount", "mass") == Figure(25, "kg")


@given(st.floats(-200, 3000), st.sampled_from(["Cel", "[degF]", "K"]))
def test_a_point_survives_the_way_there_and_back(value, code):
    assert Figure(value, code).to("degF").to(code).value == pytest.approx(value, abs=1e-9)


def test_a_range_gives_quantities_only_for_what_is_known():
    found = Range.from_json({"low": 0.2, "typical": None, "high": 0.4, "unit": "W/(m.K)"})
    assert found.magnitudes == Magnitudes(0.2, None, 0.4)
    assert found.typical is None
    assert found.high.to("mW/(m*K)").magnitude == pytest.approx(400)
    assert found.low.units == U.Unit("W/m/K")


def test_a_range_converts_by_the_unit_table():
    found = Range(Magnitudes(500, 600, None), "kg/m3", "interval", 0.9).to("pcf")
    assert found.unit == "[lb_av]/[cft_i]"
    assert found.magnitudes.low == pytest.approx(31.2139, rel=1e-5)
    assert found.magnitudes.high is None
    assert (found.kind, found.coverage) == ("interval", 0.9)


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ((0.2, 0.3, 0.4), "0.2 to 0.4 W/(m·K), typical 0.3"),
        ((None, 0.3, None), "0.3 W/(m·K)"),
        ((0.2, None, None), "at least 0.2 W/(m·K)"),
        ((None, None, 0.4), "at most 0.4 W/(m·K)"),
        ((0.2, 0.2, 0.2), "0.2 W/(m·K)"),
        ((None, None, None), "- W/(m·K)"),
    ],
)
def test_a_range_reads_as_a_person_says_it(numbers, text):
    assert str(Range(Magnitudes(*numbers), "W/(m.K)")) == text


def test_a_unit_this_version_does_not_know_still_gives_plain_numbers():
    found = Range.from_json({"low": 1, "typical": 2, "high": 3, "unit": "[smoot]"})
    assert found.magnitudes.typical == 2
    with pytest.raises(BadQuantity, match="plain numbers"):
        _ = found.typical


def test_a_range_is_frozen():
    found = Range(Magnitudes(1, 2, 3), "kg")
    with pytest.raises(AttributeError):
        found.unit = "g"
