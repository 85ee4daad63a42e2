"""Edges that a triangulation must have, put in by turning the diagonals that cross them."""

from __future__ import annotations

from collections import deque

import numpy as np

from unroll.types.arrays import FloatArray, IntArray


def recover_edges(points: FloatArray, faces: IntArray, wanted: IntArray) -> IntArray:
    """Return a triangulation of the same points that holds every edge of `wanted`.

    Parameters
    ----------
    points : (n, 2) float
    faces : (m, 3) int
        Anticlockwise triangulation of the points' convex hull.
    wanted : (k, 2) int
        Edges to hold; they must not cross one another or run through another point.

    Raises
    ------
    ValueError
        When an edge cannot be had, because a point lies on it.

    Notes
    -----
    S. W. Sloan, Computers & Structures 47, 1993, doi 10.1016/0045-7949(93)90239-A: each crossing
    edge whose two faces form a convex quadrangle is turned, until none crosses.
    """
    have = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    size = len(points)
    held = set((have[:, 0] * size + have[:, 1]).tolist())
    missing = [(int(a), int(b)) for a, b in wanted if min(a, b) * size + max(a, b) not in held]
    if not missing:
        return faces
    opposite = {}
    for a, b, c in faces.tolist():
        opposite[a, b], opposite[b, c], opposite[c, a] = c, a, b
    for start, end in missing:
        _recover(points, opposite, start, end)
    found = {
        tuple(np.roll((a, b, c), -int(np.argmin((a, b, c)))).tolist())
        for (a, b), c in opposite.items()
    }
    return np.array(sorted(found), dtype=np.int64)


def _recover(
    points: FloatArray, opposite: dict[tuple[int, int], int], start: int, end: int
) -> None:
    """Turn the edges that cross start-end until it is an edge."""
    crossing = deque(
        (a, b)
        for (a, b) in opposite
        if a < b and not {a, b} & {start, end} and _cross(points, a, b, start, end)
    )
    for _ in range(50 * (len(crossing) + 1) ** 2):
        if not crossing:
            break
        a, b = crossing.popleft()
        if (a, b) not in opposite or (b, a) not in opposite:
            continue
        c, d = opposite[a, b], opposite[b, a]
        if _side(points, c, d, a) >= 0 or _side(points, c, d, b) <= 0:
            crossing.append((a, b))
            continue
        _turn(opposite, a, b, c, d)
        if not {c, d} & {start, end} and _cross(points, c, d, start, end):
            crossing.append((c, d))
    if (start, end) not in opposite and (end, start) not in opposite:
        raise ValueError(f"edge {start}-{end} of the outline runs through another of its points")


def _turn(opposite: dict[tuple[int, int], int], a: int, b: int, c: int, d: int) -> None:
    """Replace the faces abc and bad by dbc and cad."""
    del opposite[a, b], opposite[b, a]
    for u, v, w in ((d, b, c), (c, a, d)):
        opposite[u, v], opposite[v, w], opposite[w, u] = w, u, v


def _side(points: FloatArray, a: int, b: int, c: int) -> float:
    """Return twice the signed area of abc."""
    ux, uy = points[b] - points[a]
    vx, vy = points[c] - points[a]
    return float(ux * vy - uy * vx)


def _cross(points: FloatArray, a: int, b: int, c: int, d: int) -> bool:
    """Tell whether the open segments ab and cd cross."""
    return (
        _side(points, a, b, c) * _side(points, a, b, d) < 0
        and _side(points, c, d, a) * _side(points, c, d, b) < 0
    )
