"""The whole arm as it hangs, before and after correction, over the measured one."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.picturing_corrected.inks import AFTER, BEFORE, CLOTH, DASHES, FAINT, INK, PAPER, bare
from unroll.types import ArmMesh, FloatArray, IntArray
from unroll.types.sewn import Sewn

LEVELS = 140
# Names and the way to the right on the page, for the left arm.
VIEWS = (("from the front", (0.0, 1.0, 0.0)), ("from the side", (-1.0, 0.0, 0.0)))
BODY_MM = 26.0


def hang_figure(wanted: ArmMesh, before: Sewn, after: Sewn, *, names: tuple[str, str]) -> Figure:
    """Return the outlines of the filled arm before and after, over the measured arm.

    Parameters
    ----------
    wanted : ArmMesh
        The measured arm with round sections.
    before, after : Sewn
    names : (str, str)
        Words for the two.
    """
    figure = Figure(figsize=(7.6, 5.6), facecolor=PAPER)
    arms = [
        (_of_left(wanted.mesh.vertices, wanted.side), wanted.mesh.faces),
        (_of_left(before.mesh.vertices, before.arm), before.mesh.faces),
        (_of_left(after.mesh.vertices, after.arm), after.mesh.faces),
    ]
    for column, (title, across) in enumerate(VIEWS):
        axes = figure.add_axes((0.03 + 0.49 * column, 0.11, 0.46, 0.80))
        bare(axes)
        axes.set_title(title, fontsize=9.5, color=INK)
        _draw(axes, [silhouette(points, faces, np.array(across)) for points, faces in arms], names)
        if column == 0:
            _body(axes, float(arms[0][0][:, 2].min()))
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(
        handles, labels, loc="lower center", ncols=3, frameon=False, fontsize=9, labelcolor=INK,
        handlelength=3.0,
    )  # fmt: skip
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


def _draw(axes: Axes, outlines: list[FloatArray], names: tuple[str, str]) -> None:
    wanted, before, after = outlines
    axes.fill(*wanted.T, facecolor=CLOTH, edgecolor=INK, lw=1.0, label="measured arm")
    axes.plot(*before.T, color=BEFORE, lw=1.4, ls=DASHES, label=names[0])
    axes.plot(*after.T, color=AFTER, lw=1.6, label=names[1])


def _body(axes: Axes, low: float) -> None:
    """Mark the body's side, which the arm is sewn to, seen from the front."""
    axes.fill_betweenx([0.72 * low, 12.0], -BODY_MM, 0.0, color=FAINT, alpha=0.18, lw=0)
    axes.text(
        -0.5 * BODY_MM, 0.36 * low, "body", rotation=90, ha="center", va="center", fontsize=9,
        color=FAINT,
    )  # fmt: skip
