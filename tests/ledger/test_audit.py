"""The audit: whole after everything, broken by anything, and free of people."""

import pytest
from sqlalchemy import text

from hotface_api.ledger import audit
from hotface_api.ledger.check import check_audit
from hotface_api.ledger.correct import correct
from hotface_api.ledger.people import erase_person, list_people
from hotface_api.ledger.reading import mine, view
from hotface_api.ledger.review import reply, review, withdraw
from hotface_api.ledger.submit import submit
from support.contributions import one, perlite

SMUGGLED = (
    "INSERT INTO revision (number, made_at, kind, summary)"
    " VALUES (9, '2026-01-01 00:00:00', 'contribution', 'x')"
)


@pytest.fixture
def busy(club):
    """A club in which everything has happened once."""
    batch = one(tuple(perlite(str(100 + n)) for n in range(5)))
    values = [item.value for item in submit(club.ledger, club.ann, batch).items]
    review(club.ledger, club.cleo, values[0], "accept", version=1, note="good")
    review(club.ledger, club.cleo, values[1], "decline", version=1, note="no jug")
    review(club.ledger, club.cleo, values[2], "ask", version=1, note="poured?")
    reply(club.ledger, club.ann, values[2], "poured", version=2)
    withdraw(club.ledger, club.ann, values[3], "wrong bag", version=1)
    new = correct(club.ledger, club.ann, values[0], perlite("117"), "typo", version=2)
    review(club.ledger, club.dora, new.items[0].value, "accept", version=1)
    withdraw(club.ledger, club.ann, new.items[0].value, "gone", version=2)
    assert check_audit(club.ledger).intact
    return club


def change(club, statement):
    with club.database.write() as connection:
        done = connection.execute(text(statement)).rowcount
    assert done > 0, "the change changed nothing"


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE audit SET facts = '{}' WHERE number = 10", "entry 10: the chain breaks"),
        ("UPDATE audit SET actor = 'p-other' WHERE number = 11", "entry 11: the chain breaks"),
        ("UPDATE audit SET at = '2020-01-01T00:00:00.000000Z' WHERE number = 12", "entry 12"),
        ("UPDATE audit SET hash = previous WHERE number = 12", "entry 12"),
        ("DELETE FROM audit WHERE number = 11", "entry 11: missing"),
        ("UPDATE audit SET number = 1000 WHERE number = 14", "entry 14: missing"),
        (
            "UPDATE value SET typical = typical * 2 WHERE printed_typical = '103'",
            "not what was submitted",
        ),
        ("UPDATE value SET note = 'x' WHERE printed_typical = '103'", "not what was submitted"),
        ("DELETE FROM value WHERE printed_typical = '103'", "its row is gone"),
        ("UPDATE value SET to_revision = NULL WHERE printed_typical = '117'", "closed by"),
        (
            "UPDATE contribution SET state = 'pending' WHERE state = 'declined'",
            "is pending; the audit says declined",
        ),
        ("DELETE FROM contribution WHERE state = 'declined'", "it is gone"),
        ("UPDATE remark SET text = 'fine' WHERE act = 'decline'", "remark was changed"),
        ("DELETE FROM remark WHERE act = 'decline'", "remark is gone"),
        ("UPDATE submission SET proposed = '{}'", "what it proposed was changed"),
        (SMUGGLED, "does not speak of"),
    ],
)
def test_every_change_behind_its_back_is_found(busy, statement, told):
    change(busy, statement)
    report = check_audit(busy.ledger)
    assert not report.intact
    assert any(told in fault for fault in report.faults), report.faults


def test_a_cut_end_is_found(busy):
    head = check_audit(busy.ledger).head
    change(busy, "DELETE FROM audit WHERE number = (SELECT max(number) FROM audit)")
    assert not check_audit(busy.ledger).intact  # a contribution says more than the chain
    assert "noted before" in check_audit(busy.ledger, expected=head).faults[0]


def test_a_head_noted_before_stays_in_the_chain(busy):
    head = check_audit(busy.ledger).head
    submit(busy.ledger, busy.ben, one())
    assert check_audit(busy.ledger, expected=head).intact
    assert not check_audit(busy.ledger, expected=(head[0], "0" * 64)).intact


def test_a_value_smuggled_in_is_found(busy):
    change(
        busy,
        "INSERT INTO value (id, material, property, typical, bound, printed_typical,"
        " printed_unit, unit, form, basis, origin, contributor, status, version)"
        " VALUES ('c-false', 'expanded-perlite', 'loose_bulk_density', 1, 'is', '1',"
        " 'kg/m3', 'kg/m3', 'heap', 'measured', 'x', 'p-x', 'pending', 1)",
    )
    assert any("c-false" in fault for fault in check_audit(busy.ledger).faults)


def test_people_can_be_erased_without_breaking_the_chain(busy):
    hers = mine(busy.ledger, busy.ann).items
    waiting = next(e for e in hers if e.remarks and e.remarks[-1].act == "reply")
    erase_person(busy.ledger, busy.ann.contributor, remarks=True)
    report = check_audit(busy.ledger)
    assert report.intact, report.faults
    entry = view(busy.ledger, busy.cleo, waiting.row["id"])
    assert entry.submitted_by is None
    assert [remark.text for remark in entry.remarks] == ["poured?", None]
    assert entry.row["typical"] == waiting.row["typical"]
    names = {person.name for person in list_people(busy.ledger)}
    assert "Ann" not in names


def test_the_chain_does_not_mind_a_clock_that_goes_back(club):
    for step in (0, -86400, 3600, -10):
        club.clock.forward(seconds=step)
        with club.ledger.write() as connection:
            audit.append(connection, club.ledger.now(), "operator", "test", "x", {})
    assert check_audit(club.ledger).intact
