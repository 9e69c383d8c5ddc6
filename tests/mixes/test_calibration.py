"""The calibration: its scores by hand, its split, and the package against the printed result."""

from __future__ import annotations

import csv
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from hotface_api.mixes.priors import BINDERS, CALIBRATED, binder_of
from hotface_api.mixes.validation import APART, CURVES, DENSITIES, TRIED
from hotface_seed import PACKAGE_PATH

FOLDER = Path(__file__).parents[2] / "docs" / "calibration"
RESULT = FOLDER / "result.md"
SCRIPTS = (
    "agreement",
    "bodies",
    "calibrate",
    "densities",
    "fit",
    "scores",
    "slopes",
    "tried",
)


@pytest.fixture
def scripts(monkeypatch):
    """The scripts import each other as files of one folder."""
    monkeypatch.syspath_prepend(str(FOLDER))
    import bodies  # noqa: PLC0415
    import fit  # noqa: PLC0415
    import scores  # noqa: PLC0415

    yield bodies, fit, scores
    for name in SCRIPTS:
        sys.modules.pop(name, None)


def body(bodies, identity, origin, density, conductivity):
    return bodies.Body(identity, "f", origin, "specimen", density, conductivity, 296.15, None)


def test_interval_score_by_hand(scripts):
    """Gneiting and Raftery 2007: the width, and 2/alpha for each unit missed."""
    *_, scores = scripts
    assert scores.interval_score(1.0, 3.0, 2.0) == 2.0
    assert scores.interval_score(1.0, 3.0, 0.5) == pytest.approx(2.0 + 20 * 0.5)
    assert scores.interval_score(1.0, 3.0, 3.25) == pytest.approx(2.0 + 20 * 0.25)


def test_wilson_by_hand(scripts):
    """Nine of ten: 0.596 to 0.982 (the usual worked example of the interval)."""
    *_, scores = scripts
    low, high = scores.wilson(0.9, 10)
    assert (low, high) == (pytest.approx(0.596, abs=0.001), pytest.approx(0.982, abs=0.001))


def test_one_vote_a_source(scripts):
    """Nine bodies of one source that all miss weigh no more than one that is met."""
    bodies, _, scores = scripts
    many = [body(bodies, f"a{i}", "a", 500.0, 0.2) for i in range(9)]
    judged = [scores.Judged(each, 0.09, 0.1, 0.11) for each in many]
    judged.append(scores.Judged(body(bodies, "b", "b", 500.0, 0.1), 0.09, 0.1, 0.11))
    found = scores.score_of(judged)
    assert found.coverage == pytest.approx(0.5)
    assert found.sources == 2
    assert found.bias == pytest.approx(np.log(2) / 2)


def test_the_law_finds_itself(scripts):
    bodies, fit, _ = scripts
    known = [
        body(bodies, str(i), str(i), density, 0.05 * np.exp(0.0015 * density))
        for i, density in enumerate(np.linspace(200, 1800, 9))
    ]
    law = fit.fit_law(known)
    assert (np.exp(law.a), law.b) == (pytest.approx(0.05), pytest.approx(0.0015))
    assert law.interval(600.0)[1] == pytest.approx(0.05 * np.exp(0.9))


def test_the_skeleton_fit_finds_what_made_the_data(scripts):
    """Twenty sources about a skeleton of 0.8 with a spread of 0.3 on logarithms."""
    bodies, fit, _ = scripts
    generator = np.random.default_rng(5)
    answers = []
    for source in range(40):
        skeleton = np.log(0.8) + 0.3 * generator.normal()
        for index in range(3):
            rise = generator.uniform(0.4, 1.0)
            light = generator.uniform(0.0, 0.8)
            missed = rise * (skeleton - 0.5 * (light - 0.4)) + 0.12 * generator.normal()
            made = body(bodies, f"{source}-{index}", str(source), 500.0, 0.1)
            answers.append(fit.Response(made, "hydraulic", missed, rise, 0.05, light))
    fitted = fit.fit_skeleton(answers)
    assert fitted.thinning[0] == pytest.approx(0.5, abs=0.25)
    triple = fitted.triple("hydraulic")
    assert triple.typical == pytest.approx(0.8, rel=0.12)
    assert np.log(triple.high / triple.low) / (2 * 1.645) == pytest.approx(0.36, abs=0.1)


