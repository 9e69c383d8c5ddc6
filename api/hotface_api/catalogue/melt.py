"""The lowest published liquid among oxides that meet: a caution, never a limit by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from hotface_api.catalogue.evidence import edges

__all__ = ["FirstMelt", "first_melt", "oxides_present"]

Row = Mapping[str, Any]
MAJOR: Final = 0.02
"""Mass fraction from which an oxide counts as present; our judgement."""
_LIQUID: Final = ("eutectic", "peritectic", "first-liquid", "solidus", "monotectic")


@dataclass(frozen=True, slots=True)
class FirstMelt:
    """The invariant point with the lowest liquid; ``temperature`` in kelvin."""

    temperature: float
    oxides: tuple[str, ...]
    phases: str
    phase: str
    source: str | None


def oxides_present(rows: Sequence[Row], material: str) -> frozenset[str]:
    """Name the oxides of a material whose published share reaches ``MAJOR``."""
    found = set()
    for row in rows:
        if row["material"] == material and row["property"].startswith("oxide_"):
            low, high = edges(row)
            share = high if row["bound"] == "at_most" else (low + high) / 2
            if share >= MAJOR and row["bound"] != "at_most":
                found.add(row["property"].removeprefix("oxide_"))
    return frozenset(found)


def first_melt(phases: Sequence[Row], present: frozenset[str]) -> FirstMelt | None:
    """Give the lowest published liquid of the oxides present.

    Points known from memory only are not used. A single oxide does not melt early by meeting
    itself, so systems of two or more oxides are looked at.
    """
    best: FirstMelt | None = None
    for phase in phases:
        system = tuple(phase["oxides"].split("-"))
        usable = phase["kind"] in _LIQUID and phase["basis"] != "memory" and len(system) > 1
        if not usable or not present.issuperset(system):
            continue
        if best is None or phase["temperature"] < best.temperature:
            best = FirstMelt(
                phase["temperature"], system, phase["phases"], phase["id"], phase["source"]
            )
    return best
