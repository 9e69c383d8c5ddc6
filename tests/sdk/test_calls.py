"""Asking: retries, waiting, conditional requests, and what is no answer."""

import json
import pickle
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest

from hotface import (
    Client,
    Conflict,
    ConnectionFailed,
    Gone,
    HotfaceError,
    InvalidRequest,
    KeyRefused,
    NotAllowed,
    NotAnAnswer,
    NotFound,
    OldServer,
    ProblemError,
    RateLimited,
    Response,
    RetryPolicy,
    ServerFault,
    Stale,
    Unavailable,
    VersionNeeded,
)
from hotface._retry import retry_after
from support.scripted import Scripted, Unhurried, answered, client_of, problem

REVISION = {
    "number": 1,
    "made_at": "2026-01-02T03:04:05Z",
    "kind": "seed",
    "summary": "first",
    "package_version": "1",
    "content_digest": "d",
}
PAGE = {"items": [REVISION], "next": None, "revision": 1}


def test_it_asks_again_after_what_passes_and_waits_ever_longer():
    policy = Unhurried(retries=5)
    script = [ConnectionFailed("away"), *(problem(status, "x") for status in (429, 502, 503, 504))]
    client, transport = client_of(*script, answered(PAGE), retries=policy)
    assert client.ask("GET", "/v1/revisions").data == PAGE
    assert policy.waited == [0.5, 1, 2, 4, 5]
    assert len(transport.requests) == 6


def test_an_answer_cut_off_is_asked_for_again():
    client, _ = client_of(NotAnAnswer("cut", cut=True), answered(PAGE))
    assert client.ask("GET", "/v1/revisions").data == PAGE


@pytest.mark.parametrize("status", [400, 401, 404, 409, 422, 500])
def test_what_does_not_pass_is_asked_once(status):
    client, transport = client_of(problem(status, "x"))
    with pytest.raises(ProblemError):
        client.ask("GET", "/v1/materials/x")
    assert len(transport.requests) == 1


def test_a_certificate_that_is_refused_is_not_tried_again():
    client, transport = client_of(ConnectionFailed("certificate", final=True))
    with pytest.raises(ConnectionFailed):
        client.ask("GET", "/v1/revisions")
    assert len(transport.requests) == 1


def test_zero_retries_asks_once():
    client, transport = client_of(ConnectionFailed("away"), retries=0)
    with pytest.raises(ConnectionFailed, match="away"):
        client.ask("GET", "/v1/revisions")
    assert len(transport.requests) == 1


def test_a_storm_of_429_ends_in_a_rate_limit_error():
    policy = Unhurried()
    client, transport = client_of(
        *[problem(429, "rate_limited", retry_after="7")] * 4, retries=policy
    )
    with pytest.raises(RateLimited, match="wait 7 s") as caught:
        client.ask("GET", "/v1/revisions")
    assert caught.value.retry_after == 7
    assert policy.waited == [7, 7, 7]
    assert len(transport.requests) == 4


def test_a_wait_too_long_to_sit_out_is_raised_at_once():
    client, transport = client_of(problem(503, "not_ready", retry_after="3600"))
    with pytest.raises(ServerFault) as caught:
        client.ask("GET", "/v1/revisions")
    assert caught.value.retry_after == 3600
    assert len(transport.requests) == 1


def date(moment):
    return format_datetime(moment, usegmt=True)


def test_a_date_is_held_against_the_services_clock_not_ours():
    far = datetime(2001, 1, 1, tzinfo=UTC)
    headers = {"date": date(far), "retry-after": date(far + timedelta(seconds=30))}
    assert retry_after(Response(503, headers, b"")) == 30


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("0", 0), ("17", 17), ("", None), ("soon", None), ("-5", None), ("9" * 50, 999999999)],
)
def test_retry_after_is_read_or_ignored(text, seconds):
    assert retry_after(Response(503, {"retry-after": text}, b"")) == seconds


def test_a_date_gone_by_means_at_once():
    gone = date(datetime.now(UTC) - timedelta(hours=1))
    assert retry_after(Response(503, {"retry-after": gone}, b"")) == 0


def test_jitter_takes_between_half_and_all_of_the_wait():
    policy = RetryPolicy()
    assert {0.25 <= policy.back_off(0) <= 0.5 for _ in range(200)} == {True}
    assert all(2.5 <= policy.back_off(40) <= 5 for _ in range(20))
    assert policy.wait(3) is None


def test_retries_below_zero_make_no_sense():
    with pytest.raises(ValueError, match="0 or more"):
        RetryPolicy(-1)


def test_an_answer_with_etag_is_asked_for_conditionally_and_kept():
    client, transport = client_of(
        answered(PAGE, etag='W/"a"'), Response(304, {"etag": 'W/"a"'}, b""), answered({"items": []})
    )
    assert client.ask("GET", "/v1/revisions").data == PAGE
    assert "If-None-Match" not in transport.headers
    kept = client.ask("GET", "/v1/revisions")
    assert transport.headers["If-None-Match"] == 'W/"a"'
    assert kept.data == PAGE
    kept.data["items"].clear()
    client.ask("GET", "/v1/revisions", {"limit": 1})
    assert "If-None-Match" not in transport.headers


