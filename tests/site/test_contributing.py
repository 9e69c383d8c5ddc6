"""Contributing on the pages: checked, handed in once, asked, answered, corrected, withdrawn."""

from __future__ import annotations

import json

import pytest

from hotface_api.ledger.keys import authenticate
from hotface_api.ledger.reading import mine, view
from hotface_api.site.valueform import LABELS
from support.desk import PERLITE

SCRIPT = "<script>alert(1)</script>\n<b onclick='x'>bold</b> & \"quoted\""
BIBTEX = """@article{lid2026,
  author = {Potter, Ann},
  title = {Invented for the tests: loose densities},
  journal = {Nowhere},
  year = {2026}
}"""
CSL = {"type": "article-journal", "title": "Invented for the tests", "DOI": "10.1000/abc.1"}
OWN = ("own_specimen", "own_instrument", "own_date")
FROM_NOWHERE = dict.fromkeys(OWN, "")


def held(desk, name="ann"):
    """Give what someone contributed."""
    return mine(desk.ledger, authenticate(desk.ledger, desk.keys[name])).items


def entry(desk, value, name="ann"):
    return view(desk.ledger, authenticate(desk.ledger, desk.keys[name]), value)


def checked(someone, **typed):
    someone.go("/contribute")
    return someone.send("/contribute", act="check", **{**PERLITE, **typed})


def test_a_measurement_is_checked_then_handed_in(desk):
    ann = desk.visitor("ann")
    page = ann.go("/contribute?material=expanded-perlite&property=loose_bulk_density")
    assert page.named("material").get("value") == "Expanded perlite, grade not stated"
    page = ann.send("/contribute", act="check", **PERLITE)
    assert page.status == 200
    assert "It can be handed in." in page.words("body/main")
    assert "Inside the interval held" in page.words("body/main")
    assert page.named("typical").get("value") == "110"
    assert held(desk) == ()
    page = ann.send("/contribute", act="submit")
    (found,) = held(desk)
    assert ann.path.startswith(f"/contributions/{found.row['id']}")
    assert page.status == 200
    assert "Handed in. Until a curator accepts it" in page.words("body/main")
    assert found.state == "pending"
    assert found.row["printed_typical"] == "110"
    assert found.row["basis"] == "measured"
    assert found.row["licence"] == "CC-BY-4.0"


def test_every_field_of_the_form_arrives(desk):
    ann = desk.visitor("ann")
    value = ann.contribute(
        material="Fireclay brick",
        property="thermal_conductivity",
        form="body",
        state="fired",
        fill="",
        low="1.1",
        typical="",
        high="1.3",
        unit="W/(m.K)",
        temperature_low="400",
        temperature_high="600",
        treated_at="1000",
        density_low="2000",
        moisture="0.5",
        duration="2",
        age="28",
        grain_low="1",
        grain_high="3",
        direction="across",
        atmosphere="air",
        condition_text="face of the brick",
        method="Guarded plate",
        note="Line one\r\nline two",
        uncertainty_way="expanded",
        uncertainty="0.08",
        coverage_factor="2",
        uncertainty_kind="A",
        uncertainty_n="6",
        measured_name="Eve",
        measured_orcid="0000-0002-1825-0097",
    )
    found = entry(desk, value)
    row = found.row
    assert (row["printed_low"], row["printed_typical"], row["printed_high"]) == ("1.1", None, "1.3")
    assert (row["temperature_low"], row["temperature_high"]) == (673.15, 873.15)
    assert row["treatment_temperature"] == 1273.15
    assert (row["specimen_density_low"], row["specimen_density_high"]) == (2000.0, 2000.0)
    assert row["moisture"] == pytest.approx(0.005)
    assert (row["duration"], row["age"]) == (7200.0, 28 * 86400.0)
    assert (row["grain_size_low"], row["grain_size_high"]) == (0.001, 0.003)
    assert (row["direction"], row["atmosphere"]) == ("across", "air")
    assert row["condition_text"] == "face of the brick"
    assert row["method"] == "Guarded plate"
    assert row["note"] == "Line one\nline two"
    assert row["uncertainty_standard"] == pytest.approx(0.04)
    assert (row["uncertainty_kind"], row["uncertainty_n"]) == ("A", 6)
    assert found.measured_by == ("Eve", "0000-0002-1825-0097")


