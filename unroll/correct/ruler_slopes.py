"""How what a ruler measures of a filled arm changes as its vertices move, to first order."""

from __future__ import annotations

import numpy as np

from unroll.correct.rulers import ELBOW, LEVELS, Ruler, across, lean_of, taut
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns.corrected import GIRTH_LEVELS

SMALL_MM = 1e-3  # a centre is moved by, to see how the arm's lean answers


def slopes_of(ruler: Ruler, filled: FloatArray) -> FloatArray:
    """Return the slopes of what `missed` tells of the arm as a whole, (GIRTH_LEVELS + 6, 3n).

    Parameters
    ----------
    ruler : Ruler
    filled : (n, 3) float
        The filled place of each vertex, mm.

    Returns
    -------
    slopes : (GIRTH_LEVELS + 6, 3n) float
        Of the relative girths, the twist, the hang outward and forward, rad, and the elbow's
        centre, mm, by the vertices' places, 1/mm.

    Notes
    -----
    Lines are taped here as there: round their hull, and their centres weigh lengths. So points that
    slide along a line change nothing, which no mean of the points would tell.
    """
    taped = {ring: _tape(ruler, filled, ring) for ring in {*range(GIRTH_LEVELS), *LEVELS}}
    girths = np.array([taped[ring][0] / ruler.girths[ring] for ring in range(GIRTH_LEVELS)])
    centres = np.array([taped[ring][1] for ring in LEVELS])
    at = np.array([taped[ring][2] for ring in LEVELS])
    hang = np.einsum("akc,kcnx->anx", _lean_slopes(ruler, at), centres)
    rows = np.concatenate([girths, _twist(ruler, filled)[None], hang, taped[ELBOW][1]])
    return np.asarray(rows.reshape(len(rows), -1))


def _tape(ruler: Ruler, points: FloatArray, ring: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the slopes of a line's girth, (n, 3), and of its centre, (3, n, 3), and that, (3,)."""
    corners, weights = _ring_points(ruler, ring)
    line = np.einsum("kc,kcx->kx", weights, points[corners])
    hull, plane = taut(line)
    around = hull.vertices
    steps = np.roll(line[around], -1, axis=0) - line[around]
    flat = steps @ plane.T
    ways = flat / np.linalg.norm(flat, axis=1, keepdims=True) @ plane
    girth = np.roll(ways, 1, axis=0) - ways

    lengths = np.linalg.norm(steps, axis=1)
    ways, middles = steps / lengths[:, None], line[around] + 0.5 * steps
    whole = lengths.sum()
    centre = lengths @ middles / whole
    turned = np.einsum("kc,kx->kcx", (middles - centre) / whole, ways)
    shares = 0.5 * (lengths + np.roll(lengths, 1)) / whole
    moved = np.roll(turned, 1, axis=0) - turned + shares[:, None, None] * np.eye(3)
    both = _spread(np.concatenate([girth[:, None], moved], axis=1), len(points),
                   corners[around], weights[around])  # fmt: skip
    return both[0], both[1:], centre


def _spread(slopes: FloatArray, count: int, corners: IntArray, weights: FloatArray) -> FloatArray:
    """Return slopes by points of faces, (k, r, 3), as ones by the faces' corners, (r, n, 3)."""
    out = np.zeros((count, *slopes.shape[1:]))
    np.add.at(out, corners, weights[:, :, None, None] * slopes[:, None])
    return np.asarray(out.transpose(1, 0, 2))


def _ring_points(ruler: Ruler, ring: int) -> tuple[IntArray, FloatArray]:
    """Return corners (k, 3) and weights (k, 3) of the points of a line round the arm."""
    faces = ruler.arm.mesh.faces
    corners = np.concatenate([faces[trace.faces] for trace in ruler.rings[ring]])
    return corners, np.concatenate([trace.weights for trace in ruler.rings[ring]])


def _lean_slopes(ruler: Ruler, centres: FloatArray) -> FloatArray:
    """Return the slopes of the lean, outward and forward, by the levels' centres, (2, 4, 3)."""
    out = np.zeros((2, *centres.shape))
    for place in np.ndindex(centres.shape):
        ahead, behind = centres.copy(), centres.copy()
        ahead[place] += SMALL_MM
        behind[place] -= SMALL_MM
        apart = lean_of(ruler, ahead) - lean_of(ruler, behind)
        out[(slice(None), *place)] = apart[[1, 0]] / (2.0 * SMALL_MM)
    return out


def _twist(ruler: Ruler, points: FloatArray) -> FloatArray:
    """Return the slopes of the turn about the arm's length, front outward, (n, 3)."""
    axis, row = ruler.way, np.zeros_like(points)
    for ring in LEVELS:
        pairs, shares = ruler.across[ring]
        weights = np.stack([1.0 - shares, shares], axis=1)
        way = across(ruler, points, ring)
        way = way - (way @ axis) * axis
        turn = np.cross(way, axis) / (way @ way) / len(LEVELS)
        np.add.at(row, pairs, np.array([1.0, -1.0])[:, None, None] * weights[:, :, None] * turn)
    return row
