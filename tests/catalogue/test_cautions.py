"""Which cautions go with what."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.cautions import (
    TRIGGERS,
    CautionIndex,
    matched_cautions,
    matching_cautions,
)
from support.catalogue_rows import ZERO, made_up_reference


def caution(key, materials=None, kinds=None, trigger="firing", **given):
    return {
        "id": key,
        "materials": materials,
        "kinds": kinds,
        "trigger": trigger,
        "above": None,
        "below": None,
    } | given


REFERENCE = made_up_reference(
    cautions=[
        caution("anyone"),
        caution("by-material", "grog;sand"),
        caution("by-family", "cement", trigger="casting"),
        caution("by-kind", kinds="binder", trigger="first-fire"),
        caution("by-solid", "silica", trigger="weighing-and-mixing"),
        caution("for-parts", kinds="body", trigger="lifting"),
        caution("hot", "grog", above=550 + ZERO),
        caution("cold", "cement-a", trigger="curing", below=10 + ZERO),
    ]
)


def ids(materials, **asked):
    return {row["id"] for row in matching_cautions(REFERENCE, materials, **asked)}


def test_a_material_is_found_by_name_family_kind_and_solid():
    assert ids(["grog"]) == {"by-material", "by-solid", "hot"}
    assert ids(["cement-a"]) == {"by-family", "by-kind", "cold"}
    assert ids(["fibre"]) == set()


def test_what_holds_for_anything_comes_with_a_mix_only():
    assert "anyone" not in ids(["grog"])
    assert {"anyone", "for-parts"} <= ids(["grog", "cement-a"], general=True)


@pytest.mark.parametrize(("celsius", "met"), [(500, False), (550, True), (900, True)])
def test_a_caution_bound_to_a_temperature_waits_for_it(celsius, met):
    assert ("hot" in ids(["grog"], temperature=celsius + ZERO)) is met


def test_a_caution_for_the_cold():
    assert "cold" in ids(["cement-a"], temperature=5 + ZERO)
    assert "cold" not in ids(["cement-a"], temperature=20 + ZERO)


def test_a_mix_is_warned_in_the_order_of_the_work_and_told_why():
    found = matched_cautions(REFERENCE, ["grog", "cement-a"], general=True)
    order = [TRIGGERS.index(each.caution["trigger"]) for each in found]
    assert order == sorted(order)
    because = {each.caution["id"]: each.because for each in found}
    assert because["by-kind"] == ("cement-a",)
    assert because["for-parts"] == ("body",)
    assert because["anyone"] == ()


def test_only_the_steps_asked_for():
    found = matched_cautions(REFERENCE, ["grog", "cement-a"], general=True, triggers={"casting"})
    assert [each.caution["id"] for each in found] == ["by-family"]


def test_a_material_nobody_knows_calls_for_nothing():
    assert ids(["unheard-of"]) == set()


# --- on the data set


def test_every_trigger_has_its_place_in_the_work(reference):
    assert {row["trigger"] for row in reference.cautions} <= set(TRIGGERS)


def test_every_caution_can_be_met(reference):
    everything = matching_cautions(reference, list(reference.materials), general=True)
    assert len(everything) == len(reference.cautions)


def test_a_cement_and_quartz_lid_is_warned(reference):
    found = matching_cautions(
        reference, ["cac-40", "quartz-sand"], temperature=900 + ZERO, general=True
    )
    hazards = {row["id"] for row in found}
    assert {
        "silica-dust-us",
        "wet-cement-burns",
        "quartz-inversion",
        "steam-spalling-first-heat",
        "carbon-monoxide-home",
        "hot-outer-face",
        "cracked-lid-falls",
    } <= hazards
    assert "burn-out-fumes" not in hazards


def test_fact_and_advice_stand_apart(reference):
    for row in reference.cautions:
        assert row["fact"]
        assert row["advice"]
        assert row["fact"] != row["advice"]
        assert row["basis"] != "memory" or row["source"] is None


def test_the_index_gives_what_matching_gives(reference):
    """Many look-ups at once must not differ from one."""
    index = CautionIndex(reference)
    materials = sorted(reference.materials)
    for first, second in zip(materials, [*materials[7:], *materials[:7]], strict=True):
        for asked in ([first], [first, second], [second, first]):
            assert index.of(asked) == matching_cautions(reference, asked)
    assert index.of(["no-such-thing"]) == matching_cautions(reference, ["no-such-thing"]) == ()
