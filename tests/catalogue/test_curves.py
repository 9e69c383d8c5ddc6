"""A property over temperature, on made-up rows."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.catalogue.curves import ROOM, curve_of, holds_near, is_room
from support.catalogue_rows import (
    PROPERTIES,
    ZERO,
    conductivity,
    made_up_reference,
    searched,
    value,
)

REFERENCE = made_up_reference()


def curve(rows, name="thermal_conductivity", coverage=0.9):
    return curve_of(rows, PROPERTIES[name], REFERENCE, coverage)


def series(points, specimen="s", **given):
    return [conductivity(k, t, specimen=specimen, **given) for t, k in points]


def typical(found, celsius):
    return found.at([celsius + ZERO])[0].range.typical


def test_no_series_no_curve():
    assert curve([conductivity(0.3), conductivity(0.4, 800)]) is None


def test_a_series_comes_back_as_it_is():
    found = curve(series([(200, 0.2), (600, 0.3), (1000, 0.5)]))
    for celsius, k in ((200, 0.2), (600, 0.3), (1000, 0.5)):
        assert typical(found, celsius) == pytest.approx(k)
    assert typical(found, 400) == pytest.approx(math.sqrt(0.2 * 0.3))
    assert found.span == (200 + ZERO, 1000 + ZERO)


def test_inside_the_evidence_only():
    found = curve(series([(200, 0.2), (1000, 0.5)]))
    below, above = found.at([100 + ZERO, 1100 + ZERO])
    assert below.range is None
    assert above.range is None
    assert above.reason == "the evidence spans 200 to 1000 Cel"


def test_extrapolation_is_marked_and_wider():
    found = curve(series([(200, 0.2), (1000, 0.5)]))
    (inside,) = found.at([1000 + ZERO])
    (outside,) = found.at([1200 + ZERO], extrapolate=True)
    assert outside.extrapolated
    assert not inside.extrapolated
    assert outside.range.typical == pytest.approx(0.5)
    width = [math.log(p.range.high / p.range.low) for p in (inside, outside)]
    assert width[1] == pytest.approx(2 * width[0])
    assert "nearest end" in outside.reason


def test_undated_values_enter_as_room_values_and_are_counted():
    found = curve(
        [
            *series([(25, 0.2), (1000, 0.5)], origin="a"),
            conductivity(0.4, origin="b"),
        ]
    )
    assert found.room_values == 1
    assert found.origins == 2
    assert typical(found, 25) == pytest.approx(math.sqrt(0.2 * 0.4), rel=0.01)


def test_room_temperature_is_one_place():
    found = curve(series([(27, 0.2), (1000, 0.5)]))
    for celsius in (10, 20, 35):
        (point,) = found.at([celsius + ZERO])
        assert point.range is not None
        assert not point.extrapolated
    assert found.at([9 + ZERO])[0].range is None


def test_no_jump_where_a_series_ends():
    rows = [
        *series([(100, 0.6), (500, 0.7)], "short", origin="a"),
        *series([(100, 0.2), (500, 0.25), (520, 0.2525), (1000, 0.4)], "long", origin="b"),
    ]
    found = curve(rows)
    before, after = typical(found, 499), typical(found, 506)
    assert after / before == pytest.approx(1.0, abs=0.02)


def test_one_vote_an_origin_however_many_series():
    shape = [(100, 0.2), (900, 0.2)]
    many = [row for i in range(9) for row in series(shape, f"s{i}", origin="a")]
    one = series([(100, 0.4), (900, 0.4)], "t", origin="b")
    assert typical(curve([*many, *one]), 500) == pytest.approx(math.sqrt(0.2 * 0.4))


def test_the_step_of_quartz_is_kept():
    def strain(celsius, percent, specimen, origin):
        return value(
            property="thermal_strain",
            typical=percent / 100,
            form="solid",
            specimen=specimen,
            temperature_low=celsius + ZERO,
            temperature_high=celsius + ZERO,
            origin=origin,
        )

    fine = [(20, 0.0), (571, 0.9), (575, 1.35), (900, 1.3)]
    coarse = [(20, 0.0), (500, 0.75), (700, 1.3), (900, 1.25)]
    rows = [strain(t, e, "fine", "a") for t, e in fine]
    rows += [strain(t, e, "coarse", "b") for t, e in coarse]
    found = curve(rows, "thermal_strain")
    step = typical(found, 575) - typical(found, 571)
    assert step == pytest.approx(0.0045, abs=2e-4)
    assert abs(typical(found, 565) - typical(found, 560)) < 2e-4


def test_range_and_curve_agree():
    rows = [*series([(25, 0.2), (1000, 0.5)], origin="a"), conductivity(0.3, 20, origin="b")]
    found = curve(rows)
    start, about = found.start()
    assert about == ROOM
    assert found.summary().interval == found.at([start])[0].range


def test_the_answer_starts_at_the_low_end_where_no_room_value_is_held():
    found = curve(series([(400, 0.2), (1000, 0.5)]))
    assert found.start() == (400 + ZERO, (400 + ZERO, 400 + ZERO))
    assert found.summary().observed.low == 0.2


def test_a_curve_stays_inside_what_can_be():
    rows = [
        value(
            property="emissivity",
            typical=e,
            specimen="s",
            temperature_low=t + ZERO,
            temperature_high=t + ZERO,
        )
        for t, e in ((20, 0.98), (1000, 0.9))
    ]
    for point in curve(rows, "emissivity").at([20 + ZERO, 500 + ZERO, 1000 + ZERO]):
        assert point.range.high <= 1.0


def test_the_grid_has_the_ends_and_even_hundreds():
    found = curve(series([(150, 0.2), (620, 0.5)]))
    grid = [round(t - ZERO, 6) for t in found.grid()]
    assert grid == [150, 200, 300, 400, 500, 600, 620]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(None, None, True), (10, 35, True), (20, 20, True), (20, 100, False), (400, 400, False)],
)
def test_what_counts_as_room(low, high, expected):
    ends = [None if t is None else t + ZERO for t in (low, high)]
    row = value(typical=1.0, temperature_low=ends[0], temperature_high=ends[1])
    assert is_room(row) is expected


def test_a_value_speaks_for_its_own_temperature():
    row = conductivity(0.3, 400)
    assert holds_near(row, 425 + ZERO)
    assert not holds_near(row, 426 + ZERO)
    undated = conductivity(0.3)
    assert holds_near(undated, 20 + ZERO)
    assert not holds_near(undated, 50 + ZERO)


points = st.lists(
    st.tuples(st.integers(0, 1500), st.floats(0.02, 20.0)),
    min_size=2,
    max_size=6,
    unique_by=lambda point: point[0],
).filter(lambda found: max(found)[0] - min(found)[0] > 5)


@st.composite
def evidence(draw):
    rows = []
    for number in range(draw(st.integers(1, 3))):
        origin = draw(st.sampled_from("abc"))
        rows += series(draw(points), f"s{number}", origin=origin)
    for _ in range(draw(st.integers(0, 4))):
        celsius = draw(st.one_of(st.none(), st.integers(0, 1500)))
        rows.append(
            conductivity(draw(st.floats(0.02, 20.0)), celsius, origin=draw(st.sampled_from("abcd")))
        )
    return rows


@searched
@given(evidence(), st.integers(-100, 2000))
def test_never_a_nan_and_always_in_order(rows, celsius):
    found = curve(rows)
    for point in found.at([celsius + ZERO, *found.grid()], extrapolate=True):
        ends = (point.range.low, point.range.typical, point.range.high)
        assert all(map(math.isfinite, ends))
        assert ends == tuple(sorted(ends))


@searched
@given(evidence())
def test_every_value_of_the_curve_is_used_once(rows):
    found = curve(rows).summary()
    told = [use.value for use in found.used] + [key for key, _ in found.left_out]
    assert sorted(told) == sorted(row["id"] for row in rows)
    assert sum(use.weight for use in found.used) == pytest.approx(1.0)


@searched
@given(evidence())
def test_a_small_step_in_temperature_is_a_small_step_in_value(rows):
    """Between its knots the curve is continuous: no jump from kelvin to kelvin beyond its slope."""
    found = curve(rows)
    low, high = found.span
    for t in found.grid()[:-1]:
        here, there = found.at([t, min(t + 1e-9 * (high - low + 1), high)])
        assert there.range.typical == pytest.approx(here.range.typical, rel=1e-3)
