"""What is told at once: position, known origins, unit slips, agreement."""

from dataclasses import replace

import pytest

from hotface.units import UNITS, convert
from hotface_api.ledger.drafts import CslSource, UncertaintyDraft, ValueDraft
from hotface_api.ledger.review import review
from hotface_api.ledger.slips import find_slips
from hotface_api.ledger.submit import preview, submit
from hotface_api.store.read import ValueFilter, values
from support.contributions import one, perlite


def held_values(club, material, property_):
    wanted = ValueFilter(material=(material,), property=(property_,))
    with club.ledger.read() as connection:
        return values(connection, 1, wanted, None, 500)


def told(club, draft, **changes):
    item = preview(club.ledger, club.ann, one(draft, **changes)).items[0]
    assert item.faults == ()
    return item.told


def test_inside_with_interval_score_and_words(club):
    found = told(club, perlite("110"))
    assert found.position == "inside"
    assert found.low < 110 < found.high
    assert found.beyond is None
    assert abs(found.z) < 2
    assert found.origins > 5
    assert found.slips == ()
    assert "Inside the interval held" in found.words[0]
    assert "like the rest" in found.words[1]


def test_outside_says_by_how_much_and_refuses_nothing(club):
    inside = told(club, perlite("110"))
    found = told(club, perlite("900"))
    assert found.position == "outside"
    assert found.beyond == pytest.approx(900 / inside.high)
    assert found.z > 3
    assert "unlike the rest" in " ".join(found.words)
    receipt = submit(club.ledger, club.ann, one(perlite("900")))
    assert receipt.items[0].state == "pending"


def test_a_bound_is_outside_only_where_it_excludes_what_is_held(club):
    assert told(club, perlite("5", bound="at_least")).position == "inside"
    assert told(club, perlite("2000", bound="at_least")).position == "outside"
    assert told(club, perlite("2", bound="at_most")).position == "outside"
    assert told(club, perlite("2", bound="at_most")).z is None


def test_unlike_conditions_are_not_compared(club):
    found = told(club, perlite("110", state="saturated"))
    assert found.position == "not compared"
    assert "nothing is held under this condition" in found.words[0]
    assert "heap" in found.words[0]


def test_temperature_decides_what_is_compared(club):
    rows = held_values(club, "fireclay-brick", "thermal_conductivity")
    series = [row for row in rows if row["specimen"] and row["temperature_low"] and row["typical"]]
    row = max(series, key=lambda row: row["temperature_low"])
    draft = ValueDraft(
        material="fireclay-brick",
        property="thermal_conductivity",
        unit="W/(m.K)",
        typical=f"{row['typical']:.6g}",
        temperature_low=row["temperature_low"],
        **{
            name: row[name]
            for name in (
                "form",
                "state",
                "atmosphere",
                "direction",
                "specimen_density_low",
                "specimen_density_high",
            )
        },
        with_=row["with"],
    )
    assert told(club, draft).position == "inside"
    far = told(club, replace(draft, temperature_low=2900.0))
    assert far.position == "not compared"
    assert "Cel" in far.words[0] or "temperature" in far.words[0]


def accepted(club, draft):
    value = submit(club.ledger, club.ann, draft).items[0].value
    review(club.ledger, club.cleo, value, "accept", version=1)
    return value


def test_a_known_origin_again_adds_no_vote(club):
    report = CslSource({"type": "report", "title": "Perlite beds", "publisher": "A laboratory"})
    first = accepted(club, one(perlite("105", locator="p. 3"), source=report))
    again = one(perlite("111", locator="p. 9"), source=report)
    found = preview(club.ledger, club.ben, again).items[0].told
    assert found.known_origin == (first,)
    assert any("known origin" in word for word in found.words)
    assert preview(club.ledger, club.ben, one()).items[0].told.known_origin == ()


def test_exactly_the_figure_of_another_origin_is_named(club):
    first = accepted(club, one(perlite("0.110", unit="g/cm3")))
    found = preview(club.ledger, club.ben, one(perlite("110"))).items[0].told
    assert first in found.same_figure
    assert any("may repeat" in word for word in found.words)
    other = preview(club.ledger, club.ben, one(perlite("110.5"))).items[0].told
    assert first not in other.same_figure


# The factors a figure is off by when a unit is taken for another, with the units that make them.
SLIPS = [
    ("[degF]", "Cel", 1500.0),
    ("[Btu_IT].[in_i]/([ft_i]2.h.[degR])", "W/(m.K)", 1.1),
    ("[lb_av]/[cft_i]", "kg/m3", 110.0),
    ("g/cm3", "kg/m3", 110.0),
]


@pytest.mark.parametrize(("really", "said", "true_si"), SLIPS)
def test_a_slip_of_units_is_named_by_the_unit(really, said, true_si):
    unit = UNITS[really]
    figure = (true_si - unit.offset) / unit.factor
    found = find_slips(
        figure, UNITS[said], true_si, lambda v: abs(v / true_si - 1) < 0.05, difference=False
    )
    assert found[0].unit == really
    assert found[0].would_be == pytest.approx(true_si)


