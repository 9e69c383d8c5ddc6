"""What is printed on drying a cast wall by its thickness: practice with its source, no promise.

Nothing here is computed from the physics of drying. A sheet for castables of calcium aluminate
cement prints holds by thickness; it is given for the thickness asked about, statement by statement,
beside what others print and beside the water that has to leave. Bodies burst on printed schedules
too, and the answer says so.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.practice import practice
from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference

__all__ = ["CEMENT", "DryingPractice", "DryingStep", "drying_practice"]

Row = Mapping[str, Any]
CEMENT: Final = "calcium-aluminate-cement"
_HOUR: Final = 3600.0
_HELD_BY: Final = "h/(25.mm)"
_INCH: Final = 0.025
"""The sheet counts its holds by 25 mm."""
_MOST: Final = 0.2286
"""Nine inches: the sheet is for castables up to that."""
_LOW_CEMENT: Final = 0.025
"""Share of CaO up to which a castable counts as low-cement, as the practice held on classes by lime
prints it."""
_ROOM: Final = 293.15
_ZERO: Final = 273.15

PROMISE: Final = (
    "Typical practice, not a guarantee: pieces have burst on printed schedules. Measure in the"
    " wall, hold for as long as steam is seen whatever the sheet says, keep both faces open and"
    " people away."
)


@dataclass(frozen=True, slots=True)
class _Printed:
    """One step of the sheet: the statement it stands in and the temperatures it names, Cel."""

    practice: str
    title: str
    reaches: tuple[float, float] | None


_SHEET: Final = (
    _Printed("drying-and-first-heat-up-4", "Heat slowly to the first hold", (149.0, 204.0)),
    _Printed("drying-and-first-heat-up-5", "First hold", (149.0, 204.0)),
    _Printed("drying-and-first-heat-up-6", "Heat on to the second hold", (540.0, 540.0)),
    _Printed("drying-and-first-heat-up-7", "Second hold", (540.0, 540.0)),
    _Printed("drying-and-first-heat-up-8", "Heat on to service", None),
    _Printed("drying-and-first-heat-up-9", "If not put to use, cool", None),
)
_OTHERS: Final = (
    "drying-and-first-heat-up-1",
    "drying-and-first-heat-up-2",
    "drying-and-first-heat-up-3",
    "drying-and-first-heat-up-10",
)
"""What others print, which is not the same."""


@dataclass(frozen=True, slots=True)
class DryingStep:
    """A step of a printed sheet. Kelvin, kelvin a second, seconds.

    ``ramp_at_most`` is the quickest heating (or cooling) the sheet allows for such a castable,
    conventional and light or low-cement (then its title says so), ``hold`` its hold for the
    thickness asked about, ``takes_at_least`` what the step then takes.
    """

    title: str
    reaches: tuple[float, float] | None
    ramp_at_most: float | None
    hold: float | None
    takes_at_least: float | None
    practice: Row


@dataclass(frozen=True, slots=True)
class DryingPractice:
    """What is printed for a thickness, and the water that has to leave the piece.

    Attributes
    ----------
    thickness : float
        As asked, metres.
    water_unbound, water_bound : Range
        Kilograms in the piece from demoulding on: what drying drives out, and what firing does.
    steps : tuple of DryingStep
        Of the sheet; empty with its ``reason`` where none is held for such a body or thickness.
    takes_at_least : float or None
        Seconds from room temperature to the end of the second hold at the quickest the sheet
        allows.
    others : tuple of rows
        Statements of practice of other sources, which do not agree with the sheet.
    promise : str
        What this is and is not.
    """

    thickness: float
    water_unbound: Range
    water_bound: Range
    steps: tuple[DryingStep, ...]
    takes_at_least: float | None
    others: tuple[Row, ...]
    promise: str
    reason: str | None

    @property
    def citations(self) -> tuple[str, ...]:
        """Give the sources of every statement."""
        rows = [*(step.practice for step in self.steps), *self.others]
        return tuple(sorted({str(row["source"]) for row in rows if row["source"]}))


def drying_practice(
    connection: Connection,
    reference: Reference,
    materials: Collection[str],
    thickness: float,
    water: tuple[Range, Range],
    lime: float | None,
) -> DryingPractice:
    """Give what is printed on drying a wall of a thickness.

    Parameters
    ----------
    connection : Connection
        One statement a revision.
    reference : Reference
    materials : collection of str
        What the body is made of.
    thickness : float
        Of the thickest wall, metres.
    water : (Range, Range)
        Unbound and bound water of the piece, kilograms.
    lime : float or None
        Mass share of CaO that cement brings into the dry mix, None if not known: up to 2.5 % of
        it, or where it is not known, the sheet's slower figures for low-cement castables are given.
    """
    held = practice(connection, reference)
    reason = _why_not(reference, materials, thickness)
    missing = [step.practice for step in _SHEET if step.practice not in held]
    if reason is None and missing:
        reason = "the sheet this rests on is not held at this revision"
    low_cement = lime is None or lime <= _LOW_CEMENT
    steps = () if reason else _steps(held, thickness, low_cement=low_cement)
    to_hold = [step.takes_at_least for step in steps[:4]]
    times = [time for time in to_hold if time is not None]
    return DryingPractice(
        thickness,
        *water,
        steps,
        sum(times) if times else None,
        tuple(held[name] for name in _OTHERS if name in held),
        PROMISE,
        reason,
    )


def _why_not(reference: Reference, materials: Collection[str], thickness: float) -> str | None:
    """Say why the sheet does not speak of a body."""
    if not any(reference.family_of(name) == CEMENT for name in materials):
        return "no drying by thickness is held for bodies without calcium aluminate cement"
    if thickness > _MOST:
        return "the sheet held is for walls up to 228 mm; none is held for thicker ones"
    return None


def _steps(
    held: Mapping[str, Row], thickness: float, *, low_cement: bool
) -> tuple[DryingStep, ...]:
    found = []
    warm = _ROOM
    for printed in _SHEET:
        row = held[printed.practice]
        reaches = None
        if printed.reaches is not None:
            low, high = printed.reaches
            reaches = low + _ZERO, high + _ZERO
        if row["unit"] == _HELD_BY:
            hold = float(row["value_low"]) * _HOUR * thickness / _INCH
            found.append(DryingStep(printed.title, reaches, None, hold, hold, row))
            continue
        title, ramp = printed.title, float(row["value_high"]) / _HOUR
        if low_cement and row["value_low"] is not None:
            title = f"{title}, as for a low-cement castable"
            ramp = float(row["value_low"]) / _HOUR
        takes = None
        if reaches is not None:
            takes = (reaches[0] - warm) / ramp
            warm = reaches[1]
        found.append(DryingStep(title, reaches, ramp, None, takes, row))
    return tuple(found)
