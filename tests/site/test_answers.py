"""What the pages say is what ``/v1`` says, with its evidence and its holes."""

from __future__ import annotations

import csv
import io
import re

import pytest

from hotface_api.site import words
from support.pages import MANY, MIX, PAGES

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)
UNVERIFIED = "aerated-concrete.pore_size.1"


def table(client, address):
    response = client.get(address)
    assert response.status_code == 200
    assert response.content_type == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(response.get_data(as_text=True), newline="")))


def test_an_answer_begins_with_a_sentence_then_the_number_then_the_evidence(show):
    page = show("/materials/expanded-perlite/survival?temperature=1050%20Cel")
    text = page.words("body/main")
    sentence = text.index("No: Expanded perlite, grade not stated does not survive 1050")
    number = text.index("Limit of use:")
    evidence = text.index("The values that decided")
    promise = text.index("What this does not promise")
    assert sentence < number < evidence < promise


def test_the_outcome_is_told_in_words_and_by_pattern_not_by_colour(show):
    for outcome, address in (
        ("no", "/materials/expanded-perlite/survival?temperature=1050%20Cel"),
        ("borderline", "/materials/quartz/survival?temperature=1050%20Cel"),
        ("unknown", "/materials/aerogel/survival?temperature=20%20Cel"),
    ):
        page = show(address)
        classes = [each.get("class", "").split() for each in page.tree.iter("section")]
        assert ["answer", outcome] in classes
        assert page.words("body/main").split("?")[1].strip().lower().startswith(outcome)


@pytest.mark.parametrize("units", ["si", "us"])
def test_the_number_is_the_one_the_api_gives(client, show, units):
    address = f"/materials/{MANY}/properties/thermal_conductivity?units={units}"
    found = client.get("/v1" + address).json["range"]
    shown = " to ".join(words.number(found[end], found["unit"]) for end in ("low", "high"))
    assert f"{shown} {words.unit(found['unit'])} is where" in show(address).words("body/main")


NO_DATA = ("/reading", "/survival", "/compare", "/mix", "/mix-search")
"""Forms, and what explains the pages: they tell no number."""


@pytest.mark.parametrize("address", [p for p in PAGES if p.partition("?")[0] not in NO_DATA])
def test_the_same_data_is_linked_and_is_there(client, show, address):
    footer = show(address).tree.find("body/footer")
    links = {"".join(each.itertext()): each.get("href") for each in footer.iter("a")}
    data = [links["JSON"], links["CSV"]]
    assert client.get(data[0]).is_json
    rows = table(client, data[1])
    text = show(address).words("body/main")
    assert rows or "No value is held." in text or "none is worth trying" in text


def test_the_json_of_an_estimate_is_what_a_post_gives(client, show):
    shown = client.get(f"/mix/estimate.json?{MIX}").json
    body = {"mix": shown["mix"], "state": {"kind": "fired", "temperature": "1000 Cel"}}
    assert client.post("/v1/estimates", json=body).json == shown
    page = show(f"/mix/result?{MIX}")
    k = shown["properties"]["thermal_conductivity"]["points"][-1]
    assert f"{words.number(k['low'])} to {words.number(k['high'])}" in page.words("body/main")
    assert '"material": "chamotte-40"' in page.text.replace("&#34;", '"')


def test_every_value_of_a_property_is_listed_with_its_source_and_what_it_counted_for(client, show):
    address = f"/materials/{MANY}/properties/thermal_conductivity"
    answer = client.get("/v1" + address).json
    page = show(address)
    rows = table(client, "/csv" + address)
    assert len(rows) == 64
    text = page.words("body/main")
    for row in rows:
        assert f"/values/{row['id']}" in page.links()
        assert f"/sources/{row['source']}" in page.links()
    used = {each["value"]: each["weight"] for each in answer["derivation"]["used"]}
    assert {row["id"]: float(row["weight"]) for row in rows if row["weight"]} == used
    for each in answer["derivation"]["left_out"]:
        assert words.sentence(each["reason"]).replace("\N{NO-BREAK SPACE}", " ") in text


