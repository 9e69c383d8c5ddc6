"""The seed as read by the loader, and the true published figures that break a rule."""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import pytest

from hotface_api.load.convert import store_rows
from hotface_api.load.package import read_package
from hotface_seed import PACKAGE_PATH

HERE = Path(__file__).parent


class Seed:
    """Typed rows of the package in SI, with the look-ups the rules need."""

    def __init__(self):
        package = read_package(PACKAGE_PATH)
        self.rows = store_rows(package)
        self.items = package.items
        self.values = {row["id"]: row for row in self.rows["values"]}
        self.materials = {row["id"]: row for row in self.rows["materials"]}
        self.properties = {row["id"]: row for row in self.rows["properties"]}
        self.sources = {row["id"]: row for row in self.rows["sources"]}
        self._held = defaultdict(list)
        for row in self.rows["values"]:
            self._held[row["material"], row["property"]].append(row)

    def held(self, material, name):
        return self._held.get((material, name), [])

    def of_solid(self, material, name):
        """Rows of the pore-free substance: the material's own, else those of its mineral."""
        own = [row for row in self.held(material, name) if row["form"] == "solid"]
        solid = self.materials[material]["solid"]
        mineral = [row for row in self.held(solid, name) if row["form"] == "solid"]
        return own or mineral


def figures(row):
    return [row[end] for end in ("low", "typical", "high") if row[end] is not None]


def middle(row):
    if row["typical"] is not None:
        return row["typical"]
    low, high = min(figures(row)), max(figures(row))
    return math.sqrt(low * high) if low > 0 else (low + high) / 2


class Exceptions:
    """Rows of ``exceptions.csv`` for one rule; each must be needed and each must say why."""

    def __init__(self, table, rule):
        self.reasons = {row["row"]: row["reason"] for row in table if row["rule"] == rule}
        self.rule = rule

    def hold(self, broken):
        """Assert that what breaks the rule is exactly what is excepted."""
        unexcused = {key: why for key, why in broken.items() if key not in self.reasons}
        assert not unexcused, f"{self.rule}: {unexcused}"
        stale = sorted(set(self.reasons) - set(broken))
        assert not stale, f"{self.rule}: these exceptions are no longer needed: {stale}"


@pytest.fixture(scope="session")
def seed():
    return Seed()


@pytest.fixture(scope="session")
def exceptions():
    with (HERE / "exceptions.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    return lambda rule: Exceptions(table, rule)