def test_how_far_two_sources_differ_by_hand(scripts):
    """In proportion to density: 0.10 at 500 and 0.22 at 550 differ by a factor of two."""
    bodies, *_ = scripts
    import agreement  # noqa: PLC0415

    known = [
        body(bodies, "one", "a", 500.0, 0.10),
        body(bodies, "two", "b", 550.0, 0.22),
        body(bodies, "same source", "a", 510.0, 0.90),
        body(bodies, "too heavy", "c", 900.0, 0.30),
    ]
    lines = list(agreement.agreement_lines(known[:2]))
    assert "| all | 1 | 100 % |" in lines
    assert lines[-1].endswith("63 % at the median.")  # 2 ** (1 / sqrt 2) - 1
    assert "| all | 1 |" in "".join(agreement.agreement_lines(known))


def test_a_difference_of_scores_is_that_of_the_sources(scripts):
    """One source won by 1, one lost by 3, one vote each: 1 on the mean, anywhere in -1 to 3."""
    bodies, _, scores = scripts
    import agreement  # noqa: PLC0415

    def judged(origin, width, count):
        half = np.exp(width / 2)
        made = body(bodies, origin, origin, 500.0, 1.0)
        return [scores.Judged(made, 1 / half, 1.0, half)] * count

    ours = [*judged("a", 1.0, 5), *judged("b", 4.0, 1)]
    plain = [*judged("a", 2.0, 5), *judged("b", 1.0, 1)]
    middle, low, high = agreement.difference(ours, plain)
    assert middle == pytest.approx(1.0)
    assert (low, high) == (pytest.approx(-1.0), pytest.approx(3.0))


def test_what_was_tried_is_blended_by_hand(scripts):
    """Half way between two intervals that miss together: middle and width lie half way too."""
    bodies, _, scores = scripts
    import tried  # noqa: PLC0415

    def judged(middle, sd, conductivity=2.0):
        low, high = (middle * np.exp(z * tried.REACH * sd) for z in (-1, 1))
        return scores.Judged(body(bodies, "x", "x", 500.0, conductivity), low, middle, high)

    ours, plain = [judged(1.0, 0.2)], [judged(1.5, 0.4)]
    assert tried.together(ours, plain) == pytest.approx(1.0)
    half = tried.blended(ours, plain, 0.5)[0]
    assert half.middle == pytest.approx(np.sqrt(1.5))
    assert np.log(half.high / half.low) == pytest.approx(2 * tried.REACH * 0.3)
    assert tried.blended(ours, plain, 0.0)[0].low == pytest.approx(ours[0].low)
    wide = tried.widened(ours, 1.5)[0]
    assert np.log(wide.high / wide.low) == pytest.approx(2 * tried.REACH * 0.3)


def test_recipes_for_density_are_those_the_specimens_state(scripts):
    """Every amount stands in the words of the recipe; the buckets in litres as well."""
    import densities  # noqa: PLC0415

    with (PACKAGE_PATH.parent / "specimens.csv").open(encoding="utf-8", newline="") as file:
        stated = {row["id"]: row["proportions"] for row in csv.DictReader(file)}
    for identity, mix in densities.RECIPES.items():
        figures = {float(each) for each in re.findall(r"\d+(?:\.\d+)?", stated[identity])}
        for part in mix.constituents:
            if part.amount_kind == "mass":
                assert part.amount in figures, (identity, part.material)
            else:
                loose = part.bucket[0] / part.bucket[1]
                assert round(loose, 6) in figures, (identity, loose)
                assert part.amount == 1.0 or round(1000 * part.amount, 6) in figures


def test_a_fifth_is_kept_apart_by_its_id_alone(scripts):
    bodies, *_ = scripts
    share = np.mean([bodies.is_blind(f"body-{i}") for i in range(5000)])
    assert share == pytest.approx(0.2, abs=0.02)


