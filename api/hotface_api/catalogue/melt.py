"""The lowest published liquid among oxides that meet: a caution, never a limit by itself."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from hotface_api.catalogue.evidence import edges

__all__ = ["FirstMelt", "first_melt", "is_liquid", "most_liquid", "oxides_present"]

Row = Mapping[str, Any]
MAJOR: Final = 0.02
"""Mass fraction from which an oxide counts as present; our judgement."""
_MEETING: Final = 2
_NUMBER: Final = re.compile(r"\d+(\.\d+)?")
_LIQUID: Final = ("eutectic", "peritectic", "first-liquid", "solidus", "monotectic")


@dataclass(frozen=True, slots=True)
class FirstMelt:
    """The invariant point with the lowest liquid; ``temperature`` in kelvin."""

    temperature: float
    oxides: tuple[str, ...]
    phases: str
    phase: str
    source: str | None
    most_liquid: float | None = None
    """Largest share of the mass that can melt there, where shares of all the oxides are known."""


def oxides_present(rows: Sequence[Row], material: str) -> frozenset[str]:
    """Name the oxides of a material whose published share reaches ``MAJOR``.

    A ceiling ("iron oxide not above 3 %") does not say that the oxide is there, and figures from
    memory raise no alarm.
    """
    found = set()
    for row in rows:
        if row["material"] != material or not row["property"].startswith("oxide_"):
            continue
        if row["bound"] == "at_most" or row["basis"] == "memory":
            continue
        low, high = edges(row)
        if (low + high) / 2 >= MAJOR:
            found.add(row["property"].removeprefix("oxide_"))
    return frozenset(found)


def is_liquid(phase: Row) -> bool:
    """Tell whether a point is one at which several oxides first form a liquid by meeting."""
    return phase["kind"] in _LIQUID and "-" in phase["oxides"]


def most_liquid(phase: Row, shares: Mapping[str, float | None]) -> float | None:
    """Bound the share of the mass that can be liquid of a point's composition.

    The liquid takes its oxides in the proportions printed; the scarcest runs out first. None where
    no composition is printed, or a share is not known.
    """
    parts = _composition(phase["composition"])
    known = {oxide: shares.get(oxide) for oxide in parts}
    if not parts or any(share is None for share in known.values()):
        return None
    return min(1.0, *((known[oxide] or 0.0) / part for oxide, part in parts.items()))


def _composition(text: str | None) -> dict[str, float]:
    """Read "CaO 23.2; Al2O3 14.8; SiO2 62.0" as mass fractions."""
    found = {}
    for part in (text or "").split(";"):
        words = part.split()
        if len(words) == 2 and _NUMBER.fullmatch(words[1]):  # noqa: PLR2004 - oxide and percent
            found[words[0]] = float(words[1]) / 100.0
    return found


def first_melt(
    phases: Sequence[Row],
    present: Collection[str],
    shares: Mapping[str, float | None] | None = None,
) -> FirstMelt | None:
    """Give the lowest published liquid of the oxides present.

    Parameters
    ----------
    phases : sequence of rows
        The points held.
    present : collection of str
        The oxides that meet.
    shares : mapping, optional
        Their mass fractions, where known; then the answer bounds how much can melt.

    Notes
    -----
    Points known from memory only are not used. A single oxide does not melt early by meeting
    itself, so systems of two or more oxides are looked at.
    """
    if len(present) < _MEETING:
        return None
    fitting = [
        phase
        for phase in phases
        if is_liquid(phase)
        and phase["basis"] != "memory"
        and set(phase["oxides"].split("-")) <= set(present)
    ]
    if not fitting:
        return None
    best = min(fitting, key=lambda phase: (phase["temperature"], phase["id"]))
    return FirstMelt(
        best["temperature"],
        tuple(best["oxides"].split("-")),
        best["phases"],
        best["id"],
        best["source"],
        most_liquid(best, shares or {}),
    )
