"""``hotface compare``: the SDK's answers side by side, best suited first."""

import json

import pytest

from hotface import Question

THREE = ("chamotte", "expanded-clay", "expanded-perlite")
BOTH = ("--temperature", "1100 degC", "--behind", "700 degC", "--with", "cac-40")


def ok(result):
    assert result.exit_code == 0, result.output
    return result.stdout


def outcomes(sdk, names, place, temperature, **asked):
    return {name: sdk.survives(name, temperature, place=place, **asked).outcome for name in names}


def test_each_answer_is_the_one_the_sdk_gives(run, sdk):
    found = json.loads(ok(run("compare", *THREE, *BOTH, "--json")))
    assert sorted(one["material"] for one in found["materials"]) == sorted(THREE)
    for one in found["materials"]:
        for place, temperature in (("face", "1100 degC"), ("behind", "700 degC")):
            asked = Question(one["material"], temperature, with_="cac-40", place=place)
            assert one["survival"][place] == sdk.survivals([asked])[0].to_dict()
        held = {each.property for each in sdk.material(one["material"]).properties}
        limit = one["properties"]["service_limit"]
        if "service_limit" in held:
            assert limit == sdk.property(one["material"], "service_limit").to_dict()
        else:
            assert limit is None


def test_what_stands_more_comes_first(run, sdk):
    names = [one.id for one in sdk.materials(kind="aggregate") if one.id.startswith("ex")]
    found = json.loads(ok(run("compare", *names, "--temperature", "900 degC", "--json")))
    order = {"yes": 0, "borderline": 1, "unknown": 2, "no": 3}
    ranks = [
        tuple(order[one["survival"][place]["outcome"]] for place in ("face", "behind"))
        for one in found["materials"]
    ]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) > 1


def test_the_first_lines_say_what_goes_where(run, sdk):
    out = " ".join(ok(run("compare", *THREE, *BOTH, columns=200)).split("\n"))
    assert out.startswith("At 1100 °C seeing the fire and 700 °C behind the hot face with cac-40")
    face = outcomes(sdk, THREE, "face", "1100 degC", with_="cac-40")
    behind = outcomes(sdk, THREE, "behind", "700 degC", with_="cac-40")
    where = out.partition("material ")[0]
    for name in THREE:
        assert where.count(name) == 1, where
        if face[name] in ("yes", "borderline"):
            label = {"yes": "may face the fire", "borderline": "borderline at the face"}
            assert label[face[name]] in where.partition(name)[0]
        elif behind[name] == "yes":
            assert "stands behind the hot face" in where.partition(name)[0]


def test_a_figure_comes_with_its_interval_and_origins_and_a_hole_is_a_hole(run, sdk):
    out = ok(run("compare", *THREE, *BOTH, columns=120))
    table = out.partition("service limit, °C\n")[2].partition("\n\n")[0].splitlines()
    assert table[0].split() == ["material", "low", "typical", "high", "origins", "holds", "for"]
    answer = sdk.property("expanded-perlite", "service_limit")
    line = next(line for line in table if line.startswith("expanded-perlite")).split()
    assert [float(one) for one in line[1:4]] == pytest.approx(answer.range.magnitudes, rel=1e-3)
    assert line[4] == str(answer.derivation.origins)
    expansion = out.partition("thermal expansion\n")[2].partition("\n\n")[0]
    assert "nothing is held" in expansion
    assert sdk.survives("chamotte", "700 degC").promise in " ".join(out.split())


def test_a_figure_stands_at_its_own_temperature(run, sdk):
    names = ("mullite", "fireclay-brick", "expanded-clay")
    words = ("--temperature", "600 degC", "--property", "thermal_conductivity")
    out = ok(run("compare", *names, *words, columns=160))
    table = out.partition("thermal conductivity, W/(m·K)\n")[2].partition("\n\n")[0].splitlines()
    holds_for = table[0].index("holds for")
    found = json.loads(ok(run("compare", *names, *words, "--json")))["materials"]
    curved = 0
    for one in found:
        answer = one["properties"]["thermal_conductivity"]
        line = next(line for line in table if line.startswith(one["material"]))
        shown = line[holds_for:].partition(";")[0]
        if answer["points"] is not None:
            curved += 1
            assert [each["temperature"]["value"] for each in answer["points"]] == [600.0]
            assert shown == "at 600 °C"
        else:
            held = sdk.property(one["material"], "thermal_conductivity").condition.temperature
            assert shown == f"at {held}" != "at 600 °C"
    assert 0 < curved < len(names)


def test_one_place_only(run):
    face = ok(run("compare", *THREE, "--temperature", "900 degC", "--place", "face"))
    assert face.startswith("At 900 °C seeing the fire, each alone")
    assert "behind" not in face.partition("decided by")[0]
    behind = ok(run("compare", *THREE, "--temperature", "900 degC", "--place", "behind"))
    assert behind.startswith("At 900 °C behind the hot face")


def test_commas_and_doubles_are_taken(run):
    words = ("compare", "chamotte,expanded-clay", "chamotte", "--temperature", "900 degC")
    found = json.loads(ok(run(*words, "--json")))
    assert sorted(one["material"] for one in found["materials"]) == ["chamotte", "expanded-clay"]


def test_a_material_that_is_not_known_spoils_not_the_others(run):
    for extra in ((), ("--json",)):
        result = run("compare", "chamotte", "chamote", "--temperature", "900 degC", *extra)
        assert result.exit_code == 5
        assert "'chamotte'" in " ".join(result.stdout.split())
        assert "Traceback" not in result.output


def test_the_exit_code_tells_the_worst_only_when_asked(run, sdk):
    words = ("compare", *THREE, "--temperature", "1100 degC", "--place", "face")
    worst = outcomes(sdk, THREE, "face", "1100 degC").values()
    assert "no" in worst
    assert run(*words).exit_code == 0
    assert run(*words, "--exit-code").exit_code == 4


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ((), 2, "Missing argument"),
        (("chamotte",), 2, "--temperature"),
        ((",", "--temperature", "900 degC"), 2, "name a material"),
        (("chamotte", "--temperature", "900"), 2, "has no unit"),
        (("chamotte", "--temperature", "900 kg"), 2, "measures mass"),
        (("chamotte", "--temperature", "9 degC", "--place", "under"), 2, "'face', 'behind'"),
        (
            ("chamotte", "--temperature", "9 degC", "--place", "face", "--behind", "5 degC"),
            2,
            "leaves out",
        ),
        (("chamotte", "--temperature", "900 degC", "--property", "densty"), 5, "'"),
    ],
)
def test_what_makes_no_sense_is_told(run, words, code, says):
    result = run("compare", *words)
    assert result.exit_code == code, result.output
    assert says in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("columns", [30, 40, 80, 120])
def test_it_fits_the_terminal_and_has_no_colour_when_piped(run, columns):
    out = ok(run("compare", *THREE, *BOTH, columns=columns))
    assert max(len(line) for line in out.splitlines()) <= columns
    assert "\x1b" not in out


def test_us_units(run):
    out = ok(run("compare", *THREE, "--temperature", "1800 degF", "--units", "us"))
    assert out.startswith("At 1800 °F")
    assert "lb/ft³" in out
