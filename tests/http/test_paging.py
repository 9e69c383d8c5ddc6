"""Pages: a walk gives the whole list, and a cursor serves its own question only."""

from __future__ import annotations

import base64
from urllib.parse import quote

import pytest

from hotface_api.load.loader import load
from support.packages import small_package
from support.problems import check_problem

LISTS = [
    "/v1/materials",
    "/v1/materials?kind=aggregate",
    "/v1/materials?q=invented",
    "/v1/properties",
    "/v1/sources",
    "/v1/values",
    "/v1/values?material=demo-perlite&material=demo-sand&role=use_limit",
    "/v1/values?q=50_50",
    "/v1/specimens",
    "/v1/holdings",
    "/v1/phases",
    "/v1/cones",
    "/v1/classes",
    "/v1/standards",
    "/v1/cautions",
    "/v1/revisions",
]


def walk(client, url, limit):
    """Follow next to the end; give the items and how many pages there were."""
    found, pages = [], 0
    join = "&" if "?" in url else "?"
    following = f"{url}{join}limit={limit}"
    while following:
        response = client.get(following)
        assert response.status_code == 200, response.text
        document = response.get_json()
        assert len(document["items"]) <= limit
        link = f'<{document["next"]}>; rel="next"'
        assert response.headers.get("Link") == (link if document["next"] else None)
        found += document["items"]
        following = document["next"]
        pages += 1
    return found, pages


@pytest.mark.parametrize("url", LISTS)
@pytest.mark.parametrize("limit", [1, 7])
def test_a_walk_is_the_whole_list_in_order(demo, url, limit):
    join = "&" if "?" in url else "?"
    whole = demo.get(f"{url}{join}limit=200").get_json()
    assert whole["next"] is None
    assert whole["items"]
    found, pages = walk(demo, url, limit)
    assert found == whole["items"]
    assert pages == -(-len(found) // limit)


def test_the_whole_seed_is_walked_alike_on_both_databases(client):
    found, _ = walk(client, "/v1/values", 200)
    ids = [item["id"] for item in found]
    assert ids == sorted(ids)
    assert len(ids) == len(set(ids)) > 1000


def test_a_larger_limit_counts_as_200_and_says_so(client):
    document = client.get("/v1/values?limit=100000000000000000").get_json()
    assert len(document["items"]) == 200
    assert "limit=200&" in document["next"]


def test_next_keeps_filters_and_units_and_names_the_revision(demo):
    url = "/v1/values?material=demo-perlite&q=a%20zz&units=us&limit=1"
    assert demo.get(url).get_json()["items"] == []
    url = "/v1/values?material=demo-perlite&form=heap&units=us&limit=1"
    following = demo.get(url).get_json()["next"]
    for part in ("material=demo-perlite", "form=heap", "units=us", "limit=1", "revision=2"):
        assert part in following
    assert demo.get(following).get_json()["items"][0]["unit"] == "[lb_av]/[cft_i]"


def test_next_keeps_the_place_the_application_is_mounted_at(demo):
    response = demo.get("/v1/values?limit=1", environ_overrides={"SCRIPT_NAME": "/data"})
    assert response.get_json()["next"].startswith("/data/v1/values?")
    assert demo.get("/v1/values?limit=1").get_json()["next"].startswith("/v1/values?")


def cursor_of(client, url):
    following = client.get(url).get_json()["next"]
    return following.split("cursor=")[1]


def test_a_cursor_of_another_question_is_refused(demo):
    cursor = cursor_of(demo, "/v1/values?material=demo-perlite&limit=1")
    assert demo.get(f"/v1/values?material=demo-perlite&cursor={cursor}").status_code == 200
    for other in (
        f"/v1/values?cursor={cursor}",
        f"/v1/values?material=demo-sand&cursor={cursor}",
        f"/v1/values?material=demo-perlite&basis=read&cursor={cursor}",
        f"/v1/specimens?material=demo-perlite&cursor={cursor}",
        f"/v1/values?material=demo-perlite&revision=1&cursor={cursor}",
    ):
        document = check_problem(demo.get(other), 400, "cursor_mismatch")
        assert document["errors"][0]["parameter"] == "cursor"


def test_the_order_of_filters_does_not_matter(demo):
    cursor = cursor_of(demo, "/v1/values?material=demo-perlite&form=heap&limit=1")
    response = demo.get(f"/v1/values?form=heap&material=demo-perlite&cursor={cursor}")
    assert response.status_code == 200


def _encoded(text):
    return base64.urlsafe_b64encode(text).decode().rstrip("=")


@pytest.mark.parametrize(
    "cursor",
    [
        "!",
        "a",
        "ü",
        "AAAA",
        _encoded(b"\xff" * 20),
        _encoded(b"x" * 12),
        _encoded(b"0" * 12 + b"\x00"),
    ],
)
def test_a_damaged_cursor_is_refused(demo, cursor):
    check_problem(demo.get(f"/v1/values?cursor={quote(cursor)}"), 400, "cursor_mismatch")


def test_a_cursor_of_revisions_holds_a_number(demo):
    cursor = cursor_of(demo, "/v1/revisions?limit=1")
    digest = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4))[:12]
    for odd in (b"x", b"1" * 40, b"-1"):
        forged = _encoded(digest + odd)
        check_problem(demo.get(f"/v1/revisions?cursor={forged}"), 400, "cursor_mismatch")


def test_a_walk_over_a_load_ends_on_the_data_it_started_with(own, tmp_path):
    database, app = own
    client = app.test_client()
    before = walk(client, "/v1/values", 200)[0]
    first = client.get("/v1/values?limit=10").get_json()
    cursor = first["next"].split("cursor=")[1]
    changes = {"values": lambda rows: [row for row in rows if row["material"] == "demo-sand"]}
    load(database, small_package(tmp_path / "next", changes))
    found, following = list(first["items"]), first["next"]
    while following:
        document = client.get(following).get_json()
        found += document["items"]
        following = document["next"]
    assert found == before
    check_problem(client.get(f"/v1/values?limit=10&cursor={cursor}"), 400, "cursor_mismatch")
    assert len(walk(client, "/v1/values", 200)[0]) < len(before)