def test_a_result_is_made_once_of_an_answer_that_stays_the_same():
    card = {"service": "hotface 1", "links": {}, "database_id": "d", "rules_version": "1"}
    melting = {"oxides": ["CaO"], "first_melt_possible_from": None, "reacts": [], "revision": 1}
    script = [
        answered(melting, etag='"a"'),
        Response(304, {}, b""),
        answered({**melting, "revision": 2}, etag='"b"'),
        answered({**card, "revision": 1}),
    ]
    client, transport = client_of(*script)
    first = client.meltings(["CaO"])
    assert client.meltings(["CaO"]) is first
    later = client.meltings(["CaO"])
    assert later.revision == 2
    assert transport.headers["If-None-Match"] == '"a"'
    assert json.loads(later.to_json()) == {**melting, "revision": 2}
    assert client.about().revision == 1


def test_the_cache_forgets_what_is_unused_longest():
    tagged = [answered({"n": n}, etag=f'"{n}"') for n in range(4)]
    client, transport = client_of(*tagged[:3], tagged[0], tagged[2], cache=2)
    for path in ("/v1/a", "/v1/b", "/v1/c", "/v1/a", "/v1/c"):
        client.ask("GET", path)
    conditional = ["If-None-Match" in request.headers for request in transport.requests]
    assert conditional == [False, False, False, False, True]


def test_a_cache_of_zero_keeps_nothing():
    client, transport = client_of(*[answered(PAGE, etag='"a"')] * 2, cache=0)
    client.ask("GET", "/v1/a")
    client.ask("GET", "/v1/a")
    assert "If-None-Match" not in transport.headers


def test_every_request_carries_an_id_and_a_name():
    client, transport = client_of(answered(PAGE), answered(PAGE))
    client.ask("GET", "/v1/a")
    first = transport.headers["X-Request-Id"]
    client.ask("GET", "/v1/a")
    assert len(first) == 32
    assert transport.headers["X-Request-Id"] != first
    assert transport.headers["User-Agent"].startswith("hotface-python/")


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (400, InvalidRequest),
        (401, KeyRefused),
        (403, NotAllowed),
        (404, NotFound),
        (409, Conflict),
        (410, Gone),
        (412, Stale),
        (413, InvalidRequest),
        (415, InvalidRequest),
        (422, InvalidRequest),
        (428, VersionNeeded),
        (429, RateLimited),
        (500, ServerFault),
        (502, ServerFault),
        (503, Unavailable),
    ],
)
def test_a_problem_becomes_the_error_of_its_kind(status, kind):
    client, _ = client_of(problem(status, "a_code", "the detail", x_request_id="r1"), retries=0)
    with pytest.raises(kind) as caught:
        client.ask("GET", "/v1/materials/x")
    error = caught.value
    assert type(error) is kind
    assert isinstance(error, HotfaceError)
    assert (error.status, error.code, error.detail) == (status, "a_code", "the detail")
    assert error.request_id == "r1"
    assert f"({status} a_code, request r1)" in str(error)
    assert error.problem["title"] == "t"


def test_a_problem_says_where_and_what_was_meant():
    document = {
        "status": 422,
        "detail": "two things are wrong",
        "code": "invalid_body",
        "errors": [
            {"detail": "must be above zero", "pointer": "#/mix/water"},
            {"detail": "no such unit", "parameter": "at"},
        ],
        "nearest": ["mullite"],
    }
    error = InvalidRequest(422, document, index=3)
    assert str(error).splitlines() == [
        "question 3: two things are wrong",
        "  #/mix/water: must be above zero",
        "  at: no such unit",
        "  nearest: mullite",
        "  (422 invalid_body)",
    ]
    assert error.nearest == ("mullite",)
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert (str(again), again.problem) == (str(error), error.problem)


def html(status, text="<html><title>Sign in</title><p>Sign in to the café</p></html>"):
    return Response(status, {"content-type": "text/html; charset=utf-8"}, text.encode())


@pytest.mark.parametrize(
    "response",
    [
        html(200),
        html(403),
        html(404),
        html(500),
        Response(200, {}, b"hello"),
        Response(200, {"content-type": "application/json"}, b"[1, 2]"),
        Response(200, {"content-type": "application/json"}, b"\xff\xfe"),
        Response(200, {"content-type": "application/json"}, b'{"a": NaN}'),
        Response(500, {"content-type": "application/json"}, b'{"message": "oops"}'),
        Response(301, {"location": "/elsewhere"}, b""),
    ],
)
def test_what_no_hotface_service_sends_is_no_answer(response):
    client, _ = client_of(response)
    with pytest.raises(NotAnAnswer) as caught:
        client.ask("GET", "/v1/revisions")
    assert caught.value.status == response.status
    assert len(caught.value.request_id) == 32


