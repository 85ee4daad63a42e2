"""Pictures of sewn and filled arms: how they hang, where they leave the arm that was wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from unroll.maths.arrays import FloatArray, IntArray
from unroll.maths.placing import upright
from unroll.nouns import ArmMesh, Fit, Mesh, Sewn
from unroll.nouns.shown import Model
from unroll.show.colours import CLOTH, FAINT, INK, PAPER, bare
from unroll.show.models import filled_model, gap_legend, gap_span
from unroll.show.phrases import sentence, small
from unroll.show.pictures import View, legend_bar, named_view, paint
from unroll.units import Unit

WIDE = 4.2  # inches: its words can still be read on a telephone
CAP_VIEWS = (("from the side", "outside"), ("from the front", "front"), ("from behind", "back"))
BELOW_CAP_MM = 55.0
DASHES: tuple[str | tuple[float, tuple[float, ...]], ...] = (
    "solid", (0, (5, 2)), (0, (2, 1.2)), (0, (6, 2, 1.2, 2)),
)  # fmt: skip
LEVELS = 140
# Names and the way to the right on the page, for the left arm.
HANG_VIEWS = (("from the front", (0.0, 1.0, 0.0)), ("from the side", (-1.0, 0.0, 0.0)))
BODY_MM = 26.0


@dataclass(frozen=True, eq=False)
class Shape:
    """A sewn and filled set of pieces, as it is drawn and named.

    Attributes
    ----------
    label, colour : str
    sewn : Sewn
    fit : Fit
        Of the same shape.
    """

    label: str
    colour: str
    sewn: Sewn
    fit: Fit


def stand_off_figure(shapes: Sequence[Shape], *, unit: Unit = "mm") -> Figure:
    """Return the caps coloured by their distance from the wanted arm, a row for each shape.

    All on one scale, the whole arm's swing taken out.
    """
    span = gap_span([shape.fit for shape in shapes], unit)
    names, headline, picture, scale = 0.30, 0.24, 1.75, 0.84  # inches
    tall = names + len(shapes) * (headline + picture) + scale
    figure = Figure(figsize=(WIDE, tall), facecolor=PAPER)
    for row, shape in enumerate(shapes):
        low = tall - names - (row + 1) * (headline + picture)
        figure.text(0.03, (low + picture + 0.04) / tall, _headline(shape, unit), fontsize=9,
                    color=INK)  # fmt: skip
        turned = replace(shape.sewn, mesh=Mesh(shape.fit.turned, shape.sewn.mesh.faces))
        near = shape.fit.turned[np.isfinite(shape.fit.distances)]
        low_mm = float(near[:, 2].min()) - BELOW_CAP_MM
        model = _above(filled_model(shape.label, turned, shape.fit, span=span), low_mm)
        for column, (_, name) in enumerate(CAP_VIEWS):
            axes = figure.add_axes((0.02 + 0.325 * column, low / tall, 0.31, picture / tall))
            bare(axes)
            view = named_view(name, shape.sewn.arm)
            paint(axes, model, model.looks[1], view, shift=np.zeros(2))
            _sign_lines(axes, turned, shape.fit.distances, view, span)
            across = near @ view.right
            axes.set_xlim(across.min() - 4.0, across.max() + 4.0)
            axes.set_ylim(low_mm, near[:, 2].max() + 4.0)
    for column, (title, _) in enumerate(CAP_VIEWS):
        figure.text(0.175 + 0.325 * column, 1 - 0.19 / tall, title, fontsize=9, color=FAINT,
                    ha="center")  # fmt: skip
    legend_bar(figure, gap_legend(span, unit), (0.1, 0.42 / tall, 0.8, 0.1 / tall))
    figure.text(0.5, 0.08 / tall, "lines: dashed where it lies too low, solid where it stands out",
                fontsize=8, color=INK, ha="center")  # fmt: skip
    return figure


def _sign_lines(axes: Axes, sewn: Sewn, off: FloatArray, view: View, span: float) -> None:
    """Draw lines of one distance, which tell low from high where there is no colour."""
    flat, faces = view.project(sewn.mesh.vertices), sewn.mesh.faces
    ways = np.diff(flat[faces], axis=1)
    is_seen = ways[:, 0, 0] * ways[:, 1, 1] - ways[:, 0, 1] * ways[:, 1, 0] > 0
    is_seen &= np.isfinite(off[faces]).all(axis=1)
    levels = span * np.array([-0.75, -0.5, -0.25, 0.25, 0.5, 0.75])
    if is_seen.any():
        axes.tricontour(
            Triangulation(flat[:, 0], flat[:, 1], faces[is_seen]), np.nan_to_num(off),
            levels=levels, linewidths=0.6, colors=INK, negative_linestyles="dashed",
        )  # fmt: skip


def _above(model: Model, level: float) -> Model:
    """Return a model without what lies below a level: what is not seen need not be painted."""
    is_seen = model.vertices[model.faces][:, :, 2].max(axis=1) > level
    return replace(model, faces=model.faces[is_seen], groups={})


def _headline(shape: Shape, unit: Unit) -> str:
    fit = shape.fit
    return (
        f"{sentence(shape.label)}: out by up to {small(fit.bulge_max, unit)}, in by up to "
        f"{small(fit.hollow_max, unit)}"
    )


def profile_figure(shapes: Sequence[Shape]) -> Figure:
    """Return the profiles through the middle of the cap, laid over the wanted arm's.

    Left with the swing of the whole arm taken out, right as the sewn arms hang.
    """
    figure = Figure(figsize=(WIDE, 3.5), facecolor=PAPER)
    fits = [shape.fit for shape in shapes]
    panels = (
        ("the cap, swing taken out", [fit.profile_sewn for fit in fits]),
        ("as it hangs once filled", [fit.profile_swung for fit in fits]),
    )
    asked = fits[0].profile_asked
    lines = [*(line for _, many in panels for line in many), asked]
    across = max(float(line[:, 0].max()) for line in lines) + 30.0
    low = min(float(line[:, 1].min()) for line in lines) - 6.0
    high = max(float(line[:, 1].max()) for line in lines) + 8.0
    for column, (title, many) in enumerate(panels):
        axes = figure.add_axes((0.05 + 0.48 * column, 0.21, 0.44, 0.70))
        bare(axes)
        axes.set_title(title, fontsize=9, color=INK, loc="left")
        axes.axvline(0.0, color=FAINT, linewidth=0.8)
        axes.fill_betweenx(asked[:, 1], 0.0, asked[:, 0], color=CLOTH, linewidth=0)
        axes.plot(*asked.T, color=INK, linewidth=2.2, label="wanted arm")
        for number, (shape, line) in enumerate(zip(shapes, many, strict=True)):
            axes.plot(*line.T, color=shape.colour, linestyle=DASHES[number % len(DASHES)],
                      linewidth=1.7, label=shape.label)  # fmt: skip
        axes.set_xlim(-14.0, across)
        axes.set_ylim(low, high)
        axes.text(-4, 0.5 * low, "armhole", fontsize=9, color=FAINT, rotation=90, ha="right")
    _legend(figure, axes)
    return figure


def _legend(figure: Figure, axes: Axes) -> None:
    """Name the lines beneath, two to a row."""
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="lower center", ncols=2, frameon=False, fontsize=9,
                  labelcolor=INK, handlelength=2.6, columnspacing=1.0)  # fmt: skip


def hang_figure(wanted: ArmMesh, shapes: Sequence[Shape]) -> Figure:
    """Return the outlines of filled arms over the wanted one, those to cut first.

    Parameters
    ----------
    wanted : ArmMesh
        The measured arm with round sections.
    shapes : sequence of Shape
        At least one.
    """
    figure = Figure(figsize=(WIDE, 3.2), facecolor=PAPER)
    turn = upright(_of_left(wanted.up, wanted.side)).T
    arm = _of_left(wanted.mesh.vertices, wanted.side) @ turn
    for column, (title, across) in enumerate(HANG_VIEWS):
        axes = figure.add_axes((0.03 + 0.49 * column, 0.16, 0.46, 0.76))
        bare(axes)
        axes.set_title(title, fontsize=9, color=INK)
        outline = silhouette(arm, wanted.mesh.faces, np.array(across))
        axes.fill(*outline.T, facecolor=CLOTH, edgecolor=INK, lw=1.0, label="wanted arm")
        for number, shape in enumerate(shapes):
            points = _of_left(shape.sewn.mesh.vertices, shape.sewn.arm) @ turn
            outline = silhouette(points, shape.sewn.mesh.faces, np.array(across))
            axes.plot(*outline.T, color=shape.colour, lw=1.6, ls=DASHES[number % len(DASHES)],
                      label=shape.label)  # fmt: skip
        if column == 0:
            _body(axes, float(arm[:, 2].min()), min(float(arm[:, 1].min()), 0.0))
    _legend(figure, axes)
    return figure


def silhouette(points: FloatArray, faces: IntArray, across: FloatArray) -> FloatArray:
    """Return the outline of a hanging shape as seen from one side, (k, 2): across and up.

    Parameters
    ----------
    across : (3,) float
        Level unit vector to the right on the page.
    """
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    flat = np.column_stack([points @ across, points[:, 2]])
    low, high = flat[edges[:, 0]], flat[edges[:, 1]]
    low, high = (
        np.where((low[:, 1] <= high[:, 1])[:, None], low, high),
        np.where((low[:, 1] <= high[:, 1])[:, None], high, low),
    )
    bottom, top = float(flat[:, 1].min()), float(flat[:, 1].max())
    # nearer to each other at the ends, where the outline turns level
    share = 0.5 - 0.5 * np.cos(np.linspace(0.02, np.pi - 0.02, LEVELS))
    ends = [_ends(low, high, level) for level in bottom + share * (top - bottom)]
    left = np.array([[least, level] for least, _, level in ends])
    right = np.array([[most, level] for _, most, level in ends])
    return np.vstack([left, right[::-1], left[:1]])


def _ends(low: FloatArray, high: FloatArray, level: float) -> tuple[float, float, float]:
    """Return the least and the most across at which edges meet a level, and the level."""
    meets = (low[:, 1] <= level) & (high[:, 1] >= level)
    span = np.maximum(high[meets, 1] - low[meets, 1], 1e-12)
    at = low[meets, 0] + (level - low[meets, 1]) / span * (high[meets, 0] - low[meets, 0])
    return float(at.min()), float(at.max()), level


def _of_left(points: FloatArray, side: str) -> FloatArray:
    return points if side == "left" else points * np.array([1.0, -1.0, 1.0])


def _body(axes: Axes, low: float, inside: float) -> None:
    """Mark the body's side, which the arm is sewn to, seen from the front.

    Its word stands clear of the arm, whose innermost point lies at `inside`, mm.
    """
    axes.fill_betweenx([0.72 * low, 12.0], inside - BODY_MM, 0.0, color=FAINT, alpha=0.18, lw=0)
    axes.text(
        inside - 0.5 * BODY_MM, 0.36 * low, "body", rotation=90, ha="center", va="center",
        fontsize=9, color=FAINT,
    )  # fmt: skip
