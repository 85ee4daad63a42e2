"""Polylines of a pattern: where straight lines meet them, how they end, how far apart they lie."""

from __future__ import annotations

import numpy as np
import shapely

from unroll.types.arrays import FloatArray


def walked(points: FloatArray) -> FloatArray:
    """Return the distance from the start to each point of a polyline, (k,), mm."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def length(points: FloatArray) -> float:
    """Return the length of a polyline, mm."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def place_at(points: FloatArray, along: float) -> FloatArray:
    """Return the point, (2,), at a distance from the start of a polyline, mm."""
    at = walked(points)
    return np.array([np.interp(along, at, points[:, k]) for k in range(2)])


def joined(runs: list[FloatArray]) -> FloatArray:
    """Return runs that follow each other as one polyline, shared ends once."""
    return np.concatenate([runs[0], *(run[1:] for run in runs[1:])])


def spaced(points: FloatArray, step: float) -> FloatArray:
    """Return a polyline with points added, so that none are more than `step` mm apart."""
    gaps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    counts = np.maximum(np.ceil(gaps / step), 1).astype(int)
    runs = [
        a + np.linspace(0, 1, n, endpoint=False)[:, None] * (b - a)
        for a, b, n in zip(points, points[1:], counts, strict=False)
    ]
    return np.concatenate([*runs, points[-1:]])


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
    at = walked(points)
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
