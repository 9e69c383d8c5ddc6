"""Which cautions go with a material, a place and a temperature."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from hotface_api.catalogue.reference import Reference

__all__ = ["matching_cautions"]

Row = Mapping[str, Any]


def _words(text: str | None) -> frozenset[str]:
    return frozenset(part.strip() for part in (text or "").split(";") if part.strip())


def _concerns(caution: Row, materials: Collection[str], reference: Reference) -> bool:
    named, kinds = _words(caution["materials"]), _words(caution["kinds"])
    if not named and not kinds:
        return False  # holds for any material: shown with a mix, not beside every look-up
    if named & set(materials):
        return True
    families = {reference.family_of(material) for material in materials} - {None}
    held = {reference.materials[m]["kind"] for m in materials if m in reference.materials}
    return bool(kinds & held) or bool(named & families)


def matching_cautions(
    reference: Reference, materials: Collection[str], *, temperature: float | None = None,
    general: bool = False,
) -> tuple[Row, ...]:
    """Give the cautions that concern some materials.

    Parameters
    ----------
    reference : Reference
    materials : collection of str
        Material ids.
    temperature : float, optional
        Temperature of use in kelvin; cautions bound to a span of temperature need it inside.
    general : bool
        Whether cautions that hold for any material come too.
    """
    found = []
    for caution in reference.cautions:
        above, below = caution["above"], caution["below"]
        if temperature is not None and (
            (above is not None and temperature < above)
            or (below is not None and temperature > below)
        ):
            continue
        everywhere = not _words(caution["materials"]) and not _words(caution["kinds"])
        if (general and everywhere) or _concerns(caution, materials, reference):
            found.append(caution)
    return tuple(found)
