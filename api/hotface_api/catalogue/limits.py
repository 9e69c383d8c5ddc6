"""What published limits say about one temperature: rows sorted by role, edges by origin.

Use limits are combined by origin, not by row and not by the smallest figure: one text that repeats
itself counts once, and a standard counts more than a sales page. The low edge is the weighted
lower quartile over origins, the high edge the weighted upper quartile; a single origin gives its
own figures. A ceiling ("not above 900") is an origin whose limit lies no higher; a floor ("stood
1000") is one whose limit lies no lower, and pulls nothing down.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from hotface_api.catalogue.evidence import edges, weight
from hotface_api.catalogue.reference import Reference

__all__ = ["MELTING", "Edge", "Limits", "Support", "onset_edges", "sort_limits", "use_edges"]

Row = Mapping[str, Any]
_LOWER_QUARTILE: Final = 0.25
_UPPER_QUARTILE: Final = 0.75
_MEDIAN: Final = 0.5
_PLAIN_AIR: Final = ("air", "oxidising")
MELTING: Final = "melting_temperature"
DECOMPOSITION: Final = "decomposition_temperature"


@dataclass(frozen=True, slots=True)
class Limits:
    """The limit rows that concern one question, by what they are. ``aside`` tells why not."""

    use: tuple[Row, ...]
    onsets: tuple[Row, ...]
    events: tuple[Row, ...]
    aside: tuple[tuple[Row, str], ...]


@dataclass(frozen=True, slots=True)
class Support:
    """The highest temperature (kelvin) that one origin stands for, and whether by a standard."""

    origin: str
    up_to: float
    standard: bool


@dataclass(frozen=True, slots=True)
class Edge:
    """A span of temperatures in kelvin, the row that stands for it, and what it rests on."""

    low: float
    high: float
    row: Row
    origins: int
    supports: tuple[Support, ...] = ()

    def carried_by(self, temperature: float) -> tuple[Support, ...]:
        """Give the origins whose own limit reaches a temperature."""
        return tuple(each for each in self.supports if each.up_to >= temperature)


def _aside(row: Row, *, partner: str | None, load: bool, place: str | None) -> str | None:
    """Say why a row does not speak to the question, or None if it does."""
    if row["property"] == MELTING and row["role"] == "failure_onset":
        return None  # nothing is a part above its melting point, whatever else is asked
    if row["role"] == "test_class":
        return "a class or reheat temperature is a test, not a use limit"
    if row["with"] is not None and row["with"] != partner:
        return f"holds with {row['with']} only"
    if row["atmosphere"] is not None and row["atmosphere"] not in _PLAIN_AIR:
        return f"found in {row['atmosphere']}"
    if row["load"] and not load:
        return "found under load, and no load was asked about"
    return _out_of_place(row, place)


def _out_of_place(row: Row, place: str | None) -> str | None:
    """Say why a row speaks of another place in the lining than the one asked about."""
    if place == "behind" and row["place"] == "face":
        return "holds for a hot face"
    if place == "face" and row["role"] == "use_limit":
        if row["form"] == "heap":
            return "holds for a loose fill, which is no hot face"
        if row["place"] == "behind":
            return "holds behind a hot face only"
    return None


def sort_limits(
    rows: Sequence[Row], *, partner: str | None, load: bool, place: str | None
) -> Limits:
    """Sort the limit rows of a material (and of the pair) by role.

    Where use limits with the very partner asked about are held, they stand in for the general
    ones: a cement's limit with quartz is not softened by its limit with something better. A mere
    floor of the pair ("held 1000 in one test") joins the general ones instead.
    """
    use, onsets, events, aside = [], [], [], []
    for row in rows:
        reason = _aside(row, partner=partner, load=load, place=place)
        if reason is not None:
            aside.append((row, reason))
        elif row["role"] == "use_limit":
            use.append(row)
        elif row["role"] == "failure_onset":
            onsets.append(row)
        else:
            events.append(row)
    cited = [row for row in use if row["basis"] != "memory"]
    if cited and len(cited) < len(use):
        aside += [(row, "from memory; cited limits are held") for row in use if row not in cited]
        use = cited
    paired = [row for row in use if row["with"] is not None]
    if any(row["bound"] == "is" for row in paired):
        aside += [
            (row, "the limit with the partner asked about is held")
            for row in use
            if row["with"] is None
        ]
        use = paired
    return Limits(tuple(use), tuple(onsets), tuple(events), tuple(aside))


def _quantile(points: list[tuple[float, float, Row]], share: float) -> tuple[float, Row]:
    """Give the weighted quantile of (value, weight, row), taken at a held point."""
    points = sorted(points, key=lambda point: (point[0], point[2]["id"]))
    total = sum(weight_ for _, weight_, _ in points)
    run = 0.0
    for value, weight_, row in points:
        run += weight_
        if run >= share * total - 1e-12:
            return value, row
    return points[-1][0], points[-1][2]


def _span(row: Row) -> tuple[float, float]:
    """Read a use limit as the span it lies in: floors have no top, ceilings no bottom."""
    low, high = edges(row)
    if row["bound"] == "at_least":
        return low, math.inf
    if row["bound"] == "at_most":
        return -math.inf, high
    return low, high


def _by_origin(rows: Sequence[Row]) -> dict[str, list[Row]]:
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["origin"] or "memory", []).append(row)
    return grouped


def use_edges(rows: Sequence[Row], reference: Reference) -> Edge | None:
    """Combine use limits into a low and a high edge.

    Parameters
    ----------
    rows : sequence of rows
        Use-limit rows that match the question.
    reference : Reference

    Returns
    -------
    Edge or None
        ``low`` is ``-inf`` where only ceilings are held, ``high`` is ``inf`` where only floors are.

    Notes
    -----
    A floor ("stands at least 454") does not pull down the limits others state; it serves only where
    nothing but floors is held. A ceiling does pull them down: its origin allows no more.
    """
    if not rows:
        return None
    stated = any(row["bound"] == "is" for row in rows)
    lows: list[tuple[float, float, Row]] = []
    highs: list[tuple[float, float, Row]] = []
    for group in _by_origin(rows).values():
        best = max(weight(row, reference) for row in group)
        bottoms = [(low, row) for row in group if (low := _bottom(row, stated=stated)) is not None]
        tops = [(high, row) for row in group if (high := _span(row)[1]) < math.inf]
        if bottoms:
            lows.append(_pick(bottoms, best, first=True))
        if tops:
            highs.append(_pick(tops, best, first=False))
    low, low_row = _quantile(lows, _LOWER_QUARTILE) if lows else (-math.inf, rows[0])
    high, high_row = _quantile(highs, _UPPER_QUARTILE) if highs else (math.inf, low_row)
    supports = tuple(
        support
        for origin, group in sorted(_by_origin(rows).items())
        if (support := _support(origin, group, reference)) is not None
    )
    row = low_row if lows else high_row
    return Edge(low, max(low, high), row, len(_by_origin(rows)), supports)


def _bottom(row: Row, *, stated: bool) -> float | None:
    """Give the lowest figure a row sets for the low edge, or None if it sets none."""
    low, high = _span(row)
    if row["bound"] == "at_most":
        return high if stated else None
    if row["bound"] == "at_least" and stated:
        return None
    return low


def _support(origin: str, group: Sequence[Row], reference: Reference) -> Support | None:
    """Tell how far up an origin's own figures carry; a ceiling carries nothing."""
    carrying = [row for row in group if _span(row)[0] > -math.inf]
    if not carrying:
        return None
    up_to = min(_span(row)[0] for row in carrying)
    ceilings = [_span(row)[1] for row in group if row["bound"] == "at_most"]
    standard = any(
        reference.source_types.get(row["source"]) == "standard" and row["basis"] != "memory"
        for row in carrying
    )
    return Support(origin, min([up_to, *ceilings]), standard)


