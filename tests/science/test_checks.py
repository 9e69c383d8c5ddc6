"""Every row of checks.csv: numbers computed elsewhere or printed in a source, met by our formulas.

Rows of kind `regression` come from an earlier trial implementation of the same formulas: they
show that nothing changed, not that the formula is right.
"""

import csv
import re
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from hotface_api.science import (
    accounting,
    conductivity,
    elastic,
    expansion,
    heat,
    hydrates,
    pores,
    sampling,
    strength,
    structures,
)

CHECKS = Path(__file__).with_name("checks.csv")
RULE_NAMES = {
    "wiener-parallel": "wiener-parallel",
    "wiener-series": "wiener-series",
    "hs-upper": "hashin-shtrikman-upper",
    "hs-lower": "hashin-shtrikman-lower",
    "geometric-mean": "lichtenecker",
    "emt-bruggeman": "effective-medium",
    "dem": "differential",
}
# Matrix and particle of the printed tables 3.1 and 3.2.
MODULI, SHEAR, EXPANSIONS = (80.56, 259.7), 26.85, (22.5, 3.30)
BATCH = {"masses": (400.0, 80.0), "particle_densities": (3000.0, 180.0), "water": 320.0}


def rows():
    with CHECKS.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def texts(row):
    return row["expected"].split(";")


def numbers(text):
    return [float(each) for each in re.findall(r"-?\d+\.?\d*(?:[eE]-?\d+)?", text)]


def given(row, name):
    """The number after ``name=`` in the inputs."""
    return float(re.search(rf"\b{re.escape(name)}=([\d.e+-]+)", row["inputs"])[1])


def mixture_rule(row):
    lists = re.findall(r"\[([^\]]*)\]", row["inputs"])
    rule = conductivity.RULES[RULE_NAMES[row["check_id"].rsplit("-", 1)[0]]]
    return rule.function(numbers(lists[0]), numbers(lists[1]))


def paired_rule(name, **options):
    def value(_row):
        return conductivity.RULES[name].function([0.5, 0.5], [1.0, 0.026], **options)

    return value


def sphere_array(row):
    share, ratio = re.search(r"phi=([\d.]+) k_sphere/k_matrix=(\S+)", row["inputs"]).groups()
    inside = 1e9 if ratio == "inf" else float(ratio)
    return conductivity.maxwell([1 - float(share), float(share)], [1.0, inside])


def overlapping_pores(row):
    share = given(row, "phi_pore")
    return structures.sintered_pores([1 - share, share], [1.0, given(row, "k_pore/k_solid")])


def loeb(row):
    shape = {0.666667: "sphere", 1.0: "laminar"}[given(row, "gamma")]
    return pores.radiation_in_pore(given(row, "T"), given(row, "d"), given(row, "eps"), shape)


def bed(row):
    return conductivity.zehner_schluender(given(row, "k_solid"), given(row, "k_gas"), 0.4)


def paste_heat(row):
    water = given(row, "w/c")
    return heat.mix_heat_capacity([water / (1 + water), 1 / (1 + water)], [4.18, 0.75])


def particle_share(row):
    share = given(row, "V_p")
    return [1 - share, share]


def batch(**options):
    return accounting.account(
        true_densities=(3000.0, 2300.0), water_density=1000.0, **BATCH, **options
    )


def wall(k, hot=1323.15, cold=323.15):
    kelvin = np.linspace(cold, hot, 4001)
    return float(heat.integral_mean(kelvin, k(kelvin - 273.15))) * (hot - cold)


def product_of_lognormals(_row):
    size = 100_000
    logs = 0.15 * sampling.normals(1, "a", size) + 0.10 * sampling.normals(1, "b", size)
    drawn = sampling.quantiles(np.exp(logs))
    return drawn.high / drawn.typical


def corner_bounds(_row):
    corners = [[1.2, 0.05], [1.6, 0.08]]
    return conductivity.hashin_shtrikman_upper([0.5, 0.5], corners)


