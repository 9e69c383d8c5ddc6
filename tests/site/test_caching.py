"""Pages are kept by revision: one look at the database, an entity tag, and 304."""

from __future__ import annotations

import pytest

from hotface_api.app import create_app
from hotface_api.settings import Settings
from hotface_api.site.page import POLICY
from support.pages import BROWSER, MIX

ADDRESS = "/materials/expanded-perlite"


def test_a_warm_page_costs_one_look_at_the_revision(app, database, client, statements):
    assert client.get(ADDRESS, headers=BROWSER).status_code == 200
    with statements(database) as counted:
        assert client.get(ADDRESS, headers=BROWSER).status_code == 200
    assert len(counted) == 1
    assert "revision" in counted[0]


def test_a_page_that_is_held_already_is_not_sent_again(client):
    first = client.get(ADDRESS, headers=BROWSER)
    tag = first.headers["ETag"]
    again = client.get(ADDRESS, headers={**BROWSER, "If-None-Match": tag})
    assert again.status_code == 304
    assert again.data == b""
    assert "Content-Type" not in again.headers
    assert again.headers.get("Content-Security-Policy", POLICY) == POLICY


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_page_recognised_before_it_is_made_keeps_its_policy(app, database):
    """A browser takes over the fields of a 304: the policy of data would take the style away."""
    url = database.url.render_as_string(hide_password=False)
    fresh = create_app(Settings(url), database).test_client()
    tag = app.test_client().get(ADDRESS, headers=BROWSER).headers["ETag"]
    found = fresh.get(ADDRESS, headers={**BROWSER, "If-None-Match": tag})
    assert found.status_code == 304
    assert found.headers.get("Content-Security-Policy", POLICY) == POLICY


def test_tags_differ_by_units_address_and_media(client):
    tags = {
        client.get(address, headers=headers).headers["ETag"]
        for address, headers in (
            (ADDRESS, BROWSER),
            (ADDRESS + "?units=us", BROWSER),
            ("/materials/quartz", BROWSER),
            ("/csv" + ADDRESS, {"Accept": "text/csv"}),
            ("/v1" + ADDRESS, {"Accept": "application/json"}),
        )
    }
    assert len(tags) == 5


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_an_estimate_is_recognised_without_being_made_again(client):
    address = f"/mix/result?{MIX}"
    tag = client.get(address, headers=BROWSER).headers["ETag"]
    assert client.get(address, headers={**BROWSER, "If-None-Match": tag}).status_code == 304


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_head_request_is_answered_without_a_body(client):
    response = client.head(ADDRESS, headers=BROWSER)
    assert response.status_code == 200
    assert response.data == b""
    assert response.headers["ETag"]


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_page_is_no_json(client):
    response = client.get(ADDRESS, headers={"Accept": "application/json"})
    assert response.status_code == 406
    assert response.json["code"] == "not_acceptable"
