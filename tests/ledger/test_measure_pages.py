"""How to measure at home: each page's budget is worked out again from its own readings."""

import csv
import io
import math
import re
from pathlib import Path

import pytest

from hotface_api.ledger.bulk import BulkDraft, submit_csv
from hotface_seed import PACKAGE_PATH
from support.contributions import JUG, LICENCE

PAGES = (
    "loose-density",
    "grain-density",
    "reheat-shrinkage",
    "piece-density",
    "conductivity-by-comparison",
)
STEP = 1e-4


@pytest.fixture
def page(request):
    path = Path(request.config.rootpath) / "docs" / "measure" / f"{request.param}.md"
    return path.read_text(encoding="utf-8")


pages = pytest.mark.parametrize("page", PAGES, indirect=True)


def rows_of(text):
    """Read the budget: name to value, standard uncertainty and what the page prints for each."""
    found = {}
    for line in text.splitlines():
        match = re.fullmatch(r"\| `(\w+)` \| (.+) \|", line)
        if match is None:
            continue
        cells = [cell.strip() for cell in match[2].split("|")]
        value, _unit, known, u, sensitivity, share = cells
        limits = re.fullmatch(r"limits ±([\d.]+), rectangular \(B\)", known)
        repeats = re.fullmatch(r"s = ([\d.]+) of (\d+) \(A\)", known)
        worked = (
            float(limits[1]) / math.sqrt(3)
            if limits
            else float(repeats[1]) / math.sqrt(int(repeats[2]))
        )
        found[match[1]] = (float(value), worked, float(u), float(sensitivity), float(share))
    return found


def result_of(text):
    match = re.search(
        r"^Result: (-?[\d.]+) (\S+); u = ([\d.]+) \S+; U = ([\d.]+) \S+ \(k = 2\)",
        text,
        re.MULTILINE,
    )
    return match[1], match[2], match[3], match[4]


def evaluated(text, values):
    formula = re.search(r"```formula\n(.+)\n```", text)[1]
    return eval(formula, {"__builtins__": {}}, values)  # noqa: S307 - a page of this repository


def rounds_to(printed, number):
    digits = len(printed.partition(".")[2])
    return float(printed) == pytest.approx(round(number, digits), abs=1e-9)


@pages
def test_the_budget_is_what_its_readings_make_it(page):
    rows = rows_of(page)
    assert len(rows) >= 4
    values = {name: row[0] for name, row in rows.items()}
    result = evaluated(page, values)
    total = 0.0
    for name, (value, u, printed_u, printed_sensitivity, printed_share) in rows.items():
        step = u * STEP
        up = evaluated(page, {**values, name: value + step})
        down = evaluated(page, {**values, name: value - step})
        sensitivity = (up - down) / (2 * step)
        assert printed_u == pytest.approx(u, rel=5e-3)
        assert printed_sensitivity == pytest.approx(sensitivity, rel=5e-3)
        assert printed_share == pytest.approx(abs(sensitivity) * u, rel=6e-3)
        total += (sensitivity * u) ** 2
    printed, _unit, u, expanded = result_of(page)
    assert rounds_to(printed, result)
    assert rounds_to(u, math.sqrt(total))
    assert rounds_to(expanded, 2 * math.sqrt(total))


def example_of(text):
    return re.search(r"```csv\n(.+?)```", text, re.DOTALL)[1]


@pages
def test_what_it_says_to_hand_in_can_be_handed_in(page, club):
    example = example_of(page)
    draft = BulkDraft(data=example.encode(), licence=LICENCE, own=JUG)
    report = submit_csv(club.ledger, club.ann, draft, dry_run=True)
    assert report.good, report
    first = next(csv.DictReader(io.StringIO(example)))
    printed, unit, u, _ = result_of(page)
    assert first["unit"] == unit
    assert float(first["printed_typical"]) == pytest.approx(float(printed), rel=6e-3)
    factor = 0.01 if unit == "%" else 1.0
    assert float(first["uncertainty_standard"]) == pytest.approx(float(u) * factor, rel=0.06)


def test_the_water_the_grains_drink_is_worked_out_too(request):
    path = Path(request.config.rootpath) / "docs" / "measure" / "grain-density.md"
    text = path.read_text(encoding="utf-8")
    rows = rows_of(text)
    (dry, u_dry, *_), (damp, u_damp, *_) = rows["dry"], rows["damp"]
    absorption = (damp - dry) / dry
    u = math.hypot(u_damp / dry, damp * u_dry / dry**2)
    second = list(csv.DictReader(io.StringIO(example_of(text))))[1]
    assert float(second["printed_typical"]) == pytest.approx(100 * absorption, abs=0.05)
    assert float(second["uncertainty_standard"]) == pytest.approx(u, abs=5e-4)
    assert f"here {100 * absorption:.1f} %" in text


@pages
def test_its_cautions_are_those_the_data_holds(page):
    path = PACKAGE_PATH.parent / "cautions.csv"
    with path.open(encoding="utf-8", newline="") as file:
        held = {row["id"] for row in csv.DictReader(file)}
    section = page.partition("## Cautions")[2]
    named = set(re.findall(r"`([a-z-]+)`", section))
    assert named
    assert named <= held
