"""Pieces made by hand for the tests of piecing, laying and printing."""

from __future__ import annotations

import numpy as np

from unroll.types import Notch, Piece, PieceSide


def arc(centre, radius, start_deg, end_deg, count=60):
    angle = np.deg2rad(np.linspace(start_deg, end_deg, count))
    return np.array(centre) + radius * np.c_[np.cos(angle), np.sin(angle)]


def disk(radius=50.0, name="armhole base", seam="rim"):
    points = arc((0, 0), radius, 0, 360, 241)
    points[-1] = points[0]
    half = len(points) // 2
    return Piece(
        name, "drafted-darts", "left",
        (PieceSide(seam, points[: half + 1]), PieceSide(seam, points[half:])),
    )


def square(side=100.0):
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side], [0, 0]], dtype=float)
    sides = tuple(PieceSide(f"edge {i}", corners[i : i + 2]) for i in range(4))
    return Piece("square", "drafted-darts", "left", sides)


def smooth_line(*points, count=60):
    """Sample the quadratic through three points, or a straight line through two."""
    points = np.array(points, dtype=float)
    if len(points) == 2:
        return points
    t = np.linspace(0, 1, count)[:, None]
    a, b, c = points
    return (1 - t) * (1 - 2 * t) * a + 4 * t * (1 - t) * b + t * (2 * t - 1) * c


def fan(angle_deg=180.0, radius=120.0, depth=320.0, dart_deg=16.0, dart_length=90.0, darts=2):
    """An outer arm whose cap is a circle about (0, 0) once its darts are closed.

    The cap runs from back (left) to front; each dart is a radial wedge let into the circle, its
    point on the radius `radius - dart_length`, so that closing it leaves no kink at all.
    """
    spread = angle_deg / (darts + 1)
    sides, lines = [], None
    # build with the darts closed, then open them one by one about their points
    points, labels = [], []
    start = 180.0 + (angle_deg - 180.0) / 2
    for index in range(darts + 1):
        points.append(arc((0, 0), radius, start - spread * index, start - spread * (index + 1)))
        labels.append("cap seam")
    tips = [
        arc((0, 0), radius - dart_length, start - spread * (k + 1), start - spread * (k + 1), 1)[0]
        for k in range(darts)
    ]
    turn = np.eye(2)
    shift = np.zeros(2)
    c, s = np.cos(np.deg2rad(-dart_deg)), np.sin(np.deg2rad(-dart_deg))
    open_once = np.array([[c, -s], [s, c]])
    for index in range(darts + 1):
        moved = points[index] @ turn.T + shift
        sides.append(PieceSide("cap seam", moved))
        if index < darts:
            tip = tips[index] @ turn.T + shift
            mouth = moved[-1]
            turn = open_once @ turn
            shift = tip + open_once @ (shift - tip)
            far = points[index + 1][0] @ turn.T + shift
            sides.append(PieceSide(f"dart {index + 1}", np.stack([mouth, tip])))
            sides.append(PieceSide(f"dart {index + 1}", np.stack([tip, far])))
    # clockwise so far (left to right over the top): mirror into an anticlockwise outline
    first, last = sides[0].points[0], sides[-1].points[-1]
    down = np.array([0.0, -depth])
    outline = [
        *sides,
        PieceSide("front seam", smooth_line(last, (last + first * 0 + down + [last[0] * 0.2, 0]) * 0.5 + [8, 0], down + [60, 0])),
        PieceSide("outer wrist", np.stack([down + [60, 0], down + [-60, 0]])),
        PieceSide("back seam", smooth_line(down + [-60, 0], (first + down) * 0.5 - [18, 0], first)),
    ]
    del lines
    mirrored = tuple(
        PieceSide(s.seam, s.points * [-1.0, 1.0]) for s in outline
    )
    notches = (
        Notch("shoulder", 3 if darts == 2 else 0, mirrored[3 if darts == 2 else 0].length / 2, 1),
        Notch("elbow", len(mirrored) - 3, 150.0, 1),
        Notch("elbow", len(mirrored) - 1, 150.0, 2),
    )
    lines = {"grain": np.array([[0.0, -depth + 60], [0.0, -40.0]]),
             "elbow line": np.array([[-80.0, -150.0], [80.0, -150.0]])}
    return Piece("outer", "drafted-darts", "left", mirrored, lines, notches)
