"""Printed figures against served SI numbers; the conversion is pint's, from the words printed.

``printed_figures.csv`` holds figures as the sources print them, over every source type, written
down from the sources' tables and not from the package, with their SI values by pint.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pint
import pytest

from hotface_api.store.models import Value
from hotface_api.store.read import find

from .conftest import figures

HERE = Path(__file__).parent
REGISTRY = pint.UnitRegistry()
PRINTED = {  # the unit as a source prints it: what pint calls it, and its coherent SI unit
    "%": ("percent", ""),
    "1": ("", ""),
    "1/K": ("1/K", "1/K"),
    "1/[degF]": ("1/delta_degF", "1/K"),
    "BTU.in/(h.ft2.F)": ("Btu_it*inch/hour/foot**2/delta_degF", "W/m/K"),
    "[Btu_IT].[in_i]/(h.[sft_i].[degF])": ("Btu_it*inch/hour/foot**2/delta_degF", "W/m/K"),
    "Cel": ("degC", "K"),
    "K": ("K", "K"),
    "[degF]": ("degF", "K"),
    "F": ("degF", "K"),
    "J/(g.Cel)": ("J/g/K", "J/kg/K"),
    "J/(g.K)": ("J/g/K", "J/kg/K"),
    "J/(kg.K)": ("J/kg/K", "J/kg/K"),
    "kJ/(kg.K)": ("kJ/kg/K", "J/kg/K"),
    "cal/(g.Cel)": ("calorie/g/K", "J/kg/K"),
    "cal/(g.K)": ("calorie/g/K", "J/kg/K"),
    "MN/m2": ("meganewton/m**2", "Pa"),
    "MPa": ("MPa", "Pa"),
    "N/mm2": ("N/mm**2", "Pa"),
    "kN/m2": ("kilonewton/m**2", "Pa"),
    "kPa": ("kPa", "Pa"),
    "kg/cm2": ("kgf/cm**2", "Pa"),
    "kgf/cm2": ("kgf/cm**2", "Pa"),
    "[psi]": ("psi", "Pa"),
    "psi": ("psi", "Pa"),
    "W/(cm.K)": ("W/cm/K", "W/m/K"),
    "W/(m.K)": ("W/m/K", "W/m/K"),
    "cal/(s.cm.Cel)": ("calorie/s/cm/K", "W/m/K"),
    "kcal/(h.m.Cel)": ("kilocalorie/hour/m/K", "W/m/K"),
    "kcal/(m.h.Cel)": ("kilocalorie/hour/m/K", "W/m/K"),
    "[lb_av]/[cft_i]": ("pound/foot**3", "kg/m**3"),
    "lb/ft3": ("pound/foot**3", "kg/m**3"),
    "Mg/m3": ("megagram/m**3", "kg/m**3"),
    "g/cm3": ("g/cm**3", "kg/m**3"),
    "kg/L": ("kg/liter", "kg/m**3"),
    "kg/dm3": ("kg/decimeter**3", "kg/m**3"),
    "kg/m3": ("kg/m**3", "kg/m**3"),
    "t/m3": ("metric_ton/m**3", "kg/m**3"),
    "m3/t": ("m**3/metric_ton", "m**3/kg"),
    "m3/kg": ("m**3/kg", "m**3/kg"),
    "g/m2": ("g/m**2", "kg/m**2"),
    "h": ("hour", "s"),
    "min": ("minute", "s"),
    "mm": ("mm", "m"),
    "um": ("micrometer", "m"),
    "mm2/s": ("mm**2/s", "m**2/s"),
    "cone": ("", ""),
    "cone (Seger)": ("", ""),
}


def si_by_pint(text, printed_unit):
    source, target = PRINTED[printed_unit]
    return REGISTRY.Quantity(float(text), source).to(target).magnitude


def listed():
    with (HERE / "printed_figures.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_printed_figure_reads_as_its_si_number(seed):
    """The unit as printed, read by pint, gives the number stored, for every value held."""
    broken = {}
    for row in seed.rows["values"]:
        for end in ("low", "typical", "high"):
            text = row[f"printed_{end}"]
            assert (text is None) == (row[end] is None), row["id"]
            if text is not None:
                printed_unit = row["printed_unit"]
                if printed_unit == "1" and row["unit"] == "g/cm3":
                    printed_unit = "g/cm3"  # a specific gravity: water is 1 g/cm3
                expected = si_by_pint(text, printed_unit)
                if not math.isclose(expected, row[end], rel_tol=1e-6, abs_tol=1e-12):
                    broken[row["id"]] = (text, row["printed_unit"], row[end])
    assert broken == {}


def test_the_list_covers_every_source_type(seed):
    rows = listed()
    assert len(rows) >= 60
    assert {row["source_type"] for row in rows} == {
        "standard",
        "handbook",
        "journal",
        "report",
        "dataset",
        "patent",
        "encyclopedia",
        "supplier",
        "web",
    }
    for row in rows:
        value = seed.values[row["value"]]
        assert seed.sources[value["source"]]["source_type"] == row["source_type"], row["value"]


@pytest.mark.parametrize("row", listed(), ids=lambda row: row["value"])
def test_a_served_value_is_what_its_source_prints(database, row):
    with database.read() as connection:
        value = find(connection, Value, database.revision(), row["value"])
    printed = [row[f"printed_{end}"] for end in ("low", "typical", "high")]
    assert value["printed_unit"] == row["printed_unit"]
    held = [value[f"printed_{end}"] for end in ("low", "typical", "high")]
    assert [x for x in held if x is not None] == [x for x in printed if x]
    expected = [float(row[f"si_{end}"]) for end in ("low", "typical", "high") if row[f"si_{end}"]]
    assert figures(value) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("row", listed(), ids=lambda row: row["value"])
def test_the_service_gives_what_the_source_prints(client, row):
    """Through the door: the figure as printed, and the answer in its own unit by pint."""
    response = client.get(f"/v1/values/{row['value']}")
    assert response.status_code == 200, response.get_data(as_text=True)
    answer = response.get_json()
    printed = [row[f"printed_{end}"] for end in ("low", "typical", "high") if row[f"printed_{end}"]]
    shown = [answer["printed"][end] for end in ("low", "typical", "high")]
    assert [x for x in shown if x is not None] == printed
    target = PRINTED[answer["unit"]][0]
    source = PRINTED[row["printed_unit"]][0]
    expected = [REGISTRY.Quantity(float(x), source).to(target).magnitude for x in printed]
    assert figures(answer) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("row", listed(), ids=lambda row: row["value"])
def test_the_list_itself_converts_as_pint_says(row):
    for end in ("low", "typical", "high"):
        if row[f"printed_{end}"]:
            expected = si_by_pint(row[f"printed_{end}"], row["printed_unit"])
            assert float(row[f"si_{end}"]) == pytest.approx(expected, rel=1e-8)
