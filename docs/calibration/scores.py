"""How good a set of intervals is: error, bias, coverage, width and interval score, on logarithms.

Each source has one vote within a family, however many bodies it brings.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from bodies import Body

__all__ = ["Judged", "Score", "interval_score", "score_of", "wilson"]

TAIL = 0.10
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True)
class Judged:
    """One body with the interval somebody gave for its conductivity."""

    body: Body
    low: float
    middle: float
    high: float

    @property
    def missed(self) -> float:
        """Give the logarithm of measured over estimated."""
        return math.log(self.body.conductivity / self.middle)

    @property
    def is_inside(self) -> bool:
        """Tell whether the measured value lies in the interval."""
        return self.low <= self.body.conductivity <= self.high


@dataclass(frozen=True)
class Score:
    """The figures of one family."""

    bodies: int
    sources: int
    median_error: float
    bias: float
    coverage: float
    coverage_low: float
    coverage_high: float
    width: float
    score: float


def interval_score(low: float, high: float, value: float, tail: float = TAIL) -> float:
    """Give the width of an interval, and what a miss costs (Gneiting and Raftery 2007).

    Low is good. A proper score: honest intervals do best in the long run.

    Examples
    --------
    >>> interval_score(0.0, 1.0, 0.5)
    1.0
    >>> interval_score(0.0, 1.0, 1.1)
    3.0
    """
    return (high - low) + 2.0 / tail * (max(low - value, 0.0) + max(value - high, 0.0))


def wilson(share: float, count: float) -> tuple[float, float]:
    """Give Wilson's 95 % interval of a share found in a number of trials.

    Examples
    --------
    >>> [round(end, 3) for end in wilson(0.9, 30)]
    [0.744, 0.965]
    """
    z2 = NORMAL_95**2
    centre = (share + z2 / (2 * count)) / (1 + z2 / count)
    half = (
        NORMAL_95 / (1 + z2 / count) * math.sqrt(share * (1 - share) / count + z2 / (4 * count**2))
    )
    return max(centre - half, 0.0), min(centre + half, 1.0)


def score_of(judged: Sequence[Judged]) -> Score:
    """Score a set of intervals, one vote a source in each family."""
    votes = Counter((each.body.family, each.body.origin) for each in judged)
    weights = np.array([1.0 / votes[each.body.family, each.body.origin] for each in judged])
    weights /= weights.sum()
    missed = np.array([each.missed for each in judged])
    inside = np.array([each.is_inside for each in judged])
    logs = [(math.log(e.low), math.log(e.high), math.log(e.body.conductivity)) for e in judged]
    sources = len({each.body.origin for each in judged})
    coverage = float(weights @ inside)
    low, high = wilson(coverage, 1.0 / float((weights**2).sum()))
    return Score(
        len(judged),
        sources,
        math.expm1(_median(np.abs(missed), weights)),
        float(weights @ missed),
        coverage,
        low,
        high,
        float(weights @ np.array([b - a for a, b, _ in logs])),
        float(weights @ np.array([interval_score(*each) for each in logs])),
    )


def _median(values: np.ndarray, weights: np.ndarray) -> float:  # type: ignore[type-arg]
    order = np.argsort(values)
    place = int(np.searchsorted(np.cumsum(weights[order]), 0.5))
    return float(values[order][min(place, len(values) - 1)])
