"""The flat draft laid over the unrolled pieces, at one scale."""

from __future__ import annotations

from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from unroll.picturing_draft.paper import (
    CLOTH,
    FAINT,
    INK,
    SIGNED,
    UNROLLED,
    drawing,
    frame,
    scale_bar,
    sheet,
)
from unroll.types import Comparison, FloatArray, Piece, PieceComparison

GAP = 70.0  # mm
LineStyle = Literal["-"] | tuple[float, tuple[float, float]]


def overlay_figure(
    comparison: Comparison, drafted: tuple[Piece, ...], unrolled: tuple[Piece, ...]
) -> Figure:
    """Return a picture of the draft over the unrolled pieces, aligned on grain and upper-arm line.

    The draft's outline is coloured by how far it lies outside the unrolled one.
    """
    limit = _limit(comparison)
    columns, x = [], 0.0
    for row in comparison.pieces:
        pair = tuple(_named(pieces, row.piece) for pieces in (drafted, unrolled))
        both = np.vstack([pair[0].outline, pair[1].outline + row.shift])
        columns.append((row, pair, np.array([x - both[:, 0].min(), 0.0]), both))
        x += float(np.ptp(both[:, 0])) + GAP
    corners = np.vstack([both + shift for _, _, shift, both in columns])
    size = np.ptp(corners, axis=0) + 80.0
    width = 8.0
    height = width * size[1] / size[0] + 1.5
    figure = sheet(width, height)
    axes = drawing(figure, (0.0, 0.9 / height, 1.0, 1.0 - 1.5 / height))
    for row, (draft, other), shift, _ in columns:
        _overlay(axes, row, draft, other, shift, limit)
    low = corners.min(axis=0)
    scale_bar(axes, np.array([low[0], low[1] - 6.0]))
    frame(axes, corners, 36.0)
    _legend(figure, comparison, limit, height)
    return figure


def _named(pieces: tuple[Piece, ...], name: str) -> Piece:
    return next(piece for piece in pieces if piece.name == name)


def _limit(comparison: Comparison) -> float:
    """Return the distance at which the colours end: a round figure, mm."""
    worst = max(p.outline_distance_max_mm for p in comparison.pieces)
    return float(next((r for r in (2.0, 5.0, 10.0, 20.0, 30.0, 40.0) if r >= worst), 50.0))


def _overlay(
    axes: Axes, row: PieceComparison, draft: Piece, other: Piece, shift: FloatArray, limit: float
) -> None:
    """Draw one piece twice."""
    theirs = np.concatenate([other.outline, other.outline[:1]]) + row.shift + shift
    axes.fill(*theirs.T, color=CLOTH.get(row.piece, "#e6e2da"), linewidth=0, zorder=1)
    axes.plot(*theirs.T, color=UNROLLED, linewidth=1.0, linestyle=(0, (5, 2)), zorder=3)
    ours = np.concatenate([draft.outline, draft.outline[:1]]) + shift
    axes.plot(*ours.T, color=INK, linewidth=0.7, zorder=4)
    points = row.points + shift
    steps = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
    is_step = np.linalg.norm(steps[:, 1] - steps[:, 0], axis=1) < 10.0
    coloured = LineCollection(list(steps[is_step]), cmap=SIGNED, norm=Normalize(-limit, limit),
                              linewidths=3.2, zorder=2, capstyle="round")
    coloured.set_array(row.distances[is_step])
    axes.add_collection(coloured)
    for name, line in draft.lines.items():
        if name in ("grain", "upper arm line", "elbow line", "forearm line", "underarm line"):
            axes.plot(*(line + shift).T, color=FAINT, linewidth=0.6)
            if name in other.lines:
                axes.plot(*(other.lines[name] + row.shift + shift).T, color=UNROLLED,
                          linewidth=0.6, linestyle=(0, (5, 2)))
    top = max(float(ours[:, 1].max()), float(theirs[:, 1].max()))
    axes.text(0.5 * (ours[:, 0].min() + ours[:, 0].max()), top + 8.0,
              f"{row.piece}: area {row.area_difference_percent:+.1f} %\noutline "
              f"{row.outline_distance_mean_mm:.1f} mm off on average",
              ha="center", fontsize=8.5, color=INK)


def _legend(figure: Figure, comparison: Comparison, limit: float, height: float) -> None:
    """Draw the colour scale and name the two lines."""
    axes = figure.add_axes((0.10, 0.55 / height, 0.38, 0.14 / height))
    bar = figure.colorbar(ScalarMappable(Normalize(-limit, limit), SIGNED), cax=axes,
                          orientation="horizontal")
    bar.set_label("draft inside (−) or outside (+) the unrolled piece, mm", fontsize=8, color=INK)
    bar.ax.tick_params(labelsize=7.5, colors=INK)
    bar.outline.set_linewidth(0.5)
    samples: tuple[tuple[str, LineStyle, str], ...] = (
        (f"flat draft ({comparison.drafted})", "-", INK),
        (f"{comparison.unrolled} pieces", (0.0, (5.0, 2.0)), UNROLLED),
    )
    for index, (name, style, colour) in enumerate(samples):
        y = (0.68 - 0.26 * index) / height
        figure.add_artist(_line(figure, y, style, colour))
        figure.text(0.62, y, name, fontsize=8.5, va="center", color=INK)


def _line(figure: Figure, y: float, style: LineStyle, colour: str) -> Line2D:
    """Return a short sample of a line on the figure."""
    return Line2D([0.55, 0.605], [y, y], transform=figure.transFigure, color=colour,
                  linewidth=1.2, linestyle=style)
