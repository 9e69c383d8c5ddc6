"""The server killed at random moments while many submit: what it acknowledged is there, once.

A real `hotface serve` on a socket, killed with its workers by SIGKILL, started again, and sent the
whole lot anew with the same idempotency keys.
"""

from __future__ import annotations

import os
import random
import signal
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import pytest
import requests
from sqlalchemy import func, select

from hotface_api.ledger.check import check_audit
from hotface_api.store.ledger_models import Contribution
from hotface_api.store.models import Value
from hotface_api.store.read import table
from support.doors import body_of, value_body

PATIENCE = 60.0
OWN = {"own_measurement": {"specimen": "jug", "instrument": "scale", "date": "2020-01-02"}}


def free_port():
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


@contextmanager
def served(url):
    """Serve a database; gives the address and what kills the server with all its workers."""
    port = free_port()
    environment = {
        **os.environ,
        "HOTFACE_DATABASE_URL": url,
        "HOTFACE_RATE_LIMITS": "off",
        "HOTFACE_LOG_LEVEL": "ERROR",
    }
    serve = ["serve", "--no-prepare", "--port", str(port), "--workers", "2"]
    command = [sys.executable, "-c", "from hotface_api.cli import main; main()", *serve]
    process = subprocess.Popen(  # noqa: S603
        command,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )

    def kill():
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:  # killed before
            return
        process.wait(PATIENCE)

    address = f"http://127.0.0.1:{port}"
    try:
        wait_for(address)
        yield address, kill
    finally:
        kill()


def wait_for(address):
    until = time.monotonic() + PATIENCE
    while True:
        try:
            if requests.get(f"{address}/readyz", timeout=5).status_code == 200:
                return
        except requests.ConnectionError:
            pass
        assert time.monotonic() < until, "the server never got ready"
        time.sleep(0.05)


class Club:
    """Those who submit and the one who accepts, over HTTP; keeps what was acknowledged."""

    def __init__(self, club):
        self.ann, _, self.cleo, _ = club.tokens
        self.submitted = {}
        self.accepted = set()

    def send(self, address, number):
        """Submit one figure, and accept every third; give up where nothing answers."""
        body = body_of(value_body(f"{100 + number / 100:.2f}"), source=OWN)
        named = {"Authorization": f"Bearer {self.ann}", "Idempotency-Key": f"n-{number}"}
        answer = self._post(f"{address}/v1/values", body, named)
        if answer is None:
            return
        assert answer.status_code in (200, 201), answer.text
        item = answer.json()["items"][0]
        assert item["state"] in ("pending", "held")
        known = self.submitted.setdefault(number, item["value"])
        assert known == item["value"], "acknowledged as one value, and then as another"
        if number % 3 == 0:
            self._accept(address, number, item["value"])

    def until_done(self, address, number):
        """Send it until it is acknowledged; what was acknowledged before must be said again."""
        until = time.monotonic() + PATIENCE
        while True:
            self.send(address, number)
            value = self.submitted.get(number)
            if value is not None and (number % 3 or value in self.accepted):
                return
            assert time.monotonic() < until

    def _accept(self, address, number, value):
        named = {
            "Authorization": f"Bearer {self.cleo}",
            "Idempotency-Key": f"a-{number}",
            "If-Match": '"1"',
        }
        url = f"{address}/v1/values/{value}/review"
        answer = self._post(url, {"decision": "accept"}, named)
        if answer is not None:
            assert answer.status_code == 200, answer.text
            self.accepted.add(value)

    @staticmethod
    def _post(url, body, named):
        """Post; None where the server died, or could not take it in time and said so."""
        try:
            answer = requests.post(url, json=body, headers=named, timeout=PATIENCE)
        except (requests.ConnectionError, requests.exceptions.ChunkedEncodingError):
            return None
        if answer.status_code == 503:
            assert int(answer.headers["Retry-After"]) > 0
            return None
        return answer


def check_all_there(club, sent):
    """Everything acknowledged is there, nothing twice, and the audit is whole."""
    with club.ledger.read() as connection:
        states = {row.value: row.state for row in connection.execute(select(table(Contribution)))}
        twice = connection.execute(
            select(table(Value).c.printed_typical)
            .where(table(Value).c.contributor.is_not(None))
            .group_by(table(Value).c.printed_typical)
            .having(func.count() > 1)
        ).all()
    assert twice == []
    assert set(sent.submitted.values()) <= set(states)
    assert all(states[value] == "accepted" for value in sent.accepted)
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    return report


def killed_again_and_again(club, url, rounds, count, writers):
    draw = random.Random(11)  # noqa: S311 - moments to kill at
    sent = Club(club)
    for round_ in range(rounds):
        numbers = range(round_ * count, (round_ + 1) * count)
        before = len(sent.submitted)
        with served(url) as (address, kill), ThreadPoolExecutor(writers) as pool:
            done = [pool.submit(sent.send, address, number) for number in numbers]
            while len(sent.submitted) == before and not all(each.done() for each in done):
                time.sleep(0.01)
            time.sleep(draw.uniform(0.0, 0.6))
            kill()
            for each in done:
                each.result()
        assert len(sent.submitted) > before, "killed before anything was acknowledged"
        check_all_there(club, sent)
        with served(url) as (address, _), ThreadPoolExecutor(writers) as pool:
            for each in [pool.submit(sent.until_done, address, number) for number in numbers]:
                each.result()
        report = check_all_there(club, sent)
        assert report.contributions == len(sent.submitted) == (round_ + 1) * count
    return sent


def test_a_killed_server_loses_nothing(club, ledger_url):
    sent = killed_again_and_again(club, ledger_url, rounds=1, count=45, writers=8)
    assert len(sent.accepted) == 15


@pytest.mark.long
def test_a_server_killed_among_three_hundred(club, ledger_url):
    killed_again_and_again(club, ledger_url, rounds=3, count=300, writers=32)
