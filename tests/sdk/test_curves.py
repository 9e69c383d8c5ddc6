"""Curves as functions for other programs."""

import pickle

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface import BadQuantity, Curve, CurveFunction, Magnitudes, NoAnswer, OutsideSpan, Range

Q = pint.get_application_registry().Quantity
TEMPERATURES = (20.0, 200.0, 573.0, 573.0, 600.0, 800.0)
TYPICAL = (0.1, 0.2, 0.3, 0.5, 0.6, 0.8)


@pytest.fixture
def curve():
    low = tuple(value - 0.05 for value in TYPICAL)
    high = (0.2, 0.3, None, None, 0.7, 0.9)
    return Curve(TEMPERATURES, low, TYPICAL, high, "W/(m.K)")


def test_it_is_linear_between_its_points(curve):
    k = curve.function()
    assert k(110) == pytest.approx(0.15)
    assert k(20) == 0.1
    assert k(800) == 0.8
    assert isinstance(k(110), float)


def test_a_step_holds_its_upper_value_from_its_temperature_on(curve):
    k = curve.function()
    assert k(572.999999) == pytest.approx(0.3)
    assert k(573) == 0.5
    assert k(np.array([573.0]))[0] == 0.5


@given(st.lists(st.floats(20, 800), min_size=1, max_size=30))
def test_scalar_array_and_list_agree(asked):
    k = Curve(TEMPERATURES, TYPICAL, TYPICAL, TYPICAL, "W/(m.K)").function()
    scalars = [k(one) for one in asked]
    assert k(np.array(asked)).tolist() == pytest.approx(scalars, rel=1e-12)
    assert k(asked) == scalars


def test_an_array_keeps_its_shape(curve):
    k = curve.function()
    assert k(np.full((2, 3), 200)).shape == (2, 3)
    assert k(np.float32(200)) == pytest.approx(0.2)
    assert k(np.array(200)) == pytest.approx(0.2)


def test_quantities_come_back_as_quantities(curve):
    k = curve.function()
    for asked in ("200 degC", (200, "degC"), Q(200, "degC"), Q(392, "degF"), Q(473.15, "K")):
        assert k(asked).to("W/m/K").magnitude == pytest.approx(0.2)
    many = k(Q(np.array([293.15, 473.15]), "K"))
    assert many.to("mW/m/K").magnitude == pytest.approx([100, 200])


@pytest.mark.parametrize("asked", [19.9, 801, float("nan"), "900 degC", Q(1200, "K"), [200, 900]])
def test_outside_its_evidence_it_raises(curve, asked):
    with pytest.raises(OutsideSpan, match="20 to 800 °C"):
        curve.function()(asked)
    with pytest.raises(OutsideSpan):
        curve.function()(np.array([200, float("nan")]))


def test_it_clamps_only_when_told(curve):
    k = curve.function("clamp")
    assert k(-200) == 0.1
    assert k(2000) == 0.8
    assert k(np.array([-200.0, 110.0, 2000.0])) == pytest.approx([0.1, 0.15, 0.8])
    with pytest.raises(OutsideSpan):
        k(float("nan"))
    with pytest.raises(OutsideSpan):
        k(np.array([float("nan")]))


def test_a_gap_in_the_evidence_is_not_bridged(curve):
    k = curve.function("clamp", which="high")
    assert k(200) == 0.3
    assert k(600) == 0.7
    for asked in (300, 573, np.array([200, 300.0]), "590 degC"):
        with pytest.raises(OutsideSpan, match="gap"):
            k(asked)
    assert k(np.array([20.0, 200.0, 600.0, 700.0])) == pytest.approx([0.2, 0.3, 0.7, 0.8])


def test_plain_numbers_can_be_in_the_units_of_a_solver(curve):
    k = curve.function(temperature_unit="K", unit="mW/(m.K)")
    assert k(473.15) == pytest.approx(200)
    assert k.span == pytest.approx((293.15, 1073.15))
    assert k("200 degC").to("W/m/K").magnitude == pytest.approx(0.2)


@pytest.mark.parametrize("asked", [Q(200, "kg"), Q(200, "delta_degC"), "200 kg", "200", None])
def test_what_is_no_temperature_is_refused(curve, asked):
    with pytest.raises(BadQuantity):
        curve.function()(asked)


def test_wrong_options_are_told(curve):
    with pytest.raises(ValueError, match="raise, clamp, extrapolate"):
        curve.function("guess")
    with pytest.raises(BadQuantity, match="thermal conductivity is wanted"):
        curve.function(unit="kg")


def test_a_line_without_points_is_no_function(curve):
    with pytest.raises(NoAnswer, match="upper_bound"):
        curve.function(which="upper_bound")
    empty = Curve((20.0,), (None,), (None,), (None,), "W/(m.K)")
    with pytest.raises(NoAnswer):
        empty.function()
    assert empty.span is None
    assert str(empty) == "a curve without evidence"


def test_a_value_of_zero_is_a_value():
    strain = Curve((20.0, 500.0), (0.0, 0.1), (0.0, 0.2), (0.0, 0.3), "%")
    assert strain.span == (20.0, 500.0)
    assert strain.function()(20) == 0


