"""Seams walked: each pair of stitching lines laid straight, one under the other."""

from __future__ import annotations

from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.picturing_draft.paper import FAINT, INK, VERDICTS, sheet
from unroll.types import WalkedSeam

ROW = 0.82  # inches a seam


def walked_figure(seams: tuple[WalkedSeam, ...], *, title: str = "") -> Figure:
    """Return a picture of walked seams: two bars a seam at one scale, notches joined, the verdict.

    Parameters
    ----------
    seams : tuple of WalkedSeam
    title : str
    """
    height = ROW * len(seams) + 0.9
    figure = sheet(11.5, height)
    axes = figure.add_axes((0.165, 0.35 / height, 0.42, 1.0 - 0.95 / height))
    longest = max(max(seam.lengths_mm) for seam in seams)
    axes.set_xlim(0.0, 1.002 * longest)
    axes.set_ylim(len(seams) - 0.35, -0.6)
    axes.axis("off")
    for index, seam in enumerate(seams):
        _row(axes, seam, float(index))
    figure.text(0.02, 1.0 - 0.32 / height, title, fontsize=12, color=INK, va="center")
    axes.plot([0, 100], [len(seams) - 0.42] * 2, color=INK, linewidth=2)
    axes.text(104, len(seams) - 0.42, "100 mm", fontsize=8, color=INK, va="center")
    return figure


def _row(axes: Axes, seam: WalkedSeam, y: float) -> None:
    """Draw one seam: first line above, second below, with what lies between each two notches."""
    upper, lower, bar = y - 0.17, y + 0.17, 0.17
    one, two = np.zeros(len(seam.stretches) + 1), np.zeros(len(seam.stretches) + 1)
    one[1:] = np.cumsum([s.lengths_mm[0] for s in seam.stretches])
    two[1:] = np.cumsum([s.lengths_mm[1] for s in seam.stretches])
    colour = VERDICTS[seam.verdict]
    for k, stretch in enumerate(seam.stretches):
        is_off = abs(stretch.difference_mm) > 1.5
        fill = colour if is_off else "#e3ded4"
        axes.barh(upper, one[k + 1] - one[k], bar, one[k], color=fill, edgecolor=INK, lw=0.6)
        axes.barh(lower, two[k + 1] - two[k], bar, two[k], color="#e3ded4", edgecolor=INK, lw=0.6)
        if is_off:
            axes.text(0.5 * (one[k] + one[k + 1]), upper, f"{stretch.difference_mm:+.1f}",
                      ha="center", va="center", fontsize=7, color="white")
    for a, b in zip(one[1:-1], two[1:-1], strict=True):
        axes.plot([a, b], [upper + bar / 2, lower - bar / 2], color=FAINT, linewidth=0.8)
    for k, stretch in enumerate(seam.stretches[1:], start=1):
        axes.text(two[k], lower + 0.11, stretch.start, ha="center", va="top", fontsize=6,
                  color=FAINT)
    axes.text(-0.02, y, seam.name, transform=axes.get_yaxis_transform(), ha="right", va="center",
              fontsize=9, color=INK)
    for line, name, length in zip((upper, lower), seam.pieces, seam.lengths_mm, strict=True):
        axes.text(length + 4.0, line, f"{length:.1f}  {name}", va="center", fontsize=7, color=INK)
    text = "\n".join(wrap(seam.text, 62)[:5])
    axes.text(1.25, y, text, transform=axes.get_yaxis_transform(), va="center", fontsize=7,
              color=colour if seam.verdict != "good" else INK)
