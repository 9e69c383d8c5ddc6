"""The service around the answers: health, metrics, headers, the page, the factory."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from sqlalchemy.exc import OperationalError

from hotface_api.app import create_app
from hotface_api.http.metrics import Metrics
from hotface_api.settings import DEFAULT_LIMITS, Settings
from hotface_api.store import schema
from support.problems import check_problem
from support.small import app_of


def test_alive_asks_nothing_of_the_database(small, demo, statements):
    with statements(small) as counted:
        response = demo.get("/healthz")
    assert response.get_json() == {"status": "ok"}
    assert counted == []


def test_ready_once_migrated_and_loaded(empty_database):
    client = app_of(empty_database).test_client()
    for url in ("/readyz", "/v1/materials"):
        response = client.get(url)
        check_problem(response, 503, "not_ready")
        assert "Retry-After" in response.headers
    schema.migrate(empty_database)
    for url in ("/readyz", "/v1/materials", "/v1/"):
        document = check_problem(client.get(url), 503, "not_ready")
        assert "no data" in document["detail"]
    body = {"questions": [{"material": "x", "temperature": "1 Cel"}]}
    check_problem(client.post("/v1/survivals", json=body), 503, "not_ready")


def test_ready_tells_the_revision(demo):
    assert demo.get("/readyz").get_json() == {"status": "ready", "revision": 2}


def test_a_database_that_went_away_comes_back(own):
    database, app = own
    client = app.test_client()
    assert client.get("/v1/materials").status_code == 200
    database.engine.dispose()
    assert client.get("/v1/properties").status_code == 200


def test_metrics_count_by_rule_and_not_by_path(small):
    client = app_of(small).test_client()
    client.get("/v1/materials/demo-sand")
    client.get("/v1/materials/demo-perlite")
    client.get("/v1/materials/nothing")
    client.get("/nowhere")
    client.open("/nowhere", method="BREW")
    text = client.get("/metrics").text
    rule = 'route="/v1/materials/<id>",method="GET"'
    assert f'hotface_requests_total{{{rule},status="200"}} 2' in text
    assert f'hotface_requests_total{{{rule},status="404"}} 1' in text
    assert 'route="unmatched",method="GET",status="404"} 1' in text
    assert 'route="unmatched",method="other",status="404"} 1' in text
    assert "demo-sand" not in text
    assert "hotface_revision 2" in text
    assert "hotface_answers_kept 2" in text
    for line in text.splitlines():
        assert re.fullmatch(r'# .+|hotface_\w+(\{(\w+="[^"\\]*",?)+\})? [0-9.]+', line), line


def test_metrics_go_on_without_the_database(own):
    database, app = own

    def away():
        raise OperationalError("SELECT", {}, Exception("away"))

    database.revision = away
    response = app.test_client().get("/metrics")
    assert response.status_code == 200
    assert "hotface_revision" not in response.text


def test_a_histogram_adds_up():
    metrics = Metrics()
    for seconds in (0.0005, 0.004, 99.0):
        metrics.observe("/x", "GET", 200, seconds)
    text = metrics.text(1, 0)
    assert 'le="0.001"} 1' in text
    assert 'le="0.005"} 2' in text
    assert 'le="10.0"} 2' in text
    assert 'le="+Inf"} 3' in text
    assert 'hotface_request_seconds_count{route="/x"} 3' in text


@pytest.mark.parametrize("url", ["/v1/materials", "/v1/nowhere", "/healthz", "/v1/openapi.json"])
def test_reads_may_be_made_from_any_page(demo, url):
    response = demo.get(url)
    assert response.headers["Access-Control-Allow-Origin"] == "*"
    assert "Hotface-Revision" in response.headers["Access-Control-Expose-Headers"]
    assert "Access-Control-Allow-Credentials" not in response.headers
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert response.headers["Referrer-Policy"] == "no-referrer"


def test_a_conditional_read_passes_its_preflight(demo):
    response = demo.options("/v1/materials", headers={"Origin": "https://a.example"})
    assert response.status_code == 200
    assert "If-None-Match" in response.headers["Access-Control-Allow-Headers"]
    assert response.headers["Access-Control-Allow-Methods"] == "GET, HEAD, OPTIONS"


def test_computations_are_not_opened_to_other_pages(demo):
    response = demo.post("/v1/survivals", json={})
    assert "Access-Control-Allow-Origin" not in response.headers


class References(HTMLParser):
    """Collects what a page loads, and whether anything is written into it."""

    def __init__(self):
        super().__init__()
        self.loaded, self.inline = [], []
        self._open = None

    def handle_starttag(self, tag, attrs):
        attributes = dict(attrs)
        self._open = tag
        if tag == "script" and "src" in attributes:
            self.loaded.append(attributes["src"])
        if tag == "link" and attributes["rel"] != "icon":
            self.loaded.append(attributes["href"])
        self.inline += [name for name in attributes if name == "style" or name.startswith("on")]

    def handle_data(self, data):
        if self._open in ("script", "style") and data.strip():
            self.inline.append(data)


def test_the_page_loads_its_own_files_only(demo):
    page = demo.get("/v1/docs")
    assert page.content_type == "text/html; charset=utf-8"
    policy = page.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "http" not in policy
    references = References()
    references.feed(page.text)
    assert references.inline == []
    assert len(references.loaded) == 4
    for reference in references.loaded:
        part = demo.get(f"/v1/{reference}")
        assert part.status_code == 200
        assert part.headers["X-Content-Type-Options"] == "nosniff"
        media = "text/css" if reference.endswith(".css") else "text/javascript"
        assert part.content_type.startswith(media)


def test_the_script_of_the_page_fetches_nothing_from_elsewhere(demo):
    script = demo.get("/v1/docs/page.js").text
    assert "http" not in script
    assert "validatorUrl: null" in script


def test_proxies_are_believed_as_far_as_told(small):
    headers = {"X-Forwarded-Prefix": "/data", "X-Forwarded-Host": "other.example"}
    believing = app_of(small, trust_proxy=1).test_client()
    assert (
        believing.get("/v1/nowhere", headers=headers).get_json()["instance"] == "/data/v1/nowhere"
    )
    wary = app_of(small).test_client()
    assert wary.get("/v1/nowhere", headers=headers).get_json()["instance"] == "/v1/nowhere"


def test_the_factory_reads_the_environment(monkeypatch, small):
    url = small.url.render_as_string(hide_password=False)
    monkeypatch.setenv("HOTFACE_DATABASE_URL", url)
    app = create_app()
    parts = app.extensions["hotface"]
    try:
        assert app.test_client().get("/readyz").status_code == 200
        assert parts.settings == Settings(url, rate_limits=DEFAULT_LIMITS)
    finally:
        parts.database.close()


def test_applications_stand_apart(small):
    first, second = app_of(small), app_of(small)
    first.test_client().get("/v1/materials")
    assert len(first.extensions["hotface"].answers) == 1
    assert len(second.extensions["hotface"].answers) == 0


def test_an_address_is_matched_as_it_stands(demo):
    response = demo.get("/v1")
    assert response.status_code == 308
    assert response.headers["Location"] == "http://localhost/v1/"
