"""Single look-ups in the reference tables: liquids, cones, classes."""

from __future__ import annotations

import math

import pytest

from hotface_api.catalogue.lookups import classes, cone_at, cone_temperature, melting_of
from hotface_api.catalogue.melt import first_melt, most_liquid, oxides_present
from support.catalogue_rows import ZERO, made_up_reference

HOUR = 3600.0


@pytest.fixture
def cones(database, reference):
    def find(cone, **asked):
        with database.read() as connection:
            return cone_temperature(connection, reference, cone, **asked)

    return find


# --- liquids


def test_lime_alumina_silica_first_melts_at_1170(reference):
    found = melting_of(reference, {"CaO": 0.2, "Al2O3": 0.3, "SiO2": 0.5})
    assert found.first.temperature == pytest.approx(1170 + ZERO)
    assert found.first.oxides == ("CaO", "Al2O3", "SiO2")
    assert found.first.source is not None


def test_the_scarcest_oxide_bounds_the_liquid(reference):
    """CaO 23.2, Al2O3 14.8, SiO2 62.0 printed; 5 % of lime can feed 5/23.2 of that liquid."""
    found = melting_of(reference, {"CaO": 0.05, "Al2O3": 0.35, "SiO2": 0.60})
    assert found.first.most_liquid == pytest.approx(0.05 / 0.232, rel=1e-3)


def test_the_amount_is_open_where_shares_are(reference):
    found = melting_of(reference, {"CaO": None, "Al2O3": 0.35, "SiO2": 0.60})
    assert found.first.most_liquid is None


def test_iron_lowers_and_memory_never_leads(reference):
    plain = melting_of(reference, {"Al2O3": None, "SiO2": None})
    iron = melting_of(reference, {"Al2O3": None, "SiO2": None, "FeO": None})
    assert plain.first.temperature == pytest.approx(1545 + ZERO)
    assert iron.first.temperature == pytest.approx(970 + ZERO)
    soda = melting_of(reference, {"Na2O": None, "Al2O3": None, "SiO2": None})
    recalled = [each for each in soda.reacts if each.unverified]
    assert recalled
    assert all(each.phase["source"] is None for each in recalled)
    assert min(each.phase["temperature"] for each in recalled) < soda.first.temperature


def test_points_come_from_the_lowest_up_and_hold_only_the_oxides_given(reference):
    found = melting_of(reference, {"CaO": None, "Al2O3": None, "SiO2": None})
    temperatures = [each.phase["temperature"] for each in found.reacts]
    assert temperatures == sorted(temperatures)
    assert all(set(e.phase["oxides"].split("-")) <= set(found.oxides) for e in found.reacts)


def test_a_single_oxide_does_not_melt_early_by_meeting_itself(reference):
    found = melting_of(reference, {"Al2O3": 1.0})
    assert found.first is None
    assert found.reacts == ()


def phase(celsius, oxides="CaO-Al2O3", **given):
    return {
        "id": f"p{celsius}",
        "oxides": oxides,
        "phases": "x",
        "kind": "eutectic",
        "temperature": celsius + ZERO,
        "basis": "read",
        "source": "journal",
        "composition": None,
    } | given


def test_first_melt_on_made_up_points():
    reference = made_up_reference(
        phases=[
            phase(900, basis="memory", source=None),
            phase(1000, kind="melting"),
            phase(1100),
            phase(1050, oxides="CaO-FeO"),
        ]
    )
    assert first_melt(reference.phases, {"CaO", "Al2O3"}).phase == "p1100"
    assert first_melt(reference.phases, {"CaO", "Al2O3", "FeO"}).phase == "p1050"
    assert first_melt(reference.phases, {"CaO"}) is None


def test_a_composition_in_words_gives_no_amount():
    assert most_liquid(phase(1100, composition="near CaO 50"), {"CaO": 0.5, "Al2O3": 0.5}) is None
    held = phase(1100, composition="CaO 50; Al2O3 50")
    assert most_liquid(held, {"CaO": 0.6, "Al2O3": 0.4}) == pytest.approx(0.8)
    assert most_liquid(held, {"CaO": 0.5, "Al2O3": 0.5}) == 1.0


def test_oxides_present_are_cited_and_stated():
    def oxide(name, share, **given):
        return {
            "material": "grog",
            "property": f"oxide_{name}",
            "low": None,
            "typical": share,
            "high": None,
            "bound": "is",
            "basis": "read",
        } | given

    rows = [
        oxide("Al2O3", 0.4),
        oxide("TiO2", 0.019),
        oxide("CaO", 0.1, bound="at_most"),
        oxide("K2O", 0.05, basis="memory"),
        oxide("MgO", 0.3, material="sand"),
        oxide("SiO2", None, low=0.01, high=0.05),
    ]
    assert oxides_present(rows, "grog") == {"Al2O3", "SiO2"}


