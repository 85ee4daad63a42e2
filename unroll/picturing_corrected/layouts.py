"""Dart layouts to choose from, sketched side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.picturing_corrected.inks import BEFORE, CLOTH, FAINT, INK, PAPER, bare
from unroll.types.corrected import LayoutTrial


def layouts_figure(layouts: Sequence[LayoutTrial]) -> Figure:
    """Return the offered dart layouts side by side, with what each takes in and gives.

    Each is sketched as the cap seen from the side, its darts as wedges as wide as they are.
    """
    count = max(len(layouts), 1)
    figure = Figure(figsize=(2.7 * count, 3.9), facecolor=PAPER)
    for number, trial in enumerate(layouts):
        axes = figure.add_axes((number / count + 0.02 / count, 0.36, 0.96 / count, 0.52))
        bare(axes)
        _sketch(axes, trial)
        axes.set_title(
            trial.name + (" (proposed)" if trial.chosen else ""), color=INK, fontsize=10.5
        )
        figure.text(
            (number + 0.5) / count,
            0.33,
            _figures(trial),
            ha="center",
            va="top",
            color=INK,
            fontsize=8.5,
            linespacing=1.5,
        )
    return figure


def _sketch(axes: Axes, trial: LayoutTrial) -> None:
    """Draw the cap's edge as an arch and each dart as a wedge hanging from it."""
    half, drop = 90.0, 55.0
    across = np.linspace(-half, half, 61)
    edge = np.column_stack([across, -drop * (across / half) ** 2])
    below = np.array([[half, -230.0], [-half, -230.0]])
    axes.fill(*np.vstack([edge, below]).T, facecolor=CLOTH, edgecolor=INK, lw=1.2)
    for dart, intake in zip(trial.darts, trial.intakes, strict=True):
        # the front lies to the right, as on a left arm seen from its side
        wide = 0.16 * intake.width  # drawn at a third of its true width, so that all find room
        places = dart.at + np.array([wide, -wide])
        mouth = np.column_stack([places, 1.0 - drop * (places / half) ** 2])
        point = [dart.at * dart.lean, mouth[:, 1].mean() - min(dart.length, 205.0)]
        wedge = np.vstack([mouth[:1], [point], mouth[1:]])
        axes.fill(*wedge.T, facecolor=PAPER, edgecolor=BEFORE, lw=1.3)
    axes.text(-half, 12.0, "back", color=FAINT, fontsize=8, ha="left")
    axes.text(half, 12.0, "front", color=FAINT, fontsize=8, ha="right")
    axes.set_xlim(-105, 105)
    axes.set_ylim(-240, 30)


def _figures(trial: LayoutTrial) -> str:
    widths = " + ".join(f"{intake.width:.0f}" for intake in trial.intakes) or "nothing"
    return (
        f"takes in {widths} mm\n"
        f"shoulder off {trial.miss.cap_mean:.1f} mm on average,\n"
        f"{trial.miss.cap_p95:.1f} mm nearly everywhere\n"
        f"hang off {trial.miss.swing_deg:.1f}°"
    )
