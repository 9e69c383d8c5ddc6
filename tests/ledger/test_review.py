"""Review: who may do what, in which state, and what it does to the revision."""

from dataclasses import replace

import pytest
from sqlalchemy import select, text

from hotface_api.catalogue.properties import property_answer
from hotface_api.ledger.check import check_audit
from hotface_api.ledger.correct import correct
from hotface_api.ledger.drafts import DoiSource, HeldSource, Measured
from hotface_api.ledger.errors import (
    Code,
    ConflictError,
    ForbiddenError,
    InvalidError,
    StaleError,
    UnknownError,
    VersionNeededError,
)
from hotface_api.ledger.keys import authenticate, make_key
from hotface_api.ledger.people import add_contributor
from hotface_api.ledger.reading import history, list_revisions, mine, queue, view
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import reply, review, review_many, withdraw
from hotface_api.ledger.states import TRANSITIONS, acts_from, next_state
from hotface_api.ledger.submit import submit
from hotface_api.store.ledger_models import STATES
from hotface_api.store.models import Material, Origin, Source, Specimen, SpecimenConstituent
from hotface_api.store.read import table
from support.contributions import BODY, DENSITY, LID, one, perlite, raised

PROPERTY = "loose_bulk_density"


@pytest.fixture
def pending(club):
    """A value of Ann's that waits."""
    return submit(club.ledger, club.ann, one()).items[0].value


def accepted(club, value):
    return review(club.ledger, club.cleo, value, "accept", version=1)


def answer(club, revision=None):
    cache = club.ledger.references
    reference = cache.latest() if revision is None else cache.at(revision)
    with club.ledger.read() as connection:
        return property_answer(connection, reference, "expanded-perlite", PROPERTY)


def used(club, revision=None):
    found = answer(club, revision)
    return {use.value for use in found.summary.used}


def open_rows(club, model):
    source = table(model)
    statement = select(source).where(
        source.c.contributor.is_not(None), source.c.to_revision.is_(None)
    )
    with club.ledger.read() as connection:
        return [dict(row) for row in connection.execute(statement).mappings()]


def test_accepting_moves_the_ranges_and_nothing_else_does(club, pending):
    before = answer(club)
    assert pending not in used(club)
    standing = accepted(club, pending)
    assert (standing.state, standing.version, standing.revision) == ("accepted", 2, 2)
    assert club.database.revision() == 2
    assert pending in used(club)
    assert answer(club, 1) == before
    assert list_revisions(club.ledger)[0].opened == 1
    assert check_audit(club.ledger).intact


@pytest.mark.parametrize("decision", ["decline", "ask"])
def test_declining_and_asking_need_a_note_and_make_no_revision(club, pending, decision):
    with raised(InvalidError) as caught:
        review(club.ledger, club.cleo, pending, decision, version=1, note="  ")
    assert caught[0].pointer == "/note"
    standing = review(club.ledger, club.cleo, pending, decision, version=1, note="Which scale?")
    assert standing.revision is None
    assert club.database.revision() == 1
    entry = view(club.ledger, club.ann, pending)
    assert entry.remarks[0].text == "Which scale?"
    assert entry.remarks[0].author == club.cleo.contributor


def test_asked_is_answered_and_waits_again(club, pending):
    review(club.ledger, club.cleo, pending, "ask", version=1, note="Poured?")
    assert view(club.ledger, club.ann, pending).state == "asked"
    standing = reply(club.ledger, club.ann, pending, "Poured, not tapped.", version=2)
    assert (standing.state, standing.version) == ("pending", 3)
    assert [r.act for r in view(club.ledger, club.cleo, pending).remarks] == ["ask", "reply"]
    review(club.ledger, club.dora, pending, "accept", version=3)
    assert pending in used(club)


