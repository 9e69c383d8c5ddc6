"""What a command loads, and how it behaves as a program among others."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

COMMAND = [sys.executable, "-c", "from hotface_api.cli import main; main()"]
HEAVY = {
    "alembic",
    "bibtexparser",
    "granian",
    "hotface_api.site",
    "limits",
    "mako",
    "matplotlib",
    "pandas",
    "pint",
    "requests",
    "scipy",
}
SERVICE = {"flask", "sqlalchemy", "numpy", "marshmallow", "jinja2", "hotface_api.http"}
LOADED = """
import json, sys
from hotface_api.cli import main
sys.argv = ["hotface", *json.loads(sys.argv[1])]
try:
    main()
except SystemExit as left:
    code = left.code
sys.stderr.write(json.dumps([code, sorted(sys.modules)]))
"""


def loaded(*words, **env):
    """Run a command in an interpreter of its own; gives its exit code and what it loaded."""
    done = subprocess.run(  # noqa: S603 - this interpreter, our own code
        [sys.executable, "-c", LOADED, json.dumps(words)],
        capture_output=True,
        text=True,
        env={**os.environ, "HOTFACE_SERVER": "", **env},
        check=False,
    )
    code, modules = json.loads(done.stderr.splitlines()[-1])
    return code, set(modules)


def test_a_look_up_loads_no_more_than_it_needs(sqlite_url):
    code, modules = loaded("show", "fireclay-brick", HOTFACE_DATABASE_URL=sqlite_url)
    assert code in (0, None)
    assert "sqlalchemy" in modules
    assert not HEAVY & modules


@pytest.mark.parametrize(
    "words", [("--help",), ("--version",), ("show", "--help"), ("compare", "--help"), ("baek",)]
)
def test_help_loads_nothing_of_the_service(words):
    code, modules = loaded(*words)
    assert code in (0, None, 2)
    assert not (HEAVY | SERVICE) & modules


def test_asking_a_server_loads_nothing_of_the_service():
    code, modules = loaded("show", "mullite", "--server", "http://127.0.0.1:1")
    assert code == 6
    assert not SERVICE & modules


def test_a_tab_loads_nothing_of_the_service(sqlite_url):
    code, modules = loaded(
        "show",
        HOTFACE_DATABASE_URL=sqlite_url,
        _HOTFACE_COMPLETE="bash_complete",
        COMP_WORDS="hotface show fireclay-b",
        COMP_CWORD="2",
    )
    assert code in (0, None)
    assert not (HEAVY | SERVICE) & modules


def program(*words, url, **env):
    """Start a command on the database of an address."""
    environment = {**os.environ, "HOTFACE_SERVER": "", "HOTFACE_DATABASE_URL": url, **env}
    return subprocess.Popen(  # noqa: S603 - this interpreter, our own code
        [*COMMAND, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )


def test_a_closed_pipe_is_no_trouble(sqlite_url):
    process = program("materials", url=sqlite_url)
    assert process.stdout.readline()
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=60)
    assert "Traceback" not in err
    assert "BrokenPipe" not in err


def opened_for_writing(pipe):
    """Open a named pipe for writing, which can be done once somebody waits to read."""
    for _ in range(600):
        try:
            return os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
        except OSError:
            time.sleep(0.05)
    pytest.fail("nobody read from the pipe within 30 s")


def test_stopped_with_control_c_it_says_so_and_leaves_with_130(sqlite_url, tmp_path):
    pipe = tmp_path / "shed"
    os.mkfifo(pipe)  # the command waits for someone to write into it
    process = program("survival", "--from", str(pipe), "900 degC", url=sqlite_url)
    writer = opened_for_writing(pipe)
    # A signal in the instant between opening and reading is noticed only once the read ends.
    time.sleep(1)
    try:
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
    finally:
        os.close(writer)
    assert process.returncode == 130, err
    assert "Traceback" not in err


def test_with_a_terminal_40_columns_wide(sqlite_url):
    process = program("show", "fireclay-brick", url=sqlite_url, COLUMNS="40")
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    assert max(len(line) for line in out.splitlines()) <= 40
    assert "\x1b" not in out
