"""Rate limits over HTTP: by weight, by key or address, alone or shared; told in header fields.

The fields are those of the draft `draft-ietf-httpapi-ratelimit-headers-10`; 429 with Retry-After is
RFC 6585, section 4.
"""

from __future__ import annotations

import re
import socket
from dataclasses import replace

import pytest

from hotface_api.embedded import open_transport
from hotface_api.http.rates import address_of, limiter_of
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.rates import WEIGHTS, StoreError
from hotface_api.settings import DEFAULT_LIMITS, Settings, SettingsError
from hotface_api.store.database import Database
from support.doors import Person, body_of, doors_of
from support.estimates import REQUEST
from support.problems import check_problem

LIST = "/v1/materials"
LIMITS = {"anonymous": 10, "key": 20}


@pytest.fixture
def doors(club):
    return doors_of(club, rate_limits=LIMITS)


def left(response):
    """Read what an answer says is left."""
    found = re.fullmatch(r'"(\w+)";r=(\d+);t=(\d+)', response.headers["RateLimit"])
    assert 1 <= int(found[3]) <= 60
    return found[1], int(found[2])


def test_counted_answers_tell_what_is_left(doors):
    first = doors.anyone.get(LIST)
    assert first.headers["RateLimit-Policy"] == '"anonymous";q=10;w=60'
    assert left(first) == ("anonymous", 9)
    kept = doors.anyone.get(LIST)  # from memory, and counted alike
    assert kept.data == first.data
    assert left(kept) == ("anonymous", 8)
    assert left(doors.anyone.get("/v1/nowhere")) == ("anonymous", 7)
    assert left(doors.anyone.client.head(LIST)) == ("anonymous", 6)
    keyed = doors.ann.get(LIST)
    assert keyed.headers["RateLimit-Policy"] == '"key";q=20;w=60'
    assert left(keyed) == ("key", 19)


def test_the_last_drop_and_then_429(doors):
    for _ in range(10):
        assert doors.anyone.get(LIST).status_code == 200
    for url in (LIST, "/v1/properties", "/"):  # a kept answer, one that is not, and a page
        response = doors.anyone.get(url)
        document = check_problem(response, 429, "rate_limited")
        assert 1 <= int(response.headers["Retry-After"]) <= 60
        assert response.headers["Retry-After"] in document["detail"]
        assert left(response) == ("anonymous", 0)
    assert doors.ann.get(LIST).status_code == 200  # by its key, not by its address


def test_what_costs_nothing(doors):
    tag = {"If-None-Match": doors.anyone.get(LIST).headers["ETag"]}
    for _ in range(15):
        assert doors.anyone.get(LIST, headers=tag).status_code == 304
    for url in ("/healthz", "/readyz", "/metrics"):
        for _ in range(15):
            response = doors.anyone.get(url)
            assert response.status_code == 200
            assert "RateLimit" not in response.headers
    assert left(doors.anyone.get(LIST)) == ("anonymous", 8)


def test_a_304_that_is_not_kept_costs_nothing_either(club):
    doors = doors_of(club, rate_limits=LIMITS, cache_answers=0)
    tag = {"If-None-Match": doors.anyone.get(LIST).headers["ETag"]}
    for _ in range(15):
        assert doors.anyone.get(LIST, headers=tag).status_code == 304
    assert left(doors.anyone.get(LIST)) == ("anonymous", 8)


def test_requests_cost_their_weight(club):
    doors = doors_of(club, rate_limits={"anonymous": 100, "key": 100})
    questions = {"questions": [{"material": "expanded-perlite", "temperature": "900 Cel"}]}
    response = doors.anyone.post("/v1/survivals", questions)
    assert left(response) == ("anonymous", 100 - WEIGHTS["estimate"])
    doors.anyone.post("/v1/estimates", REQUEST)
    assert left(doors.anyone.get(LIST)) == ("anonymous", 99 - 2 * WEIGHTS["estimate"])
    response = doors.ann.post("/v1/values", body_of())
    assert left(response) == ("key", 100 - WEIGHTS["submit"])
    response = doors.ann.post(
        "/v1/values?licence=CC0-1.0&dry_run=true",
        data=b"material,property,unit\nx,y,z\n",
        content_type="text/csv",
    )
    assert left(response) == ("key", 100 - WEIGHTS["submit"] - WEIGHTS["bulk"])
    value = doors.cleo.get("/v1/contributions").get_json()["items"][0]["value"]["id"]
    response = doors.cleo.act(value, "review", {"decision": "ask", "note": "x"})
    assert left(response) == ("key", 99 - WEIGHTS["review"])


