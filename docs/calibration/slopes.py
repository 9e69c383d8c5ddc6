"""Whether conductivity changes with temperature as the estimator says.

Published curves of light fired bodies and suppliers' castables carry no recipe, so that only their
change is asked for: the piece's density and its conductivity at the lowest temperature are given,
that at the highest is foretold. The recipe is a stand-in of the same kind.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from bodies import Tables, is_blind
from sqlalchemy import Connection

from hotface_api.catalogue.evidence import centre
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.estimate import estimate
from hotface_api.mixes.inputs import gather
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.model import Case, run
from hotface_api.mixes.priors import CALIBRATED
from hotface_api.mixes.request import Constituent, EstimateRequest, Measured, Mix, State

__all__ = ["slope_lines"]

STAND_INS: Mapping[str, tuple[str, str | None]] = {
    "insulating-firebrick": ("fireclay", None),
    "anorthite-insulating-firebrick": ("fireclay", None),
    "vermiculite-fireclay-brick": ("fireclay", "exfoliated-vermiculite"),
    "insulating-castable-n": ("cac-50", "expanded-perlite"),
    "insulating-castable-o": ("cac-50", "expanded-clay"),
    "insulating-castable-p": ("cac-50", "expanded-clay"),
    "insulating-castable-q": ("cac-50", "expanded-clay"),
    "portland-perlite-concrete": ("portland-cement", "expanded-perlite"),
}
"""Binder and aggregate taken for a kind of body, by the opening of its material id."""
KINDS = ("curve", "supplier")
ENDS = 2


@dataclass(frozen=True)
class Curve:
    """The two ends of a published curve, kelvin and W/(m.K)."""

    id: str
    stand_in: tuple[str, str | None]
    density: float
    low: tuple[float, float]
    high: tuple[float, float]


def _curve(identity: str, row: Mapping[str, Any], values: list[Mapping[str, Any]]) -> Curve | None:
    opening = [name for name in STAND_INS if row["material"].startswith(name)]
    points = sorted(
        (each["temperature_low"], centre(each))
        for each in values
        if each["property"] == "thermal_conductivity" and each["temperature_low"] is not None
    )
    density = [centre(each) for each in values if each["property"] == "bulk_density"]
    density += [
        each["specimen_density_low"] for each in values if each["specimen_density_low"] is not None
    ]
    if row["kind"] not in KINDS or not opening or len(points) < ENDS or not density:
        return None
    return Curve(identity, STAND_INS[max(opening, key=len)], density[0], points[0], points[-1])


def _request(curve: Curve, ratio: float) -> EstimateRequest:
    binder, aggregate = curve.stand_in
    parts = [Constituent(binder, 1.0, "mass")]
    if aggregate is not None:
        parts.append(Constituent(aggregate, ratio * 1e-3, "volume"))
    water = 0.4 + (0.1 * ratio if aggregate is not None else 0.0)
    state = State("dried") if binder == "portland-cement" else State("fired", 1273.15)
    measured = Measured(
        bulk_density=curve.density,
        thermal_conductivity=curve.low[1],
        thermal_conductivity_at=curve.low[0],
    )
    return EstimateRequest(Mix(tuple(parts), water), state, (curve.low[0], curve.high[0]), measured)


def _sought(connection: Connection, reference: Reference, curve: Curve) -> EstimateRequest:
    """Seek the proportion of the stand-in that comes nearest to the density."""
    trials = []
    for ratio in np.geomspace(0.3, 12.0, 20) if curve.stand_in[1] is not None else (1.0,):
        request = _request(curve, float(ratio))
        case = Case(request, gather(connection, reference, request), CALIBRATED)
        density = float(run(case, Latent(1, 1, centre=True)).density(case)[0])
        trials.append((abs(math.log(density / curve.density)), float(ratio), request))
    return min(trials, key=lambda trial: trial[:2])[2]


def slope_lines(connection: Connection, reference: Reference, tables: Tables) -> Iterator[str]:
    """Write the table of changes and a summary."""
    yield "| body | kg/m3 | from to | measured ratio | estimated | inside |"
    yield "|---|---|---|---|---|---|"
    missed, inside = [], []
    for identity, row in sorted(tables.specimens.items()):
        curve = _curve(identity, row, tables.values[identity])
        if curve is None or is_blind(identity):
            continue
        found = estimate(connection, reference, _sought(connection, reference, curve))
        first, last = (point.range for point in found.thermal_conductivity)
        if first.typical is None or last.low is None or last.typical is None or last.high is None:
            continue
        missed.append(math.log(curve.high[1] / last.typical))
        inside.append(last.low <= curve.high[1] <= last.high)
        yield (
            f"| {identity} | {curve.density:.0f} | {curve.low[0] - 273.15:.0f}"
            f" {curve.high[0] - 273.15:.0f} Cel | {curve.high[1] / curve.low[1]:.2f} |"
            f" {last.typical / first.typical:.2f} | {'yes' if inside[-1] else 'no'} |"
        )
    yield ""
    middle = math.expm1(float(np.median(np.abs(missed))))
    yield (
        f"{len(missed)} curves: median miss {100 * middle:.0f} %,"
        f" bias {float(np.mean(missed)):+.2f}, {sum(inside)} inside the 90 % interval."
    )