def test_a_hole_is_shown_as_a_hole(show):
    page = show("/materials/expanded-perlite")
    missing = page.words("body/main").partition("Missing Not held")[2]
    assert "Crush factor" in missing
    page = show("/materials/expanded-perlite/properties/emissivity")
    assert "Nothing is held on emissivity" in page.words("body/main")
    assert "No value is held." in page.words("body/main")


def test_memory_is_marked_unverified_and_never_cited(show):
    page = show(f"/values/{UNVERIFIED}")
    text = page.words("body/main")
    assert "unverified" in text
    assert "nobody has checked it" in text
    assert "Printed as" not in text
    assert not [link for link in page.links() if link.startswith("/sources/")]
    listed = show("/materials/aerated-concrete/properties/pore_size")
    assert listed.words("body/main").count("unverified") >= 3


def test_one_suppliers_page_is_called_one_suppliers_page(show):
    text = show("/sources/supplier-castable-c401").words("body/main")
    assert "one supplier’s word, which cannot be rechecked" in text


def test_two_texts_of_one_origin_are_said_to_count_once(show):
    text = show("/sources/ashrae-2013-fundamentals").words("body/main")
    assert "Together they count once." in text


def test_steps_on_heating_come_from_cold_to_hot_with_the_question_among_them(client, show):
    page = show("/materials/expanded-perlite/survival?temperature=1050%20Cel")
    places = ["".join(each.itertext()) for each in page.tree.iter("p") if each.get("class") == "at"]
    starts = [float(re.search(r"\d+", place)[0]) for place in places]
    assert starts == sorted(starts)
    assert "1050\N{NO-BREAK SPACE}°C" in places
    assert len(places) > 5


def test_cautions_stand_with_their_sources(show):
    page = show("/materials/expanded-perlite")
    cautions = page.words("body/main").partition("Cautions")[2]
    assert "Silica dust" in cautions
    assert cautions.count("Keep dust out of the lungs") == 1  # said once for three regulators
    for source in ("eu-2004-37-annex3", "osha-2016-1926-1153"):
        assert f"/sources/{source}" in page.links()


@pytest.mark.parametrize("address", ["/", "/materials/quartz", f"/mix/card?{MIX}", "/nothing"])
def test_no_page_lets_typical_values_pass_for_design_values(show, address):
    assert "Typical values are not design values." in show(address).words("body/footer")


def test_a_value_says_what_was_printed_and_what_it_was_read_as(client, show):
    key = "exfoliated-vermiculite.thermal_conductivity.1"
    value = client.get(f"/v1/values/{key}").json
    text = show(f"/values/{key}").words("body/main")
    assert value["printed"]["unit"].split("/")[0] in text
    assert value["locator"] in text
    assert value["printed"]["code"] in text


def test_a_material_page_at_an_old_revision_says_so(app, show):
    page = show("/materials/expanded-perlite?revision=1")
    assert "Revision 1 of the data" in page.words("body/footer")


def test_survival_asked_oddly_is_refused_with_the_reason(show):
    for query, said in (
        ("", "temperature: is missing"),
        ("?temperature=hot", "does not start with a number"),
        ("?temperature=-400%20Cel", "below absolute zero"),
        ("?temperature=900%20Cel&place=roof", "place: is one of"),
        ("?temperature=900%20Cel&with=unobtainium", "no material has the id"),
        ("?temperature=900%20Cel&margin=-5%20K", "at least 0"),
    ):
        page = show(f"/materials/quartz/survival{query}")
        assert page.status == 400
        assert said in page.words("body/main").lower()


def test_other_odd_addresses_are_refused(show):
    assert show("/materials/quartz/properties/true_density?form=cloud").status == 400
    assert show("/sources?page=0").status == 400
    assert show("/sources?page=nine").status == 400
    for lost in ("/sources/none", "/values/none", "/specimens/none", "/properties/none"):
        assert show(lost).status == 404