@pytest.mark.parametrize(
    ("given", "title"),
    [
        ({"source_bibtex": BIBTEX}, "Invented for the tests: loose densities"),
        ({"source_csl": json.dumps(CSL)}, "Invented for the tests"),
        ({"source_csl": json.dumps([CSL])}, "Invented for the tests"),
        ({"source_doi": "https://doi.org/10.1000/ABC.2", "source_type": "report"}, None),
    ],
    ids=["bibtex", "csl", "a list of one", "doi"],
)
def test_a_printed_source_is_cited(desk, given, title):
    ann = desk.visitor("ann")
    value = ann.contribute(**FROM_NOWHERE, **given, locator="table 2")
    found = entry(desk, value)
    assert found.row["basis"] == "read"
    assert found.row["locator"] == "table 2"
    (source, _origin) = found.proposed["sources"][found.row["source"]]
    assert source["item"].get("title") == title
    assert "new with this" in ann.page.words("body/main")
    assert (title or "DOI 10.1000/abc.2") in ann.page.words("body/main")


def test_a_held_source_is_named_by_its_id(desk):
    ann = desk.visitor("ann")
    value = ann.contribute(**FROM_NOWHERE, source_held="vdi-2010-heatatlas", locator="p. 1")
    assert entry(desk, value).row["source"] == "vdi-2010-heatatlas"


def test_a_material_that_is_not_held_is_proposed(desk):
    ann = desk.visitor("ann")
    value = ann.contribute(
        material="",
        new_id="perlite-lid",
        new_name="Perlite lid concrete",
        new_kind="body",
        new_description="Cement with perlite; invented for the tests.",
        property="bulk_density",
        form="body",
        fill="",
        state="fired",
        typical="780",
    )
    assert entry(desk, value).row["material"] == "perlite-lid"
    assert "Perlite lid concrete" in ann.page.words("body/main")


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"material": ""}, "material", "name a material"),
        ({"material": "kryptonite"}, "material", "no material held"),
        ({"property": ""}, "property", "choose"),
        ({"property": "nonsense"}, "property", "no property"),
        ({"typical": ""}, "typical", "give the figure"),
        ({"typical": "1,5"}, "typical", "no comma"),
        ({"typical": "many"}, "typical", "as printed"),
        ({"unit": "bananas"}, "unit", "bananas"),
        ({"unit": "W/(m.K)"}, "unit", "W/(m.K)"),
        ({"unit": ""}, "unit", "density is wanted"),
        ({"temperature_low": "hot"}, "temperature_low", "write a number"),
        ({"temperature_low": "-300"}, "temperature_low", "absolute zero"),
        ({"temperature_low": "90", "temperature_high": "80"}, "temperature_low", "above"),
        ({"treated_at": "-400"}, "treated_at", "absolute zero"),
        ({"with": "kryptonite"}, "with", "no material held"),
        ({"moisture": "wet"}, "moisture", "write a number"),
        ({"form": "cloud"}, "form", "cloud"),
        ({"uncertainty": "3"}, "uncertainty_way", "standard, expanded"),
        ({"uncertainty_way": "standard"}, "uncertainty", "in the unit"),
        ({"uncertainty_way": "standard", "uncertainty": "-1"}, "uncertainty", "above zero"),
        ({"uncertainty_way": "expanded", "uncertainty": "3"}, "coverage_factor", "factor"),
        (FROM_NOWHERE, "own_specimen", "say what you measured"),
        ({"own_date": ""}, "own_date", "give the day"),
        ({"own_date": "tomorrow"}, "own_date", "2026-11-20"),
        ({"own_date": "2199-01-01"}, "own_date", "cannot be the day"),
        ({"source_doi": "10.1000/x"}, "source_doi", "more than one"),
        ({**FROM_NOWHERE, "source_doi": "ten", "locator": "p. 1"}, "source_doi", "no DOI"),
        ({**FROM_NOWHERE, "source_doi": "10.1000/x"}, "locator", "needed"),
        ({**FROM_NOWHERE, "source_held": "nobody", "locator": "p. 1"}, "source_held", "nobody"),
        (
            {**FROM_NOWHERE, "source_bibtex": "@article{", "locator": "p. 1"},
            "source_bibtex",
            "line",
        ),
        ({**FROM_NOWHERE, "source_csl": "{", "locator": "p. 1"}, "source_csl", "not JSON"),
        ({**FROM_NOWHERE, "source_csl": "[1]", "locator": "p. 1"}, "source_csl", "one CSL-JSON"),
        ({**FROM_NOWHERE, "source_csl": "null", "locator": "p. 1"}, "source_csl", "one CSL-JSON"),
        (
            {**FROM_NOWHERE, "source_csl": '{"volume": NaN}', "locator": "p. 1"},
            "source_csl",
            "finite",
        ),
        (
            {**FROM_NOWHERE, "source_csl": '{"title": "\\ud800"}', "locator": "p. 1"},
            "source_csl",
            "surrogate",
        ),
        ({"quoted_in": "nobody"}, "quoted_in", "no source"),
        ({"quoted_in": "vdi-2010-heatatlas"}, "quoted_in", "own measurement"),
        ({"licence": ""}, "licence", "choose the licence"),
        ({"licence": "mine"}, "licence", "CC-BY-4.0"),
        (
            {"measured_name": "Eve", "measured_orcid": "0000-0002-1825-0096"},
            "measured_orcid",
            "digit",
        ),
        ({"measured_orcid": "0000-0002-1825-0097"}, "measured_name", "needed"),
        ({"new_id": "x-lid"}, "new_name", "needed"),
        ({"specimen": "nowhere"}, "specimen", "nowhere"),
        ({"note": "x" * 5000}, "note", "4000"),
        ({"note": "turned \u202e about"}, "note", "reverses"),
    ],
)
def test_a_fault_marks_its_field_and_what_was_typed_stays(quiet_desk, typed, field, said):
    ann = quiet_desk.visitor("ann")
    page = checked(ann, **typed)
    assert page.status == 422
    assert page.faults == []
    marked = page.by_id(field)
    assert marked.get("aria-invalid") == "true", page.words("body/main")[:600]
    assert f"{field}-fault" in marked.get("aria-describedby").split()
    assert said in "".join(page.by_id(f"{field}-fault").itertext())
    links = {link for link in page.links() if link and link.startswith("#")}
    assert f"#{field}" in links
    sent = {**PERLITE, **typed}
    shown = ann.fields("/contribute")
    choices = {"property", "form", "licence", "uncertainty_way"}
    kept = {name: text for name, text in sent.items() if name not in choices}
    assert {name: shown[name] for name in kept} == kept
    assert held(quiet_desk) == ()
    assert "submit" not in [each.get("value") for each in page.tree.iter("button")]


