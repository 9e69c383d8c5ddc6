"""Rate limits by weight: in one process, and shared through the database."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from hotface_api.ledger.errors import Code, RateLimitedError
from hotface_api.ledger.rates import WEIGHTS, RateLimiter, StoreError
from hotface_api.ledger.windows import DatabaseWindows
from hotface_api.store.database import Database
from support.contributions import raised

POLICIES = {"anonymous": 10, "key": 20}


@pytest.fixture(params=["memory", "database"])
def limiter(request, club):
    """One of each kind; the database kind on both databases."""
    store = club.database if request.param == "database" else "memory"
    return RateLimiter(store, POLICIES)


def test_requests_cost_their_weight(limiter):
    first = limiter.count("anonymous", "203.0.113.5", WEIGHTS["estimate"])
    assert (first.allowed, first.quota, first.remaining) == (True, 10, 5)
    assert limiter.count("anonymous", "203.0.113.5", 5).remaining == 0
    refused = limiter.count("anonymous", "203.0.113.5")
    assert not refused.allowed
    assert 1 <= refused.reset_after <= 60
    with raised(RateLimitedError, Code.RATE_LIMITED) as caught:
        refused.check()
    assert caught[0].retry_after == refused.reset_after


def test_a_refused_request_is_not_counted(limiter):
    limiter.count("anonymous", "a", 8)
    assert not limiter.count("anonymous", "a", 5).allowed
    assert limiter.count("anonymous", "a", 2).allowed


def test_callers_and_policies_are_counted_apart(limiter):
    limiter.count("anonymous", "a", 10)
    assert limiter.count("anonymous", "b").allowed
    assert limiter.count("key", "a").remaining == 19
    limiter.count("anonymous", "b").check()


def test_looking_costs_nothing(limiter):
    for _ in range(30):
        assert limiter.count("key", "k", 0).remaining == 20


def test_workers_that_share_a_database_count_together(club, ledger_url):
    other = Database(ledger_url)
    first, second = RateLimiter(club.database, POLICIES), RateLimiter(other, POLICIES)
    first.count("anonymous", "a", 6)
    assert not second.count("anonymous", "a", 6).allowed
    assert second.count("anonymous", "a", 4).remaining == 0
    other.close()


def test_two_workers_at_once_cannot_both_take_the_rest(club, ledger_url):
    databases = [Database(ledger_url) for _ in range(4)]
    limiters = [RateLimiter(database, {"key": 20}) for database in databases]
    gate = threading.Barrier(16)

    def hits(number):
        gate.wait()
        return sum(limiters[number % 4].count("key", "k", 1).allowed for _ in range(5))

    with ThreadPoolExecutor(16) as pool:
        allowed = sum(pool.map(hits, range(16)))
    assert sum(limiter.failures for limiter in limiters) == 0
    assert allowed == 20
    for database in databases:
        database.close()


def test_windows_slide_by_the_clock(club):
    now = [6000.0]
    store = DatabaseWindows(club.database, clock=lambda: now[0])
    assert store.acquire_sliding_window_entry("k", 10, 60, 10)
    assert not store.acquire_sliding_window_entry("k", 10, 60, 1)
    now[0] = 6060.0 + 30.0  # half of the window before still counts: 5
    assert not store.acquire_sliding_window_entry("k", 10, 60, 6)
    assert store.acquire_sliding_window_entry("k", 10, 60, 5)
    now[0] = 6180.0
    assert store.acquire_sliding_window_entry("k", 10, 60, 5)
    now[0] = 6000.0  # the clock goes back: counted there, nothing breaks
    assert not store.acquire_sliding_window_entry("k", 10, 60, 1)


def test_the_interface_of_the_library_is_whole(club):
    store = DatabaseWindows(club.database)
    assert store.check()
    assert store.incr("k", 60, 3) == 3
    assert store.get("k") == 3
    assert store.get_expiry("k") > 0
    store.clear_sliding_window("k", 60)
    assert store.get("k") == 0
    store.incr("k", 60)
    assert store.reset() == 1


def test_a_store_that_fails_lets_requests_through_and_is_counted(tmp_path):
    broken = Database(f"sqlite:///{tmp_path / 'unmigrated.sqlite3'}")
    limiter = RateLimiter(broken, POLICIES)
    assert all(limiter.count("anonymous", "a", 10).allowed for _ in range(3))
    assert limiter.failures == 3
    broken.close()


def test_an_unknown_store_is_refused_at_the_start():
    with pytest.raises(StoreError, match="unknown"):
        RateLimiter("nosuch://store", POLICIES)
