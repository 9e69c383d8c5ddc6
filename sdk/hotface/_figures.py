"""Figures of answers, drawn by matplotlib where it is installed; without it there are the tables.

Nothing is carried by colour alone: the band is hatched, lines differ by their strokes, points by
their marks.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from hotface._errors import NotInstalled
from hotface._show import show_number, show_unit
from hotface.units import convert

if TYPE_CHECKING:
    from hotface._curves import Curve
    from hotface._estimate import Estimate
    from hotface._properties import PropertyAnswer
    from hotface._records import Value
    from hotface._search import MixSearch

__all__ = ["Dots", "curve_figure", "estimate_figure", "property_figure", "search_figure", "shown"]

_INK, _BAND, _SOFT = "#22303c", "#7d93a8", "#5a6b7b"
_MARKS: Final = ("o", "s", "^", "D", "v", "P")
_BOUNDS: Final = (
    ("series_bound", ":", "no arrangement of the parts leaves these"),
    ("lower_bound", "-.", "nor these if no direction is favoured"),
    ("upper_bound", "-.", None),
    ("parallel_bound", ":", None),
)
_SIZE: Final = (7.0, 4.2)
_SHORT: Final = 40
"""Letters of a label up to which two columns of the key stand beside each other."""
_LINE: Final = 0.17
_ROOM: Final = 22.0
"""Where a value without a stated temperature is drawn, degrees Celsius; the key says so."""


class _Drawing(NamedTuple):
    """A figure with its title and what it shows in words."""

    figure: Any
    title: str
    description: str


@dataclass(frozen=True, slots=True)
class Dots:
    """Measured points of one body or source, with what the key calls them."""

    label: str
    points: tuple[tuple[float, float, float, float], ...]
    """Temperature, then low, typical and high."""


def _new(title: str) -> tuple[Any, Any]:
    """Make a figure of its own, outside pyplot, so that nothing of the caller's is touched."""
    try:
        kind: Any = importlib.import_module("matplotlib.figure").Figure
    except ImportError as error:
        raise NotInstalled("a figure needs matplotlib: pip install matplotlib") from error
    figure = kind(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.set_title(title, fontsize=11, color=_INK, loc="left")
    axes.grid(visible=True, linewidth=0.4, color="#c9d1d9")
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def shown(draw: Callable[..., Any], *arguments: Any) -> str:
    """Draw for a notebook as accessible SVG; nothing where matplotlib is not installed."""
    from hotface._svg import inline_svg  # noqa: PLC0415 - needed with a figure only

    try:
        figure = draw(*arguments)
    except NotInstalled:
        return ""
    drawing: _Drawing = figure.hotface
    return f"<figure>{inline_svg(figure, drawing.title, drawing.description)}</figure>"


def _key(figure: Any) -> None:
    """Write the key below the drawing, where it covers nothing, and give it the room it needs."""
    labels = figure.axes[0].get_legend_handles_labels()[1]
    columns = 2 if max(map(len, labels), default=0) <= _SHORT else 1
    width, height = _SIZE
    figure.set_size_inches(width, height + _LINE * len(labels) / columns)
    figure.legend(
        loc="outside lower left", ncols=columns, fontsize=8, frameon=False, borderaxespad=0.8
    )


def _named(figure: Any, title: str, description: str) -> Any:
    """Keep the words beside the figure, for its alternative text."""
    figure.hotface = _Drawing(figure, title, description)
    figure.set_label(title)
    return figure


def curve_figure(
    curve: Curve, name: str, dots: Sequence[Dots] = (), note: str | None = None
) -> Any:
    """Draw a curve with its band, its bounds and measured points beside it.

    Parameters
    ----------
    curve : Curve
    name : str
        What it is of; the title.
    dots : sequence of Dots
        In the curve's units.
    note : str, optional
        Written beside the name of the axis.

    Returns
    -------
    matplotlib.figure.Figure
    """
    figure, axes = _new(name)
    known = [row for row in curve.rows() if row["typical"] is not None]
    at = [row["temperature"] for row in known]
    ends = [row for row in known if row["low"] is not None and row["high"] is not None]
    if ends:
        axes.fill_between(
            [row["temperature"] for row in ends],
            [row["low"] for row in ends],
            [row["high"] for row in ends],
            facecolor="none", edgecolor=_BAND, hatch="///", linewidth=0.6, label="interval",
        )  # fmt: skip
    mark = "o" if len(at) == 1 else None
    axes.plot(at, [row["typical"] for row in known], color=_INK, marker=mark, label="typical")
    for line, stroke, label in _BOUNDS:
        if getattr(curve, line) is not None:
            axes.plot(
                at, [row[line] for row in known], stroke, color=_SOFT, linewidth=1, label=label
            )
    for number, one in enumerate(dots):
        _draw_dots(axes, one, _MARKS[number % len(_MARKS)])
    axes.set_xlabel(f"temperature, {show_unit(curve.temperature_unit)}")
    axes.set_ylabel(show_unit(curve.unit) or "plain number")
    if not curve.low or min((row["low"] or 0 for row in ends), default=0) >= 0:
        axes.set_ylim(bottom=0)
    _key(figure)
    if note:
        axes.set_xlabel(f"{axes.get_xlabel()} ({note})")
    return _named(figure, name, _describe(curve, known, dots))


def _draw_dots(axes: Any, dots: Dots, mark: str) -> None:
    at, low, typical, high = zip(*dots.points, strict=True)
    down = [middle - end for middle, end in zip(typical, low, strict=True)]
    up = [end - middle for middle, end in zip(typical, high, strict=True)]
    axes.errorbar(
        at, typical, yerr=[down, up], fmt=mark, color=_INK, markerfacecolor="white",
        elinewidth=0.8, label=dots.label,
    )  # fmt: skip


def _describe(curve: Curve, known: Sequence[dict[str, Any]], dots: Sequence[Dots]) -> str:
    """Tell in words what the figure shows."""
    heat, unit = show_unit(curve.temperature_unit), show_unit(curve.unit)
    if not known:
        return "Nothing is held at any temperature."
    step = max(1, len(known) // 6)
    chosen = [*known[::step][:6], known[-1]]
    said = []
    for row in {row["temperature"]: row for row in chosen}.values():
        spread = ""
        if row["low"] is not None and row["high"] is not None:
            spread = f" ({show_number(row['low'])} to {show_number(row['high'])})"
        said.append(
            f"{show_number(row['temperature'])} {heat}: {show_number(row['typical'])}{spread}"
        )
    points = [
        f" Measured, {one.label}: "
        + "; ".join(f"{show_number(p[0])} {heat}: {show_number(p[2])}" for p in one.points[:8])
        + "."
        for one in dots
    ]
    return f"In {unit or 'plain numbers'}. {'; '.join(said)}.{''.join(points)}"


def _dots_of(label: str, values: Sequence[Value], curve: Curve) -> Dots | None:
    """Take the points of some values that can be drawn beside a curve, in its units."""
    points = []
    for value in values:
        numbers = value.range.magnitudes
        ends = [one for one in numbers if one is not None]
        if not ends or value.bound != "is":
            continue
        middle = numbers.typical if numbers.typical is not None else sum(ends) / len(ends)
        three = [
            _converted(one, value.range.unit, curve.unit) for one in (ends[0], middle, ends[-1])
        ]
        at = _middle(value, curve.temperature_unit)
        points.append((at, min(three), three[1], max(three)))
    return Dots(label, tuple(sorted(points))) if points else None


def _converted(number: float, source: str, target: str) -> float:
    return number if source == target else convert(number, source, target)


def _middle(value: Value, unit: str) -> float:
    if value.temperature is None:
        return _converted(_ROOM, "Cel", unit)
    ends = [one for one in value.temperature.magnitudes if one is not None]
    return _converted(sum(ends) / len(ends), value.temperature.unit, unit)


def estimate_figure(found: Estimate, name: str = "thermal_conductivity") -> Any:
    """Draw a curve of an estimate, with the same property of the nearest measured bodies.

    Returns
    -------
    matplotlib.figure.Figure
    """
    curve: Curve = found.curve(name)
    near = [
        _dots_of(
            f"{one.specimen.name} ({one.specimen.source or one.specimen.basis})",
            [value for value in one.specimen.values if value.property == name],
            curve,
        )
        for one in found.nearest_specimens
    ]
    label = f"{name.replace('_', ' ').capitalize()} of the mix, {found.coverage:.0%} interval"
    dots = [one for one in near if one is not None]
    note = None if dots else "no measured body near this mix holds it"
    return curve_figure(curve, label, dots, note)


def property_figure(found: PropertyAnswer, values: Sequence[Value] = ()) -> Any:
    """Draw what is known of a property over temperature, with the values it rests on.

    Returns
    -------
    matplotlib.figure.Figure
    """
    grouped: dict[str, list[Value]] = {}
    for value in values:
        grouped.setdefault(value.source or f"basis {value.basis}", []).append(value)
    drawn = [_dots_of(source, group, found.curve) for source, group in grouped.items()]
    name = f"{found.property.replace('_', ' ').capitalize()} of {found.material}"
    return curve_figure(found.curve, name, [one for one in drawn if one is not None])


def search_figure(found: MixSearch) -> Any:
    """Draw the mixes worth trying: density against conductivity, numbered as listed.

    Returns
    -------
    matplotlib.figure.Figure
    """
    title = "Mixes worth trying"
    figure, axes = _new(title)
    said = []
    units = ("", "")
    for number, one in enumerate(found, start=1):
        density, curve = one.estimate.get("bulk_density"), one.estimate.get("thermal_conductivity")
        if density is None or curve is None or density.magnitudes.typical is None:
            continue
        temperature, spread = list(curve)[-1]
        x, y = density.magnitudes, spread.magnitudes
        if y.typical is None:
            continue
        axes.errorbar(
            x.typical, y.typical, xerr=_spread(x), yerr=_spread(y),
            fmt=_MARKS[(number - 1) % len(_MARKS)], color=_INK, markerfacecolor="white",
            elinewidth=0.8, label=f"{number}. {one}",
        )  # fmt: skip
        axes.annotate(str(number), (x.typical, y.typical), (4, 4), textcoords="offset points")
        units = (show_unit(density.unit), show_unit(curve.unit))
        at = f"{show_number(temperature)} {show_unit(curve.temperature_unit)}"
        said.append(
            f"{number}. {one}: {show_number(x.typical)} {units[0]},"
            f" {show_number(y.typical)} {units[1]} at {at}."
        )
        axes.set_ylabel(f"thermal conductivity at {at}, {units[1]}")
    axes.set_xlabel(f"bulk density, {units[0]}")
    if said:
        _key(figure)
    words = " ".join(said) or f"No mix: {found.reason or 'none met the musts'}."
    return _named(figure, title, words)


def _spread(numbers: Any) -> list[list[float]] | None:
    low, typical, high = numbers
    if low is None or high is None:
        return None
    return [[typical - low], [high - typical]]
