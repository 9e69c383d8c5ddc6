"""Sessions and forms that act: nothing is done for whom it is not certain that they meant it."""

from __future__ import annotations

import io
import logging
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select, update

from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import UnavailableError
from hotface_api.ledger.keys import authenticate, revoke_key
from hotface_api.ledger.people import erase_person
from hotface_api.ledger.reading import mine
from hotface_api.site.page import POLICY
from hotface_api.site.session import local_address
from hotface_api.site.valueform import LABELS
from hotface_api.store.ledger_models import ApiKey, WebSession
from hotface_api.store.read import table
from support.desk import HOST, PERLITE, Someone
from support.pages import BROWSER

COOKIE = "hotface-session"
ACTS = ("reply", "withdrawal", "correction", "review")
ELSEWHERE = "https://elsewhere.example"
SQLITE = pytest.mark.parametrize("desk_template", ["sqlite"], indirect=True)


def contributed(desk, name="ann"):
    return mine(desk.ledger, authenticate(desk.ledger, desk.keys[name])).items


def sessions(desk):
    with desk.database.read() as connection:
        return connection.scalar(select(func.count()).select_from(table(WebSession)))


def test_a_key_is_exchanged_for_a_session(desk):
    ann = Someone(desk)
    page = ann.go("/contributions")
    assert ann.path == "/sign-in?next=%2Fcontributions"
    page = ann.send("/sign-in", key=desk.keys["ann"])
    assert page.status == 200
    assert ann.path == "/contributions"
    assert "Ann" in page.words("body")
    cookie = ann.cookies()[COOKIE]
    assert cookie.http_only
    assert cookie.same_site == "Strict"
    assert not cookie.secure
    assert cookie.path == "/"
    assert 0 < cookie.max_age <= 24 * 3600
    assert desk.keys["ann"] not in cookie.value
    with desk.database.read() as connection:
        row = connection.execute(select(table(WebSession))).one()
    assert cookie.value not in row
    assert row.key == desk.key_id("ann")


def test_under_https_the_cookie_is_bound_to_the_host(quiet_desk):
    ann = Someone(quiet_desk, "https://localhost")
    ann.go("/sign-in")
    response = ann.client.post(
        "/sign-in",
        data={"key": quiet_desk.keys["ann"]},
        headers={**BROWSER, "Origin": "https://localhost"},
        base_url="https://localhost",
    )
    given = response.headers["Set-Cookie"]
    assert given.startswith(f"__Host-{COOKIE}=")
    for part in ("Secure", "HttpOnly", "SameSite=Strict", "Path=/"):
        assert part in given.split("; ")
    assert "Domain" not in given
    assert ann.go("/contributions").status == 200


def test_a_session_of_http_is_none_under_https(quiet_desk):
    ann = quiet_desk.visitor("ann")
    value = ann.cookies()[COOKIE].value
    secure = Someone(quiet_desk, "https://localhost")
    secure.client.set_cookie(COOKIE, value, domain="localhost", secure=True)
    secure.go("/contributions")
    assert secure.path.startswith("/sign-in")


@SQLITE
@pytest.mark.parametrize(
    "wrong",
    ["", "x", "hf_contributor_000000000000_" + "a" * 43, "\x00", "hf_" * 5000, "é" * 60],
)
def test_a_wrong_key_opens_nothing_and_is_not_shown_again(desk, wrong):
    ann = Someone(desk)
    ann.go("/sign-in")
    page = ann.send("/sign-in", key=wrong)
    assert page.status == 422
    assert page.by_id("key").get("aria-invalid") == "true"
    assert page.by_id("key").get("value") is None
    assert len(wrong) < 2 or wrong not in page.text
    assert ann.cookies() == {}
    assert sessions(desk) == 0


def test_a_role_cannot_be_taken_by_writing_it_into_the_key(desk):
    ann = Someone(desk)
    ann.go("/sign-in")
    raised = desk.keys["ann"].replace("contributor", "curator")
    assert ann.send("/sign-in", key=raised).status == 422


