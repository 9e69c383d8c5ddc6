"""What must hold of survival whatever is published."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from support.catalogue_rows import limit, made_up_reference, onset, searched, survival_of

REFERENCE = made_up_reference()
WORSE = {"yes": 0, "unknown": 0, "borderline": 1, "no": 2}

origins = st.sampled_from(["a", "b", "c", "d"])
sources = st.sampled_from(["standard", "handbook", "journal", "supplier", "web"])
bounds = st.sampled_from(["is", "is", "is", "at_least", "at_most"])
temperatures = st.integers(200, 1800)


@st.composite
def use_rows(draw):
    low = draw(temperatures)
    high = low + draw(st.sampled_from([0, 0, 100, 300]))
    return limit(low, high, origin=draw(origins), source=draw(sources), bound=draw(bounds))


@st.composite
def onset_rows(draw):
    name = draw(
        st.sampled_from(
            ["softening_temperature", "melting_temperature", "decomposition_temperature"]
        )
    )
    low = draw(temperatures)
    high = low + draw(st.sampled_from([0, 100, 300]))
    return onset(low, high, property=name, origin=draw(origins), bound=draw(bounds))


@st.composite
def jump_rows(draw):
    return limit(
        draw(temperatures),
        role="event",
        event_kind="reversible-jump",
        property="transformation_temperature",
        origin=draw(origins),
    )


evidence = st.lists(st.one_of(use_rows(), use_rows(), onset_rows(), jump_rows()), max_size=8)


@searched
@given(evidence, temperatures, st.integers(0, 600), st.sampled_from([0.0, 50.0, 120.0]))
def test_raising_the_temperature_never_improves_the_outcome(rows, celsius, more, margin):
    cool = survival_of(rows, REFERENCE, celsius, margin=margin)
    hot = survival_of(rows, REFERENCE, celsius + more, margin=margin)
    assert WORSE[hot.outcome] >= WORSE[cool.outcome]
    assert (cool.headroom is None) == (hot.headroom is None)


@searched
@given(evidence, temperatures, st.integers(0, 300), st.integers(0, 300))
def test_a_larger_margin_never_improves_the_outcome(rows, celsius, margin, more):
    narrow = survival_of(rows, REFERENCE, celsius, margin=float(margin))
    wide = survival_of(rows, REFERENCE, celsius, margin=float(margin + more))
    assert WORSE[wide.outcome] >= WORSE[narrow.outcome]
    if narrow.outcome == "no":
        assert wide.outcome == "no"


@searched
@given(evidence, temperatures, st.randoms(use_true_random=False))
def test_row_order_does_not_matter(rows, celsius, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert survival_of(shuffled, REFERENCE, celsius) == survival_of(rows, REFERENCE, celsius)


@searched
@given(evidence.filter(bool), temperatures, st.data())
def test_repeating_a_row_of_one_origin_changes_nothing(rows, celsius, data):
    again = data.draw(st.sampled_from(rows))
    copy = again | {"id": f"{again['id']}-again"}
    once, twice = (survival_of(given, REFERENCE, celsius) for given in (rows, [*rows, copy]))
    told = {"values": (), "first_heat": ()}  # these list rows; they do not weigh them
    assert replace(twice, **told) == replace(once, **told)


@searched
@given(evidence, temperatures)
def test_a_yes_always_has_its_evidence(rows, celsius):
    answer = survival_of(rows, REFERENCE, celsius)
    if answer.outcome == "yes":
        reach = celsius + 50
        carrying = {
            row["origin"]
            for row in rows
            if row["role"] == "use_limit"
            and row["bound"] != "at_most"
            and min(e for e in (row["low"], row["typical"]) if e is not None) >= reach + 273.15
        }
        standards = [row for row in rows if row["source"] == "standard"]
        assert len(carrying) >= 2 or standards
        assert answer.headroom >= 50 - 1e-9


@searched
@given(evidence, temperatures)
def test_taking_the_cycling_away_never_makes_it_worse(rows, celsius):
    cycling = survival_of(rows, REFERENCE, celsius)
    steady = survival_of(rows, REFERENCE, celsius, cycling=False)
    assert WORSE[steady.outcome] <= WORSE[cycling.outcome]
