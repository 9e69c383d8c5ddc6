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
HEAVY = (
    "('requests', 'pint', 'numpy', 'pandas', 'matplotlib', 'flask', 'sqlalchemy', 'hotface_api')"
)

PUBLIC = """
Agreement Assumption BadContribution BadMixFile BadQuantity Casting Caution ClassLimit
Client ClosestClass Composition Condition Cone ConeFiring ConeMatch ConeReading Conflict
ConnectionFailed Constituent Curve CurveFunction Derivation DoubtShare Draws Drying
DryingStep Entry Estimate EstimateRequest EstimateState Fault Figure Gone HTTPTransport Held
HeldProperty Holding HotfaceError InvalidRequest KeyCard KeyNeeded KeyRefused LeftOut
LimitEvent Magnitudes Material MaterialProperty MaterialSummary Measured MeltPoint Melting
Missing Mix MixSearch MixShare Musts NearSpecimen NewMaterial NewSpecimen NoAnswer
NotAllowed NotAnAnswer NotFound NotInstalled OldServer OnHand OtherRange OutsideSpan Pages
Phase PhasePoint Practice Printed ProblemError ProblemKind PropertyAnswer PropertyDefinition
QuantityLike Question Range RateLimited Receipt ReceiptItem Remark Reported ReportedSource
Request Response RetryPolicy Revision Row ServerFault ServiceCard ServiceLimit Slip Source
Specimen SpecimenPart Stale Standard Standing StrengthClass Survival TableReport TableRow
Told Transport Unavailable Uncertainty UsedValue Validation Value VersionNeeded Weighing
WorthTrying bibtex csl doi held_source own_measurement
"""


def run(code):
    found = subprocess.run(  # noqa: S603 - this interpreter, our own code
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stderr
    return found.stdout.strip()


def test_public_names_are_those_promised():
    """A name taken away breaks programs; one added is written here with its release note."""
    assert set(hotface.__all__) == set(PUBLIC.split())


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


def test_importing_costs_less_than_requests():
    """Hold by count what a clock would only blur: the modules that come along."""
    count = "print(len(sys.modules))"
    base = int(run(f"import sys, requests; {count}"))
    ours = int(run(f"{LIGHT} {count}"))
    assert ours < base - 100


def test_only_what_goes_over_http_loads_requests():
    code = (
        f"{LIGHT} h = ('requests' in sys.modules); Client('https://example.org').close();"
        "print(h, 'requests' in sys.modules)"
    )
    assert run(code) == "False True"


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
