"""Bodies are read strictly, with a pointer to what is wrong."""

from __future__ import annotations

import io

import pytest

from hotface_api.http.body import MAX_DEPTH, pointer
from support.problems import check_problem

URL = "/v1/survivals"
GOOD = b'{"questions": [{"material": "demo-grog-a", "temperature": "1000 Cel"}]}'

NOT_JSON = [
    (b"", "#"),
    (b"{", "#"),
    (b"[1, 2]", "#"),
    (b'"text"', "#"),
    (b"null", "#"),
    (b"3", "#"),
    (b'\xff{"a": 1}', "#"),
    (b'\xef\xbb\xbf{"a": 1}', "#"),
    (b'{"a": 1, "a": 2}', "#/a"),
    (b'{"b": [{"a/b": 1, "a/b": 1}]}', "#/b/0/a~1b"),
    (b'{"a": NaN}', "#/a"),
    (b'{"a": [0, -Infinity]}', "#/a/1"),
    (b'{"a": 1e999}', "#/a"),
    (b'{"a": ' + b"9" * 400 + b"}", "#/a"),
    (b'{"a": "\\ud800"}', "#/a"),
    (b'{"\\udfff": 1}', "#"),
    (b'{"a": "\\u0000"}', "#/a"),
    (b"[" * 100_000, "#"),
]


@pytest.mark.parametrize(("body", "place"), NOT_JSON)
def test_what_is_no_json_object_is_refused_where_it_fails(demo, body, place):
    response = demo.post(URL, data=body, content_type="application/json")
    document = check_problem(response, 400, "invalid_json")
    assert document["errors"][0]["pointer"] == place


def test_nesting_is_bounded(demo):
    body = b'{"a": ' + b"[" * MAX_DEPTH + b"]" * MAX_DEPTH + b"}"
    response = demo.post(URL, data=body, content_type="application/json")
    check_problem(response, 400, "invalid_json")
    inside = b'{"a": ' + b"[" * (MAX_DEPTH - 1) + b"]" * (MAX_DEPTH - 1) + b"}"
    response = demo.post(URL, data=inside, content_type="application/json")
    check_problem(response, 422, "invalid_body")


def test_only_so_many_faults_are_listed(demo):
    body = b'{"a": [' + b",".join([b"NaN"] * 100) + b"]}"
    response = demo.post(URL, data=body, content_type="application/json")
    assert len(check_problem(response, 400, "invalid_json")["errors"]) == 20


@pytest.mark.parametrize(
    "media",
    ["text/plain", "application/x-www-form-urlencoded", "", "application/json; charset=latin-1"],
)
def test_another_media_type_is_refused(demo, media):
    response = demo.post(URL, data=GOOD, content_type=media)
    check_problem(response, 415, "unsupported_media_type")
    assert response.headers["Accept-Post"] == "application/json"


@pytest.mark.parametrize(
    "media", ["application/json", "application/json; charset=UTF-8", "application/vnd.x+json"]
)
def test_json_media_types_are_taken(demo, media):
    assert demo.post(URL, data=GOOD, content_type=media).status_code == 200


def test_a_packed_body_is_refused(demo):
    response = demo.post(
        URL, data=GOOD, content_type="application/json", headers={"Content-Encoding": "gzip"}
    )
    check_problem(response, 415, "unsupported_media_type")


def test_two_mebibytes_are_refused_unread(demo):
    response = demo.post(URL, data=b" " * 2**21, content_type="application/json")
    assert "1048576" in check_problem(response, 413, "body_too_large")["detail"]


@pytest.mark.parametrize(("size", "status"), [(2**20, 400), (2**20 + 1, 413)])
def test_the_limit_holds_for_a_body_of_untold_length(demo, size, status):
    response = demo.post(
        URL,
        input_stream=io.BytesIO(b" " * size),
        content_type="application/json",
        environ_overrides={"wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"},
    )
    assert response.status_code == status


def test_a_body_that_arrives_in_drops_is_read_whole(demo):
    class Drops(io.RawIOBase):
        def __init__(self):
            self.rest = GOOD

        def readable(self):
            return True

        def readinto(self, buffer):
            buffer[:1] = self.rest[:1]
            given = len(self.rest[:1])
            self.rest = self.rest[1:]
            return given

    response = demo.post(
        URL,
        content_type="application/json",
        environ_overrides={"wsgi.input": Drops(), "CONTENT_LENGTH": str(len(GOOD))},
    )
    assert response.status_code == 200


def test_a_pointer_escapes_what_would_split_it():
    assert pointer("a/b", 0, "c~d") == "#/a~1b/0/c~0d"
    assert pointer() == "#"


def test_unknown_members_are_refused(demo):
    body = {"mix": {"constituents": [], "water": "1 L", "watr": 1}, "temperature": "1 Cel"}
    document = check_problem(demo.post(URL, json=body), 422, "invalid_body")
    assert {error["pointer"] for error in document["errors"]} == {
        "#/mix/constituents",
        "#/mix/watr",
    }
