"""Each rule of survival on made-up rows."""

from __future__ import annotations

import pytest

from support.catalogue_rows import ZERO, limit, onset, survival_of, value


def two(celsius, **given):
    """Make a use limit that two origins state."""
    return [limit(celsius, origin="a", **given), limit(celsius, origin="b", **given)]


def outcome(rows, reference, celsius, **asked):
    return survival_of(rows, reference, celsius, **asked).outcome


def test_two_origins_and_the_margin_make_a_yes(made_up):
    assert outcome(two(1000), made_up, 950) == "yes"
    assert outcome(two(1000), made_up, 951) == "borderline"
    assert outcome(two(1000), made_up, 1000) == "borderline"
    assert outcome(two(1000), made_up, 1001) == "no"


def test_one_origin_is_borderline_and_says_so(made_up):
    answer = survival_of([limit(1000), limit(1000)], made_up, 500)
    assert answer.outcome == "borderline"
    assert answer.reasons == ("The use limit rests on one origin only.",)


def test_one_standard_is_enough(made_up):
    assert outcome([limit(1000, source="standard")], made_up, 900) == "yes"


def test_two_origins_of_which_one_says_less_are_not_two(made_up):
    rows = [limit(900, origin="a", source="web"), limit(1200, origin="b")]
    assert outcome(rows, made_up, 1000) == "borderline"
    assert outcome(rows, made_up, 850) == "yes"


def test_a_standard_that_says_less_does_not_carry_more(made_up):
    rows = [
        limit(600, origin="s", source="standard"),
        *(limit(1200, origin=each) for each in "abcd"),
    ]
    assert outcome(rows, made_up, 1100) == "yes"
    rows = [limit(600, origin="s", source="standard"), limit(1200, origin="a")]
    assert outcome(rows, made_up, 700) == "borderline"


def test_a_ceiling_is_no_support(made_up):
    rows = [limit(1000, origin="a"), limit(1200, origin="b", bound="at_most")]
    assert outcome(rows, made_up, 500) == "borderline"


def test_floors_prove_up_to_themselves_and_fail_nothing(made_up):
    rows = two(700, bound="at_least")
    assert outcome(rows, made_up, 650) == "yes"
    assert outcome(rows, made_up, 900) == "borderline"


def test_a_ceiling_alone_can_only_refuse(made_up):
    rows = two(900, bound="at_most")
    assert outcome(rows, made_up, 300) == "borderline"
    assert outcome(rows, made_up, 901) == "no"


def test_failed_at_includes_equality(made_up):
    failed = onset(900, property="softening_temperature")
    assert outcome([failed], made_up, 900) == "no"
    assert outcome([failed], made_up, 899) == "borderline"
    assert outcome([failed], made_up, 849) == "unknown"


def test_advised_against_counts_at_its_own_figure(made_up):
    row = onset(700, property="service_limit", bound="at_most")
    assert outcome([row], made_up, 700) == "no"
    assert outcome([row], made_up, 660) == "borderline"


def test_an_onset_within_the_margin_takes_the_yes_away(made_up):
    rows = [*two(1200), onset(950)]
    assert outcome(rows, made_up, 899) == "yes"
    assert outcome(rows, made_up, 900) == "borderline"


def test_melting_or_a_class_alone_is_never_a_yes(made_up):
    melting = onset(2000, property="melting_temperature")
    assert outcome([melting], made_up, 500) == "unknown"
    assert outcome([limit(1400, role="test_class")], made_up, 500) == "unknown"


def test_melting_counts_whatever_is_asked(made_up):
    melting = onset(1000, property="melting_temperature", place="behind", load=1e5)
    assert outcome([melting], made_up, 1100, place="face") == "no"


@pytest.mark.parametrize("kind", ["first-heat", "process", "leaves-by-design", "other"])
def test_events_never_decide(made_up, kind):
    event = limit(300, role="event", event_kind=kind, property="decomposition_temperature")
    assert outcome([event], made_up, 900) == "unknown"
    assert outcome([event, *two(1000)], made_up, 900) == "yes"


def test_what_leaves_by_design_is_not_there_to_survive(made_up):
    row = limit(
        165,
        role="event",
        event_kind="leaves-by-design",
        property="melting_temperature",
        material="fibre",
    )
    answer = survival_of([row], made_up, 900, material="fibre")
    assert answer.leaves_by_design
    assert answer.outcome == "unknown"
    assert "meant to leave" in answer.reasons[0]


def test_a_pair_is_found_from_either_side(made_up):
    pair = two(500, material="cement-a", **{"with": "sand"})
    assert outcome(pair, made_up, 600, material="cement-a", with_="sand") == "no"
    assert outcome(pair, made_up, 600, material="sand", with_="cement-a") == "no"
    assert outcome(pair, made_up, 600, material="cement-a") == "unknown"


