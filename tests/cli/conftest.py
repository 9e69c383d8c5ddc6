"""The command line over the loaded seed, in this process."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from hotface import Client
from hotface_api.cli.commands import hotface
from hotface_api.embedded import InProcessTransport

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
    monkeypatch.setattr("hotface_api.embedded.open_transport", lambda: embedded)
    monkeypatch.delenv("HOTFACE_SERVER", raising=False)

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
