"""Averages over a mesh: percentiles by area, face values carried to corners, vertex normals."""

from __future__ import annotations

import numpy as np

from unroll.types.arrays import FloatArray, IntArray


def area_percentile(values: FloatArray, weights: FloatArray, percent: float) -> float:
    """Return the value at or below which `percent` of the weight lies.

    Parameters
    ----------
    values, weights : (m,) float
        A value a face and the face's share of the area.
    percent : float
        0 to 100.

    Examples
    --------
    >>> import numpy as np
    >>> area_percentile(np.array([3.0, 1.0, 2.0]), np.array([2.0, 1.0, 1.0]), 50)
    2.0
    """
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order])
    # A share that ends just at a face belongs to that face, whatever the last digit says.
    at = int(np.searchsorted(below, percent / 100.0 * below[-1] * (1 - 1e-12)))
    return float(values[order][min(at, len(values) - 1)])


def corner_means(
    values: FloatArray, weights: FloatArray, faces: IntArray, count: int
) -> FloatArray:
    """Return the weighted mean, at each of `count` vertices, of the faces around it, (count,).

    A vertex that no face touches gets 0.
    """
    corners = faces.ravel()
    total = np.bincount(corners, np.repeat(values * weights, 3), minlength=count)
    weight = np.bincount(corners, np.repeat(weights, 3), minlength=count)
    out: FloatArray = total / np.where(weight > 0, weight, 1.0)
    return out


def face_normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """Return each face's normal times twice its area, (m, 3)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    out: FloatArray = np.cross(b - a, c - a)
    return out


def vertex_normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """Return unit normals, (n, 3): the area-weighted mean of the faces around each vertex.

    A vertex that no face touches gets (0, 0, 1).
    """
    normals = np.zeros_like(vertices)
    np.add.at(normals, faces.ravel(), np.repeat(face_normals(vertices, faces), 3, axis=0))
    normals[~normals.any(axis=1)] = (0.0, 0.0, 1.0)
    out: FloatArray = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return out
