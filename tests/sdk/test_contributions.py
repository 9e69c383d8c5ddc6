"""The SDK against the real service: handing in figures, their review, and what is told."""

import io
import json
import logging
import pickle

import pytest

import hotface
from hotface import (
    BadContribution,
    Client,
    Conflict,
    ConnectionFailed,
    Entry,
    InvalidRequest,
    KeyNeeded,
    KeyRefused,
    NewMaterial,
    NewSpecimen,
    NotAllowed,
    NotFound,
    Receipt,
    Reported,
    SpecimenPart,
    Stale,
    TableReport,
    Uncertainty,
    own_measurement,
)
from support.html import check_html
from support.scripted import Unhurried

JUG = own_measurement(
    "two litres of perlite from the club's bag", "scale 1 g, jug 2 L", "2026-11-20"
)
LICENCE = "CC-BY-4.0"


def perlite(figure="110", **changes):
    """A loose density of perlite as the club weighed it."""
    said = {"unit": "kg/m3", "form": "heap", "fill": "poured", **changes}
    return Reported("expanded-perlite", "loose_bulk_density", figure, **said)


def hand_in(client, *figures, **options):
    return client.submit(
        [perlite(one) for one in figures or ("110",)], licence=LICENCE, source=JUG, **options
    )


def test_a_figure_is_handed_in_told_about_and_waits(members):
    receipt = members.ann.submit(
        perlite(at="20 degC", uncertainty=Uncertainty(standard="4", kind="A", n=5)),
        licence=LICENCE,
        source=JUG,
    )
    (item,) = receipt
    assert isinstance(receipt, Receipt)
    assert (item.state, item.version, item.errors) == ("pending", 1, ())
    assert item.told.position == "inside"
    assert item.told.interval.unit == "kg/m3"
    assert item.told.words
    assert receipt.values == (item.value,)
    assert not receipt.replayed
    assert item.told.words[0] in str(receipt)
    check_html(receipt)
    (entry,) = members.ann.contributions()
    assert isinstance(entry, Entry)
    assert entry.id == item.value
    assert entry.value.printed.typical == "110"
    assert entry.value.uncertainty["standard"]["value"] == 4
    with pytest.raises(NotFound):
        members.anyone.value(item.value)


def test_outside_a_unit_slip_is_suspected(members):
    (item,) = hand_in(members.ann, "1110")
    assert item.told.position == "outside"
    assert item.told.beyond > 1
    assert item.told.slips
    assert item.told.slips[0].would_be.unit == "kg/m3"
    assert item.told.slips[0].words in str(item.told)


CSL = {
    "type": "report",
    "title": "Notes of the pottery club",
    "author": [{"literal": "The pottery club"}],
    "issued": {"date-parts": [[2026]]},
}
BIBTEX = "@book{x, title = {Notes of the pottery club}, author = {Club, P.}, year = {2026}}"
SOURCES = {
    "doi": hotface.doi("https://doi.org/10.1000/182", "journal"),
    "csl": hotface.csl(CSL, "report"),
    "bibtex": hotface.bibtex(BIBTEX, "handbook"),
    "json": {"doi": "10.1000/182"},
}


@pytest.mark.parametrize("kind", SOURCES)
def test_a_new_source_comes_with_the_figure(members, kind):
    receipt = members.ann.submit(
        perlite(locator="page 3", source=SOURCES[kind]), licence=LICENCE, dry_run=True
    )
    assert receipt[0].state == "checked", receipt
    assert len(receipt.sources) == 1


def test_a_held_source_is_named_by_id_or_taken_as_it_is(members):
    held = members.anyone.sources().first()[0]
    for source in (held, held.id, hotface.held_source(held.id)):
        one = perlite(locator="page 3", source=source)
        assert one.to_json()["source"] == {"id": held.id}
        receipt = members.ann.submit(one, licence=LICENCE, dry_run=True)
        assert receipt.sources == ()


