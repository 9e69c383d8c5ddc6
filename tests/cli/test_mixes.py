"""What is said of a mix at the command line, and the search for mixes."""

import csv
import json

import pytest

from hotface import EstimateRequest, Mix, Musts, OnHand

SHED = """\
fired = "1000 degC"
at = ["600 degC"]
wishes = ["conductivity", "density"]
candidates = 200
results = 2
seed = 7

[musts]
density_below = "1200 kg/m3"
allow_unproven = true

[[on_hand]]
material = "cac-40"
low = 0.15
high = "40 %"

[[on_hand]]
material = "expanded-clay"

[[on_hand]]
material = "expanded-perlite"
share = { high = 0.6 }
"""


def ok(result):
    assert result.exit_code == 0, result.output
    return result.stdout


def asked(sdk, lid, **options):
    """Estimate the lid through the SDK, other options said."""
    request = EstimateRequest.from_file(lid)
    own = EstimateRequest(request.mix, **options)
    body = {"mix": request.to_json()["mix"], **request.options, **own.options}
    return sdk.estimate(EstimateRequest.from_dict(body))


@pytest.fixture
def shed(tmp_path):
    """What the club has on hand."""
    place = tmp_path / "shed.toml"
    place.write_text(SHED, encoding="utf-8")
    return place


@pytest.mark.parametrize(
    ("words", "options"),
    [
        (("--fired", "1100 degC"), {"fired": "1100 degC"}),
        (("--state", "dried"), {"state": "dried"}),
        (("--at", "300 degC", "--at", "500 degC"), {"at": ["300 degC", "500 degC"]}),
        (("--seed", "5", "--coverage", "0.8"), {"seed": 5, "coverage": 0.8}),
        (("--mould", "12L", "--spare", "10%"), {"mould": "12 L", "spare": 0.1}),
        (("--mould", "12 L", "--spare", "0.1"), {"mould": "12 L", "spare": 0.1}),
        (
            ("--mould", "12 L", "--thickness", "50 mm"),
            {"mould": "12 L", "thickness": "50 mm"},
        ),
        (("--rule", "lichtenecker"), {"rule": "lichtenecker"}),
        (
            ("--measured", "bulk_density=1000 kg/m3"),
            {"measured": {"bulk_density": "1000 kg/m3"}},
        ),
        (
            ("--measured", "dried=950 kg/m3", "--measured", "spread=2%"),
            {"measured": {"densities": {"dried": "950 kg/m3"}, "spread": 0.02}},
        ),
        (
            ("--measured", "thermal_conductivity=0.3 W/(m.K) at 400 degC"),
            {
                "measured": {
                    "thermal_conductivity": "0.3 W/(m.K)",
                    "thermal_conductivity_at": "400 degC",
                }
            },
        ),
    ],
)
def test_what_is_said_goes_before_the_file(run, sdk, lid, words, options):
    assert (
        ok(run("estimate", str(lid), *words, "--json"))
        == asked(sdk, lid, **options).to_json() + "\n"
    )


def test_what_to_weigh_out_for_a_mould(run, sdk, lid):
    out = ok(run("estimate", str(lid), "--mould", "12 L", "--spare", "10%"))
    casting = asked(sdk, lid, mould="12 L", spare=0.1).casting
    table = out.partition("for a mould of 12 L and 10% spare\n")[2].partition("\n\n")[0]
    lines = {line.split("  ")[0]: line.split() for line in table.splitlines()}
    for one in casting.constituents:
        assert float(lines[one.material][1]) == pytest.approx(one.amount.magnitudes[1], rel=1e-3)
    assert "water to pour in" in table
    assert f"the piece, fired {casting.piece['fired']}" in " ".join(table.split())


