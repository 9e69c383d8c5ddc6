"""What stands behind the intervals: the measured bodies that mixes of this family were tried on.

The figures are those ``docs/calibration/calibrate.py`` prints, each body judged with everything
fitted to the bodies of other sources.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.request import EstimateRequest

__all__ = ["APART", "CURVES", "DENSITIES", "TRIED", "Tried", "Validation", "validation_of"]

_ROOM: Final = 330.0
_FIRED_FROM: Final = 673.15


@dataclass(frozen=True, slots=True)
class Validation:
    """The trial that speaks for a mix, in figures and in words."""

    family: str | None
    bodies: int
    sources: int
    median_error: float | None
    coverage: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Tried:
    """How the estimator did on one family when density was given."""

    bodies: int
    sources: int
    median_error: float
    coverage: float


TRIED: Final[Mapping[str, Tried]] = MappingProxyType(
    {
        "cement paste and foamed concrete": Tried(5, 2, 0.18, 0.50),
        "concrete with other light grains": Tried(3, 2, 0.25, 1.00),
        "fired clay or ceramic": Tried(8, 5, 0.56, 0.70),
        "geopolymer foam": Tried(7, 5, 0.22, 0.80),
        "gypsum": Tried(3, 2, 0.04, 1.00),
        "light earth": Tried(5, 4, 0.24, 1.00),
        "perlite or vermiculite concrete": Tried(21, 7, 0.24, 1.00),
        "silicate or phosphate bonded": Tried(2, 2, 0.12, 1.00),
        "all": Tried(54, 28, 0.24, 0.88),
    }
)
"""Median error of conductivity, and share of bodies inside the 90 % interval."""

APART: Final = Tried(13, 10, 0.21, 0.80)
"""The same of the bodies kept apart."""

CURVES: Final = (25, 20)
"""Published curves whose change with temperature was foretold, and how many lie inside."""

DENSITIES: Final = Tried(12, 7, 0.11, 7 / 12)
"""How the density did from the mix alone, where a recipe states amounts and water."""

_VERY_LIGHT: Final = ("expanded-perlite", "exfoliated-vermiculite", "expanded-obsidian")
_BY_BINDER: Final = {
    "geopolymer": "geopolymer foam",
    "silicate": "silicate or phosphate bonded",
    "phosphate": "silicate or phosphate bonded",
    "gypsum": "gypsum",
}


def _family(parts: list[Part], request: EstimateRequest) -> str:
    """Name the family of measured bodies a mix belongs to."""
    binders = {part.binder for part in parts if part.is_powder and part.kind == "binder"}
    fired = request.state.kind == "fired" and request.state.treated_at >= _FIRED_FROM
    if "hydraulic" not in binders:
        for binder, family in _BY_BINDER.items():
            if binder in binders:
                return family
        return "fired clay or ceramic" if fired else "light earth"
    grains = [part for part in parts if not part.is_powder and part.kind != "fibre"]
    if not grains:
        return "cement paste and foamed concrete"
    if any(part.held_as.startswith(_VERY_LIGHT) for part in grains):
        return "perlite or vermiculite concrete"
    return "concrete with other light grains"


def validation_of(gathered: Gathered, request: EstimateRequest) -> Validation:
    """Say on which measured bodies the estimator was tried, and what none of them was."""
    family = _family(gathered.parts, request)
    tried = TRIED[family]
    text = (
        f"Tried on {tried.bodies} measured bodies of {tried.sources} sources ({family}), their"
        f" density given: median error of conductivity {100 * tried.median_error:.0f} %,"
        f" {100 * tried.coverage:.0f} % inside the 90 % interval; on all"
        f" {TRIED['all'].bodies} bodies {100 * TRIED['all'].coverage:.0f} %, on {APART.bodies} kept"
        f" apart {100 * APART.coverage:.0f} %."
    )
    return Validation(
        family,
        tried.bodies,
        tried.sources,
        tried.median_error,
        tried.coverage,
        " ".join([text, *_not_tried(gathered.parts, request)]),
    )


def _not_tried(parts: list[Part], request: EstimateRequest) -> list[str]:
    """Tell in what the mix differs from every body tried."""
    found = []
    if request.measured.bulk_density is None and not request.measured.densities:
        inside = round(DENSITIES.coverage * DENSITIES.bodies)
        found.append(
            f"Density from the mix alone was tried on {DENSITIES.bodies} bodies of"
            f" {DENSITIES.sources} sources: median miss {100 * DENSITIES.median_error:.0f} %,"
            f" {inside} inside; weigh the piece, or a filled mould."
        )
    if any(part.held_as.startswith(("cac-", "calcium-aluminate")) for part in parts):
        found.append("None was bound with calcium aluminate cement.")
    cement = any(part.binder == "hydraulic" for part in parts)
    if cement and request.state.kind == "fired":
        found.append("No fired cement-bound body was among them.")
    if request.state.kind in ("fresh", "demoulded"):
        found.append("No wet body was among them.")
    if max(request.temperatures()) > _ROOM:
        found.append(
            "Levels were tried near room temperature only; the change with temperature on"
            f" {CURVES[0]} published curves, {CURVES[1]} of them inside."
        )
    if request.rule is not None:
        found.append("All with the default rules, not with the one asked for.")
    return found
