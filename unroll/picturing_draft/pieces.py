"""Every piece of a draft on one sheet, with its lines, notches and darts."""

from __future__ import annotations

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.geometry.outlines import place_at
from unroll.picturing_draft.paper import FAINT, INK, draw_piece, drawing, frame, scale_bar, sheet
from unroll.types import FloatArray, Notch, Piece

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
    ahead = place_at(points, min(notch.along + 1.0, piece.sides[notch.side_index].length))
    behind = place_at(points, max(notch.along - 1.0, 0.0))
    along = (ahead - behind) / np.linalg.norm(ahead - behind)
    inward = np.array([-along[1], along[0]])
    tip = shapely.Point(piece.notch_point(notch) + NOTCH * inward)
    if not shapely.Polygon(piece.outline).contains(tip):
        return  # a notch on a sharp corner is the corner itself
    for offset in (0.0,) if notch.marks == 1 else (-1.8, 1.8):
        start = piece.notch_point(notch) + offset * along + shift
        axes.plot(*np.array([start, start + NOTCH * inward]).T, color=INK, linewidth=1.1, zorder=4)
