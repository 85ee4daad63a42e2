"""Pictures of the arm in 3D."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from unroll.picturing.colours import FAINT, INK, PAPER
from unroll.picturing.painting import View, named_view, paint
from unroll.types import FloatArray
from unroll.types.shown import Legend, Look, Model

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


def arm_figure(model: Model) -> Figure:
    """Return a figure of the arm from four sides in each of its looks, all at one scale.

    Parameters
    ----------
    model : Model
        From `arm_model`.
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
            _scale_bar(axes, middle, low - 40.0)
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


def _scale_bar(axes: Axes, middle: float, level: float) -> None:
    axes.plot([middle - 50.0, middle + 50.0], [level, level], color=INK, lw=2,
              solid_capstyle="butt")  # fmt: skip
    axes.text(middle, level - 6.0, "100 mm", ha="center", va="top", fontsize=8, color=INK)


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
