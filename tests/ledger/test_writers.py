"""Many at once: no lost update, nothing twice, one winner, and no error but the ledger's own."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from hotface_api.ledger.check import check_audit
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.errors import StaleError
from hotface_api.ledger.reading import list_revisions, mine, queue, view
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import review
from hotface_api.ledger.submit import submit
from hotface_api.store.database import Database
from support.contributions import one, perlite


def at_once(acts):
    """Run all acts in threads that start together; give what each answered or raised."""
    gate = threading.Barrier(len(acts))

    def run(act):
        gate.wait()
        try:
            return act()
        except Exception as error:  # noqa: BLE001 - looked at by the test
            return error

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


def test_two_curators_at_once_one_wins_and_the_other_is_told(club):
    for round_ in range(5):
        value = submit(club.ledger, club.ann, one(perlite(str(100 + round_)))).items[0].value
        results = at_once(
            [
                lambda v=value: review(club.ledger, club.cleo, v, "accept", version=1),
                lambda v=value: review(club.ledger, club.dora, v, "decline", version=1, note="no"),
            ]
        )
        losers = [result for result in results if isinstance(result, Exception)]
        assert len(losers) == 1, results
        assert isinstance(losers[0], StaleError)
        winner = next(result for result in results if not isinstance(result, Exception))
        assert view(club.ledger, club.ann, value).state == winner.state
    assert check_audit(club.ledger).intact


def test_sixteen_writers_at_once_lose_nothing(club):
    def submits(number):
        actor = (club.ann, club.ben)[number % 2]
        return submit(club.ledger, actor, one(perlite(f"{100 + number / 10:.1f}")))

    receipts = at_once([lambda n=n: submits(n) for n in range(16)])
    assert not [r for r in receipts if isinstance(r, Exception)], receipts
    values = [receipt.items[0].value for receipt in receipts]
    assert len(set(values)) == 16
    reviewed = at_once(
        [lambda v=v: review(club.ledger, club.cleo, v, "accept", version=1) for v in values]
    )
    assert not [r for r in reviewed if isinstance(r, Exception)], reviewed
    assert sorted(s.revision for s in reviewed) == list(range(2, 18))
    assert club.database.revision() == 17
    assert sum(card.opened for card in list_revisions(club.ledger, limit=16)) == 16
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    assert report.contributions == 16


def test_the_same_request_at_once_is_done_once(club):
    asked = Idempotency("same", "a" * 64)
    receipts = at_once(
        [lambda: submit(club.ledger, club.ann, one(), idempotency=asked) for _ in range(8)]
    )
    assert len({receipt.items[0].value for receipt in receipts}) == 1
    assert sum(not receipt.replayed for receipt in receipts) == 1
    assert len(mine(club.ledger, club.ann).items) == 1


def test_the_same_content_at_once_is_written_once(club):
    receipts = at_once([lambda: submit(club.ledger, club.ann, one()) for _ in range(8)])
    states = sorted(receipt.items[0].state for receipt in receipts)
    assert states == ["held"] * 7 + ["pending"]
    assert len({receipt.items[0].value for receipt in receipts}) == 1


WORKERS = 2


def writers_and_readers(club, ledger_url, writers, readers, each):
    """Write and read at once through several engines, as several workers would."""
    databases = [Database(ledger_url) for _ in range(WORKERS)]
    ledgers = [Ledger(database, clock=club.clock) for database in databases]

    def writes(number):
        ledger = ledgers[number % WORKERS]
        for turn in range(each):
            figure = f"{100 + number + turn / 100:.2f}"
            value = submit(ledger, club.ann, one(perlite(figure))).items[0].value
            review(ledger, club.cleo, value, "accept", version=1)

    def reads(number):
        ledger = ledgers[number % WORKERS]
        for _ in range(each):
            entries = queue(ledger, club.cleo, limit=5).items
            assert all(entry.state in ("pending", "asked") for entry in entries)

    acts = [lambda n=n: writes(n) for n in range(writers)]
    acts += [lambda n=n: reads(n) for n in range(readers)]
    results = at_once(acts)
    assert not [r for r in results if isinstance(r, Exception)], results
    assert club.database.revision() == 1 + writers * each
    report = check_audit(club.ledger)
    assert report.intact, report.faults
    assert report.contributions == writers * each
    for database in databases:
        database.close()


def test_writers_and_readers_at_once(club, ledger_url):
    writers_and_readers(club, ledger_url, 8, 16, 2)


@pytest.mark.long
def test_thirty_two_writers_and_two_hundred_readers(club, ledger_url):
    writers_and_readers(club, ledger_url, 32, 200, 5)
