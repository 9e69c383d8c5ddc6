"""What the solids conduct: curves of grains, and the skeleton of a hardened paste.

The skeleton of a dried or fired paste is not the dense mineral: water leaves cracks and weak necks.
A binder therefore follows a prior fitted to measured bodies, by class of binder and state. A fine
powder of held conductivity conducts a share of its dense mineral, because its grains only touch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes import assumptions as take
from hotface_api.mixes.inputs import Part
from hotface_api.mixes.priors import Priors
from hotface_api.mixes.request import State, Triple

__all__ = ["Solid", "curve_solid", "paste_skeleton", "sintered", "solved"]

FloatArray = NDArray[np.float64]
_REACH: Final = 1.6448536269514722
_DEHYDRATED: Final = 673.15
"""From 400 Cel a fired paste has lost its dense hydrates and takes the prior of fired bodies."""
_SINTERS: Final = 1073.15
"""From 800 Cel fired clay and powders count as sintered; our judgement."""
_UNKNOWN: Final = Triple(0.4, 0.9, 2.0)
_SOLVING: Final = 6
_WITHIN: Final = float(np.log(3.0))

Logs = tuple[FloatArray, FloatArray, FloatArray]


class Solid(NamedTuple):
    """Conductivity of a solid: drawn, and at the low and high end of its range.

    Shape (temperatures, draws), the ends (temperatures, 1) or as the draws.
    """

    drawn: FloatArray
    low: FloatArray
    high: FloatArray


def _drawn(logs: Logs, normals: FloatArray) -> Solid:
    """Shift a curve as a whole by one normal."""
    low, middle, high = logs
    width = np.where(normals < 0, middle - low, high - middle) / _REACH
    return Solid(np.exp(middle + width * normals), np.exp(low), np.exp(high))


def curve_solid(curve: FloatArray, normals: FloatArray) -> Solid:
    """Draw a prepared curve of shape (temperatures, 3)."""
    low, middle, high = np.log(curve).T[:, :, None]
    return _drawn((low, middle, high), normals)


def _of_triple(triple: Triple) -> Logs:
    low, middle, high = np.log([triple.low, triple.typical, triple.high]).reshape(3, 1, 1)
    return low, middle, high


def _of_powder(curve: FloatArray, priors: Priors) -> Logs:
    """Take a share of the dense mineral; its own range and that of the share add up."""
    low, middle, high = np.log(curve).T[:, :, None]
    share = priors.powder_share
    less, typical, more = np.log([share.low, share.typical, share.high])
    centre = middle + typical
    return (
        centre - np.hypot(middle - low, typical - less),
        centre,
        centre + np.hypot(high - middle, more - typical),
    )


def _binder_logs(part: Part, state: State, priors: Priors) -> Logs:
    """Give what a binder becomes in a state."""
    if state.kind == "fresh":
        return _of_triple(take.CEMENT_CLINKER)
    fired = state.kind == "fired" and state.treated_at >= _DEHYDRATED
    return _of_triple(priors.skeleton[part.binder, "fired" if fired else "dried"])


def _bonded(curve: FloatArray, binder: Logs) -> Logs:
    """Take a filler as grains bonded into the skeleton, within what the log mean holds for."""
    low, middle, high = np.log(curve).T[:, :, None]
    floor, top = binder[1] - _WITHIN, binder[1] + _WITHIN
    centre = np.clip(middle, floor, top)
    return centre - (middle - low), centre, centre + (high - middle)


def paste_skeleton(
    parts: Sequence[Part],
    volumes: Sequence[FloatArray],
    state: State,
    priors: Priors,
    normals: FloatArray,
) -> Solid:
    """Give the pore-free paste: log mean of its fine parts by volume, one draw for all.

    The log mean has no structure behind it and holds for parts within a factor of about three,
    which the skeletons of binders are. Fillers of no held conductivity are left to the binder.
    """
    fine = [
        (part, volume)
        for part, volume in zip(parts, volumes, strict=True)
        if part.is_powder and not part.leaves
    ]
    found = [
        (volume, _binder_logs(part, state, priors))
        for part, volume in fine
        if part.binder != "powder"
    ]
    binder = _mixed(found) if found else None
    for part, volume in fine:
        curve = part.curves.get("thermal_conductivity")
        if part.binder == "powder" and curve is not None:
            logs = _of_powder(curve, priors) if binder is None else _bonded(curve, binder)
            found.append((volume, logs))
    return _drawn(_mixed(found) if found else _of_triple(_UNKNOWN), normals)


def _mixed(found: Sequence[tuple[FloatArray, Logs]]) -> Logs:
    """Take the log mean by volume."""
    if len(found) == 1:
        return found[0][1]
    total = np.maximum(np.asarray(sum(volume for volume, _ in found)), 1e-12)
    low, middle, high = (
        np.asarray(sum(volume / total * logs[end] for volume, logs in found)) for end in range(3)
    )
    return low, middle, high


def sintered(
    parts: Sequence[Part], volumes: Sequence[FloatArray], state: State
) -> NDArray[np.bool_]:
    """Tell where most of the paste is clay or powder and was fired hot enough to sinter."""
    if state.kind != "fired" or state.treated_at < _SINTERS:
        return np.zeros(1, dtype=np.bool_)
    balance: FloatArray = np.zeros(1)
    for part, volume in zip(parts, volumes, strict=True):
        if part.is_powder:
            balance = balance + (volume if part.binder in ("clay", "powder") else -volume)
    return np.asarray(balance > 0)


def solved(
    rule: Callable[[FloatArray], FloatArray], target: FloatArray, start: FloatArray
) -> FloatArray:
    """Find the skeleton for which a rule gives a stated conductivity of the whole paste.

    The rules rise almost in proportion to the skeleton, so that scaling by what is missing comes
    home in a few rounds.
    """
    skeleton = np.broadcast_to(start, np.broadcast_shapes(start.shape, target.shape))
    for _ in range(_SOLVING):
        skeleton = skeleton * target / rule(skeleton)
    return np.asarray(skeleton)
