"""Unlike things are never merged."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.conditions import Condition, condition_of, is_canonical
from support.catalogue_rows import PROPERTIES, conductivity, limit, value

CONDUCTIVITY = PROPERTIES["thermal_conductivity"]
HEAP = PROPERTIES["loose_bulk_density"]


def heap(**given):
    return value(**{"property": "loose_bulk_density", "typical": 400.0, "form": "heap", **given})


@pytest.mark.parametrize(
    "change",
    [
        {"form": "solid"},
        {"state": "air-dry"},
        {"direction": "across"},
        {"with": "sand"},
        {"atmosphere": "vacuum"},
        {"specimen_density_low": 800.0, "specimen_density_high": 800.0},
    ],
)
def test_unlike_conductivities_stay_apart(change):
    here = condition_of(conductivity(0.3), CONDUCTIVITY)
    assert condition_of(conductivity(0.3, **change), CONDUCTIVITY) != here


@pytest.mark.parametrize(
    "change",
    [
        {"atmosphere": "air"},
        {"source": "web"},
        {"specimen": "s"},
        {"note": "n"},
        {"age": 1.0},
        {"temperature_low": 900.0, "temperature_high": 900.0},
        {"treatment_temperature": 900.0},
    ],
)
def test_like_conductivities_come_together(change):
    here = condition_of(conductivity(0.3), CONDUCTIVITY)
    assert condition_of(conductivity(0.3, **change), CONDUCTIVITY) == here


def test_bodies_are_banded_by_density_and_mineral_solids_are_not():
    def of(density, **given):
        row = conductivity(
            0.3, specimen_density_low=density, specimen_density_high=density, **given
        )
        return condition_of(row, CONDUCTIVITY)

    assert of(410.0) == of(590.0)
    assert of(590.0) != of(610.0)
    assert of(590.0, form="solid") == of(2610.0, form="solid")


def test_a_heap_not_said_to_be_packed_is_poured():
    assert condition_of(heap(), HEAP) == condition_of(heap(fill="poured"), HEAP)
    assert condition_of(heap(), HEAP) != condition_of(heap(fill="compacted"), HEAP)


def test_a_state_left_open_is_the_usual_one_for_a_heap_and_open_for_a_body():
    assert condition_of(heap(), HEAP).state == "as-supplied"
    assert condition_of(conductivity(0.3, state=None), CONDUCTIVITY).state is None


def test_events_stay_apart_by_kind():
    one, other = (
        limit(573, role="event", event_kind=kind, property="transformation_temperature")
        for kind in ("reversible-jump", "process")
    )
    row = PROPERTIES["transformation_temperature"]
    assert condition_of(one, row) != condition_of(other, row)


def test_the_canonical_condition():
    assert is_canonical(condition_of(heap(), HEAP), HEAP)
    for change in (
        {"fill": "compacted"},
        {"state": "dried"},
        {"with": "sand"},
        {"form": "grain"},
        {"atmosphere": "vacuum"},
        {"direction": "across"},
    ):
        assert not is_canonical(condition_of(heap(**change), HEAP), HEAP)


def test_conditions_sort_by_number_and_what_is_not_stated_comes_first():
    row = PROPERTIES["thermal_conductivity"]
    densities = [None, 300.0, 900.0, 1100.0]
    conditions = [
        condition_of(conductivity(0.3, specimen_density_low=d, specimen_density_high=d), row)
        for d in densities
    ]
    backwards = conditions[::-1]
    assert sorted(backwards, key=Condition.sort_key) == conditions
