"""How fast the whole data set loads into an empty SQLite database, and with how much memory.

Run with ``python docs/benchmarks/load.py``. Targets: at least 5,000 values a second, below 200 MB.
The best of some runs is told, since other work on the machine only ever slows one down; a run that
misses a target ends with exit code 1.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

from sqlalchemy import func, select

from hotface_api.load.convert import store_rows
from hotface_api.load.loader import load
from hotface_api.load.package import read_package
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_api.store.models import Value
from hotface_api.store.read import table
from hotface_seed import PACKAGE_PATH

VALUES_A_SECOND = 5000
MEGABYTES = 200


def peak_megabytes() -> float:
    """Give the largest resident size of this process so far."""
    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return size / (2**20 if sys.platform == "darwin" else 2**10)


def timed_load(folder: Path) -> tuple[float, int]:
    """Load the seed into an empty database; give seconds and values loaded."""
    database = Database(f"sqlite:///{folder / 'benchmark.sqlite3'}")
    schema.migrate(database)
    start = time.perf_counter()
    load(database, PACKAGE_PATH)
    seconds = time.perf_counter() - start
    with database.read() as connection:
        values = connection.scalar(select(func.count()).select_from(table(Value))) or 0
    database.close()
    return seconds, values


def timed_reading() -> float:
    """Read and check the package without a database; give seconds."""
    start = time.perf_counter()
    store_rows(read_package(PACKAGE_PATH))
    return time.perf_counter() - start


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    loads = []
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as folder:
            loads.append(timed_load(Path(folder)))
    seconds, values = min(loads)
    reading = min(timed_reading() for _ in range(runs))
    rate, memory = values / seconds, peak_megabytes()
    print(f"{values} values, with all other tables, in {seconds:.2f} s: {rate:,.0f} values/s")
    print(f"of that, reading and checking the package: {reading:.2f} s")
    print(f"peak memory {memory:.0f} MB")
    print(f"targets: at least {VALUES_A_SECOND:,} values/s, below {MEGABYTES} MB")
    return 0 if rate >= VALUES_A_SECOND and memory < MEGABYTES else 1


if __name__ == "__main__":
    sys.exit(main())