def test_only_curators_review(club, pending):
    with raised(ForbiddenError, Code.CURATORS_ONLY):
        review(club.ledger, club.ann, pending, "accept", version=1)
    with raised(ForbiddenError, Code.CURATORS_ONLY):
        review(club.ledger, club.ben, pending, "accept", version=1)
    with raised(ForbiddenError, Code.CURATORS_ONLY):
        queue(club.ledger, club.ann)


def test_nobody_reviews_their_own(club):
    own = submit(club.ledger, club.cleo, one()).items[0].value
    for decision in ("accept", "decline", "ask"):
        with raised(ForbiddenError, Code.OWN_SUBMISSION):
            review(club.ledger, club.cleo, own, decision, version=1, note="x")
    assert review(club.ledger, club.dora, own, "accept", version=1).state == "accepted"


def test_nobody_reviews_their_own_under_another_name(club):
    orcid = "0000-0002-1825-0097"
    other = add_contributor(club.ledger, "Cleo again", orcid=orcid)
    curator = authenticate(club.ledger, make_key(club.ledger, other.contributor, "curator").token)
    named = submit(club.ledger, club.ann, one(measured_by=Measured(name="Cleo", orcid=orcid)))
    with raised(ForbiddenError, Code.OWN_SUBMISSION):
        review(club.ledger, curator, named.items[0].value, "accept", version=1)
    twin = add_contributor(club.ledger, "Cleo", orcid=orcid)
    hers = authenticate(club.ledger, make_key(club.ledger, twin.contributor, "contributor").token)
    value = submit(club.ledger, hers, one()).items[0].value
    with raised(ForbiddenError, Code.OWN_SUBMISSION):
        review(club.ledger, curator, value, "accept", version=1)


def test_every_change_names_its_version(club, pending):
    for version, kind, code in (
        (None, VersionNeededError, Code.VERSION_NEEDED),
        (2, StaleError, Code.STALE),
        (0, StaleError, Code.STALE),
    ):
        with raised(kind, code):
            review(club.ledger, club.cleo, pending, "accept", version=version)
        with raised(kind, code):
            withdraw(club.ledger, club.ann, pending, "no", version=version)
        with raised(kind, code):
            correct(club.ledger, club.ann, pending, perlite("111"), "typo", version=version)
        with raised(kind, code):
            reply(club.ledger, club.ann, pending, "yes", version=version)


def test_of_two_curators_one_wins_and_the_other_is_told(club, pending):
    review(club.ledger, club.cleo, pending, "accept", version=1)
    with raised(StaleError) as caught:
        review(club.ledger, club.dora, pending, "decline", version=1, note="no")
    assert (caught[0].version, caught[0].value) == (2, pending)
    assert "accepted" in caught[0].message


def test_what_makes_no_sense_is_refused_with_what_does(club, pending):
    with raised(ConflictError, Code.WRONG_STATE) as caught:
        reply(club.ledger, club.ann, pending, "yes", version=1)
    assert "accept" in caught[0].nearest
    review(club.ledger, club.cleo, pending, "decline", version=1, note="no jug")
    for act in ("accept", "ask"):
        with raised(ConflictError, Code.WRONG_STATE):
            review(club.ledger, club.dora, pending, act, version=2, note="x")
    with raised(ConflictError, Code.WRONG_STATE):
        withdraw(club.ledger, club.ann, pending, "no", version=2)
    with raised(InvalidError):
        review(club.ledger, club.dora, pending, "acept", version=2)


def test_others_cannot_touch_it(club, pending):
    with raised(UnknownError, Code.UNKNOWN_VALUE):
        withdraw(club.ledger, club.ben, pending, "mine now", version=1)
    with raised(ForbiddenError, Code.NOT_YOURS):
        withdraw(club.ledger, club.cleo, pending, "no", version=1)
    accepted(club, pending)
    for act in (
        lambda: withdraw(club.ledger, club.ben, pending, "x", version=2),
        lambda: correct(club.ledger, club.ben, pending, perlite("1"), "x", version=2),
    ):
        with raised(ForbiddenError, Code.NOT_YOURS):
            act()
    with raised(UnknownError):
        review(club.ledger, club.cleo, "expanded-perlite.loose_bulk_density.1", "accept", version=1)


