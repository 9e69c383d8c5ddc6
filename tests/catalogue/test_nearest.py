"""The measured bodies nearest to a mix."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.nearest import FARTHEST, NONE_NEAR, nearest_specimens


@pytest.fixture
def near(database, reference):
    def find(composition, **asked):
        with database.read() as connection:
            return nearest_specimens(connection, reference, composition=composition, **asked)

    return find


PERLITE = {"portland-cement": 0.6, "expanded-perlite": 0.4}


def test_a_mix_finds_bodies_of_its_own_kind(near):
    found = near(PERLITE, density=480.0, state="dried")
    assert found
    for each in found:
        materials = {row["material"] for row in each.constituents}
        assert "portland-cement" in materials
        assert any(name.startswith("expanded-perlite") for name in materials)
        assert each.values


def test_three_statements(database, reference, statements):
    with database.read() as connection, statements(database) as counted:
        nearest_specimens(connection, reference, composition=PERLITE, limit=50)
    assert len(counted) <= 3


def test_the_nearest_first_and_no_more_than_asked(near):
    found = near(PERLITE, limit=7)
    assert len(found) == 7
    distances = [each.distance for each in found]
    assert distances == sorted(distances)
    assert near(PERLITE, limit=3) == found[:3]


def test_the_parts_add_up(near):
    for each in near(PERLITE, density=600.0, state="fired", limit=50):
        assert each.distance == pytest.approx(sum(each.parts.values()))
        assert 0 <= each.distance <= FARTHEST
        assert all(part >= 0 for part in each.parts.values())


def test_a_body_finds_itself(near):
    """A body asked for by its own recipe, density and state is at no distance."""
    (own,) = near({"gypsum-plaster": 1.0}, density=998.0, state="dried", limit=1)
    assert own.specimen["id"] == "gypsum-2019-pure"
    assert own.distance == pytest.approx(0.0)
    (extreme,) = near({"brick-clay": 0.9, "sawdust": 0.1}, limit=1)
    assert extreme.specimen["id"] == "clay-brick-sawdust-10"
    assert {name: part for name, part in extreme.parts.items() if part} == {"kind": 0.1}


def test_amounts_need_not_add_up_to_one(near):
    scaled = {name: 25 * share for name, share in PERLITE.items()}
    assert [e.specimen["id"] for e in near(scaled)] == [e.specimen["id"] for e in near(PERLITE)]


def test_grades_of_a_family_are_near_and_unlike_binders_far(near):
    grade = near({"cac-40": 0.5, "expanded-perlite": 0.5}, limit=1)[0]
    assert grade.parts["binder"] == pytest.approx(0.2)
    assert {row["part"] for row in grade.constituents} >= {"binder"}
    for each in near({"cac-40": 0.5, "expanded-perlite": 0.5}, limit=50):
        assert "portland-cement" not in {row["material"] for row in each.constituents}


def test_kin_are_nearer_than_strangers(near):
    found = near({"portland-cement": 0.4, "expanded-slate": 0.6}, limit=50)
    parts = {
        row["material"]: each.parts["rest"]
        for each in found
        for row in each.constituents
        if row["part"] == "aggregate" and len(each.constituents) == 2
    }
    assert parts["expanded-clay"] == parts["expanded-clay-light"] == pytest.approx(0.4)
    assert all(part == pytest.approx(0.8) for name, part in parts.items() if "perlite" in name)


def test_density_and_state_count(near):
    at = {density: near(PERLITE, density=density, limit=1)[0] for density in (350.0, 700.0)}
    assert at[350.0].specimen["id"] != at[700.0].specimen["id"]
    fired = near(PERLITE, state="fired", limit=50)
    assert all(each.parts["state"] > 0 for each in fired if each.specimen["state"] != "fired")


def test_nothing_like_it_is_said_by_an_empty_answer(near):
    assert near({"chromite": 0.9, "aluminium-phosphate": 0.1}) == []
    assert NONE_NEAR == "no measured mix like this is held"


def test_design_values_and_limits_are_not_measured_bodies(near):
    kinds = {each.specimen["kind"] for each in near(PERLITE, limit=500)}
    assert not kinds & {"design", "limit", "computed", "loose-bed", "curve"}


@pytest.mark.parametrize("composition", [{}, {"cac-40": 0.0}, {"cac-40": -1.0, "pumice": 2.0}])
def test_an_impossible_composition_is_refused(near, composition):
    with pytest.raises(ValueError, match="above zero"):
        near(composition)