def test_a_known_word_of_a_list_stays_chosen_beside_a_fault(quiet_desk):
    ann = quiet_desk.visitor("ann")
    checked(ann, typical="")
    shown = ann.fields("/contribute")
    assert {name: shown[name] for name in PERLITE} == {**PERLITE, "typical": ""}


def test_every_field_has_a_label_of_its_own(quiet_desk):
    page = quiet_desk.visitor("ann").go("/contribute")
    named = {each.get("name") for each in page.tree.iter() if each.tag in ("input", "select")}
    assert named - {"form_token", "nonce", "checked"} <= set(LABELS)
    assert len(set(LABELS.values())) >= len(LABELS) - 2  # two spans say "up to"


def test_what_is_told_says_outside_and_suspects_a_slip(quiet_desk):
    page = checked(quiet_desk.visitor("ann"), typical="6.9", unit="kg/m3")
    text = page.words("body/main")
    assert page.status == 200
    assert "It lies outside of what is held." in text
    assert "Unit slip suspected" in text
    assert "lb/ft³" in text


def test_us_units_are_told_in_us_units(quiet_desk):
    ann = quiet_desk.visitor("ann")
    ann.go("/contribute?units=us")
    page = ann.send("/contribute", act="check", **{**PERLITE, "typical": "7", "unit": "lb/ft3"})
    assert "lb/ft³" in page.words("body/main")
    assert ann.form("/contribute").get("action").endswith("?units=us")
    assert page.named("temperature_unit") is not None


def test_sent_twice_it_is_there_once(desk):
    ann = desk.visitor("ann")
    checked(ann)
    again = {**ann.fields("/contribute"), "act": "submit"}
    first = ann.post("/contribute", again)
    path = ann.path
    second = ann.post("/contribute", again)
    assert (first.status, second.status) == (200, 200)
    assert ann.path == path
    assert len(held(desk)) == 1


