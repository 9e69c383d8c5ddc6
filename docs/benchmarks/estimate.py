"""How long estimates take, as ratios and processor time in one run.

Run from the root of the repository::

    python docs/benchmarks/estimate.py

Ratios are to the plain Hashin-Shtrikman formula in NumPy on the same million mixes, so that they
mean the same on any machine. Every figure is the least of several rounds.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from http import HTTPStatus
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.app import create_app
from hotface_api.catalogue.reference import Reference, ReferenceCache
from hotface_api.load.loader import load
from hotface_api.mixes.estimate import estimate, estimate_many
from hotface_api.mixes.held import forget
from hotface_api.mixes.request import Constituent, EstimateRequest, Mix, State
from hotface_api.mixes.search import Musts, OnHand, SearchRequest, search
from hotface_api.science import kernels
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH

FloatArray = NDArray[np.float64]
MIXES, PHASES, CHUNK, ROUNDS = 1_000_000, 4, 16_384, 5
LIMITS = {"bounds and Maxwell": 3.0, "differential": 8.0}
ESTIMATE_LIMIT = 0.015
SEARCH_LIMIT = 1024.0


def least(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Give the least processor time of several rounds, seconds."""
    work()
    found = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def plain(fractions: FloatArray, each: FloatArray) -> FloatArray:
    """Write the upper bound as it stands in a textbook."""
    reference = each.max(-1, keepdims=True)
    total = (fractions / (each + 2.0 * reference)).sum(-1)
    return np.asarray(1.0 / total - 2.0 * reference[..., 0])


def in_chunks(
    work: Callable[[list[FloatArray], list[FloatArray]], object],
    fractions: FloatArray,
    each: FloatArray,
) -> None:
    """Hand out a million mixes in pieces that stay in the processor's cache."""
    for start in range(0, MIXES, CHUNK):
        piece = slice(start, start + CHUNK)
        work(
            [np.ascontiguousarray(fractions[piece, i]) for i in range(PHASES)],
            [np.ascontiguousarray(each[piece, i]) for i in range(PHASES)],
        )


def bounds_and_maxwell(shares: list[FloatArray], values: list[FloatArray]) -> None:
    """Evaluate both bounds and Maxwell's rule with the first phase as host."""
    low, high = values[0], values[0]
    for value in values[1:]:
        low, high = np.minimum(low, value), np.maximum(high, value)
    for reference in (low, high, values[0]):
        kernels.referenced(shares, values, reference)


def differential(shares: list[FloatArray], values: list[FloatArray]) -> None:
    """Evaluate the differential rule of three kinds of inclusion."""
    kernels.spread_differential(shares[1:], values[1:], shares[0], values[0])


def ratios() -> list[str]:
    """Compare the rules with the plain formula."""
    generator = np.random.default_rng(1)
    fractions = generator.dirichlet([4.0, 1.0, 1.0, 1.0], MIXES)
    each = np.exp(generator.uniform(np.log(0.03), np.log(3.0), (MIXES, PHASES)))
    base = least(lambda: plain(fractions, each))
    lines = [f"plain Hashin-Shtrikman, {MIXES} mixes of {PHASES} phases: {base * 1e3:.0f} ms"]
    for name, work in (("bounds and Maxwell", bounds_and_maxwell), ("differential", differential)):
        ratio = least(lambda work=work: in_chunks(work, fractions, each)) / base
        lines.append(f"{name}: {ratio:.2f} times the plain formula (limit {LIMITS[name]:.0f})")
    return lines


@contextmanager
def seed() -> Iterator[Database]:
    """Load the published data into a database of its own."""
    with tempfile.TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{Path(folder) / 'seed.sqlite3'}")
        schema.migrate(database)
        load(database, PACKAGE_PATH)
        yield database
        database.close()


def request(cement: float = 25.0) -> EstimateRequest:
    """Give the club's lid: five constituents, six temperatures, 2,000 draws."""
    parts = (
        Constituent("cac-40", cement, "mass"),
        Constituent("fireclay", 5.0, "mass"),
        Constituent("expanded-clay", 0.050, "volume"),
        Constituent("expanded-perlite", 0.040, "volume"),
        Constituent("polypropylene-fibre", 0.05, "mass"),
    )
    return EstimateRequest(Mix(parts, 16.0), State("fired", 1273.15))


