"""What an expert would answer, over the published data; one statement however many questions."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from hotface_api.catalogue.survival import PROMISE, Question, survive
from support.catalogue_rows import ZERO

TABLE = Path(__file__).with_name("survival_expectations.csv")
EXPECTATIONS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def question_of(row):
    return Question(
        row["material"],
        float(row["temperature"]) + ZERO,
        row["with"] or None,
        row["place"] or None,
        cycling=row["cycling"] != "no",
    )


def is_met(expected, outcome):
    wanted, refused = expected.removeprefix("not-"), expected.startswith("not-")
    return (outcome != wanted) if refused else (outcome == wanted)


@pytest.fixture(scope="module")
def answers(database, reference):
    with database.read() as connection:
        return survive(connection, reference, [question_of(row) for row in EXPECTATIONS])


def test_the_answers_are_an_expert_s(answers):
    wrong = [
        f"{row['material']} {row['temperature']} with {row['with'] or 'nothing'}:"
        f" {row['expected']} ({row['why']}), got {answer.outcome}: {answer.reasons}"
        for row, answer in zip(EXPECTATIONS, answers, strict=True)
        if not is_met(row["expected"], answer.outcome)
    ]
    assert not wrong, "\n".join(wrong)


def test_the_expectations_would_notice_a_constant_answer():
    for outcome in ("yes", "no", "borderline", "unknown"):
        missed = [row for row in EXPECTATIONS if not is_met(row["expected"], outcome)]
        assert len(missed) > 20


def test_every_expectation_says_what_it_rests_on():
    kinds = {"published conflict", "expert judgement", "common practice, no source"}
    assert {row["rests_on"] for row in EXPECTATIONS} == kinds
    assert all(row["why"] for row in EXPECTATIONS)


@pytest.mark.parametrize("partner", [None, "chamotte"])
def test_aluminate_cement_stands_far_above_portland(database, reference, partner):
    """Common practice, no source: aluminate cement concrete to about 1200 Cel, far above Portland.

    Checked as the highest temperature, in steps of 50 K, that is not answered with no.
    """
    steps = range(200, 1701, 50)

    def highest(cement):
        questions = [Question(cement, t + ZERO, partner) for t in steps]
        with database.read() as connection:
            found = survive(connection, reference, questions)
        return max(t for t, answer in zip(steps, found, strict=True) if answer.outcome != "no")

    aluminate, portland = highest("cac-40"), highest("portland-cement")
    assert 1100 <= aluminate <= 1300
    assert portland <= 450
    assert highest("cac-70") >= aluminate


def test_one_statement_answers_all(database, reference, statements):
    questions = [question_of(row) for row in EXPECTATIONS[:40]]
    with database.read() as connection, statements(database) as counted:
        survive(connection, reference, questions)
    assert len(counted) == 1


def test_an_answer_does_not_depend_on_its_company(database, reference, answers):
    for number in (0, 11, 40, 77):
        with database.read() as connection:
            alone = survive(connection, reference, [question_of(EXPECTATIONS[number])])
        assert alone == [answers[number]]


def test_answers_show_what_they_rest_on(answers):
    for answer in answers:
        assert answer.promise == PROMISE
        if answer.limiting_event is not None:
            assert answer.limiting_event.value in answer.values
        if answer.outcome in ("yes", "no", "borderline"):
            assert answer.values
            assert answer.reasons


def test_a_yes_is_carried_by_two_origins_or_a_standard(database, reference, answers):
    for answer in answers:
        if answer.outcome == "yes":
            types = {reference.source_types[source] for source in answer.citations}
            assert answer.origins >= 2 or "standard" in types


def test_melting_is_told_and_does_not_decide(database, reference):
    with database.read() as connection:
        (answer,) = survive(connection, reference, [Question("chromite", 1000 + ZERO)])
    assert answer.outcome == "unknown"
    assert answer.melts_at[0] > 1800 + ZERO
    assert "melts at" in answer.answer


def test_first_heat_of_the_cement_is_told_as_events(database, reference):
    with database.read() as connection:
        (answer,) = survive(connection, reference, [Question("cac-40", 200 + ZERO)])
    assert answer.outcome != "no"
    assert {event.role for event in answer.first_heat} == {"event"}
    assert answer.first_heat


def test_the_heading_says_what_was_asked(database, reference):
    questions = [Question("chamotte", 900 + ZERO), Question("chamotte", 900 + ZERO, "cac-40")]
    with database.read() as connection:
        alone, paired = survive(connection, reference, questions)
    assert alone.heading == "this material alone"
    assert paired.heading == "with cac-40"
    assert paired.first_melt_possible_from.temperature < 1200 + ZERO