VALUES = {
    r"(wiener|hs-|geometric|emt-bruggeman|dem-[ABC]).*": mixture_rule,
    "russell-A2": paired_rule("russell"),
    "lewis-nielsen-A2": paired_rule("lewis-nielsen"),
    "hamilton-crosser-A2": paired_rule("hamilton-crosser", sphericity=0.5),
    "krischer-A2": paired_rule("krischer", series_share=0.25),
    "cocontinuous-A2": paired_rule("co-continuous"),
    "dem-empty-pores": lambda _: conductivity.differential([0.5, 0.5], [1.0, 0.0]),
    "emt-empty-pores": lambda _: conductivity.effective_medium([0.5, 0.5], [1.0, 0.0]),
    "me-empty-pores": lambda _: conductivity.maxwell([0.5, 0.5], [1.0, 0.0]),
    "emt-percolation": lambda _: 0.5 / (1 - conductivity.effective_medium([0.5, 0.5], [1.0, 0.0])),
    "dem-implicit-1": lambda _: conductivity.differential([0.7, 0.3], [1.0, 0.026]),
    "dem-implicit-2": lambda _: conductivity.differential([0.7, 0.3], [1.0, 10.0]),
    r"sphere-FCC-.*": sphere_array,
    r"voxel-pores-.*": overlapping_pores,
    r"air-k-.*": lambda row: pores.air_conductivity(given(row, "T")),
    r"air-cp-.*": lambda row: pores.air_heat_capacity(given(row, "T")),
    r"water-k-.*": lambda row: pores.water_conductivity(given(row, "T")),
    r"air-mfp-.*": lambda row: pores.mean_free_path(given(row, "T")),
    r"knudsen-.*": lambda row: pores.knudsen_gas(0.02638, 6.73e-8, given(row, "d"), beta=1.63),
    "sigma": lambda _: pores.STEFAN_BOLTZMANN,
    r"loeb-0.*": loeb,
    "loeb-sphere-identity": lambda _: pores.radiation_in_pore(1000.0, 2 * 0.5e-3),
    "rosseland": lambda _: pores.rosseland(1000.0, 2000.0),
    r"zs-.*": bed,
    r"cp-.*": paste_heat,
    r"hydrate-M-.*": lambda row: 1000 * hydrates.molar_mass(row["check_id"][10:]),
    r"hydrate-loss-.*": lambda row: 100 * hydrates.ignition_loss(row["check_id"][13:]),
    "cac-water-cah10": lambda _: hydrates.water_per_ca("CAH10"),
    "cac-water-c2ah8": lambda _: hydrates.water_per_ca("C2AH8"),
    "cac-water-c3ah6": lambda _: hydrates.stable_bound_water(1.0),
    "cac-conversion-mass": lambda _: hydrates.conversion_mass_kept(),
    "cac-conversion-volume": lambda _: hydrates.conversion_volume_kept(1720.0, 2520.0, 2420.0),
    r"k-maxwell-.*": lambda row: elastic.mixed_bulk_modulus(particle_share(row), MODULI, SHEAR),
    r"cte-maxwell-.*": lambda row: expansion.maxwell_expansion(
        particle_share(row), EXPANSIONS, MODULI, SHEAR
    ),
    "cte-levin": lambda _: expansion.levin_expansion(22.5, 3.2988, 80.56, 259.69, 106.42),
    "cte-turner": lambda _: expansion.turner_expansion([0.5, 0.5], [22.5, 3.2988], [80.56, 259.69]),
    "cte-rom": lambda _: expansion.volume_mean_expansion([0.5, 0.5], [22.5, 3.2988]),
    "e-spinel": lambda _: 240.0 / elastic.porous_modulus(1.0, 0.05),
    "mor-mgo": lambda _: 105.0 / strength.ryshkewitch(1.0, 0.05, 3.75),
    "powers": lambda _: strength.gel_space_strength(0.589) / 1e6,
    "slab-kT-linear": lambda _: wall(lambda celsius: 0.2 + 1.5e-4 * celsius) / 0.1,
    "slab-kT-cubic": lambda _: (
        wall(lambda celsius: 0.12 + 1e-4 * celsius + 1.2e-10 * celsius**3) / 0.115
    ),
    "alumina-starch": lambda _: conductivity.exponential_pore_relation(1.0, 0.4),
    "mc-lognormal": product_of_lognormals,
    "interval-vertex": corner_bounds,
    "mix-absolute-volume": lambda _: batch().fresh_volume,
    "mix-fresh-density": lambda _: batch(air=0.05).density[0],
    "mix-fired-density": lambda _: batch(air=0.05).density[3],
    "loose-to-absolute": lambda _: [
        accounting.absolute_volume(accounting.mass_from_loose(0.1, 110.0), 180.0),
        accounting.void_fraction_from(110.0, 180.0),
    ],
}


def tolerance(row, expected):
    """The stated tolerance, or half a unit of the last digit printed where that is wider."""
    kind, size = row["tolerance"].split()
    stated = float(size) * (np.abs(expected) if kind == "rel" else 1.0)
    printed = [0.5 * 10.0 ** Decimal(text).as_tuple().exponent for text in texts(row)]
    return np.maximum(stated, printed)


def function_for(check_id):
    matching = [value for pattern, value in VALUES.items() if re.fullmatch(pattern, check_id)]
    assert len(matching) == 1, f"{check_id} must be computed in exactly one way"
    return matching[0]


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["check_id"])
def test_row(row):
    expected = np.array([float(text) for text in texts(row)])
    found = np.asarray(function_for(row["check_id"])(row))
    assert np.all(np.abs(found - expected) <= tolerance(row, expected)), (found, expected)


def test_no_formula_without_row():
    ids = [row["check_id"] for row in rows()]
    assert all(any(re.fullmatch(pattern, each) for each in ids) for pattern in VALUES)
