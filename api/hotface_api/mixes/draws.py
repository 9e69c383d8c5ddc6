"""From the mixer to the kiln: the account of a batch in its states.

Arrays have shape (draws,) or, with the inputs at their middles, (mixes,).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.grains import Grains, Whole
from hotface_api.mixes.inputs import Gathered, Part
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.mixer import Mixed, mixed_batch
from hotface_api.mixes.request import EstimateRequest, State
from hotface_api.science import accounting

__all__ = ["STATE_INDEX", "Batch", "bound_left", "draw_batch"]

FloatArray = NDArray[np.float64]
_MOST_SHRINKAGE: Final = 0.35
"""Linear; a body that shrank by more would not be one piece."""
STATE_INDEX: Final = {"fresh": 0, "demoulded": 1, "air-dry": 2, "dried": 2, "fired": 3}


@dataclass(slots=True)
class Batch:
    """The account of the batch and what it was made from; lists go by constituent.

    ``ignited`` is the share of each that is gone in the state asked about; the account's fired
    column is that of the firing asked about, or of the usual one.
    """

    masses: list[FloatArray]
    grains: list[Grains]
    ignited: list[FloatArray]
    account: accounting.Account
    moisture: FloatArray
    air: FloatArray
    unfilled: FloatArray
    loose_volume: FloatArray | None
    added_water: FloatArray

    @property
    def density(self) -> FloatArray:
        """Give the density in each of ``accounting.STATES``, shape (draws, 4)."""
        return self.account.density


def _firing(state: State) -> State:
    """Give the firing that the fired density is told for: the one asked about, or the usual one."""
    return state if state.kind == "fired" else State("fired")


def _ignited_share(part: Part, firing: State) -> float:
    """Give the share of a part's loss on ignition that a firing drives out."""
    steps = take.BURNT_OUT if part.leaves else take.IGNITED
    return float(np.interp(firing.treated_at, *np.transpose(steps)))


def _fired_share(firing: State) -> float:
    """Give the share of the firing shrinkage that a firing brings."""
    return float(np.interp(firing.treated_at, *np.transpose(take.SHRUNK)))


def bound_left(firing: State) -> float:
    """Give the share of the bound water that a firing leaves in the body."""
    return float(np.interp(firing.treated_at, *np.transpose(take.BOUND_WATER_LEFT)))


def draw_batch(
    request: EstimateRequest, gathered: Gathered, latent: Latent, whole: Whole | None = None
) -> Batch:
    """Draw densities and masses and follow the batch from the mixer to the kiln."""
    mixed = mixed_batch(request, gathered, latent, whole or Whole())
    return _followed(request, gathered.parts, latent, mixed)


def _drawn(part: Part, name: str, latent: Latent) -> FloatArray:
    triple = part.triples.get(name)
    if triple is None:
        return np.zeros(1)
    return latent.positive(f"{part.material}:{name}", triple)


def _stack(columns: list[FloatArray], count: int) -> FloatArray:
    """Put one column a constituent on the last axis of (draws, constituents)."""
    block = np.empty((count, len(columns)))
    for index, column in enumerate(columns):
        block[:, index] = column
    return block


def _followed(request: EstimateRequest, parts: list[Part], latent: Latent, mixed: Mixed) -> Batch:
    count = max(latent.draws, *(len(mass) for mass in mixed.masses))
    firing = _firing(request.state)
    lost = [
        np.minimum(_drawn(part, "loss_on_ignition", latent), 1.0) * _ignited_share(part, firing)
        for part in parts
    ]
    account = accounting.account(
        _stack(mixed.masses, count),
        _stack([g.particle for g in mixed.grains], count),
        _stack([g.true for g in mixed.grains], count),
        mixed.water,
        absorption=_stack(mixed.soaks, count),
        bound_water=_stack([_drawn(part, "bound_water", latent) for part in parts], count),
        loss_on_ignition=_stack(lost, count),
        air=mixed.air,
        early_loss=np.minimum(latent.positive("mix:early_loss", take.EARLY_LOSS), 1.0),
        drying_change=-_shrinkage(parts, mixed, latent, "drying"),
        permanent_change=-_fired_share(firing) * _shrinkage(parts, mixed, latent, "firing"),
        bound_left=bound_left(firing),
    )
    loose = None
    if all(heap.loose is not None for heap in mixed.heaps):
        loose = sum(
            (
                mass / heap.loose
                for mass, heap in zip(mixed.masses, mixed.heaps, strict=True)
                if heap.loose is not None
            ),
            np.zeros(1),
        )
    moisture = _moisture(request, parts, mixed, latent)
    gone = lost if request.state.kind == "fired" else [np.zeros(1)] * len(parts)
    return Batch(
        mixed.masses,
        mixed.grains,
        gone,
        account,
        moisture,
        mixed.air,
        mixed.unfilled,
        loose,
        mixed.added,
    )


def _shrinkage(parts: list[Part], mixed: Mixed, latent: Latent, when: str) -> FloatArray:
    """Give the linear shrinkage of the body: that of its paste, held back by its grains."""
    by_class = take.DRYING_SHRINKAGE if when == "drying" else take.FIRING_SHRINKAGE
    fine: FloatArray = np.zeros(1)
    shrinks: FloatArray = np.zeros(1)
    stones: FloatArray = np.zeros(1)
    for part, mass, grains in zip(parts, mixed.masses, mixed.grains, strict=True):
        volume = mass / grains.particle
        if part.is_powder:
            own = latent.positive(f"mix:{when}_shrinkage", by_class[part.binder])
            fine, shrinks = fine + volume, shrinks + volume * own
        else:
            stones = stones + volume
    wet = fine + mixed.water / accounting.WATER_DENSITY
    body = shrinks / fine * (wet / (wet + stones)) ** take.RESTRAINT
    return np.minimum(body, _MOST_SHRINKAGE)


def _moisture(
    request: EstimateRequest, parts: list[Part], mixed: Mixed, latent: Latent
) -> FloatArray:
    """Give the liquid water of the air-dry body by mass of its dry mass."""
    if request.state.kind != "air-dry":
        return np.zeros(1)
    if request.state.moisture is not None:
        return np.full(1, request.state.moisture)
    held = np.zeros(1)
    for part, mass in zip(parts, mixed.masses, strict=True):
        if part.is_powder:
            holds = take.AIR_DRY_MOISTURE[part.binder]
            held = held + mass * latent.positive("mix:moisture", holds)
    return np.asarray(held / sum(mixed.masses, np.zeros(1)))
