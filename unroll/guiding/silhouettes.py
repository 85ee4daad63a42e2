"""The arm that the guide draws: outlines and tape lines, mm, origin at the shoulder point.

Front view: across towards the wearer's left, and up. Outside view: across towards the back, and
up, as one sees it standing at the wearer's left side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import CubicSpline

from unroll.types import FloatArray

UNDERARM, CREASE, WRIST = -116.0, -319.0, -556.0  # levels, up
UPPER_ARM, FOREARM = -196.0, -381.0
BEND_RAD = np.radians(13.0)

FRONT_OUTER = (
    (0, 0), (24, -5), (52, -24), (77, -64), (90, -116), (93, -160), (91, -215), (86, -270),
    (84, -325), (86, -365), (84, -405), (78, -460), (70, -520), (67, -556),
)
FRONT_INNER = (
    (2, -116), (4, -150), (6, -215), (9, -280), (9, -325), (6, -360), (8, -405), (14, -460),
    (22, -520), (25, -556),
)
FRONT_HAND = (
    (25, -556), (21, -590), (23, -628), (33, -652), (47, -655), (60, -640), (69, -600), (67, -556),
)
FRONT_THUMB = ((34, -574), (27, -606), (33, -630), (43, -622), (46, -590))
FRONT_BODY = (
    ((-92, 92), (-98, 62), (-120, 42), (-62, 20), (0, 0)),
    ((2, -116), (-13, -145), (-22, -205), (-27, -250), (-29, -280)),
)
OUTSIDE_FRONT = (
    (0, 0), (-26, -6), (-46, -34), (-53, -80), (-51, -116), (-49, -160), (-48, -215), (-45, -280),
    (-44, -319),
)
OUTSIDE_BACK = (
    (0, 0), (26, -6), (46, -34), (54, -80), (52, -116), (50, -160), (48, -215), (44, -270),
    (42, -310), (40, -334),
)
FOREARM_FRONT = ((0, 40), (30, 43), (62, 43), (120, 38), (190, 31), (236, 29))  # along, out
FOREARM_BACK = ((6, 41), (30, 42), (62, 42), (120, 38), (190, 31), (236, 29))
HAND = (
    (236, 29), (256, 34), (276, 43), (294, 48), (304, 42), (296, 34), (286, 27), (310, 24),
    (334, 17), (346, 2), (336, -13), (300, -27), (262, -32), (236, -29),
)
WRIST_SECTION = (58.0, 41.0)
PLATE = (98.0, 116.0)


def smooth(points: Sequence[tuple[float, float]] | FloatArray, count: int = 160) -> FloatArray:
    """Return a smooth curve through points, (count, 2)."""
    knots = np.asarray(points, dtype=float)
    at = np.concatenate([[0.0], np.cumsum(np.sqrt(np.linalg.norm(np.diff(knots, axis=0), axis=1)))])
    return np.asarray(CubicSpline(at, knots)(np.linspace(0.0, at[-1], count)))


def along_forearm(pairs: Sequence[tuple[float, float]], side: float = 1.0) -> FloatArray:
    """Return points of the outside view from distances along the forearm and out from its axis.

    `side` is 1 for the front of the arm and -1 for the back.
    """
    along, out = np.asarray(pairs, dtype=float).T
    axis = np.array([-np.sin(BEND_RAD), -np.cos(BEND_RAD)])
    forward = np.array([-np.cos(BEND_RAD), np.sin(BEND_RAD)])
    elbow = np.array([-3.0, CREASE - 3.0])
    return np.asarray(
        elbow + along[:, None] * axis + side * out[:, None] * forward
    )


def outside_contours() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return front edge, back edge and hand of the outside view."""
    front = np.vstack([OUTSIDE_FRONT, along_forearm(FOREARM_FRONT[1:])])
    back = np.vstack([OUTSIDE_BACK, along_forearm(FOREARM_BACK[1:], -1.0)])
    return smooth(front), smooth(back), smooth(along_forearm(HAND))


def across_at(level: float, edges: tuple[FloatArray, FloatArray]) -> tuple[float, float]:
    """Return where two edges stand at a level, across."""
    first, second = (
        float(np.interp(-level, -edge[:, 1], edge[:, 0])) for edge in edges
    )
    return first, second


def ring(
    start: tuple[float, float], end: tuple[float, float], sag: float
) -> tuple[FloatArray, FloatArray]:
    """Return a tape round a limb, seen a little from above: its near half and its far half."""
    first, last = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    angle = np.linspace(0.0, np.pi, 60)
    middle, half = 0.5 * (first + last), 0.5 * (last - first)
    normal = np.array([-half[1], half[0]]) / np.linalg.norm(half)
    bow = sag * np.sin(angle)[:, None] * normal
    chord = middle - np.cos(angle)[:, None] * half
    return np.asarray(chord - bow), np.asarray(chord + bow)


def oval(width: float, height: float, centre: tuple[float, float] = (0.0, 0.0)) -> FloatArray:
    """Return an oval, closed, anticlockwise from its rightmost point."""
    angle = np.linspace(0.0, 2.0 * np.pi, 181)
    return np.column_stack([
        centre[0] + 0.5 * width * np.cos(angle), centre[1] + 0.5 * height * np.sin(angle)
    ])
