"""Sessions: opened with a key, looked up every time, dead with it."""

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from hotface_api.ledger.errors import Code, KeyRefusedError
from hotface_api.ledger.keys import make_key, revoke_key
from hotface_api.ledger.people import erase_person
from hotface_api.ledger.sessions import LIVES, close_session, find_session, open_session
from hotface_api.store.ledger_models import WebSession
from hotface_api.store.read import table
from support.contributions import raised


@pytest.fixture
def key(club):
    return make_key(club.ledger, club.ann.contributor, "curator", lives=timedelta(days=2))


def held(club):
    with club.database.read() as connection:
        return connection.scalar(select(func.count()).select_from(table(WebSession)))


def test_a_session_tells_who_is_behind_it(club, key):
    session = open_session(club.ledger, key.token)
    found = find_session(club.ledger, session)
    assert found.actor.contributor == club.ann.contributor
    assert found.actor.is_curator
    assert found.actor.key == key.card.id
    assert found.name == "Ann"
    assert found.expires_at == club.clock.now + LIVES


def test_neither_key_nor_session_is_stored(club, key):
    session = open_session(club.ledger, key.token)
    with club.database.read() as connection:
        row = connection.execute(select(table(WebSession))).one()
    assert session not in str(tuple(row))
    assert key.token.rpartition("_")[2] not in str(tuple(row))


def test_a_session_ends_by_itself_and_is_swept(club, key):
    session = open_session(club.ledger, key.token)
    club.clock.forward(hours=11, minutes=59)
    assert find_session(club.ledger, session) is not None
    club.clock.forward(minutes=1)
    assert find_session(club.ledger, session) is None
    assert held(club) == 1
    open_session(club.ledger, key.token)
    assert held(club) == 1


def test_a_session_lives_no_longer_than_its_key(club, key):
    club.clock.forward(hours=40)
    session = open_session(club.ledger, key.token)
    assert find_session(club.ledger, session).expires_at == key.card.expires_at
    club.clock.forward(hours=8)
    assert find_session(club.ledger, session) is None


def test_a_revoked_key_and_an_erased_person_end_it_at_once(club, key):
    session = open_session(club.ledger, key.token)
    revoke_key(club.ledger, key.card.id)
    assert find_session(club.ledger, session) is None
    other = make_key(club.ledger, club.ben.contributor, "contributor")
    session = open_session(club.ledger, other.token)
    erase_person(club.ledger, club.ben.contributor)
    assert find_session(club.ledger, session) is None


def test_a_new_session_ends_the_one_before_and_no_other(club, key):
    first, other = (open_session(club.ledger, key.token) for _ in range(2))
    second = open_session(club.ledger, key.token, before=first)
    assert find_session(club.ledger, first) is None
    assert find_session(club.ledger, other) is not None
    close_session(club.ledger, second)
    close_session(club.ledger, second)
    assert find_session(club.ledger, second) is None
    assert held(club) == 1


@pytest.mark.parametrize("made_up", ["", "x", "é\ud800", "a" * 10_000, "' OR 1=1 --"])
def test_a_made_up_session_is_nobody_s(club, key, made_up):
    session = open_session(club.ledger, key.token, before=made_up)
    assert find_session(club.ledger, made_up) is None
    close_session(club.ledger, made_up)
    assert find_session(club.ledger, session) is not None


def test_a_bad_key_opens_nothing(club, key):
    revoke_key(club.ledger, key.card.id)
    with raised(KeyRefusedError, Code.KEY_REVOKED):
        open_session(club.ledger, key.token)
    with raised(KeyRefusedError, Code.KEY_INVALID):
        open_session(club.ledger, "hf_curator_x")
    assert held(club) == 0


def test_looking_one_up_is_one_statement(club, key, statements):
    session = open_session(club.ledger, key.token)
    with statements(club.database) as counted:
        assert find_session(club.ledger, session) is not None
    assert len(counted) == 1
