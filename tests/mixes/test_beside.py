"""What stands beside density and conductivity: heat, strain, strength, classes, bodies, melt."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.nearest import NONE_NEAR
from hotface_api.mixes.request import EstimateRequest, Mix, State
from support.mixes import DRIED, FIRED, collar, exact, lid, part


def alumina_body(*more, **asked):
    """A body of powder and grains whose expansion is held."""
    parts = (part("alumina-powder", 5.0), part("andalusite", 10.0), *more)
    asked.setdefault("state", State("fired", 1473.15))
    return EstimateRequest(Mix(parts, 2.0), **asked)


def test_heat_capacity_is_the_mass_mean(ask):
    own = {"specific_heat_capacity": 900.0}
    parts = (
        part("cac-40", 10.0, properties=exact(bound_water=0.0, **own)),
        part("quartz-sand", 10.0, properties=exact(specific_heat_capacity=700.0)),
    )
    answer = ask(EstimateRequest(Mix(parts, 4.0), FIRED))
    for point in answer.specific_heat_capacity:
        assert point.range.typical == pytest.approx(800.0, rel=1e-3)


def test_bound_water_adds_to_the_heat_of_a_dried_body(ask):
    """Water in hydrates holds more heat than the cement does."""
    room = (293.15,)
    dried = ask(EstimateRequest(lid().mix, DRIED, at=room)).specific_heat_capacity[0].range
    fired = ask(EstimateRequest(lid().mix, FIRED, at=room)).specific_heat_capacity[0].range
    assert 1.03 < dried.typical / fired.typical < 1.3


def test_moisture_adds_its_own_heat(ask):
    """NIST check of the mass mean: cp of a paste rises with its water, 4186 J/(kg.K) a kilogram."""
    room = (293.15,)
    dry = ask(EstimateRequest(lid().mix, DRIED, at=room)).specific_heat_capacity[0].range.typical
    wet = ask(EstimateRequest(lid().mix, State("air-dry", moisture=0.10), at=room))
    expected = (dry + 0.10 * 4186) / 1.10
    assert wet.specific_heat_capacity[0].range.typical == pytest.approx(expected, rel=0.01)


def test_a_hole_in_heat_capacity_is_named(ask):
    mix = Mix((part("cac-40", 10.0), part("sintered-fly-ash", 20.0)), 5.0)
    answer = ask(EstimateRequest(mix, FIRED))
    assert answer.specific_heat_capacity is None
    assert "fly ash" in answer.reasons["specific_heat_capacity"]


def test_strain_lies_between_that_of_its_parts(ask):
    answer = ask(alumina_body(at=(1273.15,)))
    strain = answer.thermal_strain[0].range
    # Corundum 8 to 9e-6, andalusite 9 to 14e-6 a kelvin, over 980 K.
    assert 6e-6 * 980 < strain.low < strain.typical < strain.high < 15e-6 * 980


def test_strain_starts_at_room_temperature(ask):
    assert ask(alumina_body(at=(293.15,))).thermal_strain[0].range.typical == pytest.approx(0.0)


def test_strain_of_a_binder_of_no_held_expansion_is_null_with_the_reason(ask):
    answer = ask(lid())
    assert answer.thermal_strain is None
    assert "Calcium aluminate cement" in answer.reasons["thermal_strain"]


def test_permanent_change_is_apart_and_shrinks(ask):
    fired, dried = ask(lid()), ask(lid(state=DRIED))
    assert fired.permanent_change.high < 0
    assert dried.permanent_change is None


def test_strength_is_a_class_from_a_named_reference(ask):
    parts = (part("portland-cement", 20.0, "parts"), part("expanded-perlite", 80.0, "parts"))
    mix = Mix(parts, 0.9, "ratio_to_binder", "loose")
    found = ask(EstimateRequest(mix, DRIED)).strength_class
    assert found.high == 2 * found.low
    assert "not for load" in found.text
    assert found.reference_mix
    scaled = (
        found.reference_strength
        * (ask(EstimateRequest(mix, DRIED)).bulk_density.typical / found.reference_density) ** 4
    )
    assert found.low <= scaled < found.high


def test_no_strength_without_a_like_body(ask):
    answer = ask(
        EstimateRequest(
            Mix(
                (
                    part("colloidal-silica", 5.0, properties=exact(true_density=2200.0)),
                    part("zircon", 20.0),
                ),
                3.0,
            ),
            FIRED,
        )
    )
    assert answer.strength_class is None
    assert "no body" in answer.reasons["strength_class"]
    assert answer.nearest_specimens == ()
    assert answer.reasons["nearest_specimens"] == NONE_NEAR


def test_no_strength_of_a_wet_body(ask):
    answer = ask(lid(state=State("fresh")))
    assert answer.strength_class is None
    assert "cured" in answer.reasons["strength_class"]


def test_the_closest_class_comes_with_its_words(ask):
    found = ask(lid()).closest_class
    assert found.standard == "ASTM C401"
    assert found.text.endswith("not tested, not certified, not a use temperature")
    dried = ask(lid()).densities["dried"].typical
    assert dried <= found.density_at_most
    assert found.unverified  # the limits are recalled, and say so


def test_no_class_for_what_is_no_castable(ask):
    answer = ask(alumina_body())
    assert answer.closest_class is None
    assert "castables" in answer.reasons["closest_class"]


def test_the_nearest_bodies_stand_beside(ask):
    mix = Mix((part("cac-40", 20.0), part("expanded-perlite", 0.1, "volume")), 16.0)
    near = ask(EstimateRequest(mix, FIRED)).nearest_specimens
    assert 0 < len(near) <= 5
    assert near[0].distance == min(each.distance for each in near)
    assert "expanded-perlite" in {row["material"] for row in near[0].constituents}


def test_first_melt_tells_how_much_at_most(ask):
    """Lime, alumina and silica meet: what melts first is bounded by the scarcest oxide."""
    mix = Mix((part("cac-40", 10.0), part("fireclay", 30.0)), 12.0)
    melt = ask(EstimateRequest(mix, FIRED)).service_limit.first_melt_possible_from
    assert set(melt.oxides) <= {"CaO", "Al2O3", "SiO2", "Fe2O3", "FeO", "K2O", "Na2O", "MgO"}
    if melt.most_liquid is not None:
        assert 0 < melt.most_liquid < 1


def test_what_stands_behind_the_interval_is_told(ask):
    told = ask(collar()).validated_on
    assert told.family == "perlite or vermiculite concrete"
    assert "None was bound with calcium aluminate cement" in told.text
    assert "No fired cement-bound body" in told.text
    assert told.sources >= 3
    other = ask(alumina_body()).validated_on
    assert other.family == "fired clay or ceramic"


def test_doubt_is_shared_out_with_advice(ask):
    doubts = ask(lid()).doubt_shares
    outputs = {doubt.output for doubt in doubts}
    assert outputs == {"thermal_conductivity", "bulk_density"}
    for output in outputs:
        shares = [doubt.share for doubt in doubts if doubt.output == output]
        assert shares == sorted(shares, reverse=True)
        assert 0.4 < sum(shares) <= 1.05
    assert all(doubt.advice for doubt in doubts)
