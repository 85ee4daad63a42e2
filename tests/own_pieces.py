"""Pieces made by hand for the tests of piecing, laying and printing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.samples import sample_measures
from unroll.nouns import Cloth, Make, Notch, Piece, PieceSide, Sheet

RADIUS = 60.0  # mm; of the hand-made armhole's upper half
DART_DEG = 14.0
DEPTH = 420.0  # mm; length of the hand-made arm below its cap


def own_sheet(**make):
    """A sheet of ours; keyword arguments change the make."""
    return Sheet(
        (sample_measures(),), Cloth(), replace(Make(), **make), "mm", "A. Maker", "2024-05-01"
    )


def arc(centre, radius, start_deg, end_deg, count=60):
    angle = np.deg2rad(np.linspace(start_deg, end_deg, count))
    return np.array(centre) + radius * np.c_[np.cos(angle), np.sin(angle)]


def smooth_line(*points, count=60):
    """Sample the parabola that passes three points at equal steps, or a straight line."""
    points = np.array(points, dtype=float)
    if len(points) == 2:
        return points
    t = np.linspace(0, 1, count)[:, None]
    a, b, c = points
    return (1 - t) * (1 - 2 * t) * a + 4 * t * (1 - t) * b + t * (2 * t - 1) * c


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


def turned(points, angle_deg, about):
    angle = np.deg2rad(angle_deg)
    c, s = np.cos(angle), np.sin(angle)
    return (points - about) @ np.array([[c, s], [-s, c]]) + about


def seam_curve(top, low, lean_deg):
    """A curve from `top` down to `low`, leaning inwards at its top and upright at its foot."""
    t = np.linspace(0, 1, 100)[:, None]
    reach = 0.2 * (top[1] - low[1])
    lean = np.deg2rad(lean_deg) * np.sign(top[0])
    a, b = top, top - reach * np.array([np.sin(lean), np.cos(lean)])
    c, d = low + [0.0, 2 * reach], low
    return (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d


def fan(dart_deg=DART_DEG, radius=RADIUS, dart_length=40.0, wrist=45.0):
    """An outer arm whose cap is a half circle once its two darts are closed.

    The cap runs from back (right) to front (left). Each dart is a wedge let into the circle along
    a radius, so that closing it leaves no kink at all.
    """
    thirds = [arc((0, 0), radius, start, start + 60.0) for start in (0.0, 60.0, 120.0)]
    tips = [arc((0, 0), radius - dart_length, at, at, 1)[0] for at in (60.0, 120.0)]
    back = turned(thirds[0], -dart_deg, tips[0])
    front = turned(thirds[2], dart_deg, tips[1])
    middle = thirds[1]
    low = np.array([wrist, -DEPTH])
    # the outer's corners have 170 degrees, the inner's 10
    back_seam = seam_curve(back[0], low, dart_deg + 10)[::-1]
    front_seam = seam_curve(front[-1], low * [-1, 1], dart_deg + 10)
    sides = (
        PieceSide("cap seam", back),
        PieceSide("dart 2", np.stack([back[-1], tips[0]])),
        PieceSide("dart 2", np.stack([tips[0], middle[0]])),
        PieceSide("cap seam", middle),
        PieceSide("dart 1", np.stack([middle[-1], tips[1]])),
        PieceSide("dart 1", np.stack([tips[1], front[0]])),
        PieceSide("cap seam", front),
        PieceSide("front seam", front_seam),
        PieceSide("outer wrist", np.stack([front_seam[-1], back_seam[0]])),
        PieceSide("back seam", back_seam),
    )
    notches = (
        Notch("shoulder", 3, sides[3].length / 2, 1),
        Notch("elbow", 7, 200.0, 1),
        Notch("elbow", 9, sides[9].length - 200.0, 2),
    )
    lines = {
        "grain": np.array([[0.0, 60.0 - DEPTH], [0.0, -20.0]]),
        "elbow line": np.array([[-60.0, -190.0], [60.0, -190.0]]),
    }
    return Piece("outer", "drafted-darts", "left", sides, lines, notches)


def made_arm(dart_deg=DART_DEG):
    """Outer, inner, armhole base and wrist base of one arm whose seams agree exactly."""
    outer = fan(dart_deg)
    front, back = outer.sides[7].points, outer.sides[9].points
    # the inner's seams are the outer's in the mirror, moved to the ends of its top edge
    half = np.array([RADIUS, 0.0])
    inner_back = back[::-1] * [-1, 1]
    inner_back = inner_back - inner_back[0] - half
    inner_front = front[::-1] * [-1, 1]
    inner_front = inner_front - inner_front[-1] + half
    # an arc that meets the seam at the angle the outer's corner leaves to 180 degrees
    sag = RADIUS * np.tan(np.deg2rad((90 - dart_deg - 20) / 2))
    big = (RADIUS**2 + sag**2) / (2 * sag)
    open_deg = np.rad2deg(np.arcsin(RADIUS / big)) if sag < RADIUS else 90.0
    under = arc((0, big - sag), big, -90 + open_deg, -90 - open_deg)
    under[0], under[-1] = inner_front[-1], inner_back[0]
    inner = Piece(
        "inner", "drafted-darts", "left",
        (
            PieceSide("underarm seam", under),
            PieceSide("back seam", inner_back),
            PieceSide("inner wrist", np.stack([inner_back[-1], inner_front[0]])),
            PieceSide("front seam", inner_front),
        ),
        {"grain": np.array([[0.0, 40 - DEPTH], [0.0, -80.0]])},
        (
            Notch("underarm", 0, PieceSide("", under).length / 2, 1),
            Notch("elbow", 1, 200.0, 2),
            Notch("elbow", 3, PieceSide("", inner_front).length - 200.0, 1),
        ),
    )
    return outer, inner, _armhole_base(under), _wrist_base(outer, inner)


def _armhole_base(under):
    cap = arc((0, 0), RADIUS, 0.0, 180.0)
    lower = under[::-1] * [1, 1]
    lower[0], lower[-1] = cap[-1], cap[0]
    sides = (PieceSide("cap seam", cap), PieceSide("underarm seam", lower))
    notches = (
        Notch("front", 0, 0.0, 1), Notch("shoulder", 0, sides[0].length / 2, 1),
        Notch("back", 0, sides[0].length, 2), Notch("underarm", 1, sides[1].length / 2, 1),
    )
    lines = {"grain": np.array([[0.0, 40.0], [0.0, -30.0]])}
    return Piece("armhole base", "drafted-darts", "left", sides, lines, notches)


def _wrist_base(outer, inner):
    lengths = outer.sides[8].length, inner.sides[2].length
    radius = sum(lengths) / (2 * np.pi)
    half = np.rad2deg(lengths[0] / radius) / 2
    over = arc((0, 0), radius, 90 - half, 90 + half, 400)
    under = arc((0, 0), radius, 90 + half, 450 - half, 400)
    under[0], under[-1] = over[-1], over[0]
    sides = (PieceSide("outer wrist", over), PieceSide("inner wrist", under))
    return Piece(
        "wrist base", "drafted-darts", "left", sides,
        {"grain": np.array([[0.0, 20.0], [0.0, -20.0]])},
    )
