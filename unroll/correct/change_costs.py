"""What a change of the flat points costs, and what of it lies in the outlines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from unroll.correct.flat_shapes import FlatShapes
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.membrane import corner_gradients

FAIR_OVER_MM = 50.0  # lines shorter than this are kept from wriggling
HELD_DOWN = 1e-5  # 1/mm²: pieces do not drift on the table


@dataclass(frozen=True, eq=False)
class ChangeCost:
    """A quadratic form of the change of flat points.

    Attributes
    ----------
    matrix : (2k, 2k) sparse
        The form, x and y of a point one after the other.
    inside : (n,) int
        Points off the outlines.
    rows : (n, k) sparse
        Their rows of the form, the same for x and for y.
    solver : SuperLU
        Of these rows' own columns.
    """

    matrix: sparse.csc_array
    inside: IntArray
    rows: sparse.csr_array
    solver: SuperLU

    def on_outlines(self, slopes: FloatArray) -> FloatArray:
        """Return slopes (r, 2k) by the outlines' points, which those inside follow at least cost.

        What is cut and sewn is the outline. A point inside that moves for itself changes no cloth,
        but moves the lines that are read and drawn over it.
        """
        flat = slopes.reshape(len(slopes), -1, 2).transpose(1, 0, 2).reshape(-1, 2 * len(slopes))
        out = flat - self.rows.T @ self.solver.solve(flat[self.inside])
        out[self.inside] = 0.0
        both = out.reshape(-1, len(slopes), 2).transpose(1, 0, 2)
        return np.asarray(both.reshape(len(slopes), -1))


def cost_of_change(shapes: FlatShapes) -> ChangeCost:
    """Return how much a change of the points costs, mm².

    Notes
    -----
    The square of the change's gradient over the cloth, so that neighbours move alike, and of its
    curvature along every side, so that lines stay fair.
    """
    corners = shapes.corners[shapes.corners[:, 0] >= 0]
    gradients, areas = corner_gradients(shapes.points[corners])
    count = len(shapes.points)
    element = np.einsum("mid,mjd->mij", gradients, gradients) * areas[:, None, None]
    rows, columns = np.broadcast_arrays(corners[:, :, None], corners[:, None, :])
    smooth = sparse.csr_array(
        (element.ravel(), (rows.ravel(), columns.ravel())), shape=(count, count)
    )
    mass = np.bincount(corners.ravel(), np.repeat(areas / 3.0, 3), count)
    bend = _side_curvatures(shapes)
    one = smooth + bend.T @ bend + HELD_DOWN * sparse.diags_array(mass)
    inside = sparse.csr_array(one)[shapes.inside]
    solver = splu(sparse.csc_array(inside[:, shapes.inside]))
    matrix = sparse.csc_array(sparse.kron(one, sparse.eye_array(2)))
    return ChangeCost(matrix, shapes.inside, inside, solver)


def _side_curvatures(shapes: FlatShapes) -> sparse.csr_array:
    """Return the weighed second differences along every side, (s, k)."""
    values: list[FloatArray] = []
    triples: list[IntArray] = []
    first = 0
    for flattening in shapes.flattenings:
        for side in flattening.panel.sides:
            steps = polylines.chords(flattening.points[side.path])
            before, after = steps[:-1], steps[1:]
            mean = 0.5 * (before + after)
            weight = np.sqrt(FAIR_OVER_MM**3 / mean)
            terms = np.stack([1 / before, -1 / before - 1 / after, 1 / after], axis=1)
            values.append(terms * weight[:, None])
            path = side.path + first
            triples.append(np.stack([path[:-2], path[1:-1], path[2:]], axis=1))
        first += len(flattening.points)
    columns, weights = np.concatenate(triples), np.concatenate(values)
    rows = np.repeat(np.arange(len(columns)), 3)
    return sparse.csr_array(
        (weights.ravel(), (rows, columns.ravel())), shape=(len(columns), len(shapes.points))
    )
