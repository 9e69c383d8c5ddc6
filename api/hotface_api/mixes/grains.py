"""Densities and masses of the constituents as they go into the mixer.

Densities of grains are drawn through the void share of their heap: the grade decides loose and
grain density together, and no draw has a heap heavier than its grains. Arrays have shape (draws,)
or, with the inputs at their middles, (mixes,).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.dense import GRAIN_POROSITY
from hotface_api.mixes.inputs import Part
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.request import Triple

__all__ = ["LEAST_VOID", "MOST_VOID", "Grains", "Whole", "crushed", "draw_grains", "mass_of"]

FloatArray = NDArray[np.float64]
LEAST_VOID: Final = 0.22
MOST_VOID: Final = 0.75
_OF_TRUE: Final = 0.985
"""A grain with its own pores stays below its pore-free density by at least this share."""
_POWDER_PACKING: Final = 0.8
_MOST_DENSE_PORES: Final = 0.2
"""A grain with more pores than this is not dense by any reading, not even in a rare draw."""


@dataclass(slots=True)
class Grains:
    """Densities of one constituent: of its heap (or None), of a grain, and without pores."""

    loose: FloatArray | None
    particle: FloatArray
    true: FloatArray


@dataclass(slots=True)
class Whole:
    """What turns the drawn mix into the measured one: added air and crushed grains, per draw.

    ``air`` is a share of the fresh volume on top of what is entrapped; ``crush`` scales the volume
    of the light grains.
    """

    air: FloatArray | None = None
    crush: float = 1.0

    @property
    def is_none(self) -> bool:
        """Tell whether nothing is added."""
        return self.air is None and self.crush >= 1.0


def _clip(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _void(part: Part) -> Triple:
    """Give the void share of a poured heap: about its own two densities, else as assumed."""
    loose, grain = part.triples.get("loose_bulk_density"), part.triples.get("particle_density")
    if loose is None or grain is None:
        return take.VOID_SHARE
    middle = _clip(1 - loose.typical / grain.typical, 0.30, 0.60)
    return Triple(middle - 0.06, middle, middle + 0.06)


def _own_loose(part: Part) -> bool:
    given = part.constituent
    return given.bucket is not None or "loose_bulk_density" in given.properties


def _aggregate(part: Part, latent: Latent) -> tuple[FloatArray, FloatArray]:
    """Draw loose and particle density of an aggregate together."""
    name = part.material
    loose, grain = part.triples.get("loose_bulk_density"), part.triples.get("particle_density")
    own_grain = "particle_density" in part.constituent.properties
    if own_grain and _own_loose(part) and loose is not None and grain is not None:
        heap = latent.positive(f"{name}:loose_bulk_density", loose)
        drawn = latent.positive(f"{name}:particle_density", grain)
        return heap, np.maximum(drawn, heap / (1.0 - LEAST_VOID))
    void = np.clip(latent.share(f"{name}:void_share", _void(part)), LEAST_VOID, MOST_VOID)
    if grain is not None and (own_grain or loose is None):
        drawn = latent.positive(f"{name}:particle_density", grain)
        return drawn * (1.0 - void), drawn
    if loose is None:  # pragma: no cover - inputs.gather asks for one of the two
        raise AssertionError
    heap = latent.positive(f"{name}:loose_bulk_density", loose)
    return heap, heap / (1.0 - void)


def _dense(part: Part, true: FloatArray, latent: Latent) -> Grains:
    """Draw a grain that is dense by kind: its pore-free solid less a few pores.

    A weighed heap is taken as weighed; its grains are at least as dense as it packs.
    """
    pores = latent.share(f"{part.material}:{GRAIN_POROSITY}", part.triples[GRAIN_POROSITY])
    particle = np.asarray(true * (1.0 - np.minimum(pores, _MOST_DENSE_PORES)))
    loose = part.triples.get("loose_bulk_density")
    if loose is not None:
        heap = latent.positive(f"{part.material}:loose_bulk_density", loose)
        return Grains(heap, np.minimum(np.maximum(particle, heap / (1.0 - LEAST_VOID)), true), true)
    void = np.clip(latent.share(f"{part.material}:void_share", _void(part)), LEAST_VOID, MOST_VOID)
    return Grains(particle * (1.0 - void), particle, true)


def draw_grains(part: Part, latent: Latent) -> Grains:
    """Draw the densities of one constituent."""
    name = part.material
    true = latent.positive(f"{name}:true_density", part.triples["true_density"])
    if part.is_powder:
        loose = part.triples.get("loose_bulk_density")
        heap = None
        if loose is not None:
            heap = latent.positive(f"{name}:loose_bulk_density", loose)
            heap = np.minimum(heap, _POWDER_PACKING * true)
        return Grains(heap, true, true)
    if part.is_taken_dense:
        return _dense(part, true, latent)
    heap, particle = _aggregate(part, latent)
    return Grains(heap, particle, np.maximum(true, particle / _OF_TRUE))


def mass_of(part: Part, grains: Grains, parts_by: str | None) -> FloatArray:
    """Turn an amount into dry mass: by the heap, by the grain, or as weighed."""
    constituent = part.constituent
    amount: Any = np.atleast_1d(constituent.amount)
    if constituent.amount_kind == "mass" or (
        constituent.amount_kind == "parts" and parts_by == "mass"
    ):
        return np.asarray(amount / (1.0 + constituent.moisture), dtype=np.float64)
    by_loose = parts_by == "loose" if parts_by else constituent.measured_as == "loose"
    if by_loose and grains.loose is not None:
        return np.asarray(amount * grains.loose)
    return np.asarray(amount * grains.particle)


def crushed(part: Part, grains: Grains, latent: Latent, whole: Whole) -> Grains:
    """Let light grains break in the mixer: they take less room and keep their mass."""
    if part.is_powder:
        return grains
    factor: FloatArray | None = None
    stated = part.triples.get("crush_factor")
    light = grains.particle < take.CRUSHES_BELOW
    if stated is not None:
        factor = latent.positive(f"{part.material}:crush", stated)
    elif np.any(light) and not part.leaves:
        drawn = np.minimum(latent.positive(f"{part.material}:crush", take.CRUSH), 1.0)
        factor = np.where(light, drawn, 1.0)
    if whole.crush < 1.0 and not part.leaves:
        factor = whole.crush * (np.ones(1) if factor is None else factor)
    if factor is None:
        return grains
    top = grains.true if part.is_taken_dense else _OF_TRUE * grains.true
    return Grains(grains.loose, np.minimum(grains.particle / factor, top), grains.true)
