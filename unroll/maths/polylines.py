"""Polylines: lengths, points at a length, parts, crossings, directions and corners."""

from __future__ import annotations

import numpy as np
import shapely

from unroll.maths.arrays import FloatArray, numbered


def chords(points: FloatArray) -> FloatArray:
    """Return the length of each step of a polyline, (k - 1,), mm; of points in any dimension."""
    return np.asarray(np.linalg.norm(np.diff(points, axis=0), axis=1))


def lengths(points: FloatArray) -> FloatArray:
    """Return the lengths of many polylines of as many points, (..., k, d) to (...), mm."""
    return np.asarray(np.linalg.norm(np.diff(points, axis=-2), axis=-1).sum(axis=-1))


def lengths_along(points: FloatArray) -> FloatArray:
    """Return the distance from the start to each point, (k,), along a polyline, mm."""
    return np.concatenate([[0.0], np.cumsum(chords(points))])


def point_at(points: FloatArray, along: float) -> FloatArray:
    """Return the point, (2,), at the distance `along` from the start of a polyline."""
    return at_length(points, points, along)


def at_length(points: FloatArray, values: FloatArray, along: float) -> FloatArray:
    """Return what runs evenly between values at a polyline's points, (k, 2), at a distance."""
    at = lengths_along(points)
    return np.array([np.interp(along, at, values[:, 0]), np.interp(along, at, values[:, 1])])


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


def closest_along(points: FloatArray, point: FloatArray) -> tuple[float, float]:
    """Return how far along a polyline its nearest place to a point lies, and how far off, mm."""
    line = shapely.LineString(points)
    place = shapely.Point(point)
    return float(shapely.line_locate_point(line, place)), float(shapely.distance(line, place))


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


def length(points: FloatArray) -> float:
    """Return the length of a polyline, mm."""
    return float(chords(points).sum())


def joined(runs: list[FloatArray]) -> FloatArray:
    """Return runs that follow each other as one polyline, shared ends once."""
    return np.concatenate([runs[0], *(run[1:] for run in runs[1:])])


def spaced(points: FloatArray, step: float) -> FloatArray:
    """Return a polyline with points added, so that none are more than `step` mm apart."""
    gaps = chords(points)
    counts = np.maximum(np.ceil(gaps / step), 1).astype(int)
    chord, number = numbered(counts)
    added = points[chord] + (number / counts[chord])[:, None] * np.diff(points, axis=0)[chord]
    return np.concatenate([added, points[-1:]])


def cut_by_line(points: FloatArray, origin: FloatArray, direction: FloatArray) -> FloatArray:
    """Return where a straight line cuts a polyline, as distances along the line from `origin`.

    Parameters
    ----------
    points : (k, 2) float
        Open polyline; repeat the first point to close it.
    origin, direction : (2,) float
        The line.

    Returns
    -------
    (n,) float
        Sorted, mm. A point that lies on the line counts once.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4], [0, 0]])
    >>> cut_by_line(square, np.array([0.0, 1]), np.array([1.0, 0])).tolist()
    [0.0, 4.0]
    """
    unit = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    gap = points - origin
    along, off = gap @ unit, gap @ np.array([-unit[1], unit[0]])
    is_above = off >= 0
    at = np.nonzero(is_above[1:] != is_above[:-1])[0]
    share = off[at] / (off[at] - off[at + 1])
    return np.sort(along[at] + share * (along[at + 1] - along[at]))


def end_direction(points: FloatArray, *, reach: float = 8.0) -> FloatArray:
    """Return the direction, (2,), in which a polyline leaves its first point.

    Notes
    -----
    A parabola is laid through the first `reach` mm, so that neither the bend of the line nor a
    single short step of it turns the answer.
    """
    at = lengths_along(points)
    count = max(int(np.searchsorted(at, min(reach, 0.5 * at[-1]), side="right")), 2)
    t, gap = at[1:count], points[1:count] - points[0]
    columns = np.column_stack([t, t**2]) if len(t) > 1 else t[:, None]
    slope: FloatArray = np.linalg.lstsq(columns, gap, rcond=None)[0][0]
    return slope / np.linalg.norm(slope)


def corner_deg(arriving: FloatArray, leaving: FloatArray, *, reach: float = 8.0) -> float:
    """Return the angle inside an anticlockwise outline between two runs that meet, degrees.

    Parameters
    ----------
    arriving, leaving : (k, 2) float
        The run that ends at the corner, and the one that starts there.

    Examples
    --------
    >>> corner_deg(np.array([[0.0, 0], [9, 0]]), np.array([[9.0, 0], [9, 9]]))
    90.0
    """
    back = end_direction(arriving[::-1], reach=reach)
    on = end_direction(leaving, reach=reach)
    angle = np.arctan2(back[1], back[0]) - np.arctan2(on[1], on[0])
    turned = float(np.degrees(angle)) % 360.0
    return turned - 360.0 if turned > 350.0 else turned


def crosses_itself(outline: FloatArray) -> bool:
    """Tell whether a closed outline, (k, 2), without its repeat, crosses or touches itself."""
    return not bool(shapely.Polygon(outline).is_valid)


def signed_distances(points: FloatArray, outline: FloatArray) -> FloatArray:
    """Return how far points lie outside a closed outline, (n,), mm; negative inside.

    Parameters
    ----------
    points : (n, 2) float
    outline : (k, 2) float
        First point not repeated.
    """
    ring = shapely.Polygon(outline)
    marks = shapely.points(points)
    distance = shapely.distance(marks, ring.exterior)
    return np.asarray(np.where(shapely.contains(ring, marks), -distance, distance))


def sharp_corners(
    points: FloatArray, *, reach: float = 3.0, limit_deg: float = 20.0
) -> tuple[FloatArray, FloatArray]:
    """Return where a polyline turns sharply: distances from its start, mm, and turns, degrees.

    Parameters
    ----------
    points : (k, 2) float
    reach : float
        Length of line before and after a point over which its turn is measured, mm.
    limit_deg : float
        Least turn of a corner, degrees.

    Returns
    -------
    at, turn : (n,) float
        The sharpest first; turns without sign.

    Notes
    -----
    The turn at a point is the angle between the chords of `reach` mm before and after it. Where
    the edges are longer than that it is the angle between two edges; where they are short, noise of
    the samples does not turn it, a rounded corner is still one, and an even bend of radius r turns
    by reach / r only. Of points within `reach` of each other the sharpest stands for all.

    Examples
    --------
    >>> at, turn = sharp_corners(np.array([[0.0, 0], [12, 0], [12, 12], [13, 24]]))
    >>> at.tolist(), turn.round(1).tolist()
    ([12.0], [90.0])
    """
    at = lengths_along(points)

    def places(along: FloatArray) -> FloatArray:
        return np.stack([np.interp(along, at, points[:, k]) for k in range(2)], axis=1)

    inner = at[1:-1]
    before, after = places(inner) - places(inner - reach), places(inner + reach) - places(inner)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", before, after))))
    kept: list[int] = []
    for k in np.argsort(-turn, kind="stable"):
        if turn[k] >= limit_deg and all(abs(inner[k] - inner[j]) >= reach for j in kept):
            kept.append(int(k))
    return inner[kept], turn[kept]
