"""One value row as published into one as stored: units into SI, printed text into numbers.

Shared by the loader (whole data packages) and the ledger (contributions), so that both hold a
figure to the same rules. What is wrong goes to a ``report`` the caller gives, column by column.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from hotface.units import UNITS, Unit, UnitError, find_unit, to_si

__all__ = ["COLUMN_UNITS", "Report", "check_citation", "fixed_units", "read_figures"]

Row = dict[str, Any]
Report = Callable[[str, str], None]

COLUMN_UNITS: Final[dict[str, dict[str, str]]] = {
    "values": {
        "temperature_low": "Cel",
        "temperature_high": "Cel",
        "treatment_temperature": "Cel",
        "reference_temperature": "Cel",
        "grain_size_low": "mm",
        "grain_size_high": "mm",
        "duration": "h",
        "age": "d",
        "load": "MPa",
    },
    "specimens": {"treatment_temperature": "Cel", "age": "d"},
    "phases": {"temperature": "Cel", "temperature_high": "Cel"},
    "cones": {"temperature": "Cel", "heating_rate": "K/h"},
    "cautions": {"below": "Cel", "above": "Cel"},
}
"""Units of the package's fixed-unit columns; all others are already SI or pure numbers."""


def fixed_units(name: str, row: Mapping[str, Any]) -> Row:
    """Convert the fixed-unit columns of a resource's row to SI."""
    converted = dict(row)
    for column, code in COLUMN_UNITS.get(name, {}).items():
        if converted[column] is not None:
            converted[column] = to_si(converted[column], UNITS[code])
    return converted


def check_citation(name: str, row: Mapping[str, Any], report: Report) -> None:
    """Hold the rules of citation: memory cites nothing, what was read says where."""
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


def read_figures(row: Mapping[str, Any], property_row: Mapping[str, Any], report: Report) -> Row:
    """Read the printed figures of a row whose other columns are SI already, and check them.

    Parameters
    ----------
    row : mapping
        A row of the store's columns with ``printed_low``, ``printed_typical``, ``printed_high`` as
        text and ``unit`` as a code or common spelling.
    property_row : mapping
        The definition of its property.
    report : callable
        Called with column and message for each thing that is wrong.

    Returns
    -------
    dict
        The row with ``low``, ``typical``, ``high`` in SI; unchanged where the unit cannot be read.
    """
    check_citation("values", row, report)
    converted = dict(row)
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
    return converted


def _check_possible(
    number: float | None,
    printed: str | None,
    end: str,
    property_row: Mapping[str, Any],
    report: Report,
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


def _check_role(row: Mapping[str, Any], property_row: Mapping[str, Any], report: Report) -> None:
    is_limit = property_row["group"] == "limit"
    if is_limit and row["role"] is None:
        report("role", "a limit says what kind of limit it is")
    if not is_limit and row["role"] is not None:
        report("role", f"{property_row['id']} is no limit")
    if (row["role"] == "event") != (row["event_kind"] is not None):
        report("event_kind", "an event, and only an event, says what kind of event it is")
    if row["form"] not in property_row["forms"].split(";"):
        report("form", f"{property_row['id']} applies to {property_row['forms']}")
