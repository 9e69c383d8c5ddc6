"""Which chart shows a property over temperature: every held point, and the curve they carry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from hotface_api.catalogue.conditions import Condition, condition_of
from hotface_api.catalogue.evidence import centre, edges
from hotface_api.http.dumps import Writer
from hotface_api.site import words
from hotface_api.site.figures import MARKS, Band, Chart, Dot, Series, draw
from hotface_api.site.page import Page, site

__all__ = ["ROOM", "Drawn", "Plotter", "property_figure"]

Row = Mapping[str, Any]
Shape = Mapping[str, Any]
ROOM: Final = 295.15
"""Where a value that states no temperature is drawn; the page says so."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A figure with its key: sign and label of each series, and what to know of it."""

    svg: str
    key: tuple[tuple[str, str, int], ...]
    undated: int
    unverified: int
    has_band: bool


def _middle(row: Row) -> float:
    if row["temperature_low"] is None:
        return ROOM
    return float(row["temperature_low"] + row["temperature_high"]) / 2


class Plotter:
    """Turns the rows of one property of one material into points of a chart."""

    def __init__(self, page: Page, material: str, name: str) -> None:
        self.page = page
        self.material = material
        self.row = page.asked.reference.properties[name]
        self.write = Writer(page.asked.output, self.row)
        self.heat = page.asked.output.unit("temperature")

    def degrees(self, kelvin: float) -> float:
        """Give a temperature as the reader counts it."""
        return float(self.page.asked.output.number(kelvin, self.heat) or 0.0)

    def height(self, value: float) -> float:
        """Give a value of the property in the unit it is shown in."""
        return float(self.write.number(value) or 0.0)

    def dot(self, row: Row) -> Dot:
        """Make the point of a value, which leads to it."""
        low, high = (self.height(edge) for edge in edges(row))
        x, y = self.degrees(_middle(row)), self.height(centre(row))
        source = self.page.source(row["source"])
        at = f"{x:.0f}\N{NO-BREAK SPACE}{words.unit(self.heat.code)}"
        if row["temperature_low"] is None:
            at = "temperature not stated"
        title = f"{words.number(y)} {words.unit(self.write.unit.code)}, {at}"
        title += f"; {source.short}" if source else ""
        return Dot(x, y, low, high, self.page.to(f"/values/{row['id']}"), title)

    def label(self, condition: Condition) -> str:
        """Write the condition of a series."""
        output = self.page.asked.output
        return words.condition(
            {
                "form": condition.form,
                "state": condition.state,
                "fill": condition.fill,
                "direction": condition.direction,
                "with": condition.with_,
                "treatment_temperature": None,
                "age": None,
                "specimen_density_from": output.quantity("density", condition.density_band),
            }
        )

    def series(self, rows: Sequence[Row]) -> tuple[Series, ...]:
        """Sort points into series by condition; what has no shape of its own left comes last."""
        grouped: dict[Condition, list[Row]] = {}
        for row in rows:
            grouped.setdefault(condition_of(row, self.row), []).append(row)
        order = sorted(grouped, key=lambda each: (-len(grouped[each]), each.sort_key()))
        own, rest = order[: len(MARKS) - 1], order[len(MARKS) - 1 :]
        found = [Series(self.label(each), tuple(map(self.dot, grouped[each]))) for each in own]
        if rest:
            dots = tuple(self.dot(row) for each in rest for row in grouped[each])
            found.append(Series(f"{len(rest)} further conditions", dots))
        return tuple(found)

    def axes(self) -> tuple[str, str]:
        """Name both axes."""
        up = str(self.row["name"])
        unit = words.unit(self.write.unit.code)
        return (
            f"Temperature, {words.unit(self.heat.code)}",
            f"{up}, {unit}" if unit else up,
        )


def _band(answer: Shape) -> Band | None:
    found = answer["band"]
    if found is None or None in found["typical"]:
        return None
    return Band(found["temperature"], found["low"], found["typical"], found["high"])


def _described(page: Page, chart_rows: Sequence[Row], series: Sequence[Series]) -> str:
    dots = [dot for each in series for dot in each.dots]
    origins = len({row["origin"] for row in chart_rows})
    low, high = min(dot.x for dot in dots), max(dot.x for dot in dots)
    unit = words.unit(page.asked.output.unit("temperature").code)
    return (
        f"{words.counted(len(dots), 'value')} from {words.counted(origins, 'origin')},"
        f" {low:.0f} to {high:.0f} {unit}, lowest {words.number(min(d.low for d in dots))},"
        f" highest {words.number(max(d.high for d in dots))}. The table below holds every point."
    )


def property_figure(
    page: Page, material: str, name: str, rows: Sequence[Row], answer: Shape
) -> Drawn | None:
    """Draw a property over temperature, or give None where fewer than two points are held.

    Parameters
    ----------
    page : Page
    material, name : str
        Ids of the material and the property.
    rows : sequence of rows
        Every value of that property of that material.
    answer : mapping
        The answer ``/v1`` gives to the property, whose curve is drawn.
    """
    shown = [row for row in rows if row["basis"] != "memory" and row["bound"] == "is"]
    if len(shown) < 2:  # noqa: PLR2004 - one point is no figure
        return None
    plotter = Plotter(page, material, name)
    series = plotter.series(shown)
    across, up = plotter.axes()
    band = _band(answer)
    title = f"{plotter.row['name']} of {page.name(material)} over temperature"
    chart = Chart(title, _described(page, shown, series), across, up, series, band)
    key = (page.asked.revision, page.revision_asked, page.units, material, name, page.to("/"))
    return Drawn(
        svg=site().figures.get(key, lambda: draw(chart, "fig")),
        key=tuple(
            (MARKS[index][1], each.label, len(each.dots)) for index, each in enumerate(series)
        ),
        undated=sum(row["temperature_low"] is None for row in shown),
        unverified=sum(row["basis"] == "memory" for row in rows),
        has_band=band is not None,
    )
