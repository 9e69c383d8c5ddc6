"""What a contributor is told of a figure, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from hotface.units import UNITS, Unit
from hotface_api.catalogue.ranges import scale_of
from hotface_api.ledger.slips import shown

if TYPE_CHECKING:
    from hotface_api.ledger.compare import Told

__all__ = ["all_words", "further_words", "words_in"]

Row = Mapping[str, Any]
_LIKE: Final = 2.0
_UNLIKE: Final = 3.0


def all_words(told: Told, property_row: Row) -> tuple[str, ...]:
    """Say where a figure lies, in the property's SI unit, and everything further."""
    first = _position_words(told, property_row, UNITS[property_row["unit"]])
    return (first, *further_words(told))


def words_in(told: Told, property_row: Row, unit: Unit) -> tuple[str, ...]:
    """Give the sentences with the numbers of the interval in another unit of the property."""
    if told.position == "not compared":
        return told.words
    return (_position_words(told, property_row, unit), *told.words[1:])


def _position_words(told: Told, property_row: Row, unit: Unit) -> str:
    difference = property_row["temperature_kind"] == "difference"
    low, high = (
        shown(float(end or 0.0), unit, difference=difference) for end in (told.low, told.high)
    )
    share = f"{100 * (told.coverage or 0):.0f} %"
    held = f"the interval held, {low} to {high} (where {share} of further origins are expected)"
    if told.position == "inside":
        return f"Inside {held}."
    if scale_of(property_row).logarithmic:
        return f"Outside {held}, {told.beyond:.3g} times past its nearer end."
    step = from_difference(float(told.beyond or 0.0), property_row, unit)
    return f"Outside {held}, {step} past its nearer end."


def from_difference(distance: float, property_row: Row, unit: Unit) -> str:
    """Write a distance in a unit of the property; of temperatures in K, or by its degrees."""
    if property_row["temperature_kind"]:
        degrees = UNITS["[degR]" if unit.code in ("[degF]", "[degR]") else "K"]
        return f"{distance / degrees.factor:.4g} {degrees.code}"
    return f"{distance / unit.factor:.4g} {unit.code}"


def further_words(told: Told) -> list[str]:
    """Say what is told beside the position: score, agreements, origins, slips."""
    words = []
    if told.z is not None:
        against = "1 origin" if told.origins == 1 else f"{told.origins} origins"
        words.append(f"Robust score z = {told.z:.2g} against {against}: {_z_words(abs(told.z))}.")
    for each in told.agreements:
        sense = (
            "the two agree within their uncertainties"
            if each.agrees
            else "the two differ by more than their uncertainties allow"
        )
        words.append(f"E_n = {each.e_n:.2g} with {each.value}: {sense}.")
    if told.known_origin:
        words.append(
            "A known origin again ("
            + ", ".join(told.known_origin)
            + "): it adds no independent vote, only detail."
        )
    if told.same_figure:
        words.append(
            "Exactly this figure is held under another origin ("
            + ", ".join(told.same_figure)
            + "): one may repeat the other."
        )
    words += [f"Unit slip suspected: {slip.words}." for slip in told.slips]
    return words


def _z_words(size: float) -> str:
    if size <= _LIKE:
        return "like the rest"
    if size < _UNLIKE:
        return "worth a second look"
    return "unlike the rest, check unit, condition and material"