def test_what_cannot_be_traced_is_told_where(members):
    with pytest.raises(InvalidRequest) as caught:
        members.ann.submit(perlite(source=hotface.bibtex("@book{x, title")), licence=LICENCE)
    assert any("/source" in one["pointer"] for one in caught.value.errors)
    with pytest.raises(InvalidRequest) as caught:
        members.ann.submit(perlite(), licence=LICENCE)
    assert any("/source" in one["pointer"] for one in caught.value.errors)


def test_a_dry_run_writes_nothing(members):
    receipt = hand_in(members.ann, dry_run=True)
    assert receipt.dry_run
    assert receipt[0].state == "checked"
    assert receipt[0].value is None
    assert members.ann.contributions().all() == []


def test_what_is_wrong_is_told_with_its_place_and_nothing_is_written(members):
    wrong = perlite(state="fird")
    with pytest.raises(InvalidRequest) as caught:
        members.ann.submit([perlite(), wrong], licence=LICENCE, source=JUG)
    assert "#/values/1/condition/state" in [one["pointer"] for one in caught.value.errors]
    assert caught.value.code == "invalid_contribution"
    assert members.ann.contributions().all() == []
    partial = members.ann.submit([perlite(), wrong], licence=LICENCE, source=JUG, partial=True)
    assert [one.state for one in partial] == ["pending", "refused"]
    assert partial[1].errors[0].pointer == "#/values/1/condition/state"


def test_the_review_from_question_to_acceptance(members):
    (value,) = hand_in(members.ann).values
    assert [one.id for one in members.cleo.contributions()] == [value]
    entry = members.cleo.contribution(value)
    assert entry.told.position == "inside"
    asked = members.cleo.review(entry, "ask", "shaken or poured?")
    assert (asked.value, asked.state, asked.version) == (value, "asked", 2)
    mine = members.ann.contribution(value)
    assert mine.remarks[-1].text == "shaken or poured?"
    assert "shaken or poured?" in str(mine)
    check_html(mine)
    replied = members.ann.reply(mine, "poured from ten centimetres")
    assert replied.state == "pending"
    done = members.cleo.review(replied, "accept")
    assert (done.state, done.revision) == ("accepted", 2)
    assert "revision 2" in str(done)
    check_html(done)
    assert members.anyone.value(value).status == "accepted"
    assert members.ann.contributions("accepted").all()[0].state == "accepted"


def test_a_change_made_meanwhile_is_not_overrun(members):
    (value,) = hand_in(members.ann).values
    seen = members.dora.contribution(value)
    members.cleo.review(members.cleo.contribution(value), "ask", "shaken?")
    with pytest.raises(Stale, match="read it again") as caught:
        members.dora.review(seen, "accept")
    assert (caught.value.status, caught.value.code) == (412, "stale_version")
    assert isinstance(caught.value, Conflict)
    with pytest.raises(ValueError, match="which version"):
        members.dora.review(value, "accept")
    assert members.dora.review(value, "decline", "too few readings", version=2).version == 3


def test_who_may_not_is_told(members):
    (value,) = hand_in(members.ann).values
    entry = members.ann.contribution(value)
    with pytest.raises(NotAllowed, match="curator") as caught:
        members.ann.review(entry, "accept")
    assert caught.value.code == "curators_only"
    with pytest.raises(NotFound):
        members.ben.contribution(value)
    own = hand_in(members.cleo, "112").values[0]
    with pytest.raises(NotAllowed) as caught:
        members.cleo.review(members.cleo.contribution(own), "accept")
    assert caught.value.code == "own_submission"


def test_a_value_is_corrected_and_withdrawn_by_its_owner(members):
    (value,) = hand_in(members.ann).values
    receipt = members.ann.correct(
        members.ann.contribution(value), perlite("108"), "the tare was counted in"
    )
    (new,) = receipt.values
    assert new != value
    assert members.ann.contribution(new).value.replaces == value
    gone = members.ann.withdraw(members.ann.contribution(new), "the bag was damp")
    assert gone.state == "withdrawn"
    with pytest.raises(Conflict) as caught:
        members.ann.withdraw(gone, "again")
    assert caught.value.code == "wrong_state"


