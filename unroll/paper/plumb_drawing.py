"""Where the plumb line hangs, of the double and of the arm, and what is read against it."""

from __future__ import annotations

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.paper import guide_drawing as drawn
from unroll.paper.guide_drawing import View

# What to write in the sheet, and what is read
READINGS: tuple[tuple[str, str], ...] = (
    ("underarm_inside", "double: towards the body"),
    ("underarm_behind", "double: towards the back"),
    ("front_inside", "double: b less a"),
    ("elbow_outward", "arm: away from the body"),
    ("elbow_forward", "arm: forward"),
    ("wrist_outward", "arm: away from the body"),
    ("wrist_forward", "arm: forward"),
)
END = -590.0  # of the line
LEANS, ROLLS = -20.0, 16.0  # across: where the drawn armhole's underarm point lies off the line
SWUNG_RAD = np.radians(6.0)  # by which the arm is drawn swung forward, so that there is a distance


def from_the_front(view: View) -> None:
    """Draw line, armhole and arm from the front."""
    outer, inner = drawn.smooth(drawn.FRONT_OUTER), drawn.smooth(drawn.FRONT_INNER)
    hand = drawn.smooth(drawn.FRONT_HAND)
    view.fill(np.vstack([outer, hand[::-1], inner[::-1]]))
    for line in (outer, inner):
        view.contour(line)
    view.contour(hand, pale=True)
    view.hidden(np.array([(0.0, 0.0), (LEANS, drawn.UNDERARM)]))
    _line(view, "FROM THE FRONT", "the body is on the left")
    view.dot((LEANS, drawn.UNDERARM))
    _level(view, LEANS, drawn.UNDERARM, "underarm_inside", -1.0)
    for key, level in (("elbow_outward", drawn.CREASE), ("wrist_outward", drawn.WRIST)):
        middle = float(np.mean(drawn.across_at(level, (inner, outer))))
        view.dot((middle, level))
        _level(view, middle, level, key, -1.0)


def from_the_side(view: View) -> None:
    """Draw line, armhole and arm from outside, the front on the left."""
    front, back, hand = (_swung(line) for line in drawn.outside_contours())
    view.fill(np.vstack([front, hand, back[::-1]]))
    for line in (front, back):
        view.contour(line)
    view.contour(hand, pale=True)
    plate = drawn.oval(*drawn.PLATE, centre=(0.0, 0.5 * drawn.UNDERARM))
    view.hidden(_turned(plate, np.arctan2(ROLLS, -drawn.UNDERARM)))
    _line(view, "FROM THE SIDE", "the front is on the left")
    view.dot((ROLLS, drawn.UNDERARM))
    _level(view, ROLLS, drawn.UNDERARM, "underarm_behind", 1.0)
    ends = _swung(drawn.along_forearm([(0.0, 0.0), (236.0, 0.0)]))
    for key, (across, level) in zip(("elbow_forward", "wrist_forward"), ends, strict=True):
        view.dot((across, level))
        _level(view, across, level, key, 1.0)


def from_above(view: View) -> None:
    """Draw the double's armhole from above, the front at the top."""
    front, behind = (132.0, 49.0), (150.0, -49.0)
    body = drawn.smooth([(0, 92), (70, 84), front, behind, (70, -84), (0, -92)])
    view.contour(body, pale=True)
    view.level((0.0, 116.0), (0.0, -116.0))
    view.tape(np.array([front, behind]), arrows=False)
    for (across, level), letter in ((front, "a"), (behind, "b")):
        view.distance((0.0, level), (across, level))
        view.note((0.5 * across, level + 12.0), letter, align="center", size=8.0)
    view.note((75.0, 158.0), "FROM ABOVE", align="center", size=8.5)
    view.note((75.0, 138.0), "the double, front at the top", align="center")
    view.note((0.0, -132.0), "middle of the double", align="center")
    view.note((158.0, 0.0), "armhole,\nhalf-way\ndown")


def _line(view: View, title: str, text: str) -> None:
    """Draw the plumb line from the shoulder point."""
    view.axes.plot(*view.page([(0.0, 0.0), (0.0, END)]).T, color="black", linewidth=0.7, zorder=6)
    view.axes.plot(*view.page([(0.0, END)])[0], marker="v", markersize=6.0, color="black", zorder=7)
    view.dot((0.0, 0.0))
    view.note((0.0, 66.0), title, align="center", size=8.5)
    view.note((0.0, 46.0), text, align="center")
    view.note((0.0, 20.0), "shoulder point", align="center")


def _level(view: View, across: float, level: float, key: str, side: float) -> None:
    """Draw a level distance from the line to a point, its name beside the arm."""
    view.distance((0.0, level), (across, level))
    edge = max(across, 0.0) if side > 0.0 else min(across, 0.0)
    free = edge + (66.0 if side > 0.0 else -14.0)
    view.leader((edge, level), (free, level))
    view.note((free + 4.0 * side, level), key, align="left" if side > 0.0 else "right")


def _swung(points: FloatArray) -> FloatArray:
    return _turned(points, -SWUNG_RAD)


def _turned(points: FloatArray, angle: float) -> FloatArray:
    """Return points turned about the shoulder point, downwards to the right where positive."""
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))
