"""Answers on properties: which condition, what at which temperature, and that nothing is lost."""

from __future__ import annotations

import math

import pytest

from hotface_api.catalogue.conditions import condition_of
from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.properties import Asked, answer_rows, property_answer
from support.catalogue_rows import ZERO, conductivity, limit, made_up_reference, value

MADE_UP = made_up_reference()


def answer(rows, name="thermal_conductivity", **asked):
    return answer_rows(rows, MADE_UP, "grog", name, Asked(**asked))


def at(*celsius):
    return tuple(each + ZERO for each in celsius)


def test_a_hole_is_an_answer():
    found = answer([], at=at(600))
    assert found.range is None
    assert found.condition is None
    assert found.reason == "Nothing is held on thermal conductivity of grog."
    assert found.points[0].range is None


def test_a_condition_not_held_names_what_is():
    found = answer([conductivity(0.3)], form="heap")
    assert found.range is None
    assert "body, dried" in found.reason
    assert len(found.others) == 1


def test_the_canonical_condition_comes_first_and_the_rest_stand_beside():
    rows = [
        conductivity(0.3),
        conductivity(0.5, state="air-dry", origin="a"),
        conductivity(0.5, state="air-dry", origin="b"),
    ]
    found = answer(rows)
    assert found.condition.state == "dried"
    assert [other.condition.state for other in found.others] == ["air-dry"]
    assert len(found.others[0].summary.votes) == 2


def test_else_the_condition_with_most_origins():
    rows = [
        conductivity(0.3, state="air-dry"),
        conductivity(0.5, state="saturated", origin="a"),
        conductivity(0.5, state="saturated", origin="b"),
    ]
    assert answer(rows).condition.state == "saturated"


def test_a_cited_condition_goes_before_a_recalled_canonical_one():
    rows = [
        conductivity(0.3, basis="memory", source=None, origin=None),
        conductivity(0.5, state="air-dry"),
    ]
    assert answer(rows).condition.state == "air-dry"


def test_a_limit_with_a_partner_is_not_the_material_s_own():
    rows = [limit(600, form="body", **{"with": "sand"}), limit(1050, form="heap")]
    assert answer(rows, "service_limit").condition.with_ is None
    asked = answer(rows, "service_limit", with_="sand")
    assert asked.condition.with_ == "sand"


def test_a_partner_named_by_family_is_found_by_its_grade():
    rows = [limit(600, form="body", **{"with": "cement"})]
    assert answer(rows, "service_limit", with_="cement-a").condition.with_ == "cement"
    assert answer(rows, "service_limit", with_="sand").condition is None


def test_a_partner_without_a_family_is_not_answered_with_nobody_s_figure():
    rows = [limit(1200, form="body"), limit(600, form="body", **{"with": "sand"})]
    assert answer(rows, "service_limit", with_="sand").condition.with_ == "sand"
    assert answer(rows, "service_limit", with_="fibre").condition is None


def test_state_and_form_are_as_asked():
    rows = [conductivity(0.3), conductivity(0.5, state="air-dry"), conductivity(2.0, form="solid")]
    assert answer(rows, state="air-dry").range.typical == pytest.approx(0.5)
    assert answer(rows, form="solid").range.typical == pytest.approx(2.0)


def test_without_a_curve_values_speak_for_their_own_temperature():
    rows = [conductivity(0.3, origin="a"), conductivity(0.6, 1000, origin="b")]
    room, middle, hot = answer(rows, at=at(20, 600, 1010)).points
    assert room.range.typical == pytest.approx(0.3)
    assert middle.range is None
    assert "no curve" in middle.reason
    assert hot.range.typical == pytest.approx(0.6)


def test_without_a_curve_the_range_is_the_room_range_and_the_rest_is_told():
    far = conductivity(0.6, 1000, origin="b")
    found = answer([conductivity(0.3, origin="a"), far])
    assert found.range.typical == pytest.approx(0.3)
    assert found.temperature == (283.15, 308.15)
    assert found.summary.left_out == ((far["id"], "holds at 1000 Cel, not where the range does"),)


def test_where_no_room_value_is_held_the_lowest_temperature_answers():
    found = answer([conductivity(0.3, 400), conductivity(0.6, 1000)])
    assert found.range.typical == pytest.approx(0.3)
    assert found.temperature == (400 + ZERO, 400 + ZERO)


def test_bounds_at_room_do_not_hide_values_elsewhere():
    found = answer([conductivity(0.1, 20, bound="at_most"), conductivity(0.3, 400)])
    assert found.range.typical == pytest.approx(0.3)


def test_extrapolation_without_a_curve_is_marked():
    (point,) = answer([conductivity(0.3)], at=at(600), extrapolate=True).points
    assert point.extrapolated
    assert point.range.typical == pytest.approx(0.3)