def test_the_key_stands_on_no_page_and_in_no_log(desk, caplog):
    caplog.set_level(logging.DEBUG)
    ann = desk.visitor("ann")
    value = ann.contribute()
    secret = desk.keys["ann"].rpartition("_")[2]
    for path in ("/contributions", "/contribute", f"/contributions/{value}", "/sign-in"):
        page = ann.go(path)
        assert secret not in page.text
        assert secret not in str(page.headers)
        assert secret not in ann.path
    assert secret not in caplog.text
    assert ann.cookies()[COOKIE].value not in caplog.text


@pytest.mark.parametrize(
    "address",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example",
        "\\\\elsewhere.example",
        "javascript:alert(1)",
        "/a\nb",
        "/a\tb",
        "contributions",
        "/" + "a" * 5000,
        "",
    ],
)
def test_one_is_led_nowhere_else_after_signing_in(quiet_desk, address):
    assert local_address(address) is None
    ann = Someone(quiet_desk)
    ann.go("/sign-in")
    ann.send("/sign-in", key=quiet_desk.keys["ann"], next=address)
    assert ann.path == "/contributions"


def test_signing_in_never_takes_over_a_session_from_outside(desk):
    mallory = desk.visitor("ben")
    planted = mallory.cookies()[COOKIE].value
    ann = Someone(desk)
    ann.client.set_cookie(COOKIE, planted, domain="localhost")
    ann.sign_in(desk.keys["ann"])
    taken = ann.cookies()[COOKIE].value
    assert taken != planted
    assert "Ann" in ann.page.words("body")
    mallory.go("/contributions")  # the planted session ended with it
    assert mallory.path.startswith("/sign-in")
    made_up = Someone(desk)
    made_up.client.set_cookie(COOKIE, "made-up", domain="localhost")
    made_up.go("/contributions")
    assert made_up.path.startswith("/sign-in")
    made_up.sign_in(desk.keys["ann"])
    assert made_up.cookies()[COOKIE].value != "made-up"


def test_signing_out_ends_the_session_everywhere(desk):
    ann = desk.visitor("ann")
    kept = ann.cookies()[COOKIE].value
    page = ann.send("/sign-out")
    assert page.status == 200
    assert ann.path == "/"
    assert ann.cookies() == {}
    assert sessions(desk) == 0
    thief = Someone(desk)
    thief.client.set_cookie(COOKIE, kept, domain="localhost")
    thief.go("/contributions")
    assert thief.path.startswith("/sign-in")
    assert ann.post("/sign-out", {}).status == 200


def test_nobody_is_signed_out_by_another_page(desk):
    ann = desk.visitor("ann")
    assert ann.post("/sign-out", {}, Origin=ELSEWHERE).status == 403
    assert ann.post("/sign-out", {}).status == 403
    assert sessions(desk) == 1


def test_a_revoked_key_is_dead_at_once_and_nothing_typed_is_lost(desk):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    ann.send("/contribute", act="check", **PERLITE, note="weighed twice\nand again")
    revoke_key(desk.ledger, desk.key_id("ann"))
    page = ann.send("/contribute", act="submit")
    assert page.status == 401
    assert "Nothing was written, and nothing you typed is lost" in page.words("body/main")
    assert "weighed twice" in page.words("body/main")
    assert ann.go("/contributions").status == 200
    assert ann.path.startswith("/sign-in")
    assert contributed(desk, "ben") == ()


def test_an_expired_session_goes_on_after_signing_in_again(desk):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    ann.send("/contribute", act="check", **PERLITE, note="weighed twice\nand <b>again</b>")
    past = datetime.now(UTC) - timedelta(seconds=1)
    with desk.database.write() as connection:
        connection.execute(update(table(WebSession)).values(expires_at=past))
    page = ann.send("/contribute", act="submit")
    assert page.status == 401
    assert page.faults == []
    page = ann.send("/sign-in", key="wrong")
    assert page.status == 422
    page = ann.send("/sign-in", key=desk.keys["ann"])
    assert page.status == 200
    assert "You are signed in. This is what you were about to send." in page.words("body/main")
    page = ann.send("/contribute")
    assert page.status == 200
    assert ann.path.startswith("/contributions/")
    (found,) = contributed(desk)
    assert found.row["note"] == "weighed twice\nand <b>again</b>"
    assert sessions(desk) == 1  # the expired one was swept


