"""Where on a flat piece there is room for words."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from unroll.maths.arrays import BoolArray, FloatArray

_ENOUGH = 45.0


def quiet_place(outline: FloatArray, lines: Iterable[FloatArray]) -> tuple[FloatArray, float]:
    """Return a place inside an outline away from its edge and from the given lines, and its room.

    Parameters
    ----------
    outline : (k, 2) float
        Closed polygon, the first point not repeated, mm.
    lines : iterable of (j, 2) float
        Polylines to keep away from, mm.

    Returns
    -------
    place : (2,) float
        Of the places with the most room (45 mm is as good as more), the one nearest the middle.
    room : float
        Distance from there to the nearest line or edge, mm.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [100, 0], [100, 100], [0, 100]])
    >>> place, room = quiet_place(square, [])
    >>> place.tolist(), room
    ([50.0, 50.0], 50.0)
    """
    outline, lines = _thinned(outline), [_thinned(line) for line in lines]
    low, high = outline.min(axis=0), outline.max(axis=0)
    steps = [np.linspace(low[k], high[k], 43)[1:-1] for k in (0, 1)]
    spots = np.stack(np.meshgrid(*steps), axis=-1).reshape(-1, 2)
    spots = spots[_is_inside(spots, outline)]
    middle: FloatArray = outline.mean(axis=0)
    if len(spots) == 0:
        return middle, 0.0
    closed = np.concatenate([outline, outline[:1]])
    room = np.min([_distances(spots, line) for line in (closed, *lines)], axis=0)
    score = np.minimum(room, _ENOUGH) - 0.02 * np.linalg.norm(spots - middle, axis=1)
    best = int(np.argmax(score))
    return spots[best], float(room[best])


def _thinned(line: FloatArray) -> FloatArray:
    """About 80 points of a polyline, its end among them: words need no finer answer."""
    step = max(1, len(line) // 80)
    return np.concatenate([line[:-1:step], line[-1:]])


def _is_inside(spots: FloatArray, outline: FloatArray) -> BoolArray:
    """Count the edges crossed by a ray to the right: odd is inside."""
    a, b = outline, np.roll(outline, -1, axis=0)
    x, y = spots[:, :1], spots[:, 1:]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(spans, b[:, 1] - a[:, 1], 1.0)
    at = a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
    out: BoolArray = np.count_nonzero(spans & (x < at), axis=1) % 2 == 1
    return out


def _distances(spots: FloatArray, line: FloatArray) -> FloatArray:
    """Distance of each spot to the nearest segment of a polyline."""
    a, step = line[:-1], np.diff(line, axis=0)
    square = np.maximum(np.sum(step**2, axis=1), 1e-12)
    offset = spots[:, None] - a
    along = np.clip(np.sum(offset * step, axis=2) / square, 0.0, 1.0)
    out: FloatArray = np.linalg.norm(offset - along[..., None] * step, axis=2).min(axis=1)
    return out
