"""Corners of contributions: what they refer to goes, a proxy's prefix, the export, the estimate."""

from __future__ import annotations

import copy
import csv
import io
import json
import shutil
import zipfile

import pytest

from hotface_api.ledger.check import check_audit
from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.database import Database
from support.contributions import found_club, newer, prepared
from support.databases import BACKENDS, fresh_url
from support.document import operation
from support.doors import body_of, doors_of, value_body
from support.estimates import REQUEST
from support.problems import check_problem


@pytest.fixture
def doors(club):
    return doors_of(club)


@pytest.fixture(params=BACKENDS)
def fresh(request, tmp_path, package):
    """Doors on a database of its own, and a package of its own to change."""
    own = tmp_path / "own"
    shutil.copytree(package.parent, own)
    with fresh_url(request.param, tmp_path) as url:
        database = Database(url)
        prepared(database, own / package.name)
        yield doors_of(found_club(database)), own / package.name
        database.close()


def without(package, name, column, key):
    """Drop the rows of a table of a package that hold a key."""
    path = package.parent / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(row for row in rows if row[column] != key)


def test_a_property_that_a_newer_package_drops_breaks_no_list(fresh):
    doors, package = fresh
    emissivity = value_body("0.9", property="emissivity", printed={"typical": "0.9", "unit": "1"})
    emissivity["condition"] = {"form": "solid"}
    first = doors.ann.post("/v1/values", body_of(emissivity), headers={"Idempotency-Key": "e"})
    assert first.status_code == 201, first.text
    (value,) = (item["value"] for item in first.get_json()["items"])
    declined = doors.cleo.act(value, "review", {"decision": "decline", "note": "of what?"})
    assert declined.status_code == 200  # what waits or is accepted keeps its property open
    for name, column in (("values", "property"), ("properties", "id"), ("left_out", "what")):
        without(package, name, column, "emissivity")
    load(doors.club.database, newer(package))
    assert doors.anyone.get("/v1/properties/emissivity").status_code == 404
    for person in (doors.ann, doors.cleo):
        for url in ("/v1/contributions?state=declined", f"/v1/contributions/{value}?units=us"):
            assert person.get(url).status_code == 200
    shown = doors.ann.get(f"/v1/contributions/{value}").get_json()
    assert (shown["value"]["typical"], shown["value"]["unit"]) == (0.9, "1")
    again = doors.ann.post("/v1/values", body_of(emissivity), headers={"Idempotency-Key": "e"})
    assert again.get_json()["items"] == first.get_json()["items"]


def test_a_material_taken_by_another_since(doors):
    body = copy.deepcopy(
        operation("post_specimens")["requestBody"]["content"]["application/json"]["example"]
    )
    first = doors.ann.post("/v1/specimens", body).get_json()["items"][0]["value"]
    body["material"]["name"] = "Another concrete"
    second = doors.ben.post("/v1/specimens", body).get_json()["items"][0]["value"]
    assert doors.cleo.act(first, "review", {"decision": "accept"}).status_code == 200
    response = doors.cleo.act(second, "review", {"decision": "accept"})
    check_problem(response, 409, "reference_gone")
    assert doors.club.database.revision() == 2


def test_the_address_of_a_contribution_keeps_the_prefix_of_a_proxy(club):
    doors = doors_of(club, trust_proxy=1)
    prefix = {"X-Forwarded-Prefix": "/kiln"}
    response = doors.ann.post("/v1/values", body_of(), headers=prefix)
    assert response.headers["Location"].startswith("/kiln/v1/contributions/c-")


def test_an_estimate_of_an_earlier_revision_stays_to_the_byte(doors):
    body = copy.deepcopy(REQUEST)
    body["mix"]["constituents"] = [
        {"material": "cac-40", "amount": "25 kg"},
        {"material": "expanded-perlite", "amount": "60 L"},
    ]
    ask = "/v1/survivals?revision=1"
    question = {"questions": [{"material": "expanded-perlite", "temperature": "900 Cel"}]}
    before = doors.anyone.post(ask, question)
    assert before.status_code == 200
    limit = value_body("850", property="service_limit", printed={"typical": "850", "unit": "Cel"})
    limit |= {"role": "use_limit", "condition": {"form": "grain"}}
    (value,) = doors.ann.submits(limit)
    assert doors.cleo.act(value, "review", {"decision": "accept"}).status_code == 200
    assert doors.anyone.post(ask, question).data == before.data
    after = doors.anyone.post("/v1/survivals", question)
    assert after.get_json()["results"][0]["survival"]["revision"] == 2


MARKUP = '=HYPERLINK("http://example.org")'


def test_the_export_makes_a_formula_harmless_and_loads_again(doors, tmp_path):
    (value,) = doors.ann.submits(value_body(note=MARKUP))
    doors.cleo.act(value, "review", {"decision": "accept"})
    answer = doors.anyone.get("/v1/export")
    assert answer.status_code == 200
    archive = zipfile.ZipFile(io.BytesIO(answer.data))
    rows = csv.DictReader(io.StringIO(archive.read("values.csv").decode()))
    (row,) = (row for row in rows if row["id"] == value)
    assert row["note"] == f"'{MARKUP}"
    path = tmp_path / "whole.zip"
    path.write_bytes(answer.data)
    database = Database(f"sqlite:///{tmp_path / 'again.sqlite3'}")
    schema.migrate(database)
    load(database, path)
    client = doors_of(found_club(database)).anyone
    assert client.get(f"/v1/values/{value}").get_json()["note"] == MARKUP
    database.close()


def test_a_page_cut_short_by_another_s_submission_loses_nothing(doors):
    """A walk through the queue while more comes in sees every value that was there, once."""
    values = [doors.ann.submits(value_body(str(100 + n)))[0] for n in range(4)]
    seen, url = [], "/v1/contributions?limit=2"
    while url:
        page = doors.cleo.get(url).get_json()
        seen += [item["value"]["id"] for item in page["items"]]
        url = page["next"]
        doors.club.clock.forward(minutes=1)
        if len(seen) == 2:
            doors.ben.submits(value_body("95"))
    assert len(seen) == len(set(seen)) == 5
    assert set(values) <= set(seen)


def test_the_clock_going_back_changes_no_order_and_breaks_no_chain(doors):
    (first,) = doors.ann.submits(value_body("101"))
    doors.club.clock.forward(hours=-5)
    (second,) = doors.ann.submits(value_body("102"))
    for value in (first, second):
        assert doors.cleo.act(value, "review", {"decision": "accept"}).status_code == 200
    numbers = [row["number"] for row in doors.anyone.get("/v1/revisions").get_json()["items"]]
    assert numbers == sorted(numbers, reverse=True)
    assert check_audit(doors.club.ledger).intact


def test_an_answer_kept_for_a_replay_holds_no_key(doors):
    response = doors.ann.post("/v1/values", body_of(), headers={"Idempotency-Key": "k"})
    assert doors.ann.token[-43:] not in json.dumps(response.get_json())
