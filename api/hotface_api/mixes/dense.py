"""Grains taken as nearly pore-free where their particle density is not held.

Only those named here, each judged by its row: what was melted or grown as a crystal and crushed
has few pores. Whatever is foamed, blown, sintered light, burnt to clinker or laid down as a rock
is not taken so, and neither is a material added later until somebody has judged it: a pore-free
density tells nothing of the pores of a grain.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from hotface_api.mixes import assumptions as take

__all__ = ["GRAIN_POROSITY", "NEARLY_PORE_FREE", "grain_words"]

GRAIN_POROSITY: Final = "grain_porosity"
"""Under this name the share of pores is drawn, noted and blamed."""

NEARLY_PORE_FREE: Final[Mapping[str, str]] = MappingProxyType(
    {
        "fused-alumina": "melted and crushed",
        "fused-alumina-sub-white": "melted and crushed",
        "fused-silica": "solid silica glass",
        "kyanite": "a natural crystal",
        "magnesia": "melted, or burnt dense",
        "silicon-carbide": "a synthetic crystal",
        "sillimanite": "a natural crystal",
        "spinel": "a synthetic crystal",
        "wollastonite": "a natural crystal",
        "zirconia": "a crystal, natural or melted",
    }
)
"""Why each is dense by kind. Not here: dolomite, sandstone and quartzitic stone, because rocks hold
pores of their own (quartzitic stone is held from 1920 to 2560 kg/m3); calcium aluminate aggregate,
a clinker whose pores nothing tells; hollow glass microspheres."""


def grain_words(material: str) -> str:
    """Say what is taken of the grain of such a material, and that it is a judgement."""
    pores, why = take.DENSE_GRAIN_PORES, NEARLY_PORE_FREE[material]
    return (
        f"particle density not held; the grain taken as nearly pore-free ({why}):"
        f" pores of {100 * pores.low:g} to {100 * pores.high:g} % of its volume, typically"
        f" {100 * pores.typical:g} %, off its pore-free density (our judgement, no source)"
    )
