"""Strokes of the guide: contours, tapes, distances and numbers, on a page in mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from unroll.types import FloatArray

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
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    even = np.linspace(0.0, at[-1], int(at[-1] / step) + 2)
    return np.column_stack([np.interp(even, at, points[:, k]) for k in range(2)])


def badge(axes: Axes, at: FloatArray, number: int) -> None:
    """Write a number in a ring, at a place on the page."""
    axes.plot(at[0], at[1], marker="o", markersize=11.5, markerfacecolor="white",
              markeredgecolor=INK, markeredgewidth=0.9, zorder=8)
    axes.text(at[0], at[1] - 0.1, str(number), fontsize=7.0, family=FONT, weight="bold",
              ha="center", va="center_baseline", zorder=9)
