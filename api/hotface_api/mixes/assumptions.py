"""What is taken where nothing is held: named, stated in words, and served with the answer.

These are our judgement, not data: no source prints them for a given mix. Each widens the interval
of what it touches, and most can be replaced by a figure of one's own in the request. What was
fitted to measured bodies instead stands in ``priors``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hotface_api.mixes.request import Triple

__all__ = ["Assumption"]


@dataclass(frozen=True, slots=True)
class Assumption:
    """A stable code and the sentence a reader gets."""

    code: str
    text: str


VOID_SHARE: Final = Triple(0.34, 0.43, 0.54)
"""Void share of a poured heap of light or broken grains. Equal spheres lie near 0.39, one-size
angular grains 0.40 to 0.49, graded heaps lower."""

DENSE_GRAIN_PORES: Final = Triple(0.005, 0.03, 0.10)
"""Share of pores in a grain that is dense by kind and of which no particle density is held. Held
pairs of both densities give 0 to 2 % for andalusite, zircon, olivine and brown fused alumina, 4 for
fused mullite, 9 for white fused alumina; sintered grains (mullite, tabular alumina) have more."""

COMPACTION: Final = Triple(1.02, 1.12, 1.25)
"""How much denser than poured the grains of a placed mix can pack."""

FILLED: Final = {"shaken": Triple(1.03, 1.10, 1.22), "compacted": Triple(1.08, 1.20, 1.40)}
"""Loose density of a shaken or compacted measure over that of a poured one."""

SILICATE_DENSITY: Final = Triple(2250.0, 2550.0, 2850.0)
"""Pore-free density of silicate grains and glasses, kg/m3."""

SILICATE_CONDUCTIVITY: Final = Triple(0.8, 1.3, 2.2)
"""Conductivity of a pore-free silicate glass or fired clay skeleton, W/(m.K): rhyolite glass
near 1.2, fired clay 1.3 to 1.8, below 0.8 only with microcracks."""

ORGANIC_DENSITY: Final = Triple(900.0, 1250.0, 1550.0)
ORGANIC_CONDUCTIVITY: Final = Triple(0.12, 0.22, 0.42)
"""The same of plant matter and plastics, before they leave."""

ENTRAPPED_AIR: Final = Triple(0.01, 0.03, 0.08)
SOAKED_PORES: Final = Triple(0.02, 0.10, 0.30)
"""Share of a grain's own pores that takes up mixing water before the set."""

SOAKED_SHARE: Final = Triple(0.4, 0.75, 1.0)
"""Share of a stated water absorption that is taken up before the set."""

PASTE_KEEPS: Final = 0.28
"""Kilograms of water to a kilogram of fines that no grain draws out of the paste."""

CRUSH: Final = Triple(0.85, 0.97, 1.0)
"""Volume of very light grains after mixing over before: perlite and vermiculite break."""
CRUSHES_BELOW: Final = 350.0
"""Particle density below which a grain is taken to break in mixing, kg/m3."""

EARLY_LOSS: Final = Triple(0.005, 0.03, 0.10)
"""Share of the unbound water gone at demoulding."""

DRYING_SHRINKAGE: Final = {
    "hydraulic": Triple(0.0002, 0.001, 0.004),
    "gypsum": Triple(0.0001, 0.0005, 0.002),
    "clay": Triple(0.02, 0.045, 0.08),
    "geopolymer": Triple(0.001, 0.005, 0.02),
    "silicate": Triple(0.001, 0.005, 0.02),
    "phosphate": Triple(0.001, 0.005, 0.02),
    "powder": Triple(0.002, 0.01, 0.04),
}
FIRING_SHRINKAGE: Final = {
    "hydraulic": Triple(0.0005, 0.004, 0.015),
    "gypsum": Triple(0.005, 0.02, 0.06),
    "clay": Triple(0.005, 0.03, 0.08),
    "geopolymer": Triple(0.002, 0.01, 0.04),
    "silicate": Triple(0.002, 0.01, 0.04),
    "phosphate": Triple(0.002, 0.01, 0.04),
    "powder": Triple(0.005, 0.04, 0.15),
}
"""Linear shrinkage of a paste without grains, by class of binder; subtracted."""
SHRUNK: Final = ((573.15, 0.0), (1273.15, 1.0), (1673.15, 1.3))
"""Share of the firing shrinkage seen by a temperature in kelvin."""
RESTRAINT: Final = 2.0
"""Grains hold a shrinking paste: the body shrinks by the share of paste to this power."""

REACTED_ALUMINA: Final = Triple(0.40, 0.70, 0.95)
"""Share of a cement's alumina that binds water once hardened and warmed."""

PORTLAND_WATER: Final = Triple(0.12, 0.18, 0.24)
BOUND_WATER_LEFT: Final = ((383.15, 1.0), (700.15, 0.25), (894.15, 0.0))
"""Share of the bound water still there after heating to a temperature in kelvin: all at 110 Cel,
three quarters gone at 427 and all by 621 Cel, as a supplier's dry-out sheet prints."""

IGNITED: Final = ((573.15, 0.0), (923.15, 1.0))
"""Share of the loss on ignition gone by a temperature in kelvin: clays give off their water
between 400 and 650 Cel; carbonates, later, are the exception."""

BURNT_OUT: Final = ((473.15, 0.0), (673.15, 1.0))
"""The same for what leaves by design: plastics and plant matter."""

AIR_DRY_MOISTURE: Final = {
    "hydraulic": Triple(0.010, 0.030, 0.080),
    "gypsum": Triple(0.001, 0.003, 0.010),
    "clay": Triple(0.005, 0.015, 0.040),
    "geopolymer": Triple(0.005, 0.020, 0.060),
    "silicate": Triple(0.005, 0.020, 0.060),
    "phosphate": Triple(0.005, 0.020, 0.060),
    "powder": Triple(0.0005, 0.002, 0.010),
}
"""Liquid water that the paste holds in room air, by mass of its dry solids."""

GRAIN_PORES: Final = Triple(2e-5, 2e-4, 2e-3)
PASTE_PORES: Final = Triple(1e-7, 3e-6, 1e-4)
VOIDS: Final = Triple(1e-4, 5e-4, 2e-3)
"""Sizes in metres where none is given: by decades, because nothing better is held."""

RESTRAINED: Final = Triple(0.60, 0.85, 1.0)
"""Conductivity of a paste between grains over that of a neat piece: held by them, it cracks."""

CEMENT_CLINKER: Final = Triple(1.4, 2.2, 3.4)
"""Conductivity of the grains of a binder in its fresh paste, W/(m.K); clinker phases are 3.2 to
3.7 (simulated), clays near 1.9."""

BOUND_WATER_HEAT: Final = Triple(1500.0, 2200.0, 3200.0)
"""Heat capacity that bound water brings into a hydrate, J/(kg.K): between ice and liquid water."""

OWN_SPREAD: Final = 0.03
"""Relative standard uncertainty of a bucket weighed at home: filling is the larger part."""
