"""The cap, level by level: cloth against arm, and the stand-off that the surplus stands for."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.optimize import brentq

from unroll.picturing_draft.paper import FAINT, INK, drawing, sheet
from unroll.types import FloatArray, LevelSurplus

SHORT, MUCH = "#a3362b", "#1f3f86"
HEADS = ("level", "above\nunderarm", "arm\nneeds", "cloth\ndrafted", "too much (+)\ntoo little (−)",
         "stands off\nabout")
PLACES = (0.02, 0.19, 0.28, 0.37, 0.475, 0.60)


def levels_figure(levels: tuple[LevelSurplus, ...], *, title: str = "") -> Figure:
    """Return a table of the cap's levels, each with a drawing of cloth spanning its arc.

    Parameters
    ----------
    levels : tuple of LevelSurplus
        Of one pattern, lowest first; drawn with the highest on top.
    title : str
    """
    row = 0.95 if any(x.standoff_mm > 5.0 for x in levels) else 0.5
    height = row * len(levels) + 1.25
    figure = sheet(9.0, height)
    figure.text(0.02, 1.0 - 0.25 / height, title, fontsize=12, color=INK, va="center")
    for head, x in zip(HEADS, PLACES, strict=True):
        figure.text(x, 1.0 - 0.72 / height, head, fontsize=8, color=FAINT, va="center")
    longest = max(max(x.cloth_mm, x.arm_mm) for x in levels)
    for index, level in enumerate(reversed(levels)):
        base = 1.0 - (0.95 + row * (index + 0.85)) / height
        _words(figure, level, base)
        box = (0.70, base - 0.10 * row / height, 0.28, 0.96 * row / height)
        _arc(drawing(figure, box), level, longest)
    return figure


def _words(figure: Figure, level: LevelSurplus, y: float) -> None:
    """Write one row of the table."""
    surplus = level.surplus_mm
    colour = INK if abs(surplus) < 3.0 else MUCH if surplus > 0 else SHORT
    words = (
        level.name, f"{level.up_mm:.0f} mm", f"{level.arm_mm:.1f}", f"{level.cloth_mm:.1f}",
        f"{round(surplus, 1) + 0.0:+.1f} mm",
        f"{level.standoff_mm:.0f} mm" if surplus > 0.5 else "pulls" if surplus < -0.5 else "lies",
    )
    for index, (word, x) in enumerate(zip(words, PLACES, strict=True)):
        figure.text(x, y, word, fontsize=9.5, va="center", color=colour if index > 3 else INK)


def _arc(axes: Axes, level: LevelSurplus, longest: float) -> None:
    """Draw the span and the cloth over it, at one scale in all rows."""
    half = 0.5 * level.arm_mm
    axes.plot([-half, half], [0, 0], color=INK, linewidth=1.0)
    for x in (-half, half):
        axes.plot([x, x], [-4, 4], color=INK, linewidth=1.0)
    if level.surplus_mm > 0.5:
        arc = _span(level.arm_mm, level.surplus_mm)
        axes.fill(*arc.T, color=MUCH, alpha=0.15, linewidth=0)
        axes.plot(*arc.T, color=MUCH, linewidth=1.6)
    elif level.surplus_mm < -0.5:
        cloth = 0.5 * level.cloth_mm
        axes.plot([-cloth, cloth], [0, 0], color=SHORT, linewidth=4.0, solid_capstyle="butt")
    axes.set_xlim(-0.55 * longest, 0.55 * longest)
    axes.set_anchor("S")
    axes.set_ylim(-0.036 * longest, (0.36 if level.surplus_mm > 0.5 else 0.1) * longest)


def _span(chord: float, extra: float) -> FloatArray:
    """Return the circular arc of length chord + extra over a chord, (k, 2)."""
    cloth = chord + extra
    half = brentq(lambda x: np.sinc(x / np.pi) - chord / cloth, 1e-9, np.pi)
    radius = cloth / (2.0 * half)
    angle = np.linspace(-half, half, 80)
    return np.column_stack([radius * np.sin(angle), radius * (np.cos(angle) - np.cos(half))])
