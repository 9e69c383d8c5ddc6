"""Which cautions go with a material, a mix, a place and a temperature."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from hotface_api.catalogue.reference import Reference

__all__ = [
    "TRIGGERS",
    "CautionIndex",
    "MatchedCaution",
    "is_met",
    "matched_cautions",
    "matching_cautions",
]

Row = Mapping[str, Any]
TRIGGERS: Final = (
    "storage",
    "weighing-and-mixing",
    "casting",
    "curing",
    "lifting",
    "drying",
    "first-fire",
    "design",
    "siting",
    "firing",
    "cutting",
    "demolition",
)
"""The steps of the work, in the order they are met; cautions of a mix are told in this order."""
_CAST: Final = "body"


@dataclass(frozen=True, slots=True)
class MatchedCaution:
    """A caution and what calls for it: material ids, ``body`` for any cast part, or nothing."""

    caution: Row
    because: tuple[str, ...]


@lru_cache(maxsize=1024)
def _words(text: str | None) -> frozenset[str]:
    """Split a stored list; the same few are asked about with every answer."""
    return frozenset(part.strip() for part in (text or "").split(";") if part.strip())


def _names(material: str, reference: Reference) -> set[str]:
    """Give what a caution may call a material by: itself, its family, the solid it consists of."""
    row = reference.materials.get(material)
    return {material} if row is None else {material, row["family"], row["solid"]} - {None}


def _because(
    caution: Row, called: Mapping[str, Collection[str]], reference: Reference, *, general: bool
) -> tuple[str, ...] | None:
    """Name what calls for a caution, or give None if nothing does.

    ``called`` holds for each material what a caution may call it by.
    """
    named, kinds = _words(caution["materials"]), _words(caution["kinds"])
    if not named and not kinds:
        return () if general else None  # holds for any material: not beside every look-up
    found = [
        material
        for material, names in called.items()
        if not named.isdisjoint(names)
        or (material in reference.materials and reference.materials[material]["kind"] in kinds)
    ]
    if general and _CAST in kinds:
        found.append(_CAST)
    return tuple(found) or None


def is_met(caution: Row, temperature: float | None) -> bool:
    """Tell whether a caution bound to a span of temperature is met at one."""
    if temperature is None:
        return True
    above, below = caution["above"], caution["below"]
    return (above is None or temperature >= above) and (below is None or temperature <= below)


def matched_cautions(
    reference: Reference,
    materials: Collection[str],
    *,
    temperature: float | None = None,
    general: bool = False,
    triggers: Collection[str] | None = None,
) -> tuple[MatchedCaution, ...]:
    """Give the cautions that concern some materials, and what calls for each.

    Parameters
    ----------
    reference : Reference
    materials : collection of str
        Material ids.
    temperature : float, optional
        Temperature of use in kelvin; cautions bound to a span of temperature need it inside.
    general : bool
        Whether the materials are a mix for a cast part: cautions that hold for any material and
        those for cast bodies then come too, in the order of the work.
    triggers : collection of str, optional
        Only these steps of the work.
    """
    found = []
    called = {material: _names(material, reference) for material in sorted(set(materials))}
    for caution in reference.cautions:
        if triggers is not None and caution["trigger"] not in triggers:
            continue
        because = _because(caution, called, reference, general=general)
        if because is not None and is_met(caution, temperature):
            found.append(MatchedCaution(caution, because))
    if general:
        found.sort(key=lambda each: (_order(each.caution["trigger"]), each.caution["id"]))
    return tuple(found)


def _order(trigger: str) -> int:
    return TRIGGERS.index(trigger) if trigger in TRIGGERS else len(TRIGGERS)


class CautionIndex:
    """The cautions of a revision by the words that call for them, for many look-ups at once."""

    def __init__(self, reference: Reference) -> None:
        self._reference = reference
        self._by_name: dict[str, list[int]] = {}
        self._by_kind: dict[str, list[int]] = {}
        for place, caution in enumerate(reference.cautions):
            for name in _words(caution["materials"]):
                self._by_name.setdefault(name, []).append(place)
            for kind in _words(caution["kinds"]):
                self._by_kind.setdefault(kind, []).append(place)

    def of(self, materials: Collection[str]) -> tuple[Row, ...]:
        """Give what ``matching_cautions`` gives for the same materials at any temperature."""
        found: set[int] = set()
        for material in materials:
            for name in _names(material, self._reference):
                found.update(self._by_name.get(name, ()))
            row = self._reference.materials.get(material)
            if row is not None:
                found.update(self._by_kind.get(row["kind"], ()))
        return tuple(self._reference.cautions[place] for place in sorted(found))


def matching_cautions(
    reference: Reference,
    materials: Collection[str],
    *,
    temperature: float | None = None,
    general: bool = False,
) -> tuple[Row, ...]:
    """Give the cautions that concern some materials; see `matched_cautions`."""
    found = matched_cautions(reference, materials, temperature=temperature, general=general)
    return tuple(each.caution for each in found)
