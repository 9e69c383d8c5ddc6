"""Single look-ups in the reference tables: liquids of given oxides, cones, classes.

Each answers one question at a time, by one statement at most. What is known from memory is marked
``unverified`` and cites nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.melt import FirstMelt, first_melt, is_liquid, most_liquid
from hotface_api.catalogue.reference import Reference
from hotface_api.store import read
from hotface_api.store.models import ClassLimit, Cone

__all__ = [
    "ClassFound",
    "ConeMatch",
    "ConeReading",
    "Liquid",
    "Melting",
    "classes",
    "cone_at",
    "cone_temperature",
    "melting_of",
]

Row = Mapping[str, Any]
_SAME_RATE: Final = 1e-3
"""Heating rates this near to each other, as a share, are the same."""
_HOUR: Final = 3600.0


@dataclass(frozen=True, slots=True)
class Liquid:
    """A point at which some of the oxides form a liquid; ``most_liquid`` bounds its mass share."""

    phase: Row
    most_liquid: float | None
    unverified: bool


@dataclass(frozen=True, slots=True)
class Melting:
    """What is published on the melting of given oxides.

    ``first`` is the lowest liquid that is cited; ``reacts`` lists all points of these oxides from
    the lowest up, those from memory marked.
    """

    oxides: tuple[str, ...]
    first: FirstMelt | None
    reacts: tuple[Liquid, ...]


def melting_of(reference: Reference, oxides: Mapping[str, float | None]) -> Melting:
    """Look up what the given oxides do when they meet.

    Parameters
    ----------
    reference : Reference
    oxides : mapping
        Oxides that meet (``CaO``, ``Al2O3``, ``FeO``), each with its mass fraction or None.
    """
    present = set(oxides)
    fitting = [
        phase
        for phase in reference.phases
        if is_liquid(phase) and set(phase["oxides"].split("-")) <= present
    ]
    fitting.sort(key=lambda phase: (phase["temperature"], phase["id"]))
    reacts = tuple(
        Liquid(phase, most_liquid(phase, oxides), phase["basis"] == "memory") for phase in fitting
    )
    first = first_melt(reference.phases, present, oxides)
    return Melting(tuple(sorted(present)), first, reacts)


@dataclass(frozen=True, slots=True)
class ConeReading:
    """The end point of a cone by one source at one heating rate.

    Temperatures in kelvin, rates in kelvin per second. ``rows`` are the one row it is read from, or
    the two it lies between; ``temperature`` is None where the source does not reach the rate.
    """

    series: str
    cone: str
    heating_rate: float | None
    temperature: float | None
    interpolated: bool
    unverified: bool
    reason: str | None
    source: str | None
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class ConeMatch:
    """The two cones of one source and rate that a temperature lies between; an end is None."""

    series: str
    heating_rate: float | None
    source: str | None
    unverified: bool
    below: ConeReading | None
    above: ConeReading | None


def _cones(connection: Connection, reference: Reference) -> list[Row]:
    return list(read.held(connection, Cone, reference.revision))


def cone_temperature(
    connection: Connection,
    reference: Reference,
    cone: str,
    *,
    series: str | None = None,
    heating_rate: float | None = None,
) -> list[ConeReading]:
    """Look up at what temperature a cone falls, by series, source and heating rate.

    Parameters
    ----------
    connection : Connection
    reference : Reference
    cone : str
        The cone's number as its series writes it: ``6``, ``05.5``, ``5a``.
    series : str, optional
        Only this series; numbers of different series are different scales.
    heating_rate : float, optional
        Kelvin per second. Between two rates of a source the temperature is interpolated in the
        logarithm of the rate, and the reading says so; outside them there is none.

    Returns
    -------
    list of ConeReading
        Charts of different sources stay apart. Empty where no such cone is held.
    """
    rows = [
        row
        for row in _cones(connection, reference)
        if row["cone"].casefold() == cone.strip().casefold() and series in (None, row["series"])
    ]
    found: list[ConeReading] = []
    for _, group in _charts(rows):
        found += _readings(group, heating_rate)
    return found


def cone_at(
    connection: Connection,
    reference: Reference,
    temperature: float,
    *,
    series: str | None = None,
    heating_rate: float | None = None,
) -> list[ConeMatch]:
    """Look up which cones a firing to a temperature (kelvin) lies between.

    The other arguments are those of `cone_temperature`. A cone measures heat work: a firing that
    stopped at this temperature has the lower cone down and not the upper, at this rate only.
    """
    rows = [row for row in _cones(connection, reference) if series in (None, row["series"])]
    found: list[ConeMatch] = []
    for key, chart in _charts(rows):
        readings: dict[float | None, list[ConeReading]] = {}
        for cone in sorted({row["cone"] for row in chart}):
            for reading in _readings([r for r in chart if r["cone"] == cone], heating_rate):
                if reading.temperature is not None:
                    readings.setdefault(reading.heating_rate, []).append(reading)
        found += [
            _match(key, rate, readings[rate], temperature)
            for rate in sorted(readings, key=lambda rate: rate or 0.0)
        ]
    return found


def _match(
    chart: tuple[str, str | None],
    rate: float | None,
    readings: Sequence[ConeReading],
    temperature: float,
) -> ConeMatch:
    ordered = sorted(readings, key=lambda each: (each.temperature or 0.0, each.cone))
    below = [each for each in ordered if (each.temperature or 0.0) <= temperature]
    above = [each for each in ordered if (each.temperature or 0.0) > temperature]
    near = [*below[-1:], *above[:1]]
    return ConeMatch(
        chart[0],
        rate,
        chart[1],
        any(each.unverified for each in near),
        below[-1] if below else None,
        above[0] if above else None,
    )


def _charts(rows: Iterable[Row]) -> list[tuple[tuple[str, str | None], list[Row]]]:
    """Group rows by series and source: one chart each."""
    grouped: dict[tuple[str, str | None], list[Row]] = {}
    for row in rows:
        grouped.setdefault((row["series"], row["source"]), []).append(row)
    ordered = sorted(grouped, key=lambda key: (key[0], key[1] is None, key[1] or ""))
    return [(key, grouped[key]) for key in ordered]


def _readings(rows: Sequence[Row], rate: float | None) -> list[ConeReading]:
    """Read one cone of one chart: at each rate held, or at the rate asked for."""
    dated = sorted(
        (row for row in rows if row["heating_rate"] is not None),
        key=lambda row: (row["heating_rate"], row["id"]),
    )
    bare = [_reading([row], row["heating_rate"], None) for row in rows if row not in dated]
    if rate is None or not dated:
        return [*bare, *(_reading([row], row["heating_rate"], None) for row in dated)]
    same = [row for row in dated if math.isclose(row["heating_rate"], rate, rel_tol=_SAME_RATE)]
    if same:
        return [_reading([row], row["heating_rate"], None) for row in same]
    lower = [row for row in dated if row["heating_rate"] < rate][-1:]
    upper = [row for row in dated if row["heating_rate"] > rate][:1]
    if lower and upper:
        return [_reading([*lower, *upper], rate, None)]
    held = ", ".join(f"{row['heating_rate'] * _HOUR:.0f}" for row in dated)
    return [_reading(dated[:1], rate, f"held at {held} K/h only")]


def _reading(rows: Sequence[Row], rate: float | None, reason: str | None) -> ConeReading:
    first, last = rows[0], rows[-1]
    temperature = None if reason else float(first["temperature"])
    between = len(rows) > 1 and rate is not None
    if between and rate is not None:
        share = math.log(rate / first["heating_rate"])
        share /= math.log(last["heating_rate"] / first["heating_rate"])
        temperature = first["temperature"] + share * (last["temperature"] - first["temperature"])
        reason = "interpolated in the logarithm of the heating rate"
    elif rate is None and reason is None:
        reason = "the source states no heating rate"
    return ConeReading(
        first["series"],
        first["cone"],
        rate,
        temperature,
        between,
        any(row["basis"] == "memory" for row in rows),
        reason,
        first["source"],
        tuple(rows),
    )


@dataclass(frozen=True, slots=True)
class ClassFound:
    """One class of one edition of a standard, with its limits as rows."""

    standard: str
    edition: str | None
    name: str
    limits: tuple[Row, ...]
    unverified: bool


def classes(
    connection: Connection,
    reference: Reference,
    *,
    standard: str | None = None,
    edition: str | None = None,
    name: str | None = None,
) -> list[ClassFound]:
    """Look up classes by standard, edition and name, in either case; editions stay apart."""
    wanted = {"standard": standard, "edition": edition, "class": name}
    grouped: dict[tuple[str, str, str], list[Row]] = {}
    for row in read.held(connection, ClassLimit, reference.revision):
        if all(_is_alike(row[column], word) for column, word in wanted.items()):
            key = (row["standard"], row["edition"] or "", row["class"])
            grouped.setdefault(key, []).append(row)
    return [
        ClassFound(
            key[0],
            key[1] or None,
            key[2],
            tuple(rows),
            all(row["basis"] == "memory" for row in rows),
        )
        for key, rows in sorted(grouped.items())
    ]


def _is_alike(held: str | None, asked: str | None) -> bool:
    return asked is None or (held or "").casefold() == asked.strip().casefold()
