"""Print what a request costs as a ratio to bare Flask in the same server process.

    python docs/benchmarks/requests_ratio.py [--seconds 3] [--rounds 3]

One worker under gunicorn gthread (four threads), then under the default server; requests come from
``wrk`` over eight kept-alive connections (Debian package ``wrk``). Rounds are interleaved and the
median of the ratios is printed; absolute figures vary from machine to machine and hour to hour.
``/cold`` is the same application with its answer cache switched off: what an answer costs the first
time. ``/counted`` is the same with rate limits, wide enough to refuse nothing; the others count
nothing.

Two ratios are printed. The first is of requests a second. The second is of the processor time the
server process and its worker used a request: where other programs share the machine it stays
put while the first one jumps about.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

HERE = Path(__file__).parent
TICKS = os.sysconf("SC_CLK_TCK")
ROUTES = {
    "bare Flask": ("/bare/hello", None),
    "material by id, 200": ("/v1/materials/cac-40", None),
    "material by id, 304": ("/v1/materials/cac-40", "tag"),
    "material by id, 200, requests counted": ("/counted/v1/materials/cac-40", None),
    "page of a material with its figure, warm": ("/materials/mullite", None),
    "property with derivation, warm": (
        "/v1/materials/expanded-perlite/properties/loose_bulk_density",
        None,
    ),
    "property with derivation, first time": (
        "/cold/v1/materials/expanded-perlite/properties/loose_bulk_density",
        None,
    ),
    "list of 50 materials, warm": ("/v1/materials", None),
    "list of 50 materials, first time": ("/cold/v1/materials", None),
    "list of 50 values, first time": ("/cold/v1/values", None),
    "survival, warm": ("/v1/materials/expanded-perlite/survival?temperature=1050%20Cel", None),
    "survival, first time": (
        "/cold/v1/materials/expanded-perlite/survival?temperature=1050%20Cel",
        None,
    ),
}


def free_port() -> int:
    """Find a spare loopback port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def commands(port: int) -> dict[str, list[str]]:
    """Give the two servers to compare, one worker each."""
    target, binder = "served:application", f"127.0.0.1:{port}"
    scripts = Path(sys.executable).parent
    return {
        "gunicorn gthread": [
            str(scripts / "gunicorn"),
            "-k",
            "gthread",
            "--threads",
            "4",
            "-w",
            "1",
            "-b",
            binder,
            target,
        ],
        "granian": [
            str(scripts / "granian"),
            "--interface",
            "wsgi",
            "--workers",
            "1",
            "--blocking-threads",
            "4",
            "--host",
            "127.0.0.1",
            "--port",
            str(port),
            "--log-level",
            "error",
            target,
        ],
    }


def wait_for(url: str) -> None:
    """Wait until the server answers."""
    for _ in range(200):
        try:
            urllib.request.urlopen(url, timeout=2).read()  # noqa: S310 - our own server
        except OSError:
            time.sleep(0.1)
        else:
            return
    sys.exit(f"no answer from {url}")


def processor_seconds(pid: int) -> float:
    """Give the processor time a process and its children have used so far (Linux)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    used = (int(fields[11]) + int(fields[12])) / TICKS
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return used + sum(processor_seconds(int(child)) for child in children)


def rate(base: str, path: str, tag: str | None, seconds: int, pid: int) -> tuple[float, float]:
    """Measure requests a second, and requests a second of processor time, with wrk."""
    command = ["wrk", "-t1", "-c8", f"-d{seconds}s"]
    if tag:
        command += ["-H", f"If-None-Match: {tag}"]
    before = processor_seconds(pid)
    out = subprocess.run([*command, base + path], check=True, capture_output=True, text=True).stdout
    used = processor_seconds(pid) - before
    bad = re.search(r"Non-2xx or 3xx responses: (\d+)", out)
    if bad:
        sys.exit(f"{path}: {bad[1]} answers were errors")
    answered = int(re.search(r"(\d+) requests in", out)[1])
    return float(re.search(r"Requests/sec:\s+([\d.]+)", out)[1]), answered / used


def show(name: str, rates: dict[str, list[tuple[float, float]]]) -> None:
    """Print the table of one server."""
    print(f"\n| {name}, one worker | requests/s | ratio | microseconds | ratio |")
    print("|---|---|---|---|---|")
    bare = rates["bare Flask"]
    for route, found in rates.items():
        whole, used = (
            statistics.median(a[k] / b[k] for a, b in zip(found, bare, strict=True)) for k in (0, 1)
        )
        middle, spent = (statistics.median(each[k] for each in found) for k in (0, 1))
        print(f"| {route} | {middle:.0f} | {whole:.2f} | {1e6 / spent:.0f} | {used:.2f} |")


def measure(name: str, seconds: int, rounds: int) -> None:
    """Start one server, run interleaved rounds, print the table."""
    port = free_port()
    base = f"http://127.0.0.1:{port}"
    server = subprocess.Popen(
        commands(port)[name], cwd=HERE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        wait_for(f"{base}/bare/hello")
        tags = {}
        for path, kind in ROUTES.values():
            with urllib.request.urlopen(base + path, timeout=30) as answer:  # noqa: S310
                answer.read()
                if kind:
                    tags[path] = answer.headers["ETag"]
        rates: dict[str, list[tuple[float, float]]] = {route: [] for route in ROUTES}
        for _ in range(rounds):
            for route, (path, kind) in ROUTES.items():
                tag = tags[path] if kind else None
                rates[route].append(rate(base, path, tag, seconds, server.pid))
        show(name, rates)
    finally:
        server.terminate()
        server.wait(timeout=20)


def start_time() -> None:
    """Print how long the service takes from start to its first answer on a loaded database."""
    port = free_port()
    began = time.perf_counter()
    hotface = Path(sys.executable).parent / "hotface"
    server = subprocess.Popen(
        [str(hotface), "serve", "--port", str(port)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(f"http://127.0.0.1:{port}/v1/materials/cac-40")
        print(f"\nstart to first answer on a loaded database: {time.perf_counter() - began:.2f} s")
    finally:
        server.terminate()
        server.wait(timeout=20)


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=3)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--server", choices=list(commands(0)), help="only this server")
    asked = parser.parse_args()
    if shutil.which("wrk") is None:
        sys.exit("wrk is not installed (Debian package wrk)")
    os.environ.setdefault("HOTFACE_LOG_LEVEL", "ERROR")
    for name in [asked.server] if asked.server else commands(0):
        measure(name, asked.seconds, asked.rounds)
    start_time()


if __name__ == "__main__":
    main()