@pytest.mark.parametrize(
    ("figure", "said", "true_si", "difference"),
    [
        (9.0e-6, "1/K", 16.2e-6, False),  # 1.8: a coefficient per Fahrenheit step
        (5.0, "K", 5.0 * 5 / 9, True),  # 5/9: steps of Fahrenheit said to be kelvin
        (1832.0, "Cel", 1273.15, False),  # 32 and 1.8: Fahrenheit said to be Celsius
        (2.0, "W/(m.K)", 2 * 0.1441314, False),  # 6.94
        (0.0416, "W/(m.K)", 0.2885, False),  # converted from Btu.in though SI already
        (6.9, "kg/m3", 6.9 * 16.018463, False),  # 16.02
        (0.11, "kg/m3", 110.0, False),  # 1000
        (110000.0, "kg/m3", 110.0, False),  # 0.001
        (0.25, "kJ/(kg.K)", 1046.0, False),  # 4.184
        (0.25, "J/(kg.K)", 1046.7, False),  # 4186.8 (4184 with the other calorie)
        (293.0, "Cel", 293.0, False),  # 273.15: kelvin said to be Celsius
        (3000.0, "MPa", 20.68e6, False),  # 145: psi
        (200.0, "MPa", 19.6133e6, False),  # 10.2: kgf/cm2
        (0.05, "%", 0.05, False),  # 100: a share said to be percent
    ],
)
def test_the_usual_factors_are_suspected(figure, said, true_si, difference):
    found = find_slips(
        figure, UNITS[said], true_si, lambda v: abs(v / true_si - 1) < 0.01, difference=difference
    )
    assert found, "no reading fits"
    assert found[0].would_be == pytest.approx(true_si, rel=0.01)


def test_a_figure_that_fits_raises_no_suspicion_and_nonsense_finds_none(club):
    assert told(club, perlite("110")).slips == ()
    nowhere = find_slips(1.0, UNITS["kg/m3"], 1e9, lambda v: v > 1e9, difference=False)
    assert nowhere == ()


def test_the_slip_is_told_with_its_factor(club):
    found = told(club, perlite("6.9"))
    assert found.slips[0].unit == "[lb_av]/[cft_i]"
    assert found.slips[0].factor == pytest.approx(convert(1, "[lb_av]/[cft_i]", "kg/m3"))
    assert any("Unit slip suspected" in word for word in found.words)


def test_e_n_where_both_state_an_uncertainty(club):
    def measured(figure, expanded):
        stated = UncertaintyDraft(expanded=expanded, coverage_factor=2.0)
        return perlite(figure, uncertainty=stated)

    first = submit(club.ledger, club.ann, one(measured("110", "6"))).items[0]
    review(club.ledger, club.cleo, first.value, "accept", version=1)
    item = preview(club.ledger, club.ben, one(measured("118", "8"))).items[0]
    (agreement,) = item.told.agreements
    assert agreement.value == first.value
    assert agreement.e_n == pytest.approx(8 / 10)
    assert agreement.agrees
    assert item.told.z is None
    far = preview(club.ledger, club.ben, one(measured("130", "8"))).items[0].told
    assert far.agreements[0].e_n == pytest.approx(2.0)
    assert "differ by more" in " ".join(far.words)


LIMIT = ValueDraft(
    material="cac-40",
    property="service_limit",
    typical="1250",
    unit="Cel",
    form="body",
    role="use_limit",
    state="fired",
)


def test_temperatures_are_compared_by_distance(club):
    for figure in ("1240", "1260"):
        accepted(club, one(replace(LIMIT, typical=figure)))
    found = preview(club.ledger, club.ben, one(replace(LIMIT, typical="2282"))).items[0].told
    assert found.position == "outside"
    assert found.beyond == pytest.approx(2282 + 273.15 - found.high)
    assert " K past its nearer end" in found.words[0]
    assert found.slips[0].unit == "[degF]"
    assert found.slips[0].factor is None


def test_strains_are_compared_in_their_own_unit(club):
    draft = ValueDraft(
        material="fireclay-brick",
        property="permanent_linear_change",
        unit="%",
        typical="-0.5",
        form="body",
        state="fired",
        temperature_low=1673.15,
        treatment_temperature=1573.15,
        condition_text="reheated",
    )
    accepted(club, one(draft))
    found = preview(club.ledger, club.ben, one(replace(draft, typical="-25"))).items[0].told
    assert found.position == "outside"
    assert " % past its nearer end" in found.words[0]


def test_zero_on_a_logarithmic_scale_is_not_compared(club):
    draft = ValueDraft(
        material="expanded-perlite",
        property="water_absorption",
        unit="%",
        typical="250",
        form="grain",
        state="dried",
    )
    accepted(club, one(draft))
    found = preview(club.ledger, club.ben, one(replace(draft, typical="0"))).items[0].told
    assert found.position == "not compared"
    assert "zero or less" in found.words[0]


def test_the_first_of_its_kind_is_said_to_be_the_first(club):
    draft = ValueDraft(
        material="aerogel", property="permeability", unit="m2", typical="1e-12", form="body"
    )
    assert "this is the first" in told(club, draft).words[0]


def test_a_source_that_seems_held_is_named(club):
    item = {
        "type": "report",
        "title": "Beds of perlite",
        "publisher": "A laboratory",
        "issued": {"date-parts": [[2001]]},
    }
    accepted(club, one(perlite("105", locator="p. 3"), source=CslSource(item)))
    other = CslSource({**item, "publisher": "The laboratory"})
    draft = one(perlite("106", locator="p. 4"), source=other)
    found = preview(club.ledger, club.ben, draft).items[0].told
    assert "cite it by that id" in found.words[-1]


def test_a_source_of_many_values_is_told_faulty_at_each(club):
    bad = CslSource({"type": "report"})
    batch = tuple(perlite(str(n), source=bad, locator="p") for n in (101, 102))
    items = preview(club.ledger, club.ann, one(batch, source=None)).items
    assert items[0].faults[0].pointer == "/values/0/source/csl"
    assert "stands above" in items[1].faults[0].message