def test_a_correction_keeps_all_that_is_not_changed(members):
    first = perlite(
        at=("15 degC", "25 degC"),
        grain_size=("1 mm", "3 mm"),
        moisture="2 %",
        condition="shaken twice",
        method="jug and scale",
        note="first bag",
    )
    (value,) = members.ann.submit(first, licence=LICENCE, source=JUG).values
    entry = members.ann.contribution(value)
    (new,) = members.ann.correct(entry, Reported.like(entry.value, typical="108"), "tare").values
    old, corrected = entry.value, members.ann.contribution(new).value
    assert corrected.printed.typical == "108"
    assert corrected.condition == old.condition
    assert (corrected.temperature, corrected.source, corrected.method, corrected.note) == (
        old.temperature,
        old.source,
        old.method,
        old.note,
    )


def test_an_uncertainty_is_said_again_in_a_correction(members):
    sure = Uncertainty(standard="4", kind="A", n=5)
    (value,) = members.ann.submit(perlite(uncertainty=sure), licence=LICENCE, source=JUG).values
    entry = members.ann.contribution(value)
    with pytest.raises(BadContribution, match="say it again with uncertainty="):
        Reported.like(entry.value, typical="108")
    again = Reported.like(entry.value, typical="108", uncertainty=sure)
    (new,) = members.ann.correct(entry, again, "tare").values
    assert members.ann.contribution(new).value.uncertainty == entry.value.uncertainty


def test_several_are_decided_alike_or_none(members):
    values = hand_in(members.ann, "108", "109", "111").values
    entries = members.cleo.contributions().all()
    assert tuple(one.id for one in entries) == values
    members.dora.review(entries[2], "ask", "shaken?")
    with pytest.raises(Conflict):
        members.cleo.review_many(entries, "accept")
    assert [one.state for one in members.cleo.contributions()] == ["pending", "pending", "asked"]
    done = members.cleo.review_many(members.cleo.contributions().all()[:2], "accept")
    assert [one.state for one in done] == ["accepted", "accepted"]
    assert members.anyone.revisions().all()[0].kind


def test_a_measured_body_is_handed_in_with_its_recipe(members):
    receipt = members.ann.submit_specimen(
        NewSpecimen(
            material="perlite-lid",
            name="Lid of the small wood kiln",
            state="fired",
            treatment_temperature="1000 degC",
            constituents=[
                SpecimenPart("cac-40", "binder", 45.0, None),
                SpecimenPart("expanded-perlite", "aggregate", 55.0, None),
            ],
        ),
        Reported(
            "perlite-lid",
            "bulk_density",
            "780",
            unit="kg/m3",
            form="body",
            state="fired",
            uncertainty=Uncertainty(half_width="15", distribution="rectangular"),
        ),
        licence=LICENCE,
        source=JUG,
        material=NewMaterial(
            id="perlite-lid",
            name="Perlite lid concrete",
            kind="body",
            description="Calcium aluminate cement with expanded perlite.",
            also_known_as=["perlite concrete"],
        ),
        measured_by=("A member of the club", "0000-0002-1825-0097"),
    )
    entry = members.ann.contribution(receipt.values[0])
    assert receipt.specimen == entry.value.specimen
    assert entry.measured_by.orcid == "0000-0002-1825-0097"
    assert entry.proposed["material"]["id"] == "perlite-lid"
    assert len(entry.proposed["specimen"]["constituents"]) == 2
    assert "A member of the club" in str(entry)


CSV = """material,property,printed_typical,printed_unit,unit,form,fill,basis
expanded-perlite,loose_bulk_density,110,kg/m3,kg/m3,heap,poured,measured
expanded-perlite,loose_bulk_density,{second},kg/m3,kg/m3,heap,poured,measured
"""


