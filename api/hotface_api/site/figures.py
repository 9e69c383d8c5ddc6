"""Figures, drawn on the server by matplotlib and made to fit the page.

The plotting library is imported when the first figure is asked for. A figure is drawn under a lock
with settings that hold for that moment only: neither pyplot nor its settings of a caller's own
session are touched. Colours are stand-ins here; ``svg`` turns them into classes, so that the style
sheet decides and dark pages work. Nothing rests on colour alone: series differ by the shape of
their marks, the band is hatched, bounds are dashed.
"""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from hotface_api.site import svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MARKS", "Band", "Chart", "Dot", "Figures", "Series", "draw"]

MARKS: Final = (
    ("o", "●"),
    ("s", "■"),
    ("^", "▲"),
    ("D", "◆"),
    ("v", "▼"),
    ("p", "⬟"),
    ("*", "★"),
    ("P", "✚"),
    ("X", "✖"),
    ("<", "◀"),
    (">", "▶"),
    ("h", "⬢"),
)
"""The shapes of marks in turn: what matplotlib calls each, and the sign that shows it in text."""

_WIDTH: Final = 5.0
_HEIGHT: Final = 3.6
_INK, _SOFT, _BAND, _PAPER = svg.INK, svg.SOFT, svg.BAND, svg.PAPER
_LOG_FROM: Final = 25.0
_SIZE: Final = 24.0
_DRAWING: Final = threading.Lock()
_SETTINGS: Final = {
    "svg.fonttype": "none",
    "svg.hashsalt": "hotface",
    "font.size": 10.5,
    "font.family": "sans-serif",
    "hatch.linewidth": 0.4,
    "axes.unicode_minus": True,
    "path.simplify": False,
}
_KEPT: Final = 512
_BESIDE: Final = ((-13.0, 5.0), (5.0, -14.0))
"""Where labels stand in turn, in points: neighbours keep out of each other's way."""
_DASHED: Final = (5, 3)
_DOTTED: Final = (1, 2)


@dataclass(frozen=True, slots=True)
class Dot:
    """One point that leads to what it shows; ``low`` and ``high`` where a range is stated.

    ``left`` and ``right`` are the same across; ``label`` is written beside the point.
    """

    x: float
    y: float
    low: float
    high: float
    address: str
    title: str
    left: float | None = None
    right: float | None = None
    label: str = ""


