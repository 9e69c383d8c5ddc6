"""The caller's own densities against what is held of the material they are given for.

A grade may differ from every held one, so that a figure past the ends of what is held is taken as
long as it stays possible: no heap is heavier than its grains, no grain than its pore-free solid. A
heap or grain more than a quarter past the high end of the other, or a pore-free solid lighter than
the typical grain, is a slip. Of a grain whose density is taken from its pore-free one, that one
given a quarter past either end of what is held is a slip too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from hotface_api.mixes.desk import Held
from hotface_api.mixes.request import MixError, Triple

if TYPE_CHECKING:
    from hotface_api.mixes.inputs import Part

__all__ = ["check_own"]

_PAST: Final = 1.25
_DENSEST_HEAP: Final = 0.78
"""Share of grains in the densest heap drawn; of a powder about the same."""


def check_own(part: Part, known: Held, pointer: str) -> None:
    """Refuse an own density that the held (or taken) others of a held material make impossible.

    Parameters
    ----------
    part : Part
    known : Held
        What is held of it.
    pointer : str
        Of the constituent.

    Raises
    ------
    MixError
        At the figure, with the range it is held against.
    """
    own = part.constituent.properties
    true, grain = known.triples.get("true_density"), known.triples.get("particle_density")
    if "true_density" in own:
        true = None
        given = own["true_density"]
        if grain is not None and given.high < grain.typical:
            where = f"{pointer}/properties/true_density"
            raise _impossible(part, where, given, "is below what a grain", grain)
        solid = known.triples["true_density"] if part.is_taken_dense else None
        if solid is not None and not (solid.low / _PAST <= given.typical <= solid.high * _PAST):
            where = f"{pointer}/properties/true_density"
            raise _impossible(part, where, given, "is far from what the pore-free solid", solid)
    if "particle_density" in own:
        given = own["particle_density"]
        if true is not None and given.low > true.high * _PAST:
            where = f"{pointer}/properties/particle_density"
            raise _impossible(part, where, given, "is above what the pore-free solid", true)
    elif (densest := grain or true) is not None:
        _check_heap(part, densest.scaled(_DENSEST_HEAP), pointer)


def _check_heap(part: Part, heap: Triple, pointer: str) -> None:
    """Hold a weighed bucket, else an own loose density, to the densest heap of the grains."""
    weighed = part.constituent.bucket is not None
    if not weighed and "loose_bulk_density" not in part.constituent.properties:
        return
    given = part.triples["loose_bulk_density"]
    if given.low > heap.high * _PAST:
        where = f"{pointer}/bucket" if weighed else f"{pointer}/properties/loose_bulk_density"
        raise _impossible(part, where, given, "is above what the densest heap", heap)


def _impossible(part: Part, pointer: str, own: Triple, words: str, held: Triple) -> MixError:
    return MixError(
        pointer,
        f"{own.typical:.0f} kg/m3 {words} of {part.name.lower()} weighs by what is held,"
        f" {held.low:.0f} to {held.high:.0f} kg/m3; check the unit, or give its other"
        " densities too",
    )
