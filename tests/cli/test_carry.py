"""``hotface export`` and the way back."""

from __future__ import annotations

import json

from click.testing import CliRunner

from hotface import Client
from hotface_api.cli.commands import hotface


def test_the_whole_data_set_goes_out_and_comes_back(tmp_path, monkeypatch):
    monkeypatch.setenv("HOTFACE_DATABASE_URL", f"sqlite:///{tmp_path / 'one.sqlite3'}")
    file = tmp_path / "club-data.zip"
    told = CliRunner().invoke(hotface, ["export", str(file), "--json"])
    assert told.exit_code == 0, told.output
    assert json.loads(told.output)["bytes"] == file.stat().st_size > 100_000
    monkeypatch.setenv("HOTFACE_DATABASE_URL", f"sqlite:///{tmp_path / 'two.sqlite3'}")
    loaded = CliRunner().invoke(hotface, ["load", str(file), "--json"])
    assert loaded.exit_code == 0, loaded.output
    again = Client().export(tmp_path / "again.zip")
    assert again.read_bytes() == file.read_bytes()


def test_a_revision_that_is_not_held_is_told(tmp_path, monkeypatch):
    monkeypatch.setenv("HOTFACE_DATABASE_URL", f"sqlite:///{tmp_path / 'one.sqlite3'}")
    told = CliRunner().invoke(hotface, ["export", str(tmp_path / "x.zip"), "--revision", "99"])
    assert told.exit_code == 5
    assert "revision 99" in told.output
    assert not (tmp_path / "x.zip").exists()
