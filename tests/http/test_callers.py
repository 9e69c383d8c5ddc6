"""Who asks: keys in the field Authorization, checked each time, and nowhere else."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy.exc import OperationalError

from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import authenticate, make_key, revoke_key
from hotface_api.ledger.people import erase_person
from hotface_api.store.database import Database
from support.doors import Person, body_of, doors_of, value_body
from support.problems import check_problem

LIST = "/v1/materials"
BAD = 'Bearer realm="hotface", error="invalid_token"'


@pytest.fixture
def doors(club):
    return doors_of(club)


NEED_A_KEY = [
    ("GET", "/v1/key"),
    ("GET", "/v1/contributions"),
    ("GET", "/v1/contributions/c-000000000000"),
    ("POST", "/v1/values"),
    ("POST", "/v1/specimens"),
    ("POST", "/v1/values/c-000000000000/review"),
    ("POST", "/v1/values/c-000000000000/reply"),
    ("POST", "/v1/values/c-000000000000/correction"),
    ("POST", "/v1/values/c-000000000000/withdrawal"),
    ("POST", "/v1/reviews"),
]


@pytest.mark.parametrize(("method", "url"), NEED_A_KEY)
def test_without_a_key_one_is_asked_for(doors, method, url):
    """RFC 9110, 15.5.2: a 401 names the scheme in WWW-Authenticate. Nothing else is read first."""
    response = doors.anyone.client.open(url, method=method, data=b"not json")
    document = check_problem(response, 401, "key_needed")
    assert response.headers["WWW-Authenticate"] == 'Bearer realm="hotface"'
    assert "Authorization" in document["detail"]


def bad_tokens(doors):
    token = doors.ann.token
    front, secret = token.rsplit("_", 1) if "_" not in token[-43:] else (token[:-44], token[-43:])
    assert f"{front}_{secret}" == token
    other = "A" if secret[0] != "A" else "B"
    return {
        "a wrong secret": f"{front}_{other}{secret[1:]}",
        "another's secret": f"{front}_{doors.ben.token[-43:]}",
        "another role": token.replace("hf_contributor_", "hf_curator_"),
        "no key at all": "hello",
        "nothing": "",
        "cut short": token[:-1],
        "with more": token + "x",
        "long": "h" * 5000,
        "not ASCII": "hf_contributor_\u00e9",
    }


@pytest.mark.parametrize("kind", range(9))
def test_a_key_that_is_none_is_refused_everywhere(doors, kind):
    name, token = sorted(bad_tokens(doors).items())[kind]
    person = Person(doors.anyone.client, token)
    for url in ("/v1/key", LIST, "/", "/nowhere"):
        response = person.get(url)
        check_problem(response, 401, "key_invalid")
        assert response.headers["WWW-Authenticate"] == BAD, name
    check_problem(person.post("/v1/values", body_of()), 401, "key_invalid")


def test_other_schemes_are_not_ours(doors):
    """A proxy's own credentials come through as well; a read must not fail for them."""
    headers = {"Authorization": "Basic dXNlcjpwYXNz"}
    assert doors.anyone.get(LIST, headers=headers).status_code == 200
    check_problem(doors.anyone.get("/v1/key", headers=headers), 401, "key_needed")
    headers = {"Authorization": f"bearer  {doors.ann.token}"}  # RFC 9110, 11.1: case does not count
    assert doors.anyone.get("/v1/key", headers=headers).status_code == 200


def test_a_revoked_key_is_dead_at_once_in_every_worker(doors, ledger_url):
    other = Database(ledger_url)
    elsewhere = doors_of(replace(doors.club, ledger=Ledger(other, clock=doors.club.clock)))
    another = elsewhere.ann
    assert doors.ann.get(LIST).status_code == another.get(LIST).status_code == 200
    revoke_key(doors.club.ledger, doors.club.ann.key)
    for person in (doors.ann, another):
        for url in (LIST, "/v1/key"):
            check_problem(person.get(url), 401, "key_revoked")
        check_problem(person.post("/v1/values", body_of()), 401, "key_revoked")
    assert doors.ben.get("/v1/key").status_code == 200
    other.close()


