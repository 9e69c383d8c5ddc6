"""``hotface export`` and the way back."""

from __future__ import annotations

import csv
import json
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from hotface import Client
from hotface_api.cli.commands import hotface
from hotface_api.cli.sheets import COLUMNS, sheet


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


def test_a_material_as_a_spreadsheet(run, sdk, tmp_path):
    file = tmp_path / "expanded-clay.csv"
    told = run("export", str(file), "--material", "expanded-clay", "--json")
    assert told.exit_code == 0, told.output
    values = {one.id: one for one in sdk.values(material="expanded-clay")}
    assert json.loads(told.stdout) == {"file": str(file), "rows": len(values)}
    with file.open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [row["value"] for row in rows] == list(values)
    for row in rows:
        one = values[row["value"]]
        assert (row["property"], row["source"]) == (one.property, one.source or "")
        for name in ("low", "typical", "high"):
            number = getattr(one.range.magnitudes, name)
            assert row[name] == ("" if number is None else str(number))


def test_a_spreadsheet_in_us_units(run, tmp_path):
    file = tmp_path / "clay.csv"
    assert run("export", str(file), "--material", "expanded-clay", "--units", "us").exit_code == 0
    with file.open(encoding="utf-8", newline="") as opened:
        units = {row["unit"] for row in csv.DictReader(opened)}
    assert "[lb_av]/[cft_i]" in units
    assert "kg/m3" not in units


def test_what_a_spreadsheet_would_run_is_made_harmless():
    told = SimpleNamespace(magnitudes=SimpleNamespace(low=-4.5, typical=None, high=2.0), unit="K")
    texts = dict.fromkeys(
        ("bound", "role", "method", "source", "locator", "basis", "quoted_in", "origin"), "@x"
    )
    one = SimpleNamespace(
        property="=1+1",
        range=told,
        temperature=None,
        condition="-x",
        printed="+x",
        note='=HYPERLINK("x"), "and" more',
        id="v",
        **texts,
    )
    (row,) = csv.DictReader(sheet([one]).splitlines())
    assert set(row) == set(COLUMNS)
    assert (row["property"], row["condition"], row["as_printed"]) == ("'=1+1", "'-x", "'+x")
    assert row["note"] == '\'=HYPERLINK("x"), "and" more'
    assert row["low"] == "-4.5"


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("x.csv",), 2, "of one --material"),
        (("x.zip", "--material", "mullite"), 2, ".csv"),
        (("x.csv", "--material", "mulite"), 5, "'mullite'"),
        (("no/x.csv", "--material", "mullite"), 5, "cannot be written"),
        (("no/x.zip",), 5, "cannot be written"),
        (("x.csv", "--material", "mullite", "--revision", "99"), 5, "revision 99"),
    ],
)
def test_what_makes_no_sense_is_told(run, tmp_path, monkeypatch, words, code, says):
    monkeypatch.chdir(tmp_path)
    result = run("export", *words)
    assert result.exit_code == code, result.output
    assert says in result.stderr
    assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []
