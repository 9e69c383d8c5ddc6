"""Handing in and judging at the command line, embedded and against a service."""

import json
import stat

import pytest

PERLITE = """\
licence = "CC0-1.0"

[source.own_measurement]
specimen = "two litres from the club's bag"
instrument = "scale 1 g, jug 2 L"
date = 2026-11-20

[[values]]
material = "expanded-perlite"
property = "loose_bulk_density"
typical = "110"
unit = "kg/m3"
form = "heap"
fill = "poured"
uncertainty = { expanded = "6", coverage_factor = 2.0 }
"""
HEAD = "material,property,printed_typical,printed_unit,unit,form,fill,basis\n"
ROW = "expanded-perlite,loose_bulk_density,{},kg/m3,kg/m3,heap,poured,measured\n"
OWN = ("--specimen", "lids", "--instrument", "scale 1 g", "--date", "2026-11-20")


@pytest.fixture
def perlite(tmp_path):
    """The club's measurement."""
    place = tmp_path / "perlite.toml"
    place.write_text(PERLITE, encoding="utf-8")
    return place


@pytest.fixture
def table(tmp_path):
    """Write a CSV file of loose densities."""

    def write(*figures, head=HEAD, row=ROW):
        place = tmp_path / "lids.csv"
        place.write_text(head + "".join(row.format(one) for one in figures), encoding="utf-8")
        return place

    return write


def handed_in(members, file, who="ann"):
    """Hand in a file and give the id of its only value."""
    return json.loads(members.ok(who, "submit", file, "--json"))["items"][0]["value"]


def test_from_a_measurement_to_an_accepted_value(members, perlite):
    looked = members.ok("ann", "submit", perlite, "--dry-run")
    assert looked.startswith("Checked, nothing written: 1 checked")
    assert "Inside the interval held" in " ".join(looked.split())
    assert members.ok("ann", "contributions") == "0 in all\n"

    told = members.ok("ann", "submit", perlite)
    assert told.startswith("Submission s-")
    assert "Pending: no answer counts it" in told
    listed = json.loads(members.ok("ann", "contributions", "--json"))["items"]
    value = listed[0]["value"]["id"]
    assert value in told
    assert members.ok("ben", "contributions") == "0 in all\n"
    assert value in members.ok("cleo", "contributions")

    shown = members.ok("cleo", "contribution", value)
    assert "state             pending, version 1" in shown
    assert "110 kg/m3" in shown
    assert members("ben", "contribution", value).exit_code == 5
    asked = members.ok("cleo", "review", value, "--ask", "--note", "Was the bag dry?")
    assert asked == f"{value} is asked, version 2\n"
    assert "Was the bag dry?" in members.ok("ann", "contribution", value)
    assert "version 3" in members.ok("ann", "reply", value, "It was.")
    accepted = json.loads(members.ok("cleo", "review", value, "--accept", "--json"))
    assert (accepted["state"], accepted["revision"]) == ("accepted", 2)
    answer = json.loads(
        members.ok(None, "show", "expanded-perlite", "loose_bulk_density", "--json")
    )
    assert value in [one["value"] for one in answer["derivation"]["used"]]


def test_a_correction_replaces_and_a_withdrawal_takes_back(members, perlite, tmp_path):
    value = handed_in(members, perlite)
    one = tmp_path / "one.toml"
    one.write_text(PERLITE.partition("[[values]]")[2].replace('"110"', '"116"'), encoding="utf-8")
    told = members.ok("ann", "correct", value, one, "--reason", "the jug was short", "--json")
    newer = json.loads(told)["items"][0]["value"]
    assert newer != value
    assert "replaced" in members.ok("ann", "contribution", value)
    assert "116 kg/m3" in members.ok("ann", "contribution", newer)
    gone = members.ok("ann", "withdraw", newer, "--reason", "not our bag")
    assert gone == f"{newer} is withdrawn, version 2\n"
    again = members("ann", "withdraw", newer, "--reason", "again")
    assert again.exit_code == 1
    assert "withdrawn" in again.stderr


def test_several_are_decided_alike_or_not_at_all(members, table):
    file = table("110", "112", "114")
    members.ok("ann", "submit", file, "--licence", "CC0-1.0", *OWN)
    values = [
        one["value"]["id"]
        for one in json.loads(members.ok("cleo", "contributions", "--json"))["items"]
    ]
    assert len(values) == 3
    out = members.ok("cleo", "review", *values, "--accept")
    assert [line.partition(" is ")[2][:8] for line in out.splitlines()] == ["accepted"] * 3
    assert members("cleo", "review", *values, "--accept").exit_code == 1


