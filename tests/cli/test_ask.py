"""The commands that ask: the SDK's answers, for people and as JSON."""

import json

import pytest

from hotface import EstimateRequest, Question
from hotface_api.cli.commands import HOMES


def ok(result):
    assert result.exit_code == 0, result.output
    return result.stdout


def test_survival_says_the_sentence_first_and_the_promise_last(run, sdk):
    out = ok(run("survival", "expanded-perlite", "1050 degC"))
    found = sdk.survives("expanded-perlite", "1050 degC")
    flat = " ".join(out.split())
    assert flat.startswith(found.answer)
    assert flat.endswith(found.promise)
    assert all(source in flat for source in found.citations)


def test_json_is_the_services_own(run, sdk, lid):
    cases = {
        ("survival", "chamotte", "1000 degC"): sdk.survives("chamotte", "1000 degC"),
        ("show", "mullite"): sdk.material("mullite"),
        ("show", "mullite", "true_density"): sdk.property("mullite", "true_density"),
        ("show", "mullite", "specific_heat_capacity", "--at", "300 degC", "--at", "400 degC"): (
            sdk.property("mullite", "specific_heat_capacity", at=["300 degC", "400 degC"])
        ),
        ("estimate", str(lid)): sdk.estimate(EstimateRequest.from_file(lid)),
    }
    for words, found in cases.items():
        assert ok(run(*words, "--json")) == found.to_json() + "\n"


def test_survival_of_several_is_one_call_and_a_line_each(run, sdk):
    out = ok(
        run(
            "survival",
            "chamotte, expanded-clay",
            "1000 degC",
            "--with",
            "cac-40",
            "--place",
            "face",
            "--load",
            "yes",
            "--cycling",
            "no",
            "--margin",
            "30 K",
        )
    )
    assert out.startswith("At 1000 °C with cac-40, seeing the fire, under load, 30 K to spare")
    for name in ("chamotte", "expanded-clay"):
        found = sdk.survives(
            name, "1000 degC", with_="cac-40", place="face", load=True, cycling=False, margin="30 K"
        )
        line = next(line for line in out.splitlines() if line.startswith(name))
        assert f" {found.outcome} " in line
    text = ok(run("survival", "chamotte,expanded-clay", "1000 degC", "--json"))
    asked = [Question(name, "1000 degC").to_json() for name in ("chamotte", "expanded-clay")]
    assert text == sdk.ask("POST", "/v1/survivals", None, {"questions": asked}).text + "\n"


@pytest.mark.parametrize("extra", [(), ("--json",)])
def test_the_exit_code_tells_the_outcome_only_when_asked(run, sdk, extra):
    outcomes = {}
    for one in sdk.survivals([(each.id, "1000 degC") for each in sdk.materials()]):
        outcomes.setdefault(one.outcome, one.material)
    assert set(outcomes) == {"yes", "borderline", "no", "unknown"}
    codes = {"yes": 0, "borderline": 3, "unknown": 3, "no": 4}
    for outcome, name in outcomes.items():
        words = ("survival", name, "1000 degC", *extra)
        assert run(*words).exit_code == 0
        assert run(*words, "--exit-code").exit_code == codes[outcome]
    both = f"{outcomes['yes']},{outcomes['no']}"
    assert run("survival", both, "1000 degC", "--exit-code", *extra).exit_code == 4


@pytest.mark.parametrize("extra", [(), ("--json",)])
def test_a_material_that_is_not_known_spoils_not_the_others(run, extra):
    result = run("survival", "chamotte,chamote", "1000 degC", *extra)
    assert result.exit_code == 5
    assert "no material has the id" in " ".join(result.stdout.split())
    assert "chamotte" in result.stdout


def test_show_a_material(run, sdk):
    out = ok(run("show", "mullite"))
    found = sdk.material("mullite")
    assert out.startswith(f"{found.name} (aggregate)")
    for held in found.properties:
        assert any(line.startswith(held.property) for line in out.splitlines())
    assert found.missing[0] in out


def test_show_a_property_with_points_and_evidence(run, sdk):
    out = ok(run("show", "mullite", "specific_heat_capacity", "--at", "300 degC"))
    answer = sdk.property("mullite", "specific_heat_capacity", at="300 degC")
    assert "°C" in out
    assert f"{answer.at_point().magnitudes.typical:.4g}" in out
    assert answer.derivation.used[0].value in " ".join(out.split())
    whole = ok(run("show", "mullite", "specific_heat_capacity"))
    points = [line for line in whole.splitlines() if line[:1].isdigit()]
    assert 2 <= len(points) <= 13


def test_conditions_go_with_a_property(run):
    result = run("show", "mullite", "--at", "300 degC")
    assert result.exit_code == 2
    assert "go with a PROPERTY" in result.stderr


def test_materials_are_listed_and_filtered(run, sdk):
    out = ok(run("materials", "--kind", "binder", "--kind", "filler"))
    names = [one.id for one in sdk.materials(kind=["binder", "filler"])]
    listed = [line.split()[0] for line in out.splitlines()[1:-2] if not line.startswith(" ")]
    assert listed == names
    assert out.endswith(f"{len(names)} in all\n")
    hot = ok(run("materials", "--survives", "900 degC", "--has", "service_limit", "--json"))
    listed = [one["id"] for one in json.loads(hot)["items"]]
    kept = [one.id for one in sdk.materials(survives="900 degC", has="service_limit")]
    assert listed == kept != []


