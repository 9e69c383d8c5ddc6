"""In the mixer: water, what the grains soak up, and the gaps the paste does not fill."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.grains import (
    LEAST_VOID,
    MOST_VOID,
    Grains,
    Whole,
    crushed,
    draw_grains,
    mass_of,
)
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.request import EstimateRequest, MixError
from hotface_api.science import accounting

__all__ = ["Mixed", "mixed_batch", "needed_water"]

FloatArray = NDArray[np.float64]
_MOST_AIR: Final = 0.97
_LEAST_WANTED: Final = 1e-300
_LEAST_POURED: Final = 0.05
"""Share of the water a candidate needs that is poured in even where damp parts bring it all."""
_DENSEST: Final = 0.80
"""No heap of grains of all sizes is packed denser than this share of solid grains."""


@dataclass(slots=True)
class Mixed:
    """A batch in the mixer: ``water`` is all there is, ``added`` what is poured in."""

    heaps: list[Grains]
    grains: list[Grains]
    masses: list[FloatArray]
    water: FloatArray
    added: FloatArray
    soaks: list[FloatArray]
    air: FloatArray
    unfilled: FloatArray


def mixed_batch(
    request: EstimateRequest, gathered: Gathered, latent: Latent, whole: Whole
) -> Mixed:
    """Put the constituents and the water together."""
    solid = _Solid.of(request, gathered, latent, whole)
    parts, masses = gathered.parts, solid.masses
    added = _water(request, parts, masses)
    water = added + _brought(parts, masses)
    soaks = _kept_back(parts, masses, _soaks(parts, solid.grains, latent), water)
    air = latent.share("mix:entrapped_air", take.ENTRAPPED_AIR)
    absorbed = sum((m * s for m, s in zip(masses, soaks, strict=True)), np.zeros(1))
    unfilled = _unfilled(parts, solid.heaps, masses, water, absorbed, air, latent)
    air = 1.0 - (1.0 - air) * (1.0 - unfilled)
    if whole.air is not None:
        air = 1.0 - (1.0 - air) * (1.0 - whole.air)
    air = np.minimum(air, _MOST_AIR)
    return Mixed(solid.heaps, solid.grains, masses, water, added, soaks, air, unfilled)


def needed_water(
    request: EstimateRequest, gathered: Gathered, latent: Latent, of_fines: float
) -> FloatArray:
    """Give the water a mix needs to be poured in, kilograms a kilogram of the binder that sets.

    So much a kilogram of its fines, and what its grains soak up, less what damp parts bring.
    """
    solid = _Solid.of(request, gathered, latent, Whole())
    parts, masses = gathered.parts, solid.masses
    soaks = _soaks(parts, solid.grains, latent)
    water = of_fines * _fines(parts, masses)
    water = water + sum((m * s for m, s in zip(masses, soaks, strict=True)), np.zeros(1))
    if any(part.constituent.moisture for part in parts):
        water = np.maximum(water - _brought(parts, masses), _LEAST_POURED * water)
    return np.asarray(water / _setting(parts, masses))


@dataclass(slots=True)
class _Solid:
    """The dry constituents: as heaped, as they lie in the mix, and their masses."""

    heaps: list[Grains]
    grains: list[Grains]
    masses: list[FloatArray]

    @classmethod
    def of(
        cls, request: EstimateRequest, gathered: Gathered, latent: Latent, whole: Whole
    ) -> _Solid:
        """Draw densities, turn amounts into masses and let light grains break."""
        parts = gathered.parts
        heaps = [draw_grains(part, latent) for part in parts]
        masses = [
            mass_of(part, heap, request.mix.parts_by)
            for part, heap in zip(parts, heaps, strict=True)
        ]
        grains = [
            crushed(part, heap, latent, whole) for part, heap in zip(parts, heaps, strict=True)
        ]
        return cls(heaps, grains, masses)


def _fines(parts: list[Part], masses: list[FloatArray]) -> FloatArray:
    fine = (mass for part, mass in zip(parts, masses, strict=True) if part.is_powder)
    return np.asarray(sum(fine, np.zeros(1)))


def _setting(parts: list[Part], masses: list[FloatArray]) -> FloatArray:
    """Give the mass of the binder a ratio of water is meant for.

    Raises
    ------
    MixError
        If there is none.
    """
    binder = [mass for part, mass in zip(parts, masses, strict=True) if part.is_hydraulic]
    if not binder:
        raise MixError("#/mix/water", "the mix holds no hydraulic binder to take the ratio to")
    return np.asarray(sum(binder, np.zeros(1)))


def _soaks(parts: list[Part], grains: list[Grains], latent: Latent) -> list[FloatArray]:
    soaked = latent.share("mix:soaked_pores", take.SOAKED_PORES)
    return [_absorbed(part, each, latent, soaked) for part, each in zip(parts, grains, strict=True)]


def _absorbed(part: Part, grains: Grains, latent: Latent, soaked: FloatArray) -> FloatArray:
    """Give the water a kilogram of grains takes into its pores before the set."""
    if part.is_powder:
        return np.zeros(1)
    pores = np.maximum(1.0 / grains.particle - 1.0 / grains.true, 0.0) * accounting.WATER_DENSITY
    stated = part.triples.get("water_absorption")
    if stated is None:
        return soaked * pores
    early = np.minimum(latent.positive("mix:soaked_share", take.SOAKED_SHARE), 1.0)
    return np.minimum(latent.positive(f"{part.material}:water_absorption", stated) * early, pores)


def _kept_back(
    parts: list[Part], masses: list[FloatArray], soaks: list[FloatArray], water: FloatArray
) -> list[FloatArray]:
    """Keep enough water in the paste: grains cannot suck it dry."""
    wanted = sum((m * s for m, s in zip(masses, soaks, strict=True)), np.zeros(1))
    spare = np.maximum(water - take.PASTE_KEEPS * _fines(parts, masses), 0.0)
    share = np.minimum(spare / np.maximum(wanted, _LEAST_WANTED), 1.0)
    return [soak * share for soak in soaks]


def _unfilled(
    parts: list[Part],
    grains: list[Grains],
    masses: list[FloatArray],
    water: FloatArray,
    absorbed: FloatArray,
    air: FloatArray,
    latent: Latent,
) -> FloatArray:
    """Give the share of the volume that paste too scarce to fill the gaps of the grains leaves.

    Grains cannot lie closer than they pack: where paste and water do not fill the room between
    them, it stays void and the yield is that of the packed grains.
    """
    coarse = [i for i, part in enumerate(parts) if not part.is_powder]
    if not coarse:
        return np.zeros(1)
    volumes = [masses[i] / grains[i].particle for i in range(len(parts))]
    stones = sum((volumes[i] for i in coarse), np.zeros(1))
    bare = sum((volumes[i] * _void_of(grains[i]) for i in coarse), np.zeros(1))
    packed = (1.0 - bare / stones) * latent.positive("mix:compaction", take.COMPACTION)
    least = stones / np.minimum(packed, _DENSEST)
    liquid = np.maximum(water - absorbed, 0.0) / accounting.WATER_DENSITY
    filled = (sum(volumes, np.zeros(1)) + liquid) / (1.0 - air)
    return np.asarray(np.maximum(1.0 - filled / least, 0.0))


def _void_of(grains: Grains) -> FloatArray:
    if grains.loose is None:  # pragma: no cover - every aggregate has a heap
        return np.full(1, take.VOID_SHARE.typical)
    return np.clip(1.0 - grains.loose / grains.particle, LEAST_VOID, MOST_VOID)


def _water(request: EstimateRequest, parts: list[Part], masses: list[FloatArray]) -> FloatArray:
    water = np.atleast_1d(np.asarray(request.mix.water, dtype=np.float64))
    if request.mix.water_kind == "mass":
        return water
    return np.asarray(water * _setting(parts, masses))


def _brought(parts: list[Part], masses: list[FloatArray]) -> FloatArray:
    """Give the water that damp constituents bring along."""
    damp = (
        mass * part.constituent.moisture
        for part, mass in zip(parts, masses, strict=True)
        if part.constituent.moisture
    )
    return np.asarray(sum(damp, np.zeros(1)))
