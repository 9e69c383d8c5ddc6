"""Run every example of a page and compare, or rewrite, the answer printed below it.

    python docs/refresh.py [--write] [PAGE ...]

In a page, a fenced ``bash``, ``python`` or ``toml`` block is an example; a ``text`` block right
after it is what it prints. Python blocks of a page share one namespace. ``bash`` blocks run in an
empty folder with a served database; the address ``http://127.0.0.1:8000`` in them stands for it.
A block whose fence says ``not-run`` is left alone (the set-up commands: the gate runs those). A
block whose fence names a file, as in ``toml file=lid.toml``, is written to that folder first.

A page that writes to the database says ``<!-- database of its own -->``: it gets a copy, served for
it alone, so that the pages after it find what they expect. What a page puts into the environment is
gone after it.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import io
import os
import re
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ADDRESS = "http://127.0.0.1:8000"
FENCE = re.compile(r"^```(?P<info>[^\n`]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
NAME = re.compile(r"file=(\S+)")
FILE = "hotface.sqlite3"
OWN = "<!-- database of its own -->"


@dataclass
class Block:
    """One fenced block: language and flags, text, and where it stands."""

    info: str
    body: str
    start: int
    end: int

    @property
    def language(self) -> str:
        """Give the first word of the fence."""
        return self.info.split()[0] if self.info.split() else ""

    @property
    def runs(self) -> bool:
        """Tell whether the block is an example to run."""
        return self.language in ("bash", "python") and "not-run" not in self.info.split()


def blocks(text: str) -> list[Block]:
    """Find the fenced blocks of a page."""
    return [Block(m["info"].strip(), m["body"], m.start(), m.end()) for m in FENCE.finditer(text)]


@contextlib.contextmanager
def served(folder: Path, base: Path | None = None) -> Iterator[tuple[str, dict[str, str]]]:
    """Serve the published data from a database in this folder; give address and environment.

    With ``base`` the database is a copy of the one in that folder, which saves the loading.
    """
    if base is not None:
        with (
            contextlib.closing(sqlite3.connect(base / FILE)) as original,
            contextlib.closing(sqlite3.connect(folder / FILE)) as copy,
        ):
            original.backup(copy)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    scripts = Path(sys.executable).parent
    environment = {
        **os.environ,
        "HOTFACE_DATABASE_URL": f"sqlite:///{folder / FILE}",
        "PATH": f"{scripts}{os.pathsep}{os.environ['PATH']}",
        "COLUMNS": "100",
    }
    command = [str(scripts / "hotface"), "serve", "--port", str(port)]
    server = subprocess.Popen(
        command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        address = f"http://127.0.0.1:{port}"
        _wait(f"{address}/readyz", server)
        yield address, environment
    finally:
        server.terminate()
        server.wait(timeout=30)


def _wait(url: str, server: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        if server.poll() is not None:
            raise SystemExit("the service did not start")
        with contextlib.suppress(OSError):
            urllib.request.urlopen(url, timeout=2).read()  # noqa: S310 - our own server
            return
        time.sleep(0.1)
    raise SystemExit("the service does not get ready")


class Runner:
    """Runs the blocks of one page."""

    def __init__(self, address: str, environment: dict[str, str], folder: Path) -> None:
        self.address = address
        self.environment = environment
        self.folder = folder
        self.names: dict[str, object] = {"__name__": "page"}

    def run(self, block: Block) -> str:
        """Run one example and give what it prints."""
        text = block.body.replace(ADDRESS, self.address)
        printed = self._bash(text) if block.language == "bash" else self._python(text)
        return printed.replace(self.address, ADDRESS)

    def _bash(self, text: str) -> str:
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", text],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{text}\nleft with {done.returncode}:\n{done.stdout}{done.stderr}")
        return done.stdout

    def _python(self, text: str) -> str:
        printed = io.StringIO()
        before = Path.cwd()
        os.chdir(self.folder)
        try:
            with contextlib.redirect_stdout(printed):
                exec(compile(text, "<page>", "exec"), self.names)  # noqa: S102 - our own pages
        finally:
            os.chdir(before)
        return printed.getvalue()


def refreshed(text: str, runner: Runner) -> str:
    """Give the page with every answer as the examples print it now."""
    found = blocks(text)
    pieces, position = [], 0
    for block, after in zip(found, [*found[1:], None], strict=True):
        name = NAME.search(block.info)
        if name:
            (runner.folder / name[1]).write_text(block.body, encoding="utf-8")
        if not block.runs:
            continue
        printed = runner.run(block)
        follows = after is not None and not text[block.end : after.start].strip()
        if follows and after is not None and after.language == "text":
            pieces.append(text[position : after.start])
            pieces.append(f"```{after.info}\n{printed.rstrip()}\n```")
            position = after.end
    return "".join([*pieces, text[position:]])


def pages() -> list[Path]:
    """List the pages whose examples run."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]


@contextlib.contextmanager
def kept_environment(environment: dict[str, str]) -> Iterator[None]:
    """Let this process see the database of the examples, and forget what they set."""
    before = dict(os.environ)
    os.environ["HOTFACE_DATABASE_URL"] = environment["HOTFACE_DATABASE_URL"]
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)


def answered(text: str, address: str, environment: dict[str, str]) -> str:
    """Run a page in an empty folder and give it with its answers as they are now."""
    with tempfile.TemporaryDirectory() as folder, kept_environment(environment):
        return refreshed(text, Runner(address, environment, Path(folder)))


def differences(chosen: list[Path], *, write: bool = False) -> list[str]:
    """Run the pages; give their differences as unified diffs, or write the new answers."""
    told = []
    with tempfile.TemporaryDirectory() as home, served(Path(home)) as common:
        for page in chosen:
            text = page.read_text(encoding="utf-8")
            if not any(block.runs for block in blocks(text)):
                continue
            with contextlib.ExitStack() as stack:
                asked = common
                if OWN in text:
                    own = Path(stack.enter_context(tempfile.TemporaryDirectory()))
                    asked = stack.enter_context(served(own, Path(home)))
                new = answered(text, *asked)
            if new == text:
                continue
            if write:
                page.write_text(new, encoding="utf-8")
            told.append(
                "".join(
                    difflib.unified_diff(
                        text.splitlines(keepends=True),
                        new.splitlines(keepends=True),
                        str(page),
                        f"{page} as it answers now",
                    )
                )
            )
    return told


def main() -> None:
    """Check or rewrite the pages named, or all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("pages", nargs="*", type=Path)
    asked = parser.parse_args()
    told = differences([page.resolve() for page in asked.pages] or pages(), write=asked.write)
    sys.stdout.write("\n".join(told))
    if told and not asked.write:
        sys.exit(1)


if __name__ == "__main__":
    main()