def test_withdrawing_a_pending_value_makes_no_revision(club, pending):
    standing = withdraw(club.ledger, club.ann, pending, "wrong bag", version=1)
    assert (standing.state, standing.revision) == ("withdrawn", None)
    assert club.database.revision() == 1
    again = submit(club.ledger, club.ann, one())
    assert again.items[0].state == "pending"  # the content is free again


def test_withdrawing_an_accepted_value_leaves_it_reachable(club, pending):
    before = answer(club)
    accepted(club, pending)
    served = answer(club)
    standing = withdraw(club.ledger, club.ann, pending, "scale was off", version=2)
    assert standing.revision == 3
    after = answer(club)
    assert (after.range, after.observed) == (before.range, before.observed)
    assert answer(club, 2) == served, "an answer of before cannot be given again"
    assert [row["id"] for row in history(club.ledger, pending)] == [pending]
    assert open_rows(club, Source) == []
    assert open_rows(club, Origin) == []
    assert list_revisions(club.ledger)[0].kind == "withdrawal"


def test_a_curator_may_withdraw_what_was_accepted(club, pending):
    accepted(club, pending)
    with raised(InvalidError):
        withdraw(club.ledger, club.dora, pending, "", version=2)
    assert withdraw(club.ledger, club.dora, pending, "made up", version=2).state == "withdrawn"


def test_correcting_a_pending_value_replaces_it_at_once(club, pending):
    receipt = correct(club.ledger, club.ann, pending, perlite("111"), "misread", version=1)
    new = receipt.items[0].value
    assert view(club.ledger, club.ann, pending).state == "replaced"
    entry = view(club.ledger, club.ann, new)
    assert entry.row["replaces"] == pending
    assert entry.row["source"] == view(club.ledger, club.ann, pending).row["source"]
    assert entry.remarks[0].text == "misread"
    accepted(club, new)
    assert list_revisions(club.ledger)[0].kind == "contribution"
    with raised(ConflictError, Code.WRONG_STATE):
        correct(club.ledger, club.ann, pending, perlite("112"), "again", version=2)


def test_correcting_an_accepted_value_waits_for_review(club, pending):
    accepted(club, pending)
    served = answer(club)
    receipt = correct(club.ledger, club.ann, pending, perlite("150"), "jug was 1.5 L", version=2)
    new = receipt.items[0].value
    assert answer(club) == served
    assert receipt.items[0].told.known_origin == ()  # not told of the value it replaces
    with raised(ConflictError, Code.WRONG_STATE) as caught:
        correct(club.ledger, club.ann, pending, perlite("151"), "x", version=3)
    assert caught[0].value == new
    standing = review(club.ledger, club.cleo, new, "accept", version=1)
    assert standing.revision == 3
    assert pending not in used(club)
    assert new in used(club)
    assert answer(club, 2) == served
    assert [row["id"] for row in history(club.ledger, new)] == [pending, new]
    assert [row["id"] for row in history(club.ledger, pending)] == [pending, new]
    card = list_revisions(club.ledger)[0]
    assert (card.kind, card.opened, card.closed) == ("correction", 1, 1)
    assert view(club.ledger, club.ann, pending).state == "replaced"


@pytest.mark.parametrize("decision", [None, "ask", "decline"])
def test_a_corrected_correction_replaces_what_is_served(club, pending, decision):
    accepted(club, pending)
    first = correct(club.ledger, club.ann, pending, perlite("150"), "jug was 1.5 L", version=2)
    version, between = 1, first.items[0].value
    if decision:
        review(club.ledger, club.cleo, between, decision, version=1, note="1.5 L?")
        version = 2
    second = correct(club.ledger, club.ann, between, perlite("155"), "typo", version=version)
    new = second.items[0].value
    assert second.items[0].told.known_origin == ()
    assert view(club.ledger, club.ann, new).row["replaces"] == pending
    with raised(ConflictError, Code.WRONG_STATE) as caught:
        correct(club.ledger, club.ann, pending, perlite("151"), "x", version=3)
    assert caught[0].value == new
    accepted(club, new)
    assert {new} == used(club) & {pending, between, new}
    assert [row["id"] for row in history(club.ledger, new)] == [pending, new]
    assert list_revisions(club.ledger)[0].kind == "correction"
    assert check_audit(club.ledger).intact