def test_the_same_from_a_new_form_is_known_again(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    page = checked(ann)
    assert f"You contributed just this before, as {value}" in page.words("body/main")
    page = ann.send("/contribute", act="submit")
    assert ann.path.startswith(f"/contributions/{value}")
    assert "nothing was written again" in page.words("body/main")
    assert len(held(desk)) == 1


def test_what_was_changed_since_the_check_is_checked_first(desk):
    ann = desk.visitor("ann")
    checked(ann)
    page = ann.send("/contribute", act="submit", typical="111")
    assert "Something was changed since the check" in page.words("body/main")
    assert held(desk) == ()
    ann.send("/contribute", act="submit")
    (found,) = held(desk)
    assert found.row["printed_typical"] == "111"


def test_handing_in_without_a_check_only_checks(desk):
    ann = desk.visitor("ann")
    ann.go("/contribute")
    page = ann.send("/contribute", act="submit", **PERLITE)
    assert "Checked, not yet handed in" in page.words("body/main")
    assert held(desk) == ()


def test_markup_in_a_note_is_text(desk):
    ann = desk.visitor("ann")
    value = ann.contribute(note=SCRIPT)
    for path in (f"/contributions/{value}", f"/contributions/{value}/correction"):
        page = ann.go(path)
        assert [each.tag for each in page.tree.iter() if each.tag in ("script", "b")] == []
        assert "<script" not in page.text
    assert entry(desk, value).row["note"] == SCRIPT
    assert ann.fields(f"{value}/correction")["note"].replace("\r\n", "\n") == SCRIPT
    cleo = desk.visitor("cleo")
    cleo.go(f"/contributions/{value}")
    cleo.send(f"{value}/review", decision="accept", note=SCRIPT)
    for path in (f"/contributions/{value}", f"/values/{value}"):
        assert "<script" not in cleo.go(path).text
    assert "alert(1)" in cleo.page.words("body/main")


def test_a_question_is_asked_and_answered(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    page = cleo.send(f"{value}/review", decision="ask", note="Which bag was it?")
    assert "Asked: waits for a reply." in page.words("body/main")
    page = ann.go("/contributions?state=asked")
    assert "Which bag was it?" in page.words("body/main")
    page = ann.go(f"/contributions/{value}")
    assert "Which bag was it?" in page.words("body/main")
    page = ann.send(f"{value}/reply", text="")
    assert page.status == 422
    assert page.by_id("text").get("aria-invalid") == "true"
    page = ann.send(f"{value}/reply", text="The opened one.")
    assert page.status == 200
    assert "Waits for review." in page.words("body/main")
    assert entry(desk, value).state == "pending"
    assert "The opened one." in cleo.go(f"/contributions/{value}").words("body/main")


def test_a_value_is_corrected_from_a_filled_form(desk):
    ann = desk.visitor("ann")
    old = ann.contribute(
        temperature_low="20",
        note="as weighed",
        uncertainty_way="standard",
        uncertainty="4",
        treated_at="110",
    )
    page = ann.go(f"/contributions/{old}/correction")
    shown = ann.fields(f"{old}/correction")
    assert shown["typical"] == "110"
    assert shown["unit"] == "kg/m3"
    assert (shown["temperature_low"], shown["temperature_high"]) == ("20", "")
    assert (shown["uncertainty_way"], shown["uncertainty"]) == ("standard", "4")
    assert shown["treated_at"] == "110"
    assert shown["note"] == "as weighed"
    page = ann.send(f"{old}/correction", typical="112")
    assert page.status == 422
    assert page.by_id("reason").get("aria-invalid") == "true"
    assert page.named("typical").get("value") == "112"
    page = ann.send(f"{old}/correction", reason="Read the scale wrongly.")
    assert page.status == 200
    new = ann.path.partition("?")[0].rpartition("/")[2]
    assert new != old
    assert f"It corrects {old}" in page.words("body/main")
    before, after = entry(desk, old), entry(desk, new)
    assert (before.state, after.state) == ("replaced", "pending")
    assert after.row["printed_typical"] == "112"
    same = ("temperature_low", "uncertainty_standard", "treatment_temperature", "note", "source")
    assert {name: after.row[name] for name in same} == {name: before.row[name] for name in same}


def test_a_correction_in_us_units_says_the_same(desk):
    ann = desk.visitor("ann")
    old = ann.contribute(temperature_low="20", temperature_high="100", treated_at="1000")
    ann.go(f"/contributions/{old}/correction?units=us")
    shown = ann.fields(f"{old}/correction")
    assert (shown["temperature_low"], shown["temperature_high"]) == ("68", "212")
    assert shown["treated_at"] == "1832"
    assert shown["temperature_unit"] == "[degF]"
    page = ann.send(f"{old}/correction", typical="112", reason="Read the scale wrongly.")
    assert page.status == 200
    new = ann.path.partition("?")[0].rpartition("/")[2]
    same = ("temperature_low", "temperature_high", "treatment_temperature")
    before, after = entry(desk, old).row, entry(desk, new).row
    assert [after[name] for name in same] == pytest.approx([before[name] for name in same])


def test_a_correction_that_is_at_fault_marks_its_field(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    ann.go(f"/contributions/{value}/correction")
    page = ann.send(f"{value}/correction", typical="1,5", unit="kg/m3", reason="a slip")
    assert page.status == 422
    assert page.by_id("typical").get("aria-invalid") == "true"
    ann.go(f"/contributions/{value}/correction")
    page = ann.send(f"{value}/correction", reason="nothing at all")
    assert page.status == 409
    assert "Nothing was done" in page.words("body/main")
    assert page.named("typical").get("value") == "110"


def test_a_value_is_withdrawn_with_the_reason(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    ann.go(f"/contributions/{value}")
    assert ann.send(f"{value}/withdrawal", reason="").status == 422
    page = ann.send(f"{value}/withdrawal", reason="The jug was wet.")
    assert page.status == 200
    assert "Withdrawn." in page.words("body/main")
    assert "The jug was wet." in page.words("body/main")
    assert entry(desk, value).state == "withdrawn"


def test_my_contributions_are_listed_by_state(desk):
    ann, ben = desk.visitor("ann"), desk.visitor("ben")
    value = ann.contribute()
    assert f"/contributions/{value}" in ann.go("/contributions").links()
    assert f"/contributions/{value}" in ann.go("/contributions?state=pending").links()
    assert f"/contributions/{value}" not in ann.go("/contributions?state=accepted").links()
    assert f"/contributions/{value}" not in ben.go("/contributions").links()
    assert "Nothing yet." in ben.page.words("body/main")
    assert ann.go("/contributions?state=odd&after=odd").status == 422


def test_another_contributor_learns_nothing(desk):
    value = desk.visitor("ann").contribute()
    ben = desk.visitor("ben")
    for path in (f"/contributions/{value}", f"/contributions/{value}.json"):
        assert ben.go(path).status == 404
    assert ben.go(f"/contributions/{value}/correction").status == 404
    ben.go("/contribute")
    token = ben.fields("/contribute")["form_token"]
    for act in ("reply", "withdrawal", "review", "correction"):
        data = {"form_token": token, "version": "1", "decision": "accept", "text": "x"}
        page = ben.post(f"/contributions/{value}/{act}", {**data, "reason": "x"})
        assert page.status in (403, 404), act
    assert entry(desk, value).state == "pending"


def test_the_lists_lead_to_their_data(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    for someone, path in ((ann, "/contributions"), (cleo, "/review")):
        page = someone.go(f"{path}?state=pending")
        assert f"{path}.json?state=pending" in page.links()
        document = someone.client.get(f"{path}.json?state=pending").get_json()
        assert [each["value"]["id"] for each in document["items"]] == [value]
        assert document["next"] is None
        assert someone.client.get(f"{path}.json?state=asked").get_json()["items"] == []
    assert ann.client.get("/review.json").status_code == 403


def test_the_page_leads_to_its_data(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    page = ann.go(f"/contributions/{value}?units=us")
    assert f"/contributions/{value}.json?units=us" in page.links()
    document = ann.client.get(f"/contributions/{value}.json?units=us").get_json()
    key = {"Authorization": f"Bearer {desk.keys['ann']}"}
    same = desk.app.test_client().get(f"/v1/contributions/{value}?units=us", headers=key)
    assert same.status_code == 200
    assert same.get_json() == document
