"""What the SDK costs, as ratios in one run.

Run from the root of the repository::

    python docs/benchmarks/sdk.py [--rounds 7]

The first table holds a warm look-up through the embedded client against the bare call of the same
application in this process (WSGI, no SDK): the same question, asked before, answers kept. Two
columns: with the client's own conditional cache, as it is by default, and without it.

The second holds a survival question in one call of a thousand against the same questions asked one
by one, both over HTTP on this machine: asked for the first time, and asked again, when the service
has kept the single answers (a call of many is computed each time). Every figure is the least of
several interleaved rounds, in processor time: of this process, for the second table of the server
too. By the clock is printed beside it; where others use the machine it jumps about.
"""

from __future__ import annotations

import argparse
import io
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from requests_ratio import processor_seconds

from hotface import Client, ConnectionFailed, Response
from hotface_api.app import create_app
from hotface_api.embedded import InProcessTransport, prepare
from hotface_api.settings import Settings
from hotface_api.store.database import Database

LOOKUP_LIMIT, BATCH_LIMIT = 5.0, 10.0
REPEATS, QUESTIONS, ALONE = 300, 1000, 100
LOOKUPS: dict[str, tuple[str, Callable[[Client], object]]] = {
    "material by id": (
        "/v1/materials/cac-40",
        lambda db: db.material("cac-40"),
    ),
    "property with derivation": (
        "/v1/materials/expanded-perlite/properties/loose_bulk_density",
        lambda db: db.property("expanded-perlite", "loose_bulk_density"),
    ),
    "survival": (
        "/v1/materials/expanded-perlite/survival?temperature=1050%20Cel",
        lambda db: db.survives("expanded-perlite", "1050 degC"),
    ),
}
Timed = Callable[[], object]


def least(works: Sequence[Timed], rounds: int, repeats: int) -> list[float]:
    """Give the least processor seconds a call of each, in rounds that take turns."""
    best = [float("inf")] * len(works)
    for work in works:
        work()
    for _ in range(rounds):
        for place, work in enumerate(works):
            start = time.process_time()
            for _ in range(repeats):
                work()
            best[place] = min(best[place], (time.process_time() - start) / repeats)
    return best


def bare(application: Any, target: str) -> Timed:
    """Call the application with the least a request needs, and take its answer whole."""
    path, _, query = target.partition("?")
    started: dict[str, Any] = {}

    def start(status: str, _headers: Any, _exc_info: Any = None) -> Any:
        started["status"] = status

    def call() -> Response:
        environ = {
            "REQUEST_METHOD": "GET",
            "SCRIPT_NAME": "",
            "PATH_INFO": path,
            "QUERY_STRING": query,
            "SERVER_NAME": "embedded",
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "HTTP_ACCEPT": "application/json",
            "wsgi.version": (1, 0),
            "wsgi.url_scheme": "http",
            "wsgi.input": io.BytesIO(),
            "wsgi.errors": sys.stderr,
            "wsgi.multithread": True,
            "wsgi.multiprocess": False,
            "wsgi.run_once": False,
            "hotface.embedded": True,
        }
        body = b"".join(application(environ, start))
        return Response(int(started["status"][:3]), {}, body)

    return call


def lookups(database: Database, rounds: int) -> list[str]:
    """Hold warm look-ups against the bare call."""
    application = create_app(Settings(database.url.render_as_string(hide_password=False)), database)
    with_cache = Client(transport=InProcessTransport(application))
    without = Client(transport=InProcessTransport(application), cache=0)
    lines = [
        "| warm look-up | bare call, microseconds | SDK | ratio | ratio without its cache |",
        "|---|---|---|---|---|",
    ]
    worst = 0.0
    for name, (target, ask) in LOOKUPS.items():
        works = [
            bare(application, target),
            lambda ask=ask: ask(with_cache),
            lambda ask=ask: ask(without),
        ]
        base, cached, uncached = least(works, rounds, REPEATS)
        worst = max(worst, cached / base)
        lines.append(
            f"| {name} | {base * 1e6:.0f} | {cached * 1e6:.0f} | {cached / base:.2f} |"
            f" {uncached / base:.2f} |"
        )
    told = f"worst, as it is by default: {worst:.2f} times the bare call"
    return [*lines, f"{told} (limit {LOOKUP_LIMIT:.0f})"]


def free_port() -> int:
    """Find a spare loopback port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(url: str) -> Iterator[tuple[Client, int]]:
    """Start a server on a database; gives a client of it and its process."""
    port = free_port()
    command = [str(Path(sys.executable).parent / "hotface"), "serve", "--port", str(port)]
    settings = {"HOTFACE_DATABASE_URL": url, "HOTFACE_RATE_LIMITS": "off"}
    server = subprocess.Popen(
        command,
        env={**os.environ, **settings},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with Client(f"http://127.0.0.1:{port}", retries=0, cache=0) as client:
            for _ in range(200):
                try:
                    client.about()
                except ConnectionFailed:
                    time.sleep(0.1)
                else:
                    break
            yield client, server.pid
    finally:
        server.terminate()
        server.wait()


def timed(work: Callable[[], Any], server: int) -> tuple[float, float, Any]:
    """Give the processor seconds of both sides, the seconds by the clock, and what came."""
    busy, clock = time.process_time() + processor_seconds(server), time.perf_counter()
    found = work()
    gone = time.perf_counter() - clock
    return time.process_time() + processor_seconds(server) - busy, gone, found


def survivals(url: str, rounds: int) -> list[str]:
    """Hold a thousand questions in one call against one by one."""
    labels = ("one by one, first time", "one by one, asked again", f"{QUESTIONS} in one call")
    first, again, together = best = [[float("inf")] * 2 for _ in labels]
    with serving(url) as (client, server):
        names = [one.id for one in client.materials()]
        questions = [
            (names[number % len(names)], (500 + number % 250 * 4, "degC"))
            for number in range(QUESTIONS)
        ]
        client.survivals(questions)
        for number in range(min(rounds, QUESTIONS // ALONE)):
            start = number * ALONE
            asked = questions[start : start + ALONE]

            def singly(asked: list[Any] = asked) -> list[Any]:
                return [client.survives(*each) for each in asked]

            busy, gone, found = timed(lambda: client.survivals(questions), server)
            _least(together, busy, gone, QUESTIONS)
            for kept in (first, again):
                busy, gone, single = timed(singly, server)
                _least(kept, busy, gone, ALONE)
            batch = found[start : start + ALONE]
            if [each.outcome for each in single] != [each.outcome for each in batch]:
                sys.exit("the answers DIFFER")
    lines = [
        "| a survival question over HTTP | processor, microseconds | clock | times the one call |",
        "|---|---|---|---|",
    ]
    for label, (busy, gone) in zip(labels, best, strict=True):
        ratios = f"{busy / together[0]:.1f} | ({gone / together[1]:.1f} by the clock)"
        lines.append(
            f"| {label} | {busy * 1e6:.0f} | {gone * 1e6:.0f} | {ratios.replace(' |', '')} |"
        )
    told = f"{len(names)} materials; wanted {BATCH_LIMIT:.0f} times; the answers are the same"
    return [*lines, told]


def _least(best: list[float], busy: float, gone: float, count: int) -> None:
    best[:] = min(best[0], busy / count), min(best[1], gone / count)


def main() -> int:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=7)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        database = Database(url)
        prepare(database)
        lines = lookups(database, rounds)
        database.close()
        lines += survivals(url, rounds)
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
