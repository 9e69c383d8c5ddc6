"""The mixing card: what to weigh, the order of work, and the caution at the step it bears on."""

from __future__ import annotations

import pytest

from hotface_api.site import card
from hotface_api.site.words import number
from hotface_api.store import read
from hotface_api.store.models import Practice
from support.pages import MIX, MOULD

pytestmark = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


@pytest.fixture
def reference(app):
    return app.extensions["hotface"].references.latest()


def steps(page):
    """Give the text of each step by its title."""
    found = {}
    for each in page.tree.iter("li"):
        title = each.find("h2")
        if title is not None:
            found["".join(title.itertext())] = " ".join("".join(each.itertext()).split())
    return found


def test_the_card_follows_the_order_of_work(show):
    found = steps(show(f"/mix/card?{MIX}"))
    assert list(found) == [step.title for step in card.STEPS]
    order = ("Weigh", "Mix dry", "Add water", "Place", "Cure", "Demould", "Dry", "Build", "First")
    assert [title.startswith(start) for title, start in zip(found, order, strict=False)] == [
        True for _ in order
    ]


@pytest.mark.parametrize("query", [MIX, MOULD])
def test_each_caution_stands_before_what_it_guards(show, query):
    found = steps(show(f"/mix/card?{query}"))
    for step, said in (
        ("Weigh and measure", "Silica dust."),
        ("Weigh and measure", "Treat calcium aluminate cement, lime and water glass as caustic"),
        ("Place", "Wet cement burns."),
        ("Build it in", "Distance to wood and other combustibles."),
        ("First heating", "Steam bursting at first heat."),
        ("Before every fire", "Carbon monoxide."),
    ):
        assert said in found[step]
        does = next(work.does for work in card.STEPS if work.title == step)
        assert found[step].index(said) < found[step].index(does[:30])


def test_hardness_decides_when_to_demould_and_no_schedule_is_promised(show):
    text = show(f"/mix/card?{MOULD}").words("body/main")
    assert "Demould by hardness, not by the clock" in text
    assert "a thumbnail leaves no mark" in text
    assert "not a guarantee" in text
    assert "not for load" in text


def test_it_tells_what_to_weigh_for_the_mould_as_the_estimate_does(client, show):
    made = client.get(f"/mix/estimate.json?{MOULD}").json["casting"]
    page = show(f"/mix/card?{MOULD}")
    text = page.words("body/main")
    assert "For a mould of 12 L and 10 % to spare" in text
    for part in made["constituents"]:
        dry = part["dry_mass"]
        assert (
            f"{number(dry['typical'])} kg ({number(dry['low'])} to {number(dry['high'])})" in text
        )
    clay = next(part for part in made["constituents"] if part["material"] == "expanded-clay")
    assert f"{number(clay['amount']['typical'] / 10)} buckets" in text
    assert f"{number(made['water']['typical'])} kg" in text
    assert f"{number(made['piece']['fresh']['typical'])} kg" in text


def test_drying_comes_by_the_thickness_with_its_source(client, show):
    drying = client.get(f"/mix/estimate.json?{MOULD}").json["casting"]["drying"]
    page = show(f"/mix/card?{MOULD}")
    text = steps(page)["First heating"]
    hold = next(step for step in drying["steps"] if step["hold"])
    assert f"{hold['title']}: at" in text
    assert f"{number(hold['hold']['value'])} h or longer" in text
    assert f"/sources/{hold['source']}" in page.links()


def test_without_a_mould_the_card_says_the_mix_as_given(show):
    text = show(f"/mix/card?{MIX}").words("body/main")
    assert "The mix as given" in text
    assert "5 buckets, poured in" in text
    assert "Give the volume of your mould" in text


def test_a_card_for_another_binder_says_what_is_not_held(show):
    query = MIX.replace("material_1=cac-40", "material_1=portland-cement")
    text = show(f"/mix/card?{query}").words("body/main")
    assert "No practice is held for this binder on this step." in text
    assert "Aluminate cement must not" not in text


def test_a_binder_of_ones_own_has_the_cautions_of_what_it_is_like(show):
    query = MIX.replace("material_1=cac-40", "material_1=Bag%20from%20the%20shed&like_1=cac-40")
    page = show(f"/mix/card?{query}")
    text = page.words("body/main")
    assert "Bag from the shed" in text
    assert "Treat calcium aluminate cement, lime and water glass as caustic" in text
    assert "No practice is held" not in text
    estimate = show(f"/mix/result?{query}")
    assert "Bag from the shed" in estimate.words("body/main")
    assert "/materials/Bag%20from%20the%20shed" not in estimate.links()


def test_every_number_beside_a_statement_leads_to_its_source(show):
    page = show(f"/mix/card?{MOULD}")
    ids = {each.get("id") for each in page.tree.iter()}
    named = [link[1:] for link in page.links() if link.startswith("#source-")]
    assert len(named) > 15
    assert set(named) == {key for key in ids if key and key.startswith("source-")}


def test_every_statement_and_caution_on_the_card_is_held(app, reference):
    with app.extensions["hotface"].database.read() as connection:
        held = {row["id"] for row in read.held(connection, Practice, reference.revision)}
    assert {key for keys in card.PRACTICE.values() for key in keys} <= held
    assert set(card.PRACTICE) <= {step.key for step in card.STEPS}
    assert {key for step in card.STEPS for key in step.cautions} <= {
        row["id"] for row in reference.cautions
    }


def test_cautions_not_on_the_card_are_counted_and_stand_with_the_estimate(show):
    page = show(f"/mix/card?{MIX}")
    assert "further cautions stand with the estimate" in page.words("body/main")
    back = next(link for link in page.links() if link.endswith("#cautions"))
    there = show(back.partition("#")[0])
    assert "Cautions, in the order of the work" in there.words("body/main")
    assert there.by_id("cautions") is not None
