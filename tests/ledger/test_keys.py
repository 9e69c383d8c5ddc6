"""Keys: shown once, refused for every reason there is, dead everywhere once revoked."""

import hashlib
from datetime import timedelta

import pytest
from sqlalchemy import text

from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import Code, InvalidError, KeyRefusedError, UnknownError
from hotface_api.ledger.keys import authenticate, list_keys, make_key, revoke_key
from hotface_api.ledger.people import add_contributor, erase_person, list_people
from hotface_api.store.database import Database
from support.contributions import raised


def test_a_key_is_shown_once_and_only_its_hash_is_kept(club):
    new = make_key(club.ledger, club.ann.contributor, "contributor", label="shed")
    secret = new.token.split("_", 3)[3]
    with club.ledger.read() as connection:
        row = (
            connection.execute(text("SELECT * FROM api_key WHERE id = :id"), {"id": new.card.id})
            .mappings()
            .one()
        )
    assert row["digest"] == hashlib.sha256(secret.encode()).hexdigest()
    assert all(secret not in str(value) for value in row.values())
    assert new.token.startswith(new.card.prefix + "_")
    assert len(secret) == 43  # 32 bytes
    actor = authenticate(club.ledger, new.token)
    assert (actor.contributor, actor.role, actor.key) == (
        club.ann.contributor,
        "contributor",
        new.card.id,
    )


@pytest.mark.parametrize(
    "spoil",
    [
        lambda t: t[:-1],
        lambda t: t[:-1] + ("A" if t[-1] != "A" else "B"),
        lambda _: "",
        lambda t: t.replace("contributor", "curator"),
        lambda t: "x" + t,
        lambda t: t + "\n",
        lambda _: "hf_contributor_000000000000_" + "A" * 43,
        lambda _: "\ud800",
        lambda t: t.upper(),
        lambda _: "é" * 50,
    ],
)
def test_a_wrong_key_is_refused_without_saying_why(club, spoil):
    token = make_key(club.ledger, club.ann.contributor, "contributor").token
    with raised(KeyRefusedError, Code.KEY_INVALID):
        authenticate(club.ledger, spoil(token))


def test_a_revoked_key_is_dead_at_once_in_another_process(club, ledger_url):
    new = make_key(club.ledger, club.ann.contributor, "contributor")
    other = Database(ledger_url)
    elsewhere = Ledger(other, clock=club.clock)
    authenticate(elsewhere, new.token)
    assert revoke_key(club.ledger, new.card.id).revoked_at is not None
    with raised(KeyRefusedError, Code.KEY_REVOKED):
        authenticate(elsewhere, new.token)
    other.close()
    first = revoke_key(club.ledger, new.card.id).revoked_at
    club.clock.forward(hours=1)
    assert revoke_key(club.ledger, new.card.id).revoked_at == first  # again changes nothing


def test_a_key_expires(club):
    new = make_key(club.ledger, club.ann.contributor, "contributor", lives=timedelta(days=2))
    club.clock.forward(days=2, seconds=-1)
    authenticate(club.ledger, new.token)
    club.clock.forward(seconds=1)
    with raised(KeyRefusedError, Code.KEY_EXPIRED):
        authenticate(club.ledger, new.token)


def test_last_use_is_kept_but_seldom_written(club, statements):
    new = make_key(club.ledger, club.ann.contributor, "contributor")
    authenticate(club.ledger, new.token)
    with statements(club.database) as counted:
        club.clock.forward(minutes=10)
        authenticate(club.ledger, new.token)
    assert len(counted) == 1
    card = next(card for card in list_keys(club.ledger) if card.id == new.card.id)
    assert card.last_used_at == club.clock() - timedelta(minutes=10)
    club.clock.forward(minutes=10)
    authenticate(club.ledger, new.token)
    card = next(card for card in list_keys(club.ledger) if card.id == new.card.id)
    assert card.last_used_at == club.clock()
    club.clock.forward(days=-3)  # the clock goes back: still a good key
    authenticate(club.ledger, new.token)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"role": "king"}, InvalidError),
        ({"lives": timedelta(0)}, InvalidError),
        ({"lives": timedelta(days=9999)}, InvalidError),
        ({"label": "a\0b"}, InvalidError),
        ({"contributor": "p-nobody"}, UnknownError),
    ],
)
def test_keys_that_make_no_sense_are_not_made(club, given, code):
    asked = {"contributor": club.ann.contributor, "role": "contributor", **given}
    before = len(list_keys(club.ledger))
    with raised(code):
        make_key(club.ledger, asked.pop("contributor"), asked.pop("role"), **asked)
    assert len(list_keys(club.ledger)) == before
    with raised(UnknownError, Code.UNKNOWN_KEY):
        revoke_key(club.ledger, "nosuchkey000")


def test_a_contributor_has_a_checked_orcid(club):
    card = add_contributor(club.ledger, " Eve ", orcid="https://orcid.org/0000-0002-1825-0097")
    assert (card.name, card.orcid) == ("Eve", "0000-0002-1825-0097")
    with raised(InvalidError) as caught:
        add_contributor(club.ledger, "Eve", orcid="0000-0002-1825-0096")
    assert caught[0].pointer == "/orcid"
    with raised(InvalidError):
        add_contributor(club.ledger, "  ")


def test_erasing_a_person_leaves_an_opaque_id_and_no_good_key(club):
    card = add_contributor(club.ledger, "Eve", orcid="0000-0002-1825-0097", contact="eve@x.org")
    token = make_key(club.ledger, card.contributor, "contributor").token
    erase_person(club.ledger, card.contributor)
    with raised(KeyRefusedError, Code.KEY_REVOKED):
        authenticate(club.ledger, token)
    left = next(p for p in list_people(club.ledger) if p.contributor == card.contributor)
    assert (left.name, left.orcid, left.contact) == (None, None, None)
    assert left.erased_at is not None
    with raised(UnknownError):
        make_key(club.ledger, card.contributor, "contributor")
    with raised(UnknownError):
        erase_person(club.ledger, "p-nobody")
