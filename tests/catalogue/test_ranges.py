"""From values of one condition to a range, on made-up rows."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface_api.catalogue.ranges import row_spread, scale_of, summarise
from support.catalogue_rows import (
    PROPERTIES,
    ZERO,
    conductivity,
    limit,
    made_up_reference,
    searched,
    value,
)

REFERENCE = made_up_reference()
CONDUCTIVITY = PROPERTIES["thermal_conductivity"]


def summary(rows, name="thermal_conductivity", **options):
    return summarise(rows, PROPERTIES[name], REFERENCE, **options)


def test_one_origin_gives_an_interval_of_honest_width():
    found = summary([conductivity(0.3)])
    assert found.observed.low == found.observed.high == 0.3
    assert found.interval.typical == pytest.approx(0.3)
    assert found.interval.high / found.interval.low > 2
    assert found.interval.coverage == 0.9
    assert len(found.votes) == 1


def test_one_vote_an_origin():
    many = [conductivity(0.2, origin="a") for _ in range(20)]
    found = summary([*many, conductivity(0.4, origin="b")])
    assert found.interval.typical == pytest.approx(math.sqrt(0.2 * 0.4))
    assert len(found.votes) == 2


def test_weight_goes_by_source_type():
    rows = [
        conductivity(0.2, origin="a", source="journal"),
        conductivity(0.4, origin="b", source="supplier"),
    ]
    found = summary(rows)
    share = {use.origin: use.weight for use in found.used}
    assert share["a"] / share["b"] == pytest.approx(1.0 / 0.4)
    assert sum(share.values()) == pytest.approx(1.0)
    assert found.interval.typical < math.sqrt(0.2 * 0.4)


def test_the_best_place_an_origin_is_seen_in_sets_its_weight():
    rows = [
        conductivity(0.2, origin="a", source="web"),
        conductivity(0.2, origin="a", source="handbook"),
    ]
    assert summary(rows).votes[0].weight == 1.0


def test_a_contributed_measurement_counts_like_a_report():
    row = conductivity(0.2, basis="measured", source=None, contributor="someone")
    assert summary([row]).votes[0].weight == 0.8


def test_a_range_spreads_inside_its_origin():
    narrow = summary([conductivity(0.3)]).interval
    wide = summary([value(property="thermal_conductivity", low=0.2, high=0.45)]).interval
    assert wide.typical == pytest.approx(0.3)
    assert wide.high > narrow.high
    assert wide.low < 0.2


def test_a_typical_figure_inside_a_range_is_the_centre():
    row = value(property="thermal_conductivity", low=0.2, typical=0.25, high=0.45)
    assert summary([row]).interval.typical == pytest.approx(0.25)


def test_a_stated_uncertainty_widens_the_interval():
    plain = summary([conductivity(0.3)]).interval
    told = summary([conductivity(0.3, uncertainty_standard=0.09)]).interval
    assert told.high > plain.high
    spread = row_spread(conductivity(0.3, uncertainty_standard=0.09), scale_of(CONDUCTIVITY))
    assert spread == pytest.approx(0.3)


def test_bounds_bound_and_have_no_midpoint():
    found = summary([conductivity(0.3), conductivity(0.1, bound="at_least", origin="b")])
    assert found.interval.typical == pytest.approx(0.3)
    assert [reason for _, reason in found.left_out] == ["a floor bounds and has no midpoint"]


def test_only_bounds_give_an_envelope_and_no_interval():
    rows = [conductivity(0.2, bound="at_least"), conductivity(0.6, bound="at_most")]
    found = summary(rows)
    assert found.interval is None
    assert (found.observed.low, found.observed.high) == (0.2, 0.6)
    assert "one-sided" in found.reason
    assert len(found.left_out) == 2


def test_memory_counts_only_where_nothing_better_is_held():
    recalled = conductivity(0.9, basis="memory", source=None, origin=None)
    alone = summary([recalled])
    assert alone.unverified
    assert alone.used[0].origin is None
    beside = summary([recalled, conductivity(0.3)])
    assert not beside.unverified
    assert beside.interval.typical == pytest.approx(0.3)
    assert beside.left_out == ((recalled["id"], "from memory; cited values are held"),)


def test_nothing_below_zero_on_a_logarithmic_scale():
    found = summary([conductivity(0.0), conductivity(0.3)])
    assert found.interval.typical == pytest.approx(0.3)
    assert "logarithmic" in found.left_out[0][1]


def test_an_interval_stays_inside_what_can_be():
    row = value(property="oxide_Al2O3", low=0.92, high=1.0, form="solid")
    found = summary([row], "oxide_Al2O3").interval
    assert found.high == 1.0
    emissivity = value(property="emissivity", typical=0.97)
    assert summary([emissivity], "emissivity").interval.high == 1.0


def test_a_linear_floor_is_in_the_output_unit():
    assert scale_of(PROPERTIES["oxide_Al2O3"]).floor == pytest.approx(0.01)
    assert scale_of(PROPERTIES["service_limit"]).floor == pytest.approx(25.0)


def test_temperatures_are_averaged_as_points():
    rows = [limit(1000, origin="a"), limit(1100, origin="b")]
    found = summary(rows, "service_limit").interval
    assert found.typical == pytest.approx(1050 + ZERO)


def test_unlike_events_are_listed_and_not_averaged():
    rows = [
        limit(573, role="event", event_kind="other", property="transformation_temperature"),
        limit(870, role="event", event_kind="other", property="transformation_temperature"),
    ]
    found = summary(rows, "transformation_temperature")
    assert found.interval is None
    assert "listed" in found.reason
    assert len(found.used) == 2
    assert (found.observed.low, found.observed.high) == (573 + ZERO, 870 + ZERO)


def test_an_ordinal_scale_has_no_interval():
    rows = [
        value(property="pyrometric_cone_equivalent", typical=32.0, role="test_class", origin="a"),
        value(property="pyrometric_cone_equivalent", typical=33.0, role="test_class", origin="b"),
    ]
    found = summary(rows, "pyrometric_cone_equivalent")
    assert found.interval is None
    assert (found.observed.low, found.observed.high) == (32, 33)
    assert len(found.votes) == 2


def agreeing(count):
    return [conductivity(0.3 * (1 + 0.02 * i), origin=f"o{i}") for i in range(count)]


def test_an_outlier_is_named_from_eight_origins_on_and_never_hidden():
    far = conductivity(9.0, origin="far")
    assert summary([*agreeing(6), far]).outliers == ()
    found = summary([*agreeing(7), far])
    assert found.outliers == (far["id"],)
    assert far["id"] in {use.value for use in found.used}
    assert found.observed.high == 9.0


def test_no_outlier_among_those_that_agree():
    assert summary(agreeing(12)).outliers == ()


figures = st.floats(0.02, 30.0)


@st.composite
def rows_of_one_condition(draw):
    rows = []
    for _ in range(draw(st.integers(1, 10))):
        low = draw(figures)
        recalled = draw(st.integers(0, 5)) == 0
        ends = {"typical": low} if draw(st.booleans()) else {"low": low, "high": low * 1.4}
        rows.append(
            value(
                property="thermal_conductivity",
                **ends,
                bound=draw(st.sampled_from(["is", "is", "is", "at_least", "at_most"])),
                basis="memory" if recalled else "read",
                source=None if recalled else "journal",
                origin=None if recalled else draw(st.sampled_from("abcd")),
            )
        )
    return rows


@searched
@given(rows_of_one_condition())
def test_every_row_is_used_once_or_left_out_with_a_reason(rows):
    found = summary(rows)
    told = [use.value for use in found.used] + [key for key, _ in found.left_out]
    assert sorted(told) == sorted(row["id"] for row in rows)
    assert all(reason for _, reason in found.left_out)
    if found.used:
        assert sum(use.weight for use in found.used) == pytest.approx(1.0)


@searched
@given(rows_of_one_condition(), st.randoms(use_true_random=False))
def test_row_order_does_not_matter(rows, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    here, there = summary(rows).interval, summary(shuffled).interval
    assert (here is None) == (there is None)
    if here is not None:
        assert there.low == pytest.approx(here.low, rel=1e-9)
        assert there.high == pytest.approx(here.high, rel=1e-9)


@searched
@given(rows_of_one_condition(), st.floats(0.5, 0.99), st.floats(0.5, 0.99))
def test_more_coverage_is_never_narrower(rows, one, other):
    low, high = sorted((one, other))
    narrow, wide = (summary(rows, coverage=each).interval for each in (low, high))
    if narrow is not None:
        assert wide.low <= narrow.low * (1 + 1e-9)
        assert wide.high >= narrow.high * (1 - 1e-9)
        assert narrow.low <= narrow.typical <= narrow.high
        assert all(map(math.isfinite, (wide.low, wide.typical, wide.high)))


@searched
@given(st.floats(0.01, 10.0), st.floats(0.1, 10.0))
def test_another_unit_gives_the_same_interval(typical, factor):
    """A logarithmic scale knows no unit."""
    here = summary([conductivity(typical)]).interval
    there = summary([conductivity(typical * factor)]).interval
    assert there.typical / here.typical == pytest.approx(factor)
