"""The arm that the guide draws: outlines and tape lines, mm, origin at the shoulder point.

Front view: across towards the wearer's left, and up. Outside view: across towards the back, and
up, as one sees it standing at the wearer's left side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from scipy.interpolate import CubicSpline

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray

FONT = "DejaVu Sans"  # comes with matplotlib, so that every machine draws the same page
MONO = "DejaVu Sans Mono"
INK, GREY, PALE, SKIN = "black", "0.35", "0.55", "0.93"


class View:
    """A drawing on the page, with its own origin and scale.

    Parameters
    ----------
    axes : matplotlib Axes
        The page, in mm.
    origin : (float, float)
        Where the drawing's origin lies on the page.
    scale : float
        Page mm a drawn mm.
    """

    def __init__(self, axes: Axes, origin: tuple[float, float], scale: float) -> None:
        """Place the drawing."""
        self.axes, self.origin, self.scale = axes, np.asarray(origin, dtype=float), scale

    def about(self, *fields: str) -> None:
        """Say which fields of the sheet what is drawn next belongs to; none here, on paper."""

    def page(self, points: Sequence[tuple[float, float]] | FloatArray) -> FloatArray:
        """Return drawn points on the page."""
        return np.asarray(self.origin + self.scale * np.asarray(points, dtype=float))

    def fill(self, points: FloatArray) -> None:
        """Tint an area."""
        x, y = self.page(points).T
        self.axes.fill(x, y, facecolor=SKIN, edgecolor="none", zorder=1)

    def contour(self, points: FloatArray, *, pale: bool = False) -> None:
        """Draw an edge of the body."""
        x, y = self.page(points).T
        self.axes.plot(x, y, color=PALE if pale else GREY, linewidth=0.8 if pale else 1.2,
                       solid_capstyle="round", zorder=3)

    def level(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a helping line."""
        x, y = self.page([start, end]).T
        self.axes.plot(x, y, color=GREY, linewidth=0.6, linestyle=(0, (4, 3)), zorder=2)

    def tape(self, points: FloatArray, *, arrows: bool = True) -> None:
        """Draw a tape that lies on the near side; a length has arrowheads at both ends."""
        on_page = self.page(points)
        if arrows:
            on_page = _resampled(on_page, 0.5)
            for tip, behind in ((0, 5), (-1, -6)):
                self._arrowhead(on_page[behind], on_page[tip])
            on_page = on_page[3:-3]  # the line ends inside its arrowheads
        self.axes.plot(*on_page.T, color=INK, linewidth=1.9, solid_capstyle="butt", zorder=5)

    def hidden(self, points: FloatArray) -> None:
        """Draw a tape, or an edge, that lies on the far side."""
        x, y = self.page(points).T
        self.axes.plot(x, y, color=INK, linewidth=1.0, linestyle=(0, (1.6, 1.6)), zorder=4)

    def girth(self, halves: tuple[FloatArray, FloatArray]) -> None:
        """Draw a tape round a limb: near half full, far half dotted."""
        self.tape(halves[0], arrows=False)
        self.hidden(halves[1])

    def curve(self, points: FloatArray) -> None:
        """Draw a thin curve."""
        self.axes.plot(*self.page(points).T, color=INK, linewidth=0.8, zorder=4)

    def distance(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a straight distance, thin, with arrowheads."""
        first, last = self.page([start, end])
        self.axes.plot(*np.array([first, last]).T, color=INK, linewidth=0.8, zorder=5)
        self._arrowhead(last, first, size=1.9)
        self._arrowhead(first, last, size=1.9)

    def _arrowhead(self, behind: FloatArray, tip: FloatArray, *, size: float = 2.8) -> None:
        ahead = (tip - behind) / np.linalg.norm(tip - behind)
        aside = 0.36 * size * np.array([-ahead[1], ahead[0]])
        corners = np.array([tip, tip - size * ahead + aside, tip - size * ahead - aside])
        self.axes.fill(*corners.T, facecolor=INK, edgecolor="none", zorder=6)

    def leader(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a thin line from a tape to its number."""
        self.axes.plot(*self.page([start, end]).T, color=INK, linewidth=0.5, zorder=4)

    def badge(self, at: tuple[float, float], number: int) -> None:
        """Write a tape's number in a ring."""
        badge(self.axes, self.page([at])[0], number)

    def dot(self, at: tuple[float, float]) -> None:
        """Mark a point on the skin."""
        self.axes.plot(*self.page([at]).T, marker="o", markersize=4.2, color=INK,
                       markeredgecolor="white", markeredgewidth=0.6, zorder=7)

    def note(
        self, at: tuple[float, float], text: str, *, align: str = "left", size: float = 6.6
    ) -> None:
        """Write beside the drawing."""
        x, y = self.page([at])[0]
        self.axes.text(x, y, text, fontsize=size, family=FONT, ha=align, va="center",
                       linespacing=1.15, color=INK, zorder=8)


def _resampled(points: FloatArray, step: float) -> FloatArray:
    """Return a polyline with points about `step` apart."""
    at = polylines.lengths_along(points)
    even = np.linspace(0.0, at[-1], int(at[-1] / step) + 2)
    return np.column_stack([np.interp(even, at, points[:, k]) for k in range(2)])


def badge(axes: Axes, at: FloatArray, number: int) -> None:
    """Write a number in a ring, at a place on the page."""
    axes.plot(at[0], at[1], marker="o", markersize=11.5, markerfacecolor="white",
              markeredgecolor=INK, markeredgewidth=0.9, zorder=8)
    axes.text(at[0], at[1] - 0.1, str(number), fontsize=7.0, family=FONT, weight="bold",
              ha="center", va="center_baseline", zorder=9)


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
    at = np.concatenate([[0.0], np.cumsum(np.sqrt(polylines.chords(knots)))])
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