def test_a_table_is_told_row_by_row(members, table):
    file = table("120", "1200")
    words = ("submit", file, "--licence", "CC-BY-4.0", *OWN)
    looked = members("ann", *words, "--dry-run")
    assert looked.exit_code == 0, looked.output
    flat = " ".join(looked.stdout.split())
    assert flat.startswith("Checked, nothing written: 2 checked line value state told 2 - checked")
    assert "Unit slip suspected" in flat
    assert "checked: 2 rows" in looked.stderr
    written = json.loads(members.ok("ann", *words, "--json"))
    assert (written["written"], [one["line"] for one in written["rows"]]) == (True, [2, 3])
    assert len(json.loads(members.ok("ann", "contributions", "--json"))["items"]) == 2


def test_a_table_with_a_fault_is_refused_whole_with_line_and_column(members, table):
    file = table("120", "a lot")
    words = ("submit", file, "--licence", "CC0-1.0", *OWN)
    result = members("ann", *words)
    assert result.exit_code == 1
    assert result.stdout.splitlines()[0].split() == ["line", "column", "what", "is", "wrong"]
    assert result.stdout.splitlines()[1].split()[:2] == ["3", "printed_typical"]
    assert "nothing was written" in result.stderr
    looked = members("ann", *words, "--dry-run")
    assert looked.exit_code == 1
    assert "printed_typical: 'a lot'" in " ".join(looked.stdout.split())
    problem = json.loads(members("ann", *words, "--json").stdout)
    assert problem["errors"][0]["pointer"] == "#/3/printed_typical"
    assert members.ok("ann", "contributions") == "0 in all\n"


def test_part_of_a_submission_is_written_when_told(members, perlite):
    text = perlite.read_text(encoding="utf-8")
    bad = text.partition("[[values]]")[2].replace("kg/m3", "kg/m4")
    perlite.write_text(f"{text}\n[[values]]{bad}", encoding="utf-8")
    whole = members("ann", "submit", perlite)
    assert whole.exit_code == 1
    assert "#/values/1/" in whole.stderr
    part = members("ann", "submit", perlite, "--partial")
    assert part.exit_code == 1
    assert "1 pending, 1 refused" in part.stdout
    assert len(json.loads(members.ok("ann", "contributions", "--json"))["items"]) == 1


def test_a_body_with_its_recipe(members, tmp_path):
    file = tmp_path / "lid.json"
    content = {
        "licence": "CC0-1.0",
        "source": {
            "own_measurement": {"specimen": "lid", "instrument": "scale", "date": "2026-11-20"}
        },
        "material": {
            "id": "perlite-lid",
            "name": "Perlite lid concrete",
            "kind": "body",
            "description": "Calcium aluminate cement with expanded perlite.",
        },
        "specimen": {
            "material": "perlite-lid",
            "name": "Lid of the small wood kiln",
            "state": "fired",
            "treatment_temperature": "1000 degC",
            "constituents": [
                {"material": "cac-40", "part": "binder", "mass_percent": 45.0},
                {"material": "expanded-perlite", "part": "aggregate", "mass_percent": 55.0},
            ],
        },
        "values": [
            {
                "material": "perlite-lid",
                "property": "bulk_density",
                "printed": {"typical": "780", "unit": "kg/m3"},
                "condition": {"form": "body", "state": "fired"},
            }
        ],
    }
    file.write_text(json.dumps(content), encoding="utf-8")
    looked = members.ok("ann", "submit", file, "--dry-run")
    assert "1 checked" in looked
    told = members.ok("ann", "submit", file)
    assert "measured body" in told
    shown = members.ok("cleo", "contributions", "--state", "pending")
    assert "perlite-lid bulk density: 780 kg/m3" in " ".join(shown.split())


def test_a_stale_version_is_told_and_nothing_is_done(members, perlite):
    value = handed_in(members, perlite)
    members.ok("cleo", "review", value, "--ask", "--note", "Was the bag dry?")
    result = members("cleo", "review", value, "--accept", "--version", "1")
    assert result.exit_code == 1
    assert "version 2" in result.stderr
    assert "hotface contribution" in result.stderr
    assert "Client" not in result.stderr


def test_who_may_not_is_told(members, perlite):
    value = handed_in(members, perlite)
    own = members("ann", "review", value, "--accept")
    assert own.exit_code == 5
    assert "curator" in own.stderr
    curated = handed_in(members, perlite, "cleo")
    assert "own" in members("cleo", "review", curated, "--accept").stderr


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("hf_contributor_000000000000_" + "a" * 43, "not known"),
        ("two words", "copy it again"),
        ("", "this needs a key"),
    ],
)
def test_a_key_that_is_none_is_told_and_not_repeated(members, perlite, key, says):
    result = members(None, "submit", perlite, HOTFACE_KEY=key)
    assert result.exit_code == 5
    assert says in result.stderr
    assert "Traceback" not in result.output
    assert not key or key not in result.output