def printed():
    return RESULT.read_text(encoding="utf-8")


def test_the_package_holds_the_printed_skeletons():
    for name in BINDERS:
        found = re.search(
            rf"^\| {name} \| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \|$", printed(), re.MULTILINE
        )
        if found is None:
            found = re.search(
                r"^\| other \| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \|$", printed(), re.MULTILINE
            )
        low, typical, high = (float(each) for each in found.groups())
        for state in ("dried", "fired"):
            held = CALIBRATED.skeleton[name, state]
            assert (held.low, held.typical, held.high) == (low, typical, high)
    fall = re.search(
        r"^Fall with voids .*: ([\d.]+), ([\d.]+), ([\d.]+) a unit", printed(), re.MULTILINE
    )
    thinning = CALIBRATED.thinning
    assert (thinning.low, thinning.typical, thinning.high) == tuple(map(float, fall.groups()))
    miss = re.search(r"what the rules miss ([\d.]+)", printed())
    assert float(miss.group(1)) == CALIBRATED.rule_spread


def test_the_package_tells_the_printed_trial():
    for name, tried in TRIED.items():
        row = re.search(
            rf"^\| \*\*{name}\*\* \| (\d+) \| (\d+) \| (\d+) % \| [^|]* \| (\d+) %",
            printed(),
            re.MULTILINE,
        )
        found = (int(row[1]), int(row[2]), int(row[3]) / 100, int(row[4]) / 100)
        assert found == (tried.bodies, tried.sources, tried.median_error, tried.coverage)


def test_the_package_tells_the_printed_curves():
    row = re.search(r"^(\d+) curves: .*, (\d+) inside", printed(), re.MULTILINE)
    assert (int(row[1]), int(row[2])) == CURVES


def test_the_package_tells_the_printed_densities():
    row = re.search(
        r"^(\d+) bodies of (\d+) sources: median miss (\d+) %.*, (\d+) inside",
        printed(),
        re.MULTILINE,
    )
    bodies, sources, missed, inside = (int(each) for each in row.groups())
    assert (bodies, sources, missed / 100, inside / bodies) == (
        DENSITIES.bodies,
        DENSITIES.sources,
        DENSITIES.median_error,
        DENSITIES.coverage,
    )


def test_the_estimator_beats_the_plain_law_wherever_three_sources_stand():
    section = printed().split("## Kept apart")[0]
    verdicts = re.findall(r"^- (.+): the estimator (.+) the plain law", section, re.MULTILINE)
    assert len(verdicts) >= 4
    assert all(verdict == "beats" for _, verdict in verdicts)


def test_the_bodies_kept_apart_are_reported():
    """Whatever they say: nothing is tuned to them."""
    apart = printed().split("## Kept apart")[1]
    row = re.search(
        r"^\| \*\*all\*\* \| (\d+) \| (\d+) \| (\d+) % \| [^|]* \| (\d+) %", apart, re.MULTILINE
    )
    found = (int(row[1]), int(row[2]), int(row[3]) / 100, int(row[4]) / 100)
    assert found == (APART.bodies, APART.sources, APART.median_error, APART.coverage)


@pytest.mark.parametrize(
    ("material", "kind", "binder"),
    [
        ("cac-40", "binder", "hydraulic"),
        ("lime", "binder", "hydraulic"),
        ("kaolin", "binder", "clay"),
        ("sodium-silicate", "binder", "silicate"),
        ("something-new", "binder", "phosphate"),
        ("microsilica", "filler", "powder"),
    ],
)
def test_binders_have_their_class(material, kind, binder):
    assert binder_of(material, kind) == binder


@pytest.mark.long
def test_the_printed_result_is_what_the_scripts_print(scripts, capsys):
    import calibrate  # noqa: PLC0415

    assert calibrate.main([]) == 0
    found = capsys.readouterr().out
    start = found.index("## Leave one source out")
    table = found[start : found.index("## Every body")]
    assert table in printed()
