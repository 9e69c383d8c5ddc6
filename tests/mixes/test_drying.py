"""Drying by thickness: only what is printed, with its source, and never as a promise."""

from __future__ import annotations

import re

import pytest

from hotface_api.mixes.drying import PROMISE
from hotface_api.mixes.request import EstimateRequest, Mix, Mould
from support.mixes import DRIED, FIRED, lid, part

HOUR = 3600.0


@pytest.fixture
def dried(ask):
    def run(thickness, mix=None):
        mould = Mould(0.010, 0.1, thickness)
        request = lid(mould=mould) if mix is None else EstimateRequest(mix, DRIED, mould=mould)
        return ask(request).casting.drying

    return run


def test_nothing_is_told_without_a_thickness(ask):
    assert ask(lid(mould=Mould(0.010))).casting.drying is None


@pytest.mark.parametrize(("thickness", "hours"), [(0.025, 1.0), (0.050, 2.0), (0.075, 3.0)])
def test_holds_go_by_thickness_as_printed(dried, thickness, hours):
    """The sheet held as supplier41-nd-dryout, steps 2 and 4: one hour for every 25 mm."""
    holds = [step.hold for step in dried(thickness).steps if step.hold is not None]
    assert holds == pytest.approx([hours * HOUR] * 2)


def test_the_quickest_the_sheet_allows_is_added_up(dried):
    """56 K/h to 149 Cel, 2 h, 56 K/h from 204 to 540 Cel, 2 h: 12.3 h for 50 mm."""
    by_hand = (149 - 20) / 56 + 2 + (540 - 204) / 56 + 2
    assert dried(0.050).takes_at_least == pytest.approx(by_hand * HOUR)


def test_every_figure_stands_in_the_statement_it_cites(dried):
    """Temperatures the steps name are read in the statement, ramps are its own figure."""
    named = dried(0.050).steps[:5]
    assert len(named) == 5
    for step in named:
        printed = set(re.findall(r"\d+", step.practice["statement"]))
        if step.reaches is not None:
            assert {f"{end - 273.15:.0f}" for end in step.reaches} <= printed
        if step.ramp_at_most is not None:
            assert f"{step.ramp_at_most * HOUR:.0f}" in printed
        assert step.practice["source"]
        assert step.practice["locator"]


def test_it_is_practice_and_no_promise(dried):
    found = dried(0.050)
    assert "not a guarantee" in found.promise
    assert found.promise == PROMISE
    assert len({row["source"] for row in found.others}) >= 2
    assert set(found.citations) >= {"supplier41-nd-dryout", "forum-nd-dryout"}


def test_the_sources_stand_among_the_citations(ask):
    answer = ask(lid(mould=Mould(0.010, 0.1, 0.05)))
    assert set(answer.casting.drying.citations) <= set(answer.citations)
    assert "schedule-no-guarantee" in {row["id"] for row in answer.cautions}


def test_the_water_that_has_to_leave_is_that_of_the_piece(ask):
    answer = ask(lid(mould=Mould(0.010, 0.1, 0.05)))
    casting, drying = answer.casting, answer.casting.drying
    left = casting.piece["demoulded"].typical - casting.piece["dried"].typical
    assert drying.water_unbound.typical == pytest.approx(left, rel=0.05)
    assert drying.water_bound.typical < casting.piece["dried"].typical - 0.0
    fired = casting.piece["dried"].typical - casting.piece["fired"].typical
    assert drying.water_bound.typical == pytest.approx(fired, rel=0.35)


def test_a_wall_thicker_than_the_sheet_gets_no_holds(dried):
    found = dried(0.300)
    assert found.steps == ()
    assert found.takes_at_least is None
    assert "228 mm" in found.reason
    assert found.others


def test_another_binder_gets_no_holds(dried):
    mix = Mix((part("portland-cement", 10.0), part("quartz-sand", 30.0)), 5.0)
    found = dried(0.050, mix)
    assert found.steps == ()
    assert "calcium aluminate" in found.reason
    assert found.promise == PROMISE


def test_fired_and_dried_states_tell_the_same(ask):
    mould = Mould(0.010, 0.1, 0.05)
    one = ask(lid(mould=mould, state=FIRED)).casting.drying
    two = ask(lid(mould=mould, state=DRIED)).casting.drying
    assert one.water_unbound.typical == pytest.approx(two.water_unbound.typical, rel=1e-9)
    assert one.steps == two.steps


def test_a_low_cement_castable_gets_the_slower_figures(dried):
    """Practice held on classes by lime: 1 to 2.5 % CaO is low-cement; 28 K/h, and 56 after."""
    little = Mix((part("cac-70", 5.0), part("tabular-alumina", 95.0)), 6.0)
    much = Mix((part("cac-70", 25.0), part("tabular-alumina", 75.0)), 12.0)
    slow, quick = dried(0.050, little), dried(0.050, much)
    ramps = [
        [round(step.ramp_at_most * HOUR) for step in found.steps[2::2]] for found in (slow, quick)
    ]
    assert ramps == [[28, 56], [56, 111]]
    assert slow.takes_at_least > quick.takes_at_least
    assert "low-cement" in slow.steps[2].title
    assert "low-cement" not in quick.steps[2].title
    assert "28 K/h" in slow.steps[2].practice["statement"]