def _pick(points: list[tuple[float, Row]], best: float, *, first: bool) -> tuple[float, float, Row]:
    """Pick an origin's lowest or highest figure; of equal ones the row that comes first."""
    sign = 1.0 if first else -1.0
    chosen = min(points, key=lambda point: (sign * point[0], point[1]["id"]))
    return chosen[0], best, chosen[1]


def onset_edges(rows: Sequence[Row], reference: Reference) -> list[Edge]:
    """Combine failure onsets, one edge a property, form and partner.

    The low end is where the first origin sees trouble begin; the high end is where the weighted
    median of origins says it is done, or, for a harmful decomposition, that it has begun: what has
    begun to turn into something else goes on doing so for as long as it is hot. A ceiling ("not
    advised at 700") is an onset at that figure; a floor ("melts above 1300") has no high end: past
    it failure is possible, not proven.
    """
    grouped: dict[tuple[str, str, str | None], list[Row]] = {}
    for row in rows:
        grouped.setdefault((row["property"], row["form"], row["with"]), []).append(row)
    found = [_onset_edge(group, reference) for group in grouped.values()]
    return sorted(found, key=lambda edge: (edge.high, edge.low, edge.row["id"]))


def _onset_edge(group: Sequence[Row], reference: Reference) -> Edge:
    cited = [row for row in group if row["basis"] != "memory"] or group
    lows = [(edges(row)[0], row) for row in cited]
    low, low_row = min(lows, key=lambda point: (point[0], point[1]["id"]))
    highs = []
    end = 0 if cited[0]["property"] == DECOMPOSITION else 1
    for members in _by_origin(cited).values():
        tops = [(edges(row)[end], row) for row in members if row["bound"] != "at_least"]
        if tops:
            best = max(weight(row, reference) for row in members)
            highs.append(_pick(tops, best, first=end == 0))
    high = _quantile(highs, _MEDIAN)[0] if highs else math.inf
    return Edge(low, max(low, high), low_row, len(_by_origin(cited)))
