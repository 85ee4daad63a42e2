"""Points found again among flat triangles."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from unroll.types.arrays import FloatArray, IntArray


def locate(points: FloatArray, corners: FloatArray) -> tuple[IntArray, FloatArray]:
    """Find the triangle that each point lies in, or nearly.

    Parameters
    ----------
    points : (k, 2) float
    corners : (m, 3, 2) float
        Triangles, anticlockwise.

    Returns
    -------
    index : (k,) int
    weights : (k, 3) float
        Barycentric; a little negative for a point outside all triangles, which takes the one it
        lies outside of by the least share.

    Examples
    --------
    >>> index, weights = locate(np.array([[0.25, 0.25]]), np.array([[[0, 0], [1, 0], [0, 1.0]]]))
    >>> index.tolist(), weights.tolist()
    ([0], [[0.5, 0.25, 0.25]])
    """
    near = min(16, len(corners))
    _, candidates = cKDTree(corners.mean(axis=1)).query(points, k=near)
    candidates = np.asarray(candidates).reshape(len(points), near)
    a = corners[candidates, 0]
    u, v = corners[candidates, 1] - a, corners[candidates, 2] - a
    offset = points[:, None] - a
    doubled = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    two = (offset[..., 0] * v[..., 1] - offset[..., 1] * v[..., 0]) / doubled
    three = (u[..., 0] * offset[..., 1] - u[..., 1] * offset[..., 0]) / doubled
    weights = np.stack([1 - two - three, two, three], axis=-1)
    best = np.argmax(weights.min(axis=-1), axis=1)
    rows = np.arange(len(points))
    return candidates[rows, best], weights[rows, best]
