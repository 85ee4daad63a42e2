"""Faces of a surface that run through each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from unroll.types.arrays import FloatArray, IntArray


def crossing_faces(points: FloatArray, faces: IntArray) -> IntArray:
    """Return the pairs of faces (k, 2) that cut each other and share no corner.

    Parameters
    ----------
    points : (n, 3) float
    faces : (m, 3) int

    Examples
    --------
    >>> points = np.array([[0, 0, 0], [4, 0, 0], [0, 4, 0], [1, 1, -1], [1, 1, 2], [1, 9, 2.0]])
    >>> crossing_faces(points, np.array([[0, 1, 2], [3, 4, 5]])).tolist()
    [[0, 1]]
    """
    pairs = _close_pairs(points, faces)
    one, two = faces[pairs[:, 0]], faces[pairs[:, 1]]
    shares = (one[:, :, None] == two[:, None, :]).any(axis=(1, 2))
    pairs = pairs[~shares]
    cuts = np.zeros(len(pairs), dtype=bool)
    for edges, others in ((pairs[:, 0], pairs[:, 1]), (pairs[:, 1], pairs[:, 0])):
        corners = points[faces[others]]
        for k in range(3):
            start, end = points[faces[edges, k]], points[faces[edges, (k + 1) % 3]]
            cuts |= _pierces(start, end, corners)
    return np.asarray(pairs[cuts])


def _close_pairs(points: FloatArray, faces: IntArray) -> IntArray:
    """Return the pairs of faces whose boxes overlap, found among those with near centres."""
    corners = points[faces]
    low, high, centres = corners.min(axis=1), corners.max(axis=1), corners.mean(axis=1)
    reach = np.linalg.norm(corners - centres[:, None], axis=2).max(axis=1)
    # Most faces are alike; the few long ones (a card's fan) search on their own.
    usual = 1.5 * float(np.median(reach))
    is_long = reach > usual
    small, long = np.flatnonzero(~is_long), np.flatnonzero(is_long)
    tree = cKDTree(centres[small])
    found = [small[tree.query_pairs(2 * usual, output_type="ndarray").reshape(-1, 2)]]
    for face in long.tolist():
        others = np.arange(len(faces))
        others = others[(others < face) | ~is_long[others]]
        found.append(np.stack([np.full(len(others), face), others], axis=1))
    pairs = np.concatenate(found)
    a, b = pairs.T
    overlap = ((low[a] <= high[b]) & (low[b] <= high[a])).all(axis=1)
    return np.asarray(np.sort(pairs[overlap], axis=1), dtype=np.int64)


def _pierces(start: FloatArray, end: FloatArray, corners: FloatArray) -> NDArray[np.bool_]:
    """Tell which segments start-end run through the inside of their triangle."""
    a, b, c = corners.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    before, after = np.sum(normal * (start - a), axis=1), np.sum(normal * (end - a), axis=1)
    crosses = before * after < 0
    span = np.where(crosses, before - after, 1.0)
    hit = start + (end - start) * (np.where(crosses, before, 0.0) / span)[:, None]
    inside = crosses
    for u, v in ((a, b), (b, c), (c, a)):
        inside = inside & (np.sum(np.cross(v - u, hit - u) * normal, axis=1) > 0)
    return np.asarray(inside)
