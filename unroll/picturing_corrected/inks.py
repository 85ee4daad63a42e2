"""Colours and lines that pictures of a correction share."""

from __future__ import annotations

from matplotlib.axes import Axes

INK, PAPER, FAINT = "#26323a", "#fbf8f2", "#8b8f8c"
BEFORE, AFTER, CLOTH = "#a3362b", "#2f6f8f", "#e9e4da"
WANTED = "#cfe0c8"
DASHES = (0, (5, 2))


def bare(axes: Axes) -> None:
    """Take frame and ticks away, and make both directions alike."""
    axes.set_axis_off()
    axes.set_aspect("equal")
