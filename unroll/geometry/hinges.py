"""Bending of cloth that lies flat when free: a quadratic form over its inner edges."""

from __future__ import annotations

import numpy as np

from unroll.types.arrays import FloatArray, IntArray


def hinge_rows(
    faces: IntArray, rest: FloatArray, sheet: IntArray, seam_edges: IntArray
) -> tuple[IntArray, FloatArray]:
    """Return the bending rows of each inner edge: energy ½ B Σ |Σ_k rows[k] x[corners[k]]|².

    Parameters
    ----------
    faces : (m, 3) int
        Sewn faces.
    rest : (m, 3, 2) float
        Their flat corners, each face in a frame of its own.
    sheet : (m,) int
        Sheet of cloth each face is of; an edge between two sheets hinges freely.
    seam_edges : (k, 2) int
        Edges within a sheet that hinge freely too: closed darts.

    Returns
    -------
    corners : (h, 4) int
        The edge's two ends, then the two corners opposite it.
    rows : (h, 4) float
        Coefficients, 1/mm: zero for every flat state, so that B is in N mm.

    Notes
    -----
    M. Bergou, M. Wardetzky, D. Harmon, D. Zorin, E. Grinspun, "A quadratic bending model for
    inextensible surfaces", Symposium on Geometry Processing 2006, section 3. Their factor 3 is left
    out: on even triangles it makes a sheet three times as stiff as B says (after H. S. Seung, D. R.
    Nelson, Physical Review A 38, 1988, doi 10.1103/PhysRevA.38.1005).
    """
    size = int(faces.max()) + 1
    starts, ends = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    one, two = _twins(starts, ends, size)
    key = np.minimum(starts, ends) * size + np.maximum(starts, ends)
    seams = np.min(seam_edges, axis=1) * size + np.max(seam_edges, axis=1)
    is_inner = (sheet[one // 3] == sheet[two // 3]) & ~np.isin(key[one], seams)
    one, two = one[is_inner], two[is_inner]
    others = np.roll(faces, -2, axis=1).ravel()
    corners = np.stack([starts[one], ends[one], others[one], others[two]], axis=1)
    return corners, _coefficients(rest, one, two)


def _twins(starts: IntArray, ends: IntArray, size: int) -> tuple[IntArray, IntArray]:
    """Return the half-edges that run from a lower to a higher vertex, and those that run back."""
    up, down = np.flatnonzero(starts < ends), np.flatnonzero(starts > ends)
    up_key, down_key = starts[up] * size + ends[up], ends[down] * size + starts[down]
    shared, in_up, in_down = np.intersect1d(up_key, down_key, return_indices=True)
    return up[in_up], down[in_down]


def _coefficients(rest: FloatArray, one: IntArray, two: IntArray) -> FloatArray:
    """Return the hinge coefficients of the half-edges `one`, whose twins are `two`."""
    at = rest.reshape(-1, 2)
    to, off = np.roll(rest, -1, axis=1).reshape(-1, 2), np.roll(rest, -2, axis=1).reshape(-1, 2)
    start_left, end_left = _cot(at, to, off)[one], _cot(to, off, at)[one]
    start_right, end_right = _cot(to, off, at)[two], _cot(at, to, off)[two]
    doubled = _doubled(at, to, off)
    scale = np.sqrt(2.0 / (doubled[one] + doubled[two]))
    rows = np.stack(
        [
            end_left + end_right,
            start_left + start_right,
            -(start_left + end_left),
            -(start_right + end_right),
        ],
        axis=1,
    )
    return np.asarray(rows * scale[:, None])


def _cot(corner: FloatArray, one: FloatArray, two: FloatArray) -> FloatArray:
    """Return the cotangent of the angle at `corner` between the ways to `one` and `two`."""
    u, v = one - corner, two - corner
    return np.asarray(np.sum(u * v, axis=1) / np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def _doubled(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Return twice the area of each triangle."""
    u, v = b - a, c - a
    return np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
