"""Forms: what was typed stays, the field at fault is marked, and names lead to materials."""

from __future__ import annotations

from urllib.parse import parse_qs, quote, urlsplit

import pytest
from werkzeug.datastructures import MultiDict

from hotface_api.site import mixform, mixwords
from hotface_api.site.finding import UnclearNameError, find_material
from hotface_api.site.forms import Form
from support.pages import BROWSER, MIX

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


@pytest.fixture
def reference(app):
    return app.extensions["hotface"].references.latest()


def location(client, address):
    response = client.get(address, headers=BROWSER)
    assert response.status_code == 302
    parts = urlsplit(response.headers["Location"])
    return parts.path, {name: each[0] for name, each in parse_qs(parts.query).items()}


def test_a_sound_question_leads_to_the_answers_own_address(client):
    asked = "material=Perlite&temperature=1050&unit=Cel&with=cac-40&place=face&load=true&margin=20"
    path, query = location(client, f"/survival?{asked}&cycling=false&units=us")
    assert path == "/materials/expanded-perlite/survival"
    assert query == {
        "temperature": "1050 Cel",
        "with": "cac-40",
        "place": "face",
        "load": "true",
        "cycling": "false",
        "margin": "20 [degR]",
        "units": "us",
    }
    assert client.get(f"/survival?{asked}", headers=BROWSER).status_code == 302


def test_what_was_typed_stays_and_the_field_is_marked(show):
    page = show("/survival?material=perli&temperature=hot&unit=%5BdegF%5D&margin=-3")
    assert page.status == 422
    assert page.named("material").get("value") == "perli"
    assert page.named("temperature").get("value") == "hot"
    for name in ("material", "temperature", "margin"):
        field = page.named(name)
        assert field.get("aria-invalid") == "true"
        described = field.get("aria-describedby").split()
        assert f"{name}-fault" in described
        assert {each.get("id") for each in page.tree.iter()} >= set(described)
    chosen = [each.get("value") for each in page.named("unit") if each.get("selected") is not None]
    assert chosen == ["[degF]"]
    assert page.words("head/title").startswith("Please mend:")
    assert "Content-Security-Policy" in page.headers


def test_a_name_that_may_mean_several_offers_them(client, show):
    page = show("/survival?material=perlit&temperature=1050&unit=Cel")
    near = [link for link in page.links() if "material=expanded-perlite" in link]
    assert near
    path, query = location(client, near[0])
    assert path.startswith("/materials/expanded-perlite")
    assert query["temperature"] == "1050 Cel"


def test_a_temperature_below_absolute_zero_is_told_at_its_field(show):
    page = show("/survival?material=quartz&temperature=-300&unit=Cel")
    assert "below absolute zero" in "".join(page.by_id("temperature-fault").itertext())


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("perlite", "expanded-perlite"),
        ("Expanded Perlite", "expanded-perlite"),
        ("expanded clay", "expanded-clay"),
        ("grog", "chamotte"),
        ("  cac-40 ", "cac-40"),
        ("CAC", "calcium-aluminate-cement"),
        ("water glass concrete", "water-glass-concrete"),
    ],
)
def test_a_material_is_found_by_any_of_its_names(reference, text, found):
    assert find_material(reference, text) == found


@pytest.mark.parametrize("text", ["", "zzzzzz", "x" * 5000, "\x01"])
def test_a_name_that_means_nothing_is_told(reference, text):
    with pytest.raises(UnclearNameError) as caught:
        find_material(reference, text)
    assert caught.value.near == ()


@pytest.mark.parametrize(
    "text", ["Bag from the shed", "expanded perlitte", "chamote", "concertina"]
)
def test_what_is_spelt_alike_or_only_described_so_is_offered_but_never_taken(reference, text):
    with pytest.raises(UnclearNameError):
        find_material(reference, text)


def test_a_mix_in_buckets_is_asked_in_litres(reference):
    form = Form.read(
        MultiDict(
            {"material_2": "expanded clay", "amount_2": "6", "bucket": "12", "water": "0,4"}
            | {"water_unit": "ratio", "material_4": "cac-40", "amount_4": "25", "unit_4": "kg"}
        )
    )
    units = mixwords.TypedIn("kg/m3", "Cel", "kg", "L", "10")
    asked = mixform.read_mix(form, reference, units)
    assert form.faults == {}
    assert asked.rows == [2, 4]
    assert asked.body["mix"] == {
        "constituents": [
            {"material": "expanded-clay", "amount": {"value": 72.0, "unit": "L"}},
            {"material": "cac-40", "amount": {"value": 25.0, "unit": "kg"}},
        ],
        "water": {"ratio_to_binder": 0.4},
    }


