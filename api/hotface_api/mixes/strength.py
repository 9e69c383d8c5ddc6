"""A class of strength, from a measured reference body like the mix and the ratio of solids.

Strength is no property of a mixture: it hangs on the bond. The only honest way is a body of like
recipe and state that somebody crushed, scaled by how much more or less solid there is, and told as
a class a factor of two wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from hotface_api.catalogue.evidence import centre
from hotface_api.catalogue.nearest import NearSpecimen
from hotface_api.catalogue.ranges import Range
from hotface_api.mixes.request import EstimateRequest
from hotface_api.science import strength as science

__all__ = ["StrengthClass", "strength_class"]

PROPERTY: Final = "compressive_strength"
EXPONENT: Final = 4.0
"""Power of the ratio of solids, give or take one."""
_FARTHEST_DENSITY: Final = 1.8
"""A body denser or lighter by more than this factor is no reference; our judgement."""
_WARNING: Final = "not for load"


@dataclass(frozen=True, slots=True)
class StrengthClass:
    """Bounds of the class in pascal, the specimen it is scaled from, and the warning."""

    low: float
    high: float
    reference_mix: str
    reference_strength: float
    reference_density: float
    source: str | None
    text: str


def _measured(near: NearSpecimen, name: str) -> float | None:
    found = [
        centre(row)
        for row in near.values
        if row["property"] == name and row["bound"] == "is" and row["basis"] != "memory"
    ]
    return float(np.exp(np.mean(np.log(found)))) if found else None


def strength_class(
    request: EstimateRequest, density: Range, near: Sequence[NearSpecimen]
) -> tuple[StrengthClass | None, str | None]:
    """Scale the nearest body of known strength and density to the density of the mix.

    Returns
    -------
    (StrengthClass or None, str or None)
        The class, or the reason why there is none.

    Notes
    -----
    With like solids the ratio of solid shares is that of densities, so that no pore-free density
    is needed: ``s / s_ref = (rho / rho_ref)**4``.
    """
    fired = request.state.kind == "fired"
    if request.state.kind in ("fresh", "demoulded"):
        return None, "no strength is told before a body is cured and dried"
    if density.typical is None:  # pragma: no cover - an interval has a middle
        return None, "no density"
    for each in near:
        strength, held = _measured(each, PROPERTY), _measured(each, "bulk_density")
        if strength is None or held is None or (each.specimen["state"] == "fired") != fired:
            continue
        ratio = density.typical / held
        if not 1.0 / _FARTHEST_DENSITY <= ratio <= _FARTHEST_DENSITY:
            continue
        scaled = strength * ratio**EXPONENT
        low, high = science.strength_class(scaled)
        name = each.specimen["name"]
        text = (
            f"{_WARNING}; scaled from {name} ({strength / 1e6:.2g} MPa at {held:.0f} kg/m3) by the"
            f" ratio of solids to the power {EXPONENT:.0f}, give or take 1"
        )
        return StrengthClass(
            float(low),
            float(high),
            each.specimen["id"],
            strength,
            held,
            each.specimen["source"],
            text,
        ), None
    return None, "no body of like recipe, state and density with a measured strength is held"
