"""Solving a rule backwards: what must a phase conduct for the body to conduct what was measured."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, mixture, positive

HALVINGS = 60


def back_solve(
    function: Callable[[FloatArray, FloatArray], FloatArray],
    fractions: ArrayLike,
    conductivities: ArrayLike,
    measured: ArrayLike,
    phase: int = 0,
    span: tuple[float, float] = (1e-4, 1e3),
) -> FloatArray:
    """Conductivity of one phase that makes a rule give a measured value.

    Parameters
    ----------
    function : callable
        Rule ``function(fractions, conductivities)``, rising in the conductivity of the phase.
    fractions : array_like, shape (..., n)
        Volume fractions, summing to 1 over the last axis [-].
    conductivities : array_like, shape (..., n)
        Conductivity of each phase; the entry of `phase` is ignored [W/(m.K)].
    measured : array_like, shape (...)
        Measured conductivity of the body, above zero [W/(m.K)].
    phase : int
        Index of the phase sought; the host as a rule.
    span : (float, float)
        Where to look [W/(m.K)].

    Returns
    -------
    ndarray, shape (...)
        Conductivity of the phase [W/(m.K)]; NaN where none inside `span` fits.

    Raises
    ------
    ValueError
        If the fractions, conductivities or measured values are not usable.

    Notes
    -----
    60 halvings on the log scale. The result belongs to the rule it was found with: use it with
    that rule, where it takes up what the rule leaves out, as contacts and microcracks.
    """
    parts, each = mixture(fractions, conductivities)
    target = positive(measured, "measured")
    shape = np.broadcast_shapes(target.shape, each.shape[:-1])
    parts, each = (np.broadcast_to(array, (*shape, array.shape[-1])) for array in (parts, each))
    chosen = np.arange(each.shape[-1]) == range(each.shape[-1])[phase]

    def given(trial: FloatArray) -> FloatArray:
        return function(parts, np.where(chosen, trial[..., None], each))

    low, high = np.full(shape, span[0]), np.full(shape, span[1])
    found = (given(low) <= target) & (given(high) >= target)
    for _ in range(HALVINGS):
        middle = np.sqrt(low * high)
        above = given(middle) > target
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.where(found, np.sqrt(low * high), np.nan)
