"""Calibrate the estimator on measured bodies and print how good its intervals are.

Run from the root of the repository::

    python docs/calibration/calibrate.py            # everything but the bodies kept apart
    python docs/calibration/calibrate.py --blind    # those too; look once, then leave it alone

Leave-one-source-out: a body is judged with a prior fitted to the bodies of all other sources. The
plain alternative is one exponential law of conductivity over density, fitted and judged alike.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from agreement import agreement_lines, difference_line
from bodies import Body, Tables, bodies_of
from densities import density_lines
from fit import Fitted, Response, fit_law, fit_skeleton, respond
from scores import Judged, Score, score_of
from slopes import slope_lines
from sqlalchemy import Connection, select

from hotface_api.catalogue.reference import Reference, ReferenceCache
from hotface_api.load.loader import load
from hotface_api.mixes.estimate import estimate
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_api.store.models import Specimen, SpecimenConstituent, Value
from hotface_seed import PACKAGE_PATH

ENOUGH_SOURCES = 3


@contextmanager
def seed() -> Iterator[tuple[Connection, Reference]]:
    """Load the published data into a database of its own."""
    with tempfile.TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{Path(folder) / 'seed.sqlite3'}")
        schema.migrate(database)
        load(database, PACKAGE_PATH)
        with database.read() as connection:
            yield connection, ReferenceCache(database).latest()
        database.close()


def read(connection: Connection) -> Tables:
    """Read specimens, recipes and their values."""
    recipe, value = SpecimenConstituent.__table__, Value.__table__
    specimens = {
        row["id"]: row for row in connection.execute(select(Specimen.__table__)).mappings()
    }
    recipes, values = defaultdict(list), defaultdict(list)
    for row in connection.execute(select(recipe).order_by(recipe.c.row)).mappings():
        recipes[row["specimen"]].append(row)
    named = select(value).where(value.c.specimen.is_not(None)).order_by(value.c.id)
    for row in connection.execute(named).mappings():
        values[row["specimen"]].append(row)
    return Tables(specimens, recipes, values)


def judge(connection: Connection, reference: Reference, body: Body, fitted: Fitted) -> Judged:
    """Estimate a body with a prior that knows nothing of its source."""
    found = (
        estimate(connection, reference, body.request, fitted.priors()).thermal_conductivity[0].range
    )
    return Judged(body, found.low or 0.0, found.typical or 0.0, found.high or 0.0)


def leave_one_out(
    connection: Connection,
    reference: Reference,
    answers: Sequence[Response],
    judged: Sequence[Body],
) -> tuple[list[Judged], list[Judged]]:
    """Judge bodies by the estimator and by the law, each without the body's own source."""
    ours, plain = [], []
    for origin in sorted({body.origin for body in judged}):
        others = [each for each in answers if each.body.origin != origin]
        fitted, law = fit_skeleton(others), fit_law([each.body for each in others])
        for body in (body for body in judged if body.origin == origin):
            ours.append(judge(connection, reference, body, fitted))
            plain.append(Judged(body, *law.interval(body.density)))
    return ours, plain


def row(name: str, score: Score) -> str:
    """Write one line of a table."""
    return (
        f"| {name} | {score.bodies} | {score.sources} | {100 * score.median_error:.0f} % |"
        f" {score.bias:+.2f} | {100 * score.coverage:.0f} %"
        f" ({100 * score.coverage_low:.0f} to {100 * score.coverage_high:.0f}) |"
        f" {score.width:.2f} | {score.score:.2f} |"
    )


HEAD = """| | bodies | sources | median error | bias | inside 90 % | width | interval score |
|---|---|---|---|---|---|---|---|"""


def table(ours: Sequence[Judged], plain: Sequence[Judged]) -> None:
    """Print the figures by family and over all, ours above the plain law's."""
    families = sorted({each.body.family for each in ours})
    print(HEAD)
    verdicts = []
    for family in [*families, "all"]:
        pair = [
            score_of([each for each in found if family in ("all", each.body.family)])
            for found in (ours, plain)
        ]
        print(row(f"**{family}**", pair[0]))
        print(row("plain law", pair[1]))
        if pair[0].sources >= ENOUGH_SOURCES:
            verdicts.append((family, pair[0].score < pair[1].score))
    print()
    for family, won in verdicts:
        word = "beats" if won else "DOES NOT BEAT"
        print(f"- {family}: the estimator {word} the plain law by interval score.")
    print(f"\n{difference_line(ours, plain)}")


def each_body(ours: Sequence[Judged]) -> None:
    """Print every body with its interval."""
    print("| body | source | kg/m3 | measured | estimated | inside |")
    print("|---|---|---|---|---|---|")
    for item in sorted(ours, key=lambda each: (each.body.family, each.body.origin, each.body.id)):
        body = item.body
        print(
            f"| {body.id} | {body.origin} | {body.density:.0f} | {body.conductivity:.3f} |"
            f" {item.low:.3f} {item.middle:.3f} {item.high:.3f} |"
            f" {'yes' if item.is_inside else 'no'} |"
        )


def skeletons(fitted: Fitted) -> None:
    """Print the fitted skeletons, to be put into ``mixes.priors``."""
    print("## Skeletons of hardened pastes, W/(m.K)\n")
    print("| binder | low | typical | high |\n|---|---|---|---|")
    for name in (*fitted.classes, "other"):
        triple = fitted.triple(name)
        print(f"| {name} | {triple.low:.2f} | {triple.typical:.2f} | {triple.high:.2f} |")
    thinning = fitted.thinned()
    print(
        f"\nFall with voids and grain pores: {thinning.low:.2f}, {thinning.typical:.2f},"
        f" {thinning.high:.2f} a unit."
    )
    print(
        f"\nSpread between classes {fitted.between:.2f}, between sources {fitted.spread:.2f},"
        f" what the rules miss {fitted.miss:.2f}, all on logarithms.\n"
    )


def main(arguments: Sequence[str]) -> int:
    """Calibrate and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--blind", action="store_true", help="report the bodies kept apart")
    asked = parser.parse_args(arguments)
    with seed() as (connection, reference):
        tables = read(connection)
        bodies, left_out = bodies_of(connection, reference, tables)
        known = [body for body in bodies if not body.is_blind]
        answers = [respond(connection, reference, body) for body in known]
        ours, plain = leave_one_out(connection, reference, answers, known)
        fitted = fit_skeleton(answers)
        skeletons(fitted)
        print("## Leave one source out\n")
        table(ours, plain)
        print("\n## Change with temperature\n")
        for line in slope_lines(connection, reference, tables):
            print(line)
        print("\n## How far sources agree\n")
        for line in agreement_lines(known):
            print(line)
        print("\n## Density from the mix alone\n")
        for line in density_lines(connection, reference, tables, bodies):
            print(line)
        print("\n## Every body\n")
        each_body(ours)
        print("\n## Left out\n")
        for identity, why in sorted(left_out.items()):
            print(f"- {identity}: {why}")
        if asked.blind:
            print("\n## Kept apart\n")
            apart = [body for body in bodies if body.is_blind]
            blind, law = leave_one_out(connection, reference, answers, apart)
            table(blind, law)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
