"""One run of the model: from named normals to densities and conductivities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hotface_api.mixes.draws import STATE_INDEX, Batch, draw_batch
from hotface_api.mixes.grains import Whole
from hotface_api.mixes.inputs import Gathered
from hotface_api.mixes.latent import Latent
from hotface_api.mixes.priors import Priors
from hotface_api.mixes.request import EstimateRequest
from hotface_api.mixes.structure import Structure, structure_of
from hotface_api.mixes.thermal import Thermal, thermal_conductivity

__all__ = ["Case", "Run", "run", "state_density"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Case:
    """What a run is about: the request, its inputs and the calibrated priors."""

    request: EstimateRequest
    gathered: Gathered
    priors: Priors


@dataclass(slots=True)
class Run:
    """One run: the draws it rests on and what came out.

    ``weighed`` names the inputs that bear on masses and volumes; the others on conductivity only.
    """

    latent: Latent
    whole: Whole
    batch: Batch
    structure: Structure
    thermal: Thermal
    weighed: frozenset[str]

    def density(self, case: Case) -> FloatArray:
        """Give the density in the state asked about, moisture included, shape (draws,)."""
        return state_density(case.request.state.kind, self.batch)


def state_density(kind: str, batch: Batch) -> FloatArray:
    """Give the density in a state by name; air-dry is the dried body and its moisture."""
    density = np.asarray(batch.density[:, STATE_INDEX[kind]])
    return density * (1.0 + batch.moisture) if kind == "air-dry" else density


def run(case: Case, latent: Latent, whole: Whole | None = None) -> Run:
    """Run the model once on a set of normals."""
    whole = whole or Whole()
    batch = draw_batch(case.request, case.gathered, latent, whole)
    weighed = frozenset(latent.kept)
    structure = structure_of(case.request, case.gathered, batch)
    thermal = thermal_conductivity(case.request, case.gathered, structure, latent, case.priors)
    return Run(latent, whole, batch, structure, thermal, weighed)