def test_a_list_of_one_page_is_the_services_json_and_of_more_is_whole(run, sdk):
    one = run("materials", "--q", "perlite", "--json").stdout
    assert one == next(iter(sdk.materials(q="perlite").answers())).text + "\n"
    every = json.loads(ok(run("materials", "--json")))
    assert len(every["items"]) == len(sdk.materials().all()) > 200
    assert every["next"] is None
    assert every["revision"] == 1


def test_estimate_for_people(run, sdk, lid):
    out = ok(run("estimate", str(lid)))
    found = sdk.estimate(EstimateRequest.from_file(lid))
    assert out.startswith("fired at 1000 °C: ")
    assert str(found.densities["dried"]) in " ".join(out.split())
    assert "lower bound" in out
    assert found.citations[0] in out
    for name, reason in found.reasons.items():
        if name in found.properties:
            assert " ".join(f"none: {reason}".split()) in " ".join(out.split())


def test_estimate_can_be_kept(run, lid, tmp_path):
    kept = tmp_path / "lid.json"
    out = ok(run("estimate", str(lid), "--save", str(kept), "--json"))
    assert kept.read_text(encoding="utf-8") + "\n" == out


@pytest.mark.parametrize(
    ("text", "says"),
    [("watter = '1 L'", "did you mean 'water'"), ("[[constituents]]", "lacks 'material'")],
)
def test_a_faulty_mix_file_is_told(run, lid, text, says):
    lid.write_text(text)
    result = run("estimate", str(lid))
    assert result.exit_code == 5
    assert result.stderr.startswith("hotface: lid.toml: ")
    assert says in result.stderr


def test_a_mix_the_service_refuses_is_told_with_the_place(run, lid):
    lid.write_text(lid.read_text().replace("25 kg", "0 kg"))
    result = run("estimate", str(lid))
    assert result.exit_code == 5
    assert "#/mix/constituents/0/amount" in result.stderr


def test_us_units(run):
    out = ok(run("survival", "chamotte", "1832 degF", "--units", "us"))
    assert "°F" in out
    assert (
        json.loads(ok(run("show", "mullite", "true_density", "--units", "us", "--json")))["unit"]
        == "[lb_av]/[cft_i]"
    )


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("survival", "mullite", "1050"), 2, "has no unit"),
        (("survival", "mullite", "25 kg"), 2, "measures mass"),
        (("survival", "mullite", "9" * 90), 2, "at most"),
        (("survival", "mullite", "--", "-300 degC"), 5, "absolute zero"),
        (("survival", ",", "1000 degC"), 2, "name a material"),
        (("survival", "mullite", "1000 degC", "--place", "under"), 2, "'face', 'behind'"),
        (("survival", "mullite", "1000 degC", "--margin", "50 degC"), 2, "difference"),
        (("survival", "mulite", "1000 degC"), 5, "'mullite'"),
        (("show", "mullite", "colour"), 5, "colour"),
        (("show", ".."), 5, "cannot be an id"),
        (("materials", "--kind", "stone"), 5, "aggregate"),
        (("estimate", "nowhere.toml"), 2, "does not exist"),
        (("show", "mullite", "--server", "ftp://x"), 2, "not the address"),
        (("show", "mullite", "--server", "http://127.0.0.1:1"), 6, "hotface serve"),
        (("bake",), 2, "No such command"),
    ],
)
def test_what_goes_wrong_has_its_exit_code_and_no_trace(run, words, code, says, monkeypatch):
    monkeypatch.setattr("hotface._retry.RetryPolicy.pause", lambda *_: None)
    result = run(*words)
    assert result.exit_code == code, result.output
    assert says in result.stderr
    assert "Traceback" not in result.output


def test_the_server_may_stand_in_the_environment(run):
    result = run("show", "mullite", HOTFACE_SERVER="gopher://x")
    assert "not the address" in result.stderr


@pytest.mark.parametrize("columns", [80, 120])
def test_text_fits_the_terminal_and_carries_no_colour_when_piped(run, lid, columns):
    for words in (
        ("survival", "expanded-perlite", "1050 degC"),
        ("survival", "chamotte,expanded-clay", "1050 degC"),
        ("show", "mullite"),
        ("show", "mullite", "specific_heat_capacity"),
        ("estimate", str(lid)),
    ):
        out = ok(run(*words, columns=columns))
        assert "\x1b" not in out
        assert max(len(line) for line in out.splitlines()) <= columns


def test_labelled_lines_fit_a_narrow_terminal(run):
    out = ok(run("survival", "expanded-perlite", "1050 degC", columns=40))
    assert max(len(line) for line in out.splitlines()) <= 40


def test_help_teaches_with_our_scenario(run):
    out = ok(run("--help"))
    assert "pottery club" in out
    assert "130  stopped with Ctrl+C" in out
    for name in HOMES:
        assert f"  {name} " in out
        assert f"Usage: hotface {name}" in ok(run(name, "--help"))
    assert "lid.toml" in run("estimate", "--help").stdout


def test_every_command_asks_for_json_or_has_none_to_give(run):
    for name in set(HOMES) - {"serve", "completion", "person", "key"}:
        assert "--json" in ok(run(name, "--help"))


def test_a_wrong_command_is_told_with_the_nearest(run):
    result = run("surviva")
    assert result.exit_code == 2
    assert "'survival'" in result.stderr


def test_the_data_as_they_stood_can_be_asked_for(run, sdk):
    assert ok(run("show", "mullite", "--revision", "1", "--json")) == (
        sdk.material("mullite").to_json() + "\n"
    )
    result = run("show", "mullite", "--revision", "99")
    assert result.exit_code == 5
    assert "revision 99" in result.stderr
