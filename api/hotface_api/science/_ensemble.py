"""What a set of draws teaches: whom to blame, and what a measurement changes.

Public through `sampling`.
"""

import numpy as np
from numpy.typing import ArrayLike

from hotface_api.science._arrays import FloatArray, floats, positive

LEAST_EIGENVALUE = 1e-9
DRAWS_BY_INPUTS = 2


def rank_shares(inputs: ArrayLike, output: ArrayLike) -> FloatArray:
    """Share of the doubt in an output that each input brings.

    Parameters
    ----------
    inputs : array_like, shape (draws, n)
        Drawn inputs.
    output : array_like, shape (draws,)
        What they lead to.

    Returns
    -------
    ndarray, shape (n,)
        Shares, zero or above, with a sum of at most 1; the rest is interplay and turning curves.
        An input that does not vary has 0.

    Raises
    ------
    ValueError
        If the shapes do not fit or there are not more draws than inputs.

    Notes
    -----
    Squared correlation-adjusted rank scores (Zuber and Strimmer, 2011, on ranks): for unrelated
    inputs the squared Spearman correlation; for related ones the joint part is split evenly and
    the sum is the R squared of the rank regression. For outputs that rise or fall with each input.
    """
    columns, answer = floats(inputs), floats(output)
    if columns.ndim != DRAWS_BY_INPUTS or answer.shape != columns.shape[:1]:
        raise ValueError("inputs must be (draws, n) and output (draws,)")
    if columns.shape[0] <= columns.shape[1] + 1:
        raise ValueError("more draws than inputs are needed")
    scores = np.stack([_rank_scores(column) for column in columns.T], axis=-1)
    marginal = scores.T @ _rank_scores(answer)
    related = scores.T @ scores
    values, vectors = np.linalg.eigh(related)
    keep = values > LEAST_EIGENVALUE
    root = np.where(keep, 1.0 / np.sqrt(np.maximum(values, LEAST_EIGENVALUE)), 0.0)
    adjusted = vectors @ (root * (vectors.T @ marginal))
    return floats(adjusted**2)


def _rank_scores(values: FloatArray) -> FloatArray:
    """Ranks (ties shared) with mean 0 and length 1; all 0 if nothing varies."""
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    rank = (np.cumsum(count) - (count - 1) / 2.0)[place]
    centred = rank - np.mean(rank)
    length = np.linalg.norm(centred)
    return floats(centred / length) if length > 0 else np.zeros_like(centred)


def ensemble_update(
    log_inputs: ArrayLike,
    log_predicted: ArrayLike,
    log_observed: ArrayLike,
    sd: ArrayLike,
    normals: ArrayLike,
) -> FloatArray:
    r"""Move drawn inputs to agree with measurements as far as the measurements can be trusted.

    .. math:: x' = x + C_{xy} (C_{yy} + R)^{-1} (y_o + \sigma z - y)

    Parameters
    ----------
    log_inputs : array_like, shape (draws, n)
        Logarithms of the drawn inputs.
    log_predicted : array_like, shape (draws,) or (draws, m)
        Logarithms of what the model says would be measured, draw by draw, model error included.
    log_observed : array_like, shape () or (m,)
        Logarithms of what was measured.
    sd : array_like, shape () or (m,)
        Standard deviation of the log of each measurement, above zero [-].
    normals : array_like, shape as `log_predicted`
        Standard normal draws of their own stream, one measurement error a draw.

    Returns
    -------
    ndarray, shape (draws, n)
        Logarithms of the inputs given the measurements.

    Raises
    ------
    ValueError
        If the shapes do not fit or a standard deviation is not above zero.

    Notes
    -----
    The ensemble form of the Kalman update. Exact for many draws if inputs and predictions are
    jointly normal in the logs and the model is linear there; with curved models it is close for
    measurements within a couple of prior standard deviations. Run the model again on the result.
    """
    inputs, said = floats(log_inputs), _columns(log_predicted)
    doubt = np.broadcast_to(positive(sd, "sd"), said.shape[1:])
    noise = _columns(normals)
    if np.ndim(inputs) != DRAWS_BY_INPUTS or said.shape[:1] != inputs.shape[:1]:
        raise ValueError("log_inputs must be (draws, n) and log_predicted have those draws")
    if noise.shape != said.shape:
        raise ValueError("normals must be of the shape of log_predicted")
    draws = inputs.shape[0] - 1
    away_in, away_out = inputs - inputs.mean(axis=0), said - said.mean(axis=0)
    joint = away_in.T @ away_out / draws
    spread = away_out.T @ away_out / draws + np.diag(doubt**2)
    missing = floats(log_observed) + doubt * (noise - noise.mean(axis=0)) - said
    return floats(inputs + missing @ np.linalg.solve(spread, joint.T))


def _columns(values: ArrayLike) -> FloatArray:
    """Give a single prediction a column axis of its own."""
    array = floats(values)
    return array[:, None] if array.ndim == 1 else array
