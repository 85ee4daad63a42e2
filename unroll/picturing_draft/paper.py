"""Shared paper and ink of the draft's pictures."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from unroll.types import FloatArray, Piece

INK = "#26323a"
PAPER = "#fbf8f2"
FAINT = "#8b8f8c"
DRAFTED = "#26323a"
UNROLLED = "#1d7a8c"
CLOTH = {"outer": "#dbe8ea", "inner": "#f2e8c9"}
PLATE = "#e6e2da"
VERDICTS = {"good": "#4d8a57", "usable": "#9a8a2f", "ease in": "#c77b30", "wrong": "#a3362b"}
SIGNED = LinearSegmentedColormap.from_list("short to much", ["#8c2b1e", "#e6b08a", "#f4f1ea",
                                                            "#8fb4d6", "#1f3f86"])


def sheet(width: float, height: float) -> Figure:
    """Return an empty figure of the given size, inches."""
    return Figure(figsize=(width, height), facecolor=PAPER)


def drawing(figure: Figure, box: tuple[float, float, float, float]) -> Axes:
    """Return axes without a frame whose unit is the millimetre both ways."""
    axes = figure.add_axes(box)
    axes.set_aspect("equal")
    axes.axis("off")
    return axes


def draw_piece(axes: Axes, piece: Piece, shift: FloatArray, *, line_width: float = 1.3) -> None:
    """Draw a piece's cloth and stitching line, moved by `shift`."""
    outline = np.concatenate([piece.outline, piece.outline[:1]]) + shift
    axes.fill(*outline.T, color=CLOTH.get(piece.name, PLATE), linewidth=0, zorder=1)
    axes.plot(*outline.T, color=INK, linewidth=line_width, solid_joinstyle="round", zorder=3)


def scale_bar(axes: Axes, start: FloatArray, length: float = 100.0) -> None:
    """Draw a bar of known length."""
    x, y = start
    axes.plot([x, x + length], [y, y], color=INK, linewidth=2.0, solid_capstyle="butt")
    axes.text(x + 0.5 * length, y - 5.0, f"{length:.0f} mm", ha="center", va="top", fontsize=8,
              color=INK)


def frame(axes: Axes, points: FloatArray, margin: float) -> None:
    """Set the limits of a drawing around points."""
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