def test_how_to_dry_a_piece_is_told_with_what_it_does_not_promise(run, sdk, lid):
    words = ("--mould", "12 L", "--thickness", "50 mm")
    out = " ".join(ok(run("estimate", str(lid), *words)).split())
    drying = asked(sdk, lid, mould="12 L", thickness="50 mm").casting.drying
    assert f"drying a piece {drying.thickness} thick promises {drying.promise}" in out
    for one in (*drying.steps, *drying.others):
        assert " ".join(str(one).split()) in out


def test_draws_go_to_a_file(run, sdk, lid, tmp_path):
    place = tmp_path / "draws.csv"
    told = run("estimate", str(lid), "--draws", "7", "--draws-to", str(place))
    assert "7 draws written" in told.stderr
    ok(told)
    with place.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    draws = asked(sdk, lid, draws=7).draws
    assert [row["draw"] for row in rows] == [str(number) for number in range(1, 8)]
    density = f"bulk_density [{draws.units['bulk_density']}]"
    assert [float(row[density]) for row in rows] == draws.bulk_density.tolist()
    name = f"thermal_conductivity at 600 Cel [{draws.units['thermal_conductivity']}]"
    assert [float(row[name]) for row in rows] == draws.thermal_conductivity[:, 1].tolist()


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--mould", "12"), 2, "has no unit"),
        (("--mould", "12 kg"), 2, "measures mass"),
        (("--spare", "10%"), 2, "mould"),
        (("--thickness", "5 cm"), 2, "mould"),
        (("--mould", "12 L", "--spare", "much"), 2, "'much' is no number"),
        (("--fired", "900 degC", "--state", "dried"), 2, "fired or state, not both"),
        (("--rule-option", "a=1"), 2, "--rule-option goes with --rule"),
        (("--rule", "hamilton-crosser", "--rule-option", "a"), 2, "NAME=VALUE"),
        (("--rule", "hamilton-crosser", "--rule-option", "a=b"), 2, "'b' is no number"),
        (("--rule", "lichteneker"), 5, "lichtenecker"),
        (("--measured", "density=1 kg/m3"), 2, "'density' is not taken here"),
        (("--measured", "bulk_density"), 2, "NAME=VALUE"),
        (("--measured", "bulk_density=heavy"), 2, "bulk_density"),
        (("--measured", "thermal_conductivity=0.3 W/(m.K)"), 2, "its temperature"),
        (("--draws", "5"), 2, "--draws-to FILE"),
        (("--draws", "5000"), 2, "--draws"),
        (("--draws-to", "x.csv"), 2, "--draws"),
    ],
)
def test_what_makes_no_sense_is_told(run, lid, words, code, says):
    result = run("estimate", str(lid), *words)
    assert result.exit_code == code, result.output
    assert says in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("option", ["--save", "--draws-to"])
def test_a_file_that_cannot_be_written_is_told(run, lid, tmp_path, option):
    place = tmp_path / "no" / "lid.csv"
    result = run("estimate", str(lid), "--draws", "2", "--json", option, str(place))
    assert result.exit_code == 5
    assert "cannot be written" in result.stderr


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("lid.toml", "water = ", "at end of document"),
        ("lid.toml", "a = 1\nwater = = 2\n", "line 2"),
        ("lid.json", '{"water": 1,}', "line 1 column"),
        ("lid.json", "[]", "one table"),
    ],
)
def test_a_malformed_mix_file_is_told_with_the_line(run, tmp_path, name, text, says):
    place = tmp_path / name
    place.write_text(text)
    result = run("estimate", str(place))
    assert result.exit_code == 5
    assert name in result.stderr
    assert says in result.stderr


