"""Rows as published into rows as stored: units into SI, printed text into numbers, rules held."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hotface.units import UNITS, Unit, UnitError, find_unit, to_si
from hotface_api.load.package import Fault, Package, PackageError

__all__ = ["COLUMN_UNITS", "store_rows"]

Row = dict[str, Any]

COLUMN_UNITS: dict[str, dict[str, str]] = {
    "values": {
        "temperature_low": "Cel", "temperature_high": "Cel", "treatment_temperature": "Cel",
        "reference_temperature": "Cel", "grain_size_low": "mm", "grain_size_high": "mm",
        "duration": "h", "age": "d", "load": "MPa",
    },
    "specimens": {"treatment_temperature": "Cel", "age": "d"},
    "phases": {"temperature": "Cel", "temperature_high": "Cel"},
    "cones": {"temperature": "Cel", "heating_rate": "K/h"},
    "cautions": {"below": "Cel", "above": "Cel"},
}
"""Units of the package's fixed-unit columns; all others are already SI or pure numbers."""


def store_rows(package: Package) -> dict[str, list[Row]]:
    """Turn a checked package into rows for the store, by resource.

    Raises
    ------
    PackageError
        If a unit is unknown or of another dimension than its property, figures are out of order or
        impossible, or a row breaks a rule of citation.
    """
    faults: list[Fault] = []
    rows = {
        name: [_fixed_units(name, row) for row in table]
        for name, table in package.rows.items()
        if name not in ("source_notes", "values")
    }
    rows["sources"] = [_source(row, package) for row in package.rows["source_notes"]]
    properties = {row["id"]: row for row in package.rows["properties"]}
    _check_properties(package, faults)
    rows["values"] = [
        _value(row, properties[row["property"]], _reporter(package, "values", index, faults))
        for index, row in enumerate(package.rows["values"])
    ]
    for name in rows:
        if name in package.rows and name != "values":
            for index, row in enumerate(package.rows[name]):
                _check_citation(name, row, _reporter(package, name, index, faults))
    if faults:
        raise PackageError(faults)
    return rows


Report = Callable[[str, str], None]


def _reporter(package: Package, name: str, index: int, faults: list[Fault]) -> Report:
    def report(column: str, message: str) -> None:
        number = package.row_number(name, index)
        faults.append(Fault(package.files[name], number, column, message))

    return report


def _fixed_units(name: str, row: Row) -> Row:
    converted = dict(row)
    for column, code in COLUMN_UNITS.get(name, {}).items():
        if converted[column] is not None:
            converted[column] = to_si(converted[column], UNITS[code])
    return converted


def _source(row: Row, package: Package) -> Row:
    return {**row, "item": package.items[row["id"]]}


def _check_properties(package: Package, faults: list[Fault]) -> None:
    for index, row in enumerate(package.rows["properties"]):
        report = _reporter(package, "properties", index, faults)
        dimension = None
        for column in ("unit", "unit_us"):
            try:
                dimension = find_unit(row[column], dimension).dimension
            except UnitError as error:
                report(column, str(error))


def _check_citation(name: str, row: Row, report: Report) -> None:
    if "basis" not in row:
        return
    basis = row["basis"]
    if basis == "memory" and row["source"] is not None:
        report("source", "a figure from memory cites nothing; name it in recalled_source")
    if name == "standards":
        return  # a standard can be its own citation
    if basis in ("read", "quoted"):
        for column in ("source", "locator"):
            if row[column] is None:
                report(column, f"a figure with basis {basis} needs one")
    if basis == "quoted" and row["quoted_in"] is None:
        report("quoted_in", "a quoted figure names the text it was seen in")


def _value(row: Row, property_row: Row, report: Report) -> Row:
    _check_citation("values", row, report)
    converted = _fixed_units("values", row)
    try:
        dimension = find_unit(property_row["unit"]).dimension
        unit = find_unit(row["unit"], dimension)
    except UnitError as error:
        report("unit", str(error))
        return converted
    difference = property_row["temperature_kind"] == "difference"
    if unit.kind == "point" and difference:
        report("unit", "a temperature difference is given in K or [degR]")
    for end in ("low", "typical", "high"):
        printed = row[f"printed_{end}"]
        number = None if printed is None else to_si(float(printed), unit, difference=difference)
        converted[end] = number
        _check_possible(number, printed, end, property_row, report)
    _check_order(converted, report)
    _check_role(row, property_row, report)
    if row["basis"] != "memory" and row["origin"] is None:
        report("origin", "only a figure from memory has no origin")
    return {**converted, "status": "accepted", "version": 1}


def _check_possible(
    number: float | None, printed: str | None, end: str, property_row: Row, report: Report
) -> None:
    if number is None:
        return
    unit: Unit = UNITS[property_row["unit"]]
    for edge, outside in (("minimum", -1), ("maximum", 1)):
        limit = property_row[edge]
        if limit is not None and (number - to_si(limit, unit)) * outside > 1e-9 * abs(number):
            report(f"printed_{end}", f"{printed} lies beyond the {edge} of {property_row['id']}")


def _check_order(row: Row, report: Report) -> None:
    numbers = [row[end] for end in ("low", "typical", "high") if row[end] is not None]
    if not numbers:
        report("printed_typical", "no figure is given")
    if numbers != sorted(numbers):
        report("printed_low", "low, typical and high are out of order")
    low, high = row["temperature_low"], row["temperature_high"]
    if (low is None) != (high is None) or (low is not None and low > high):
        report("temperature_low", "give both ends of the temperature, in order, or neither")


def _check_role(row: Row, property_row: Row, report: Report) -> None:
    is_limit = property_row["group"] == "limit"
    if is_limit and row["role"] is None:
        report("role", "a limit says what kind of limit it is")
    if not is_limit and row["role"] is not None:
        report("role", f"{property_row['id']} is no limit")
    if (row["role"] == "event") != (row["event_kind"] is not None):
        report("event_kind", "an event, and only an event, says what kind of event it is")
    if row["form"] not in property_row["forms"].split(";"):
        report("form", f"{property_row['id']} applies to {property_row['forms']}")
