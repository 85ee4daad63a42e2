"""Seams walked: each pair of stitching lines laid straight, one under the other."""

from __future__ import annotations

from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from scipy.optimize import brentq

from unroll.maths.arrays import FloatArray
from unroll.nouns import LevelSurplus, Piece, WalkedSeam

INK = "#26323a"
PAPER = "#fbf8f2"
FAINT = "#8b8f8c"
DRAFTED = "#26323a"
UNROLLED = "#1d7a8c"
CLOTH = {"outer": "#dbe8ea", "inner": "#f2e8c9"}
PLATE = "#e6e2da"
VERDICTS = {"good": "#4d8a57", "usable": "#9a8a2f", "ease in": "#c77b30", "wrong": "#a3362b"}
SIGNED = LinearSegmentedColormap.from_list("short to much", ["#8c2b1e", "#e6b08a", "#f4f1ea",
                                                            "#8fb4d6", "#1f3f86"])


def sheet(width: float, height: float) -> Figure:
    """Return an empty figure of the given size, inches."""
    return Figure(figsize=(width, height), facecolor=PAPER)


def drawing(figure: Figure, box: tuple[float, float, float, float]) -> Axes:
    """Return axes without a frame whose unit is the millimetre both ways."""
    axes = figure.add_axes(box)
    axes.set_aspect("equal")
    axes.axis("off")
    return axes


def draw_piece(axes: Axes, piece: Piece, shift: FloatArray, *, line_width: float = 1.3) -> None:
    """Draw a piece's cloth and stitching line, moved by `shift`."""
    outline = np.concatenate([piece.outline, piece.outline[:1]]) + shift
    axes.fill(*outline.T, color=CLOTH.get(piece.name, PLATE), linewidth=0, zorder=1)
    axes.plot(*outline.T, color=INK, linewidth=line_width, solid_joinstyle="round", zorder=3)


def scale_bar(axes: Axes, start: FloatArray, length: float = 100.0) -> None:
    """Draw a bar of known length."""
    x, y = start
    axes.plot([x, x + length], [y, y], color=INK, linewidth=2.0, solid_capstyle="butt")
    axes.text(x + 0.5 * length, y - 5.0, f"{length:.0f} mm", ha="center", va="top", fontsize=8,
              color=INK)


def frame(axes: Axes, points: FloatArray, margin: float) -> None:
    """Set the limits of a drawing around points."""
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])


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
