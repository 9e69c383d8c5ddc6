"""What fills a body in its state: grains, paste, voids and where the water sits.

Shares are of the body's volume in the state asked about. Everything follows from the account of
the batch, so that what is weighed and what conducts are the same solids.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.draws import STATE_INDEX, Batch
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.request import EstimateRequest
from hotface_api.science import accounting

__all__ = ["Structure", "structure_of"]

FloatArray = NDArray[np.float64]
_LEAST_ROOM: Final = 0.02
_LEAST_SOLID, _MOST_SOLID = 0.02, 0.97


@dataclass(slots=True)
class Structure:
    """Shares of a body, shape (draws,); lists go by constituent.

    Attributes
    ----------
    grains : list
        Volume of each grain, its pores included, over that of the body; zero for powders.
    solids : list
        Pore-free volume of each constituent over that of the body.
    bound : ndarray
        Volume of bound water over that of the body.
    paste : ndarray
        Volume of paste, its fine pores included, over that of the body.
    paste_solid : ndarray
        Share of the paste that is solid.
    voids : ndarray
        Share of the body that is air voids.
    grain_water, paste_water : ndarray
        Share of the pores of grains and of paste that liquid water fills.
    liquid : ndarray
        Mass of liquid water over the volume of the body, kg/m3.
    """

    grains: list[FloatArray]
    solids: list[FloatArray]
    bound: FloatArray
    paste: FloatArray
    paste_solid: FloatArray
    voids: FloatArray
    grain_water: FloatArray
    paste_water: FloatArray
    liquid: FloatArray

    @property
    def light(self) -> FloatArray:
        """Give the share of the body that is air voids and the pores of its grains."""
        pairs = zip(self.grains, self.solids, strict=True)
        pores = (np.maximum(grain - solid, 0.0) for grain, solid in pairs)
        return np.asarray(self.voids + sum(pores, np.zeros(1)))


def structure_of(request: EstimateRequest, gathered: Gathered, batch: Batch) -> Structure:
    """Divide the body into grains, paste and voids."""
    account, index = batch.account, STATE_INDEX[request.state.kind]
    volume = account.volume[:, index]
    left = [1.0 - gone for gone in batch.ignited]
    solids = [
        mass / grains.true * stays / volume
        for mass, grains, stays in zip(batch.masses, batch.grains, left, strict=True)
    ]
    coarse = [
        np.zeros(1) if part.is_powder else mass / grains.particle / volume
        for part, mass, grains in zip(gathered.parts, batch.masses, batch.grains, strict=True)
    ]
    bound = _bound(request, batch) / volume
    voids = np.asarray(batch.air)
    stones = sum(coarse, np.zeros(1))
    paste = np.maximum(1.0 - stones - voids, _LEAST_ROOM)
    fine = [solid for part, solid in zip(gathered.parts, solids, strict=True) if part.is_powder]
    paste_solid = np.clip((sum(fine, np.zeros(1)) + bound) / paste, _LEAST_SOLID, _MOST_SOLID)
    liquid = _liquid(request, batch) / volume
    grain_water, paste_water = _where_water_sits(
        request,
        gathered,
        batch,
        liquid,
        paste * (1.0 - paste_solid),
        [share - solid for share, solid in zip(coarse, solids, strict=True)],
    )
    return Structure(
        coarse, solids, bound, paste, paste_solid, voids, grain_water, paste_water, liquid
    )


def _bound(request: EstimateRequest, batch: Batch) -> FloatArray:
    """Give the volume of bound water in the state."""
    kind, account = request.state.kind, batch.account
    if kind == "fresh":
        return np.zeros(1)
    bound = account.water_bound
    if kind == "fired":
        stays = account.masses.sum(-1) - sum(
            (mass * gone for mass, gone in zip(batch.masses, batch.ignited, strict=True)),
            np.zeros(1),
        )
        bound = np.maximum(account.mass[:, 3] - stays, 0.0)
    return np.asarray(bound * accounting.BOUND_WATER_VOLUME)


def _liquid(request: EstimateRequest, batch: Batch) -> FloatArray:
    """Give the mass of liquid water in the state."""
    kind, account = request.state.kind, batch.account
    if kind == "air-dry":
        return np.asarray(batch.moisture * account.mass[:, 2])
    if kind == "fresh":
        return np.asarray(account.water_free + account.water_absorbed)
    if kind == "demoulded":
        return np.maximum(account.mass[:, 1] - account.mass[:, 2], 0.0)
    return np.zeros(1)


def _where_water_sits(
    request: EstimateRequest,
    gathered: Gathered,
    batch: Batch,
    liquid: FloatArray,
    paste_pores: FloatArray,
    grain_pores: list[FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Fill fine pores first: those of the paste, then those of the grains.

    In a fresh mix the grains hold what they soaked up and the paste the rest.
    """
    if not np.any(liquid > 0):
        return np.zeros(1), np.zeros(1)
    inside = sum(
        (
            np.maximum(pores, 0.0)
            for part, pores in zip(gathered.parts, grain_pores, strict=True)
            if not part.is_powder
        ),
        np.zeros(1),
    )
    water = liquid / accounting.WATER_DENSITY
    soaked = np.zeros(1)
    if request.state.kind == "fresh":
        soaked = (
            batch.account.water_absorbed / accounting.WATER_DENSITY / (batch.account.volume[:, 0])
        )
    in_paste = np.minimum(water - soaked, paste_pores)
    in_grains = np.minimum(water - in_paste, inside)
    return (in_grains / np.maximum(inside, 1e-9), in_paste / np.maximum(paste_pores, 1e-9))