def test_an_expired_key_and_an_erased_person_end_a_session(desk):
    ann, ben = desk.visitor("ann"), desk.visitor("ben")
    past = datetime.now(UTC) - timedelta(seconds=1)
    keys = table(ApiKey)
    with desk.database.write() as connection:
        mine_ = keys.c.id == desk.key_id("ann")
        connection.execute(update(keys).where(mine_).values(expires_at=past))
    ann.go("/contributions")
    assert ann.path.startswith("/sign-in")
    erase_person(desk.ledger, authenticate(desk.ledger, desk.keys["ben"]).contributor)
    ben.go("/contributions")
    assert ben.path.startswith("/sign-in")


@SQLITE
@pytest.mark.parametrize("token", [None, "", "x", "0" * 64, "é"])
def test_a_form_without_its_token_does_nothing_and_can_be_sent_again(desk, token):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    ann.send("/contribute", act="check", **PERLITE)
    if token is None:
        page = ann.send("/contribute", act="submit", without=("form_token",))
    else:
        page = ann.send("/contribute", act="submit", form_token=token)
    assert page.status == 403
    assert page.faults == []
    assert "did not carry the mark of your present session" in page.words("body/main")
    assert "two litres of perlite" in page.words("body/main")
    assert contributed(desk) == ()
    page = ann.send("/contribute")
    assert page.status == 200
    assert len(contributed(desk)) == 1


def test_a_token_is_of_one_session_only(desk):
    ann, again = desk.visitor("ann"), desk.visitor("ann")
    again.go("/contribute")
    other = again.fields("/contribute")["form_token"]
    ann.go("/contribute")
    assert ann.fields("/contribute")["form_token"] != other
    assert ann.send("/contribute", act="check", form_token=other, **PERLITE).status == 403


@SQLITE
@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": ELSEWHERE},
        {"Origin": "null"},
        {"Origin": None},
        {"Origin": "http://localhost.elsewhere.example"},
        {"Origin": "https://localhost"},
        {"Origin": "http://localhost:8081"},
        {"Origin": "http://[::1"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
        {"Sec_Fetch_Site": "odd"},
    ],
)
def test_a_form_from_elsewhere_is_refused(desk, headers):
    ann = desk.visitor("ann")
    value = ann.contribute()
    ann.go("/contribute")
    token = ann.fields("/contribute")["form_token"]
    data = {**PERLITE, "form_token": token, "typical": "115", "version": "1", "reason": "x"}
    places = ("/contribute", "/contribute/table", "/sign-in", "/sign-out")
    for path in (*places, *(f"/contributions/{value}/{act}" for act in ACTS)):
        page = ann.post(path, data, **headers)
        assert page.status == 403, path
        assert "This form came from elsewhere" in page.words("body/main")
        assert "115" not in page.words("body/main")
    assert [each.state for each in contributed(desk)] == ["pending"]


def test_an_own_form_is_known_behind_a_proxy_that_changes_the_host(quiet_desk):
    ann = quiet_desk.visitor("ann")
    ann.go("/contribute")
    other = {"Origin": "https://kiln.example", "Sec_Fetch_Site": "same-origin"}
    page = ann.send("/contribute", headers=other, act="check", **PERLITE)
    assert page.status == 200


def test_a_planted_form_cannot_sign_somebody_in(desk):
    ann = Someone(desk)
    assert ann.post("/sign-in", {"key": desk.keys["ben"]}, Origin=ELSEWHERE).status == 403
    assert ann.post("/sign-in", {"key": desk.keys["ben"]}, Origin=None).status == 403
    assert ann.cookies() == {}


