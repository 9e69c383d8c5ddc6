"""What is held and what is missing, holes shown as holes."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.holdings import holdings, wanted


@pytest.fixture(scope="module")
def everything(database, reference):
    with database.read() as connection:
        return holdings(connection, reference, tuple(reference.materials))


def test_one_statement_for_all_materials(database, reference, statements):
    with database.read() as connection, statements(database) as counted:
        holdings(connection, reference, tuple(reference.materials))
    assert len(counted) == 1


def test_counts_are_those_of_the_values(database, reference, everything):
    with database.read() as connection:
        rows = material_rows(connection, reference, reference.materials, reference.properties)
    for holding in everything:
        for item in holding.held:
            mine = [
                row
                for row in rows
                if (row["material"], row["property"]) == (holding.material, item.property)
            ]
            cited = [row for row in mine if row["basis"] != "memory"]
            assert item.values == len(mine)
            assert item.origins == len({row["origin"] for row in cited})
            assert item.unverified == (not cited)
            assert set(item.forms) == {row["form"] for row in mine}
            tops = [row["temperature_high"] for row in mine if row["temperature_high"] is not None]
            assert item.up_to == (max(tops) if tops else None)
    assert sum(item.values for holding in everything for item in holding.held) == len(rows)


def test_missing_is_what_the_kind_wants_and_nobody_cites(reference, everything):
    for holding in everything:
        kind = reference.materials[holding.material]["kind"]
        cited = {item.property for item in holding.held if not item.unverified}
        assert set(holding.missing) == set(wanted(kind, reference)) - cited


def test_missing_is_ranked_by_need(reference, everything):
    for holding in everything:
        needs = [reference.properties[name]["need"] for name in holding.missing]
        assert needs == sorted(needs)


def test_a_recalled_property_is_still_missing(everything, reference):
    unverified = [
        (holding, item.property)
        for holding in everything
        for item in holding.held
        if item.unverified
        and item.property in wanted(reference.materials[holding.material]["kind"], reference)
    ]
    assert unverified
    for holding, name in unverified:
        assert name in holding.missing


def test_every_kind_wants_only_properties_that_exist(reference):
    for kind in {row["kind"] for row in reference.materials.values()}:
        assert wanted(kind, reference)


def test_the_worst_hole_is_shown(everything):
    (cement,) = [holding for holding in everything if holding.material == "cac-40"]
    assert "thermal_conductivity" in cement.missing
