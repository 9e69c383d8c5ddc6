"""What a change says of itself in its header fields.

Checked against RFC 9110 (sections named at each test), RFC 6585 section 3 (428), and the draft
`draft-ietf-httpapi-idempotency-key-header-07` (its section 2.7 for the statuses).
"""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from support.doors import body_of, doors_of, value_body
from support.problems import check_problem

ASK = {"decision": "ask", "note": "which jug?"}


@pytest.fixture
def doors(club):
    return doors_of(club)


@pytest.fixture
def value(doors):
    return doors.ann.submits()[0]


def review(doors, value, field, **more):
    headers = {} if field is None else {"If-Match": field}
    return doors.cleo.post(f"/v1/values/{value}/review", ASK, headers={**headers, **more})


def test_a_change_without_a_version_is_asked_for_one(doors, value):
    """RFC 6585, 3: 428 says that the request must be conditional, and how to repeat it."""
    document = check_problem(review(doors, value, None), 428, "version_needed")
    assert "If-Match" in document["detail"]
    for act, body in (("reply", {"text": "x"}), ("withdrawal", {"reason": "x"})):
        response = doors.ann.post(f"/v1/values/{value}/{act}", body)
        check_problem(response, 428, "version_needed")
    correction = {"value": value_body("120"), "reason": "x"}
    response = doors.ann.post(f"/v1/values/{value}/correction", correction)
    check_problem(response, 428, "version_needed")


def test_a_false_condition_is_412_and_nothing_is_done(doors, value):
    """RFC 9110, 13.1.1 and 15.5.13."""
    document = check_problem(review(doors, value, '"7"'), 412, "stale_version")
    assert "version 1" in document["detail"]
    assert doors.cleo.get(f"/v1/contributions/{value}").headers["ETag"] == '"1"'


def test_tags_compare_strongly(doors, value):
    """RFC 9110, 13.1.1 with 8.8.3.2: a weak tag equals nothing under the strong comparison."""
    check_problem(review(doors, value, 'W/"1"'), 412, "stale_version")
    assert review(doors, value, '"1"').status_code == 200


def test_any_of_several_tags_will_do(doors, value):
    """RFC 9110, 13.1.1: the condition is true if the list holds the tag of what is there."""
    check_problem(review(doors, value, '"5", W/"1", "x"'), 412, "stale_version")
    assert review(doors, value, '"5" , "1", "x"').status_code == 200


def test_a_tag_that_is_no_version_matches_nothing(doors, value):
    """RFC 9110, 8.8.3: what stands between the quotes is opaque, so this is a tag like any."""
    for field in ('"one"', '"01"', '"1 "', '""', '"99999999999999999999"'):
        code = 400 if field == '"1 "' else 412  # a space is no character of a tag
        assert review(doors, value, field).status_code == code, field


def test_the_star_names_no_version(doors, value):
    """RFC 9110, 13.1.1 lets `*` match whatever is there; that is what a review must not do."""
    document = check_problem(review(doors, value, "*"), 400, "invalid_header")
    assert document["errors"] == [{"detail": document["detail"], "parameter": "If-Match"}]


@pytest.mark.parametrize("field", ["1", '"1', '"1" "2"', "W/1", ",", '"1",', "x"])
def test_a_field_that_is_no_list_of_tags_is_told(doors, value, field):
    """RFC 9110, 8.8.3: an entity tag stands in quotes."""
    check_problem(review(doors, value, field), 400, "invalid_header")


def test_a_precondition_comes_after_the_checks_that_would_refuse_anyway(doors, value):
    """RFC 9110, 13.2.1: preconditions are ignored where the answer would be no success anyway."""
    check_problem(review(doors, "c-000000000000", '"9"'), 404, "unknown_value")
    response = doors.anyone.act(value, "review", ASK, version=9)
    check_problem(response, 401, "key_needed")
    response = doors.ann.act(value, "review", ASK, version=9)
    check_problem(response, 403, "curators_only")


def test_the_tag_is_the_version_and_every_act_moves_it(doors, value):
    for version, state in ((1, "asked"), (2, "asked"), (3, "asked")):
        response = review(doors, value, f'"{version}"')
        assert response.headers["ETag"] == f'"{version + 1}"'
        assert response.get_json()["state"] == state
        shown = doors.ann.get(f"/v1/contributions/{value}")
        assert shown.headers["ETag"] == f'"{version + 1}"'
        assert shown.get_json()["version"] == version + 1


def test_a_read_of_a_contribution_is_never_answered_from_memory(doors, value):
    """What it stands against may move without its version, so a tag does not spare the answer."""
    url = f"/v1/contributions/{value}"
    response = doors.ann.get(url, headers={"If-None-Match": '"1"'})
    assert response.status_code == 200
    assert response.headers["Cache-Control"] == "no-store"


# --- Idempotency-Key ------------------------------------------------------------------------------


def submit(doors, key, figure="110", person=None, url="/v1/values"):
    body = body_of(value_body(figure))
    return (person or doors.ann).post(url, body, headers={"Idempotency-Key": key})


def test_a_repeated_request_gets_the_first_answer(doors):
    """The draft, 2.6: the result of the first is given again, and nothing is done twice."""
    first = submit(doors, "n-1")
    again = submit(doors, "n-1")
    assert (first.status_code, again.status_code) == (201, 200)
    assert "Idempotent-Replayed" not in first.headers
    assert again.headers["Idempotent-Replayed"] == "true"
    assert again.get_json() == {**first.get_json(), "replayed": True}
    assert len(doors.ann.get("/v1/contributions").get_json()["items"]) == 1


