"""Densities, melting points and heat capacities against general reference libraries.

None of the libraries' tables used here is the origin of the row it is held against: where a
library carries several tables, the ones the row comes from are left out. Rows that true sources
print and that lie far off stand in ``exceptions.csv``.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import chemicals
import numpy as np
import periodictable
import pytest
import xraydb
from chemicals import Tm

from .conftest import middle

AVOGADRO = 6.02214076e23
DATA = Path(chemicals.__file__).parent / "Heat Capacity"

CELLS = {  # formula, units in the cell, edges in angstrom, angle gamma: textbook crystallography
    "corundum": ("Al2O3", 6, (4.759, 4.759, 12.991), 120),
    "periclase": ("MgO", 4, (4.212, 4.212, 4.212), 90),
    "lime": ("CaO", 4, (4.811, 4.811, 4.811), 90),
    "quartz": ("SiO2", 3, (4.913, 4.913, 5.405), 120),
    "cristobalite": ("SiO2", 4, (4.971, 4.971, 6.928), 90),
    "calcite": ("CaCO3", 6, (4.990, 4.990, 17.061), 120),
    "spinel": ("MgAl2O4", 8, (8.083, 8.083, 8.083), 90),
    "zircon": ("ZrSiO4", 4, (6.604, 6.604, 5.979), 90),
    "andalusite": ("Al2SiO5", 4, (7.798, 7.903, 5.557), 90),
    "sillimanite": ("Al2SiO5", 4, (7.488, 7.681, 5.777), 90),
    "forsterite": ("Mg2SiO4", 4, (4.754, 10.197, 5.981), 90),
    "fayalite": ("Fe2SiO4", 4, (4.820, 10.479, 6.087), 90),
    "hematite": ("Fe2O3", 6, (5.038, 5.038, 13.772), 120),
    "chromium-oxide": ("Cr2O3", 6, (4.961, 4.961, 13.599), 120),
    "anhydrite": ("CaSO4", 4, (6.993, 6.995, 6.245), 90),
    "c12a7": ("Ca12Al14O33", 2, (11.98, 11.98, 11.98), 90),
    "c3a": ("Ca3Al2O6", 24, (15.263, 15.263, 15.263), 90),
    "ca6": ("CaAl12O19", 2, (5.564, 5.564, 21.892), 120),
    "portlandite": ("CaO2H2", 1, (3.592, 3.592, 4.906), 120),
}
XRAY_NAMES = {
    "corundum": "sapphire",
    "quartz": "quartz",
    "cristobalite": "cristobalite",
    "fused-silica": "silica",
    "forsterite": "forsterite",
    "fayalite": "fayalite",
    "periclase": "magnesium dioxide",
    "muscovite": "mica",
}
MELTING = {  # material: registry number, and which tables of the library may be asked
    "fused-alumina": ("1302-74-5", ("COMMON_CHEMISTRY",)),
    "tabular-alumina": ("1302-74-5", ("COMMON_CHEMISTRY",)),
    "magnesia": ("1309-48-4", ("COMMON_CHEMISTRY",)),
    "lime": ("1305-78-8", ("COMMON_CHEMISTRY",)),
    "zirconia": ("1314-23-4", ("COMMON_CHEMISTRY", "CRC_INORG")),
    "chromium-oxide": ("1308-38-9", ("COMMON_CHEMISTRY", "CRC_INORG")),
    "cristobalite": ("14464-46-1", ("COMMON_CHEMISTRY",)),
    "wollastonite": ("1344-95-2", ("COMMON_CHEMISTRY",)),
    "sodium-metasilicate": ("6834-92-0", ("COMMON_CHEMISTRY", "CRC_INORG")),
    "spinel": ("12068-51-8", ("CRC_INORG",)),
    "mullite": ("1302-93-8", ("CRC_INORG",)),
    "ca": ("12042-68-1", ("CRC_INORG",)),
    "forsterite": ("15118-03-3", ("COMMON_CHEMISTRY",)),
    "anhydrite": ("7778-18-9", ("COMMON_CHEMISTRY", "CRC_INORG")),
}
JANAF = {  # material: formula and registry number in the JANAF tables of 1998
    "periclase": ("MgO", "1309-48-4"),
    "lime": ("CaO", "1305-78-8"),
    "quartz": ("SiO2", "14808-60-7"),
    "spinel": ("MgAl2O4", "12068-51-8"),
    "kyanite": ("Al2SiO5", "1302-76-7"),
    "andalusite": ("Al2SiO5", "12183-80-1"),
    "zircon": ("ZrSiO4", "10101-52-7"),
    "sodium-metasilicate": ("Na2SiO3", "6834-92-0"),
}
STANDARD = {  # heat capacity at 298.15 K, J/(mol.K), standard thermodynamic table
    "corundum": ("Al2O3", "1344-28-1"),
    "periclase": ("MgO", "1309-48-4"),
    "lime": ("CaO", "1305-78-8"),
    "quartz": ("SiO2", "14808-60-7"),
    "zirconia": ("ZrO2", "1314-23-4"),
    "hematite": ("Fe2O3", "1309-37-1"),
    "chromium-oxide": ("Cr2O3", "1308-38-9"),
    "calcite": ("CaCO3", "471-34-1"),
    "silicon-carbide": ("SiC", "409-21-2"),
    "zircon": ("ZrSiO4", "10101-52-7"),
    "fayalite": ("Fe2SiO4", "10179-73-4"),
    "magnesite": ("MgCO3", "546-93-0"),
}
BUILT_ON_JANAF = {"mcbride-1993-tm4513"}  # its oxides were fitted to the same tables


def solid_rows(seed, material, name):
    return [row for row in seed.held(material, name) if row["basis"] != "memory"]


def crystal_density(formula, count, edges, gamma):
    volume = math.prod(edges) * math.sin(math.radians(gamma)) * 1e-30
    return count * periodictable.formula(formula).mass / AVOGADRO * 1e-3 / volume


def far(rows, expected, tolerance):
    return {
        row["id"]: (round(middle(row), 1), round(expected, 1))
        for row in rows
        if abs(middle(row) / expected - 1) > tolerance
    }


def test_densities_of_crystals_follow_from_their_cells(seed, exceptions):
    broken, compared = {}, 0
    for material, cell in CELLS.items():
        rows = solid_rows(seed, material, "true_density")
        compared += len(rows)
        broken |= far(rows, crystal_density(*cell), 0.015)
    assert compared >= 30
    exceptions("density of the crystal cell").hold(broken)


def test_densities_agree_with_a_table_of_x_ray_optics(seed, exceptions):
    broken, compared = {}, 0
    table = xraydb.get_materials()
    for material, name in XRAY_NAMES.items():
        rows = solid_rows(seed, material, "true_density")
        compared += len(rows)
        broken |= far(rows, 1000 * table[name].density, 0.03)
    assert compared >= 12
    exceptions("density in x-ray tables").hold(broken)


def test_melting_points_agree_with_other_tables(seed, exceptions):
    broken, compared = {}, 0
    for material, (number, methods) in MELTING.items():
        for row in solid_rows(seed, material, "melting_temperature"):
            own = "CRC_INORG" if row["quoted_in"] == "bell-2016-chemicals" else None
            if row["with"] or row["role"] != "failure_onset":
                continue
            for method in methods:
                if method != own:
                    compared += 1
                    broken |= far([row], Tm(number, method=method), 0.04)
    assert compared >= 25
    exceptions("melting points of other tables").hold(broken)


@pytest.fixture(scope="module")
def janaf():
    return json.loads((DATA / "JANAF_1998_solid_Cp.json").read_text(encoding="utf-8"))


def test_heat_capacities_agree_with_thermochemical_tables(seed, exceptions, janaf):
    broken, compared = {}, 0
    for material, (formula, number) in JANAF.items():
        mass = periodictable.formula(formula).mass * 1e-3
        kelvins, molar = janaf[number]
        for row in solid_rows(seed, material, "specific_heat_capacity"):
            kelvin = row["temperature_low"]
            dated = kelvin is not None and kelvin == row["temperature_high"]
            if row["source"] in BUILT_ON_JANAF or not dated or kelvin > kelvins[-1]:
                continue
            compared += 1
            broken |= far([row], float(np.interp(kelvin, kelvins, molar)) / mass, 0.06)
    assert compared >= 40
    exceptions("heat capacity of thermochemical tables").hold(broken)


def standard_table():
    path = DATA / "CRC Standard Thermodynamic Properties of Chemical Substances.tsv"
    header, *lines = path.read_text(encoding="utf-8").splitlines()
    number, molar = header.split("\t").index("CAS"), header.split("\t").index("Cps")
    cells = [line.split("\t") for line in lines]
    return {row[number]: float(row[molar]) for row in cells if row[molar]}


def test_room_heat_capacities_agree_with_a_standard_table(seed, exceptions):
    broken, compared, table = {}, 0, standard_table()
    for material, (formula, number) in STANDARD.items():
        expected = table[number] / periodictable.formula(formula).mass * 1e3
        rows = [
            row
            for row in solid_rows(seed, material, "specific_heat_capacity")
            if row["temperature_low"] is not None
            and abs(row["temperature_low"] - 298.15) < 6
            and row["temperature_high"] == row["temperature_low"]
        ]
        compared += len(rows)
        broken |= far(rows, expected, 0.05)
    assert compared >= 15
    exceptions("heat capacity of a standard table").hold(broken)
