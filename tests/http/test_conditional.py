"""Entity tags, kept answers, and what a request costs in statements."""

from __future__ import annotations

import pytest
from sqlalchemy.exc import OperationalError

from hotface_api.http.kept import AnswerCache, Kept, Key
from hotface_api.load.loader import load
from support.packages import small_package
from support.problems import check_problem
from support.small import app_of, second_edition

READS = [
    "/v1/",
    "/v1/materials",
    "/v1/materials?has=service_limit",
    "/v1/materials?survives=900 Cel",
    "/v1/materials?has=service_limit&survives=900 Cel",
    "/v1/materials/demo-perlite",
    "/v1/materials/demo-perlite/properties/loose_bulk_density",
    "/v1/materials/demo-brick/properties/thermal_conductivity?at=300 Cel",
    "/v1/materials/demo-grog-a/survival?temperature=1000 Cel&with=cac-demo-40",
    "/v1/properties",
    "/v1/properties/service_limit",
    "/v1/sources",
    "/v1/sources/demo-journal-1",
    "/v1/values",
    "/v1/values/demo-perlite.service_limit.1",
    "/v1/values/demo-perlite.service_limit.1/history",
    "/v1/specimens",
    "/v1/specimens/demo-cast-1",
    "/v1/revisions",
    "/v1/holdings",
    "/v1/phases",
    "/v1/cones",
    "/v1/classes",
    "/v1/standards",
    "/v1/cautions",
]


@pytest.mark.parametrize("url", READS)
def test_cold_costs_at_most_three_statements_and_warm_one(small, forgetful, demo, statements, url):
    with statements(small) as counted:
        cold = forgetful.test_client().get(url)
    assert cold.status_code == 200, cold.text
    assert 1 <= len(counted) <= 3, counted
    demo.get(url)
    with statements(small) as counted:
        warm = demo.get(url)
    assert len(counted) == 1, counted
    assert warm.data == cold.data
    assert warm.headers["ETag"] == cold.headers["ETag"]


@pytest.mark.parametrize("url", READS)
def test_a_tag_is_answered_304_by_any_worker_with_one_statement(
    small, forgetful, demo, statements, url
):
    tag = demo.get(url).headers["ETag"]
    assert tag.startswith('W/"')
    with statements(small) as counted:
        response = forgetful.test_client().get(url, headers={"If-None-Match": f'"old", {tag}'})
    assert response.status_code == 304
    assert len(counted) == 1, counted
    assert response.data == b""
    assert response.headers["ETag"] == tag
    assert response.headers["Vary"] == "Accept"
    assert "Content-Type" not in response.headers


def test_a_kept_answer_is_304_too(demo):
    tag = demo.get("/v1/materials").headers["ETag"]
    assert demo.get("/v1/materials", headers={"If-None-Match": tag}).status_code == 304
    assert demo.get("/v1/materials", headers={"If-None-Match": "*"}).status_code == 304
    assert demo.get("/v1/materials", headers={"If-None-Match": 'W/"x"'}).status_code == 200


def test_what_is_asked_makes_the_tag(demo):
    def tag(url, **headers):
        return demo.get(url, headers=headers).headers["ETag"]

    plain = tag("/v1/sources")
    assert plain == tag("/v1/sources")
    others = {
        tag("/v1/sources?units=us"),
        tag("/v1/sources?limit=2"),
        tag("/v1/sources?revision=1"),
        tag("/v1/sources", Accept="application/x-bibtex"),
        tag("/v1/materials"),
    }
    assert len(others) == 5
    assert plain not in others


def test_the_order_of_parameters_does_not_make_the_tag(demo):
    first = demo.get("/v1/values?form=heap&basis=read").headers["ETag"]
    assert demo.get("/v1/values?basis=read&form=heap").headers["ETag"] == first


def test_a_bad_request_is_no_304_whatever_tag_it_carries(demo):
    for url in ("/v1/materials?knd=x", "/v1/materials?revision=x", "/v1/materials?revision=99"):
        assert demo.get(url, headers={"If-None-Match": '"x"'}).status_code in (400, 404)


def test_answers_of_a_revision_may_be_kept_by_anyone(demo):
    response = demo.get("/v1/materials")
    assert response.headers["Cache-Control"] == "public, max-age=300"
    assert response.headers["Hotface-Revision"] == "2"
    assert demo.get("/v1/materials?revision=1").headers["Hotface-Revision"] == "1"


@pytest.mark.parametrize("url", ["/v1/materials", "/v1/nowhere", "/healthz", "/v1/docs"])
def test_head_is_get_without_the_body(demo, url):
    got, head = demo.get(url), demo.head(url)
    assert head.data == b""
    assert head.status_code == got.status_code
    assert head.headers.get("ETag") == got.headers.get("ETag")
    assert head.headers["Content-Type"] == got.headers["Content-Type"]
    assert head.headers["Content-Length"] == got.headers["Content-Length"]


