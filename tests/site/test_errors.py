"""Errors: a page for people, a problem document for programs."""

from __future__ import annotations

import pytest

from hotface_api.app import create_app
from hotface_api.http.problems import Code
from hotface_api.settings import Settings
from hotface_api.site.errors import HEADINGS
from hotface_api.site.page import POLICY
from hotface_api.store.database import Database
from support.pages import BROWSER, MIX, Shown

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


def test_an_address_that_is_not_there_is_told_on_a_page(show):
    page = show("/nothing/here")
    assert page.status == 404
    assert page.faults == []
    assert page.words("body/main/h1") == "Nothing is held here"
    assert page.headers["Content-Security-Policy"] == POLICY
    assert page.headers["Cache-Control"] == "no-store"
    assert "/materials" in page.links()


def test_an_unknown_material_names_the_nearest(show):
    page = show("/materials/expanded-perlit")
    assert page.status == 404
    assert "/materials/expanded-perlite" in page.links()
    assert "no material has the id 'expanded-perlit'" in page.words("body/main").lower()


def test_a_wrong_method_is_told_with_what_is_allowed(client):
    response = client.post("/materials", headers=BROWSER)
    assert response.status_code == 405
    assert "GET" in response.headers["Allow"]
    assert Shown(response).faults == []


@pytest.mark.parametrize("address", ["/nothing", "/materials/none"])
def test_a_program_gets_a_problem(client, address):
    response = client.get(address, headers={"Accept": "*/*"})
    assert response.status_code == 404
    assert response.content_type == "application/problem+json"


@pytest.mark.parametrize("address", ["/v1/nothing", "/v1/materials/none", "/healthz/x"])
def test_under_v1_everybody_gets_a_problem(client, address):
    response = client.get(address, headers=BROWSER)
    assert response.status_code == 404
    assert response.content_type == "application/problem+json"


def test_a_failure_of_ours_is_owned_up_to_without_saying_how(database, monkeypatch):
    url = database.url.render_as_string(hide_password=False)
    app = create_app(Settings(url), database)

    def fail(*_):
        raise RuntimeError("the inner secret")

    monkeypatch.setattr("hotface_api.site.views.materials.known_material", fail)
    response = app.test_client().get("/materials/quartz", headers=BROWSER)
    page = Shown(response)
    assert page.status == 500
    assert page.faults == []
    assert page.words("body/main/h1") == "We failed to answer"
    assert "secret" not in page.text
    assert response.headers["X-Request-Id"] in page.text


def test_an_empty_database_is_told_on_a_page(tmp_path, database):
    del database
    empty = Database(f"sqlite:///{tmp_path / 'empty.sqlite3'}")
    app = create_app(Settings(empty.url.render_as_string()), empty)
    response = app.test_client().get("/", headers=BROWSER)
    empty.close()
    assert response.status_code == 503
    assert Shown(response).words("body/main/h1") == "Not ready"
    assert response.headers["Retry-After"]


def test_too_many_questions_are_told_on_a_page_with_how_long_to_wait(database):
    url = database.url.render_as_string(hide_password=False)
    app = create_app(Settings(url, rate_limits={"anonymous": 12, "key": 12}), database)
    client = app.test_client()
    statuses = [
        client.get(f"/mix/result?{MIX}&seed={seed}", headers=BROWSER).status_code
        for seed in range(2)
    ]
    assert statuses == [200, 200]  # an estimate weighs five, as for programs
    response = client.get(f"/mix/result?{MIX}&seed=3", headers=BROWSER)
    page = Shown(response)
    assert page.status == 429
    assert page.faults == []
    assert page.words("body/main/h1") == "Too many questions at once"
    assert int(response.headers["Retry-After"]) > 0
    assert response.headers["Content-Security-Policy"] == POLICY
    assert client.get("/materials", headers={"Accept": "text/csv"}).status_code in (406, 429)


def test_every_refusal_has_its_heading(database):
    del database
    statuses = {code.status for code in Code if code.status >= 400}
    assert statuses <= set(HEADINGS)
