"""The published class of castable a mix comes closest to: a likeness, never a certificate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from hotface.units import UNITS, to_si
from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.lookups import ClassFound, classes
from hotface_api.catalogue.ranges import Range
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.service import ServiceLimit

__all__ = ["ClosestClass", "closest_class"]

STANDARD: Final = "ASTM C401"
WORDS: Final = (
    "density and shrinkage temperature like {}; not tested, not certified, not a use temperature"
)


@dataclass(frozen=True, slots=True)
class ClosestClass:
    """A class by name, its limits in SI, and the words that have to go with it."""

    standard: str
    name: str
    edition: str | None
    density_at_most: float
    shrinkage_temperature: float
    text: str
    unverified: bool
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Limits:
    """One class with both of the limits a mix can be held against."""

    found: ClassFound
    density: float
    temperature: float


def _limit(found: ClassFound, words: str) -> float | None:
    """Give one upper limit of a class in SI by the words of its quantity."""
    for row in found.limits:
        if words in row["quantity"] and row["limit_high"] is not None:
            return to_si(row["limit_high"], UNITS[row["unit"]])
    return None


def _read(connection: Connection, reference: Reference) -> tuple[_Limits, ...]:
    key = (reference.database_id, reference.revision)
    kept = _CLASSES.get(key)
    if kept is not None:
        return kept
    found = []
    for each in classes(connection, reference, standard=STANDARD):
        density, temperature = _limit(each, "density"), _limit(each, "temperature")
        if density is not None and temperature is not None:
            found.append(_Limits(each, density, temperature))
    return _CLASSES.put(key, tuple(found))


_CLASSES: Kept[tuple[_Limits, ...]] = Kept(16)


def forget() -> None:
    """Forget the classes kept."""
    _CLASSES.clear()


def closest_class(
    connection: Connection,
    reference: Reference,
    gathered: Gathered,
    dried: Range,
    limit: ServiceLimit,
) -> tuple[ClosestClass | None, str | None]:
    """Find the hottest class whose density a dried mix meets and whose temperature it may reach.

    Returns
    -------
    (ClosestClass or None, str or None)
        The class, or the reason why there is none.

    Notes
    -----
    A class temperature is that of a shrinkage test, which lies above use: it is held against the
    high edge of the service limit.
    """
    if not any(part.binder == "hydraulic" for part in gathered.parts if part.kind == "binder"):
        return None, "the classes of castables are for mixes that set with cement"
    top = limit.high if limit.high is not None else limit.low
    if top is None:
        return None, "no service limit is known to hold against the classes"
    if dried.typical is None:  # pragma: no cover - an interval has a middle
        return None, "no density"
    fitting = _fitting(_read(connection, reference), dried.typical, top)
    if not fitting:
        return None, (
            "no class is met: too heavy for the insulating ones, or its limit is below the lowest"
        )
    best = max(fitting, key=lambda each: (each.temperature, -each.density, each.found.name))
    name = f"{best.found.standard} class {best.found.name}"
    sources = {row["source"] for row in best.found.limits if row["source"]}
    return ClosestClass(
        best.found.standard,
        best.found.name,
        best.found.edition,
        best.density,
        best.temperature,
        WORDS.format(name),
        best.found.unverified,
        tuple(sorted(sources)),
    ), None


def _fitting(held: Sequence[_Limits], density: float, top: float) -> list[_Limits]:
    return [each for each in held if density <= each.density and each.temperature <= top]
