"""Loading the whole seed needs less than 200 MB, measured by the operating system.

Measured in a process of its own by its high-water mark, which begins afresh with a program
(``ru_maxrss`` would count what the test run itself held when it forked).
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

PROGRAM = """
import pathlib, sys
from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH
database = Database(sys.argv[1])
schema.migrate(database)
report = load(database, PACKAGE_PATH)
status = pathlib.Path("/proc/self/status").read_text()
print(report.opened, status.split("VmHWM:")[1].split()[0])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the high-water mark is read from /proc")
def test_the_load_stays_below_two_hundred_megabytes(tmp_path):
    address = f"sqlite:///{tmp_path / 'seed.sqlite3'}"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", PROGRAM, address],
        env=environment,
        check=True,
        capture_output=True,
        text=True,
        timeout=120,
    )
    opened, kilobytes = map(int, done.stdout.split())
    assert opened > 7000
    assert kilobytes < 200_000
