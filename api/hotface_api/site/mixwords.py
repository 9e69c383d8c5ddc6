"""The words of the mix forms: what can be chosen, and the units a reader's figures are typed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from hotface_api.http.quantities import Output
from hotface_api.mixes.rules import OPTIONS, SELECTABLE, rule_told

__all__ = [
    "COVERAGES",
    "FIGURES",
    "FILLS",
    "MASSES",
    "MEASURED_IN",
    "MOULD_UNITS",
    "OPTIONS",
    "PARTS_BY",
    "RULES",
    "SIZES",
    "STATES",
    "UNITS",
    "WATER_UNITS",
    "TypedIn",
]

UNITS: Final[Mapping[str, str]] = {
    "bucket": "buckets, loose",
    "L": "litres, loose",
    "kg": "kg",
    "[gal_us]": "US gallons, loose",
    "[lb_av]": "lb",
    "1": "parts",
}
MASSES: Final = ("kg", "[lb_av]")
PARTS_BY: Final[Mapping[str, str]] = {
    "mass": "mass",
    "loose": "loose volume",
    "absolute": "volume without gaps",
}
FILLS: Final[Mapping[str, str]] = {
    "poured": "poured in",
    "shaken": "shaken down",
    "compacted": "pressed down",
}
STATES: Final[Mapping[str, str]] = {
    "fired": "fired",
    "dried": "dried at 110 °C",
    "air-dry": "air-dry",
    "demoulded": "just out of the mould",
    "fresh": "fresh",
}
MEASURED_IN: Final[Mapping[str, str]] = {
    "": "in the state asked for",
    "fresh": "fresh, as mixed",
    "demoulded": "just out of the mould",
    "air-dry": "air-dry",
    "dried": "dried",
    "fired": "fired",
}
WATER_UNITS: Final[Mapping[str, str]] = {
    "L": "litres",
    "kg": "kg",
    "[gal_us]": "US gallons",
    "ratio": "kg per kg of cement",
}
MOULD_UNITS: Final[Mapping[str, str]] = {
    "L": "litres",
    "m3": "m³",
    "[gal_us]": "US gallons",
    "[cft_i]": "ft³",
    "[cin_i]": "in³",
}
FIGURES: Final[Mapping[str, str]] = {
    "loose_bulk_density": "Loose bulk density",
    "particle_density": "Particle density (grain with its pores)",
    "true_density": "True density (without pores)",
}
SIZES: Final[Mapping[str, str]] = {
    "grain_size": "Size of its grains",
    "pore_size": "Size of the pores seen in a broken grain",
}
COVERAGES: Final[Mapping[str, str]] = {
    "0.5": "50 of a hundred",
    "0.8": "80 of a hundred",
    "0.9": "90 of a hundred",
    "0.95": "95 of a hundred",
}


def _rules() -> Mapping[str, tuple[str, str]]:
    """Give for each rule its title and where it holds."""
    found = {}
    for name in SELECTABLE:
        title, _, about = rule_told(name).partition(" (")
        found[name] = title, about.partition("; source:")[0]
    return found


RULES: Final = _rules()
"""Title and range of validity of each conductivity rule that can be chosen."""


@dataclass(frozen=True, slots=True)
class TypedIn:
    """The units of figures that have none of their own: codes by the reader's system."""

    density: str
    heat: str
    mass: str
    bucket: str
    bucket_holds: str
    size: str = "mm"
    conductivity: str = "W/(m.K)"
    mould: str = "L"

    @classmethod
    def of(cls, output: Output) -> TypedIn:
        """Give the units a reader's figures are typed in, and what a bucket usually holds."""
        is_us = output.system == "us"
        return cls(
            density=output.unit("density").code,
            heat=output.unit("temperature").code,
            mass=output.unit("mass").code,
            bucket="[gal_us]" if is_us else "L",
            bucket_holds="5" if is_us else "10",
            size=output.unit("length").code,
            conductivity="[Btu_IT].[in_i]/([ft_i]2.h.[degR])" if is_us else "W/(m.K)",
            mould="[gal_us]" if is_us else "L",
        )
