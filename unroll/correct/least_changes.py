"""The least change of the flat points that brings readings to what is wanted, seams kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from unroll.correct.change_costs import ChangeCost
from unroll.correct.flat_shapes import FlatShapes, openings, seam_faults
from unroll.maths.arrays import FloatArray, IntArray

REGULAR = 1e-10  # keeps the seams' equations solvable where two say the same
SEAM_ROUNDS, SEAM_WITHIN = 5, 1e-7
NEARLY_CLOSED_MM = 0.15
LEAST_RESERVE = 0.2  # what a change costs, in squared misses a mm² of it
MOST_DOUBLINGS = 30


@dataclass(frozen=True, eq=False)
class SeamSystem:
    """The equations of least change under the seams, about some points.

    Attributes
    ----------
    shapes : FlatShapes
    cost : ChangeCost
    points : (k, 2) float
    closed : (n,) int
        Where darts are all but closed beside their points, and kept so.
    faults : (c,) float
        By how much the seams are off there, mm.
    solver : SuperLU
    """

    shapes: FlatShapes
    cost: ChangeCost
    points: FloatArray
    closed: IntArray
    faults: FloatArray
    solver: SuperLU

    def least(self, loads: FloatArray, faults: FloatArray) -> FloatArray:
        """Return the changes, (2k, r), that loads (2k, r) and seam faults (c, r) bring about."""
        return np.asarray(self.solver.solve(np.concatenate([loads, faults]))[: loads.shape[0]])

    def kept(self, points: FloatArray) -> FloatArray:
        """Return points (k, 2) moved as little as can be so that every seam fits."""
        for _ in range(SEAM_ROUNDS):
            faults, _ = seam_faults(self.shapes, points, self.closed)
            if np.abs(faults).max() < SEAM_WITHIN:
                break
            none = np.zeros((points.size, 1))
            points = points + self.least(none, -faults[:, None])[:, 0].reshape(-1, 2)
        return points


def seam_system(
    shapes: FlatShapes, cost: ChangeCost, points: FloatArray, crossed: IntArray | None = None
) -> SeamSystem:
    """Return the equations about some points (k, 2); `cost` is that of a change.

    Parameters
    ----------
    crossed : (n,) int, optional
        Rows of `points_of_darts` that are to be kept closed beside those that all but are.
    """
    closed = np.flatnonzero(openings(shapes, points) < NEARLY_CLOSED_MM)
    closed = closed if crossed is None else np.union1d(closed, crossed)
    faults, slopes = seam_faults(shapes, points, closed)
    corner = sparse.diags_array(np.full(len(faults), -REGULAR))
    system = sparse.block_array([[cost.matrix, slopes.T], [slopes, corner]]).tocsc()
    return SeamSystem(shapes, cost, points, closed, faults, splu(system))


@dataclass(frozen=True, eq=False)
class Reach:
    """What changes of the flat points can do to the readings, to first order.

    Attributes
    ----------
    slopes : (r, 2k) float
        Of the readings over what is let pass.
    ways : (2k, r) float
        The least change of the outlines, which the insides follow, for a unit load of each reading.
    to_seams : (2k,) float
        The change that brings the seams back, should they be off.
    """

    slopes: FloatArray
    ways: FloatArray
    to_seams: FloatArray

    def change(
        self, misses: FloatArray, *, farthest: float, reserve: float = LEAST_RESERVE
    ) -> tuple[FloatArray, float]:
        """Return the change (k, 2) that lessens the misses, and the squared misses it leaves.

        Parameters
        ----------
        misses : (r,) float
            What the readings are to gain, over what is let pass.
        farthest : float
            Most that a point may move, mm.
        reserve : float
            What a change costs at least, in squared misses a mm² of it.

        Notes
        -----
        Least |misses left|² + reserve · cost of the change: the reserve is doubled until no point
        moves too far (Levenberg and Marquardt's way, with the cost for a measure).
        """
        square = self.slopes @ self.ways
        left = misses - self.slopes @ self.to_seams
        for _ in range(MOST_DOUBLINGS):
            loads = np.linalg.solve(square + reserve * np.eye(len(left)), left)
            change = self.ways @ loads
            if np.abs(change).max() <= farthest:
                break
            reserve *= 2.0
        whole = change + self.to_seams
        after = misses - self.slopes @ whole
        return whole.reshape(-1, 2), float(after @ after)


def reach_of(seams: SeamSystem, slopes: FloatArray) -> Reach:
    """Return what changes can do; `slopes` (r, 2k) are of the readings over what is let pass."""
    count, size = slopes.shape
    loads = np.zeros((size, count + 1))
    loads[:, :count] = seams.cost.on_outlines(slopes).T
    faults = np.zeros((len(seams.faults), count + 1))
    faults[:, count] = -seams.faults
    found = seams.least(loads, faults)
    return Reach(slopes, found[:, :count], found[:, count])
