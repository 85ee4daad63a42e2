"""Polylines in the plane: lengths, places along them, crossings."""

from __future__ import annotations

import numpy as np

from unroll.types.arrays import FloatArray


def lengths_along(points: FloatArray) -> FloatArray:
    """Return the distance from the start to each point, (k,), along a polyline, mm."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def point_at(points: FloatArray, along: float) -> FloatArray:
    """Return the point, (2,), at the distance `along` from the start of a polyline."""
    at = lengths_along(points)
    return np.array([np.interp(along, at, points[:, 0]), np.interp(along, at, points[:, 1])])


def direction_at(points: FloatArray, along: float) -> FloatArray:
    """Return the unit direction of travel, (2,), at the distance `along` from the start."""
    at = lengths_along(points)
    last = len(points) - 2
    index = int(np.clip(np.searchsorted(at, along, side="right") - 1, 0, last))
    step = points[index + 1] - points[index]
    out: FloatArray = step / np.linalg.norm(step)
    return out


def part(points: FloatArray, start: float, end: float) -> FloatArray:
    """Return the part of a polyline between two distances from its start.

    Examples
    --------
    >>> part(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]), 4.0, 12.0).tolist()
    [[4.0, 0.0], [10.0, 0.0], [10.0, 2.0]]
    """
    at = lengths_along(points)
    inside = points[(at > start + 1e-9) & (at < end - 1e-9)]
    return np.vstack([point_at(points, start), inside, point_at(points, end)])


def crossings(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return where two polylines cross, (n, 2): distance along the first, and along the second."""
    p, r = first[:-1], np.diff(first, axis=0)
    q, s = second[:-1], np.diff(second, axis=0)
    cross = r[:, None, 0] * s[None, :, 1] - r[:, None, 1] * s[None, :, 0]
    gap = q[None] - p[:, None]
    safe = np.where(cross == 0, np.inf, cross)
    t = (gap[..., 0] * s[None, :, 1] - gap[..., 1] * s[None, :, 0]) / safe
    u = (gap[..., 0] * r[:, None, 1] - gap[..., 1] * r[:, None, 0]) / safe
    slack = 1e-9
    is_hit = (cross != 0) & (t >= -slack) & (t <= 1 + slack) & (u >= -slack) & (u <= 1 + slack)
    i, j = np.nonzero(is_hit)
    at, to = lengths_along(first), lengths_along(second)
    return np.stack(
        [at[i] + t[i, j] * (at[i + 1] - at[i]), to[j] + u[i, j] * (to[j + 1] - to[j])], axis=1
    )


def extended(points: FloatArray, start: FloatArray, end: FloatArray, by: float) -> FloatArray:
    """Return a polyline made longer by straight ends: `by` mm along unit directions of travel."""
    return np.vstack([points[:1] - by * start, points, points[-1:] + by * end])


def signed_area(points: FloatArray) -> float:
    """Return the area within a closed polyline, mm²; positive when it runs anticlockwise."""
    x, y = points.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def turn_between(before: FloatArray, after: FloatArray) -> float:
    """Return the turn from one direction to the next, radians, positive to the left."""
    cross = before[0] * after[1] - before[1] * after[0]
    return float(np.arctan2(cross, before @ after))


def tangent_through(points: FloatArray, index: int) -> FloatArray:
    """Return the unit direction at an inner point of a polyline, of the parabola through three."""
    before, after = points[index] - points[index - 1], points[index + 1] - points[index]
    h, k = np.linalg.norm(before), np.linalg.norm(after)
    slope = (before / h) * k + (after / k) * h
    out: FloatArray = slope / np.linalg.norm(slope)
    return out
