"""What was told once is told again: numbers may change only when RULES_VERSION advances.

The mixes are of the caller's own materials alone, so that new data in the seed change nothing here.
``python tests/mixes/test_told_before.py`` writes the file anew; do that only with a new
``RULES_VERSION``, and say in the changelog what changed.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from hotface_api.catalogue import RULES_VERSION
from hotface_api.catalogue.ranges import Range
from hotface_api.mixes.request import (
    Constituent,
    EstimateRequest,
    Measured,
    Mix,
    State,
    Triple,
)

STORED = Path(__file__).with_name("told_before.json")
ALIKE = 1e-6
"""DESIGN: byte-equal on one platform and lock file, to this relative elsewhere."""


def _cement(amount, kind="mass"):
    return Constituent(
        "portland-own",
        amount,
        kind,
        kind="binder",
        properties={
            "true_density": Triple(3000.0, 3100.0, 3200.0),
            "loose_bulk_density": Triple(1100.0, 1250.0, 1400.0),
            "bound_water": Triple(0.15, 0.2, 0.25),
            "specific_heat_capacity": Triple(700.0, 780.0, 860.0),
        },
    )


def _grain(amount, kind="volume", **more):
    return Constituent(
        "own-grain",
        amount,
        kind,
        kind="aggregate",
        properties={
            "loose_bulk_density": Triple(300.0, 380.0, 470.0),
            "true_density": Triple(2400.0, 2550.0, 2700.0),
            "specific_heat_capacity": Triple(750.0, 850.0, 950.0),
        },
        **more,
    )


def _perlite(amount, kind="volume"):
    properties = {
        "loose_bulk_density": Triple(70.0, 90.0, 120.0),
        "water_absorption": Triple(0.5, 1.5, 3.0),
    }
    return Constituent("own-perlite", amount, kind, kind="aggregate", properties=properties)


FIRED, DRIED = State("fired", 1173.15), State("dried")
BUCKETS = Mix((_cement(25.0), _grain(0.060), _perlite(0.030)), 14.0)
PARTS = Mix(
    (_cement(1.0, "parts"), _perlite(5.0, "parts")), 0.8, "ratio_to_binder", parts_by="loose"
)
ASKED = {
    "buckets fired": EstimateRequest(BUCKETS, FIRED),
    "buckets dried, another seed and coverage": EstimateRequest(
        BUCKETS, DRIED, seed=7, coverage=0.8
    ),
    "buckets air-dry": EstimateRequest(BUCKETS, State("air-dry")),
    "buckets fresh": EstimateRequest(BUCKETS, State("fresh")),
    "parts dried": EstimateRequest(PARTS, DRIED),
    "density measured": EstimateRequest(BUCKETS, FIRED, measured=Measured(bulk_density=1150.0)),
    "lighter than its parts": EstimateRequest(PARTS, DRIED, measured=Measured(bulk_density=250.0)),
    "conductivity measured": EstimateRequest(
        BUCKETS,
        FIRED,
        measured=Measured(thermal_conductivity=0.3, thermal_conductivity_at=673.15),
    ),
    "bucket weighed, pores given": EstimateRequest(
        Mix(
            (
                _cement(25.0),
                _grain(0.060, bucket=(4.0, 0.010), pore_size=Triple(1e-4, 3e-4, 1e-3)),
            ),
            11.0,
        ),
        FIRED,
    ),
    "another rule": EstimateRequest(BUCKETS, FIRED, rule="maxwell"),
}


def _span(found):
    return [float(f"{end:.9g}") for end in (found.low, found.typical, found.high)]


def _curve(points):
    return None if points is None else [[p.temperature, *_span(p.range)] for p in points]


def numbers(answer):
    """Give every number of an answer that belongs to the mix alone."""
    composition = answer.composition
    told = {name: _span(found) for name, found in answer.densities.items()}
    told |= {
        "asked": _span(answer.bulk_density),
        "porosity": _span(composition.porosity),
        "yield": _span(composition.yield_),
        "water": _span(composition.water),
        "shares": [
            [float(f"{share.mass_fraction:.9g}"), float(f"{share.volume_fraction:.9g}")]
            for share in composition.constituents
        ],
        "conductivity": _curve(answer.thermal_conductivity),
        "bounds": [
            [float(f"{bound:.9g}") for bound in (p.lower_bound, p.upper_bound)]
            for p in answer.thermal_conductivity
        ],
        "heat capacity": _curve(answer.specific_heat_capacity),
        "doubt": [[d.input, d.output, float(f"{d.share:.6g}")] for d in answer.doubt_shares],
        "narrowed": {name: float(f"{by:.6g}") for name, by in answer.narrowed_by.items()},
    }
    if isinstance(answer.permanent_change, Range):
        told["permanent change"] = _span(answer.permanent_change)
    return told


def _alike(now, before, where):
    if isinstance(before, dict):
        assert sorted(now) == sorted(before), where
        for name in before:
            _alike(now[name], before[name], f"{where}/{name}")
    elif isinstance(before, list):
        assert len(now) == len(before), where
        for index, (one, other) in enumerate(zip(now, before, strict=True)):
            _alike(one, other, f"{where}/{index}")
    elif isinstance(before, float):
        assert now == pytest.approx(before, rel=ALIKE, abs=1e-9), where
    else:
        assert now == before, where


@pytest.mark.parametrize("name", sorted(ASKED))
def test_numbers_told_before_are_told_again(ask, name):
    stored = json.loads(STORED.read_text(encoding="utf-8"))
    assert stored["rules_version"] == RULES_VERSION, "write the file anew with the new rules"
    _alike(numbers(ask(ASKED[name])), stored["told"][name], name)


def main():
    """Write the file anew."""
    sys.path.insert(0, str(Path(__file__).parents[2] / "docs" / "calibration"))
    from calibrate import seed  # noqa: PLC0415

    from hotface_api.mixes.estimate import estimate  # noqa: PLC0415

    with seed() as (connection, reference):
        told = {
            name: numbers(estimate(connection, reference, asked)) for name, asked in ASKED.items()
        }
    text = json.dumps({"rules_version": RULES_VERSION, "told": told}, indent=1)
    STORED.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
