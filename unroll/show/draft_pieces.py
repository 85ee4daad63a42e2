"""The flat draft laid over the unrolled pieces, at one scale."""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import point_at
from unroll.nouns import Comparison, Notch, Piece, PieceComparison
from unroll.show.draft_levels import (
    CLOTH,
    FAINT,
    INK,
    SIGNED,
    UNROLLED,
    draw_piece,
    drawing,
    frame,
    scale_bar,
    sheet,
)

GAP = 70.0  # mm between pieces, room for the words between them
NOTCH = 5.0  # mm
APART = 6.5  # mm between two lines of words


def draft_figure(pieces: tuple[Piece, ...], *, title: str = "") -> Figure:
    """Return a picture of every piece at one scale.

    Parameters
    ----------
    pieces : tuple of Piece
        Arm pieces stand side by side, the small ones in a column at the right.
    title : str
    """
    places = _places(pieces)
    corners = np.vstack([p.outline + places[p.name] for p in pieces])
    size = np.ptp(corners, axis=0) + 90.0
    figure = sheet(10.0, 10.0 * (size[1] + 40.0) / size[0])
    axes = drawing(figure, (0.0, 0.0, 1.0, 1.0))
    for piece in pieces:
        _draw(axes, piece, places[piece.name])
    low, high = corners.min(axis=0), corners.max(axis=0)
    scale_bar(axes, np.array([high[0] - 100.0, low[1]]))
    axes.text(low[0], high[1] + 32.0, title, fontsize=12, color=INK, va="bottom")
    frame(axes, np.vstack([corners, [[low[0], high[1] + 40.0]]]), 38.0)
    return figure


def _places(pieces: tuple[Piece, ...]) -> dict[str, FloatArray]:
    """Return where each piece is moved, mm."""
    places: dict[str, FloatArray] = {}
    x = 0.0
    tall = [p for p in pieces if p.name in ("inner", "outer")]
    for piece in tall:
        low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
        places[piece.name] = np.array([x - low[0], 0.0])
        x += high[0] - low[0] + GAP
    y = max((float(p.outline[:, 1].max()) for p in tall), default=0.0)
    for piece in pieces:
        if piece.name in places:
            continue
        low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
        places[piece.name] = np.array([x - low[0], y - high[1]])
        y -= high[1] - low[1] + GAP
    return places


def _draw(axes: Axes, piece: Piece, shift: FloatArray) -> None:
    """Draw one piece with everything that is marked on it."""
    draw_piece(axes, piece, shift)
    labels: list[tuple[str, FloatArray]] = []
    for name, line in piece.lines.items():
        moved = line + shift
        if name == "grain":
            axes.annotate("", moved[0], moved[-1],
                          arrowprops={"arrowstyle": "<->", "color": FAINT, "lw": 0.8})
        else:
            axes.plot(*moved.T, color=FAINT, linewidth=0.7, linestyle=(0, (4, 3)), zorder=2)
            labels.append((name, moved[np.argmax(moved[:, 0])]))
    _write_labels(axes, labels)
    for notch in piece.notches:
        _draw_notch(axes, piece, notch, shift)
    low, high = piece.outline.min(axis=0) + shift, piece.outline.max(axis=0) + shift
    is_tall = piece.name in ("inner", "outer")
    y = low[1] - 6.0 if is_tall else 0.5 * (low[1] + high[1])
    axes.text(0.5 * (low[0] + high[0]), y, piece.name, ha="center",
              va="top" if is_tall else "center", fontsize=9, color=INK,
              bbox=None if is_tall else {"facecolor": "#e6e2da", "edgecolor": "none", "pad": 1.0})


def _write_labels(axes: Axes, labels: list[tuple[str, FloatArray]]) -> None:
    """Write the names of lines at their right ends, one below the other where lines are close."""
    last = np.inf
    for name, end in sorted(labels, key=lambda label: -float(label[1][1])):
        last = min(float(end[1]), last - APART)
        axes.text(end[0] + 3.0, last, name, fontsize=5.5, color=FAINT, va="center")


def _draw_notch(axes: Axes, piece: Piece, notch: Notch, shift: FloatArray) -> None:
    """Draw a notch's strokes inwards, square to the stitching line."""
    points = piece.sides[notch.side_index].points
    ahead = point_at(points, min(notch.along + 1.0, piece.sides[notch.side_index].length))
    behind = point_at(points, max(notch.along - 1.0, 0.0))
    along = (ahead - behind) / np.linalg.norm(ahead - behind)
    inward = np.array([-along[1], along[0]])
    tip = shapely.Point(piece.notch_point(notch) + NOTCH * inward)
    if not shapely.Polygon(piece.outline).contains(tip):
        return  # a notch on a sharp corner is the corner itself
    for offset in (0.0,) if notch.marks == 1 else (-1.8, 1.8):
        start = piece.notch_point(notch) + offset * along + shift
        axes.plot(*np.array([start, start + NOTCH * inward]).T, color=INK, linewidth=1.1, zorder=4)


OVERLAY_GAP = 70.0  # mm
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
        x += float(np.ptp(both[:, 0])) + OVERLAY_GAP
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
