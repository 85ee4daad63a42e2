"""The armhole plate: an oval's missing diameter, or the smooth line of a tracing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import Akima1DInterpolator
from scipy.optimize import brentq
from shapely import LinearRing

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, own
from unroll.maths.ellipses import ellipse_perimeter, superellipse_perimeter
from unroll.nouns import Armhole

WIDTH_OVER_HEIGHT = 0.845  # a woman's plate, 98 by 116 mm; house value, low confidence
FEWEST_POINTS = 8
LEAST_SIZE, MOST_SIZE = 20.0, 500.0  # mm
SAMPLES = 480  # steps of a smoothed outline, well below a millimetre each
WAVES = 16  # round a loop; a plate's own corners and hollows have fewer
LEVEL_SHARE = 0.002  # of the height: how far below its top an outline still counts as level
FOLD_TOLERANCE = 0.04  # of the height: how far a hand-drawn side may run back up


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


def diameter_of(known: float, girth: float, exponent: float) -> float:
    """Return a superellipse's second diameter from its first, its girth and its exponent, mm.

    Examples
    --------
    >>> round(diameter_of(98.0, 336.75, 2.0), 1)
    116.0
    """
    def too_long(other: float) -> float:
        return superellipse_perimeter(0.5 * known, 0.5 * other, exponent) - girth

    return float(brentq(too_long, 1e-3 * known, girth))


def traced_armhole(points: Sequence[Sequence[float]] | FloatArray) -> Armhole:
    """Return the plate of a traced outline: a smooth curve through its points.

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
    for name, size in zip(("wide", "high"), np.ptp(ring, axis=0), strict=True):
        if not LEAST_SIZE <= size <= MOST_SIZE:
            raise UnrollError(f"is {size:.1f} mm {name}; expected {LEAST_SIZE:.0f} to "
                              f"{MOST_SIZE:.0f} mm (drawn at another scale?)")
    smooth = _smoothed(ring)
    # points out of order may smooth to a loop, but to a small one
    shrunk = bool(np.any(np.ptp(smooth, axis=0) < 0.85 * np.ptp(ring, axis=0)))
    if shrunk or not LinearRing(smooth).is_simple:
        raise UnrollError("crosses itself; expected one smooth loop")
    ring = _unfolded(_from_the_top(smooth))
    closed = np.vstack([ring, ring[:1]])
    girth = polylines.length(closed)
    return Armhole(_widest_level(ring), float(-ring[:, 1].min()), girth, own(ring, float, None, 2))


def _widest_level(ring: FloatArray) -> float:
    """Return the greatest width at one level, mm: a leaning plate's whole extent is more."""
    bottom = int(np.argmin(ring[:, 1]))
    back, front = ring[: bottom + 1], np.vstack([ring[bottom:], ring[:1]])[::-1]
    down = np.linspace(0.0, -ring[bottom, 1], 2001)
    x_back, x_front = (np.interp(down, -side[:, 1], side[:, 0]) for side in (back, front))
    return float(np.abs(x_front - x_back).max())


def _without_repeats(points: FloatArray) -> FloatArray:
    """Return the loop without points that repeat the one before, last against first too."""
    if len(points) == 0:
        return points.reshape(0, 2)
    keep = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 1e-6
    return np.asarray(points[keep])


def _smoothed(ring: FloatArray) -> FloatArray:
    """Return a smooth loop of `SAMPLES` even steps through coarse points, a tremble taken out.

    Notes
    -----
    A cubic curve in the length of the chords, for chords alone would make a polygon of 24 points
    0.3 % short; of the kind that does not swing out beside corners and long gaps (Akima 1970,
    doi 10.1145/321607.321609, weights modified). Then its Fourier series up to `WAVES` waves
    round the loop, for what is finer than that is the hand and not the plate.
    """
    around = np.vstack([ring, ring, ring, ring[:1]])  # three times, so that its ends are far off
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(around, axis=0), axis=1)))
    once = along[len(ring)]
    curve = Akima1DInterpolator(along, around, method="makima")
    fine = curve(np.linspace(once, 2.0 * once, 8 * SAMPLES + 1))
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(fine, axis=0), axis=1)))
    steps = walked[-1] * np.arange(SAMPLES) / SAMPLES
    even = np.column_stack([np.interp(steps, walked, fine[:, k]) for k in (0, 1)])
    waves = np.fft.rfft(even, axis=0)
    waves[WAVES + 1:] = 0.0
    return np.asarray(np.fft.irfft(waves, SAMPLES, axis=0))


def _from_the_top(ring: FloatArray) -> FloatArray:
    """Return the loop anticlockwise from the middle of its top, which becomes the origin."""
    x, y = ring.T
    if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) < 0:
        ring = ring[::-1]
    top = ring[:, 1].max()
    # the middle of the level run, for the very highest point of a flat top is chance
    x_top = ring[ring[:, 1] >= top - LEVEL_SHARE * np.ptp(ring[:, 1]), 0]
    middle = 0.5 * (x_top.min() + x_top.max())
    is_upper = ring[:, 1] > ring[:, 1].mean()
    start = int(np.argmin(np.where(is_upper, np.abs(ring[:, 0] - middle), np.inf)))
    ring = np.roll(ring, -start, axis=0) - [ring[start, 0], top]
    ring[0] = 0.0
    return np.asarray(ring)


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
