"""Rows as published into rows as stored: units into SI, printed text into numbers, rules held."""

from __future__ import annotations

from typing import Any

from hotface.units import UnitError, find_unit
from hotface_api.load.package import Fault, Package, PackageError
from hotface_api.store.figures import (
    COLUMN_UNITS,
    Report,
    check_citation,
    fixed_units,
    read_figures,
)

__all__ = ["COLUMN_UNITS", "store_rows"]

Row = dict[str, Any]


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
        name: [fixed_units(name, row) for row in table]
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
                check_citation(name, row, _reporter(package, name, index, faults))
    if faults:
        raise PackageError(faults)
    return rows


def _reporter(package: Package, name: str, index: int, faults: list[Fault]) -> Report:
    def report(column: str, message: str) -> None:
        number = package.row_number(name, index)
        faults.append(Fault(package.files[name], number, column, message))

    return report


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


def _value(row: Row, property_row: Row, report: Report) -> Row:
    read = read_figures(fixed_units("values", row), property_row, report)
    return {**read, "status": "accepted", "version": 1}
