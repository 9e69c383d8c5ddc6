"""Heat capacity by mass of what is there in the state asked about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.draws import STATE_INDEX, Batch
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.request import EstimateRequest
from hotface_api.mixes.skeleton import curve_solid
from hotface_api.mixes.structure import Structure
from hotface_api.science import accounting

__all__ = ["Heat", "heat_capacity"]

FloatArray = NDArray[np.float64]
_WATER: Final = 4186.0
"""Liquid water near room temperature, J/(kg.K)."""
_BOILING: Final = 373.15
_LITTLE: Final = 0.01
"""A part below this share of the mass may lack a heat capacity: it counts as the mean."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Specific heat capacity draws, shape (temperatures, draws), or None with the reason."""

    draws: FloatArray | None
    reason: str | None


def heat_capacity(
    request: EstimateRequest,
    gathered: Gathered,
    batch: Batch,
    structure: Structure,
    latent: Latent,
) -> Heat:
    """Mix heat capacities by mass. Heats of dehydration and of quartz are not in it."""
    dry = float(np.median(sum(batch.masses, np.zeros(1))))
    missing = [
        part.name
        for part, mass, gone in zip(gathered.parts, batch.masses, batch.ignited, strict=True)
        if "specific_heat_capacity" not in part.curves
        and float(np.median(mass * (1.0 - gone))) > _LITTLE * dry
    ]
    if missing:
        return Heat(None, f"no specific heat capacity is held of {', '.join(missing)}")
    mass: FloatArray = np.zeros(1)
    heat: FloatArray = np.zeros((1, 1))
    for part, weight, gone in zip(gathered.parts, batch.masses, batch.ignited, strict=True):
        curve = part.curves.get("specific_heat_capacity")
        if curve is None:
            continue
        stays = weight * (1.0 - gone)
        each = curve_solid(curve, latent.normal(f"{part.material}:specific_heat_capacity")).drawn
        mass, heat = mass + stays, heat + stays * each
    mass, heat = _with_water(request, batch, structure, latent, mass, heat)
    return Heat(np.asarray(heat / mass), None)


def _with_water(
    request: EstimateRequest,
    batch: Batch,
    structure: Structure,
    latent: Latent,
    mass: FloatArray,
    heat: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Add bound water with its hydrate's part, and liquid water below boiling."""
    volume = batch.account.volume[:, STATE_INDEX[request.state.kind]]
    bound = structure.bound * volume / accounting.BOUND_WATER_VOLUME
    if np.any(bound > 0):
        mass = mass + bound
        heat = heat + bound * latent.positive("mix:bound_water_heat", take.BOUND_WATER_HEAT)
    if np.any(structure.liquid > 0):
        at = np.asarray(request.grid())[:, None]
        liquid = np.where(at < _BOILING, structure.liquid * volume, 0.0)
        mass, heat = mass + liquid, heat + liquid * _WATER
    return mass, heat