def test_a_request_over_the_limit_does_nothing(club):
    doors = doors_of(club, rate_limits={"anonymous": 10, "key": WEIGHTS["submit"]})
    assert doors.ann.post("/v1/values", body_of()).status_code == 201
    check_problem(doors.ann.post("/v1/values", body_of(licence="CC0-1.0")), 429, "rate_limited")
    assert len(doors.cleo.get("/v1/contributions").get_json()["items"]) == 1


def test_guessing_keys_is_counted_by_address(doors):
    guess = Person(doors.anyone.client, "hf_curator_000000000000_" + "A" * 43)
    for _ in range(10):
        check_problem(guess.get(LIST), 401, "key_invalid")
    check_problem(guess.get(LIST), 429, "rate_limited")
    check_problem(doors.anyone.get(LIST), 429, "rate_limited")


def test_callers_are_told_apart_by_address(club):
    doors = doors_of(club, rate_limits=LIMITS, trust_proxy=1)

    def ask(address):
        return doors.anyone.get(LIST, headers={"X-Forwarded-For": address})

    assert left(ask("203.0.113.7")) == ("anonymous", 9)
    assert left(ask("203.0.113.8")) == ("anonymous", 9)
    assert left(ask("2001:db8:1:2::1")) == ("anonymous", 9)
    assert left(ask("2001:db8:1:2:ffff::9")) == ("anonymous", 8)
    assert left(ask("2001:db8:1:3::1")) == ("anonymous", 9)


def test_a_proxy_that_is_not_trusted_is_not_believed(doors):
    for number in range(10):
        headers = {"X-Forwarded-For": f"203.0.113.{number}"}
        assert doors.anyone.get(LIST, headers=headers).status_code == 200
    headers = {"X-Forwarded-For": "203.0.113.99"}
    check_problem(doors.anyone.get(LIST, headers=headers), 429, "rate_limited")