def test_a_partner_named_by_family_speaks_to_its_grades_from_either_side(made_up):
    pair = [limit(500, **{"with": "cement"})]
    assert outcome(pair, made_up, 600, with_="cement-a") == "no"
    assert outcome(pair, made_up, 600, material="cement-b", with_="grog") == "no"


def test_a_partner_named_by_grade_does_not_speak_to_another(made_up):
    pair = [limit(500, **{"with": "cement-a"})]
    assert outcome(pair, made_up, 600, with_="cement-b") == "unknown"


def test_the_partners_own_limits_are_not_the_material_s(made_up):
    rows = [*two(1000), *two(400, material="cement-a")]
    assert outcome(rows, made_up, 800, with_="cement-a") == "yes"


def test_place_decides_which_limits_speak(made_up):
    rows = [*two(1100, place="behind"), *two(700, place="face")]
    assert outcome(rows, made_up, 900, place="behind") == "yes"
    assert outcome(rows, made_up, 900, place="face") == "no"


def test_a_loose_fill_is_no_hot_face(made_up):
    rows = two(1000, form="heap")
    assert outcome(rows, made_up, 700, place="face") == "unknown"
    assert outcome(rows, made_up, 700, place="behind") == "yes"


def test_onsets_under_load_wait_until_load_is_asked_about(made_up):
    rows = [*two(1200), onset(900, load=2e5)]
    assert outcome(rows, made_up, 1000) == "yes"
    assert outcome(rows, made_up, 1000, load=True) == "no"


def step(percent, celsius=573, **given):
    return value(
        **{
            "property": "inversion_step",
            "typical": percent / 100,
            "temperature_low": celsius + ZERO,
            "temperature_high": celsius + ZERO,
            "form": "solid",
            **given,
        }
    )


def jump(celsius=573, **given):
    return limit(
        celsius,
        role="event",
        event_kind="reversible-jump",
        property="transformation_temperature",
        **given,
    )


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([step(0.45)], "borderline"),
        ([step(-0.45)], "borderline"),
        ([step(0.1)], "yes"),
        ([step(0.11)], "borderline"),
        ([jump()], "borderline"),
        ([jump(), step(0.05)], "yes"),
        ([jump(220), step(0.05)], "borderline"),
        ([step(0.45, material="silica")], "borderline"),
        ([jump(), step(0.45, material="sand")], "borderline"),
        ([step(0.45, celsius=900)], "yes"),
    ],
)
def test_a_reversible_jump_counts_for_a_part_that_cycles(made_up, rows, expected):
    given = [*two(1000), *rows]
    by_solid = survival_of(given, made_up, 700)
    assert by_solid.outcome == expected
    assert outcome(given, made_up, 700, cycling=False) == "yes"


def test_a_jump_at_the_very_temperature_is_crossed(made_up):
    assert outcome([*two(1000), step(0.45)], made_up, 573) == "borderline"
    assert outcome([*two(1000), step(0.45)], made_up, 572) == "yes"


def test_a_recalled_limit_never_makes_a_yes_and_is_told(made_up):
    rows = [
        limit(1000, basis="memory", source=None, origin=None),
        limit(1000, basis="memory", source=None, origin=None),
    ]
    answer = survival_of(rows, made_up, 500)
    assert answer.outcome == "borderline"
    assert any("from memory" in reason for reason in answer.reasons)
    assert answer.citations == ()
    refused = survival_of(rows, made_up, 1100)
    assert refused.outcome == "no"
    assert "nobody has checked it" in refused.reasons[-1]


def test_margin_asked_and_headroom_left(made_up):
    rows = two(1000)
    assert outcome(rows, made_up, 900, margin=100.0) == "yes"
    assert outcome(rows, made_up, 900, margin=101.0) == "borderline"
    answer = survival_of(rows, made_up, 900)
    assert answer.headroom == pytest.approx(100)
    assert answer.limit == (1000 + ZERO, 1000 + ZERO)
    assert survival_of(rows, made_up, 1100).headroom == pytest.approx(-100)


def test_the_limiting_event_is_the_lowest_thing_that_limits(made_up):
    rows = [*two(1000), onset(800, 1400)]
    answer = survival_of(rows, made_up, 980)
    assert answer.outcome == "borderline"
    assert answer.limiting_event.property == "softening_temperature"
    assert answer.headroom == pytest.approx(-180)


def test_an_open_end_is_none(made_up):
    assert survival_of(two(700, bound="at_least"), made_up, 600).limit == (700 + ZERO, None)
    assert survival_of(two(700, bound="at_most"), made_up, 600).limit == (None, 700 + ZERO)


def test_the_sentence_begins_with_the_outcome(made_up):
    for celsius, word in ((900, "Yes:"), (980, "Borderline:"), (1100, "No:")):
        assert survival_of(two(1000), made_up, celsius).answer.startswith(word)
    assert survival_of([], made_up, 900).answer.startswith("Unknown:")
