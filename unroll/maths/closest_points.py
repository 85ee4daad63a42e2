"""Nearest places on a surface, and the smoothest values over one between values that are given."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import spsolve
from scipy.spatial import cKDTree

from unroll.maths.arrays import BoolArray, FloatArray, IntArray
from unroll.maths.triangles import vertex_normals

CANDIDATES = 24
ON_IT = 1e-9  # nearer than that a point lies on the surface


def closest_on_faces(
    points: FloatArray, vertices: FloatArray, faces: IntArray
) -> tuple[IntArray, FloatArray]:
    """Find the nearest place on a surface for each point.

    Parameters
    ----------
    points : (k, 3) float
    vertices : (n, 3) float
    faces : (m, 3) int
        Triangles of like size: the nearest is looked for among the CANDIDATES whose centres are.

    Returns
    -------
    index : (k,) int
        The face.
    weights : (k, 3) float
        Where on it, barycentric.

    Examples
    --------
    >>> corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0.0]])
    >>> index, weights = closest_on_faces(np.array([[2.0, 0, 1]]), corners, np.array([[0, 1, 2]]))
    >>> index.tolist(), weights.tolist()
    ([0], [[0.0, 1.0, 0.0]])
    """
    near = min(CANDIDATES, len(faces))
    _, found = cKDTree(vertices[faces].mean(axis=1)).query(points, k=near)
    candidates = np.asarray(found).reshape(len(points), near)
    spread = np.repeat(points, near, axis=0)
    weights = _on_triangles(spread, vertices[faces[candidates.ravel()]])
    places = np.einsum("kc,kcx->kx", weights, vertices[faces[candidates.ravel()]])
    away = np.linalg.norm(places - spread, axis=1).reshape(len(points), near)
    best = np.argmin(away, axis=1)
    rows = np.arange(len(points))
    return candidates[rows, best], weights.reshape(len(points), near, 3)[rows, best]


def signed_distances(
    points: FloatArray, vertices: FloatArray, faces: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return how far outside a surface each point lies, with the nearest face and place.

    Returns
    -------
    distances : (k,) float
        Positive on the side that the normals point to.
    index : (k,) int
    weights : (k, 3) float
    """
    index, weights, offset, normals = _nearest(points, vertices, faces)
    return _signed(offset, normals), index, weights


def ways_off(
    points: FloatArray, vertices: FloatArray, faces: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return how far outside a surface each point lies, and the way in which that grows.

    Parameters
    ----------
    points : (k, 3) float
    vertices : (n, 3) float
    faces : (m, 3) int
        As for `closest_on_faces`.

    Returns
    -------
    distances : (k,) float
        Positive on the side that the normals point to.
    ways : (k, 3) float
        Of unit length: away from the nearest place, or towards it where the point lies inside; the
        surface's normal where it lies on it.
    """
    _, _, offset, normals = _nearest(points, vertices, faces)
    distances = _signed(offset, normals)
    ways = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    far = np.abs(distances) > ON_IT
    ways[far] = offset[far] / distances[far, None]
    return distances, ways


def _nearest(
    points: FloatArray, vertices: FloatArray, faces: IntArray
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Return the nearest faces and places, the ways from there, and the normals there, (k, 3)."""
    index, weights = closest_on_faces(points, vertices, faces)
    corners = faces[index]
    places = np.einsum("kc,kcx->kx", weights, vertices[corners])
    normals = np.einsum("kc,kcx->kx", weights, vertex_normals(vertices, faces)[corners])
    return index, weights, points - places, normals


def _signed(offset: FloatArray, normals: FloatArray) -> FloatArray:
    side = np.where(np.sum(offset * normals, axis=1) >= 0, 1.0, -1.0)
    return np.asarray(side * np.linalg.norm(offset, axis=1))


def _on_triangles(points: FloatArray, corners: FloatArray) -> FloatArray:
    """Return the barycentric place on each triangle (k, 3, 3) that is nearest to its point (k, 3).

    Notes
    -----
    The regions of C. Ericson, "Real-Time Collision Detection", 2005, section 5.1.5.
    """
    a, b, c = corners.transpose(1, 0, 2)
    ab, ac, ap = b - a, c - a, points - a
    d1, d2 = np.sum(ab * ap, axis=1), np.sum(ac * ap, axis=1)
    d3, d4 = d1 - np.sum(ab * ab, axis=1), d2 - np.sum(ac * ab, axis=1)
    d5, d6 = d1 - np.sum(ab * ac, axis=1), d2 - np.sum(ac * ac, axis=1)
    vc, vb, va = d1 * d4 - d3 * d2, d5 * d2 - d1 * d6, d3 * d6 - d5 * d4
    total = va + vb + vc
    total = np.where(total > 0, total, 1.0)
    one, zero = np.ones(len(points)), np.zeros(len(points))

    def share(part: FloatArray, whole: FloatArray) -> FloatArray:
        return np.asarray(part / np.where(whole != 0, whole, 1.0))

    along_ab, along_ac = share(d1, d1 - d3), share(d2, d2 - d6)
    along_bc = share(d4 - d3, (d4 - d3) + (d5 - d6))
    cases = [
        ((d1 <= 0) & (d2 <= 0), (one, zero, zero)),
        ((d3 >= 0) & (d4 <= d3), (zero, one, zero)),
        ((d6 >= 0) & (d5 <= d6), (zero, zero, one)),
        ((vc <= 0) & (d1 >= 0) & (d3 <= 0), (1 - along_ab, along_ab, zero)),
        ((vb <= 0) & (d2 >= 0) & (d6 <= 0), (1 - along_ac, zero, along_ac)),
        ((va <= 0) & (d4 - d3 >= 0) & (d5 - d6 >= 0), (zero, 1 - along_bc, along_bc)),
    ]
    inside = (va / total, vb / total, vc / total)
    conditions = [condition for condition, _ in cases]
    columns = [
        np.select(conditions, [places[k] for _, places in cases], default=inside[k])
        for k in range(3)
    ]
    return np.stack(columns, axis=1)


def spread_between(faces: IntArray, values: FloatArray, is_given: BoolArray) -> FloatArray:
    """Return values at all vertices, each that is not given the mean of its neighbours'.

    Parameters
    ----------
    faces : (m, 3) int
    values : (n,) float
    is_given : (n,) bool

    Examples
    --------
    >>> strip = np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]])
    >>> given = np.array([True, True, False, True, True])
    >>> float(spread_between(strip, np.array([0.0, 0.0, 9.0, 1.0, 1.0]), given)[2])
    0.5
    """
    count = len(values)
    ends = faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    keys = np.unique(np.sort(ends, axis=1), axis=0)
    both = np.concatenate([keys, keys[:, ::-1]])
    link = coo_matrix((np.ones(len(both)), both.T), shape=(count, count)).tocsr()
    flow = (diags(np.asarray(link.sum(axis=1)).ravel()) - link).tocsr()
    free = np.flatnonzero(~is_given & (np.diff(link.indptr) > 0))
    out = np.array(values)
    if len(free):
        given = np.flatnonzero(is_given)
        out[free] = spsolve(flow[free][:, free].tocsc(), -flow[free][:, given] @ values[given])
    return out