@pytest.mark.parametrize(
    ("given", "known"),
    [
        ("203.0.113.7", "203.0.113.7"),
        ("::ffff:203.0.113.7", "203.0.113.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("x" * 200, "x" * 64),
        ("", "unknown"),
        (None, "unknown"),
    ],
)
def test_addresses_are_named(given, known):
    assert address_of(given) == known


def test_workers_count_together_where_a_store_is_shared(club, ledger_url):
    other = Database(ledger_url)
    first = doors_of(club, rate_limits=LIMITS, rate_store="database")
    second = doors_of(
        replace(club, ledger=Ledger(other, clock=club.clock)),
        rate_limits=LIMITS,
        rate_store="database",
    )
    for number in range(10):
        doors = (first, second)[number % 2]
        assert left(doors.anyone.get(LIST)) == ("anonymous", 9 - number)
    for doors in (first, second):
        check_problem(doors.anyone.get(LIST), 429, "rate_limited")
    other.close()


def test_workers_of_their_own_memory_count_alone(club):
    first, second = (doors_of(club, rate_limits=LIMITS) for _ in range(2))
    assert left(first.anyone.get(LIST)) == ("anonymous", 9)
    assert left(second.anyone.get(LIST)) == ("anonymous", 9)


def test_a_store_that_fails_takes_nothing_down(club):
    doors = doors_of(club, rate_limits=LIMITS, rate_store="database")
    limiter = doors.app.extensions["hotface"].limiter

    def away(*_args, **_kwargs):
        raise OSError("away")

    limiter._limiter.hit = away
    for _ in range(20):
        assert doors.anyone.get(LIST).status_code == 200
    assert limiter.failures == 20
    assert "hotface_rate_store_failures_total 20" in doors.anyone.get("/metrics").text


def test_nothing_is_counted_unless_asked(club):
    doors = doors_of(club)
    assert doors.app.extensions["hotface"].limiter is None
    for url in (LIST, LIST, "/"):
        assert "RateLimit" not in doors.anyone.get(url).headers
    assert "hotface_rate_store_failures_total" not in doors.anyone.get("/metrics").text


def test_the_store_of_counts_costs_a_kept_answer_no_statement(doors, statements):
    doors.anyone.get(LIST)
    with statements(doors.club.database) as counted:
        doors.anyone.get(LIST)
    assert len(counted) <= 1  # the look at the latest revision, as without limits


def test_settings_are_read(tmp_path):
    def read(**given):
        return Settings.from_environment({"HOME": str(tmp_path), **given})

    assert read().rate_limits == DEFAULT_LIMITS == {"anonymous": 1200, "key": 6000}
    assert read().rate_store == "memory"
    assert read(HOTFACE_RATE_LIMITS="off").rate_limits is None
    assert read(HOTFACE_RATE_LIMITS="key=5, anonymous=3").rate_limits == {
        "anonymous": 3,
        "key": 5,
    }
    assert read(HOTFACE_RATE_LIMITS="key=5").rate_limits == {"anonymous": 1200, "key": 5}
    assert read(HOTFACE_RATE_STORE="redis://h:1").rate_store == "redis://h:1"
    for given in ("none", "key=0", "key=-1", "key", "curator=5", "key=x", "key=9999999999999"):
        with pytest.raises(SettingsError, match="HOTFACE_RATE_LIMITS"):
            read(HOTFACE_RATE_LIMITS=given)
    for given in ("disk", "http://x", "database://"):
        with pytest.raises(SettingsError, match="HOTFACE_RATE_STORE"):
            read(HOTFACE_RATE_STORE=given)


def test_embedded_use_has_no_limits_and_may_contribute_with_a_key(ledger_url, club, monkeypatch):
    from hotface import Request  # noqa: PLC0415 - the seam, used here alone

    monkeypatch.setenv("HOTFACE_DATABASE_URL", ledger_url)
    monkeypatch.setenv("HOTFACE_RATE_LIMITS", "anonymous=1,key=1")
    transport = open_transport(writable=True)
    headers = {"Authorization": f"Bearer {club.tokens[0]}"}
    for _ in range(3):
        answer = transport.send(Request("GET", "/v1/key", headers=headers))
        assert answer.status == 200
        assert "ratelimit" not in answer.headers
    transport.close()


@pytest.fixture
def redis_address(monkeypatch):
    """A stand-in for Redis within this process, Lua scripts and all."""
    redis = pytest.importorskip("redis", reason="NOT TESTED: redis is not installed")
    stand_in = pytest.importorskip("fakeredis", reason="NOT TESTED: fakeredis is not installed")
    server = stand_in.FakeServer()
    monkeypatch.setattr(redis, "from_url", lambda *_, **__: stand_in.FakeRedis(server=server))
    return "redis://127.0.0.1:6379"


def test_workers_count_together_in_redis(club, redis_address):
    doors = [doors_of(club, rate_limits=LIMITS, rate_store=redis_address) for _ in range(2)]
    for number in range(10):
        assert left(doors[number % 2].anyone.get(LIST)) == ("anonymous", 9 - number)
    for each in doors:
        check_problem(each.anyone.get(LIST), 429, "rate_limited")
        assert each.app.extensions["hotface"].limiter.failures == 0


def test_a_redis_that_is_away_takes_nothing_down(club):
    pytest.importorskip("redis", reason="NOT TESTED: redis is not installed")
    doors = doors_of(club, rate_limits=LIMITS, rate_store="redis://127.0.0.1:1")
    for _ in range(12):
        assert doors.anyone.get(LIST).status_code == 200
    assert doors.app.extensions["hotface"].limiter.failures == 12


def test_a_store_that_cannot_be_used_is_told_before_any_worker_starts(ledger_url, monkeypatch):
    from click.testing import CliRunner  # noqa: PLC0415 - used here alone

    from hotface_api.cli.commands import hotface  # noqa: PLC0415

    def missing(_store):
        raise StoreError("'redis' prerequisite not available")

    monkeypatch.setattr("hotface_api.ledger.rates._storage", missing)
    environment = {"HOTFACE_DATABASE_URL": ledger_url, "HOTFACE_RATE_STORE": "redis://127.0.0.1"}
    port = str(free_port())
    told = CliRunner().invoke(hotface, ["serve", "--port", port], env=environment)
    assert told.exit_code != 0
    assert "HOTFACE_RATE_STORE" in told.output
    assert "Traceback" not in told.output


def test_a_store_address_is_never_shown(tmp_path, database):
    pytest.importorskip("redis", reason="NOT TESTED: redis is not installed")
    address = "redis://:s3cret@host:nowhere"
    given = {"HOME": str(tmp_path), "HOTFACE_RATE_STORE": address}
    settings = Settings.from_environment(given)
    assert "s3cret" not in repr(settings)
    with pytest.raises(SettingsError, match="address cannot be read") as caught:
        limiter_of(settings, database)
    assert caught.value.__cause__ is None
    with pytest.raises(SettingsError) as caught:
        Settings.from_environment({**given, "HOTFACE_RATE_STORE": "rediss//:s3cret@host"})
    assert "s3cret" not in str(caught.value)


def free_port():
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]
