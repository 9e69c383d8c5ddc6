"""An independent homogeniser: finite volumes on a cell of voxels, solved with SciPy.

It shares nothing with the rules but the conductivities of the phases.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import cg


def effective_conductivity(k):
    """Give the conductivity of a voxel cell along its first axis.

    The two ends are held one kelvin a cell apart, the sides are periodic. Between two voxels stand
    their half-widths in series.
    """
    shape = k.shape
    number = np.arange(k.size).reshape(shape)
    rows, columns, values = [], [], []
    diagonal = np.zeros(k.size)
    for axis in range(3):
        other = np.roll(k, -1, axis)
        face = 2.0 * k * other / (k + other)
        here, there = number, np.roll(number, -1, axis)
        if axis == 0:  # no face across the ends
            face, here, there = face[:-1], here[:-1], there[:-1]
        a, b, g = here.ravel(), there.ravel(), face.ravel()
        rows += [a, b]
        columns += [b, a]
        values += [-g, -g]
        np.add.at(diagonal, a, g)
        np.add.at(diagonal, b, g)
    hot, cold = number[0].ravel(), number[-1].ravel()
    ends = 2.0 * k
    diagonal[hot] += ends[0].ravel()
    diagonal[cold] += ends[-1].ravel()
    rows.append(np.arange(k.size))
    columns.append(np.arange(k.size))
    values.append(diagonal)
    matrix = coo_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    ).tocsr()
    load = np.zeros(k.size)
    load[hot] = ends[0].ravel()  # one kelvin at the hot end, none at the cold one
    start = np.repeat(1.0 - (np.arange(shape[0]) + 0.5) / shape[0], shape[1] * shape[2])
    scale = 1.0 / diagonal
    preconditioner = coo_matrix((scale, (np.arange(k.size), np.arange(k.size)))).tocsr()
    field, failed = cg(matrix, load, x0=start, rtol=1e-8, maxiter=4000, M=preconditioner)
    assert failed == 0
    flux = np.sum(ends[0].ravel() * (1.0 - field[hot]))
    return float(flux * shape[0] / (shape[1] * shape[2]))


def grid(size):
    """Give the coordinates of voxel centres in units of the cell."""
    line = (np.arange(size) + 0.5) / size
    return np.meshgrid(line, line, line, indexing="ij")


def ball(size, centre, radius):
    """Mark a ball in a periodic cell."""
    squared = 0.0
    for line, middle in zip(grid(size), centre, strict=True):
        away = np.abs(line - middle)
        squared = squared + np.minimum(away, 1.0 - away) ** 2
    return squared < radius**2


def overlapping_balls(size, share, radius, seed):
    """Drop balls at random, one through another, until a share of the cell is marked."""
    generator = np.random.default_rng(seed)
    marked = np.zeros((size, size, size), dtype=bool)
    while marked.mean() < share:
        marked |= ball(size, generator.random(3), radius)
    return marked


def separate_centres(count, radius, seed):
    """Choose centres of balls that do not touch; gives as many as found room."""
    generator = np.random.default_rng(seed)
    centres = []
    for _ in range(20000):
        if len(centres) == count:
            break
        trial = generator.random(3)
        away = [np.abs(trial - centre) for centre in centres]
        if all(np.linalg.norm(np.minimum(a, 1.0 - a)) > 2.05 * radius for a in away):
            centres.append(trial)
    return centres


def balls(size, centres, radius):
    """Mark balls about centres."""
    marked = np.zeros((size, size, size), dtype=bool)
    for centre in centres:
        marked |= ball(size, centre, radius)
    return marked
