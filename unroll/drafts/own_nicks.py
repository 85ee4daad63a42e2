"""Notches that are cut into an outline: a V, a U, a slit, or a small point that juts out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from unroll.drafts.own_corners import Corners, corners_of, run_length
from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.polylines import lengths_along, turn_between

REACH_MM = 1.5  # over which a corner of a notch turns
LEG_MM = 1.8, 12.0  # a dart's leg is longer
MOST_INSIDE = 4  # corners of a notch between its two ends: a round U has four
BESIDE_MM, ON_DEG = 4.0, 25.0  # beside it, where the outline runs on as if it were not there


def without_nicks(
    points: FloatArray, joints: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return an outline without the notches cut into it, its joints, and where they were, (n, 2).

    Parameters
    ----------
    points : (k, 2) float
        Anticlockwise, the first point not repeated.
    joints : (j,) int
        Points where drawn lines meet; those of a notch are none of the outline's.
    """
    corners = corners_of(points, reach=REACH_MM)
    gone, places = set[int](), []
    for start, inside, end in _notched(corners):
        if _is_small(points, start, inside, end) and _runs_on(points, start, end):
            places.append(0.5 * (points[start] + points[end]))
            span = (end - start) % len(points)
            gone |= {(start + step) % len(points) for step in range(span + 1)}
    kept = np.array([index not in gone for index in range(len(points))])
    if len(places) == 0 or kept.sum() < 3:
        return points, joints, np.zeros((0, 2))
    at = np.cumsum(kept) - 1
    return points[kept], at[joints[kept[joints]]], np.array(places)


def _notched(corners: Corners) -> Iterator[tuple[int, IntArray, int]]:
    """Yield the ends of what may be a notch, and the corners between: they turn the other way."""
    count = len(corners.at)
    for first in range(count):
        for inside in range(1, min(MOST_INSIDE, count - 3) + 1):
            run = (first + np.arange(inside + 2)) % count
            turns = corners.turn_deg[run]
            is_slit = inside == 1 and abs(turns[1]) > 150
            if turns[0] * turns[-1] > 0 and (is_slit or (turns[0] * turns[1:-1] < 0).all()):
                at = corners.at[run]
                yield int(at[0]), at[1:-1], int(at[-1])


def _is_small(points: FloatArray, start: int, inside: IntArray, end: int) -> bool:
    """Tell whether a notch's sides, up to its deepest corner, and its width are a notch's."""
    away = np.linalg.norm(points[inside] - 0.5 * (points[start] + points[end]), axis=1)
    tip = int(inside[np.argmax(away)])
    legs = run_length(points, start, tip), run_length(points, tip, end)
    wide = float(np.linalg.norm(points[end] - points[start]))
    return min(legs) > LEG_MM[0] and max(legs) < LEG_MM[1] and wide < 1.6 * min(legs)


def _runs_on(points: FloatArray, start: int, end: int) -> bool:
    """Tell whether an outline leaves a place in the direction in which it came to another."""
    closed = np.vstack([points, points[:1]])
    along = lengths_along(closed)

    def place(at: float) -> FloatArray:
        return np.array([np.interp(at % along[-1], along, closed[:, k]) for k in range(2)])

    before = points[start] - place(float(along[start]) - BESIDE_MM)
    after = place(float(along[end]) + BESIDE_MM) - points[end]
    across = points[end] - points[start]
    turns = [abs(turn_between(before, after))]
    if np.linalg.norm(across) > 1.0:  # a slit has no width to speak of
        turns += [abs(turn_between(before, across))]
    return max(turns) < ON_DEG
