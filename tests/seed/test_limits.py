"""Limit rows: each says what kind of limit it is, how it bounds, and for what."""

from __future__ import annotations

import re


def limits(seed):
    return [
        row for row in seed.rows["values"] if seed.properties[row["property"]]["group"] == "limit"
    ]


def test_every_limit_has_a_role_and_a_bound(seed):
    rows = limits(seed)
    assert len(rows) > 400
    for row in rows:
        assert row["role"] in ("use_limit", "test_class", "failure_onset", "event"), row["id"]
        assert row["bound"] in ("is", "at_least", "at_most"), row["id"]
        assert (row["role"] == "event") == (row["event_kind"] is not None), row["id"]


def test_nothing_else_has_a_role(seed):
    for row in seed.rows["values"]:
        if seed.properties[row["property"]]["group"] != "limit":
            assert row["role"] is None, row["id"]


def test_one_sided_figures_stand_on_their_side(seed):
    for row in seed.rows["values"]:
        if row["bound"] == "at_least":
            assert row["low"] is not None, row["id"]
        if row["bound"] == "at_most":
            assert row["high"] is not None, row["id"]


def test_only_service_limits_are_use_limits(seed):
    for row in limits(seed):
        if row["role"] == "use_limit":
            assert row["property"] == "service_limit", row["id"]
        if row["property"] in ("refractoriness", "pyrometric_cone_equivalent"):
            assert row["role"] == "test_class", row["id"]


def test_classes_and_reheat_tests_are_not_use_limits(seed):
    """DESIGN: a class temperature is a test; the words of the row give it away."""
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        if re.search(r"classification temperature|reheat test temperature", text):
            assert row["role"] == "test_class", row["id"]


def test_what_was_destroyed_or_advised_against_is_a_failure(seed):
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        if re.search(r"destroyed|advised against|not advised", text):
            assert row["role"] == "failure_onset", row["id"]


def test_first_heat_losses_of_hydrates_are_events(seed):
    found = 0
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        if re.search(r"loses (its )?(hydroxyl )?water|hydroxyl water lost", text):
            slakes = "slakes" in text  # what turns to quicklime bursts afterwards
            assert row["role"] == "event" or slakes, row["id"]
            found += 1
    assert found > 15


def test_kiln_processes_and_raw_glass_are_events(seed):
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        raw = row["material"] in ("perlite-raw", "vermiculite-raw")
        if ("exfoliat" in text and raw) or "raw glass" in text:
            assert row["role"] == "event", row["id"]


def test_polymers_leave_by_design(seed):
    rows = [r for r in limits(seed) if r["material"].startswith(("polypropylene", "polystyrene"))]
    assert rows
    assert {row["event_kind"] for row in rows} == {"leaves-by-design"}


def test_reversible_jumps_are_those_of_silica_and_zirconia(seed):
    jumps = {row["material"] for row in limits(seed) if row["event_kind"] == "reversible-jump"}
    assert {"quartz", "quartz-sand", "cristobalite", "zirconia"} <= jumps
    allowed = {
        "quartz",
        "quartz-sand",
        "cristobalite",
        "zirconia",
        "granite",
        "sandstone",
        "crushed-clay-brick",
    }
    assert jumps <= allowed


def test_loose_fills_and_pipe_insulation_are_no_hot_face(seed):
    """What a text says of an insulated surface holds behind a hot face only."""
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        if row["role"] == "use_limit" and re.search(
            r"never a hot face|back-up only|loose|insulated surface|pipe", text
        ):
            assert row["place"] == "behind", row["id"]


def test_a_partner_is_told_both_in_words_and_as_an_id(seed):
    paired = [row for row in limits(seed) if row["with"]]
    assert len(paired) > 15
    for row in paired:
        assert row["with"] in seed.materials, row["id"]
        assert row["with"] != row["material"], row["id"]


def test_decomposition_in_carbon_dioxide_says_so(seed):
    for row in limits(seed):
        text = (row["condition_text"] or "").lower()
        if row["property"] == "decomposition_temperature" and "carbon dioxide" in text:
            assert row["atmosphere"] == "carbon dioxide", row["id"]


def test_a_use_limit_lies_below_melting(seed, exceptions):
    broken = {}
    for row in limits(seed):
        if row["role"] != "use_limit" or row["with"]:
            continue
        melts = [
            max(x for x in (m["low"], m["typical"], m["high"]) if x is not None)
            for m in seed.held(row["material"], "melting_temperature")
            if m["role"] == "failure_onset" and not m["with"]
        ]
        top = row["low"] if row["bound"] == "at_least" else row["high"] or row["typical"]
        if melts and top >= min(melts):
            broken[row["id"]] = (top, min(melts))
    exceptions("use limit below melting").hold(broken)


def test_the_rule_on_melting_speaks_to_many_rows(seed):
    materials = {row["material"] for row in limits(seed) if row["role"] == "use_limit"}
    both = [name for name in materials if seed.held(name, "melting_temperature")]
    assert len(both) >= 8, both
