"""How far measured bodies agree with each other, and how sure a difference of scores is.

No rule that goes by density and kind alone can come nearer than different sources come to each
other on bodies of one kind and like density.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
from bodies import Body
from scores import Judged, interval_score

__all__ = ["agreement_lines", "difference", "difference_line"]

ALIKE = 0.15
"""Bodies whose densities differ by no more than this, on logarithms, are of like density."""
REPEATS = 4000


def _pairs(bodies: Sequence[Body]) -> dict[tuple[str, str, str], list[float]]:
    """Give how far bodies of two sources differ, in proportion to density, by family and pair."""
    found: dict[tuple[str, str, str], list[float]] = defaultdict(list)
    for one, other in combinations(bodies, 2):
        apart = math.log(one.density / other.density)
        if one.family == other.family and one.origin != other.origin and abs(apart) <= ALIKE:
            first, second = sorted((one.origin, other.origin))
            differs = abs(math.log(one.conductivity / other.conductivity) - apart)
            found[one.family, first, second].append(differs)
    return found


def agreement_lines(bodies: Sequence[Body]) -> Iterator[str]:
    """Write by family how far two sources differ at like density, one vote a pair of sources."""
    pairs = {key: float(np.median(each)) for key, each in _pairs(bodies).items()}
    yield "| family | pairs of sources | median difference at like density |"
    yield "|---|---|---|"
    for family in (*sorted({key[0] for key in pairs}), "all"):
        chosen = [each for key, each in pairs.items() if family in ("all", key[0])]
        yield f"| {family} | {len(chosen)} | {100 * math.expm1(float(np.median(chosen))):.0f} % |"
    half = float(np.median(list(pairs.values()))) / math.sqrt(2.0)
    yield ""
    yield (
        "If every source is off alike, a rule that knew the mean of all of them would still miss"
        f" the next one by {100 * math.expm1(half):.0f} % at the median."
    )


def difference(
    ours: Sequence[Judged], plain: Sequence[Judged], seed: int = 1
) -> tuple[float, float, float]:
    """Give the difference of interval scores and its 95 % interval, sources drawn anew.

    Below zero is in favour of the estimator; one vote a source in each family.
    """
    scores: dict[tuple[str, str], list[float]] = defaultdict(list)
    for one, other in zip(ours, plain, strict=True):
        mine, law = (
            interval_score(
                math.log(each.low), math.log(each.high), math.log(each.body.conductivity)
            )
            for each in (one, other)
        )
        scores[one.body.family, one.body.origin].append(mine - law)
    each_source = np.array([float(np.mean(scores[key])) for key in sorted(scores)])
    generator = np.random.default_rng(seed)
    drawn = generator.integers(0, len(each_source), (REPEATS, len(each_source)))
    low, high = np.quantile(each_source[drawn].mean(-1), [0.025, 0.975])
    return float(each_source.mean()), float(low), float(high)


def difference_line(ours: Sequence[Judged], plain: Sequence[Judged]) -> str:
    """Write the difference over all families."""
    middle, low, high = difference(ours, plain)
    return (
        f"Difference of the scores over all: {middle:+.2f} ({low:+.2f} to {high:+.2f} with the"
        " sources drawn anew; below zero the estimator does better)."
    )
