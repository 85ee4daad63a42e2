"""Parallel lines at a distance: exact on straight lines and arcs."""

from __future__ import annotations

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import lengths_along


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


def parallel_right(points: FloatArray, tangents: FloatArray, distance: float) -> FloatArray:
    """Return the parallel of a curve to the right of travel, cleared of the loops of tight spots.

    Where the curve bends to the right more tightly than `distance`, its moved points run backwards
    and lie too near to it: they are dropped, and their neighbours run on until they meet.
    """
    line = offset_right(points, tangents, distance)
    if distance <= 0 or tightest_hollow(points, tangents)[0] >= distance:
        return line
    near = shapely.distance(shapely.points(line), shapely.LineString(points))
    keep = near > distance - 2e-3 - 1e-4 * distance
    keep[0] = keep[-1] = True
    out: list[FloatArray] = []
    for index in np.nonzero(keep)[0]:
        if out and not keep[index - 1]:
            corner = _meeting(out, line, int(index))
            if corner is not None:
                out.append(corner)
        out.append(line[index])
    return np.array(out)


def _meeting(out: list[FloatArray], line: FloatArray, index: int) -> FloatArray | None:
    """Return where the line so far, run on, meets the line from `index` on, run back."""
    if len(out) < 2 or index + 1 >= len(line):
        return None
    one, two = out[-1] - out[-2], line[index + 1] - line[index]
    gap = line[index] - out[-1]
    cross = one[0] * two[1] - one[1] * two[0]
    if abs(cross) < 1e-9:
        return None
    ahead = (gap[0] * two[1] - gap[1] * two[0]) / cross
    back = (gap[0] * one[1] - gap[1] * one[0]) / cross
    return out[-1] + ahead * one if ahead > 0 and back < 0 else None


def tightest_hollow(points: FloatArray, tangents: FloatArray) -> tuple[float, float]:
    """Return the smallest radius where a curve bends to the right, mm, and how far it turns there.

    The turn, radians, is that of the whole stretch around it that bends more tightly than twice
    the radius. (Infinity, 0) where the curve never bends to the right.
    """
    step = np.diff(lengths_along(points))
    cross = tangents[:-1, 0] * tangents[1:, 1] - tangents[:-1, 1] * tangents[1:, 0]
    turn = np.arctan2(cross, np.einsum("ij,ij->i", tangents[:-1], tangents[1:]))
    is_right = (turn < -1e-9) & (step > 0)
    if not np.any(is_right):
        return float("inf"), 0.0
    # the chord of an arc subtends its turn: radius = (chord / 2) / sin(turn / 2)
    radius = np.full(len(step), np.inf)
    radius[is_right] = 0.5 * step[is_right] / np.sin(-0.5 * turn[is_right])
    tightest = int(np.argmin(radius))
    is_near = radius <= 2 * radius[tightest]
    first, last = tightest, tightest
    while first > 0 and is_near[first - 1]:
        first -= 1
    while last + 1 < len(radius) and is_near[last + 1]:
        last += 1
    return float(radius[tightest]), float(-turn[first : last + 1].sum())
