"""Every rule read in a text can be chosen; those recalled from memory cannot."""

from __future__ import annotations

import pytest

from hotface_api.mixes.checks import check
from hotface_api.mixes.request import EstimateRequest, MixError, State
from hotface_api.mixes.rules import SELECTABLE
from hotface_api.science.conductivity import RULES
from support.mixes import lid, part

ROOM = (293.15,)
OPTIONS = {"krischer": {"series_share": 0.15}, "hamilton-crosser": {"sphericity": 0.8}}


def dried(rule=None, **options):
    return EstimateRequest(
        lid().mix, State("dried", 383.15), at=ROOM, rule=rule, rule_options=options
    )


def test_none_is_from_memory():
    assert SELECTABLE
    assert not any(RULES[name].from_memory for name in SELECTABLE)
    assert set(SELECTABLE) == {name for name, rule in RULES.items() if not rule.from_memory}


@pytest.mark.parametrize("name", [name for name in SELECTABLE if name != "exponential-pores"])
def test_a_chosen_rule_is_used_and_told(ask, name):
    answer = ask(dried(name, **OPTIONS.get(name, {})))
    point = answer.thermal_conductivity[0]
    assert RULES[name].title in answer.method
    assert RULES[name].source in answer.method
    assert point.lower_bound <= point.range.typical <= point.upper_bound


def test_rules_stand_in_their_known_order(ask):
    k = {
        name: ask(dried(name)).thermal_conductivity[0].range.typical
        for name in (
            "hashin-shtrikman-lower",
            "effective-medium",
            "maxwell",
            "hashin-shtrikman-upper",
        )
    }
    assert list(k) == sorted(k, key=k.get)
    default = ask(dried()).thermal_conductivity[0].range.typical
    assert k["effective-medium"] < default < k["hashin-shtrikman-upper"]


def test_a_rule_outside_its_span_says_so(ask):
    with pytest.raises(MixError, match="cannot be used here") as caught:
        ask(dried("exponential-pores"))
    assert caught.value.pointer == "#/rule"


def test_an_unknown_rule_names_the_nearest_and_all_there_are():
    with pytest.raises(MixError) as caught:
        check(dried("maxwel"))
    assert caught.value.nearest == ("maxwell",)
    assert all(name in caught.value.message for name in SELECTABLE)
    with pytest.raises(MixError) as caught:
        check(dried("qqq"))
    assert caught.value.nearest == SELECTABLE


def test_a_chosen_rule_leaves_the_density_alone(ask):
    assert ask(dried("maxwell")).bulk_density == ask(dried()).bulk_density


def test_two_kinds_of_grain_go_through_a_rule_for_pairs(ask):
    mix = lid().mix
    mixed = type(mix)((*mix.constituents, part("quartz-sand", 5.0)), mix.water)
    request = EstimateRequest(
        mixed,
        State("dried", 383.15),
        at=ROOM,
        rule="hamilton-crosser",
        rule_options={"sphericity": 1.0},
    )
    answer = ask(request).thermal_conductivity[0].range
    by_maxwell = (
        ask(EstimateRequest(mixed, State("dried", 383.15), at=ROOM, rule="maxwell"))
        .thermal_conductivity[0]
        .range
    )
    assert answer.typical == pytest.approx(by_maxwell.typical, rel=1e-6)
