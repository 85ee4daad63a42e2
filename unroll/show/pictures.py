"""Pictures of the arm in 3D, and of flat pieces: heat maps, and all side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from unroll.maths.arrays import FloatArray
from unroll.maths.quiet_places import quiet_place
from unroll.maths.triangles import area_percentile
from unroll.nouns import Distortion, Piece
from unroll.nouns.shown import Legend, Look, Model, ModelLine
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
from unroll.units import Unit

VIEWS = ("outside", "front", "inside", "back", "cap")
_LINE_STYLES = {"seam": (INK, 1.3), "dart": (DART, 1.5), "reference": (INK, 0.5)}


@dataclass(frozen=True, eq=False)
class View:
    """Where the eye stands.

    Attributes
    ----------
    right, up, toward : (3,) float
        Unit vectors: screen right, screen up, and from the arm to the eye.
    """

    right: FloatArray
    up: FloatArray
    toward: FloatArray

    def project(self, points: FloatArray) -> FloatArray:
        """Return screen positions (n, 2), mm, of points (n, 3), without perspective."""
        return np.stack([points @ self.right, points @ self.up], axis=1)


def named_view(name: str, side: str) -> View:
    """Return the view called `name` of the left or right arm.

    "outside" and "inside" look across the body, "front" and "back" along it; "cap" looks down on
    the shoulder from outside and in front.

    Raises
    ------
    KeyError
        When there is no such view.
    """
    outward = 1.0 if side == "left" else -1.0
    toward = np.array(
        {
            "outside": (0.0, outward, 0.0),
            "inside": (0.0, -outward, 0.0),
            "front": (1.0, 0.0, 0.0),
            "back": (-1.0, 0.0, 0.0),
            "cap": (0.45, 0.75 * outward, 0.5),
        }[name]
    )
    toward = toward / np.linalg.norm(toward)
    right = np.cross([0.0, 0.0, 1.0], toward)
    right = right / np.linalg.norm(right)
    return View(right, np.cross(toward, right), toward)


def paint(axes: Axes, model: Model, look: Look, view: View, *, shift: FloatArray) -> None:
    """Draw `model` in one of its looks on `axes`, in mm of the screen plane, moved by `shift`."""
    corners = (view.project(model.vertices) + shift)[model.faces]
    edge1, edge2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    is_front = edge1[:, 0] * edge2[:, 1] - edge1[:, 1] * edge2[:, 0] > 0
    faces = model.faces[is_front]
    depth = (model.vertices @ view.toward)[faces].mean(axis=1)
    order = np.argsort(depth, kind="stable")
    faces, corners = faces[order], corners[is_front][order]
    colours = look.colours[faces].mean(axis=1) * _shade(model.normals[faces].mean(axis=1), view)
    # Edges in the face's own colour close the hairlines between neighbours.
    # An array, not a list: matplotlib then builds all paths from one template, six times faster.
    polygons = PolyCollection(
        cast(Any, corners), facecolors=colours, edgecolors=colours, linewidths=0.8
    )
    axes.add_collection(polygons, autolim=False)
    for line in model.lines:
        ink, width = _LINE_STYLES[line.kind]
        runs = [run + shift for run in _seen(line, view)]
        drawn = LineCollection(runs, colors=ink, linewidths=width, capstyle="round")
        axes.add_collection(drawn, autolim=False)


def _shade(normals: FloatArray, view: View) -> FloatArray:
    """Brightness (m, 1) under a soft lamp above the eye's left shoulder."""
    lamp = view.toward + 0.45 * view.up - 0.35 * view.right
    lamp = lamp / np.linalg.norm(lamp)
    out: FloatArray = (0.66 + 0.34 * np.clip(normals @ lamp, 0.0, 1.0))[:, None]
    return out


def _seen(line: ModelLine, view: View) -> list[FloatArray]:
    """Cut a line into the runs that face the eye, as screen points."""
    facing = line.normals @ view.toward
    if line.other_normals is not None:
        facing = np.maximum(facing, line.other_normals @ view.toward)
    # A line on the rim of what is seen would pass for an outline; a sharp edge is one.
    shows = facing[:-1] + facing[1:] > (0.08 if line.other_normals is None else -0.02)
    flat = view.project(line.points)
    breaks = np.flatnonzero(np.diff(np.concatenate([[0], shows.astype(int), [0]])))
    return [flat[a : b + 1] for a, b in zip(breaks[::2], breaks[1::2], strict=True)]


_VIEWS = ("outside", "front", "inside", "back")
_GAP, _LOOK_GAP, _MARGIN = 32.0, 40.0, 24.0
_HEAD, _FOOT = 70.0, 82.0
_INCHES_HIGH = 7.2


