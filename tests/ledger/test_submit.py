"""Submitting: what is taken, what is refused and how it is said."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select, text

from hotface_api.ledger.drafts import (
    BibtexSource,
    ConstituentDraft,
    CslSource,
    DoiSource,
    HeldSource,
    Measured,
    OwnMeasurement,
)
from hotface_api.ledger.errors import Code, ConflictError, InvalidError, UnknownError
from hotface_api.ledger.reading import mine, view
from hotface_api.ledger.replies import Idempotency
from hotface_api.ledger.review import review
from hotface_api.ledger.submit import preview, submit
from hotface_api.store.ledger_models import AuditEntry, Contribution, Reply, Submission
from hotface_api.store.models import Value
from hotface_api.store.read import table
from support.contributions import BODY, DAY, DENSITY, JUG, LID, one, perlite, raised

ARTICLE = """@article{lid,
  title = {Perlite in kiln lids}, author = {M{\\"u}ller, J. and {Kiln Club}},
  journal = {Journal of Small Kilns}, year = 2019, volume = 3, pages = {12--15},
  doi = {10.1000/kiln.2019.3}
}"""


def counts(club):
    tables = (Value, Contribution, Submission, AuditEntry, Reply)
    with club.ledger.read() as connection:
        return [connection.scalar(select(func.count()).select_from(table(t))) for t in tables]


def faults_of(club, draft, **given):
    before = counts(club)
    with raised(InvalidError, Code.INVALID) as caught:
        submit(club.ledger, club.ann, draft, **given)
    assert counts(club) == before, "a refused submission left something behind"
    return {fault.pointer: fault for fault in caught[0].faults}


def test_a_value_is_pending_and_changes_no_answer(club):
    receipt = submit(club.ledger, club.ann, one())
    (item,) = receipt.items
    assert (item.state, item.version) == ("pending", 1)
    assert receipt.revision == 1
    assert club.database.revision() == 1
    row = view(club.ledger, club.ann, item.value).row
    assert row["low"] is None
    assert row["typical"] == 110.0
    assert (row["printed_typical"], row["printed_unit"], row["unit"]) == ("110", "kg/m3", "kg/m3")
    assert (row["basis"], row["status"], row["from_revision"]) == ("measured", "pending", None)
    assert row["origin"] == f"measured-by-{club.ann.contributor}"
    assert row["licence"] == "CC-BY-4.0"


def test_pending_values_are_seen_by_owner_and_curators_only(club):
    value = submit(club.ledger, club.ann, one()).items[0].value
    for actor in (club.ann, club.cleo):
        assert view(club.ledger, actor, value).state == "pending"
    for actor in (club.ben, None):
        with raised(UnknownError, Code.UNKNOWN_VALUE):
            view(club.ledger, actor, value)
    assert mine(club.ledger, club.ben).items == ()


def test_figures_are_kept_as_printed_and_converted_once(club):
    draft = perlite(None, low="6.5", high="7.10", unit="lb/ft³", printed_unit="lb./cu.ft.")
    value = submit(club.ledger, club.ann, one(draft)).items[0].value
    row = view(club.ledger, club.ann, value).row
    assert (row["printed_low"], row["printed_high"]) == ("6.5", "7.10")
    assert (row["printed_unit"], row["unit"]) == ("lb./cu.ft.", "[lb_av]/[cft_i]")
    assert row["low"] == pytest.approx(6.5 * 16.01846337)
    assert row["high"] == pytest.approx(7.1 * 16.01846337)


def test_sources_of_every_kind(club):
    held = HeldSource(min(club.ledger.reference().source_types))
    csl = CslSource(
        {
            "type": "report",
            "title": "Beds",
            "publisher": "Lab",
            "issued": {"date-parts": [["2001", "4"]]},
        }
    )
    for number, source in enumerate((held, csl, BibtexSource(ARTICLE), DoiSource("10.1000/q"))):
        draft = perlite(str(100 + number), source=source, locator="p. 12")
        receipt = submit(club.ledger, club.ann, one(draft, source=None))
        row = view(club.ledger, club.ann, receipt.items[0].value).row
        assert row["basis"] == "read"
        assert row["source"]
        assert (receipt.sources == ()) == isinstance(source, HeldSource)


def test_bibtex_becomes_a_source_with_its_type_and_doi(club):
    receipt = submit(
        club.ledger,
        club.ann,
        one(perlite(source=BibtexSource(ARTICLE), locator="p. 12"), source=None),
    )
    entry = view(club.ledger, club.ann, receipt.items[0].value)
    source, origin = entry.proposed["sources"][receipt.sources[0]]
    assert source["source_type"] == "journal"
    assert source["item"]["DOI"] == "10.1000/kiln.2019.3"
    assert source["item"]["author"][0] == {"family": "Müller", "given": "J."}
    assert source["item"]["page"] == "12-15"
    assert origin["title"] == "Perlite in kiln lids"


def test_the_same_text_is_one_source_however_it_is_given(club):
    first = submit(
        club.ledger,
        club.ann,
        one(perlite("101", source=BibtexSource(ARTICLE), locator="p. 12"), source=None),
    )
    review(club.ledger, club.cleo, first.items[0].value, "accept", version=1)
    second = submit(
        club.ledger,
        club.ben,
        one(
            perlite(
                "102", source=DoiSource("https://doi.org/10.1000/KILN.2019.3"), locator="p. 13"
            ),
            source=None,
        ),
    )
    row = view(club.ledger, club.ben, second.items[0].value).row
    assert row["source"] == first.sources[0]
    assert second.sources == ()


def test_a_quoted_figure_names_both_texts(club):
    draft = perlite(
        source=CslSource({"type": "book", "title": "Old", "author": [{"family": "Smith"}]}),
        quoted_in=DoiSource("10.1000/q"),
        locator="p. 1",
    )
    row = view(
        club.ledger, club.ann, submit(club.ledger, club.ann, one(draft, source=None)).items[0].value
    ).row
    assert row["basis"] == "quoted"
    assert row["source"].startswith("smith-")
    assert row["quoted_in"]


@pytest.mark.parametrize(
    ("changes", "pointer", "told"),
    [
        ({"material": "expanded-perlit"}, "/material", "no material"),
        ({"property": "loose_density"}, "/property", "no property"),
        ({"unit": "W/(m.K)"}, "/unit", "density is wanted"),
        ({"unit": "furlong"}, "/unit", "not known"),
        ({"typical": "1,5"}, "/typical", "no comma"),
        ({"typical": "about 110"}, "/typical", "digits and a point"),
        ({"typical": "nan"}, "/typical", "digits"),
        ({"typical": "1e999"}, "/typical", "too large"),
        ({"typical": "-5"}, "/typical", "beyond the minimum"),
        ({"typical": 110.0}, "/typical", "as text"),
        ({"typical": None}, "/typical", "no figure"),
        ({"low": "120", "typical": "110"}, "/low", "out of order"),
        ({"form": "body"}, "/form", "applies to"),
        ({"form": "pile"}, "/form", "not one of"),
        ({"role": "use_limit"}, "/role", "no limit"),
        ({"temperature_low": -3.0}, "/temperature_low", "outside 0"),
        ({"temperature_low": 400.0, "temperature_high": 300.0}, "/temperature_low", "above"),
        ({"moisture": float("nan")}, "/moisture", "outside"),
        ({"with_": "nothing"}, "/with", "no material"),
        ({"note": "a\0b"}, "/note", "U+0000"),
        ({"note": "\ud800"}, "/note", "U+D800"),
        ({"note": "\u202eevil"}, "/note", "reverses"),
        ({"note": "x" * 5000}, "/note", "at most 4000"),
        ({"specimen": "nobody"}, "/specimen", "no specimen"),
        ({"source": HeldSource("nobody")}, "/source/id", "no source"),
        ({"source": DoiSource("12.34/x")}, "/source/doi", "no DOI"),
        ({"source": BibtexSource("@article{a,\n title = {x\n")}, "/source/bibtex", "line 2"),
        ({"source": CslSource({"title": "x", "URL": "http://a.b"})}, "/source/csl/type", "type"),
        ({"source": CslSource({"type": "book"})}, "/source/csl", "find this text"),
        ({"source": CslSource({"type": "book", "title": "x"})}, "/source/csl", "author"),
        ({"source": CslSource({"type": "book", "titel": "x"})}, "/source/csl/titel", "no such"),
        (
            {"source": CslSource({"type": "webpage", "title": "x", "URL": "javascript:alert(1)"})},
            "/source/csl/URL",
            "http",
        ),
        ({"source": DoiSource("10.1000/q"), "locator": None}, "/locator", "needed"),
        ({"source": OwnMeasurement("", "scale", DAY)}, "/source/specimen", "needed"),
        ({"source": OwnMeasurement("a", "scale", date(2126, 1, 1))}, "/source/date", "cannot be"),
        (
            {"source": OwnMeasurement("a", "scale", datetime(2026, 1, 1))},  # noqa: DTZ001
            "/source/date",
            "the day",
        ),
        ({"source": JUG, "quoted_in": DoiSource("10.1000/q")}, "/quoted_in", "not quoted"),
    ],
)
def test_what_cannot_be_used_is_told_with_its_place(club, changes, pointer, told):
    found = faults_of(club, one(replace(perlite(), **changes)))
    assert f"/values/0{pointer}" in found, found
    assert told in found[f"/values/0{pointer}"].message


def test_the_nearest_right_thing_is_named(club):
    found = faults_of(club, one(perlite(material="expanded-perlit", property="loose_bulk_densit")))
    assert "expanded-perlite" in found["/values/0/material"].nearest
    assert "loose_bulk_density" in found["/values/0/property"].nearest
    found = faults_of(club, one(perlite(unit="kg/m33")))
    assert "kg/m3" in found["/values/0/unit"].nearest


def test_no_source_and_no_licence_are_refused_together(club):
    found = faults_of(club, one(source=None, licence="MIT"))
    assert found["/licence"].nearest == ("CC-BY-4.0", "CC0-1.0")
    assert "say where the figure stands" in found["/values/0/source"].message


def test_markup_is_text_and_stays_as_it_was_written(club):
    note = "<script>alert('x')</script> & =cmd()"
    value = submit(club.ledger, club.ann, one(perlite(note=note))).items[0].value
    assert view(club.ledger, club.cleo, value).row["note"] == note


def test_a_batch_is_all_or_nothing(club):
    batch = (perlite("110"), perlite("1,5"), perlite("112"), perlite("110"))
    found = faults_of(club, one(batch))
    assert set(found) == {"/values/1/typical", "/values/3"}
    assert "/values/0" in found["/values/3"].message


def test_a_batch_in_part_writes_the_good_ones(club):
    batch = (perlite("110"), perlite("1,5"), perlite("112"))
    receipt = submit(club.ledger, club.ann, one(batch), partial=True)
    assert [item.state for item in receipt.items] == ["pending", "refused", "pending"]
    assert receipt.items[1].faults[0].pointer == "/values/1/typical"
    assert len(mine(club.ledger, club.ann).items) == 2
    faults_of(club, one((perlite("1,5"),)), partial=True)


def test_too_many_at_once_are_refused_before_any_work(club):
    found = faults_of(club, one((perlite(),) * 10_000))
    assert "at most 500" in found["/values"].message
    assert "at least one" in faults_of(club, one(()))["/values"].message


def test_a_dry_run_writes_nothing(club):
    before = counts(club)
    receipt = preview(club.ledger, club.ann, one((perlite("110"), perlite("x"))))
    assert [item.state for item in receipt.items] == ["checked", "refused"]
    assert receipt.items[0].told.position == "inside"
    assert counts(club) == before


def test_the_same_again_is_held_and_not_written_twice(club):
    first = submit(club.ledger, club.ann, one())
    after = counts(club)
    again = submit(club.ledger, club.ann, one())
    assert (again.items[0].state, again.items[0].value) == ("held", first.items[0].value)
    assert again.submission is None
    assert counts(club) == after
    assert submit(club.ledger, club.ben, one()).items[0].state == "pending"  # another's is another


def test_a_batch_with_some_held_is_refused_whole_or_taken_in_part(club):
    first = submit(club.ledger, club.ann, one()).items[0].value
    batch = one((perlite("115"), perlite("110")))
    with raised(ConflictError, Code.ALREADY_HELD) as caught:
        submit(club.ledger, club.ann, batch)
    assert (caught[0].pointer, caught[0].value) == ("/values/1", first)
    receipt = submit(club.ledger, club.ann, batch, partial=True)
    assert [item.state for item in receipt.items] == ["pending", "held"]


def test_an_idempotency_key_gives_the_first_answer_for_thirty_days(club):
    asked = Idempotency("k-1", "f" * 64)
    first = submit(club.ledger, club.ann, one(), idempotency=asked)
    after = counts(club)
    club.clock.forward(days=1)
    again = submit(club.ledger, club.ann, one(), idempotency=asked)
    assert again.replayed
    assert replace(again, replayed=False) == first
    assert counts(club) == after
    club.clock.forward(days=29)  # thirty days later the key is free; the content is still known
    late = submit(club.ledger, club.ann, one(perlite("119")), idempotency=asked)
    assert not late.replayed
    assert late.items[0].state == "pending"


def test_an_idempotency_key_with_another_request_is_refused(club):
    submit(club.ledger, club.ann, one(), idempotency=Idempotency("k", "a" * 64))
    with raised(ConflictError, Code.KEY_REUSED):
        submit(club.ledger, club.ann, one(perlite("99")), idempotency=Idempotency("k", "b" * 64))
    other = submit(club.ledger, club.ben, one(), idempotency=Idempotency("k", "b" * 64))
    assert not other.replayed  # keys belong to their contributor


@pytest.mark.parametrize("key", ["", "x" * 256, "tab\t", "é"])
def test_idempotency_keys_have_a_form(club, key):
    with raised(InvalidError) as caught:
        submit(club.ledger, club.ann, one(), idempotency=Idempotency(key, "a"))
    assert caught[0].pointer == "/idempotency_key"


def test_a_refused_request_is_not_remembered(club):
    asked = Idempotency("k", "a" * 64)
    with raised(InvalidError):
        submit(club.ledger, club.ann, one(perlite("x")), idempotency=asked)
    fixed = submit(club.ledger, club.ann, one(), idempotency=Idempotency("k", "b" * 64))
    assert fixed.items[0].state == "pending"


def test_a_specimen_with_recipe_and_a_new_material(club):
    draft = one(
        DENSITY,
        specimen=LID,
        material=BODY,
        measured_by=Measured(name="Ann", orcid="0000-0002-1825-0097"),
    )
    receipt = submit(club.ledger, club.ann, draft)
    entry = view(club.ledger, club.cleo, receipt.items[0].value)
    assert entry.row["specimen"] == receipt.specimen
    assert [line["material"] for line in entry.proposed["constituents"]] == [
        "cac-40",
        "expanded-perlite",
    ]
    assert entry.proposed["material"]["id"] == "perlite-lid"
    assert entry.measured_by == ("Ann", "0000-0002-1825-0097")
    assert "perlite-lid" not in club.ledger.reference().materials


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"material": replace(BODY, id="Perlite Lid")}, "/material/id"),
        ({"material": replace(BODY, id="expanded-perlite")}, "/material/id"),
        ({"material": replace(BODY, kind="brick")}, "/material/kind"),
        ({"material": replace(BODY, family="nothing")}, "/material/family"),
        ({"material": replace(BODY, description="")}, "/material/description"),
        ({"specimen": replace(LID, name="")}, "/specimen/name"),
        ({"specimen": replace(LID, material="nothing")}, "/specimen/material"),
        ({"specimen": replace(LID, state="hot")}, "/specimen/state"),
        (
            {
                "specimen": replace(
                    LID, constituents=(ConstituentDraft(material="cac-40", part="glue"),)
                )
            },
            "/specimen/constituents/0/part",
        ),
        (
            {
                "specimen": replace(
                    LID,
                    constituents=(
                        ConstituentDraft(material="cac-40", part="binder", mass_percent=70.0),
                        ConstituentDraft(
                            material="expanded-perlite", part="aggregate", mass_percent=70.0
                        ),
                    ),
                )
            },
            "/specimen/constituents",
        ),
        ({"specimen": replace(LID, material=None)}, "/specimen/material"),
        ({"source": None}, "/specimen"),
        ({"source": DoiSource("10.1000/q")}, "/specimen/locator"),
        ({"specimen": replace(LID, constituents=LID.constituents * 25)}, "/specimen/constituents"),
        (
            {
                "specimen": replace(
                    LID, constituents=(ConstituentDraft(material="nothing", part="binder"),)
                )
            },
            "/specimen/constituents/0/material",
        ),
        ({"material": replace(BODY, kind=None)}, "/material/kind"),
        ({"measured_by": Measured(name="A", orcid="0000-0002-1825-0098")}, "/measured_by/orcid"),
    ],
)
def test_faulty_bodies_are_told(club, changes, pointer):
    draft = one(DENSITY, **{"specimen": LID, "material": BODY, **changes})
    assert pointer in faults_of(club, draft)


def test_a_material_held_under_that_name_is_not_proposed_again(club):
    name = club.ledger.reference().materials["expanded-perlite"]["name"]
    draft = one(DENSITY, specimen=LID, material=replace(BODY, name=name.upper()))
    assert faults_of(club, draft)["/material/name"].nearest == ("expanded-perlite",)


def test_a_value_of_another_material_does_not_belong_to_the_specimen(club):
    found = faults_of(club, one((DENSITY, perlite()), specimen=LID, material=BODY))
    assert "the specimen is of" in found["/values/1/material"].message


TEXT = st.text(max_size=40)
ODD = st.one_of(st.none(), st.integers(), st.floats(), TEXT)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    field=st.sampled_from(
        [
            "material",
            "property",
            "unit",
            "low",
            "typical",
            "high",
            "printed_unit",
            "bound",
            "role",
            "form",
            "state",
            "fill",
            "temperature_low",
            "moisture",
            "load",
            "with_",
            "place",
            "method",
            "locator",
            "note",
            "specimen",
            "condition_text",
        ]
    ),
    odd=ODD,
)
def test_no_draft_however_odd_breaks_the_ledger(club, field, odd):
    """Whatever stands in a field is taken or told; nothing raises but the ledger's own error."""
    if field == "unit" and odd is None:
        return
    try:
        receipt = preview(club.ledger, club.ann, one(replace(perlite(), **{field: odd})))
    except InvalidError:
        return
    assert receipt.items[0].state in ("checked", "refused", "held")


def test_statements_do_not_grow_with_the_batch(club, statements):
    def counted(size):
        batch = tuple(perlite(f"{100 + size + n / 10:.1f}") for n in range(size))
        with statements(club.database) as found:
            submit(club.ledger, club.ann, one(batch))
        return len(found)

    counted(2)  # warms the reference
    assert counted(50) == counted(3)


def test_nothing_personal_reaches_the_audit(club):
    submit(
        club.ledger,
        club.ann,
        one(perlite(note="my telephone rings"), measured_by=Measured(name="Zacharias")),
    )
    with club.ledger.read() as connection:
        facts = " ".join(connection.scalars(text("SELECT facts FROM audit")))
    for secret in ("Zacharias", "telephone", "Ann"):
        assert secret not in facts


def test_a_clock_that_went_back_does_not_stop_anybody(club):
    first = submit(club.ledger, club.ann, one(), idempotency=Idempotency("a", "a"))
    club.clock.forward(days=-2)
    own = replace(JUG, date=DAY - timedelta(days=5))
    second = submit(club.ledger, club.ann, one(perlite("120"), source=own))
    assert second.items[0].state == "pending"
    again = submit(club.ledger, club.ann, one(), idempotency=Idempotency("a", "a"))
    assert again.items[0].value == first.items[0].value
