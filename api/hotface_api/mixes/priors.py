"""What was fitted to measured bodies: the skeleton of a paste, and what the rules miss.

``docs/calibration/calibrate.py`` prints these numbers and how well they do on bodies they were
not fitted to. What no body told, because none was measured, is our judgement and says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from hotface_api.mixes.request import Triple

__all__ = ["BINDERS", "CALIBRATED", "MIDDLE_LIGHT", "Priors", "binder_of"]

BINDERS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "hydraulic": (
            "cac-",
            "calcium-aluminate-cement",
            "portland",
            "slag-cement",
            "hydratable-alumina",
            "hydrated-lime",
            "lime",
        ),
        "gypsum": ("gypsum",),
        "clay": ("fireclay", "kaolin", "ball-clay", "bentonite", "brick-clay", "clay", "loam"),
        "geopolymer": ("metakaolin-geopolymer", "fly-ash-geopolymer"),
        "silicate": (
            "sodium-silicate",
            "potassium-silicate",
            "perlite-geopolymer",
            "colloidal-silica",
        ),
        "phosphate": ("aluminium-phosphate", "phosphoric-acid", "magnesia-phosphate"),
    }
)
"""Classes of binder whose hardened skeletons are alike enough to share a prior, and the openings
of the material ids in them. Everything else that is fine counts as ``powder``."""

MIDDLE_LIGHT: Final = 0.4
"""Share of voids and grain pores of the bodies fitted to, about; skeletons are told for it."""

OTHER: Final = "phosphate"
"""Class of a binder that is none of the listed: one of which no body was measured."""


@dataclass(frozen=True)
class Priors:
    """The calibrated part of the estimator.

    Attributes
    ----------
    skeleton : mapping
        Conductivity of the pore-free part of a hardened paste by class of binder and ``dried`` or
        ``fired``, W/(m.K), 90 % between low and high. Not that of the dense minerals: loss of
        water leaves cracks and weak necks.
    thinning : Triple
        How much the logarithm of a skeleton's conductivity falls for each unit of the body that is
        voids or pores of grains, counted from ``MIDDLE_LIGHT``: the paste between them is thin.
    powder_share : Triple
        Conductivity of what a fine powder without binder becomes over that of its dense mineral.
    skeleton_slope : mapping
        Power of the absolute temperature with which a skeleton's conductivity rises, by state;
        low, middle and high, which may be negative.
    rule_spread : float
        Standard deviation, on logarithms, of what the rules miss when all inputs are right.
    rule_slope : float
        How much of that miss changes for each unit of the logarithm of absolute temperature.
    """

    skeleton: Mapping[tuple[str, str], Triple]
    thinning: Triple
    powder_share: Triple
    skeleton_slope: Mapping[str, Triple]
    rule_spread: float
    rule_slope: float


_SKELETON: Final[Mapping[str, Triple]] = MappingProxyType(
    {
        "hydraulic": Triple(0.56, 0.87, 1.36),
        "gypsum": Triple(0.58, 0.96, 1.58),
        "clay": Triple(0.55, 0.92, 1.51),
        "geopolymer": Triple(0.64, 1.07, 1.77),
        "silicate": Triple(0.48, 0.79, 1.29),
        "phosphate": Triple(0.52, 0.91, 1.62),
    }
)

CALIBRATED: Final = Priors(
    skeleton=MappingProxyType(
        {
            (binder, state): triple
            for binder, triple in _SKELETON.items()
            for state in ("dried", "fired")
        }
    ),
    thinning=Triple(0.13, 0.51, 0.89),
    powder_share=Triple(0.12, 0.30, 0.60),
    skeleton_slope=MappingProxyType(
        {"dried": Triple(-0.30, 0.0, 0.30), "fired": Triple(-0.10, 0.15, 0.40)}
    ),
    rule_spread=0.14,
    rule_slope=0.15,
)
"""Skeletons, thinning and ``rule_spread`` are fitted; ``rule_slope`` is set so that most published
curves lie inside. Powder share and slopes are our judgement: a powder compact conducts at least
2.5 times less than a sintered body of equal porosity, dense mullite taken for foam struts was 2.5
to 5 times too high; fireclay bricks rise by a sixth to a half from 200 to 1000 Cel. No fired cement
paste was measured: it takes the prior of its class."""


def binder_of(material: str, kind: str) -> str:
    """Name the class of binder a fine constituent belongs to."""
    if kind == "binder":
        for name, openings in BINDERS.items():
            if material.startswith(openings):
                return name
        return OTHER
    return "powder"
