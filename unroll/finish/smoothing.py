"""Stitching lines made smooth: a few cubic segments a side, corners kept, allowance attached."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.maths.cubic_fitting import fit_cubics, sample_cubics
from unroll.maths.polylines import tangent_through, turn_between
from unroll.nouns import Piece, StitchingSide
from unroll.nouns.seam import is_dart

SMOOTH_JOINT_DEG = 12.0  # two sides that turn more than this at their joint meet at a corner
SURELY_SMOOTH_DEG = 2.0  # and if less than this, they run on as one curve


def smooth_sides(
    piece: Piece, allowance_of: Callable[[str], float], *, tolerance: float = 0.1
) -> tuple[StitchingSide, ...]:
    """Return the sides of `piece` as few cubic segments, within `tolerance` mm.

    Sides stay joined: each starts on the last point of the one before. Where two sides run on
    smoothly (armhole front, wrist middle), both are held to one tangent.
    """
    lines = [np.array(side.points) for side in piece.sides]
    for index, line in enumerate(lines):
        line[0] = lines[index - 1][-1]
    joints = [_joint_tangent(lines, piece, index) for index in range(len(lines))]
    sides = []
    for index, line in enumerate(lines):
        cubics = fit_cubics(
            line,
            tolerance=tolerance,
            start_tangent=joints[index],
            end_tangent=joints[(index + 1) % len(lines)],
        )
        points, tangents = sample_cubics(cubics)
        seam = piece.sides[index].seam
        allowance = 0.0 if is_dart(seam) else allowance_of(seam)
        sides.append(StitchingSide(seam, cubics, points, tangents, allowance))
    return tuple(sides)


def _joint_tangent(lines: list[FloatArray], piece: Piece, index: int) -> FloatArray | None:
    """Return the common tangent where side `index` starts, or None at a corner."""
    before, after = lines[index - 1], lines[index]
    if is_dart(piece.sides[index - 1].seam) or is_dart(piece.sides[index].seam):
        return None
    turn = abs(turn_between(before[-1] - before[-2], after[1] - after[0]))
    # a curve turns at its joint about as much as at the points beside it
    beside = [
        abs(turn_between(line[1] - line[0], line[2] - line[1]))
        for line in (before[-3:], after[:3])
        if len(line) == 3
    ]
    if turn > max([np.deg2rad(SURELY_SMOOTH_DEG), *(1.5 * b for b in beside)]):
        return None
    if turn > np.deg2rad(SMOOTH_JOINT_DEG):
        return None
    return tangent_through(np.stack([before[-2], after[0], after[1]]), 1)