def test_a_key_may_stand_in_a_file(members, perlite, tmp_path):
    place = tmp_path / "key"
    place.write_text(members.keys["ann"] + "\n", encoding="utf-8")
    place.chmod(stat.S_IRUSR | stat.S_IWUSR | stat.S_IRGRP)
    told = members(None, "submit", perlite, "--key-file", place)
    assert told.exit_code == 0, told.output
    assert "chmod 600" in told.stderr
    place.chmod(stat.S_IRUSR | stat.S_IWUSR)
    assert members(None, "contributions", "--key-file", place).stderr == ""
    place.write_text("one key\nand another\n", encoding="utf-8")
    refused = members(None, "contributions", "--key-file", place)
    assert refused.exit_code == 5
    assert "must hold one key" in refused.stderr
    place.write_bytes(b"\xff\xfe")
    assert "cannot be read" in members(None, "contributions", "--key-file", place).stderr


def test_a_revoked_key_is_refused_at_once(members, perlite):
    handed_in(members, perlite)
    name = members.keys["ann"].split("_")[2]
    assert members.operate(members.url, "key", "revoke", name).exit_code == 0
    result = members("ann", "contributions")
    assert result.exit_code == 5
    assert "revoked" in result.stderr


def alone(operate, url):
    """Give a runner of one contributor of a database."""
    who = operate(url, "person", "add", "Ann").stdout.strip()
    key = operate(url, "key", "make", who).stdout.strip()
    return lambda *words, **env: operate(url, *words, HOTFACE_KEY=key, **env)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("licence =", "license ="), "did you mean 'licence'"),
        (('"110"', "110.5"), "write the figure as text"),
        (('unit = "kg/m3"', ""), "unit is missing"),
        (("typical =", "tipical ="), "did you mean 'typical'"),
        (('typical = "110"', ""), "give the figure"),
        (("[[values]]", "[values]"), "it holds no values"),
        (("fill =", "fill = ="), "line"),
        (('material = "expanded-perlite"\n', ""), "'material' is missing"),
        (("expanded = ", "expandet = "), "did you mean 'expanded'"),
    ],
)
def test_a_faulty_file_is_told_before_anything_is_sent(operate, sqlite_url, perlite, change, says):
    ann = alone(operate, sqlite_url)
    text = perlite.read_text(encoding="utf-8")
    assert change[0] in text
    perlite.write_text(text.replace(*change), encoding="utf-8")
    result = ann("submit", perlite)
    assert result.exit_code == 5, result.output
    assert says in result.stderr
    assert "perlite.toml" in result.stderr


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{", "line 1 column 2"),
        (b"[]", "must hold one table"),
        (b'{"values": NaN}', "NaN is no number"),
        (b"\xff", "line 1: this is not UTF-8"),
        (b"[" * 100_000, "lid.json"),
        (b'{"values": [3]}', "value 1 must be a table"),
        (b'{"values": [{"printed": 3}], "licence": "CC0-1.0"}', "#/values/0"),
    ],
)
def test_faulty_json_is_told(operate, sqlite_url, tmp_path, content, says):
    file = tmp_path / "lid.json"
    file.write_bytes(content)
    result = alone(operate, sqlite_url)("submit", file)
    assert result.exit_code in (1, 5), result.output
    assert says in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("submit", "nowhere.toml"), "does not exist"),
        (("submit",), "Missing argument"),
        (("submit", "{table}"), "--licence"),
        (("submit", "{table}", "--licence", "CC0-1.0", "--partial"), "whole or not at all"),
        (("submit", "{table}", "--licence", "CC0-1.0", "--specimen", "x"), "--instrument, --date"),
        (("submit", "{table}", "--licence", "CC0-1.0", *OWN[:-1], "soon"), "is no day"),
        (("submit", "{perlite}", "--specimen", "x"), "go with a CSV file"),
        (("review", "c-1"), "--accept, --decline and --ask"),
        (("review", "c-1", "--decline"), "needs a --note"),
        (("review", "c-1", "c-2", "--accept", "--version", "1"), "of one value"),
        (("correct", "c-1", "{perlite}"), "--reason"),
        (("withdraw", "c-1"), "--reason"),
        (("reply", "c-1"), "Missing argument"),
        (("contributions", "--state", "lost"), "'pending'"),
    ],
)
def test_wrong_use_is_told(operate, sqlite_url, perlite, table, words, says):
    places = {"{table}": str(table("110")), "{perlite}": str(perlite)}
    result = alone(operate, sqlite_url)(*(places.get(word, word) for word in words))
    assert result.exit_code == 2, result.output
    assert says in result.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("contribution", "c-nothing"), "c-nothing"),
        (("withdraw", "c-nothing", "--reason", "x"), "c-nothing"),
        (("review", "c-nothing", "--accept"), "c-nothing"),
        (("contribution", ".."), "cannot be an id"),
    ],
)
def test_an_id_that_is_none_is_told(operate, sqlite_url, words, says):
    result = alone(operate, sqlite_url)(*words)
    assert result.exit_code == 5, result.output
    assert says in result.stderr