def test_an_expired_key(doors):
    token = make_key(
        doors.club.ledger, doors.club.ann.contributor, "contributor", lives=timedelta(hours=1)
    ).token
    person = Person(doors.anyone.client, token)
    card = person.get("/v1/key").get_json()
    assert card["expires_at"] == "2026-11-25T10:00:00Z"
    doors.club.clock.forward(hours=1)
    check_problem(person.get("/v1/key"), 401, "key_expired")


def test_the_keys_of_an_erased_person_are_dead_and_their_values_stay(doors):
    (value,) = doors.ann.submits(measured_by={"name": "Zoe", "orcid": "0000-0002-1825-0097"})
    seen = doors.cleo.get(f"/v1/contributions/{value}").get_json()
    assert seen["submitted_by"] == "Ann"
    assert seen["measured_by"] == {"name": "Zoe", "orcid": "0000-0002-1825-0097"}
    erase_person(doors.club.ledger, doors.club.ann.contributor)
    check_problem(doors.ann.get("/v1/key"), 401, "key_revoked")
    seen = doors.cleo.get(f"/v1/contributions/{value}").get_json()
    assert (seen["submitted_by"], seen["measured_by"]) == (None, None)
    assert seen["contributor"] == doors.club.ann.contributor


def test_the_last_use_is_noted(doors):
    assert doors.ann.get("/v1/key").get_json()["last_used_at"] == "2026-11-25T09:00:00Z"
    doors.club.clock.forward(minutes=20)
    doors.ann.get(LIST)
    assert doors.cleo.get("/v1/key").status_code == 200
    assert doors.ann.get("/v1/key").get_json()["last_used_at"] == "2026-11-25T09:20:00Z"


QUERIES = [
    "key=x",
    "api_key=x",
    "access_token=x",
    "token=x",
    "KEY=x",
    "%6bey=x",
    "q={}",
    "q=a+{}",
    "kind=hf%5Fcontributor%5Fabc",
    "{}",
    "{}=",
]


@pytest.mark.parametrize("query", QUERIES)
def test_a_key_in_the_address_is_refused_and_said_to_be_burnt(doors, query, caplog):
    query = query.format(doors.ann.token)
    url = f"{LIST}?{query}"
    with caplog.at_level(logging.DEBUG, logger="hotface"):
        for person in (doors.anyone, doors.ann):
            response = person.get(url)
            document = check_problem(response, 400, "key_in_query")
            assert "revoke" in document["detail"]
            assert doors.ann.token not in response.text
    check_problem(doors.ann.post(f"/v1/values?{query}", body_of()), 400, "key_in_query")
    assert doors.ann.token not in caplog.text


def test_answers_to_a_key_are_kept_by_nobody(doors):
    parts = doors.app.extensions["hotface"]
    before = len(parts.answers)
    response = doors.ann.get(LIST)
    assert response.status_code == 200
    assert response.headers["Cache-Control"].startswith("private")
    assert len(parts.answers) == before
    plain = doors.anyone.get(LIST)
    assert plain.data == response.data
    assert plain.headers["Cache-Control"].startswith("public")
    assert len(parts.answers) == before + 1
    again = doors.ann.get(LIST)  # not the kept one either: the key is looked up first
    assert again.headers["Cache-Control"].startswith("private")
    tag = {"If-None-Match": response.headers["ETag"]}
    assert doors.ann.get(LIST, headers=tag).status_code == 304
    for url in ("/v1/contributions", "/v1/key"):
        kept = doors.ann.get(url)
        assert kept.headers["Cache-Control"] == "no-store"
        assert "Authorization" in kept.headers["Vary"]


def test_a_read_with_a_key_costs_one_statement_more(doors, statements):
    doors.ann.get(LIST)
    doors.anyone.get(LIST)
    with statements(doors.club.database) as plain:
        doors.anyone.get("/v1/properties")
    with statements(doors.club.database) as keyed:
        doors.ann.get("/v1/properties")
    assert len(keyed) == len(plain) + 1


