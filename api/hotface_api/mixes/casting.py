"""What fills a mould: how much of the mix, how much of each constituent, what the piece weighs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.answer import Casting, CastPart, ranges_of
from hotface_api.mixes.drying import CEMENT, DryingPractice, drying_practice
from hotface_api.mixes.inputs import Part
from hotface_api.mixes.model import Case, Run
from hotface_api.mixes.request import Mould
from hotface_api.science.accounting import STATES

__all__ = ["casting_of"]

FloatArray = NDArray[np.float64]


def casting_of(connection: Connection, reference: Reference, case: Case, found: Run) -> Casting:
    """Tell what fills the mould of a request, from the draws of a run.

    The size of the mix in parts is that of one part as a cubic metre (or kilogram), so that how
    often it fills the mould is how big one part has to be.
    """
    mould = case.request.mould
    if mould is None:  # pragma: no cover - asked only with a mould
        raise AssertionError
    batch, parts = found.batch, case.gathered.parts
    account = batch.account
    filled = mould.volume * (1.0 + mould.spare) / account.fresh_volume
    amounts = [np.asarray(part.constituent.amount * filled) for part in parts]
    dry = [np.asarray(account.masses[:, i] * filled) for i in range(len(parts))]
    piece = account.mass.T / account.fresh_volume * mould.volume
    rows = [filled, np.asarray(batch.added_water * filled), *dry, *amounts, *piece]
    size, water, *rest = ranges_of(rows, case.request.coverage)
    count = len(parts)
    by = case.request.mix.parts_by
    return Casting(
        mould_volume=mould.volume,
        spare=mould.spare,
        batches=None if by else size,
        one_part=size if by else None,
        constituents=tuple(
            _cast_part(part, by, rest[i], rest[count + i]) for i, part in enumerate(parts)
        ),
        water=water,
        piece=dict(zip(STATES, rest[2 * count :], strict=True)),
        drying=_drying(connection, reference, case, found, mould),
    )


def _cast_part(part: Part, parts_by: str | None, dry: Range, amount: Range) -> CastPart:
    given = part.constituent
    if given.amount_kind == "mass" or (given.amount_kind == "parts" and parts_by == "mass"):
        return CastPart(part.material, dry, amount, "mass", None)
    return CastPart(part.material, dry, amount, "volume", parts_by or given.measured_as)


def _drying(
    connection: Connection, reference: Reference, case: Case, found: Run, mould: Mould
) -> DryingPractice | None:
    """Tell what is printed on drying, with the water of the piece, where a thickness is given."""
    if mould.thickness is None:
        return None
    account = found.batch.account
    a_piece = mould.volume / account.fresh_volume
    unbound = np.maximum(account.mass[:, 1] - account.mass[:, 2], 0.0) * a_piece
    bound = account.water_bound * a_piece
    water = ranges_of([unbound, np.asarray(bound)], case.request.coverage)
    names = [part.held_as for part in case.gathered.parts]
    lime = _lime(reference, case.gathered.parts, account.mass_fractions)
    return drying_practice(
        connection, reference, names, mould.thickness, (water[0], water[1]), lime
    )


def _lime(reference: Reference, parts: Sequence[Part], shares: FloatArray) -> float | None:
    """Give the share of CaO that cement brings, or None where that of one is not held."""
    cements = [
        (i, part) for i, part in enumerate(parts) if reference.family_of(part.held_as) == CEMENT
    ]
    if not all("CaO" in part.oxides for _, part in cements):
        return None
    return float(sum(part.oxides["CaO"] * np.median(shares[:, i]) for i, part in cements))
