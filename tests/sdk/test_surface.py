"""What the package shows, what it loads, and that types hold."""

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import hotface
from hotface import _errors, _results

HERE = Path(__file__).parent
LIGHT = "import sys; from hotface import Client, Mix; import hotface;"
HEAVY = "('pint', 'numpy', 'pandas', 'flask', 'sqlalchemy', 'hotface_api')"


def run(code):
    found = subprocess.run(  # noqa: S603 - this interpreter, our own code
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stderr
    return found.stdout.strip()


def test_public_names_are_sorted_and_each_is_there():
    assert hotface.__all__ == sorted(hotface.__all__)
    assert dir(hotface) == hotface.__all__
    for name in hotface.__all__:
        found = getattr(hotface, name)
        assert getattr(found, "__module__", "hotface._quantities").startswith("hotface._")


def test_the_three_lists_of_public_names_agree():
    assert set(_results.HOMES) == set(hotface.__all__)
    tree = ast.parse(Path(hotface.__file__).read_text(encoding="utf-8"))
    typed = {
        (alias.name, node.module.removeprefix("hotface."))
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module.startswith("hotface._")
        for alias in node.names
        if alias.name not in ("HOMES", "public")
    }
    assert typed == set(_results.HOMES.items())


def test_a_name_that_is_not_there_is_told():
    with pytest.raises(AttributeError, match="no 'Klient'"):
        _ = hotface.Klient


def test_every_public_name_says_what_it_is():
    for name in hotface.__all__:
        found = getattr(hotface, name)
        if inspect.isclass(found):
            assert inspect.getdoc(found), name
            members = inspect.getmembers(found, inspect.isfunction)
            for member, function in members:
                if not member.startswith("_") and function.__module__.startswith("hotface"):
                    assert inspect.getdoc(function), f"{name}.{member}"


def test_the_tree_in_the_docstring_is_the_tree():
    tree = _errors.__doc__
    for name in _errors.__all__:
        kind = getattr(_errors, name)
        if not inspect.isclass(kind):
            continue
        assert issubclass(kind, hotface.HotfaceError)
        line = next(one for one in tree.splitlines() if f" {name}" in one)
        if kind.__mro__[1] is hotface.ProblemError:
            assert line.startswith("        ")


def test_importing_loads_nothing_heavy():
    assert run(f"{LIGHT} print([m for m in {HEAVY} if m in sys.modules])") == "[]"


def test_a_question_without_quantities_loads_no_pint():
    code = (
        "from hotface import Client, Response, Survival, Estimate, Material, Curve, Mix;"
        "m = Mix(water='11 L').add('cac-40', '25 kg'); m.to_dict(); str(m);"
        "k = Curve((20., 30.), (1., 2.), (1., 2.), (1., 2.), 'W/(m.K)').function(); k(25);"
        f"print([m for m in {HEAVY} if m in sys.modules])"
    )
    assert run("import sys;" + code) == "[]"


def test_importing_costs_about_as_much_as_requests():
    """Hold by count what a clock would only blur: the modules that requests does not load."""
    count = "print(len(sys.modules))"
    base = int(run(f"import sys, requests; {count}"))
    ours = int(run(f"{LIGHT} {count}"))
    assert ours - base <= 25


def test_a_quantity_goes_to_the_application_registry():
    code = (
        "import pint; r = pint.UnitRegistry(); pint.set_application_registry(r);"
        "from hotface import Figure;"
        "q = Figure(1.0, 'W/(m.K)').quantity; print((q + r('1 W/m/K')).magnitude)"
    )
    assert run(code) == "2.0"


def test_the_package_is_typed():
    assert (Path(hotface.__file__).parent / "py.typed").exists()


def test_types_hold_for_a_caller(tmp_path):
    found = subprocess.run(  # noqa: S603 - this interpreter, our own file
        [
            sys.executable,
            "-m",
            "mypy",
            "--strict",
            "--config-file=",
            f"--cache-dir={tmp_path}",
            str(HERE / "typing_check.py"),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout + found.stderr
