"""Candidate mixes: choices of what is on hand, and shares within their bounds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.priors import binder_of
from hotface_api.mixes.request import MAX_CONSTITUENTS, Constituent, MixError

__all__ = ["OnHand", "check_on_hand", "drawn_shares", "sets_with_water", "subsets"]

FloatArray = NDArray[np.float64]
_MOST_CHOICES: Final = 128
_LEAST_SHARE: Final = 0.01
"""A part that is in a mix makes up at least this share of it."""
_SETS: Final = ("hydraulic", "gypsum")


@dataclass(frozen=True, slots=True)
class OnHand:
    """A material on hand: a constituent whose amount is open, and the bounds of its share.

    A least share of zero lets the search leave the material out.
    """

    constituent: Constituent
    least: float = 0.0
    most: float = 1.0


def check_on_hand(on_hand: Sequence[OnHand]) -> None:
    """Refuse bounds that cannot add up to one.

    Raises
    ------
    MixError
    """
    if not 1 <= len(on_hand) <= MAX_CONSTITUENTS:
        raise MixError("#/on_hand", f"between 1 and {MAX_CONSTITUENTS} materials on hand")
    seen: set[str] = set()
    for index, each in enumerate(on_hand):
        pointer = f"#/on_hand/{index}"
        if each.constituent.material in seen:
            raise MixError(f"{pointer}/material", f"{each.constituent.material} stands twice")
        seen.add(each.constituent.material)
        if not 0 <= each.least <= each.most <= 1 or math.isnan(each.least + each.most):
            raise MixError(f"{pointer}/share", "0 <= least share <= most share <= 1")
    least, most = sum(each.least for each in on_hand), sum(each.most for each in on_hand)
    if least > 1 + 1e-9:
        raise MixError("#/on_hand", f"the least shares add up to {least:.3g}, more than the whole")
    if most < 1 - 1e-9:
        raise MixError("#/on_hand", f"the most shares add up to {most:.3g}, less than the whole")


def sets_with_water(reference: Reference, part: Constituent) -> bool:
    """Tell whether a material sets with water, so that a mix of it holds."""
    name = part.like or part.material
    row = reference.materials.get(name)
    kind = part.kind or ("" if row is None else str(row["kind"]))
    return kind == "binder" and binder_of(name, kind) in _SETS


def subsets(
    reference: Reference, on_hand: Sequence[OnHand], candidates: int, seed: int
) -> Iterator[tuple[tuple[OnHand, ...], int]]:
    """Give choices of materials and how many candidates each is given.

    Each can add up to a whole and holds a binder that sets. All choices if they are few, else
    as many drawn at random.

    Raises
    ------
    MixError
        If no choice holds a hydraulic binder.
    """
    needed = [index for index, each in enumerate(on_hand) if each.least > 0]
    optional = [index for index, each in enumerate(on_hand) if each.least == 0 < each.most]
    if len(optional) <= math.log2(_MOST_CHOICES):
        bits: Sequence[int] = range(2 ** len(optional))
    else:
        generator = np.random.default_rng([seed, 7])
        drawn = generator.integers(0, 2, (4 * _MOST_CHOICES, len(optional)))
        bits = sorted({int("".join(map(str, row)), 2) for row in drawn})
    choices = []
    for bit in bits:
        inside = [index for place, index in enumerate(optional) if bit >> place & 1]
        chosen = tuple(on_hand[index] for index in sorted([*needed, *inside]))
        if (
            chosen
            and sum(each.most for each in chosen) >= 1 - 1e-9
            and any(sets_with_water(reference, each.constituent) for each in chosen)
        ):
            choices.append(chosen)
    if not choices:
        raise MixError("#/on_hand", "no choice of these materials holds a binder that sets")
    choices = choices[: min(_MOST_CHOICES, candidates)]
    each, extra = divmod(candidates, len(choices))
    for index, chosen in enumerate(choices):
        count = each + (index < extra)
        if count:
            yield chosen, count


def drawn_shares(parts: Sequence[OnHand], count: int, generator: np.random.Generator) -> FloatArray:
    """Draw shares within their bounds that add up to one, shape (parts, count).

    Drawn evenly in the box of the bounds and moved along its diagonal until they add up; rounded
    to three digits, so that the mix can be written down and estimated again.
    """
    low = np.array([max(each.least, min(_LEAST_SHARE, each.most)) for each in parts])[:, None]
    high = np.array([each.most for each in parts])[:, None]
    drawn = low + (high - low) * generator.random((len(parts), count))
    total = drawn.sum(0)
    room_down = np.maximum(total - low.sum(), 1e-12)
    room_up = np.maximum(high.sum() - total, 1e-12)
    down = low + (drawn - low) * (1.0 - low.sum()) / room_down
    up = high - (high - drawn) * (high.sum() - 1.0) / room_up
    shares = np.where(total > 1.0, down, up)
    return np.asarray(np.round(np.clip(shares, 1e-3, 1.0), 3))
