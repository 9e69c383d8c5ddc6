"""The measured bodies nearest to a mix: stronger evidence than any rule."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sqlalchemy import Connection

from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.nearest import NONE_NEAR, NearSpecimen, nearest_specimens
from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.request import EstimateRequest

__all__ = ["NONE_NEAR", "SHOWN", "near_bodies"]

SHOWN: Final = 5
_LOOKED_AT: Final = 25
_NEAR: Kept[tuple[NearSpecimen, ...]] = Kept(512)


def forget() -> None:
    """Forget the bodies kept."""
    _NEAR.clear()


def near_bodies(
    connection: Connection,
    reference: Reference,
    request: EstimateRequest,
    gathered: Gathered,
    mass_fractions: Mapping[str, float],
    density: Range,
) -> tuple[NearSpecimen, ...]:
    """Find the bodies nearest to a mix, nearest first: more than are shown, for their strength."""
    composition: dict[str, float] = {}
    for part in gathered.parts:
        if part.held_as in reference.materials:
            share = composition.get(part.held_as, 0.0) + mass_fractions[part.material]
            composition[part.held_as] = share
    composition = {name: share for name, share in composition.items() if share > 0}
    if not composition:
        return ()
    key = (
        reference.database_id,
        reference.revision,
        tuple(sorted(composition.items())),
        density.typical,
        request.state.kind,
    )
    kept = _NEAR.get(key)
    if kept is not None:
        return kept
    return _NEAR.put(
        key,
        tuple(
            nearest_specimens(
                connection,
                reference,
                composition=composition,
                density=density.typical,
                state=request.state.kind,
                limit=_LOOKED_AT,
            )
        ),
    )