def test_a_single_point_is_known_only_there():
    k = Curve((600.0,), (1.0,), (2.0,), (3.0,), "W/(m.K)").function()
    assert k(600) == 2.0
    assert k(np.array([600.0])).tolist() == [2.0]
    with pytest.raises(OutsideSpan):
        k(601)


def test_it_iterates_as_ranges(curve):
    assert list(curve)[1] == (200.0, Range(Magnitudes(0.15000000000000002, 0.2, 0.3), "W/(m.K)"))
    assert len(curve) == 6


def test_points_of_an_answer_are_read_with_their_bounds():
    point = {
        "temperature": {"value": 200, "unit": "Cel"},
        "low": 1,
        "typical": 2,
        "high": 3,
        "lower_bound": 0.5,
        "upper_bound": 4,
    }
    read = Curve.from_points([point], "W/(m.K)", "steps")
    assert (read.lower_bound, read.upper_bound, read.method) == ((0.5,), (4.0,), "steps")
    assert read.rows() == [
        {
            "temperature": 200.0,
            "low": 1.0,
            "typical": 2.0,
            "high": 3.0,
            "lower_bound": 0.5,
            "upper_bound": 4.0,
        }
    ]
    assert read.function(which="upper_bound")(200) == 4


def test_a_function_can_be_sent_to_another_process(curve):
    k = pickle.loads(pickle.dumps(curve.function()))  # noqa: S301 - our own bytes
    assert isinstance(k, CurveFunction)
    assert k(110) == pytest.approx(0.15)


def test_a_notebook_shows_a_table_with_caption_and_headings(curve):
    page = curve._repr_html_()
    assert "<caption>in W/(m·K), temperature in °C</caption>" in page
    assert page.count('scope="col"') == 4
    assert page.count('scope="row"') == 6


def test_outside_it_goes_on_straight_when_told(curve):
    k = curve.function("extrapolate")
    assert k(900) == pytest.approx(0.9)
    assert k(0) == pytest.approx(0.1 - 20 * 0.1 / 180)
    assert k(np.array([0.0, 110.0, 900.0])) == pytest.approx([k(0), 0.15, 0.9])
    assert k("900 degC").to("W/m/K").magnitude == pytest.approx(0.9)
    assert k(500) == curve.function()(500)


def test_going_on_straight_never_leaves_the_sign_of_the_curve(curve):
    k = curve.function("extrapolate")
    with pytest.raises(OutsideSpan, match="leaves the sign"):
        k(-200)
    with pytest.raises(OutsideSpan, match="leaves the sign"):
        k(np.array([110.0, -200.0]))
    shrinking = Curve((20.0, 400.0), (-0.1, -0.3), (-0.1, -0.3), (-0.1, -0.3), "%")
    assert shrinking.function("extrapolate")(800) < -0.3
    with pytest.raises(OutsideSpan):
        shrinking.function("extrapolate")(float("nan"))


def test_a_step_at_the_end_gives_no_slope_and_one_point_none():
    step = Curve((20.0, 573.0, 573.0), *[(0.1, 0.3, 0.5)] * 3, "W/(m.K)")
    assert step.function("extrapolate")(600) == pytest.approx(0.5 + 27 * 0.2 / 553)
    one = Curve((20.0,), (0.1,), (0.2,), (0.3,), "W/(m.K)")
    assert one.function("extrapolate")(20) == 0.2
    with pytest.raises(OutsideSpan, match="no slope"):
        one.function("extrapolate")(21)


@given(st.lists(st.floats(-20, 2000), min_size=1, max_size=30))
def test_extrapolated_scalar_and_array_agree(asked):
    k = Curve(TEMPERATURES, TYPICAL, TYPICAL, TYPICAL, "W/(m.K)").function("extrapolate")
    assert k(np.array(asked)).tolist() == pytest.approx([k(one) for one in asked], rel=1e-12)


def test_a_gap_stays_a_gap(curve):
    high = curve.function("extrapolate", which="high")
    with pytest.raises(OutsideSpan, match="gap"):
        high(400)
    assert high(900) == pytest.approx(1.0)


def test_a_range_at_a_temperature(curve):
    found = curve.at("110 degC")
    assert found.unit == "W/(m.K)"
    assert found.magnitudes == pytest.approx((0.1, 0.15, 0.25))
    assert curve.at(400).magnitudes.high is None
    assert curve.at(400).magnitudes.typical == pytest.approx(curve.function()(400))
    assert curve.at(Q(230, "degF")).magnitudes == pytest.approx((0.1, 0.15, 0.25))
    with pytest.raises(OutsideSpan):
        curve.at(900)
    assert curve.at(900, "clamp").magnitudes.typical == 0.8
    assert curve.at(900, outside="extrapolate").magnitudes.typical == pytest.approx(0.9)
    with pytest.raises(NoAnswer):
        Curve((20.0,), (None,), (None,), (None,), "W/(m.K)").at(20)
