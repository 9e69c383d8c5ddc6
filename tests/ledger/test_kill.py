"""A writing process killed in the middle: what it acknowledged is there, once, and all is whole."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest
from sqlalchemy import select

from hotface_api.ledger.check import check_audit
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.submit import submit
from hotface_api.store.ledger_models import Contribution
from hotface_api.store.models import Value
from hotface_api.store.read import table
from support.contributions import one, perlite

WRITER = """
import json, sys, threading
sys.path.insert(0, {tests!r})
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import Actor
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import review
from hotface_api.ledger.submit import submit
from hotface_api.store.database import Database
from support.contributions import one, perlite

url, start, count, ann, cleo = json.loads(sys.argv[1])
ledger = Ledger(Database(url))
ann, cleo = Actor(*ann), Actor(*cleo)
ledger.reference()
lock = threading.Lock()

def tell(kind, number, value):
    with lock:  # one whole line each, or none
        print(json.dumps([kind, number, value]), flush=True)

def work(first):
    for number in range(first, start + count, 4):
        figure = f"{{100 + number / 100:.2f}}"
        receipt = submit(ledger, ann, one(perlite(figure)),
                         idempotency=Idempotency(f"n-{{number}}", figure))
        value = receipt.items[0].value
        tell("submitted", number, value)
        if number % 3 == 0 and not receipt.replayed:
            review(ledger, cleo, value, "accept", version=1)
            tell("accepted", number, value)

threads = [threading.Thread(target=work, args=(start + n,)) for n in range(4)]
for thread in threads: thread.start()
for thread in threads: thread.join()
"""


def killed_writer(url, club, tests, start, count, delay):
    """Run a writer, kill it after some acknowledgements, and give what it acknowledged."""
    people = [[a.contributor, a.role, a.key] for a in (club.ann, club.cleo)]
    argument = json.dumps([url, start, count, *people])
    process = subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", WRITER.format(tests=tests), argument],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    first = process.stdout.readline()
    time.sleep(delay)
    os.kill(process.pid, signal.SIGKILL)
    rest, errors = process.communicate(timeout=60)
    assert first, errors
    lines = [line for line in (first + rest).splitlines(keepends=True) if line.endswith("\n")]
    return [json.loads(line) for line in lines]


def check_all_there(club, told):
    rows, standing = table(Value), table(Contribution)
    with club.ledger.read() as connection:
        values = [
            row.id
            for row in connection.execute(select(rows.c.id).where(rows.c.contributor.is_not(None)))
        ]
        states = {r.value: r.state for r in connection.execute(select(standing))}
    assert len(values) == len(set(values)), "a value stands twice"
    for kind, _, value in told:
        assert value in states, f"{value} was acknowledged and is gone"
        if kind == "accepted":
            assert states[value] == "accepted"
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    return report


def killed_and_repeated(club, url, tests, rounds, count):
    draw = random.Random(7)  # noqa: S311 - moments to kill at
    told = []
    for round_ in range(rounds):
        start = round_ * count
        told += killed_writer(url, club, tests, start, count, draw.uniform(0.0, 0.4))
        check_all_there(club, told)
        # What was sent but not acknowledged is sent again: each is there once afterwards.
        values = []
        for number in range(start, start + count):
            figure = f"{100 + number / 100:.2f}"
            receipt = submit(
                club.ledger,
                club.ann,
                one(perlite(figure)),
                idempotency=Idempotency(f"n-{number}", figure),
            )
            values.append(receipt.items[0].value)
        assert len(set(values)) == count
        known = {number: value for kind, number, value in told if kind == "submitted"}
        for number in range(start, start + count):
            if number in known:
                assert values[number - start] == known[number]
    report = check_all_there(club, told)
    assert report.contributions == rounds * count
    return told


@pytest.fixture
def tests_folder(request):
    return str(request.config.rootpath / "tests")


@pytest.fixture
def real_clock(club):
    """Both processes live by the machine's own clock, or stored answers would seem expired."""
    club.ledger.clock = lambda: datetime.now(UTC)
    return club


def test_killed_in_the_middle(real_clock, ledger_url, tests_folder):
    told = killed_and_repeated(real_clock, ledger_url, tests_folder, 2, 40)
    assert told


@pytest.mark.long
def test_killed_in_the_middle_again_and_again(real_clock, ledger_url, tests_folder):
    killed_and_repeated(real_clock, ledger_url, tests_folder, 15, 300)
