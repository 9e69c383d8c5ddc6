"""Reviewing on the pages: the queue, deciding, and two who decide at once."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from hotface_api.ledger.keys import authenticate, make_key
from hotface_api.ledger.reading import view
from support.desk import PERLITE

QUEUE = "/review"
SVG = "{http://www.w3.org/2000/svg}"
SQLITE = pytest.mark.parametrize("desk_template", ["sqlite"], indirect=True)


def state(desk, value):
    return view(desk.ledger, authenticate(desk.ledger, desk.keys["cleo"]), value).state


def test_the_queue_shows_what_waits(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    assert "Nothing waits." in cleo.go(QUEUE).words("body/main")
    first = ann.contribute()
    second = ann.contribute(typical="95", note="second bag")
    page = cleo.go(QUEUE)
    rows = page.all(".//tbody/tr")
    links = [row.find("th/a").get("href") for row in rows]
    assert links == [f"/contributions/{first}", f"/contributions/{second}"]
    assert "Ann" in page.words("body/main")
    assert f"/contributions/{first}" in cleo.go(f"{QUEUE}?state=pending").links()
    assert f"/contributions/{first}" not in cleo.go(f"{QUEUE}?state=accepted").links()


def test_a_long_queue_is_paged(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    table = "material,property,form,fill,printed_typical,unit\n" + "".join(
        f"expanded-perlite,loose_bulk_density,heap,poured,{100 + n},kg/m3\n" for n in range(60)
    )
    ann.go("/contribute/table")
    own = {name: PERLITE[name] for name in ("own_specimen", "own_instrument", "own_date")}
    ann.send("/contribute/table", act="check", table=table, licence="CC0-1.0", **own)
    page = ann.send("/contribute/table", act="submit")
    assert "60 values wait for review" in page.words("body/main")
    for someone, path in ((cleo, QUEUE), (ann, "/contributions")):
        seen = []
        page = someone.go(path)
        while True:
            seen += [row.find("th/a").get("href") for row in page.all(".//tbody/tr")]
            further = [a for a in page.all(".//a") if a.get("rel") == "next"]
            if not further:
                break
            page = someone.go(further[0].get("href"))
        assert len(seen) == len(set(seen)) == 60


def test_accepting_moves_the_public_page_and_the_revision(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    anyone = desk.visitor()
    path = "/materials/expanded-perlite/properties/loose_bulk_density"
    before = anyone.go(path)
    value = ann.contribute(note="weighed thrice")
    assert anyone.go(path).text == before.text
    page = cleo.go(f"/contributions/{value}")
    text = page.words("body/main")
    assert "How it stands against what is held" in text
    assert "Inside the interval held" in text
    assert "weighed thrice" in text
    points = [a.get("href") for a in page.tree.find(".//figure").iter(f"{SVG}a")]
    assert f"/contributions/{value}" in points
    assert len(points) > 3
    page = cleo.send(f"{value}/review", decision="accept", note="Well described.")
    assert page.status == 200
    assert "Accepted. In the data since revision 2" in page.words("body/main")
    after = anyone.go(path)
    assert f"/values/{value}" in after.links()
    assert "Revision 2 of the data" in after.words("body")
    assert "9 origins" in after.words("body/main")
    assert f"/values/{value}" not in anyone.go(f"{path}?revision=1").links()
    assert "Accepted" in ann.go(f"/contributions/{value}").words("body/main")
    assert "Well described." in ann.page.words("body/main")


@pytest.mark.parametrize("decision", ["decline", "ask"])
def test_declining_and_asking_need_a_note(desk, decision):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    page = cleo.send(f"{value}/review", decision=decision, note=" ")
    assert page.status == 422
    assert page.by_id("note").get("aria-invalid") == "true"
    assert state(desk, value) == "pending"
    page = cleo.send(f"{value}/review", decision=decision, note="No bag is named.")
    assert page.status == 200
    assert state(desk, value) == {"decline": "declined", "ask": "asked"}[decision]


def test_an_odd_decision_does_nothing(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    for decision in ("", "burn", "accept\x00x"):
        cleo.go(f"/contributions/{value}")
        page = cleo.send(f"{value}/review", decision=decision, note="kept")
        assert page.status == 422
        assert cleo.fields(f"{value}/review")["note"] == "kept"
    assert state(desk, value) == "pending"


@SQLITE
@pytest.mark.parametrize("version", [None, "", "x", "0", "-1", "1e3", "9" * 40])
def test_a_decision_names_the_version_it_is_about(desk, version):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    if version is None:
        page = cleo.send(f"{value}/review", without=("version",), decision="accept")
    else:
        page = cleo.send(f"{value}/review", version=version, decision="accept")
    assert page.status in (412, 428)
    assert state(desk, value) == "pending"


def test_of_two_curators_one_decides_and_the_other_is_told(desk):
    ann, cleo, dora = desk.visitor("ann"), desk.visitor("cleo"), desk.visitor("dora")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    dora.go(f"/contributions/{value}")
    assert cleo.send(f"{value}/review", decision="ask", note="Which bag?").status == 200
    page = dora.send(f"{value}/review", decision="decline", note="No source named.")
    assert page.status == 412
    text = page.words("body/main")
    assert "Nothing was done" in text
    assert "It now waits for a reply, version 2. Since you looked: ask," in text
    assert "Which bag?" in text
    assert state(desk, value) == "asked"
    assert dora.fields(f"{value}/review")["note"] == "No source named."
    page = dora.send(f"{value}/review", decision="decline")
    assert page.status == 200
    assert state(desk, value) == "declined"


def test_of_two_at_the_very_same_moment_one_is_told(desk):
    ann = desk.visitor("ann")
    value = ann.contribute()
    start = threading.Barrier(2)

    def decide(name):
        someone = desk.visitor(name)
        someone.go(f"/contributions/{value}")
        start.wait(timeout=60)
        return someone.send(f"{value}/review", decision="accept", note=f"by {name}").status

    with ThreadPoolExecutor(2) as pool:
        statuses = sorted(pool.map(decide, ("cleo", "dora")))
    assert statuses == [200, 412]
    assert desk.database.revision() == 2


def test_what_is_decided_already_is_told(desk):
    ann, cleo, dora = desk.visitor("ann"), desk.visitor("cleo"), desk.visitor("dora")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    dora.go(f"/contributions/{value}")
    cleo.send(f"{value}/review", decision="accept")
    page = dora.send(f"{value}/review", decision="accept")
    assert page.status == 412
    assert "It now is accepted, version 2" in page.words("body/main")
    assert "Decide" not in page.words("body/main")


def test_a_decision_sent_twice_is_made_once(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute()
    cleo.go(f"/contributions/{value}")
    sent = {**cleo.fields(f"{value}/review"), "decision": "accept", "note": "Good."}
    for _ in range(2):
        page = cleo.post(f"/contributions/{value}/review", sent)
        assert page.status == 200
        assert "In the data since revision 2" in page.words("body/main")
    assert desk.database.revision() == 2


def test_nobody_reviews_their_own(desk):
    cleo, dora = desk.visitor("cleo"), desk.visitor("dora")
    value = cleo.contribute()
    page = cleo.go(f"/contributions/{value}")
    text = page.words("body/main")
    assert "You handed this in: another curator reviews it." in text
    assert "Decide" not in text
    assert "you: another curator reviews it" in cleo.go(QUEUE).words("body/main")
    cleo.go(f"/contributions/{value}")
    token = cleo.fields(f"{value}/withdrawal")
    page = cleo.post(f"/contributions/{value}/review", {**token, "decision": "accept"})
    assert page.status == 403
    assert "nobody reviews their own" in page.words("body/main").lower()
    assert state(desk, value) == "pending"
    dora.go(f"/contributions/{value}")
    assert dora.send(f"{value}/review", decision="accept").status == 200


def test_a_contributor_cannot_review(desk):
    value = desk.visitor("ann").contribute()
    ann = authenticate(desk.ledger, desk.keys["ann"]).contributor
    ben = desk.visitor("ben")
    ben.go("/contribute")
    token = ben.fields("/contribute")["form_token"]
    data = {"form_token": token, "version": "1", "decision": "accept"}
    assert ben.post(f"/contributions/{value}/review", data).status in (403, 404)
    assert ben.go(QUEUE).status == 403
    assert "/review" not in ben.go("/contributions").links()
    # A curator's key of the one who handed it in is still their own.
    curator = make_key(desk.ledger, ann, "curator").token
    own = desk.visitor()
    own.sign_in(curator)
    assert "another curator reviews it" in own.go(f"/contributions/{value}").words("body/main")
    assert state(desk, value) == "pending"


def test_a_curator_withdraws_an_accepted_value_with_the_reason(desk):
    ann, cleo, dora = desk.visitor("ann"), desk.visitor("cleo"), desk.visitor("dora")
    value = ann.contribute()
    page = dora.go(f"/contributions/{value}")
    assert "Withdraw it" not in page.words("body/main")
    cleo.go(f"/contributions/{value}")
    cleo.send(f"{value}/review", decision="accept")
    dora.go(f"/contributions/{value}")
    page = dora.send(f"{value}/withdrawal", reason="The jug held 1.8 L.")
    assert page.status == 200
    assert state(desk, value) == "withdrawn"
    path = "/materials/expanded-perlite/properties/loose_bulk_density"
    assert f"/values/{value}" not in desk.visitor().go(path).links()
    assert "The jug held 1.8 L." in ann.go(f"/contributions/{value}").words("body/main")


def test_a_value_over_heat_is_drawn_over_the_temperature(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute(
        material="Fireclay brick",
        property="thermal_conductivity",
        form="body",
        state="fired",
        fill="",
        typical="1.2",
        unit="W/(m.K)",
        temperature_low="500",
        density_low="2100",
    )
    page = cleo.go(f"/contributions/{value}?units=us")
    figure = page.tree.find(".//figure")
    assert figure is not None
    text = " ".join("".join(figure.itertext()).split())
    assert "Temperature, °F" in text
    assert "this contribution (1)" in text


def test_nothing_like_it_held_draws_no_figure(desk):
    ann, cleo = desk.visitor("ann"), desk.visitor("cleo")
    value = ann.contribute(
        property="pore_size",
        form="grain",
        fill="",
        typical="50",
        unit="um",
        direction="across the flow of nothing",
    )
    page = cleo.go(f"/contributions/{value}")
    assert page.status == 200
    assert page.tree.find(".//figure") is None
    assert "Not compared" in page.words("body/main")