# --- cones


def test_a_cone_by_series_and_rate(cones):
    """The printed chart: large cone 6 at 150 K/h is 1241 Cel, at 60 K/h 1220."""
    for rate, celsius in ((150, 1241), (60, 1220)):
        found = [
            reading
            for reading in cones("6", series="orton-large", heating_rate=rate / HOUR)
            if reading.source == "orton-2016-conechart"
        ]
        assert [each.temperature - ZERO for each in found] == pytest.approx([celsius])
        assert not found[0].interpolated


def test_between_two_rates_the_reading_is_interpolated_and_says_so(cones):
    rate = math.sqrt(60 * 150) / HOUR
    (reading,) = cones("6", series="orton-self-supporting", heating_rate=rate)
    assert reading.temperature - ZERO == pytest.approx((1222 + 1243) / 2)
    assert reading.interpolated
    assert len(reading.rows) == 2
    assert "logarithm of the heating rate" in reading.reason


def test_outside_the_rates_held_there_is_no_reading(cones):
    (reading,) = cones("6", series="orton-self-supporting", heating_rate=500 / HOUR)
    assert reading.temperature is None
    assert reading.reason == "held at 15, 60, 150 K/h only"


def test_charts_of_different_sources_stay_apart(cones):
    found = cones("6", series="orton-large", heating_rate=150 / HOUR)
    assert len({reading.source for reading in found}) == len(found) >= 2
    assert len({reading.temperature for reading in found}) >= 2


def test_a_recalled_cone_is_marked_and_cites_nothing(cones):
    recalled = [reading for reading in cones("20", series="orton-pce") if reading.unverified]
    assert recalled
    assert all(reading.source is None for reading in recalled)


def test_no_such_cone(cones):
    assert cones("99") == []
    assert cones("6", series="seger") == []


def test_a_rate_not_stated_is_said(cones):
    (reading,) = cones("7", series="seger")
    assert reading.heating_rate is None
    assert "no heating rate" in reading.reason


def test_a_temperature_lies_between_two_cones(database, reference):
    with database.read() as connection:
        found = cone_at(
            connection,
            reference,
            1230 + ZERO,
            series="orton-self-supporting",
            heating_rate=60 / HOUR,
        )
    (match,) = found
    assert (match.below.cone, match.above.cone) == ("6", "7")
    assert match.below.temperature <= 1230 + ZERO < match.above.temperature


def test_there_and_back(database, reference):
    """The cone that falls at a temperature is the one below, at every rate and series held."""
    with database.read() as connection:
        for reading in cone_temperature(connection, reference, "5"):
            matches = cone_at(
                connection,
                reference,
                reading.temperature,
                series=reading.series,
                heating_rate=reading.heating_rate,
            )
            mine = [m for m in matches if m.source == reading.source]
            assert mine
            assert any(m.below.temperature == reading.temperature for m in mine)


def test_beyond_the_last_cone_an_end_is_open(database, reference):
    with database.read() as connection:
        found = cone_at(connection, reference, 2500 + ZERO, series="seger")
    assert all(match.above is None for match in found)
    assert any(match.below is not None for match in found)


# --- classes


def test_classes_by_standard_edition_and_name(database, reference):
    with database.read() as connection:
        every = classes(connection, reference, standard="astm c27")
        older = classes(
            connection,
            reference,
            standard="ASTM C27",
            edition="older edition",
            name="Super-duty fireclay",
        )
    assert {each.edition for each in every} >= {"1998", "older edition"}
    (duty,) = older
    assert len(duty.limits) == 3
    assert not duty.unverified


def test_recalled_classes_are_marked(database, reference):
    with database.read() as connection:
        found = classes(connection, reference, standard="ASTM C401")
    assert found
    assert all(each.unverified for each in found)
    assert all(row["source"] is None for each in found for row in each.limits)


def test_every_class_is_found_once(database, reference):
    with database.read() as connection:
        found = classes(connection, reference)
    keys = [(each.standard, each.edition, each.name) for each in found]
    assert len(keys) == len(set(keys)) > 50


def test_one_statement_a_look_up(database, reference, statements):
    with database.read() as connection, statements(database) as counted:
        cone_temperature(connection, reference, "6")
        cone_at(connection, reference, 1400.0)
        classes(connection, reference)
    assert len(counted) == 3