def estimates(connection: Connection, reference: Reference) -> list[str]:
    """Time single estimates, never the same mix twice, and a batch."""
    forget()
    start = time.process_time()
    estimate(connection, reference, request())
    first = time.process_time() - start
    cement = iter(np.linspace(20.0, 30.0, 1000))
    single = least(lambda: estimate(connection, reference, request(float(next(cement)))), 30)
    batch = [request(float(next(cement))) for _ in range(100)]

    def together() -> None:
        fresh = [request(float(next(cement))) for _ in range(100)]
        estimate_many(connection, reference, fresh)

    many = least(together, 3) / len(batch)
    alone = [estimate(connection, reference, each) for each in batch[:5]]
    same = estimate_many(connection, reference, batch[:5]) == alone
    other_seed = least(
        lambda: estimate(
            connection, reference, replace(request(), seed=int(1e6 * float(next(cement))))
        ),
        5,
    )
    return [
        f"first estimate after a start: {first * 1e3:.0f} ms",
        f"estimate: {single * 1e3:.1f} ms (limit {ESTIMATE_LIMIT * 1e3:.0f})",
        f"estimate with a seed not used before: {other_seed * 1e3:.1f} ms",
        f"in a batch: {many * 1e3:.1f} ms a mix, {many / single:.2f} times a single one",
        f"numbers of batch and single: {'identical' if same else 'DIFFER'}",
    ]


BODY = {
    "mix": {
        "constituents": [
            {"material": "cac-40", "amount": {"value": 25, "unit": "kg"}},
            {"material": "fireclay", "amount": {"value": 5, "unit": "kg"}},
            {"material": "expanded-clay", "amount": {"value": 50, "unit": "L"}},
            {"material": "expanded-perlite", "amount": {"value": 40, "unit": "L"}},
            {"material": "polypropylene-fibre", "amount": {"value": 50, "unit": "g"}},
        ],
        "water": {"value": 16, "unit": "L"},
    },
    "state": {"kind": "fired", "temperature": {"value": 1000, "unit": "Cel"}},
}


def requests(database: Database) -> list[str]:
    """Time whole requests in this process, over one that reads a body and finds it empty."""
    client = create_app(Settings("sqlite://"), database, pages=False).test_client()
    cement = iter(np.linspace(20.0, 30.0, 2000))

    def ask() -> None:
        BODY["mix"]["constituents"][0]["amount"]["value"] = float(next(cement))  # type: ignore[index]
        answer = client.post("/v1/estimates", json=BODY)
        if answer.status_code != HTTPStatus.OK:
            raise RuntimeError(answer.text)

    empty = least(lambda: client.post("/v1/estimates", json={}), 30)
    whole = least(ask, 40)
    told = (
        f"a request that estimates: {whole * 1e3:.1f} ms, an empty one {empty * 1e3:.1f} ms,"
        f" so that the estimate costs {(whole - empty) * 1e3:.1f} ms"
        f" (limit {ESTIMATE_LIMIT * 1e3:.0f})"
    )
    return [told]


def searches(connection: Connection, reference: Reference) -> list[str]:
    """Time a search of a million mixes and its memory."""
    on_hand = tuple(
        OnHand(Constituent(material, 1.0, "parts"), least_, most)
        for material, least_, most in (
            ("cac-40", 0.10, 0.50),
            ("expanded-clay", 0.0, 0.90),
            ("expanded-perlite", 0.0, 0.80),
            ("exfoliated-vermiculite", 0.0, 0.80),
            ("fireclay", 0.0, 0.20),
        )
    )
    asked = SearchRequest(
        on_hand,
        "mass",
        Musts(density_below=1300.0),
        state=State("fired", 1273.15),
        candidates=MIXES,
    )
    start = time.process_time()
    found = search(connection, reference, asked)
    taken = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return [
        f"search of {found.looked_at} mixes: {taken:.1f} s, {len(found.found)} returned",
        f"most memory of this process: {peak:.0f} MB (limit {SEARCH_LIMIT:.0f})",
    ]


def main() -> int:
    """Print everything."""
    with seed() as database:
        with database.read() as connection:
            reference = ReferenceCache(database).latest()
            lines = searches(connection, reference)
            lines += estimates(connection, reference)
        lines += requests(database)
    for line in [*ratios(), *lines]:
        print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main())
