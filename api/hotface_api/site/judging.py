"""A contributed value among the held ones of its kind, drawn for whoever is to judge it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.conditions import condition_of
from hotface_api.catalogue.curves import curve_of
from hotface_api.catalogue.evidence import centre, material_rows
from hotface_api.catalogue.ranges import DEFAULT_COVERAGE
from hotface_api.site import words
from hotface_api.site.charts import Drawn, Plotter
from hotface_api.site.figures import MARKS, Band, Chart, Dot, Series, draw
from hotface_api.site.page import Page

__all__ = ["among_held"]

Row = Mapping[str, Any]
Shape = Mapping[str, Any]
_HELD: Final = "held, under the same condition"
_NEW: Final = "this contribution"


class _Judged(Plotter):
    """Plots one contributed value with what is held under its condition."""

    def __init__(self, page: Page, row: Row, held: Sequence[Row]) -> None:
        super().__init__(page, row["material"], row["property"])
        self.new = row
        self.held = sorted(held, key=centre)
        self.over_heat = bool(
            self.row["varies_with_temperature"] and row["temperature_low"] is not None
        )

    def own_dot(self) -> Dot:
        dot = self.dot(self.new)
        address = self.page.to(f"/contributions/{self.new['id']}")
        return Dot(dot.x, dot.y, dot.low, dot.high, address, f"{_NEW}: {dot.title}")

    def ranked(self) -> tuple[list[Dot], Dot]:
        """Put the dots side by side by size, the new one where it falls."""
        order = sorted([*self.held, self.new], key=centre)
        places = {row["id"]: place for place, row in enumerate(order, start=1)}
        dots = [_moved(self.dot(row), places[row["id"]]) for row in self.held]
        return dots, _moved(self.own_dot(), places[self.new["id"]])

    def curve(self) -> Band | None:
        """Give the curve the held values carry, with its interval."""
        reference = self.page.asked.reference
        found = curve_of(self.held, self.row, reference, DEFAULT_COVERAGE)
        if found is None:
            return None
        points = [point for point in found.at(found.grid()) if point.range is not None]
        ends = {
            name: [self.height(getattr(point.range, name)) for point in points]
            for name in ("low", "typical", "high")
        }
        return Band([self.degrees(point.temperature) for point in points], **ends)


def _moved(dot: Dot, place: float) -> Dot:
    return Dot(place, dot.y, dot.low, dot.high, dot.address, dot.title)


def _level(interval: Shape | None, count: int) -> Band | None:
    """Draw an interval as a band over the whole width."""
    if interval is None or None in (interval["low"], interval["typical"], interval["high"]):
        return None
    ends = {name: [interval[name]] * 2 for name in ("low", "typical", "high")}
    return Band([0.5, count + 0.5], **ends)


def _alike(connection: Connection, page: Page, row: Row) -> list[Row]:
    reference = page.asked.reference
    definition = reference.properties[row["property"]]
    rows = material_rows(connection, reference, (row["material"],), (row["property"],))
    condition = condition_of(row, definition)
    return [
        other
        for other in rows
        if other["basis"] != "memory"
        and other["bound"] == "is"
        and other["id"] not in (row["replaces"], row["id"])
        and condition_of(other, definition) == condition
    ]


def among_held(
    page: Page, connection: Connection, row: Row, interval: Shape | None
) -> Drawn | None:
    """Draw a contributed value among the held ones, or give None where nothing like it is held.

    Parameters
    ----------
    page : Page
    connection : Connection
    row : row
        The contributed value in the store's columns.
    interval : mapping or None
        The interval it was compared with, in the page's units.
    """
    if row["property"] not in page.asked.reference.properties:
        return None
    held = _alike(connection, page, row)
    if not held:
        return None
    plot = _Judged(page, row, held)
    across, up = plot.axes()
    if plot.over_heat:
        dots, own, band = [plot.dot(each) for each in plot.held], plot.own_dot(), plot.curve()
    else:
        dots, own = plot.ranked()
        across, band = "Values in order of size", _level(interval, len(dots) + 1)
    series = (Series(_HELD, tuple(dots)), Series(_NEW, (own,)))
    title = f"{plot.row['name']} of {page.name(row['material'])}: this contribution among the held"
    chart = Chart(title, _described(plot, own, dots), across, up, series, band)
    return Drawn(
        svg=draw(chart, "fig"),
        key=tuple((MARKS[i][1], each.label, len(each.dots)) for i, each in enumerate(series)),
        undated=sum(each["temperature_low"] is None for each in held) if plot.over_heat else 0,
        unverified=0,
        has_band=band is not None,
    )


def _described(plot: Plotter, own: Dot, dots: Sequence[Dot]) -> str:
    unit = words.unit(plot.write.unit.code)
    low, high = min(dot.low for dot in dots), max(dot.high for dot in dots)
    return (
        f"This contribution at {words.number(own.y)} {unit}; {words.counted(len(dots), 'value')}"
        f" held under the same condition, {words.number(low)} to {words.number(high)} {unit}."
    )