METHODS = [
    ("/v1/values", {"GET", "HEAD", "OPTIONS", "POST"}),
    ("/v1/specimens", {"GET", "HEAD", "OPTIONS", "POST"}),
    ("/v1/values/c-0/review", {"OPTIONS", "POST"}),
    ("/v1/values/c-0/correction", {"OPTIONS", "POST"}),
    ("/v1/reviews", {"OPTIONS", "POST"}),
    ("/v1/contributions", {"GET", "HEAD", "OPTIONS"}),
    ("/v1/key", {"GET", "HEAD", "OPTIONS"}),
]


@pytest.mark.parametrize(("url", "methods"), METHODS)
def test_methods_are_told(doors, url, methods):
    """RFC 9110, 15.5.6 and 10.2.1: a 405 carries Allow; OPTIONS tells the same."""
    response = doors.anyone.client.delete(url)
    check_problem(response, 405, "method_not_allowed")
    assert set(response.headers["Allow"].split(", ")) == methods
    told = doors.anyone.client.options(url)
    assert told.status_code == 200
    assert set(told.headers["Allow"].split(", ")) == methods
    # as every route: pages of any origin may read, none may send a key or change anything
    assert told.headers["Access-Control-Allow-Methods"] == "GET, HEAD, OPTIONS"
    assert "Authorization" not in told.headers["Access-Control-Allow-Headers"]


def test_a_head_is_a_get_without_its_body(doors):
    (value,) = doors.ann.submits()
    for url in ("/v1/contributions", f"/v1/contributions/{value}", "/v1/key"):
        headers = {"Authorization": f"Bearer {doors.ann.token}"}
        head = doors.anyone.client.head(url, headers=headers)
        get = doors.ann.get(url)
        assert (head.status_code, head.data) == (200, b"")
        assert head.headers.get("ETag") == get.headers.get("ETag")
        assert head.headers["Content-Length"] == get.headers["Content-Length"]


def test_a_change_tells_no_page_of_another_origin(doors):
    response = doors.ann.post("/v1/values", body_of(), headers={"Origin": "https://example.org"})
    assert response.status_code == 201
    assert "Access-Control-Allow-Origin" not in response.headers


def test_a_database_that_is_away_is_503_and_nothing_is_written(doors, monkeypatch):
    (value,) = doors.ann.submits()

    def away(*_args, **_kwargs):
        raise OperationalError("BEGIN IMMEDIATE", {}, Exception("secret host is away"))

    monkeypatch.setattr(doors.club.database, "write", away)
    for response in (
        doors.ann.post("/v1/values", body_of(value_body("111"))),
        doors.cleo.act(value, "review", {"decision": "accept"}),
        doors.ann.act(value, "withdrawal", {"reason": "x"}),
    ):
        document = check_problem(response, 503, "database_unavailable")
        assert response.headers["Retry-After"] == "2"
        assert "secret" not in document["detail"]
    monkeypatch.setattr(doors.club.database, "read", away)
    check_problem(doors.ann.get(LIST), 503, "database_unavailable")
    monkeypatch.undo()
    assert len(doors.ann.get("/v1/contributions").get_json()["items"]) == 1
    assert doors.ann.get(f"/v1/contributions/{value}").headers["ETag"] == '"1"'


def test_a_fault_of_ours_tells_nothing_of_the_key(doors, monkeypatch, caplog):
    def broken(*_args, **_kwargs):
        raise RuntimeError("oops")

    monkeypatch.setattr("hotface_api.http.routes.contributions.submit", broken)
    check_problem(doors.ann.post("/v1/values", body_of()), 500, "internal_error")
    assert doors.ann.token not in caplog.text


def test_the_ledger_and_the_doors_know_the_same_keys(doors):
    assert authenticate(doors.club.ledger, doors.ann.token) == doors.club.ann