def test_a_weighed_bucket_narrows_the_estimate(client, show):
    loose, weighed = (
        client.get(f"/mix/estimate.json?{MIX}{more}").json["densities"]["dried"]
        for more in ("", "&bucket_weighs_2=4.1")
    )
    assert weighed["high"] / weighed["low"] < loose["high"] / loose["low"]
    page = show(f"/mix/result?{MIX}&bucket_weighs_2=nothing")
    assert page.named("bucket_weighs_2").get("aria-invalid") == "true"
    page = show(f"/mix/result?{MIX}&bucket_weighs_2=-1")
    assert page.named("bucket_weighs_2").get("aria-invalid") == "true"


def test_a_row_can_be_added_without_a_script_and_keeps_what_was_typed(show):
    page = show(f"/mix?{MIX}&rows=3&add=1")
    assert page.named("material_4") is not None
    assert page.named("material_1").get("value") == "cac-40"
    assert page.named("rows").get("value") == "4"
    button = next(each for each in page.tree.iter("button") if each.get("name") == "add")
    assert button.get("formaction") == "/mix"
    assert show("/mix?rows=999").named("material_12") is not None


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ("&material_1=", "material_1", "name a material"),
        ("&amount_2=many", "amount_2", "write a number"),
        ("&amount_2=", "amount_2", "give an amount"),
        ("&amount_2=-3", "amount_2", "above zero"),
        ("&water=", "water", "a mix needs some"),
        ("&water=0", "water", "needs water"),
        ("&bucket=", "bucket", "how much a bucket holds"),
        ("&fired_at=-500", "fired_at", "absolute zero"),
        ("&weighed=-5", "weighed", "above"),
        ("&material_2=expanded-clay-light", "loose_bulk_density_2", "give your own figure"),
        ("&material_3=cac-40", "material_3", "stands twice"),
        ("&loose_bulk_density_2=5000&particle_density_2=100", "loose_bulk_density_2", "exceed"),
    ],
)
def test_a_fault_of_a_mix_is_told_at_its_field(show, change, field, said):
    name, _, text = change.strip("&").partition("&")[0].partition("=")
    query = "&".join(p for p in MIX.split("&") if not p.startswith(f"{name}=")) + change
    page = show(f"/mix/result?{query}")
    assert page.status == 422
    assert said in "".join(page.by_id(f"{field}-fault").itertext())
    assert page.named(field).get("aria-invalid") == "true"
    assert page.named(name).get("value") in (text, None)
    assert page.named("title").get("value") == "Kiln lid"
    details = [each for each in page.tree.iter("details") if each.get("open") is not None]
    assert bool(details) == field.startswith("loose")


def test_a_figure_of_ones_own_mends_what_is_not_held(show):
    query = MIX.replace("material_2=expanded-clay", "material_2=expanded-clay-light")
    assert show(f"/mix/result?{query}").status == 422
    assert show(f"/mix/result?{query}&loose_bulk_density_2=320").status == 200


def test_an_empty_mix_is_told(show):
    page = show("/mix/result")
    assert page.status == 422
    assert "name at least one constituent" in page.words("body/main")


def test_the_table_of_a_faulty_mix_is_a_problem(client):
    response = client.get("/csv/mix/result?material_1=cac-40", headers={"Accept": "text/csv"})
    assert response.status_code == 400
    assert {each["parameter"] for each in response.json["errors"]} == {"amount_1", "water"}
    assert client.get("/mix/estimate.json?material_1=cac-40").status_code == 400


def test_the_example_of_the_start_page_can_be_estimated(show):
    for units in ("si", "us"):
        link = next(each for each in show(f"/?units={units}").links() if "Kiln%20lid" in each)
        page = show(link)
        assert page.status == 200
        assert page.named("material_1").get("value") == "cac-40"
        assert show(link.replace("/mix?", "/mix/result?")).status == 200


def test_markup_that_is_typed_stays_text(show):
    evil = quote('"><script>alert(1)</script>')
    page = show(f"/survival?material={evil}&temperature=1&unit=Cel")
    assert "<script" not in page.text
    assert page.faults == []
    assert page.named("material").get("value") == '"><script>alert(1)</script>'
    assert "<script" not in show(f"/materials?q={evil}").text
    assert "<script" not in show(f"/mix/card?{MIX}".replace("Kiln%20lid", evil)).text
