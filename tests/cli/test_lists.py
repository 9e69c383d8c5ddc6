"""Survival over a list: from words, from a file, from standard input."""

import json

import pytest
from click.testing import CliRunner

from hotface import Question
from hotface_api.cli.commands import hotface

TABLE = """\
material,temperature,place,with,load
chamotte,1000 degC,face,cac-40,yes
expanded-perlite,,behind,,
"""


def ok(result):
    assert result.exit_code == 0, result.output
    return result.stdout


def written(folder, text, name="shed.csv"):
    place = folder / name
    place.write_bytes(text if isinstance(text, bytes) else text.encode())
    return str(place)


def test_a_table_asks_each_line_as_it_stands(run, sdk, tmp_path):
    file = written(tmp_path, TABLE)
    words = ("survival", "--from", file, "700 degC", "--load", "no")
    found = json.loads(ok(run(*words, "--json")))["results"]
    asked = [
        Question("chamotte", "1000 degC", place="face", with_="cac-40", load=True),
        Question("expanded-perlite", "700 degC", place="behind", load=False),
    ]
    expected = [one.to_dict() for one in sdk.survivals(asked)]
    assert [one["survival"] for one in found] == expected
    out = ok(run(*words, columns=160))
    assert out.startswith("2 questions")
    assert "At 1000 °C with cac-40, seeing the fire, under load" in out


def test_a_list_of_ids_with_remarks(run, tmp_path):
    file = written(tmp_path, b"\xef\xbb\xbf# in the shed\nchamotte\n\nexpanded-clay # old bag\n")
    out = ok(run("survival", "--from", file, "1000 degC"))
    assert out.startswith("At 1000 °C alone")
    lines = [line.split()[0] for line in out.splitlines() if line.startswith(("chamotte", "exp"))]
    assert lines == ["chamotte", "expanded-clay"]


def test_several_words_are_several_materials(run, sdk):
    found = json.loads(ok(run("survival", "chamotte", "expanded-clay", "1000 degC", "--json")))
    asked = [Question(name, "1000 degC") for name in ("chamotte", "expanded-clay")]
    assert [one["survival"] for one in found["results"]] == [
        one.to_dict() for one in sdk.survivals(asked)
    ]


def test_a_long_list_comes_whole_and_in_order(run, sdk, tmp_path):
    names = [one.id for one in sdk.materials()]
    assert len(names) > 200
    file = written(tmp_path, "\n".join(names))
    found = json.loads(ok(run("survival", "--from", file, "1000 degC", "--json")))["results"]
    assert [one["survival"]["material"] for one in found] == names


def test_standard_input_is_read(run, embedded):
    result = CliRunner(env={"COLUMNS": "80"}).invoke(
        hotface, ["survival", "--from", "-", "1000 degC"], input="chamotte\n"
    )
    assert ok(result).startswith("At 1000 °C alone")


@pytest.mark.parametrize("extra", [(), ("--json",)])
def test_a_line_that_cannot_be_answered_spoils_not_the_others(run, tmp_path, extra):
    file = written(tmp_path, "chamotte\nchamote\n")
    result = run("survival", "--from", file, "1000 degC", *extra)
    assert result.exit_code == 5
    assert "no material has the id" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("text", "words", "says"),
    [
        (b"", ("9 degC",), "names no material"),
        (b"material\n", ("9 degC",), "names no material"),
        (b"chamotte\n\xff\n", ("9 degC",), "line 2: this is not UTF-8"),
        (b"chamotte\n", (), "line 1: the temperature is missing"),
        (b"material,temprature\nx,9 degC\n", (), "line 1: there is no column 'temprature'"),
        (b"material,material\nx,y\n", (), "a column stands twice"),
        (b"material,temperature\nchamotte\n", (), "line 2: 1 cells where 2 belong"),
        (b"material,temperature\nchamotte,900\n", (), "has no unit"),
        (b"material,temperature\n,900 degC\n", (), "line 2: the material is missing"),
        (b'material,temperature\n"chamotte,900 degC\n', (), "this is not CSV"),
        (b"material,place\nchamotte,under\n", ("9 degC",), "place is face or behind"),
        (b"material,load\nchamotte,maybe\n", ("9 degC",), "load is yes or no"),
    ],
)
def test_a_faulty_file_is_told_with_the_line(run, tmp_path, text, words, says):
    result = run("survival", "--from", written(tmp_path, text), *words)
    assert result.exit_code == 5, result.output
    assert says in result.stderr
    assert "shed.csv" in result.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--from", "nowhere.csv", "9 degC"), "does not exist"),
        (("--from", ".", "9 degC"), "is a directory"),
        (("chamotte",), "a material and a temperature"),
        ((), "a material and a temperature"),
    ],
)
def test_wrong_use_is_told(run, words, says):
    result = run("survival", *words)
    assert result.exit_code == 2
    assert says in result.stderr


def test_materials_stand_in_the_file_or_in_words(run, tmp_path):
    file = written(tmp_path, "chamotte\n")
    result = run("survival", "--from", file, "mullite", "9 degC")
    assert result.exit_code == 2
    assert "the file names the materials" in result.stderr