def test_a_declined_correction_is_not_taken_up_once_another_was_accepted(club, pending):
    accepted(club, pending)
    first = correct(club.ledger, club.ann, pending, perlite("150"), "typo", version=2)
    declined = first.items[0].value
    review(club.ledger, club.cleo, declined, "decline", version=1, note="no")
    second = correct(club.ledger, club.ann, pending, perlite("151"), "typo", version=3)
    accepted(club, second.items[0].value)
    with raised(ConflictError, Code.WRONG_STATE) as caught:
        correct(club.ledger, club.ann, declined, perlite("152"), "typo", version=2)
    assert caught[0].value == pending


def test_a_correction_that_changes_nothing_or_is_faulty_is_refused(club, pending):
    with raised(ConflictError, Code.ALREADY_HELD):
        correct(club.ledger, club.ann, pending, perlite(), "same", version=1)
    with raised(InvalidError) as caught:
        correct(club.ledger, club.ann, pending, perlite("1,2"), "typo", version=1)
    assert caught[0].pointer == "/typical"
    with raised(InvalidError) as caught:
        correct(club.ledger, club.ann, pending, perlite("12"), "", version=1)
    assert caught[0].pointer == "/reason"
    assert view(club.ledger, club.ann, pending).row["version"] == 1


def test_a_declined_value_can_be_corrected(club, pending):
    review(club.ledger, club.cleo, pending, "decline", version=1, note="no locator")
    receipt = correct(club.ledger, club.ann, pending, perlite("111"), "as asked", version=2)
    assert accepted(club, receipt.items[0].value).state == "accepted"
    assert view(club.ledger, club.ann, pending).state == "declined"


def test_a_specimen_opens_with_its_first_value_and_closes_with_its_last(club):
    batch = one(
        (DENSITY, replace(DENSITY, typical="790", state="dried")), specimen=LID, material=BODY
    )
    receipt = submit(club.ledger, club.ann, batch)
    first, second = (item.value for item in receipt.items)
    assert open_rows(club, Specimen) == []
    accepted(club, first)
    (body,) = open_rows(club, Specimen)
    assert body["id"] == receipt.specimen
    assert len(open_rows(club, SpecimenConstituent)) == 2
    assert [row["id"] for row in open_rows(club, Material)] == ["perlite-lid"]
    assert "perlite-lid" in club.ledger.reference().materials
    accepted(club, second)
    assert len(open_rows(club, Specimen)) == 1
    withdraw(club.ledger, club.ann, first, "cracked", version=2)
    assert len(open_rows(club, Specimen)) == 1
    withdraw(club.ledger, club.ann, second, "cracked", version=2)
    for model in (Specimen, SpecimenConstituent, Material, Source, Origin):
        assert open_rows(club, model) == [], model
    assert check_audit(club.ledger).intact


def test_a_correction_keeps_the_specimen_that_was_proposed(club):
    receipt = submit(club.ledger, club.ann, one(DENSITY, specimen=LID, material=BODY))
    old = receipt.items[0].value
    new = correct(club.ledger, club.ann, old, replace(DENSITY, typical="785"), "typo", version=1)
    accepted(club, new.items[0].value)
    (body,) = open_rows(club, Specimen)
    assert body["id"] == receipt.specimen
    assert view(club.ledger, club.ann, new.items[0].value).row["specimen"] == receipt.specimen


def test_many_are_decided_in_one_revision_or_not_at_all(club):
    batch = one(tuple(perlite(str(100 + n)) for n in range(5)))
    values = [(item.value, 1) for item in submit(club.ledger, club.ann, batch).items]
    with raised(StaleError):
        review_many(club.ledger, club.cleo, [*values[:4], (values[4][0], 9)], "accept")
    assert club.database.revision() == 1
    done = review_many(club.ledger, club.cleo, values, "accept")
    assert done.revision == 2
    assert {item.state for item in done.items} == {"accepted"}
    assert list_revisions(club.ledger)[0].opened == 5
    with raised(InvalidError):
        review_many(club.ledger, club.cleo, [values[0], values[0]], "accept")


def test_a_repeated_review_gets_its_first_answer(club, pending):
    asked = Idempotency("r-1", "a" * 64)
    first = review(club.ledger, club.cleo, pending, "accept", version=1, idempotency=asked)
    again = review(club.ledger, club.cleo, pending, "accept", version=1, idempotency=asked)
    assert again == replace(first, replayed=True)
    assert club.database.revision() == 2


def test_the_queue_pages_in_order_of_submission(club):
    values = []
    for number in range(7):
        club.clock.forward(seconds=1)
        values.append(submit(club.ledger, club.ann, one(perlite(str(100 + number)))).items[0].value)
    review(club.ledger, club.cleo, values[2], "ask", version=1, note="?")
    review(club.ledger, club.cleo, values[4], "accept", version=1)
    seen, after = [], None
    while True:
        page = queue(club.ledger, club.cleo, after=after, limit=2)
        seen += [entry.row["id"] for entry in page.items]
        if page.after is None:
            break
        after = page.after
    assert seen == [value for value in values if value != values[4]]
    assert [e.row["id"] for e in queue(club.ledger, club.cleo, state="asked").items] == [values[2]]
    assert len(mine(club.ledger, club.ann).items) == 7
    assert queue(club.ledger, club.cleo).items[0].submitted_by == "Ann"
    with raised(InvalidError):
        queue(club.ledger, club.cleo, state="strange")
    with raised(InvalidError):
        queue(club.ledger, club.cleo, after="nothing")


def test_what_it_cites_may_be_gone_when_it_is_judged(club):
    source = HeldSource(min(club.ledger.reference().source_types))
    value = (
        submit(club.ledger, club.ann, one(perlite(source=source, locator="p. 1"), source=None))
        .items[0]
        .value
    )
    with club.database.write() as connection:
        connection.execute(
            text(
                "INSERT INTO revision (number, made_at, kind, summary)"
                " VALUES (2, '2026-01-01 00:00:00', 'seed', 'x')"
            )
        )
        connection.execute(
            text("UPDATE source SET to_revision = 2 WHERE id = :id"), {"id": source.id}
        )
    with raised(ConflictError, Code.REFERENCE_GONE):
        review(club.ledger, club.cleo, value, "accept", version=1)
    assert club.database.revision() == 2, "a refused acceptance left a revision behind"
    assert view(club.ledger, club.ann, value).state == "pending"


def test_every_transition_is_written_down():
    for state in STATES:
        for act in ("accept", "decline", "ask", "reply", "correct", "withdraw"):
            if (state, act) in TRANSITIONS:
                assert next_state(state, act, "v") in STATES
                assert act in acts_from(state)
            else:
                with raised(ConflictError, Code.WRONG_STATE):
                    next_state(state, act, "v")
    assert acts_from("withdrawn") == acts_from("replaced") == ()


def test_a_doi_source_opens_with_its_origin(club):
    value = (
        submit(
            club.ledger,
            club.ann,
            one(perlite(source=DoiSource("10.1000/q"), locator="p. 1"), source=None),
        )
        .items[0]
        .value
    )
    accepted(club, value)
    (source,) = open_rows(club, Source)
    (origin,) = open_rows(club, Origin)
    assert source["origin"] == origin["id"]
    assert source["item"]["DOI"] == "10.1000/q"
    assert club.ledger.reference().source_types[source["id"]] == "report"