def test_the_quoted_form_of_the_draft_is_the_same_key(doors):
    """The draft, 2.1: the field is a structured item, a string in quotes."""
    assert submit(doors, '"n-2"').status_code == 201
    assert submit(doors, "n-2").get_json()["replayed"]
    assert submit(doors, r'"a\"b\\"', "111").status_code == 201
    assert submit(doors, 'a"b\\', "111").get_json()["replayed"]


def test_a_key_with_another_request_is_422(doors):
    """The draft, 2.7: 422 where a key comes again with another payload."""
    submit(doors, "n-3")
    check_problem(submit(doors, "n-3", "111"), 422, "idempotency_key_reused")
    check_problem(submit(doors, "n-3", url="/v1/values?units=us"), 422, "idempotency_key_reused")
    body = {**body_of(), "specimen": {"material": "cac-40", "name": "x"}}
    other = doors.ann.post("/v1/specimens", body, headers={"Idempotency-Key": "n-3"})
    check_problem(other, 422, "idempotency_key_reused")


def test_keys_belong_to_their_owner(doors):
    first = submit(doors, "n-4")
    other = submit(doors, "n-4", person=doors.ben)
    assert (first.status_code, other.status_code) == (201, 201)
    assert first.get_json()["items"][0]["value"] != other.get_json()["items"][0]["value"]


def test_a_key_is_kept_for_thirty_days(doors):
    submit(doors, "n-5")
    doors.club.clock.forward(days=29)
    assert submit(doors, "n-5").get_json()["replayed"]
    doors.club.clock.forward(days=2)
    later = submit(doors, "n-5").get_json()
    assert not later["replayed"]
    assert later["items"][0]["state"] == "held"  # the content is known all the same


def test_a_refused_request_keeps_no_answer(doors):
    check_problem(submit(doors, "n-6", "x"), 422, "invalid_contribution")
    assert submit(doors, "n-6").status_code == 201


@pytest.mark.parametrize("key", ["", " ", "k" * 256, '"open', '""', "n\u00e4", '"a"b'])
def test_a_key_that_is_none_is_told(doors, key):
    response = doors.ann.client.post(
        "/v1/values",
        json=body_of(),
        headers={"Authorization": f"Bearer {doors.ann.token}", "Idempotency-Key": key},
    )
    document = check_problem(response, 400, "invalid_header")
    assert document["errors"][0]["parameter"] == "Idempotency-Key"
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


def test_every_act_is_done_once(doors, value):
    """A repeat after the version moved says what was done: it is no new request (412)."""
    named = {"Idempotency-Key": "r-1"}
    first = doors.cleo.act(value, "review", ASK, 1, **named)
    again = doors.cleo.act(value, "review", ASK, 1, **named)
    assert again.get_json() == {**first.get_json(), "replayed": True}
    assert again.headers["Idempotent-Replayed"] == "true"
    assert again.headers["ETag"] == '"2"'
    reply = {"Idempotency-Key": "r-2"}
    assert doors.ann.act(value, "reply", {"text": "big"}, 2, **reply).status_code == 200
    assert doors.ann.act(value, "reply", {"text": "big"}, 2, **reply).get_json()["replayed"]
    correction = {"value": value_body("120"), "reason": "tare"}
    named = {"Idempotency-Key": "r-3"}
    made = doors.ann.act(value, "correction", correction, 3, **named)
    assert made.status_code == 201
    again = doors.ann.act(value, "correction", correction, 3, **named)
    assert again.status_code == 200
    assert again.get_json() == {**made.get_json(), "replayed": True}
    new = made.get_json()["items"][0]["value"]
    named = {"Idempotency-Key": "r-4"}
    many = {"decision": "accept", "values": [{"value": new, "version": 1}]}
    done = doors.cleo.post("/v1/reviews", many, headers=named)
    assert doors.cleo.post("/v1/reviews", many, headers=named).get_json() == {
        "items": [{**done.get_json()["items"][0], "replayed": True}],
        "revision": 2,
        "replayed": True,
    }
    named = {"Idempotency-Key": "r-5"}
    assert doors.ann.act(new, "withdrawal", {"reason": "x"}, 2, **named).status_code == 200
    assert doors.ann.act(new, "withdrawal", {"reason": "x"}, 2, **named).get_json()["replayed"]


def test_the_same_request_twice_at_once_is_done_once(doors):
    """The draft, 2.7 has 409 for a twin still running; here it waits and gets its twin's answer."""
    gate = threading.Barrier(4)
    answers = []

    def send():
        gate.wait()
        answers.append(submit(doors, "n-7", "117"))

    threads = [threading.Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answer.status_code for answer in answers) == [200, 200, 200, 201]
    ids = {answer.get_json()["items"][0]["value"] for answer in answers}
    assert len(ids) == 1


def test_a_dry_run_uses_up_no_key(doors):
    assert submit(doors, "n-8", url="/v1/values?dry_run=true").status_code == 200
    assert submit(doors, "n-8").status_code == 201


def test_replayed_a_day_later_it_says_the_same(doors):
    first = submit(doors, "n-9")
    doors.club.clock.forward(hours=24)
    (value,) = (item["value"] for item in first.get_json()["items"])
    doors.cleo.act(value, "review", {"decision": "accept"})
    again = submit(doors, "n-9").get_json()
    assert again == {**first.get_json(), "replayed": True}
    assert again["made_at"].startswith(str(doors.club.clock.now.date() - timedelta(days=1)))
