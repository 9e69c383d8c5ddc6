"""The uncertain inputs as standard normals, each under its own name.

Every uncertain input is a standard normal number stretched to its range: that is what is drawn,
what a measurement moves, and what the doubt is shared out over. Each name has a stream of its own,
so that adding a constituent leaves the draws of the others as they were.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hotface_api.mixes.request import Triple
from hotface_api.science import kernels, sampling

__all__ = ["Latent", "stretched"]

FloatArray = NDArray[np.float64]
_REACH: Final = 1.6448536269514722
"""Standard deviations from the middle to either end of a 90 % range."""
_LEAST: Final = 1e-3
"""A range that touches zero starts at this share of its top."""
_NOTHING: Final = 1e-15
_UNIFORM: Final = 1.702
"""The logistic curve of this slope stays within a hundredth of the normal distribution."""


@lru_cache(maxsize=2048)
def _drawn(seed: int, name: str, draws: int) -> FloatArray:
    found = sampling.normals(seed, name, draws)
    found.flags.writeable = False
    return found


@lru_cache(maxsize=1024)
def _scored(seed: int, name: str, draws: int) -> FloatArray:
    found: FloatArray = kernels.rank_scores(_drawn(seed, name, draws)[None, :])[0]
    found.flags.writeable = False
    return found


class Latent:
    """Gives the standard normals of named inputs and keeps count of which were asked for.

    Parameters
    ----------
    seed, draws : int
        Of the whole estimate.
    learned : mapping, optional
        Normals that a measurement has moved; they stand before the drawn ones.
    centre : bool
        Whether every input stands at its middle: one draw of zero.
    """

    def __init__(
        self,
        seed: int,
        draws: int,
        learned: Mapping[str, FloatArray] | None = None,
        *,
        centre: bool = False,
    ) -> None:
        self.seed = seed
        self.draws = 1 if centre else draws
        self._learned = learned or {}
        self._centre = centre
        self.kept: dict[str, FloatArray] = {}

    @property
    def is_learned(self) -> bool:
        """Tell whether a measurement has moved the draws."""
        return bool(self._learned)

    def normal(self, name: str) -> FloatArray:
        """Give the standard normals of one named input, shape (draws,)."""
        if self._centre:
            return np.zeros(1)
        found = self._learned.get(name)
        if found is None:
            found = _drawn(self.seed, name, self.draws)
        self.kept[name] = found
        return found

    def scores(self, name: str) -> FloatArray:
        """Give the ranks of a named input's normals with mean 0 and length 1, shape (draws,)."""
        if name in self._learned or self._centre:
            return np.asarray(kernels.rank_scores(self.kept[name][None, :])[0])
        return _scored(self.seed, name, self.draws)

    def stretch(
        self, name: str, low: FloatArray, middle: FloatArray, high: FloatArray
    ) -> FloatArray:
        """Stretch an input between ends on whatever scale they are on; ends broadcast."""
        return stretched(self.normal(name), low, middle, high)

    def positive(self, name: str, triple: Triple) -> FloatArray:
        """Draw a positive quantity, log-normal on each side of its typical value."""
        if triple.high <= _NOTHING:
            return np.zeros(1)
        low = max(triple.low, _LEAST * triple.high)
        typical = min(max(triple.typical, low), triple.high)
        if low == triple.high:
            return np.full(1, triple.high)
        logs = np.log([low, typical, triple.high])
        return np.exp(self.stretch(name, *logs))

    def share(self, name: str, triple: Triple) -> FloatArray:
        """Draw a share between 0 and 1, normal on each side of its logit."""
        ends = np.array([triple.low, triple.typical, triple.high])
        logits = np.log(ends) - np.log1p(-ends)
        return np.asarray(1.0 / (1.0 + np.exp(-self.stretch(name, *logits))))

    def weight(self, name: str) -> FloatArray:
        """Draw a weight between 0 and 1, as good as uniform."""
        return np.asarray(1.0 / (1.0 + np.exp(-_UNIFORM * self.normal(name))))


def stretched(
    normals: FloatArray, low: ArrayLike, middle: ArrayLike, high: ArrayLike
) -> FloatArray:
    """Stretch normals about a middle, each side by its own width; the ends hold 90 %."""
    bottom, centre, top = (np.asarray(end, dtype=np.float64) for end in (low, middle, high))
    width = np.where(normals < 0, centre - bottom, top - centre)
    return np.asarray(centre + width / _REACH * normals)