@pytest.fixture
def table(tmp_path):
    def write(second):
        place = tmp_path / "shed.csv"
        place.write_text(CSV.format(second=second), encoding="utf-8")
        return place

    return write


def test_a_file_is_checked_and_handed_in_whole(members, table):
    options = {"licence": LICENCE, "own_measurement": JUG}
    checked = members.ann.submit_csv(table("112"), dry_run=True, **options)
    assert isinstance(checked, TableReport)
    assert (checked.written, checked.good, checked.dry_run) == (False, True, True)
    assert members.ann.contributions().all() == []
    news = []
    report = members.ann.submit_csv(
        table("112"), progress=lambda done, total: news.append((done, total)), **options
    )
    assert report.written
    assert [(one.line, one.state) for one in report] == [(2, "pending"), (3, "pending")]
    assert news == [(0, 2), (2, 2)]
    assert "2 rows, 0 with something wrong: written" in str(report)
    check_html(report)
    frame = report.to_dataframe()
    assert list(frame["line"]) == [2, 3]
    assert len(members.ann.contributions().all()) == 2


def test_a_file_with_a_bad_row_writes_nothing_and_names_the_line(members, table):
    options = {"licence": LICENCE, "own_measurement": JUG}
    with pytest.raises(InvalidRequest) as caught:
        members.ann.submit_csv(table("-3x"), **options)
    assert [one["pointer"] for one in caught.value.errors] == ["#/3/printed_typical"]
    assert members.ann.contributions().all() == []
    checked = members.ann.submit_csv(table("-3x"), dry_run=True, **options)
    assert not checked.good
    assert [one.line for one in checked.bad] == [3]
    with pytest.raises(BadContribution, match=r"none\.csv cannot be read"):
        members.ann.submit_csv(table("1").with_name("none.csv"), **options)


class Losing:
    """Lets every change through and loses its first answer on the way back."""

    def __init__(self, inner):
        self.inner, self.lost = inner, set()

    def send(self, request):
        answer = self.inner.send(request)
        key = request.headers.get("Idempotency-Key")
        if key is not None and key not in self.lost:
            self.lost.add(key)
            raise ConnectionFailed("the line broke")
        return answer

    def close(self):
        return


def test_an_answer_lost_on_the_way_back_does_the_change_once(members, table):
    def behind(who):
        transport = Losing(members.ann._caller.transport)
        return Client(transport=transport, key=members.tokens[who], retries=Unhurried(retries=1))

    ann, cleo = behind(0), behind(2)
    receipt = hand_in(ann, "108", "109")
    assert receipt.replayed
    assert len(members.ann.contributions().all()) == 2
    asked = cleo.review(cleo.contribution(receipt.values[0]), "ask", "shaken?")
    assert (asked.replayed, asked.version) == (True, 2)
    assert ann.reply(asked, "poured").version == 3
    new = ann.correct(ann.contribution(receipt.values[1]), perlite("107"), "tare").values
    assert len(new) == 1
    report = ann.submit_csv(table("112"), licence=LICENCE, own_measurement=JUG)
    assert report.receipt.replayed
    assert len(members.ann.contributions().all()) == 2 + 1 + 2


def test_a_repeated_call_is_done_once(members):
    first = hand_in(members.ann, idempotency_key="lid, spring")
    again = hand_in(members.ann, idempotency_key="lid, spring")
    assert again.replayed
    assert again.values == first.values
    assert len(members.ann.contributions().all()) == 1
    with pytest.raises(InvalidRequest) as caught:
        hand_in(members.ann, "111", idempotency_key="lid, spring")
    assert caught.value.code == "idempotency_key_reused"


def test_an_act_repeated_under_its_key_is_replayed(members):
    (value,) = hand_in(members.ann).values
    entry = members.cleo.contribution(value)
    first = members.cleo.review(entry, "accept", idempotency_key="monday, 1")
    again = members.cleo.review(entry, "accept", idempotency_key="monday, 1")
    assert again.replayed
    assert (again.version, again.revision) == (first.version, first.revision)
    with pytest.raises(Stale):
        members.cleo.review(entry, "accept")


