"""Materials side by side: the facts are those of ``/v1`` and of the command line, best first."""

from __future__ import annotations

import csv
import io
import json
from urllib.parse import parse_qsl

import pytest
from click.testing import CliRunner

from hotface_api.cli.commands import hotface
from hotface_api.embedded import InProcessTransport
from hotface_api.site.words import number
from support.pages import BROWSER, WALL

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


def compared(client, query=WALL):
    response = client.get(f"/compare/result.json?{query}")
    assert response.status_code == 200, response.json
    return response.json["materials"]


def test_the_form_leads_to_the_answers_own_address(client):
    typed = (
        "material_1=grog&material_3=Expanded+clay&material_4=perlite&temperature=1100&unit=Cel"
        "&behind=700&with=cac-40&place="
    )
    response = client.get(f"/compare?{typed}", headers=BROWSER)
    assert response.status_code == 302
    place, _, query = response.headers["Location"].partition("?")
    assert place.endswith("/compare/result")
    assert parse_qsl(query) == parse_qsl(WALL)


def test_each_answer_is_the_one_the_api_gives(client):
    for each in compared(client):
        for place, degrees in (("face", 1100), ("behind", 700)):
            told = client.get(
                f"/v1/materials/{each['material']}/survival?temperature={degrees}%20Cel"
                f"&place={place}&with=cac-40"
            ).json
            assert each["survival"][place] == told
        for answer in filter(None, each["properties"].values()):
            at = "?at=700%20Cel" if answer["points"] is not None else ""
            path = f"/v1/materials/{each['material']}/properties/{answer['property']}{at}"
            assert answer == client.get(path).json


def test_the_facts_are_those_of_the_command_line(app, client, monkeypatch):
    monkeypatch.setattr("hotface_api.embedded.open_transport", lambda **_: InProcessTransport(app))
    for name in ("HOTFACE_SERVER", "HOTFACE_KEY"):
        monkeypatch.delenv(name, raising=False)
    names = ["chamotte", "expanded-clay", "expanded-perlite"]
    options = ["--temperature", "1100 Cel", "--behind", "700 Cel", "--with", "cac-40"]
    result = CliRunner().invoke(hotface, ["compare", *names, *options, "--json"])
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["materials"] == compared(client)


def test_the_best_suited_comes_first(client, show):
    found = compared(client)
    order = ("yes", "borderline", "unknown", "no")
    ranks = [order.index(each["survival"]["face"]["outcome"]) for each in found]
    assert ranks == sorted(ranks)
    page = show(f"/compare/result?{WALL}")
    table = next(page.tree.iter("table"))
    rows = [
        next(each.iter("a")).get("href")
        for each in table.iter("th")
        if each.get("data-label") == "Material"
    ]
    assert rows == [f"/materials/{each['material']}" for each in found]


def test_the_sentence_names_where_each_belongs_and_the_numbers_follow(client, show):
    text = show(f"/compare/result?{WALL}").words("body/main")
    assert text.index("at the hot face: ") < text.index("Asked: 1100")
    assert "Borderline at the hot face: Chamotte" in text
    k = next(
        each["properties"]["thermal_conductivity"]
        for each in compared(client)
        if each["material"] == "expanded-perlite"
    )
    told = k["points"][0] if k["points"] else k["range"]
    if told["typical"] is not None:
        assert f"({number(told['low'])} to {number(told['high'])})" in text
    assert "not held" in text
    assert "What this does not promise" in text


def test_one_place_may_be_asked_alone(client, show):
    query = "material=quartz&temperature=600%20Cel&place=behind"
    assert list(compared(client, query)[0]["survival"]) == ["behind"]
    text = show(f"/compare/result?{query}").words("body/main")
    assert "Behind the hot face, 600" in text
    assert "At the hot face" not in text


def test_the_question_can_be_changed(client, show):
    page = show(f"/compare/result?{WALL}&margin=20%20K")
    back = next(link for link in page.links() if link.startswith("/compare?"))
    form = show(back)
    assert form.status == 200
    assert form.by_id("temperature").get("value") == "1100.0"
    assert form.by_id("behind").get("value") == "700.0"
    assert form.by_id("with").get("value") == "cac-40"
    assert form.by_id("material_3").get("value")


def test_the_table_as_csv_has_a_line_a_material_and_place(client):
    response = client.get(f"/csv/compare/result?{WALL}")
    rows = list(csv.DictReader(io.StringIO(response.get_data(as_text=True), newline="")))
    assert len(rows) == 6
    assert {row["place"] for row in rows} == {"face", "behind"}
    for row in rows:
        assert row["outcome"] in ("yes", "borderline", "no", "unknown")


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ("temperature=900", "material_1", "name the materials"),
        ("material_2=perlit&temperature=900", "material_2", "choose one of these"),
        ("material_1=quartz", "temperature", "give the temperature"),
        ("material_1=quartz&temperature=-900", "temperature", "absolute zero"),
        ("material_1=quartz&temperature=900&behind=x", "behind", "write a number"),
        ("material_1=quartz&temperature=900&with=xyzzy", "with", "no material held"),
        ("material_1=quartz&temperature=900&margin=-1", "margin", "not below zero"),
    ],
)
def test_a_fault_is_told_at_its_field_and_what_was_typed_stays(show, typed, field, said):
    page = show(f"/compare?{typed}")
    assert page.status == 422
    assert said in "".join(page.by_id(f"{field}-fault").itertext())
    for name, text in parse_qsl(typed):
        assert page.by_id(name).get("value") == text


@pytest.mark.parametrize(
    ("query", "status", "said"),
    [
        ("temperature=900%20Cel", 400, "name between 1 and"),
        ("material=quartz", 400, "temperature: is missing"),
        ("material=quartz&temperature=900%20Cel&place=roof", 400, "is one of face, behind"),
        ("material=quarz&temperature=900%20Cel", 400, "quarz"),
        ("material=quartz&temperature=900%20Cel&behind=hot", 400, "behind"),
    ],
)
def test_an_odd_address_is_refused_with_the_reason(show, query, status, said):
    page = show(f"/compare/result?{query}")
    assert page.status == status
    assert said in page.words("body/main").lower()
