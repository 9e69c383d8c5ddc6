"""How limit rows are sorted and combined, on made-up rows."""

from __future__ import annotations

import math

import pytest

from hotface_api.catalogue.limits import onset_edges, sort_limits, use_edges
from support.catalogue_rows import ZERO, limit, onset


def sort(*rows, partner=None, load=False, place=None):
    return sort_limits(rows, partner=partner, load=load, place=place)


def celsius(*kelvins):
    return tuple(round(kelvin - ZERO, 6) for kelvin in kelvins)


def test_one_origin_gives_its_own_figures(made_up):
    edge = use_edges([limit(900, 1200)], made_up)
    assert celsius(edge.low, edge.high) == (900, 1200)
    assert edge.origins == 1


def test_a_text_that_repeats_itself_counts_once(made_up):
    rows = [limit(900, origin="a"), *(limit(1200, origin="b") for _ in range(9))]
    edge = use_edges(rows, made_up)
    assert edge.origins == 2
    assert celsius(edge.low, edge.high) == (900, 1200)


def test_a_standard_outweighs_a_web_page(made_up):
    rows = [limit(800, origin="a", source="web"), limit(1050, origin="b", source="standard")]
    assert celsius(use_edges(rows, made_up).low) == (1050,)


def test_the_low_edge_is_no_minimum(made_up):
    rows = [limit(t, origin=str(t)) for t in (600, 1000, 1010, 1020, 1030, 1040)]
    assert celsius(use_edges(rows, made_up).low) == (1000,)


def test_a_floor_pulls_nothing_down(made_up):
    rows = [limit(1000, origin="a"), limit(454, origin="b", bound="at_least")]
    assert celsius(use_edges(rows, made_up).low) == (1000,)


def test_only_floors_leave_the_top_open(made_up):
    edge = use_edges([limit(700, bound="at_least")], made_up)
    assert celsius(edge.low) == (700,)
    assert edge.high == math.inf


def test_only_ceilings_leave_the_bottom_open(made_up):
    edge = use_edges([limit(900, bound="at_most")], made_up)
    assert edge.low == -math.inf
    assert celsius(edge.high) == (900,)
    assert edge.supports == ()


def test_a_ceiling_pulls_the_low_edge_down(made_up):
    rows = [limit(1100, origin="a"), limit(900, origin="b", bound="at_most")]
    assert celsius(use_edges(rows, made_up).low) == (900,)


def test_support_is_what_an_origin_itself_carries(made_up):
    rows = [
        limit(1000, origin="a"),
        limit(950, origin="a"),
        limit(900, 1200, origin="b"),
        limit(1300, origin="c", bound="at_most"),
        limit(800, origin="d", source="standard"),
    ]
    edge = use_edges(rows, made_up)
    carried = {each.origin: celsius(each.up_to)[0] for each in edge.supports}
    assert carried == {"a": 950, "b": 900, "d": 800}
    assert [each.origin for each in edge.carried_by(940 + ZERO)] == ["a"]
    assert [each.origin for each in edge.supports if each.standard] == ["d"]


def test_nothing_gives_nothing(made_up):
    assert use_edges([], made_up) is None
    assert onset_edges([], made_up) == []


def test_memory_serves_only_where_nothing_else_is_held():
    recalled = limit(600, basis="memory", source=None, origin=None)
    assert sort(recalled).use == (recalled,)
    cited = limit(1000)
    sorted_ = sort(recalled, cited)
    assert sorted_.use == (cited,)
    assert sorted_.aside == ((recalled, "from memory; cited limits are held"),)


@pytest.mark.parametrize(
    ("row", "asked"),
    [
        (limit(1000, role="test_class"), {}),
        (limit(1000, **{"with": "sand"}), {}),
        (limit(1000, **{"with": "sand"}), {"partner": "cement-a"}),
        (limit(1000, atmosphere="reducing"), {}),
        (onset(800, load=2e5), {}),
        (limit(1000, form="heap"), {"place": "face"}),
        (limit(1000, place="behind"), {"place": "face"}),
        (limit(1000, place="face"), {"place": "behind"}),
    ],
)
def test_rows_that_do_not_speak_to_the_question_stand_aside(row, asked):
    sorted_ = sort(row, **asked)
    assert (sorted_.use, sorted_.onsets, sorted_.events) == ((), (), ())
    assert sorted_.aside[0][0] is row


@pytest.mark.parametrize(
    ("row", "asked"),
    [
        (limit(1000, **{"with": "sand"}), {"partner": "sand"}),
        (limit(1000, atmosphere="air"), {}),
        (onset(800, load=2e5), {"load": True}),
        (limit(1000, form="heap"), {"place": "behind"}),
        (limit(1000, place="behind"), {}),
        (onset(2000, property="melting_temperature", load=2e5), {}),
    ],
)
def test_rows_that_speak_to_the_question_are_kept(row, asked):
    assert not sort(row, **asked).aside


def test_a_limit_with_the_partner_stands_in_for_the_general_one():
    general, paired = limit(1200), limit(500, **{"with": "sand"})
    assert sort(general, paired, partner="sand").use == (paired,)
    assert sort(general, paired).use == (general,)


def test_a_floor_with_the_partner_joins_the_general_ones():
    general, held = limit(1200), limit(1000, bound="at_least", **{"with": "sand"})
    assert set(map(id, sort(general, held, partner="sand").use)) == {id(general), id(held)}


def test_an_onset_spans_from_the_first_sign_to_the_median_end(made_up):
    rows = [onset(900, origin="a"), onset(871, 1093, origin="b"), onset(1000, 1100, origin="c")]
    (edge,) = onset_edges(rows, made_up)
    assert celsius(edge.low, edge.high) == (871, 1093)


def test_a_decomposition_is_done_when_it_has_begun(made_up):
    (edge,) = onset_edges([onset(600, 900, property="decomposition_temperature")], made_up)
    assert celsius(edge.low, edge.high) == (600, 600)


def test_an_onset_that_is_a_floor_has_no_end(made_up):
    (edge,) = onset_edges([onset(1300, bound="at_least")], made_up)
    assert celsius(edge.low) == (1300,)
    assert edge.high == math.inf


def test_onsets_of_unlike_kinds_stay_apart(made_up):
    rows = [onset(900), onset(1300, property="melting_temperature"), onset(850, form="heap")]
    assert len(onset_edges(rows, made_up)) == 3