def test_pages_with_a_session_are_kept_by_nobody(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    answers = desk.app.extensions["hotface"].answers
    before = len(answers)
    paths = ("/contributions", "/contribute", "/contribute/table", "/sign-in")
    for path in (*paths, f"/contributions/{value}", f"/contributions/{value}.json"):
        response = ann.client.get(path, headers=BROWSER, base_url=HOST)
        assert response.status_code == 200
        assert response.headers["Cache-Control"] == "no-store"
        assert "ETag" not in response.headers
        assert response.headers["Content-Security-Policy"] == POLICY
    assert len(answers) == before


def test_no_page_is_shown_to_whom_it_is_not_for(desk):
    nobody = Someone(desk)
    value = desk.visitor("ann").contribute()
    for path in (
        "/contribute",
        "/contribute/table",
        "/contributions",
        "/review",
        f"/contributions/{value}",
        f"/contributions/{value}/correction",
    ):
        page = nobody.go(path)
        assert nobody.path.startswith("/sign-in?next=%2F"), path
        assert page.status == 200
        assert value not in page.words("body/main")
    assert desk.visitor("ann").go("/review").status == 403


def test_a_public_page_holds_nothing_of_a_session(quiet_desk):
    ann = quiet_desk.visitor("ann")
    page = ann.go("/materials/expanded-perlite")
    assert "/sign-out" not in page.text
    assert "form_token" not in page.text


def test_what_is_too_large_or_no_form_is_refused_plainly(quiet_desk):
    ann = quiet_desk.visitor("ann")
    ann.go("/contribute")
    token = ann.fields("/contribute")["form_token"]
    page = ann.post("/contribute", {"form_token": token, "note": "x" * 1_200_000})
    assert page.status == 413
    page = ann.post("/contribute", {"form_token": token, **{f"f{n}": "x" for n in range(3000)}})
    assert page.status in (413, 422)
    for body, kind in (
        (b"\xff\xfe%%%=&&&", "application/x-www-form-urlencoded"),
        (b"--x\r\nbroken", "multipart/form-data; boundary=x"),
        (b"{}", "application/json"),
    ):
        response = ann.client.post(
            "/contribute",
            data=io.BytesIO(body),
            headers={**BROWSER, "Origin": HOST, "Content-Type": kind},
        )
        assert response.status_code in (400, 403, 413, 415, 422), kind


@pytest.mark.parametrize("path", ["/contribute", "/sign-in", "/contributions", "/review"])
@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH"])
def test_other_methods_are_refused(quiet_desk, path, method):
    response = quiet_desk.app.test_client().open(path, method=method, headers=BROWSER)
    assert response.status_code == 405


def test_a_database_that_is_away_loses_nothing_typed(desk, monkeypatch):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    ann.send("/contribute", act="check", **PERLITE)

    def away(_ledger):
        raise UnavailableError("locked")

    monkeypatch.setattr(Ledger, "write", away)
    page = ann.send("/contribute", act="submit")
    assert page.status == 503
    assert page.headers["Retry-After"] == "2"
    assert "Nothing was written; send it again in a moment" in page.words("body/main")
    assert "two litres of perlite" in page.words("body/main")
    assert contributed(desk) == ()
    monkeypatch.undo()
    page = ann.send("/contribute")
    assert page.status == 200
    assert len(contributed(desk)) == 1


NASTY = st.one_of(
    st.sampled_from(["", "1", "-1", "1e999", "nan", "[", "{}", "\x00", "\ud7ff", "=1", "9" * 400]),
    st.text(max_size=30),
)
NAMES = (*sorted(LABELS), "act", "nonce", "checked", "version", "seen", "state", "units", "odd")


@SQLITE
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(typed=st.dictionaries(st.sampled_from(NAMES), NASTY, max_size=12), full=st.booleans())
def test_whatever_is_typed_nothing_fails(desk, typed, full):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    sent = {**(PERLITE if full else {}), **typed}
    page = ann.post("/contribute", {**ann.fields("/contribute"), **sent})
    assert page.status in (200, 409, 422), page.words("body/main")
    if page.status == 422:
        assert [each for each in page.tree.iter() if each.get("role") == "alert"]
