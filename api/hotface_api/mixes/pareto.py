"""Which candidates are worth a look: those that no other beats in every wish."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["front", "spread"]

FloatArray = NDArray[np.float64]
_BLOCK: Final = 512


def front(costs: FloatArray) -> NDArray[np.intp]:
    """Give the rows that no other row matches or beats everywhere and beats somewhere.

    Parameters
    ----------
    costs : ndarray, shape (n, wishes)
        What is to be small.

    Returns
    -------
    ndarray
        Their places, in rising order of the first wish; of equal rows the first.

    Notes
    -----
    Sorted by the sum of ranks first, so that the strongest candidates clear the field early: each
    block is compared with the front found so far and then within itself.
    """
    if len(costs) == 0:
        return np.zeros(0, dtype=np.intp)
    order = np.lexsort((*costs.T[::-1], _strength(costs)))
    kept = np.zeros(0, dtype=np.intp)
    for start in range(0, len(order), _BLOCK):
        block = order[start : start + _BLOCK]
        block = block[~_beaten(costs[block], costs[kept])]
        for place in _within(costs[block]):
            kept = np.append(kept, block[place])
    return np.asarray(kept[np.lexsort(costs[kept].T[::-1])])


def _strength(costs: FloatArray) -> FloatArray:
    ranks = np.argsort(np.argsort(costs, axis=0, kind="stable"), axis=0, kind="stable")
    return np.asarray(ranks.sum(-1), dtype=np.float64)


def _beaten(costs: FloatArray, by: FloatArray) -> NDArray[np.bool_]:
    """Tell which rows are matched or beaten everywhere by one of the others."""
    found = np.zeros(len(costs), dtype=np.bool_)
    for start in range(0, len(by), _BLOCK):
        against = by[start : start + _BLOCK]
        found |= np.any(np.all(against[None, :, :] <= costs[:, None, :], axis=-1), axis=-1)
    return found


def _within(costs: FloatArray) -> list[int]:
    """Give the front of one block, whose strongest rows come first."""
    kept: list[int] = []
    for place in range(len(costs)):
        if not kept or not _beaten(costs[[place]], costs[kept])[0]:
            kept = [k for k in kept if not _beaten(costs[[k]], costs[[place]])[0]]
            kept.append(place)
    return kept


def spread(costs: FloatArray, count: int) -> NDArray[np.intp]:
    """Choose rows of a front that lie well apart: the best of each wish, then the loneliest.

    Parameters
    ----------
    costs : ndarray, shape (n, wishes)
        The front.
    count : int
        How many at most.

    Returns
    -------
    ndarray
        Places in rising order.
    """
    if len(costs) <= count:
        return np.arange(len(costs))
    low, high = costs.min(0), costs.max(0)
    scaled = (costs - low) / np.where(high > low, high - low, 1.0)
    chosen = list(dict.fromkeys(int(place) for place in np.argmin(scaled, axis=0)))[:count]
    distance = np.min(
        np.linalg.norm(scaled[:, None, :] - scaled[chosen][None, :, :], axis=-1), axis=-1
    )
    while len(chosen) < count:
        furthest = int(np.argmax(distance))
        chosen.append(furthest)
        distance = np.minimum(distance, np.linalg.norm(scaled - scaled[furthest], axis=-1))
    return np.array(sorted(chosen), dtype=np.intp)