def test_a_proxy_page_is_quoted_and_the_next_step_named():
    client, _ = client_of(html(200))
    with pytest.raises(NotAnAnswer, match=r"Sign in Sign in to the café.*proxy.*check"):
        client.ask("GET", "/v1/revisions")


@pytest.mark.parametrize("size", [1, 10, len(json.dumps(PAGE)) - 1])
def test_json_cut_anywhere_is_told(size):
    text = json.dumps(PAGE)[:size].encode()
    client, _ = client_of(Response(200, {"content-type": "application/json"}, text))
    with pytest.raises(NotAnAnswer, match="breaks off") as caught:
        client.ask("GET", "/v1/revisions")
    assert caught.value.cut


@pytest.mark.parametrize(("status", "code"), [(404, "not_found"), (405, "method_not_allowed")])
def test_a_service_without_the_route_is_old(status, code):
    client, _ = client_of(problem(status, code))
    with pytest.raises(OldServer, match=r"no POST /v1/survivals.*update the service") as caught:
        client.survivals([("mullite", "1000 degC")])
    assert len(caught.value.request_id) == 32


def test_an_answer_without_a_field_comes_from_an_old_service():
    client, _ = client_of(answered({"material": "mullite"}))
    with pytest.raises(OldServer, match="unit"):
        client.property("mullite", "thermal_conductivity")


def test_pages_are_walked_by_their_query_only():
    first = {**PAGE, "next": "https://evil.example/other?cursor=abc%3D&limit=200"}
    client, transport = client_of(answered(first), answered(PAGE))
    assert [one.number for one in client.revisions()] == [1, 1]
    paths = [(request.path, request.query) for request in transport.requests]
    assert paths == [
        ("/v1/revisions", (("limit", "200"),)),
        ("/v1/revisions", (("cursor", "abc="), ("limit", "200"))),
    ]


def test_pages_that_go_in_circles_are_stopped():
    circle = {**PAGE, "next": "/v1/revisions?limit=200"}
    client, _ = client_of(answered(circle))
    with pytest.raises(NotAnAnswer, match="earlier one"):
        client.revisions().all()


def test_pages_are_read_only_as_far_as_walked():
    first = {**PAGE, "next": "/v1/revisions?cursor=b"}
    client, transport = client_of(answered(first))
    assert client.revisions().first()[0].made_at == datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)
    assert len(transport.requests) == 1


@pytest.mark.parametrize("bad", ["", ".", ".."])
def test_an_id_that_would_change_the_path_is_refused(bad):
    client, _ = client_of()
    with pytest.raises(NotFound, match="cannot be an id"):
        client.material(bad)


def test_an_id_stays_one_part_of_the_path():
    client, transport = client_of(problem(404, "unknown_id"))
    with pytest.raises(NotFound):
        client.material("a/b?c#d é")
    assert transport.requests[0].target == "/v1/materials/a%2Fb%3Fc%23d%20%C3%A9"


def test_a_question_is_one_query():
    client, transport = client_of(problem(404, "unknown_id"), units="us")
    with pytest.raises(NotFound):
        client.survives(
            "x", (1050, "degC"), with_="cac-40", place="face", load=False, margin="50 K"
        )
    assert transport.requests[0].query == (
        ("temperature", "1050 Cel"),
        ("with", "cac-40"),
        ("place", "face"),
        ("load", "false"),
        ("margin", "50 K"),
        ("units", "us"),
    )


def test_batches_are_cut_to_size_and_come_back_in_order():
    problem_result = {"status": 404, "problem": {"status": 404, "detail": "no"}}
    sizes = []

    class Counting(Scripted):
        def send(self, request):
            count = len(json.loads(request.body)["questions"])
            sizes.append(count)
            return answered({"results": [problem_result] * count})

    client = Client(transport=Counting(), retries=0)
    found = client.survivals([("x", "1000 degC")] * 2001, on_problem="return")
    assert sizes == [1000, 1000, 1]
    assert [error.index for error in found] == list(range(2001))
    with pytest.raises(NotFound, match="question 0"):
        client.survivals([("x", "1000 degC")])


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"base_url": "ftp://x"}, "not the address"),
        ({"base_url": "example.org"}, "not the address"),
        ({"base_url": "https://x/?a=1"}, "query"),
        ({"base_url": "https://x", "transport": Scripted()}, "leave one out"),
        ({"base_url": "https://x", "writable": True}, "leave one out"),
        ({"transport": Scripted(), "key": ""}, "no key"),
        ({"transport": Scripted(), "units": "imperial"}, "'si' or 'us'"),
        ({"base_url": "https://x", "key": "two words"}, "copy it again"),
    ],
)
def test_options_that_conflict_are_told_at_once(options, says):
    with pytest.raises(ValueError, match=says):
        Client(**options)


def test_a_client_closes_its_transport():
    client, transport = client_of()
    with client as same:
        assert same is client
    assert transport.closed


def test_the_key_is_shown_nowhere():
    client = Client("https://example.org", key="hf_secret")
    assert "secret" not in repr(client)
    client.close()
