"""Averages over a mesh: percentiles by area, face values carried to corners, vertex normals."""

from __future__ import annotations

import numpy as np

from unroll.types.arrays import FloatArray, IntArray


def area_percentile(values: FloatArray, weights: FloatArray, percent: float) -> float:
    """Return the value below which `percent` of the weight lies.

    Parameters
    ----------
    values, weights : (m,) float
        A value a face and the face's share of the area.
    percent : float
        0 to 100.

    Notes
    -----
    The middle of each face's own weight is its place on the scale, so the answer does not depend
    on how finely an area of equal value is divided.

    Examples
    --------
    >>> import numpy as np
    >>> area_percentile(np.array([1.0, 2.0, 3.0]), np.array([1.0, 1.0, 2.0]), 100)
    3.0
    """
    order = np.argsort(values, kind="stable")
    share = weights[order] / weights.sum()
    place = np.cumsum(share) - 0.5 * share
    return float(np.interp(percent / 100.0, place, values[order]))


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
