"""The command line over the loaded seed, in this process."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from dataclasses import dataclass

import pytest
from click.testing import CliRunner
from sqlalchemy import make_url

from hotface import Client
from hotface_api.cli.commands import hotface
from hotface_api.embedded import InProcessTransport
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import make_key
from hotface_api.ledger.people import add_contributor
from hotface_api.store.database import Database
from support.contributions import prepared, small_package
from support.databases import BACKENDS, fresh_url
from support.served import served
from support.small import app_of

LID = """
water = "11 L"
fired = "1000 degC"
at = ["200 degC", "600 degC"]
seed = 1

[[constituents]]
material = "cac-40"
amount = "25 kg"

[[constituents]]
material = "expanded-clay"
amount = "60 L"
fill = "poured"
"""


@pytest.fixture(scope="session")
def embedded(app):
    """A transport over the loaded seed."""
    return InProcessTransport(app)


@pytest.fixture
def run(embedded, monkeypatch):
    """Run a command line; the embedded service is the one over the loaded seed."""
    monkeypatch.setattr("hotface_api.embedded.open_transport", lambda **_: embedded)
    monkeypatch.delenv("HOTFACE_SERVER", raising=False)
    monkeypatch.delenv("HOTFACE_KEY", raising=False)

    def command(*words, columns=80, **env):
        runner = CliRunner(env={"COLUMNS": str(columns), **env})
        return runner.invoke(hotface, words, prog_name="hotface")

    return command


@pytest.fixture
def sdk(embedded):
    """The SDK over the same service."""
    return Client(transport=embedded)


@pytest.fixture
def lid(tmp_path):
    """The club's mix file."""
    place = tmp_path / "lid.toml"
    place.write_text(LID, encoding="utf-8")
    return place


@pytest.fixture(scope="session")
def part(tmp_path_factory):
    """A part of the published package that loads quickly."""
    return small_package(tmp_path_factory.mktemp("part"))


@pytest.fixture(scope="session")
def loaded_file(tmp_path_factory, part):
    """An SQLite file that holds that part; copied, never used."""
    with fresh_url("sqlite", tmp_path_factory.mktemp("loaded")) as url:
        database = Database(url)
        prepared(database, part)
        database.close()
        yield make_url(url).database


@contextmanager
def _loaded(backend, folder, part, loaded_file):
    with fresh_url(backend, folder) as url:
        if backend == "sqlite":
            shutil.copy(loaded_file, make_url(url).database)
        else:
            database = Database(url)
            prepared(database, part)
            database.close()
        yield url


@pytest.fixture
def sqlite_url(tmp_path, part, loaded_file):
    """The address of a loaded SQLite database of the test's own."""
    with _loaded("sqlite", tmp_path, part, loaded_file) as url:
        yield url


@pytest.fixture(params=BACKENDS)
def own_url(request, tmp_path, part, loaded_file):
    """The address of a loaded database of the test's own, of each kind."""
    with _loaded(request.param, tmp_path, part, loaded_file) as url:
        yield url


@pytest.fixture
def operate(monkeypatch):
    """Run a command on the database of an address, with nothing else in the environment."""
    for name in ("HOTFACE_SERVER", "HOTFACE_KEY"):
        monkeypatch.delenv(name, raising=False)

    def command(url, *words, columns=80, input=None, **env):  # noqa: A002 - click's word
        environment = {"COLUMNS": str(columns), "HOTFACE_DATABASE_URL": url, **env}
        return CliRunner(env=environment).invoke(
            hotface, [str(word) for word in words], prog_name="hotface", input=input
        )

    return command


@dataclass
class Members:
    """The club's people at the command line: Ann and Ben contribute, Cleo curates."""

    url: str
    server: tuple[str, ...]
    operate: object
    keys: dict[str, str]

    def __call__(self, who, *words, **env):
        key = {} if who is None else {"HOTFACE_KEY": self.keys[who]}
        return self.operate(self.url, *words, *self.server, **{**key, **env})

    def ok(self, who, *words, **env):
        """Run a command that must end well, and give what it printed."""
        result = self(who, *words, **env)
        assert result.exit_code == 0, result.output
        return result.stdout


@pytest.fixture(params=["embedded", "server"])
def members(request, own_url, operate):
    """The club's people, with the embedded service and with one behind a socket."""
    database = Database(own_url)
    ledger = Ledger(database)
    keys = {}
    for name, role in (("ann", "contributor"), ("ben", "contributor"), ("cleo", "curator")):
        card = add_contributor(ledger, name.title())
        keys[name] = make_key(ledger, card.contributor, role).token
    if request.param == "embedded":
        yield Members(own_url, (), operate, keys)
    else:
        with served(app_of(database)) as address:
            yield Members(own_url, ("--server", address), operate, keys)
    database.close()
