"""Every producer of errors gives a problem document of one shape, and nothing it must not tell."""

from __future__ import annotations

import logging

import pytest
from sqlalchemy.exc import DataError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from hotface_api.http import problems
from hotface_api.http.problems import Code, Problem, nearest
from support.problems import check_problem

SURVIVAL = "/v1/materials/demo-perlite/survival"
CURVE = "/v1/materials/demo-brick/properties/thermal_conductivity"

GETS = [
    ("/nowhere", 404, "not_found"),
    ("/v1/nowhere", 404, "not_found"),
    ("/v1/materials/", 404, "not_found"),
    ("/v1//materials", 404, "not_found"),
    ("/v1/docs/secret.js", 404, "not_found"),
    ("/v1/materials/demo-perlit", 404, "unknown_id"),
    ("/v1/materials/%00", 404, "unknown_id"),
    ("/v1/materials/" + "x" * 5000, 404, "unknown_id"),
    ("/v1/materials/demo-perlit/survival?temperature=900 Cel", 404, "unknown_id"),
    ("/v1/materials/demo-brick/properties/thermal_conductvity", 404, "unknown_id"),
    ("/v1/materials/demo-bric/properties/thermal_conductivity", 404, "unknown_id"),
    ("/v1/properties/servicelimit", 404, "unknown_id"),
    ("/v1/sources/demo-journal", 404, "unknown_id"),
    ("/v1/values/demo-sand.service_limit.9", 404, "unknown_id"),
    ("/v1/values/%00", 404, "unknown_id"),
    ("/v1/values/%00/history", 404, "unknown_id"),
    ("/v1/values/nothing/history", 404, "unknown_id"),
    ("/v1/specimens/demo-cast-2", 404, "unknown_id"),
    ("/v1/specimens/%00", 404, "unknown_id"),
    ("/v1/problems/unknown", 404, "unknown_id"),
    ("/v1/values/demo-perlite.melting_temperature.1", 410, "gone"),
    ("/v1/values/demo-sand.service_limit.1", 410, "gone"),
    ("/v1/materials?revision=3", 404, "unknown_revision"),
    ("/v1/materials?revision=99999999999999999", 404, "unknown_revision"),
    ("/v1/materials?revision=0", 400, "invalid_parameter"),
    ("/v1/materials?revision=-1", 400, "invalid_parameter"),
    ("/v1/materials?revision=x", 400, "invalid_parameter"),
    ("/v1/materials?revision=9" + "9" * 40, 400, "invalid_parameter"),
    ("/v1/materials?revision=%D9%A1", 400, "invalid_parameter"),
    ("/v1/materials?limit=0", 400, "invalid_parameter"),
    ("/v1/materials?limit=1.5", 400, "invalid_parameter"),
    ("/v1/materials?units=metric", 400, "invalid_parameter"),
    ("/v1/materials?kind=agregate", 400, "invalid_parameter"),
    ("/v1/materials?kind=", 400, "invalid_parameter"),
    ("/v1/materials?kind=binder,", 400, "invalid_parameter"),
    ("/v1/materials?family=demo-grok", 400, "invalid_parameter"),
    ("/v1/materials?has=thermal", 400, "invalid_parameter"),
    ("/v1/materials?q=", 400, "invalid_parameter"),
    ("/v1/materials?q=%20", 400, "invalid_parameter"),
    ("/v1/materials?q=%00", 400, "invalid_parameter"),
    ("/v1/materials?q=" + "x" * 10_000, 400, "invalid_parameter"),
    ("/v1/materials?survives=1050", 400, "invalid_parameter"),
    ("/v1/materials?survives=25 kg", 400, "invalid_parameter"),
    ("/v1/values?material=demo-perlit", 400, "invalid_parameter"),
    ("/v1/values?" + "&".join(["id=x"] * 51), 400, "invalid_parameter"),
    ("/v1/values?" + "&".join(["id=x"] * 500), 400, "invalid_request"),
    ("/v1/values?basis=guess", 400, "invalid_parameter"),
    ("/v1/holdings?material=x", 400, "invalid_parameter"),
    ("/v1/materials?knd=binder", 400, "unknown_parameter"),
    ("/v1/problems?revision=1", 400, "unknown_parameter"),
    ("/v1/materials?limit=1&limit=2", 400, "repeated_parameter"),
    (f"{SURVIVAL}?temperature=1 Cel&temperature=2 Cel", 400, "repeated_parameter"),
    ("/v1/materials?cursor=x", 400, "cursor_mismatch"),
    (SURVIVAL, 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=hot", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=1050 parsec", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=1050 kg", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=-300 Cel", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=-1 K", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=1e400 Cel", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=1e300 Cel", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=nan Cel", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=inf K", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=1 m**9**9**9", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature={'9' * 10_000}", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=900 Cel&margin=50 Cel", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=900 Cel&margin=-1 K", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=900 Cel&with=demo-cement", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=900 Cel&place=middle", 400, "invalid_parameter"),
    (f"{SURVIVAL}?temperature=900 Cel&load=yes", 400, "invalid_parameter"),
    (f"{CURVE}?at=kg", 400, "invalid_parameter"),
    (f"{CURVE}?at=200 Cel&at=300 kg", 400, "invalid_parameter"),
    (f"{CURVE}?with=demo-cement", 400, "invalid_parameter"),
    (f"{CURVE}?extrapolate=1", 400, "invalid_parameter"),
]


@pytest.mark.parametrize(("url", "status", "code"), GETS)
def test_a_bad_read_is_told(demo, url, status, code):
    document = check_problem(demo.get(url), status, code)
    if code.endswith("parameter"):
        assert document["errors"][0]["parameter"]


def test_every_code_is_reached_or_tested_below():
    reached = {code for _, _, code in GETS}
    elsewhere = {
        "not_acceptable",
        "method_not_allowed",
        "internal_error",
        "not_ready",
        "database_unavailable",  # below
        "invalid_json",
        "invalid_body",
        "body_too_large",
        "unsupported_media_type",  # test_body
        "key_needed",
        "key_invalid",
        "key_expired",
        "key_revoked",
        "key_in_query",  # test_callers
        "unknown_value",
        "curators_only",
        "own_submission",
        "already_contributed",
        "wrong_state",  # test_contributions
        "invalid_contribution",
        "not_yours",  # test_contribution_faults
        "invalid_header",
        "version_needed",
        "stale_version",
        "idempotency_key_reused",  # test_preconditions
        "rate_limited",  # test_rates_http
        "reference_gone",  # test_contribution_corners
        "larger_search",  # test_mix_searches
    }
    assert reached | elsewhere == {code.word for code in Code}


@pytest.mark.parametrize(
    ("url", "wanted"),
    [
        ("/v1/materials/demo-perlit", "demo-perlite"),
        ("/v1/materials/Demo Perlite", "demo-perlite"),
        ("/v1/materials/demo grey", "cac-demo-40"),
        ("/v1/properties/thermal_conductvity", "thermal_conductivity"),
        ("/v1/sources/demo-journal", "demo-journal-1"),
        ("/v1/values/demo-sand.service_limit.3", "demo-sand.service_limit.2"),
        ("/v1/values/demo-sand.service_limit.1", "demo-sand.service_limit.1b"),
        ("/v1/specimens/demo-cast-2", "demo-cast-1"),
        ("/v1/materials?knd=binder", "kind"),
        ("/v1/values?material=demo-perlit", "demo-perlite"),
        ("/v1/materials?family=demo-grok", "demo-grog"),
    ],
)
def test_the_nearest_right_thing_is_named(demo, url, wanted):
    assert wanted in demo.get(url).get_json()["nearest"]


def test_an_absurdly_long_id_is_neither_guessed_nor_repeated_whole(demo):
    document = demo.get("/v1/materials/" + "x" * 5000).get_json()
    assert "nearest" not in document
    assert len(document["detail"]) < 200


def test_units_that_would_fit_are_named(demo):
    detail = demo.get(f"{SURVIVAL}?temperature=3 kg").get_json()["errors"][0]["detail"]
    assert "Cel" in detail
    assert "measures mass" in detail


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
@pytest.mark.parametrize("url", ["/v1/materials", "/v1/values/x", "/healthz", "/v1/docs"])
def test_a_wrong_method_names_the_right_ones(demo, method, url):
    response = getattr(demo, method)(url)
    check_problem(response, 405, "method_not_allowed")
    assert response.headers["Allow"] == "GET, HEAD, OPTIONS"


def test_a_read_of_a_computation_names_its_method(demo):
    response = demo.get("/v1/estimates")
    check_problem(response, 405, "method_not_allowed")
    assert response.headers["Allow"] == "OPTIONS, POST"


@pytest.mark.parametrize("accept", ["text/html", "application/xml, text/*", "application/json;q=0"])
def test_a_media_type_nobody_offers_is_refused(demo, accept):
    response = demo.get("/v1/materials", headers={"Accept": accept})
    assert "application/json" in check_problem(response, 406, "not_acceptable")["detail"]


@pytest.mark.parametrize(
    "accept", ["*/*", "application/*", "text/html, application/json;q=0.1", "application/json"]
)
def test_json_is_given_to_whom_takes_it(demo, accept):
    assert demo.get("/v1/materials", headers={"Accept": accept}).status_code == 200


def test_a_sane_request_id_is_kept_and_another_replaced(demo):
    kept = demo.get("/v1/nowhere", headers={"X-Request-Id": "job-7.a_B"})
    assert check_problem(kept, 404, "not_found")["request_id"] == "job-7.a_B"
    for odd in ("", "a b", "x" * 65, "ü", "<script>"):
        made = demo.get("/v1/nowhere", headers={"X-Request-Id": odd})
        assert made.headers["X-Request-Id"] != odd
        assert len(made.headers["X-Request-Id"]) == 32


def _raising(own, error):
    """Make the first read of the revision fail."""
    database, app = own

    def fail():
        raise error

    database.revision = fail
    return app.test_client()


def test_a_bug_is_told_without_its_trace_and_logged_with_it(own, caplog):
    with caplog.at_level(logging.ERROR, "hotface"):
        response = _raising(own, RuntimeError("secret of the house")).get("/v1/materials")
    document = check_problem(response, 500, "internal_error")
    assert "secret" not in response.text
    assert document["request_id"] in caplog.text
    assert "secret of the house" in caplog.text


@pytest.mark.parametrize(
    "error",
    [
        OperationalError("SELECT secret", {}, Exception("database is locked")),
        PoolTimeoutError("QueuePool limit"),
    ],
)
def test_a_database_that_is_away_asks_to_come_back(own, error):
    response = _raising(own, error).get("/v1/materials")
    check_problem(response, 503, "database_unavailable")
    assert int(response.headers["Retry-After"]) > 0
    assert "secret" not in response.text


def test_an_error_of_the_data_is_a_bug_and_not_a_busy_database(own):
    error = DataError("SELECT secret", {}, Exception("invalid input syntax"))
    check_problem(_raising(own, error).get("/v1/materials"), 500, "internal_error")


def test_every_problem_type_leads_to_its_explanation(demo):
    for kind in demo.get("/v1/problems").get_json()["items"]:
        shown = demo.get(f"/v1/problems/{kind['code']}")
        assert shown.get_json() == kind


def test_a_problem_knows_where_the_application_is_mounted(demo):
    response = demo.get("/v1/nowhere", environ_overrides={"SCRIPT_NAME": "/data"})
    document = response.get_json()
    assert document["type"] == "/data/v1/problems/not_found"
    assert document["instance"] == "/data/v1/nowhere"


def test_an_instance_is_an_address(demo):
    assert demo.get("/v1/a b").get_json()["instance"] == "/v1/a%20b"


def test_nearest_words_are_each_named_once():
    under = {"Demo grog A": "a", "demo-grog-a": "a", "demo-grog-b": "b"}
    assert nearest("Demo Grog", under, under=under) == ["a", "b"]


def test_a_problem_is_an_exception_with_its_detail():
    assert str(Problem(Code.GONE, "it left")) == "it left"


def test_a_failure_of_the_framework_is_a_failure(small_app):
    from werkzeug.exceptions import ImATeapot, ServiceUnavailable  # noqa: PLC0415 - only here

    assert problems.as_problem(ServiceUnavailable()).code is Code.INTERNAL_ERROR
    assert problems.as_problem(ImATeapot()).code is Code.INVALID_REQUEST


def test_a_redirect_of_the_framework_is_none_of_our_business(small_app):
    from werkzeug.routing import RequestRedirect  # noqa: PLC0415 - only here

    with small_app.test_request_context("/"):
        response = problems.render(RequestRedirect("/elsewhere"))
    assert response.status_code == 308
    assert response.headers["Location"] == "/elsewhere"
