"""What every estimate takes for granted, and what a reader has to be told of this one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.draws import bound_left
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.model import Case, Run
from hotface_api.mixes.priors import Priors
from hotface_api.mixes.request import EstimateRequest, MixError
from hotface_api.mixes.service import ServiceLimit

__all__ = ["check_mixed", "check_parts", "general", "told_of_limit", "told_of_run"]

_ZERO: Final = 273.15
_BOILING: Final = 373.15
_SOUP: Final = 10.0
_UNFILLED: Final = 0.01
_FINE_ENOUGH: Final = 0.02


def check_parts(gathered: Gathered, request: EstimateRequest) -> None:
    """Refuse a mix that has nothing to hold it together, or no binder to take a ratio to.

    Raises
    ------
    MixError
    """
    if request.mix.water_kind == "ratio_to_binder" and not any(
        part.is_hydraulic for part in gathered.parts
    ):
        raise MixError("#/mix/water", "the mix holds no hydraulic binder to take the ratio to")
    if not any(part.is_powder for part in gathered.parts):
        raise MixError(
            "#/mix/constituents", "the mix holds no binder: nothing joins its grains into a body"
        )
    if all(part.leaves for part in gathered.parts if part.is_powder):
        raise MixError("#/mix/constituents", "all that joins the grains leaves on firing")


def check_mixed(case: Case, found: Run) -> None:
    """Refuse water the mix could never use or hold, and tell of water that is short or too much.

    Raises
    ------
    MixError
    """
    account, gathered = found.batch.account, case.gathered
    solids = account.absolute_volumes.sum(-1)
    water = (account.water_free + account.water_absorbed) / 1000.0
    if float(np.median(water / solids)) > _SOUP:
        raise MixError("#/mix/water", "the water is more than ten times the volume of the solids")
    needed = sum(
        (
            mass * part.triples["bound_water"].typical
            for part, mass in zip(gathered.parts, found.batch.masses, strict=True)
            if part.kind == "binder" and "bound_water" in part.triples
        ),
        np.zeros(1),
    )
    ratio = float(np.median(water * 1000.0 / needed)) if np.all(needed > 0) else np.inf
    if ratio < 0.5:  # noqa: PLR2004 - half of what it binds cannot even wet it
        least = float(np.median(needed))
        raise MixError(
            "#/mix/water",
            f"the binder binds about {least:.3g} kg of water by itself and the mix holds"
            f" {ratio * least:.3g} kg",
        )
    if ratio < 1.2:  # noqa: PLR2004 - a fifth beyond what is bound is the least that wets grains
        gathered.assume(
            "water_short",
            f"The water is {ratio:.1f} times what the binder binds: it may not wet and set fully.",
        )
    _tell_of_room(case, found)


def _tell_of_room(case: Case, found: Run) -> None:
    """Tell of paste that does not fill the gaps of the grains, and of water that runs out."""
    unfilled = float(np.median(found.batch.unfilled))
    if unfilled > _UNFILLED:
        case.gathered.assume(
            "paste_short",
            "Paste and water do not fill the gaps between the packed grains:"
            f" {100 * unfilled:.0f} % of the volume is taken to stay void.",
        )
    account = found.batch.account
    fine = sum(
        (
            mass / grains.true
            for part, mass, grains in zip(
                case.gathered.parts, found.batch.masses, found.batch.grains, strict=True
            )
            if part.is_powder
        ),
        np.zeros(1),
    )
    free = account.water_free / 1000.0
    if float(np.median(free / fine)) > 6.0:  # noqa: PLR2004 - thinner than any slurry that stays mixed
        case.gathered.assume(
            "water_bleeds",
            "The water outside the grains is more than six times the volume of the fines: it will"
            " run out or stand on top, and the mix will not keep the volume computed.",
        )


def _told_of_measures(case: Case) -> None:
    """Tell what is taken of how the parts were measured and of how they fare in the mixer."""
    request, gathered = case.request, case.gathered
    by_heap = request.mix.parts_by == "loose"
    poured, breaking = [], []
    for part in gathered.parts:
        given = part.constituent
        loose = by_heap or (given.amount_kind == "volume" and given.measured_as == "loose")
        own = given.bucket is not None or "loose_bulk_density" in given.properties
        if loose and given.fill is None and not own:
            poured.append(part.material)
        if part.is_powder or part.leaves or "crush_factor" in part.triples:
            continue
        grain = part.triples.get("particle_density")
        heap = part.triples.get("loose_bulk_density")
        if grain is None and heap is not None:
            grain = heap.scaled(1.0 / (1.0 - take.VOID_SHARE.typical))
        if grain is not None and grain.typical < take.CRUSHES_BELOW:
            breaking.append(part.material)
    if poured:
        gathered.assume(
            "poured_taken",
            f"Measures filled by pouring, not shaken or pressed: {', '.join(poured)}.",
        )
    if breaking:
        low, high = take.CRUSH.low, take.CRUSH.high
        gathered.assume(
            "crush_taken",
            f"Very light grains are taken to keep {100 * low:.0f} to {100 * high:.0f} % of their"
            f" volume in the mixer, where no crush factor is given: {', '.join(breaking)}.",
        )


def told_of_run(case: Case) -> None:
    """Tell what the measures, the state and the temperatures asked for mean."""
    _told_of_measures(case)
    request, gathered = case.request, case.gathered
    at, state = request.temperatures(), request.state
    if state.kind == "fired" and max(at) > state.treated_at + 1.0:
        gathered.assume(
            "hotter_than_fired",
            f"Values above {state.treated_at - _ZERO:.0f} Cel are those of a body fired no hotter:"
            " it will shrink and change there.",
        )
    if state.kind == "fired" and bound_left(state) > 0:
        gathered.assume(
            "partly_dehydrated",
            f"At {state.treated_at - _ZERO:.0f} Cel {100 * bound_left(state):.0f} % of the bound"
            " water is taken to be still there.",
        )
    if state.kind == "dried" and max(at) > max(state.treated_at, 473.15) + 1.0:
        gathered.assume(
            "dried_and_hot",
            "A dried body gives off its bound water when it is heated further; values above 200"
            " Cel are those of the body before that.",
        )
    if state.kind == "air-dry" and max(at) >= _BOILING:
        gathered.assume(
            "moisture_gone", "From 100 Cel on the moisture is taken to be gone from the pores."
        )


def told_of_limit(request: EstimateRequest, gathered: Gathered, limit: ServiceLimit) -> None:
    """Tell where a temperature asked for lies above what the mix is good for."""
    top = max(request.temperatures())
    if limit.high is not None and top > limit.high:
        name = limit.limited_by or "a part"
        gathered.assume(
            "above_limit",
            f"{top - _ZERO:.0f} Cel is above what this mix is good for"
            f" ({limit.high - _ZERO:.0f} Cel, by {name}): values there are those of a body that"
            " would not last.",
        )


def general(case: Case) -> list[Assumption]:
    """State what every estimate takes for granted."""
    skeleton = _skeleton_told(case.priors)
    found = [
        Assumption(
            "taken_dry", "Constituents are taken as dry where no moisture of theirs is given."
        ),
        Assumption("entrapped_air", "Entrapped air taken as 1 to 8 % of the fresh volume."),
        Assumption(
            "soaked_pores",
            "Grains of no stated absorption take up water in 2 to 30 % of their own pores.",
        ),
        Assumption("paste_skeleton", skeleton),
        Assumption(
            "pore_size",
            "Pore sizes not given are taken by decades: grains 0.02 to 2 mm, paste 0.0001 to"
            " 0.1 mm, voids 0.1 to 2 mm.",
        ),
        Assumption(
            "rule_spread",
            f"What the rules miss is drawn with {100 * case.priors.rule_spread:.0f} % on top.",
        ),
    ]
    if case.request.state.kind == "fired":
        found.append(
            Assumption(
                "firing_shrinkage",
                "Firing shrinkage of the paste taken by class of binder (cement 0.05 to 1.5 %,"
                " clay 0.5 to 8 %), held back by the grains.",
            )
        )
    return found


def _skeleton_told(priors: Priors) -> str:
    lows: Mapping[tuple[str, str], float] = {k: t.low for k, t in priors.skeleton.items()}
    highs = [triple.high for triple in priors.skeleton.values()]
    return (
        "The pore-free part of a paste is taken to conduct less than the dense minerals, because"
        f" drying and firing crack it: {min(lows.values()):.2g} to {max(highs):.2g} W/(m.K) by"
        " class of binder, fitted to measured bodies."
    )
