"""Pieces with smooth lines: what the mesh they were laid flat from left of kinks is taken out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.linalg import solveh_banded

from unroll.finish.repairs import BASES, kept_notch
from unroll.maths.arrays import FloatArray
from unroll.maths.cubic_fitting import corners_of, sample_cubics
from unroll.maths.polylines import crosses_itself, joined, lengths_along
from unroll.maths.sampled_lines import parabolic, with_straight_middles
from unroll.nouns import Piece
from unroll.nouns.seam import is_dart

SEWN_REACH = 5.0  # mm; a kink of an edge is spread over about four times as much
DRAWN_REACH = 9.0  # of lines that are drawn only, and may be off by a millimetre
STEP = 2.0  # mm between points of a smoothed line


def smooth_piece(piece: Piece) -> Piece:
    """Return a piece with smooth sides and reference lines and a straight grain line.

    Corners between sides, and within one, stay where they are; so do end plates, which are drawn.
    Notches keep their share of their side.
    """
    lines = {
        name: _upright(line) if name == "grain" else smooth_line(line, reach=DRAWN_REACH)
        for name, line in piece.lines.items()
    }
    if piece.name in BASES:
        return replace(piece, lines=lines)
    sides = tuple(replace(s, points=smooth_line(s.points)) for s in piece.sides)
    if crosses_itself(np.concatenate([side.points[:-1] for side in sides])):
        # legs that all but meet before the point: smoothed one by one they may cross by a hair
        sides = tuple(old if is_dart(old.seam) else new
                      for old, new in zip(piece.sides, sides, strict=True))  # fmt: skip
    notches = tuple(kept_notch(notch, piece.sides, sides) for notch in piece.notches)
    return replace(piece, sides=sides, notches=notches, lines=lines)


def smooth_line(points: FloatArray, *, reach: float = SEWN_REACH) -> FloatArray:
    """Return a polyline without kinks, (n, 2); its ends and corners stay.

    Parameters
    ----------
    points : (k, 2) float
        Two or three points are a straight line or a bend that was meant, and stay.
    reach : float
        A turn on the spot is spread over about four times this length, mm, and the line then lies
        off its corner by about a quarter of `reach` a radian; waves longer than a dozen times
        `reach` are left alone.

    Notes
    -----
    The line that is least far from the given one and whose bend changes least: ∫|y − p|² +
    reach⁶ ∫|y‴|² (E. T. Whittaker, "On a new method of graduation", Proc. Edinburgh Math. Soc. 41,
    1923, doi 10.1017/S0013091500077853).
    """
    breaks = [0, *corners_of(points), len(points) - 1]
    runs = [points[a : b + 1] for a, b in zip(breaks[:-1], breaks[1:], strict=True)]
    return joined([run if len(run) < 4 else _smooth_run(run, reach) for run in runs])


def _smooth_run(points: FloatArray, reach: float) -> FloatArray:
    """Return a run without corners, smoothed."""
    dense, _ = sample_cubics(parabolic(with_straight_middles(points), (None, None)))
    at = lengths_along(dense)
    count = max(8, round(at[-1] / STEP))
    even = np.linspace(0.0, at[-1], count + 1)
    given = np.column_stack([np.interp(even, at, dense[:, k]) for k in (0, 1)])
    return _graduated(given, reach / even[1])


def _graduated(given: FloatArray, reach: float) -> FloatArray:
    """Return evenly spaced points smoothed, `reach` in spacings; both ends stay."""
    count = len(given)
    third = np.array([-1.0, 3.0, -3.0, 1.0])
    bands = np.zeros((4, count))  # the upper diagonals of 1 + reach⁶ DᵀD, farthest first
    for i in range(4):
        for j in range(i, 4):
            bands[3 - (j - i), j : count - 3 + j] += reach**6 * third[i] * third[j]
    bands[3] += 1.0
    right = np.array(given)
    for end, order in ((0, (1, 2, 3)), (count - 1, (-1, -2, -3))):
        for step in order:  # what is known of the end goes to the right-hand side
            column = max(end, end + step)
            right[end + step] -= bands[3 - abs(step), column] * given[end]
            bands[3 - abs(step), column] = 0.0
        bands[3, end] = 1.0
    out: FloatArray = solveh_banded(bands, right)
    return out


def _upright(line: FloatArray) -> FloatArray:
    """Return a grain line as a straight one along y, through the middle of the given one."""
    low, high = line[:, 1].min(), line[:, 1].max()
    x = 0.5 * (line[:, 0].min() + line[:, 0].max())
    ends = np.array([[x, low], [x, high]])
    return ends if line[0, 1] <= line[-1, 1] else ends[::-1]
