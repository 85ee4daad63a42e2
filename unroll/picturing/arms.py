"""Pictures of the arm in 3D."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from unroll.picturing.colours import FAINT, INK, PAPER
from unroll.picturing.painting import named_view, paint
from unroll.types.shown import Legend, Look, Model

_VIEWS = ("outside", "front", "inside", "back")


def arm_figure(model: Model) -> Figure:
    """Return a figure of the arm from four sides, in each of its looks, one row a look.

    Parameters
    ----------
    model : Model
        From `arm_model`.

    Returns
    -------
    Figure
        All views share one scale; a bar gives 100 mm.
    """
    count = len(model.looks) * len(_VIEWS)
    figure = Figure(figsize=(1.35 * count + 0.6, 7.2), facecolor=PAPER)
    low, high = _extent(model)
    for k, look in enumerate(model.looks):
        for j, name in enumerate(_VIEWS):
            index = k * len(_VIEWS) + j
            left = (index + 0.15 + 0.35 * k) / (count + 0.6)
            axes = figure.add_axes((left, 0.12, 0.98 / (count + 0.6), 0.78))
            paint(axes, model, look, named_view(name, model.side))
            _frame(axes, low, high)
            axes.set_title(name, fontsize=9, color=INK, pad=4)
        middle = (k * len(_VIEWS) + 0.15 + 0.35 * k + len(_VIEWS) / 2) / (count + 0.6)
        figure.text(
            middle, 0.955, f"{model.name}: {look.name}", ha="center", fontsize=11, color=INK
        )
        _foot(figure, look, middle, 2.6 / (count + 0.6), low, high)
    return figure


def _extent(model: Model) -> tuple[float, float]:
    heights = model.vertices[:, 2]
    return float(heights.min()) - 8.0, float(heights.max()) + 8.0


def _frame(axes: Axes, low: float, high: float) -> None:
    left, right = axes.get_xlim()
    axes.set_ylim(low, high)
    axes.set_xlim(left, right)
    axes.set_axis_off()


def _foot(figure: Figure, look: Look, middle: float, width: float, low: float, high: float) -> None:
    """A colour bar under a heat map, a scale bar under plain views."""
    if look.legend is not None:
        legend_bar(figure, look.legend, (middle - width / 2, 0.075, width, 0.02))
        return
    # The axes are 0.78 of the figure's height and show high - low millimetres.
    inches = 100.0 * 0.78 * figure.get_figheight() / (high - low)
    share = inches / figure.get_figwidth()
    axes = figure.add_axes((middle - share / 2, 0.07, share, 0.02))
    axes.plot([0, 1], [0.5, 0.5], color=INK, lw=2, solid_capstyle="butt", clip_on=False)
    axes.text(0.5, -0.3, "100 mm", ha="center", va="top", fontsize=8, color=INK)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.set_axis_off()


def legend_bar(figure: Figure, legend: Legend, box: tuple[float, float, float, float]) -> None:
    """Draw a legend's colour bar in `box` (left, bottom, width, height, shares of the figure)."""
    axes = figure.add_axes(box)
    stops = np.array([to_rgb(stop) for stop in legend.stops])
    axes.imshow(stops[None], aspect="auto", extent=(0, 1, 0, 1), interpolation="bilinear")
    axes.set_yticks([])
    axes.set_xticks([place for place, _ in legend.ticks])
    axes.set_xticklabels([label for _, label in legend.ticks], fontsize=7.5, color=INK)
    axes.set_title(legend.title, fontsize=8, color=INK, pad=3)
    axes.tick_params(length=3, color=INK)
    for spine in axes.spines.values():
        spine.set_edgecolor(FAINT)
        spine.set_linewidth(0.6)
