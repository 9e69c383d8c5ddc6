"""The pictures of mixes: conductivity over temperature beside measured bodies, and mixes apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from hotface.units import convert
from hotface_api.site import words
from hotface_api.site.figures import MARKS, Band, Chart, Dot, Series, draw
from hotface_api.site.page import Page, site

__all__ = ["Keyed", "Spot", "conductivity_figure", "field_figure"]

Shape = Mapping[str, Any]
_ROOM: Final = 22.0
"""Degrees Celsius at which a value that states no temperature is drawn; the page says so."""
_CURVES: Final = ("low", "typical", "high")
_BOUNDS: Final = ("lower_bound", "upper_bound", "series_bound", "parallel_bound")


@dataclass(frozen=True, slots=True)
class Keyed:
    """A figure, and for each measured body in it the sign of its points.

    ``undated`` counts the points that state no temperature.
    """

    svg: str
    key: tuple[tuple[str, Shape, int], ...]
    undated: int


@dataclass(frozen=True, slots=True)
class Spot:
    """One mix of several: its letter, its density and its conductivity at one temperature."""

    label: str
    density: Shape
    conductivity: Shape
    address: str


def _middle(given: Shape) -> float:
    if given["typical"] is not None:
        return float(given["typical"])
    ends = [given[end] for end in ("low", "high") if given[end] is not None]
    return float(sum(ends) / len(ends))


def _room(page: Page) -> float:
    return convert(_ROOM, "Cel", page.asked.output.unit("temperature").code)


def _at(page: Page, value: Shape) -> float:
    span = value["temperature"]
    return _room(page) if span is None else float(span["low"] + span["high"]) / 2


def _dot(page: Page, value: Shape) -> Dot:
    middle = _middle(value)
    low = middle if value["low"] is None else value["low"]
    high = middle if value["high"] is None else value["high"]
    source = page.source(value["source"])
    said = (
        "temperature not stated"
        if value["temperature"] is None
        else words.span(value["temperature"])
    )
    title = f"{words.reaches(value)}, {said}" + (f"; {source.short}" if source else "")
    return Dot(_at(page, value), middle, low, high, page.to(f"/values/{value['id']}"), title)


def _measured(specimen: Shape) -> list[Shape]:
    """Give what a body's conductivity was measured at, coldest first."""
    found = [
        value
        for value in specimen["values"]
        if value["property"] == "thermal_conductivity" and value["bound"] == "is"
    ]
    return sorted(found, key=lambda value: (value["temperature"] or {}).get("low") or 0.0)


def _described(curve: Shape, heat: str, dots: int, bodies: int) -> str:
    first, last = curve["points"][0], curve["points"][-1]
    unit = words.unit(curve["unit"])
    text = (
        f"Middle {words.number(first['typical'])} {unit} at {first['temperature']['value']:.0f}"
        f" {heat} and {words.number(last['typical'])} {unit} at"
        f" {last['temperature']['value']:.0f} {heat}, hatched interval about it; dashed the bounds"
        " of even mixtures, dotted those no arrangement of the parts can leave."
    )
    if dots:
        like = words.counted(bodies, "body", "bodies")
        text += f" {words.counted(dots, 'point')} measured on {like} like it."
    return text + " The table below holds every point of the curve."


def conductivity_figure(page: Page, document: Shape, asked: str) -> Keyed:
    """Draw an estimate's conductivity: interval, bounds, and what was measured on bodies like it.

    Parameters
    ----------
    page : Page
    document : mapping
        The estimate, as ``/v1`` gives it.
    asked : str
        The request, by which the figure is kept.
    """
    curve = document["properties"]["thermal_conductivity"]
    points = curve["points"]
    heat = words.unit(page.asked.output.unit("temperature").code)
    bodies = [(each, _measured(each)) for each in document["nearest_specimens"] if _measured(each)]
    series = tuple(
        Series(each["name"], tuple(_dot(page, value) for value in values))
        for each, values in bodies
    )
    dots = sum(len(each.dots) for each in series)
    chart = Chart(
        "Estimated thermal conductivity of the mix over temperature",
        _described(curve, heat, dots, len(series)),
        f"Temperature, {heat}",
        f"Thermal conductivity, {words.unit(curve['unit'])}",
        series,
        Band(
            [point["temperature"]["value"] for point in points],
            *([point[name] for point in points] for name in (*_CURVES, *_BOUNDS)),
        ),
    )
    key = (page.asked.revision, page.revision_asked, page.units, "mix", asked, page.to("/"))
    return Keyed(
        svg=site().mixes.get(key, lambda: draw(chart, "fig")),
        key=tuple(
            (MARKS[index][1], each, len(values)) for index, (each, values) in enumerate(bodies)
        ),
        undated=sum(value["temperature"] is None for _, values in bodies for value in values),
    )


def field_figure(page: Page, spots: Sequence[Spot], at: str, asked: str) -> str:
    """Draw mixes apart by density and conductivity, each with its intervals and its letter.

    Parameters
    ----------
    page : Page
    spots : sequence of Spot
    at : str
        The temperature of the conductivities, written for people.
    asked : str
        The search, by which the figure is kept.
    """
    dots = tuple(
        Dot(
            x=each.density["typical"],
            y=each.conductivity["typical"],
            low=each.conductivity["low"],
            high=each.conductivity["high"],
            address=each.address,
            title=f"Mix {each.label}: {words.number(each.density['typical'])}"
            f" {words.unit(each.density['unit'])},"
            f" {words.number(each.conductivity['typical'])}"
            f" {words.unit(each.conductivity['unit'])}",
            left=each.density["low"],
            right=each.density["high"],
            label=each.label,
        )
        for each in spots
    )
    lightest = min(spots, key=lambda each: each.density["typical"])
    least = min(spots, key=lambda each: each.conductivity["typical"])
    first = spots[0]
    chart = Chart(
        f"Mixes worth trying, by density and conductivity at {at}",
        f"{words.counted(len(spots), 'mix', 'mixes')}, each a lettered point with its intervals."
        f" {lightest.label} is the lightest, {least.label} conducts least. The table below holds"
        " every number.",
        f"Bulk density, {words.unit(first.density['unit'])}",
        f"Conductivity at {at}, {words.unit(first.conductivity['unit'])}",
        (Series("mixes", dots),),
    )
    key = (page.asked.revision, page.revision_asked, page.units, "field", asked, page.to("/"))
    return site().mixes.get(key, lambda: draw(chart, "fig"))
