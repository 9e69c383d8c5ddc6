"""What is taken where nothing is held: named, stated in words, and served with the answer.

These are our judgement, not data: no source prints them for a given mix. Each widens the interval
of what it touches, and most can be replaced by a figure of one's own in the request.
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

SILICATE_DENSITY: Final = Triple(2250.0, 2550.0, 2850.0)
"""Pore-free density of silicate grains and glasses, kg/m3."""

SILICATE_CONDUCTIVITY: Final = Triple(0.8, 1.3, 2.2)
"""Conductivity of a pore-free silicate glass or fired clay skeleton, W/(m.K): rhyolite glass
near 1.2, fired clay 1.3 to 1.8, below 0.8 only with microcracks."""

PASTE_SKELETON: Final = Triple(0.55, 1.05, 1.9)
"""Conductivity of the pore-free part of a dried or fired binder paste, W/(m.K). Not that of the
dense mineral: hydrate loss leaves cracks and weak necks. Portland paste solid, moist, is near 1.4
to 1.5; powder compacts conduct at least 2.5 times less than sintered bodies of equal porosity."""

ENTRAPPED_AIR: Final = Triple(0.01, 0.03, 0.08)
SOAKED_PORES: Final = Triple(0.02, 0.10, 0.30)
"""Share of a grain's own pores that takes up mixing water before the set."""

EARLY_LOSS: Final = Triple(0.005, 0.03, 0.10)
"""Share of the unbound water gone at demoulding."""

DRYING_SHRINKAGE: Final = Triple(0.0002, 0.001, 0.004)
FIRING_SHRINKAGE: Final = Triple(0.0005, 0.004, 0.015)
"""Linear; subtracted."""

REACTED_ALUMINA: Final = Triple(0.40, 0.70, 0.95)
"""Share of a cement's alumina that binds water once hardened and warmed."""

PORTLAND_WATER: Final = Triple(0.12, 0.18, 0.24)
AIR_DRY_MOISTURE: Final = Triple(0.01, 0.03, 0.08)

GRAIN_PORES: Final = Triple(2e-5, 2e-4, 2e-3)
PASTE_PORES: Final = Triple(1e-7, 3e-6, 1e-4)
"""Pore sizes in metres where none is given: by decades, because nothing better is held."""

RULE_SPREAD: Final = 0.12
"""Standard deviation, on logarithms, of what the conductivity rules miss when everything else is
right: 0.10 to 0.12 in a trial of the rules on 45 measured bodies."""

OWN_SPREAD: Final = 0.03
"""Relative half width given to a measured figure that comes without an uncertainty."""
