"""Pictures of flat pieces: the heat map on a piece, and the pieces side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from unroll.maths.arrays import FloatArray
from unroll.maths.quiet_places import quiet_place
from unroll.maths.triangles import area_percentile
from unroll.nouns import Distortion, Piece
from unroll.show.arms import legend_bar
from unroll.show.colours import (
    DART,
    FAINT,
    GIVE_RAMP,
    INK,
    OTHER_PIECE,
    PAPER,
    PIECE_COLOURS,
    colour_map,
    give_at_vertices,
    give_percent,
    heat_legend,
    heat_top,
)

_WORDS_WIDTH = 76.0


def heat_figure(
    distortion: Distortion, *, gives_percent: float = 3.0, top: float | None = None
) -> Figure:
    """Return the heat map of a piece on the piece itself, with its reference lines and scales.

    Parameters
    ----------
    distortion : Distortion
    gives_percent : float
        What the cloth gives; a line is drawn around the places that ask for more.
    top : float or None
        Top of the colour scale, percent, where several pieces share one.
    """
    top = heat_top([distortion], gives_percent) if top is None else top
    panel, points = distortion.flattening.panel, distortion.flattening.points
    low, high = points.min(axis=0) - 12.0, points.max(axis=0) + np.array([78.0, 12.0])
    height = 6.8
    width = float(np.clip((high - low)[0] / (high - low)[1] * height * 0.77 + 0.4, 4.2, 9.0))
    figure = Figure(figsize=(width, height), facecolor=PAPER)
    axes = figure.add_axes((0.03, 0.13, 0.94, 0.755))
    _heat(axes, distortion, gives_percent, top)
    for side in panel.sides:
        axes.plot(*points[side.path].T, color=DART if side.seam.startswith("dart") else INK, lw=1.2)
    for name, trace in panel.traces.items():
        _reference(axes, name, trace.on(points, panel.mesh.faces))
    scale_bar(axes, low, high)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_aspect("equal")
    axes.set_axis_off()
    worst = area_percentile(give_percent(distortion), distortion.weights, 99.0)
    figure.text(0.5, 0.96, f"{panel.name} piece", ha="center", fontsize=12, color=INK)
    figure.text(
        0.5,
        0.927,
        f"99 % of it asks the threads for no more than {worst:.1f} %\n"
        f"dashed: the line of {gives_percent:g} %, all that this cloth gives",
        ha="center",
        va="center",
        fontsize=8.5,
        color=INK,
    )
    legend_bar(figure, heat_legend(top, gives_percent), (0.1, 0.068, 0.8, 0.02))
    return figure


def _heat(axes: Axes, distortion: Distortion, gives_percent: float, top: float) -> None:
    faces = distortion.flattening.panel.mesh.faces
    heat = give_at_vertices(distortion)
    x, y = distortion.flattening.points.T
    grid = Triangulation(x, y, triangles=faces)
    axes.tripcolor(grid, heat, shading="gouraud", cmap=colour_map(GIVE_RAMP), vmin=0.0, vmax=top)
    if heat.min() < gives_percent < heat.max():
        axes.tricontour(
            grid, heat, levels=[gives_percent], colors=[INK], linewidths=0.7, linestyles="dashed"
        )


def _reference(axes: Axes, name: str, line: FloatArray) -> None:
    """Draw a reference line; girth lines are named beside the piece, the grain on itself."""
    axes.plot(*line.T, color=INK, lw=0.7, alpha=0.8)
    is_grain = name == "grain"
    at = line[int(len(line) * 0.88)] if is_grain else line[np.argmax(line[:, 0])]
    axes.annotate(
        name,
        (at[0], at[1]),
        xytext=(4, 0) if is_grain else (7, 0),
        textcoords="offset points",
        rotation=90 if is_grain else 0,
        ha="left",
        va="center",
        fontsize=8.5,
        color=INK,
    )


def scale_bar(axes: Axes, low: FloatArray, high: FloatArray) -> None:
    """Draw a bar of 50 mm (about 2 in) in the lower right corner."""
    right, bottom = float(high[0]) - 12.0, float(low[1]) + 4.0
    axes.plot([right - 50.0, right], [bottom, bottom], color=INK, lw=2.5, solid_capstyle="butt")
    axes.annotate(
        "50 mm",
        (right - 25.0, bottom),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=8.5,
        color=INK,
    )


def pieces_figure(pieces: Sequence[Piece]) -> Figure:
    """Return the pieces side by side at one scale, with their lines and notches.

    Parameters
    ----------
    pieces : sequence of Piece
        At least one.
    """
    gap = 30.0
    boxes = [(piece.outline.min(axis=0), piece.outline.max(axis=0)) for piece in pieces]
    cells = [max(float((high - low)[0]), _WORDS_WIDTH) for low, high in boxes]
    total = sum(cells) + gap * (len(pieces) + 1)
    tallest = max(float((high - low)[1]) for low, high in boxes) + 2 * gap
    scale = min(9.0 / total, 8.0 / tallest)
    figure = Figure(figsize=(total * scale, tallest * scale), facecolor=PAPER)
    axes = figure.add_axes((0, 0, 1, 1))
    start = gap
    for piece, (low, high), cell in zip(pieces, boxes, cells, strict=True):
        left = start + 0.5 * (cell - (high - low)[0])
        _piece(axes, piece, np.array([left - low[0], tallest - gap - high[1]]))
        start += cell + gap
    scale_bar(axes, np.array([0.0, 0.0]), np.array([total, tallest]))
    axes.set_xlim(0, total)
    axes.set_ylim(0, tallest)
    axes.set_aspect("equal")
    axes.set_axis_off()
    return figure


def _piece(axes: Axes, piece: Piece, shift: FloatArray) -> None:
    axes.fill(
        *(piece.outline + shift).T, color=PIECE_COLOURS.get(piece.name, OTHER_PIECE), alpha=0.75
    )
    for side in piece.sides:
        ink = DART if side.seam.startswith("dart") else INK
        axes.plot(*(side.points + shift).T, color=ink, lw=1.2, solid_joinstyle="round")
    for name, line in piece.lines.items():
        axes.plot(*(line + shift).T, color=INK if name == "grain" else FAINT, lw=0.8)
    for notch in piece.notches:
        axes.plot(
            *(piece.notch_point(notch) + shift),
            marker="o",
            ms=3.5 * notch.marks**0.5,
            mfc=PAPER,
            mec=INK,
            mew=0.8,
        )
    place, room = quiet_place(piece.outline, piece.lines.values())
    fits = room > 24.0
    if not fits:
        low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
        place = np.array([0.5 * (low[0] + high[0]), low[1] - 8.0])
    axes.text(
        place[0] + shift[0],
        place[1] + shift[1],
        f"{piece.arm} arm\n{piece.name}\n({piece.source})",
        ha="center",
        va="center" if fits else "top",
        fontsize=9,
        color=INK,
    )
