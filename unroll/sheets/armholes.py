"""The armhole plate from what was measured of it: two of its measures, all three, or a tracing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq
from shapely import LinearRing

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, own
from unroll.maths.ellipses import ellipse_half_depth, ellipse_perimeter
from unroll.nouns import Armhole, Estimate

WIDTH_OVER_HEIGHT = 0.845  # a woman's plate, 98 by 116 mm; house value, low confidence
FEWEST_POINTS = 8
LEAST_SIZE, MOST_SIZE = 20.0, 500.0  # mm
FOLD_TOLERANCE = 0.01  # of the height: how far a hand-drawn side may run back up


def oval_armhole(
    width: float | None, height: float | None, girth: float | None
) -> tuple[Armhole, tuple[Estimate, ...]]:
    """Return the plate from at least one of its measures, and what had to be estimated.

    Examples
    --------
    >>> plate, estimated = oval_armhole(98.0, 116.0, None)
    >>> round(plate.girth, 1), [estimate.name for estimate in estimated]
    (336.7, ['armhole girth'])
    """
    found: list[Estimate] = []
    if width is None and height is None and girth is not None:
        height = 2.0 * float(ellipse_half_depth(girth, WIDTH_OVER_HEIGHT))
        width = WIDTH_OVER_HEIGHT * height
        source = f"from armhole girth, a width of {WIDTH_OVER_HEIGHT} of the height (house value)"
        found += [Estimate("armhole width", width, source),
                  Estimate("armhole height", height, source)]
    elif width is None and height is not None:
        width, source = _second(height, girth, WIDTH_OVER_HEIGHT)
        found.append(Estimate("armhole width", width, f"from armhole height{source}"))
    elif height is None and width is not None:
        height, source = _second(width, girth, 1.0 / WIDTH_OVER_HEIGHT)
        found.append(Estimate("armhole height", height, f"from armhole width{source}"))
    if width is None or height is None:
        raise UnrollError("armhole has no measure; expected a width, a height or a girth")
    if girth is None:
        girth = float(ellipse_perimeter(0.5 * width, 0.5 * height))
        found.append(Estimate("armhole girth", girth, "from armhole width and height, as an oval"))
    return Armhole(width, height, girth), tuple(found)


def other_diameter(known: float, girth: float) -> float:
    """Return an oval's second diameter from its first and its girth, mm.

    Examples
    --------
    >>> round(other_diameter(98.0, 336.75), 1)
    116.0
    """
    def too_long(other: float) -> float:
        return float(ellipse_perimeter(0.5 * known, 0.5 * other)) - girth

    return float(brentq(too_long, 1e-3 * known, girth))


def _second(known: float, girth: float | None, ratio: float) -> tuple[float, str]:
    """Return the plate's second diameter, and the words for where it comes from."""
    if girth is not None:
        return other_diameter(known, girth), " and girth, as an oval"
    return known * ratio, f", a width of {WIDTH_OVER_HEIGHT} of the height (house value)"


def traced_armhole(points: Sequence[Sequence[float]] | FloatArray) -> Armhole:
    """Return the plate of a traced outline.

    Parameters
    ----------
    points : (k, 2) array_like
        Around the plate, x forward and y up, mm; either way round, closed or not.

    Returns
    -------
    Armhole
        Outline anticlockwise from the shoulder point, its top, which lies at (0, 0).

    Raises
    ------
    UnrollError
        When the outline has too few points, is out of size, crosses itself, or folds back so
        that a level would cut it more than twice. The text goes on after "armhole outline ".
    """
    ring = _without_repeats(np.asarray(points, dtype=float))
    if len(ring) < FEWEST_POINTS:
        raise UnrollError(f"has {len(ring)} points; expected at least {FEWEST_POINTS}")
    width, height = np.ptp(ring, axis=0)
    for name, size in (("wide", width), ("high", height)):
        if not LEAST_SIZE <= size <= MOST_SIZE:
            raise UnrollError(f"is {size:.1f} mm {name}; expected {LEAST_SIZE:.0f} to "
                              f"{MOST_SIZE:.0f} (drawn at another scale?)")
    if not LinearRing(ring).is_simple:
        raise UnrollError("crosses itself; expected one smooth loop")
    ring = _from_the_top(ring)
    ring = _unfolded(ring)
    closed = np.vstack([ring, ring[:1]])
    girth = polylines.length(closed)
    return Armhole(float(np.ptp(ring[:, 0])), float(-ring[:, 1].min()), girth,
                   own(ring, float, None, 2))


def _without_repeats(points: FloatArray) -> FloatArray:
    """Return the loop without points that repeat the one before, last against first too."""
    if len(points) == 0:
        return points.reshape(0, 2)
    keep = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 1e-6
    return np.asarray(points[keep])


def _from_the_top(ring: FloatArray) -> FloatArray:
    """Return the loop anticlockwise, starting at its highest point, which becomes the origin."""
    x, y = ring.T
    if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) < 0:
        ring = ring[::-1]
    is_top = ring[:, 1] > ring[:, 1].max() - 1e-6
    start = int(np.argmax(is_top & ~np.roll(is_top, 1)))
    ring, is_top = np.roll(ring, -start, axis=0), np.roll(is_top, -start)
    flat = int(np.argmin(is_top))  # points of the level run on top, right to left
    top, rest = ring[:flat], ring[flat:]
    middle = 0.5 * (top[0] + top[-1])
    left, right = top[top[:, 0] < middle[0] - 1e-6], top[top[:, 0] > middle[0] + 1e-6]
    return np.asarray(np.vstack([middle[None], left, rest, right]) - middle)


def _unfolded(ring: FloatArray) -> FloatArray:
    """Return the loop with small runs back up levelled; refuse large ones."""
    level = ring[:, 1]
    bottom = int(np.argmin(level))
    down = np.minimum.accumulate(level[: bottom + 1])
    other_side = np.append(0.0, level[:bottom:-1])  # from the top too, the other way round
    up = np.minimum.accumulate(other_side)[:0:-1]
    levelled = np.concatenate([down, up])
    worst = float(np.abs(levelled - level).max())
    if worst > FOLD_TOLERANCE * -float(level.min()):
        raise UnrollError(f"folds back by {worst:.1f} mm; expected each side to run down from the "
                          "shoulder to the underarm (turned on its side?)")
    return np.column_stack([ring[:, 0], levelled])
