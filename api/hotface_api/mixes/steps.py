"""The single steps of homogenisation: a rule for each structure and the two it may lie between.

Shares have shape (draws,), conductivities (temperatures, draws).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.science import kernels

__all__ = [
    "Edges",
    "PairRule",
    "between",
    "cellular",
    "grains_in",
    "paste",
    "paste_rule",
    "sintered",
]

FloatArray = NDArray[np.float64]
_EDGE_STEPS: Final = 6
_OPEN_UNTIL, _CLOSED_FROM = 0.45, 0.65
"""Porosities between which a sintered body's rule leaves the symmetric one."""


@dataclass(slots=True)
class Edges:
    """A rule and the two between which a body may lie."""

    low: FloatArray
    middle: FloatArray
    high: FloatArray


PairRule = Callable[[FloatArray, FloatArray, FloatArray], Edges]
"""Share of the solid, conductivity of solid and of what lies in it."""


def between(edges: Edges, weight: FloatArray) -> FloatArray:
    """Go from edge to edge on logarithms, through the middle at a weight of one half."""
    away = 2.0 * weight - 1.0
    edge = np.where(away < 0, edges.low, edges.high)
    return np.asarray(edges.middle * np.exp(np.abs(away) * np.log(edge / edges.middle)))


def cellular(solid: FloatArray, host: FloatArray, inner: FloatArray) -> Edges:
    """Take closed pores in a solid: log mean of Maxwell-Eucken and differential, edges the two."""
    pores = 1.0 - solid
    one = kernels.pair_maxwell(pores, host, inner)
    other = kernels.pair_differential(pores, host, inner)
    return Edges(np.minimum(one, other), np.sqrt(one * other), np.maximum(one, other))


def paste(solid: FloatArray, host: FloatArray, inner: FloatArray) -> Edges:
    """Take fine pores in a hardened binder: the same default, the symmetric rule as low edge."""
    edges = cellular(solid, host, inner)
    symmetric = kernels.pair_effective(solid, host, inner)
    return Edges(np.minimum(symmetric, edges.low), edges.middle, edges.high)


def sintered(solid: FloatArray, host: FloatArray, inner: FloatArray) -> Edges:
    """Take open pores of a sintered body: symmetric, half way to Maxwell's from 0.65 on."""
    pores = 1.0 - solid
    high = kernels.pair_maxwell(pores, host, inner)
    symmetric = kernels.pair_effective(solid, host, inner)
    blend = np.clip((pores - _OPEN_UNTIL) / (_CLOSED_FROM - _OPEN_UNTIL), 0.0, 1.0)
    middle = symmetric * np.exp(0.5 * blend * np.log(high / symmetric))
    low = np.minimum(symmetric, kernels.pair_differential(pores, host, inner))
    return Edges(low, middle, np.maximum(high, middle))


def paste_rule(is_sintered: NDArray[np.bool_]) -> PairRule:
    """Choose the rule of a paste, draw by draw (or mix by mix) where they differ."""
    if not is_sintered.any():
        return paste
    if is_sintered.all():
        return sintered

    def mixed(solid: FloatArray, host: FloatArray, inner: FloatArray) -> Edges:
        one, other = sintered(solid, host, inner), paste(solid, host, inner)
        return Edges(
            np.where(is_sintered, one.low, other.low),
            np.where(is_sintered, one.middle, other.middle),
            np.where(is_sintered, one.high, other.high),
        )

    return mixed


def grains_in(
    host_share: FloatArray,
    host: FloatArray,
    shares: Sequence[FloatArray],
    values: Sequence[FloatArray],
) -> Edges:
    """Take grains of several kinds in a paste that surrounds them: Maxwell's rule, edges with it.

    The paste stays the host however little it conducts: the upper Hashin-Shtrikman bound, with the
    best grain as host, would be no edge but another structure. The differential rule is the other
    edge, below for light grains and above for dense ones.
    """
    middle = kernels.referenced([host_share, *shares], [host, *values], host)
    other = kernels.spread_differential(shares, values, host_share, host, _EDGE_STEPS)
    return Edges(np.minimum(middle, other), middle, np.maximum(middle, other))