@dataclass(frozen=True, eq=False)
class _Slot:
    """One view of one look, and where its screen plane's origin goes on the figure, mm."""

    look: Look
    name: str
    view: View
    shift: FloatArray
    middle: float


def arm_figure(model: Model, *, unit: Unit = "mm") -> Figure:
    """Return a figure of the arm from four sides in each of its looks, all at one scale.

    Parameters
    ----------
    model : Model
        From `arm_model`.
    unit : {"in", "cm", "mm"}
        Of the scale bar.
    """
    slots, width = _slots(model)
    low, high = float(model.vertices[:, 2].min()), float(model.vertices[:, 2].max())
    height = high - low + _HEAD + _FOOT
    figure = Figure(figsize=(_INCHES_HIGH * width / height, _INCHES_HIGH), facecolor=PAPER)
    axes = figure.add_axes((0, 0, 1, 1))
    for slot in slots:
        paint(axes, model, slot.look, slot.view, shift=slot.shift)
        axes.text(slot.middle, high + 12.0, slot.name, ha="center", fontsize=10, color=INK)
    for look in model.looks:
        middles = [slot.middle for slot in slots if slot.look is look]
        middle = 0.5 * (middles[0] + middles[-1])
        axes.text(middle, high + 42.0, f"{model.name}: {look.name}", ha="center", fontsize=12,
                  color=INK)  # fmt: skip
        if look.legend is None:
            _scale_bar(axes, middle, low - 40.0, unit)
        else:
            box = (middle / width - 0.16, 38.0 / height, 0.32, 13.0 / height)
            legend_bar(figure, look.legend, box)
    axes.set_xlim(0.0, width)
    axes.set_ylim(low - _FOOT, high + _HEAD)
    axes.set_axis_off()
    return figure


def _slots(model: Model) -> tuple[list[_Slot], float]:
    """Set the views side by side, each as wide as it is; return them and the whole width, mm."""
    slots, left = [], _MARGIN
    for look in model.looks:
        for name in _VIEWS:
            view = named_view(name, model.side)
            across = model.vertices @ view.right
            wide = float(np.ptp(across))
            shift = np.array([left - across.min(), 0.0])
            slots.append(_Slot(look, name, view, shift, left + wide / 2))
            left += wide + _GAP
        left += _LOOK_GAP
    return slots, left - _GAP - _LOOK_GAP + _MARGIN


def _scale_bar(axes: Axes, middle: float, level: float, unit: Unit) -> None:
    size, words = bar_of(unit, fifties=2)
    axes.plot([middle - 0.5 * size, middle + 0.5 * size], [level, level], color=INK, lw=2,
              solid_capstyle="butt")  # fmt: skip
    axes.text(middle, level - 6.0, words, ha="center", va="top", fontsize=8, color=INK)


def legend_bar(figure: Figure, legend: Legend, box: tuple[float, float, float, float]) -> None:
    """Draw a legend's colour bar in `box` (left, bottom, width, height, shares of the figure)."""
    axes = figure.add_axes(box)
    stops = np.array([to_rgb(stop) for stop in legend.stops])
    axes.imshow(stops[None], aspect="auto", extent=(0, 1, 0, 1), interpolation="bilinear")
    axes.set_yticks([])
    axes.set_xticks([place for place, _ in legend.ticks])
    axes.set_xticklabels([label for _, label in legend.ticks], fontsize=8, color=INK)
    axes.set_title(legend.title, fontsize=8.5, color=INK, pad=3)
    axes.tick_params(length=3, color=INK)
    for spine in axes.spines.values():
        spine.set_edgecolor(FAINT)
        spine.set_linewidth(0.6)


_WORDS_WIDTH = 76.0
_LETTER = 3.0  # mm, half of one of a piece's name
_LINE_WORDS = 60.0  # mm kept free for the names of lines beside a piece


