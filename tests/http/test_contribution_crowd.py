"""Many at once and a database in trouble, over HTTP: no 500, no lost update, no half write."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier

import pytest
from sqlalchemy import make_url

from hotface_api.ledger.check import check_audit
from hotface_api.ledger.core import Ledger
from hotface_api.store.database import Database
from support.contributions import SQLITE_ONLY
from support.doors import Person, body_of, doors_of, value_body
from support.problems import check_problem
from support.trouble import held_lock, impatient

PERLITE = "/v1/materials/expanded-perlite/properties/loose_bulk_density"


@pytest.fixture
def doors(club):
    return doors_of(club)


def crowd(club, url, writers, readers, each):
    """Submit, accept and read at once through two workers; give every answer's status."""
    databases = [Database(url) for _ in range(2)]
    workers = [
        doors_of(replace(club, ledger=Ledger(database, clock=club.clock))) for database in databases
    ]
    gate, statuses, written = Barrier(writers + readers), [], []

    def person(worker, name):
        """Give a client of one's own: test clients are not shared between threads."""
        return Person(worker.app.test_client(), getattr(worker, name).token)

    def patiently(ask, *what, **named):
        """Ask until there is an answer other than `try again`."""
        while (answer := ask(*what, **named)).status_code == 503:
            assert int(answer.headers["Retry-After"]) > 0
        statuses.append(answer.status_code)
        return answer

    def write(number):
        ann, cleo = (person(workers[number % 2], name) for name in ("ann", "cleo"))
        gate.wait()
        for turn in range(each):
            body = body_of(value_body(f"{100 + number + turn / 100:.2f}"))
            named = {"Idempotency-Key": f"{number}-{turn}"}
            answer = patiently(ann.post, "/v1/values", body, headers=named)
            value = answer.get_json()["items"][0]["value"]
            patiently(cleo.act, value, "review", {"decision": "accept"})
            written.append(value)

    def read(number):
        anyone, cleo = (person(workers[number % 2], name) for name in ("anyone", "cleo"))
        gate.wait()
        for turn in range(each):
            url = f"{PERLITE}?at={20 + turn} Cel"
            seen = patiently(anyone.get, url).get_json()
            again = patiently(anyone.get, f"{url}&revision={seen['revision']}")
            assert again.get_json() == seen, "a revision said two things"
            patiently(cleo.get, "/v1/contributions?limit=3")

    with ThreadPoolExecutor(writers + readers) as pool:
        running = [pool.submit(write, n) for n in range(writers)]
        running += [pool.submit(read, n) for n in range(readers)]
        for each_ in running:
            each_.result()
    for database in databases:
        database.close()
    assert set(statuses) == {200, 201}
    assert len(set(written)) == writers * each
    assert club.database.revision() == 1 + writers * each
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    assert report.contributions == writers * each


def test_writers_and_readers_at_once(club, ledger_url):
    crowd(club, ledger_url, writers=6, readers=12, each=2)


@pytest.mark.long
def test_thirty_two_writers_and_two_hundred_readers(club, ledger_url):
    crowd(club, ledger_url, writers=32, readers=200, each=3)


def test_a_locked_database_is_503_and_reads_go_on(doors, ledger_url):
    (value,) = doors.ann.submits(value_body("101"))
    named = {"Idempotency-Key": "k"}
    with held_lock(doors.club, ledger_url), impatient(doors.club):
        for response in (
            doors.ann.post("/v1/values", body_of(), headers=named),
            doors.cleo.act(value, "review", {"decision": "accept"}),
            doors.ann.act(value, "correction", {"value": value_body("102"), "reason": "x"}),
        ):
            check_problem(response, 503, "database_unavailable")
            assert int(response.headers["Retry-After"]) > 0
        assert doors.ann.post("/v1/values?dry_run=true", body_of()).status_code == 200
        assert doors.ann.get(f"/v1/contributions/{value}").headers["ETag"] == '"1"'
        assert doors.anyone.get(PERLITE).status_code == 200
    assert doors.ann.post("/v1/values", body_of(), headers=named).status_code == 201
    assert len(doors.ann.get("/v1/contributions").get_json()["items"]) == 2
    assert check_audit(doors.club.ledger).intact


@SQLITE_ONLY
def test_a_database_that_goes_away_and_comes_back(doors):
    path = make_url(str(doors.club.database.url)).database
    (value,) = doors.ann.submits()
    doors.club.database.close()
    aside = f"{path}.aside"
    shutil.move(path, aside)
    for name in ("-wal", "-shm"):
        shutil.rmtree(path + name, ignore_errors=True)
    for response in (
        doors.ann.post("/v1/values", body_of(value_body("103"))),
        doors.ann.get("/v1/contributions"),
    ):
        assert response.status_code == 503
        assert int(response.headers["Retry-After"]) > 0
    doors.club.database.close()
    shutil.move(aside, path)
    assert doors.ann.get(f"/v1/contributions/{value}").status_code == 200
    assert doors.ann.post("/v1/values", body_of(value_body("103"))).status_code == 201