@dataclass(frozen=True, slots=True)
class Series:
    """Points that belong together, told apart by the shape of their mark."""

    label: str
    dots: tuple[Dot, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A curve with its interval, and with bounds beyond it where such exist.

    ``lower_bound`` and ``upper_bound`` hold for every even mixture and are dashed; ``series_bound``
    and ``parallel_bound`` hold for any arrangement at all and are dotted.
    """

    x: Sequence[float]
    low: Sequence[float]
    typical: Sequence[float]
    high: Sequence[float]
    lower_bound: Sequence[float] = ()
    upper_bound: Sequence[float] = ()
    series_bound: Sequence[float] = ()
    parallel_bound: Sequence[float] = ()

    def bounds(self) -> tuple[tuple[Sequence[float], tuple[int, int]], ...]:
        """Give each bound with the strokes and gaps it is drawn with."""
        return (
            (self.lower_bound, _DASHED),
            (self.upper_bound, _DASHED),
            (self.series_bound, _DOTTED),
            (self.parallel_bound, _DOTTED),
        )


@dataclass(frozen=True, slots=True)
class Chart:
    """What a figure shows, in the units it is shown in."""

    title: str
    description: str
    across: str
    up: str
    series: tuple[Series, ...] = ()
    band: Band | None = None


def _all_heights(chart: Chart) -> list[float]:
    heights = [end for each in chart.series for dot in each.dots for end in (dot.low, dot.high)]
    if chart.band is not None:
        heights += [*chart.band.low, *chart.band.high]
        heights += [height for bound, _ in chart.band.bounds() for height in bound]
    return heights


def _draw_band(axes: Axes, band: Band) -> None:
    axes.fill_between(
        band.x,
        band.low,
        band.high,
        facecolor=_BAND,
        edgecolor=_SOFT,
        hatch="////",
        linewidth=0.6,
        alpha=None,
        zorder=1,
    )
    axes.plot(band.x, band.typical, color=_INK, linewidth=1.4, zorder=3)
    for bound, strokes in band.bounds():
        if bound:
            axes.plot(band.x, bound, color=_SOFT, linewidth=1.0, linestyle=(0, strokes), zorder=2)


def _draw_series(axes: Axes, series: Series, mark: str) -> None:
    for index, dot in enumerate(series.dots):
        if dot.high > dot.low:
            axes.plot([dot.x, dot.x], [dot.low, dot.high], color=_SOFT, linewidth=0.9, zorder=4)
        if dot.left is not None and dot.right is not None and dot.right > dot.left:
            axes.plot([dot.left, dot.right], [dot.y, dot.y], color=_SOFT, linewidth=0.9, zorder=4)
        if dot.label:
            axes.annotate(
                dot.label,
                (dot.x, dot.y),
                xytext=_BESIDE[index % 2],
                textcoords="offset points",
                color=_INK,
                zorder=6,
            )
    drawn = axes.scatter(
        [dot.x for dot in series.dots],
        [dot.y for dot in series.dots],
        marker=mark,
        s=_SIZE,
        facecolor=_PAPER,
        edgecolor=_INK,
        linewidth=1.0,
        zorder=5,
    )
    drawn.set_urls([dot.address for dot in series.dots])


def _dress(axes: Axes, chart: Chart) -> None:
    from matplotlib.ticker import LogLocator, NullLocator  # noqa: PLC0415

    axes.set_xlabel(chart.across, color=_INK)
    axes.set_ylabel(chart.up, color=_INK)
    heights = [height for height in _all_heights(chart) if height > 0]
    if heights and max(heights) > _LOG_FROM * min(heights):
        axes.set_yscale("log")
        axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axes.yaxis.set_major_formatter("{x:g}")
        axes.yaxis.set_minor_locator(NullLocator())
    elif heights and min(_all_heights(chart)) >= 0:
        axes.set_ylim(bottom=0.0)
    axes.tick_params(colors=_INK, length=3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(_SOFT)
    axes.grid(visible=True, color=_SOFT, linewidth=0.3, linestyle=(0, (1, 3)))
    axes.set_axisbelow(True)
    axes.margins(x=0.04, y=0.08)


def draw(chart: Chart, key: str) -> str:
    """Draw a chart as SVG to stand in a page; ``key`` keeps its ids apart from other figures'."""
    import matplotlib as mpl  # noqa: PLC0415 - heavy; no page without a figure pays for it
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    out = io.StringIO()
    with _DRAWING, mpl.rc_context(_SETTINGS):  # type: ignore[arg-type]
        figure = Figure(figsize=(_WIDTH, _HEIGHT), layout="constrained")
        FigureCanvasSVG(figure)
        figure.patch.set_visible(False)
        axes: Any = figure.add_subplot()
        axes.patch.set_visible(False)
        if chart.band is not None:
            _draw_band(axes, chart.band)
        for index, series in enumerate(chart.series):
            _draw_series(axes, series, MARKS[index % len(MARKS)][0])
        _dress(axes, chart)
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    titles = {dot.address: dot.title for each in chart.series for dot in each.dots}
    return svg.for_page(out.getvalue(), key, chart.title, chart.description, titles)


class Figures:
    """The figures drawn last, by what they show; safe between threads."""

    def __init__(self, size: int = _KEPT) -> None:
        self._size = size
        self._kept: OrderedDict[Hashable, str] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], str]) -> str:
        """Give a kept figure, or make it."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
                return found
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)
        return made
