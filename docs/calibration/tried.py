"""What was tried to come nearer, and does not: printed so that nobody has to try it again.

Run from the root of the repository::

    python docs/calibration/tried.py

Every alternative is judged as the estimator is, leave-one-source-out on the known bodies; those
kept apart are not looked at.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np
from agreement import difference
from bodies import bodies_of
from calibrate import leave_one_out, read, seed
from fit import BETWEEN, MISSES, SPREADS, TELLING, Columns, Response, columns_of, respond, solved
from numpy.typing import NDArray
from scores import Judged, score_of

FloatArray = NDArray[np.float64]
REACH = 1.6448536269514722


def _logs(each: Judged) -> tuple[float, float]:
    """Give the middle and the standard deviation of an interval on logarithms."""
    return math.log(each.middle), math.log(each.high / each.low) / (2.0 * REACH)


def _judged(body_of: Judged, middle: float, sd: float) -> Judged:
    low, centre, high = (math.exp(middle + z * REACH * sd) for z in (-1, 0, 1))
    return Judged(body_of.body, low, centre, high)


def together(ours: Sequence[Judged], plain: Sequence[Judged]) -> float:
    """Give the correlation of what both miss."""
    mine, law = (np.array([each.missed for each in found]) for found in (ours, plain))
    return float(mine @ law / math.sqrt(float(mine @ mine) * float(law @ law)))


def blended(ours: Sequence[Judged], plain: Sequence[Judged], weight: float) -> list[Judged]:
    """Go a part of the way from the estimate to the plain law, both with their errors."""
    linked = together(ours, plain)
    found = []
    for one, other in zip(ours, plain, strict=True):
        (a, s), (b, t) = _logs(one), _logs(other)
        variance = ((1 - weight) * s) ** 2 + (weight * t) ** 2
        variance += 2 * weight * (1 - weight) * linked * s * t
        found.append(_judged(one, (1 - weight) * a + weight * b, math.sqrt(variance)))
    return found


def widened(ours: Sequence[Judged], by: float) -> list[Judged]:
    """Make every interval wider or narrower."""
    return [_judged(each, _logs(each)[0], by * _logs(each)[1]) for each in ours]


def _row(name: str, found: Sequence[Judged], ours: Sequence[Judged]) -> str:
    score = score_of(found)
    middle, low, high = difference(found, ours)
    return (
        f"| {name} | {100 * score.median_error:.0f} % | {100 * score.coverage:.0f} % |"
        f" {score.width:.2f} | {score.score:.2f} | {middle:+.2f} ({low:+.2f} to {high:+.2f}) |"
    )


TERMS: dict[str, Callable[[Response], float]] = {
    "voids and grain pores (taken)": lambda each: each.light - 0.4,
    "none": lambda _: 0.0,
    "solid share of the paste": lambda each: math.log(each.solid / 0.5),
    "voids alone": lambda each: each.voids - 0.2,
    "grains alone": lambda each: each.stones - 0.3,
    "density": lambda each: math.log(each.body.density / 500.0),
}
"""What the skeleton of a paste might go with."""


def _with_term(answers: Sequence[Response], name: str) -> Columns:
    """Put one term in the place of the fall with voids and grain pores."""
    telling = [each for each in answers if abs(each.sensitivity) > TELLING]
    rise = np.array([each.sensitivity for each in telling])
    term = rise * np.array([TERMS[name](each) for each in telling])
    fixed = rise[:, None] if name == "none" else np.stack([rise, term], -1)
    return replace(columns_of(answers), fixed=fixed)


def _likelihood(columns: Columns, covariance: FloatArray) -> float:
    """Give the likelihood at the best fixed terms, so that unlike terms can be compared."""
    inverse = np.linalg.inv(covariance)
    _, fixed = solved(columns, inverse)
    away = columns.missed - columns.fixed @ fixed
    return 0.5 * (float(np.linalg.slogdet(inverse)[1]) - float(away @ inverse @ away))


def term_lines(answers: Sequence[Response]) -> Iterator[str]:
    """Write what the known bodies think of each term, the spreads fitted anew."""
    yield "| the skeleton goes with | log likelihood |"
    yield "|---|---|"
    for name in TERMS:
        columns = _with_term(answers, name)
        spreads = product(BETWEEN, SPREADS, MISSES)
        best = max(_likelihood(columns, columns.covariance(*each)) for each in spreads)
        yield f"| {name} | {best:.1f} |"


def main() -> int:
    """Print everything."""
    with seed() as (connection, reference):
        bodies, _ = bodies_of(connection, reference, read(connection))
        known = [body for body in bodies if not body.is_blind]
        answers = [respond(connection, reference, body) for body in known]
        ours, plain = leave_one_out(connection, reference, answers, known)
    print("| | median error | inside 90 % | width | interval score | against the estimator |")
    print("|---|---|---|---|---|---|")
    print(_row("the estimator", ours, ours))
    for weight in (0.2, 0.3, 0.5, 1.0):
        name = f"{100 * weight:.0f} % of the way to the plain law"
        print(_row(name, blended(ours, plain, weight), ours))
    for by in (0.9, 1.1, 1.2, 1.3):
        print(_row(f"intervals {by:.1f} times as wide", widened(ours, by), ours))
    print(f"\nWhat the two miss goes together by {together(ours, plain):.2f}.\n")
    for line in term_lines(answers):
        print(line)
    return 0


if __name__ == "__main__":
    sys.exit(main())