def test_a_search_is_the_one_of_the_sdk(run, sdk, shed):
    found = sdk.search_mixes(
        [
            OnHand("cac-40", 0.15, 0.4),
            OnHand("expanded-clay"),
            OnHand("expanded-perlite", high=0.6),
        ],
        must=Musts(density_below="1200 kg/m3", allow_unproven=True),
        wishes=["conductivity", "density"],
        fired="1000 degC",
        at=["600 degC"],
        candidates=200,
        results=2,
        seed=7,
    )
    told = run("search", str(shed), "--json")
    assert ok(told) == found.to_json() + "\n"
    assert "looked at: 200 candidates" in told.stderr
    out = ok(run("search", str(shed)))
    assert out.startswith(f"{len(found)} mixes worth trying of 200 looked at")
    assert f"1. {found[0]}" in " ".join(out.split())
    assert str(found[0].estimate.bulk_density) in " ".join(out.split())
    assert "conductivity at 600 °C" in out


def test_the_mixes_found_are_kept_as_files_for_an_estimate(run, shed, tmp_path):
    folder = tmp_path / "tries"
    told = ok(run("search", str(shed), "--keep", str(folder), "--json"))
    first = json.loads(told)["mixes"][0]
    assert (folder / "mix-1.json").exists()
    again = json.loads(ok(run("estimate", str(folder / "mix-1.json"), "--json")))
    assert again["properties"]["bulk_density"] == first["estimate"]["properties"]["bulk_density"]


def test_the_services_own_body_is_taken_too(run, shed, tmp_path):
    body = {
        "on_hand": [
            {"material": "cac-40", "share": {"low": 0.15, "high": 0.4}},
            {"material": "expanded-clay", "share": {"low": 0, "high": 1}},
        ],
        "musts": {"density_below": {"value": 1500, "unit": "kg/m3"}, "allow_unproven": True},
        "state": {"kind": "fired", "temperature": {"value": 1000, "unit": "Cel"}},
        "at": [{"value": 600, "unit": "Cel"}],
    }
    place = tmp_path / "shed.json"
    place.write_text(json.dumps(body), encoding="utf-8")
    words = ("search", str(place), "--candidates", "50", "--results", "1", "--seed", "3")
    found = json.loads(ok(run(*words, "--json")))
    assert found["looked_at"] == 50
    assert len(found["mixes"]) == 1


@pytest.mark.parametrize(
    ("change", "code", "says"),
    [
        (("fired =", "fird ="), 5, "did you mean 'fired'"),
        (("density_below", "densty_below"), 5, "did you mean 'density_below'"),
        (("[[on_hand]]", "[[onhand]]"), 5, "did you mean 'on_hand'"),
        (("low = 0.15", "low = 15"), 5, "between 0 and 1"),
        (("low = 0.15", "low = true"), 5, "is a share"),
        (("low = 0.15", 'low = "some"'), 2, "'some' is no number"),
        (("low = 0.15", "fil = 1"), 5, "unknown key 'fil'"),
        (('"cac-40"', "40"), 5, "a table with a material"),
        (('"1200 kg/m3"', '"1200"'), 5, "has no unit"),
        (('"cac-40"', '"cac-4"'), 5, "cac-4"),
        (("wishes = [", 'wishes = ["cheap", '), 5, "cheap"),
        (("at = ", "at = = "), 5, "line 2"),
    ],
)
def test_a_faulty_search_file_is_told(run, shed, change, code, says):
    assert change[0] in SHED
    shed.write_text(SHED.replace(*change, 3), encoding="utf-8")
    result = run("search", str(shed))
    assert result.exit_code == code, result.output
    assert says in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("columns", [40, 80])
def test_it_fits_the_terminal(run, lid, shed, columns):
    for words in (
        ("estimate", str(lid), "--mould", "12 L"),
        ("search", str(shed)),
    ):
        out = ok(run(*words, columns=columns))
        assert max(len(line) for line in out.splitlines()) <= columns
        assert "\x1b" not in out


def test_a_mix_of_one_own_needs_no_file_of_ours(run, tmp_path):
    mix = Mix(water="2 L").add("cac-40", "5 kg")
    place = tmp_path / "own.json"
    place.write_text(json.dumps(EstimateRequest(mix, fired="900 degC").to_json()))
    assert ok(run("estimate", str(place))).startswith("fired at 900 °C: ")
