"""Reversible thermal strain of the fired or dried body; permanent change is told apart.

Pores change nothing, soft light grains hardly count: the expansion of a castable is that of its
binder and dense grains. No moduli are held, so stiffness comes from one modulus for all solids,
lowered by each part's own pores.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.latent import Latent, stretched
from hotface_api.mixes.request import EstimateRequest, Triple
from hotface_api.mixes.structure import Structure

__all__ = ["Strain", "thermal_strain"]

FloatArray = NDArray[np.float64]
_ROOM: Final = 293.15
_DENSE_MODULUS: Final = Triple(40e9, 70e9, 120e9)
"""Young's modulus of a pore-free silicate or aluminate solid, Pa; our judgement, no modulus is
held. Only ratios matter here: all solids are drawn with the same one."""
_POISSON: Final = 0.2
_POWER: Final = 2.0
_COUNTS: Final = 0.10
"""Share of the stiffness below which a part of unknown expansion is left out."""
_NAME: Final = "mean_expansion_coefficient"


@dataclass(frozen=True, slots=True)
class Strain:
    """Strain draws from room temperature, shape (temperatures, draws), or None with the reason."""

    draws: FloatArray | None
    reason: str | None


def thermal_strain(
    request: EstimateRequest, gathered: Gathered, structure: Structure, latent: Latent
) -> Strain:
    """Mix strains by stiffness: Maxwell's rule, between uniform strain and the volume mean."""
    if request.state.kind in ("fresh", "demoulded", "air-dry"):
        return Strain(None, f"a {request.state.kind} body shrinks as it dries before it expands")
    parts = [part for part in gathered.parts if not part.leaves]
    shares, solid = _shares(gathered, structure)
    bulk = [_bulk(each) for each in solid]
    host = _shear(structure.paste_solid)
    stiff = [share * k / (1.0 + 0.75 * k / host) for share, k in zip(shares, bulk, strict=True)]
    total = sum(stiff, np.zeros(1))
    missing = [
        part.name
        for part, weight in zip(parts, stiff, strict=True)
        if _NAME not in part.curves and float(np.median(weight / total)) > _COUNTS
    ]
    if missing:
        return Strain(None, f"no thermal expansion is held of {', '.join(missing)}")
    rise = np.asarray(request.grid())[:, None] - _ROOM
    strains = [None if _NAME not in part.curves else _strain(part, rise, latent) for part in parts]
    turner = [share * k for share, k in zip(shares, bulk, strict=True)]
    low, middle, high = _mean(turner, strains), _mean(stiff, strains), _mean(shares, strains)
    edges = np.sort(np.stack([low, middle, high]), axis=0)
    weight = latent.weight("rule:strain")
    edge = np.where(weight < 0.5, edges[0], edges[2])  # noqa: PLR2004 - a half
    return Strain(middle + np.abs(2.0 * weight - 1.0) * (edge - middle), None)


def _shares(gathered: Gathered, structure: Structure) -> tuple[list[FloatArray], list[FloatArray]]:
    """Give the share of the body of each part that stays, its pores included, and its solidity."""
    fine = sum(
        (
            solid
            for part, solid in zip(gathered.parts, structure.solids, strict=True)
            if part.is_powder
        ),
        np.zeros(1),
    )
    shares, solid = [], []
    for part, grain, pure in zip(gathered.parts, structure.grains, structure.solids, strict=True):
        if part.leaves:
            continue
        share = structure.paste * pure / np.maximum(fine, 1e-9) if part.is_powder else grain
        shares.append(np.asarray(share))
        full = structure.paste_solid if part.is_powder else pure / np.maximum(grain, 1e-9)
        solid.append(np.clip(full, 1e-3, 1.0))
    return shares, solid


def _bulk(solid: FloatArray) -> FloatArray:
    young = _DENSE_MODULUS.typical * solid**_POWER
    return np.asarray(young / (3.0 * (1.0 - 2.0 * _POISSON)))


def _shear(solid: FloatArray) -> FloatArray:
    return np.asarray(_DENSE_MODULUS.typical * solid**_POWER / (2.0 * (1.0 + _POISSON)))


def _strain(part: Part, rise: FloatArray, latent: Latent) -> FloatArray:
    low, middle, high = part.curves[_NAME].T[:, :, None]
    normals = latent.normal(f"{part.material}:expansion")
    return np.asarray(stretched(normals, low, middle, high) * rise)


def _mean(weights: list[FloatArray], strains: list[FloatArray | None]) -> FloatArray:
    known = [(w, s) for w, s in zip(weights, strains, strict=True) if s is not None]
    total = sum((w for w, _ in known), np.zeros(1))
    return np.asarray(sum((w * s for w, s in known), np.zeros((1, 1))) / total)
