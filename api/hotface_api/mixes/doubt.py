"""Whom to blame for the width of an interval, and what to measure next, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.answer import Doubt
from hotface_api.science import kernels

__all__ = ["doubts_of"]

FloatArray = NDArray[np.float64]
_SHOWN: Final = 5
_LEAST_SHARE: Final = 0.02
_SINGULAR: Final = 1e-9
_SLICE: Final = 200_000

_ADVICE: Final = {
    "loose_bulk_density": "weigh one bucket of it, filled as you fill it, and give its loose bulk"
    " density",
    "particle_density": "measure its grain density by soaked weight and give it",
    "grain_porosity": "measure its grain density by soaked weight and give it",
    "void_share": "measure its grain density by soaked weight and give it",
    "true_density": "give its pore-free density from the bag's sheet",
    "crush": "weigh a filled mould of known volume: the fresh density tells how much has broken",
    "compaction": "weigh a filled mould of known volume: the fresh density tells how it packed",
    "thermal_conductivity": "give its own conductivity if you have it",
    "specific_heat_capacity": "give its own heat capacity if you have it",
    "pore_size": "give the size of its pores, seen under a lens on a broken grain",
    "water_absorption": "soak a weighed cupful for half an hour and weigh it again",
    "bound_water": "weigh a piece dried at 110 Cel and again after firing",
    "loss_on_ignition": "weigh a sample before and after firing",
    "paste_skeleton": "measure the conductivity of one piece, by comparison with a known one",
    "thinning": "measure the conductivity of one piece, by comparison with a known one",
    "skeleton_slope": "measure the conductivity of one piece hot, by comparison with a known one",
    "paste_pores": "measure the conductivity of one piece, by comparison with a known one",
    "void_size": "look at a broken face and give the size of the largest voids",
    "entrapped_air": "weigh a filled mould of known volume: the fresh density tells the air",
    "soaked_pores": "weigh a filled mould of known volume: the fresh density tells the water taken",
    "soaked_share": "weigh a filled mould of known volume: the fresh density tells the water taken",
    "firing_shrinkage": "measure one piece before and after firing",
    "drying_shrinkage": "measure one piece before and after drying",
    "moisture": "weigh the piece, dry it at 110 Cel and weigh it again",
    "early_loss": "weigh the piece when it leaves the mould",
}
_RULE: Final = "measure the conductivity of one piece: no input removes this"


def doubts_of(
    scored: Mapping[str, FloatArray], outputs: Mapping[str, FloatArray], *, related: bool = False
) -> tuple[Doubt, ...]:
    """Share the doubt in each output among the inputs, by rank.

    Parameters
    ----------
    scored : mapping
        Ranks of the draws of each named input, mean 0 and length 1, shape (draws,).
    outputs : mapping
        Draws of each output, shape (draws,).
    related : bool
        Whether a measurement has made the inputs depend on each other; then what they bring
        together is split between them.

    Returns
    -------
    tuple of Doubt
        The largest shares of each output, largest first.

    Notes
    -----
    Squared rank correlations; for related inputs as ``science.sampling.rank_shares``.
    """
    names = sorted(scored)
    scores = np.stack([scored[name] for name in names])
    apart = _whitening(scores) if related else None
    found: list[Doubt] = []
    for output, draws in outputs.items():
        marginal = (scores * kernels.rank_scores(draws)).sum(-1)
        shares = (marginal if apart is None else apart @ marginal) ** 2
        order = sorted(range(len(names)), key=lambda i: (-float(shares[i]), names[i]))
        found += [
            _doubt(names[index], float(shares[index]), output)
            for index in order[:_SHOWN]
            if shares[index] >= _LEAST_SHARE
        ]
    return tuple(found)


def _whitening(scores: FloatArray) -> FloatArray:
    """Give the inverse root of the correlations.

    The product is summed over slices so small that the linear algebra library does not start its
    threads, which wait for each other for longer than the sum takes.
    """
    step = max(1, _SLICE // len(scores) ** 2)
    related = np.zeros((len(scores), len(scores)))
    for start in range(0, scores.shape[-1], step):
        slice_ = scores[:, start : start + step]
        related += slice_ @ slice_.T
    values, vectors = np.linalg.eigh(related)
    root = np.where(values > _SINGULAR, 1.0 / np.sqrt(np.maximum(values, _SINGULAR)), 0.0)
    return np.asarray((vectors * root) @ vectors.T)


def _doubt(name: str, share: float, output: str) -> Doubt:
    subject, _, quantity = name.partition(":")
    advice = _RULE if subject == "rule" else _ADVICE.get(quantity, "measure it")
    return Doubt(name.replace(":", " "), share, advice, output)
