"""What any true set of figures must obey, whoever measured them.

Checked against physics, not against a text: an order of densities, a balance of masses, a bound on
conduction. A true published figure that breaks a rule (one product beside a whole trade name, for
example) stands in ``exceptions.csv`` with the reason; an exception nobody needs fails too.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from statistics import median

import pytest

from .conftest import figures, middle

SOLIDS_OF_BODIES = {
    "corundum-brick": "corundum",
    "corundum-brick-90": "corundum",
    "corundum-brick-99": "corundum",
    "dense-alumina-ceramic": "corundum",
    "mullite-brick": "mullite",
    "porous-mullite": "mullite",
    "silicon-carbide-brick-40": "silicon-carbide",
    "silicon-carbide-brick-70": "silicon-carbide",
    "silicon-carbide-brick-90": "silicon-carbide",
    "silicon-carbide-brick": "silicon-carbide",
    "clay-brick": "clay-brick",
    "porous-clay-brick": "clay-brick",
    "fused-silica-brick": "fused-silica",
    "cellular-glass": "soda-lime-glass",
}
"""Bodies and the substance that conducts best in them: a body conducts less than its solid."""

AIR_CONDUCTIVITY = (
    (273.15, 0.0244),
    (373.15, 0.0314),
    (573.15, 0.0447),
    (773.15, 0.0563),
    (973.15, 0.0664),
    (1273.15, 0.0798),
    (1673.15, 0.0953),
)
"""Still air at one bar, W/(m.K), rounded: a body of coarse pores cannot conduct less."""

KELVIN_ROOM = 293.15


def pairs_of_densities(seed):
    for material in seed.materials:
        loose = seed.held(material, "loose_bulk_density")
        grain = seed.held(material, "particle_density")
        true = seed.of_solid(material, "true_density")
        yield material, loose, grain
        yield material, grain, true
        yield material, loose, true


def test_loose_is_lighter_than_grain_and_grain_than_solid(seed, exceptions):
    """Row by row: none lies beyond every figure of the next denser state, 2 % for rounding."""
    broken = {}
    for _, light, dense in pairs_of_densities(seed):
        if light and dense:
            top = max(max(figures(row)) for row in dense)
            bottom = min(min(figures(row)) for row in light)
            for row in light:
                if max(figures(row)) > 1.02 * top:
                    broken[row["id"]] = (max(figures(row)), top)
            for row in dense:
                if min(figures(row)) < bottom / 1.02:
                    broken[row["id"]] = (min(figures(row)), bottom)
    exceptions("loose below grain below solid").hold(broken)


def test_medians_of_loose_grain_and_solid_are_in_order(seed, exceptions):
    broken, compared = {}, 0
    for material, light, dense in pairs_of_densities(seed):
        if light and dense:
            compared += 1
            below, above = median(map(middle, light)), median(map(middle, dense))
            if below >= above:
                broken[material] = (below, above)
    assert compared > 60
    exceptions("median densities in order").hold(broken)


@pytest.mark.parametrize("name", ["true_density", "particle_density"])
def test_densities_are_those_of_matter(seed, name):
    """No ceramic grain is lighter than 80 kg/m3 or denser than zirconia; polymers apart."""
    for row in seed.rows["values"]:
        if row["property"] == name and seed.materials[row["material"]]["kind"] != "pore-former":
            metal = "steel" in row["material"]
            assert min(figures(row)) >= 80, row["id"]
            assert max(figures(row)) <= (8500 if metal else 6100), row["id"]


def span(rows):
    stated = [x for row in rows if row["bound"] == "is" for x in figures(row)]
    return (min(stated), max(stated)) if stated else None


def test_porosity_is_one_less_bulk_over_true(seed, exceptions):
    """Of one body the density and the total porosity imply a solid; it must be a possible one.

    Where the true density of the substance is held, the two must agree within 6 % of volume.
    """
    bodies = defaultdict(lambda: defaultdict(list))
    for row in seed.rows["values"]:
        if row["property"] in ("bulk_density", "particle_density", "total_porosity"):
            group = row["specimen"] or f"{row['material']} in {row['source']}"
            form = "porosity" if row["property"] == "total_porosity" else "density"
            bodies[group][form].append(row)
    broken, compared = {}, 0
    for group, parts in bodies.items():
        density, porosity = span(parts["density"]), span(parts["porosity"])
        if density is None or porosity is None:
            continue
        compared += 1
        material = parts["density"][0]["material"]
        true = [middle(row) for row in seed.of_solid(material, "true_density")]
        low, high = (min(true), max(true)) if true else (1900.0, 4100.0)
        expected = (1 - density[1] / low - 0.06, 1 - density[0] / high + 0.06)
        if porosity[1] < expected[0] or porosity[0] > expected[1]:
            broken[group] = (porosity, expected)
    assert compared >= 15
    exceptions("porosity from densities").hold(broken)


def test_full_analyses_add_up(seed, exceptions):
    """Five oxides or more of one material in one table, with loss on ignition, make 90 to 105 %.

    Where limits or spans are printed the span of their sums must reach into that band.
    """
    tables = defaultdict(dict)
    for row in seed.rows["values"]:
        if row["property"].startswith("oxide_") or row["property"] == "loss_on_ignition":
            tables[row["material"], row["source"], row["locator"], row["state"]].setdefault(
                row["property"], row
            )
    broken, compared = {}, 0
    for (material, source, *_), analysis in tables.items():
        if len(analysis) >= 5 and source:
            compared += 1
            low = sum(min(figures(row)) for row in analysis.values())
            high = sum(max(figures(row)) for row in analysis.values())
            if not (low <= 1.05 and high >= 0.90):
                broken[f"{material} in {source}"] = (round(low, 3), round(high, 3))
    assert compared >= 20
    exceptions("oxides add up").hold(broken)


def test_shares_are_shares(seed):
    for row in seed.rows["values"]:
        if row["property"].startswith("oxide_") or row["property"] in (
            "total_porosity",
            "open_porosity",
            "void_fraction",
            "crystalline_silica_share",
        ):
            assert all(0 <= x <= 1 for x in figures(row)), row["id"]


def temperature(row):
    return row["temperature_low"] if row["temperature_low"] is not None else KELVIN_ROOM


def conducting_solid(seed, material):
    name = SOLIDS_OF_BODIES.get(material, material)
    return seed.of_solid(name, "thermal_conductivity")


def test_a_porous_body_conducts_less_than_its_solid(seed, exceptions):
    """Each heap, grain, paste or body against the solid figures within 250 K of it."""
    broken, compared = {}, 0
    for row in seed.rows["values"]:
        if row["property"] != "thermal_conductivity" or row["form"] == "solid":
            continue
        near = [
            solid
            for solid in conducting_solid(seed, row["material"])
            if abs(temperature(solid) - temperature(row)) <= 250
        ]
        if near:
            compared += 1
            top = max(max(figures(solid)) for solid in near)
            if max(figures(row)) >= top:
                broken[row["id"]] = (max(figures(row)), top)
    assert compared > 100
    exceptions("porous body below its solid").hold(broken)


def air(kelvin):
    points = AIR_CONDUCTIVITY
    if kelvin <= points[0][0]:
        return points[0][1]
    for (t0, k0), (t1, k1) in pairwise(points):
        if kelvin <= t1:
            return k0 + (k1 - k0) * (kelvin - t0) / (t1 - t0)
    return points[-1][1]


def test_nothing_conducts_less_than_the_still_air_in_its_pores(seed, exceptions):
    broken = {
        row["id"]: (min(figures(row)), round(0.95 * air(temperature(row)), 4))
        for row in seed.rows["values"]
        if row["property"] == "thermal_conductivity"
        and min(figures(row)) < 0.95 * air(temperature(row))
    }
    exceptions("no less than still air").hold(broken)


def test_heat_capacities_are_those_of_matter(seed):
    """Dulong and Petit bound dry oxides above; what holds water or polymer may lie higher."""
    wet = ("gypsum", "plaster", "wood", "poly", "hydroxyl", "earth")
    for row in seed.rows["values"]:
        if row["property"] == "specific_heat_capacity":
            top = 6000 if any(word in row["material"] for word in wet) else 2300
            assert min(figures(row)) >= 300, row["id"]
            assert max(figures(row)) <= top, row["id"]
