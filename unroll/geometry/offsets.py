"""Parallel lines at a distance: exact on straight lines and arcs."""

from __future__ import annotations

import numpy as np

from unroll.geometry.flat_lines import lengths_along
from unroll.types.arrays import FloatArray


def right_normals(tangents: FloatArray) -> FloatArray:
    """Return unit normals, (k, 2), to the right of the direction of travel."""
    return np.stack([tangents[..., 1], -tangents[..., 0]], axis=-1)


def offset_right(points: FloatArray, tangents: FloatArray, distance: float) -> FloatArray:
    """Return the parallel of a curve, (k, 2), at `distance` to the right of travel.

    Parameters
    ----------
    points, tangents : (k, 2) float
        Points of the curve, mm, and its unit tangents there.
    distance : float
        mm; negative lies to the left.

    Notes
    -----
    Each point moves along its own normal, which is exact for any curve whose tangents are exact;
    the parallel of a hollow curve folds over itself when the distance exceeds the radius: see
    `tightest_hollow`.

    Examples
    --------
    >>> line, ahead = np.array([[0.0, 0.0], [5.0, 0.0]]), np.array([[1.0, 0.0], [1.0, 0.0]])
    >>> offset_right(line, ahead, 2.0).tolist()
    [[0.0, -2.0], [5.0, -2.0]]
    """
    return points + distance * right_normals(tangents)


def tightest_hollow(points: FloatArray, tangents: FloatArray) -> float:
    """Return the smallest radius of a curve where it bends to the right, mm; infinity if nowhere.

    That is the largest distance to which it can be offset to the right.
    """
    step = np.diff(lengths_along(points))
    cross = tangents[:-1, 0] * tangents[1:, 1] - tangents[:-1, 1] * tangents[1:, 0]
    turn = np.arctan2(cross, np.einsum("ij,ij->i", tangents[:-1], tangents[1:]))
    is_right = (turn < -1e-9) & (step > 0)
    if not np.any(is_right):
        return float("inf")
    # the chord of an arc subtends its turn: radius = (chord / 2) / sin(turn / 2)
    return float(np.min(0.5 * step[is_right] / np.sin(-0.5 * turn[is_right])))
