"""Tips that a photograph cannot show: points of darts and horns that close to less than a pixel."""

from __future__ import annotations

import numpy as np
from scipy.optimize import nnls

from unroll.drafts.own_corners import corners_of
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import lengths_along

CORNER_DEG = 40.0
TIP_DEG = 110.0  # a turn by more is a tip
BESIDE_MM = (1.5, 5.0)  # from a corner, where its two lines are read
SEEN_MM = (1.5, 9.0)  # widths of the gap that its end is told from
REACH_MM = 70.0  # of either run
FARTHEST_MM = 25.0  # that a tip is run on


def with_tips(points: FloatArray, *, reach: float) -> FloatArray:
    """Return an outline with its corners and tips run on to where their two runs meet.

    Parameters
    ----------
    points : (k, 2) float
        First point not repeated.
    reach : float
        As for `corners_of`.

    Notes
    -----
    Blur rounds a corner off: the lines beside it are carried on to where they cross. At a tip the
    width between the two runs and the line midway between them are carried on to where the width
    is nothing.
    """
    found = corners_of(points, reach=reach)
    places = points[found.at]
    for place, turn in zip(places, np.abs(found.turn_deg), strict=True):
        at = int(np.argmin(np.linalg.norm(points - place, axis=1)))
        if turn > TIP_DEG:
            points = _with_tip(points, at)
        elif turn > CORNER_DEG:
            points = _with_corner(points, at)
    return points


def _with_corner(points: FloatArray, corner: int) -> FloatArray:
    here = np.roll(points, -corner, axis=0)
    runs = [_run(here), _run(np.vstack([here[:1], here[:0:-1]]))]
    lines, cut = [], []
    for run in runs:
        at = lengths_along(run)
        beside = run[(at > BESIDE_MM[0]) & (at < BESIDE_MM[1])]
        if len(beside) < 4:
            return points
        middle = beside.mean(axis=0)
        lines.append((middle, np.linalg.svd(beside - middle, full_matrices=False)[2][0]))
        cut.append(int(np.searchsorted(at, BESIDE_MM[0])))
    (a, u), (b, v) = lines
    place = a + np.linalg.solve(np.stack([u, -v], axis=1), b - a)[0] * u
    if np.linalg.norm(place - here[0]) > BESIDE_MM[0]:
        return points
    return np.vstack([place[None], here[cut[0] : len(here) - cut[1] + 1]])


def _with_tip(points: FloatArray, tip: int) -> FloatArray:
    here = np.roll(points, -tip, axis=0)
    runs = [_run(here), _run(np.vstack([here[:1], here[:0:-1]]))]
    at = np.arange(0.5, REACH_MM, 0.5)
    sides = [np.stack([np.interp(at, lengths_along(run), run[:, k]) for k in range(2)], axis=1)
             for run in runs]  # fmt: skip
    width = np.linalg.norm(sides[0] - sides[1], axis=1)
    first = int(np.argmax(width > SEEN_MM[0]))
    wide = np.flatnonzero(width > SEEN_MM[1])
    last = int(wide[0]) if len(wide) else len(at)
    if width.max() < SEEN_MM[0] or last - first < 6:
        return points
    seen = slice(first, last)
    end = _end(at[seen], width[seen])
    middle = 0.5 * (sides[0] + sides[1])[seen]
    place = np.array([np.polyval(np.polyfit(at[seen], middle[:, k], 2), end) for k in range(2)])
    cut = [int(np.searchsorted(lengths_along(run), at[first])) for run in runs]
    return np.vstack([place[None], here[cut[0] : len(here) - cut[1] + 1]])


def _run(points: FloatArray) -> FloatArray:
    return points[: int(np.searchsorted(lengths_along(points), REACH_MM)) + 2]


def _end(at: FloatArray, width: FloatArray) -> float:
    """Return where a width ends, told from where it is seen.

    Two lines that meet part by an angle and by how much they curve away from each other, neither
    of which is less than nothing: of all ends, the one from which such a width fits best.
    """
    ends = np.arange(-FARTHEST_MM, float(at[0]) - 0.25, 0.25)
    offs = [nnls(np.column_stack([at - end, (at - end) ** 2]), width)[1] for end in ends]
    return float(ends[int(np.argmin(offs))])
