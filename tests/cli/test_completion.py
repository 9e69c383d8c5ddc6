"""Completion with the Tab key: the scripts, and ids from wherever they are."""

import shutil
import subprocess

import pytest
from click.testing import CliRunner

from hotface_api.cli.commands import hotface
from support.programs import need_program
from support.served import served


def completed(words, incomplete, env):
    """Ask as the shell does; gives the words offered."""
    line = " ".join(["hotface", *words, incomplete])
    asked = {
        "_HOTFACE_COMPLETE": "bash_complete",
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(words) + 1),
        **env,
    }
    runner = CliRunner(env=asked)
    result = runner.invoke(hotface, [], prog_name="hotface", complete_var="_HOTFACE_COMPLETE")
    assert "Traceback" not in result.output
    return [one.partition(",")[2] for one in result.stdout.splitlines() if one]


@pytest.fixture
def held(sqlite_url):
    """The environment of a loaded database."""
    return {"HOTFACE_DATABASE_URL": sqlite_url, "HOTFACE_SERVER": ""}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_of_a_shell_is_printed_and_is_one(run, shell):
    result = run("completion", shell)
    assert result.exit_code == 0, result.output
    assert f"_HOTFACE_COMPLETE={shell}_complete" in result.stdout
    need_program("bash")
    program = shutil.which(shell)
    if program is None:
        return  # the other shells are checked where they are installed
    told = subprocess.run(  # noqa: S603 - a shell reads a script without running it
        [program, "-n"], input=result.stdout, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr


def test_no_other_shell_is_known(run):
    result = run("completion", "cmd")
    assert result.exit_code == 2
    assert "'bash', 'zsh', 'fish'" in result.stderr


def test_commands_are_completed(held):
    assert completed([], "com", held) == ["compare", "completion"]


def test_materials_are_completed_from_the_database_here(held):
    found = completed(["show"], "expanded-p", held)
    assert "expanded-perlite" in found
    assert all(name.startswith("expanded-p") for name in found)
    assert completed(["survival"], "perlite", held)[:1] != []  # what holds it, where none begins so
    assert completed(["compare"], "fireclay-br", held) == ["fireclay-brick"]
    assert completed(["show", "mullite"], "thermal_c", held) == [
        "thermal_conductivity",
        "thermal_conductivity_retained",
    ]
    assert completed(["survival", "x", "--with"], "cac-4", held)[0].startswith("cac-4")


def test_after_a_comma_the_next_is_completed(held):
    assert completed(["survival"], "chamotte,fireclay-br", held) == ["chamotte,fireclay-brick"]


def test_without_a_database_the_published_files_are_used(tmp_path):
    env = {"HOTFACE_DATABASE_URL": f"sqlite:///{tmp_path / 'none.sqlite3'}", "HOTFACE_SERVER": ""}
    assert completed(["show"], "fireclay-br", env) == ["fireclay-brick"]
    assert list(tmp_path.iterdir()) == []


def test_with_a_server_named_it_is_asked(app, tmp_path):
    with served(app) as address:
        env = {"HOTFACE_SERVER": address}
        assert completed(["show"], "fireclay-br", env) == ["fireclay-brick"]


@pytest.mark.parametrize(
    "env",
    [
        {"HOTFACE_SERVER": "http://127.0.0.1:1"},
        {"HOTFACE_SERVER": "gopher://x"},
        {"HOTFACE_SERVER": "", "HOTFACE_DATABASE_URL": "mysql://x"},
        {"HOTFACE_SERVER": "", "HOTFACE_DATABASE_URL": "postgresql://x@127.0.0.1:1/x"},
    ],
)
def test_a_tab_never_fails(env):
    assert completed(["show"], "mul", env) == []


def test_a_damaged_database_is_no_trouble(tmp_path):
    place = tmp_path / "club.sqlite3"
    place.write_text("no database\n" * 200)
    env = {"HOTFACE_DATABASE_URL": f"sqlite:///{place}", "HOTFACE_SERVER": ""}
    assert completed(["show"], "mul", env) == []
    assert place.read_text() == "no database\n" * 200