def test_a_load_changes_the_tag_and_old_revisions_keep_their_answers(own, tmp_path):
    database, app = own
    client = app.test_client()
    urls = [url for url in READS if url not in ("/v1/", "/v1/revisions")]
    before = {url: client.get(url) for url in urls}
    load(database, small_package(tmp_path / "second", {"values": second_edition}))
    for url, old in before.items():
        new = client.get(url)
        assert new.headers["ETag"] != old.headers["ETag"]
        assert new.headers["Hotface-Revision"] == "2"
        again = client.get(url + ("&" if "?" in url else "?") + "revision=1")
        assert again.data == old.data, url


def test_another_worker_notices_a_load(own, tmp_path):
    database, app = own
    elsewhere = app_of(database).test_client()
    assert elsewhere.get("/v1/materials").get_json()["revision"] == 1
    load(database, small_package(tmp_path / "second", {"values": second_edition}))
    assert elsewhere.get("/v1/materials").get_json()["revision"] == 2
    assert app.test_client().get("/v1/materials").get_json()["revision"] == 2


def test_a_computation_has_no_tag(demo):
    body = {"questions": [{"material": "demo-sand", "temperature": "900 Cel"}]}
    response = demo.post("/v1/survivals", json=body)
    assert response.status_code == 200
    assert "ETag" not in response.headers
    assert response.headers["Cache-Control"] == "no-store"
    assert response.headers["Hotface-Revision"] == "2"


def _kept(size):
    return Kept(b"x" * size, "application/json", "t")


def _key(name, accept=""):
    return Key("", name, "", accept)


def test_the_cache_lets_go_of_the_answers_used_longest_ago():
    cache = AnswerCache(2)
    for name in ("a", "b"):
        cache.put(_key(name), _kept(1))
    assert cache.get(_key("a")) is not None
    cache.put(_key("c"), _kept(1))
    assert cache.get(_key("b")) is None
    assert cache.get(_key("a")) is not None
    assert len(cache) == 2


def test_the_cache_is_bounded_in_bytes_and_keeps_count_of_a_change():
    cache = AnswerCache(1000)
    for number in range(9):
        cache.put(_key(str(number)), _kept(10 * 2**20))
    assert len(cache) == 6
    cache.put(_key("8"), _kept(1))
    cache.put(_key("x"), _kept(10 * 2**20))
    assert len(cache) == 7


def test_the_cache_keeps_nothing_under_an_absurd_key():
    cache = AnswerCache(2)
    cache.put(_key("a", accept="text/html," * 100), _kept(1))
    assert len(cache) == 0


@pytest.mark.parametrize("url", ["/v1/materials", "/v1/sources?limit=1", "/materials"])
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_a_warm_answer_is_the_cold_one_but_for_the_request_id(small, url, method):
    """Kept answers do not pass through the framework: nothing of it may be missing."""
    client = app_of(small).test_client()
    headers = {"X-Request-Id": "mine", "Origin": "https://a.example"}
    cold, warm = (client.open(url, method=method, headers=headers) for _ in range(2))
    assert cold.status == warm.status == "200 OK"
    assert sorted(cold.headers) == sorted(warm.headers)
    assert cold.data == warm.data
    tag = {**headers, "If-None-Match": cold.headers["ETag"]}
    first = app_of(small).test_client().open(url, method=method, headers=tag)
    again = client.open(url, method=method, headers=tag)
    assert first.status == again.status == "304 NOT MODIFIED"
    assert sorted(first.headers) == sorted(again.headers)
    assert again.headers["X-Request-Id"] == "mine"


def test_a_warm_answer_goes_by_what_is_accepted(small):
    client = app_of(small).test_client()
    for _ in range(2):
        for media in ("application/json", "application/x-bibtex"):
            response = client.get("/v1/sources", headers={"Accept": media})
            assert response.content_type == media
        assert client.get("/v1/sources", headers={"Accept": "image/png"}).status_code == 406


def test_a_warm_answer_is_given_under_its_own_prefix_only(small):
    app = app_of(small)
    for prefix in ("", "/club"):
        for _ in range(2):
            environ = {"SCRIPT_NAME": prefix}
            document = app.test_client().get("/v1/", environ_overrides=environ).get_json()
            assert document["links"]["values"] == f"{prefix}/v1/values"


def test_without_the_database_nothing_warm_is_given(own):
    database, app = own
    client = app.test_client()
    assert client.get("/v1/materials").status_code == 200

    def away():
        raise OperationalError("SELECT", {}, Exception("away"))

    database.revision = away
    check_problem(client.get("/v1/materials"), 503, "database_unavailable")


def test_a_cache_of_none_keeps_none(small, forgetful, statements):
    client = forgetful.test_client()
    client.get("/v1/values")
    with statements(small) as counted:
        client.get("/v1/values")
    assert len(counted) == 2
    assert len(forgetful.extensions["hotface"].answers) == 0