def test_the_same_figure_again_is_held_already(members):
    (value,) = hand_in(members.ann).values
    again = hand_in(members.ann)
    assert [one.state for one in again] == ["held"]
    assert again.values == (value,)


def test_without_a_key_the_next_step_is_told(members):
    with pytest.raises(KeyNeeded, match="HOTFACE_KEY") as caught:
        hand_in(members.anyone)
    assert isinstance(caught.value, NotAllowed)
    assert caught.value.code == "key_needed"
    with pytest.raises(KeyNeeded):
        members.anyone.contributions().all()


def test_the_card_of_a_key_shows_all_but_the_key(members):
    card = members.cleo.key_card()
    assert card.role == "curator"
    assert members.tokens[2].startswith(card.prefix)
    assert members.tokens[2] not in str(card) + repr(card) + card.to_json()
    check_html(card)


def test_the_key_shows_itself_nowhere(members, tmp_path, caplog):
    caplog.set_level(logging.DEBUG)
    token, client = members.tokens[0], members.ann
    receipt = hand_in(client)
    receipt.save(tmp_path / "receipt.json")
    entry = client.contribution(receipt.values[0])
    shown = [repr(client), str(client), repr(vars(client)), repr(entry), repr(receipt)]
    with pytest.raises(NotAllowed) as caught:
        client.review(entry, "accept")
    shown += [str(caught.value), repr(caught.value), repr(caught.value.problem)]
    shown += [(tmp_path / "receipt.json").read_text(), caplog.text, repr(client._caller.__dict__)]
    assert token not in "\n".join(shown)
    for thing in (client._caller._key, client):
        with pytest.raises(TypeError):
            pickle.dump(thing, io.BytesIO())
    if members.noted is not None:
        assert members.noted.requests[0].headers["Authorization"] == f"Bearer {token}"
        assert token not in repr(members.noted.requests)


def test_a_receipt_comes_back_from_its_file(members, tmp_path):
    receipt = hand_in(members.ann, "110", "2000")
    receipt.save(tmp_path / "receipt.json")
    assert Receipt.load(tmp_path / "receipt.json") == receipt
    with pytest.raises(hotface.NotAnAnswer, match=r"receipt\.json holds no table report"):
        TableReport.load(tmp_path / "receipt.json")


def test_a_bad_key_is_refused_with_where_it_came_from(members, monkeypatch):
    transport = members.ann._caller.transport
    monkeypatch.setenv("HOTFACE_KEY", members.tokens[0][:-4] + "aaaa")
    client = Client(transport=transport)
    assert client.material("expanded-perlite").id  # reading depends on no key
    with pytest.raises(KeyRefused, match="came from HOTFACE_KEY") as caught:
        client.contributions().all()
    assert caught.value.code == "key_invalid"
    monkeypatch.setenv("HOTFACE_KEY", members.tokens[0])
    assert Client(transport=transport).contributions().all() == []


def test_what_waits_is_never_kept_for_a_conditional_request(members):
    (value,) = hand_in(members.ann).values
    before = members.ann.contribution(value)
    members.cleo.review(members.cleo.contribution(value), "ask", "shaken?")
    assert members.ann.contribution(value).version == before.version + 1
    if members.noted is not None:
        reads = [one for one in members.noted.requests if one.path.endswith(value)]
        assert reads
        assert all("If-None-Match" not in one.headers for one in reads)


def test_us_units_hold_for_what_is_told(members):
    us = Client(transport=members.ann._caller.transport, key=members.tokens[0], units="us")
    (item,) = us.submit(perlite(), licence=LICENCE, source=JUG, dry_run=True)
    assert item.told.interval.unit == "[lb_av]/[cft_i]"


def test_the_json_is_the_services_own(members):
    receipt = hand_in(members.ann)
    assert json.loads(receipt.to_json())["items"][0]["value"] == receipt.values[0]
    assert receipt.to_dict()["submission"] == receipt.submission
