"""Where a further origin is expected: prediction intervals from few, unequal votes."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hotface_api.science.statistics import student_t_quantile

__all__ = ["Expected", "expected_interval", "robust_scores"]

FloatArray = NDArray[np.float64]
_MAD_TO_SD: Final = 1.4826


class Expected(NamedTuple):
    """Ends and centre on the caller's scale, the spread between origins used, and its dof."""

    low: float
    centre: float
    high: float
    spread: float
    dof: float


def expected_interval(
    centres: FloatArray, spreads: FloatArray, weights: FloatArray, *, floor: float,
    coverage: float, prior_dof: float,
) -> Expected:
    """Predict where one further origin lies, from a few weighted origins.

    Parameters
    ----------
    centres : ndarray, shape (n,)
        What each origin says, on the scale it is compared on.
    spreads : ndarray, shape (n,)
        Standard deviation inside each origin (its own range and scatter), same scale.
    weights : ndarray, shape (n,)
        Positive weights; only their ratios matter.
    floor : float
        Standard deviation between origins that is believed at the least.
    coverage : float
        Share of further origins the interval is to hold, between 0 and 1.
    prior_dof : float
        Degrees of freedom the floor is worth.

    Returns
    -------
    Expected

    Notes
    -----
    With ``m = (sum w)^2 / sum w^2`` effective origins, the variance between origins is pooled from
    the floor (``prior_dof`` degrees of freedom) and the scatter of the centres (``m - 1``), and is
    never below the floor. A further origin then varies by it, by the error of the centre and by
    the mean variance inside origins: ``s^2 (1 + 1/m) + mean(spread^2)``; the half width is
    Student's t on ``prior_dof + m - 1`` degrees of freedom times its root. Valid for origins that
    scatter normally on the scale; tested by simulation. The pooling is the usual conjugate one
    for a variance; that scatter inside origins is added, not subtracted, keeps it cautious.
    """
    share = weights / weights.sum()
    effective = float(1.0 / np.sum(share**2))
    centre = float(np.sum(share * centres))
    extra = max(effective - 1.0, 0.0)
    scatter = 0.0
    if extra > 0:
        scatter = float(np.sum(share * (centres - centre) ** 2)) * effective / extra
    pooled = (prior_dof * floor**2 + extra * scatter) / (prior_dof + extra)
    between = max(floor**2, pooled)
    inside = float(np.sum(share * spreads**2))
    dof = prior_dof + extra
    half = float(student_t_quantile((1.0 + coverage) / 2.0, dof)) * float(
        np.sqrt(between * (1.0 + 1.0 / effective) + inside)
    )
    return Expected(centre - half, centre, centre + half, float(np.sqrt(between)), dof)


def robust_scores(values: FloatArray) -> FloatArray:
    """Give each value's distance from the median in units of the scaled median deviation.

    Zeros where all values agree. The factor 1.4826 makes the median absolute deviation of a normal
    sample estimate its standard deviation.
    """
    distance = values - np.median(values)
    scale = _MAD_TO_SD * float(np.median(np.abs(distance)))
    return distance / scale if scale > 0 else np.zeros_like(values)