def test_a_licence_in_the_file_need_not_be_said_and_none_is_taken_for_granted(
    operate, sqlite_url, perlite
):
    ann = alone(operate, sqlite_url)
    assert ann("submit", perlite, "--dry-run").exit_code == 0
    text = perlite.read_text(encoding="utf-8").replace('licence = "CC0-1.0"', "")
    perlite.write_text(text, encoding="utf-8")
    assert ann("submit", perlite, "--dry-run").exit_code == 2
    assert ann("submit", perlite, "--dry-run", "--licence", "CC0-1.0").exit_code == 0
    assert ann("submit", perlite, "--dry-run", "--licence", "mine").exit_code == 1


def test_sources_of_a_table_come_from_a_csl_file(operate, sqlite_url, table, tmp_path):
    ann = alone(operate, sqlite_url)
    sources = tmp_path / "sources.json"
    item = {
        "id": "club-2026",
        "type": "report",
        "title": "Invented for a test",
        "issued": {"date-parts": [[2026]]},
        "author": [{"family": "Club"}],
    }
    sources.write_text(json.dumps([item]), encoding="utf-8")
    row = "expanded-perlite,loose_bulk_density,{},kg/m3,kg/m3,heap,poured,read,club-2026,p. 3\n"
    file = table("110", head=HEAD.strip() + ",source,locator\n", row=row)
    words = ("submit", file, "--licence", "CC0-1.0", "--dry-run")
    told = ann(*words, "--sources", sources)
    assert told.exit_code == 0, told.output
    assert ann(*words).exit_code == 1
    for content, says in (("{}", "a list of CSL-JSON"), ("[", "cannot be read as CSL-JSON")):
        sources.write_text(content, encoding="utf-8")
        refused = ann(*words, "--sources", sources)
        assert refused.exit_code == 5
        assert says in refused.stderr


@pytest.mark.parametrize("columns", [40, 80])
def test_what_is_printed_fits_the_terminal(operate, sqlite_url, perlite, table, columns):
    ann = alone(operate, sqlite_url)
    value = json.loads(ann("submit", perlite, "--json").stdout)["items"][0]["value"]
    for words in (
        ("submit", perlite),
        ("submit", table("120", "1200"), "--licence", "CC0-1.0", *OWN, "--dry-run"),
        ("submit", table("120", "a lot"), "--licence", "CC0-1.0", *OWN, "--dry-run"),
        ("contributions",),
        ("contribution", value),
    ):
        result = ann(*words, columns=columns)
        assert result.stdout
        assert max(len(line) for line in result.stdout.splitlines()) <= columns
        assert "\x1b" not in result.output


def test_help_teaches_with_the_clubs_measurement(run):
    for name in ("submit", "correct", "withdraw", "reply", "review", "contributions"):
        out = run(name, "--help").stdout
        assert f"Usage: hotface {name}" in out
        assert "--key-file" in out
    assert "perlite.toml" in run("submit", "--help").stdout


def test_whose_key_it_is(members):
    card = json.loads(members.ok("cleo", "key", "show", "--json"))
    assert card["role"] == "curator"
    shown = members.ok("cleo", "key", "show")
    assert card["prefix"] in shown
    assert members.keys["cleo"] not in shown


def test_a_server_that_is_down_is_told(operate, sqlite_url, perlite, monkeypatch):
    monkeypatch.setattr("hotface._retry.RetryPolicy.pause", lambda *_: None)
    ann = alone(operate, sqlite_url)
    for words in (("submit", perlite), ("contributions",), ("review", "c-1", "--accept")):
        result = ann(*words, "--server", "http://127.0.0.1:1")
        assert result.exit_code == 6
        assert "hotface serve" in result.stderr