def heat_figure(
    distortion: Distortion,
    piece: Piece,
    *,
    gives_percent: float = 3.0,
    top: float | None = None,
    unit: Unit = "mm",
) -> Figure:
    """Return the heat map of a piece on the piece itself, with its reference lines and scales.

    Parameters
    ----------
    distortion : Distortion
    piece : Piece
        The same, with its stitching and reference lines.
    gives_percent : float
        What the cloth gives; a line is drawn around the places that ask for more.
    top : float or None
        Top of the colour scale, percent, where several pieces share one.
    unit : {"in", "cm", "mm"}
        Of the scale bar.
    """
    top = heat_top([distortion], gives_percent) if top is None else top
    points = distortion.flattening.points
    low, high = points.min(axis=0) - 12.0, points.max(axis=0) + np.array([78.0, 12.0])
    height = 6.8
    width = float(np.clip((high - low)[0] / (high - low)[1] * height * 0.77 + 0.4, 4.2, 9.0))
    figure = Figure(figsize=(width, height), facecolor=PAPER)
    axes = figure.add_axes((0.03, 0.13, 0.94, 0.755))
    _heat(axes, distortion, gives_percent, top)
    for side in piece.sides:
        axes.plot(*side.points.T, color=DART if side.seam.startswith("dart") else INK, lw=1.2)
    for name, line in piece.lines.items():
        _reference(axes, name, line)
    scale_bar(axes, low, high, unit)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_aspect("equal")
    axes.set_axis_off()
    worst = area_percentile(give_percent(distortion), distortion.weights, 99.0)
    figure.text(0.5, 0.96, f"{piece.name} piece", ha="center", fontsize=12, color=INK)
    figure.text(
        0.5,
        0.927,
        f"99 % of it asks the threads for no more than {worst:.1f} %\n"
        f"dashed: the line of {gives_percent:g} %, all that this cloth allows",
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


def bar_of(unit: Unit, *, fifties: int = 1) -> tuple[float, str]:
    """Return how long a scale bar is, mm, and what it says: 50 mm or 2 in, or twice as much."""
    return (50.8 * fifties, f"{2 * fifties} in") if unit == "in" else (50.0 * fifties,
                                                                     f"{50 * fifties} mm")


def scale_bar(axes: Axes, low: FloatArray, high: FloatArray, unit: Unit = "mm") -> None:
    """Draw a bar of 50 mm or 2 in, in the lower right corner."""
    right, bottom = float(high[0]) - 12.0, float(low[1]) + 4.0
    size, words = bar_of(unit)
    axes.plot([right - size, right], [bottom, bottom], color=INK, lw=2.5, solid_capstyle="butt")
    axes.annotate(
        words,
        (right - 0.5 * size, bottom),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=8.5,
        color=INK,
    )


def pieces_figure(
    pieces: Sequence[Piece], *, title: str = "", unit: Unit = "mm"
) -> Figure:
    """Return the pieces side by side at one scale, with their lines and notches.

    Parameters
    ----------
    pieces : sequence of Piece
        At least one.
    title : str
    unit : {"in", "cm", "mm"}
        Of the scale bar.
    """
    gap = 30.0
    boxes = [(piece.outline.min(axis=0), piece.outline.max(axis=0)) for piece in pieces]
    cells = [max(float((high - low)[0]), _WORDS_WIDTH) for low, high in boxes]
    steps = [cell + gap + _LINE_WORDS * (len(piece.lines) > 1)
             for cell, piece in zip(cells, pieces, strict=True)]  # fmt: skip
    total = sum(steps) + gap
    tallest = max(float((high - low)[1]) for low, high in boxes) + 2 * gap
    scale = min(9.0 / total, 8.0 / tallest)
    figure = Figure(figsize=(total * scale, tallest * scale), facecolor=PAPER)
    axes = figure.add_axes((0, 0, 1, 1))
    start = gap
    for piece, (low, high), cell, step in zip(pieces, boxes, cells, steps, strict=True):
        left = start + 0.5 * (cell - (high - low)[0])
        _piece(axes, piece, np.array([left - low[0], tallest - gap - high[1]]))
        start += step
    scale_bar(axes, np.array([0.0, 0.0]), np.array([total, tallest]), unit)
    axes.text(gap, tallest - 0.4 * gap, title, fontsize=11, color=INK, va="center")
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
    place, room = quiet_place(piece.outline, piece.lines.values())
    words = f"{piece.arm} arm\n{piece.name}"
    fits = room > _LETTER * max(map(len, words.split("\n")))
    for name, line in piece.lines.items():
        moved = line + shift
        axes.plot(*moved.T, color=INK if name == "grain" else FAINT, lw=0.8)
        if name != "grain" and fits:
            axes.annotate(
                name, moved[np.argmax(moved[:, 0])], (6, 0), textcoords="offset points",
                fontsize=6.5, color=INK, va="center",
            )  # fmt: skip
    for notch in piece.notches:
        axes.plot(
            *(piece.notch_point(notch) + shift),
            marker="o",
            ms=3.5 * notch.marks**0.5,
            mfc=PAPER,
            mec=INK,
            mew=0.8,
        )
    if not fits:
        low, high = piece.outline.min(axis=0), piece.outline.max(axis=0)
        place = np.array([0.5 * (low[0] + high[0]), low[1] - 8.0])
    axes.text(
        place[0] + shift[0],
        place[1] + shift[1],
        words,
        ha="center",
        va="center" if fits else "top",
        fontsize=9,
        color=INK,
    )