def test_a_curve_answers_points_and_band():
    rows = [conductivity(k, t, specimen="s") for t, k in ((20, 0.3), (1000, 0.6))]
    found = answer(rows)
    assert found.points is None
    assert found.band[0].range.typical == pytest.approx(found.range.typical, rel=0.01)
    (point,) = answer(rows, at=at(1000)).points
    assert point.range.typical == pytest.approx(0.6)


def test_a_property_that_does_not_vary_says_so():
    row = value(property="loose_bulk_density", typical=400.0, form="heap")
    (point,) = answer([row], "loose_bulk_density", at=at(600)).points
    assert point.range.typical == pytest.approx(400)
    assert "not given over temperature" in point.reason


def test_the_derivation_says_how():
    rows = [conductivity(k, t, specimen="s") for t, k in ((25, 0.3), (1000, 0.6))]
    text = answer([*rows, conductivity(0.3, origin="b")]).derivation.text
    assert text.startswith("2 origins; spread between origins taken as a factor of ")
    assert "1 value states no temperature: taken as holding at room temperature" in text
    linear = answer([limit(1000)], "service_limit").derivation.text
    assert linear == "1 origin; spread between origins taken as 25 K, at least 25 K."


# --- on the whole data set


@pytest.fixture(scope="module")
def everything(database, reference):
    """Give all values by material and property."""
    with database.read() as connection:
        rows = material_rows(connection, reference, reference.materials, reference.properties)
    grouped = {}
    for row in rows:
        grouped.setdefault((row["material"], row["property"]), []).append(row)
    return grouped


@pytest.fixture(scope="module")
def answers(everything, reference):
    return {key: answer_rows(rows, reference, *key, Asked()) for key, rows in everything.items()}


def test_every_value_is_used_or_left_out_under_one_condition(everything, answers, reference):
    for key, found in answers.items():
        parts = [(found.condition, found.summary)]
        parts += [(other.condition, other.summary) for other in found.others]
        told = []
        for condition, summary in parts:
            here = [use.value for use in summary.used]
            here += [identity for identity, _ in summary.left_out]
            members = {
                row["id"]
                for row in everything[key]
                if condition_of(row, reference.properties[key[1]]) == condition
            }
            assert set(here) == members, key
            told += here
        assert sorted(told) == sorted(row["id"] for row in everything[key]), key


def test_every_number_is_finite_and_in_order(answers):
    for key, found in answers.items():
        ranges = [found.range, *(o.summary.interval for o in found.others)]
        ranges += [point.range for point in found.band or ()]
        for each in ranges:
            if each is not None:
                assert all(map(math.isfinite, (each.low, each.typical, each.high))), key
                assert each.low <= each.typical <= each.high, key


def test_weights_add_up_to_one(answers):
    for key, found in answers.items():
        if found.summary.used:
            total = sum(use.weight for use in found.summary.used)
            assert total == pytest.approx(1.0), key


def test_no_interval_is_a_point(answers, reference):
    for (material, name), found in answers.items():
        row = reference.properties[name]
        held_at_edge = found.range is not None and found.range.low == found.range.high
        if held_at_edge and row["spread_floor"]:
            assert row["minimum"] is not None or row["maximum"] is not None, material


def test_range_and_band_agree_where_the_band_starts(answers):
    with_band = [found for found in answers.values() if found.band and found.temperature]
    assert len(with_band) > 50
    for found in with_band:
        start = found.band[0].temperature
        if found.temperature[0] <= start <= found.temperature[1]:
            assert found.range.typical == pytest.approx(found.band[0].range.typical, rel=0.05)


@pytest.mark.parametrize(
    ("material", "name", "low", "high"),
    [  # what the trade expects, wide: the interval has to touch it
        ("corundum", "specific_heat_capacity", 750, 800),
        ("corundum", "thermal_conductivity", 28, 45),
        ("expanded-perlite", "loose_bulk_density", 50, 150),
        ("exfoliated-vermiculite", "thermal_conductivity", 0.055, 0.08),
        ("expanded-clay", "particle_density", 600, 1200),
        ("portland-cement", "true_density", 3050, 3200),
        ("cac-40", "true_density", 3150, 3300),
        ("fireclay-brick", "thermal_conductivity", 0.8, 1.4),
    ],
)
def test_answers_are_of_the_size_the_trade_knows(database, reference, material, name, low, high):
    with database.read() as connection:
        found = property_answer(connection, reference, material, name)
    assert found.range.low < high
    assert found.range.high > low
    assert low * 0.8 < found.range.typical < high * 1.25


def test_one_statement_an_answer(database, reference, statements):
    with database.read() as connection, statements(database) as counted:
        property_answer(connection, reference, "exfoliated-vermiculite", "thermal_conductivity")
    assert len(counted) == 1


def test_nothing_is_lent_from_a_brick_to_an_aggregate(database, reference):
    with database.read() as connection:
        found = property_answer(connection, reference, "chamotte", "thermal_conductivity")
    assert found.range is None
    assert found.citations == ()
