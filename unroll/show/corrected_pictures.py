"""Dart layouts to choose from, sketched side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import ArmMesh, Sewn
from unroll.nouns.corrected import LayoutTrial, Spread, SpreadRow
from unroll.show.colours import AFTER, BEFORE, CLOTH, DASHES, FAINT, INK, PAPER, WANTED, bare

# A word that the names of a cause's cases hold, and its name in the picture where they differ.
CAUSES = (
    ("stiff", "cloth half to twice\nas stiff as assumed"),
    ("hard", "filled half to twice\nas hard"),
    ("astray", ""),
    ("finer", "reckoned on\na finer mesh"),
)


@dataclass(frozen=True)
class Wanted:
    """What is let pass of each figure that is shown.

    Attributes
    ----------
    girth_percent, swing_deg, wrist_mm, cap_mean : float
    """

    girth_percent: float
    swing_deg: float
    wrist_mm: float
    cap_mean: float


def certainty_figure(spread: Spread, wanted: Wanted) -> Figure:
    """Return a picture of what each figure may come to when one thing is not as assumed.

    A column a figure, a row a cause. The dot is the figure as assumed, the rings what the cases of
    the cause come to, the bar reaches over all of them, and what is wanted is tinted.
    """
    columns = (
        ("worst girth off by, %", wanted.girth_percent, _girth),
        ("hang off by, °", wanted.swing_deg, lambda row: row.swing_deg),
        ("wrist off by, mm", wanted.wrist_mm, lambda row: row.wrist_mm),
        ("shoulder off by,\nmm on average", wanted.cap_mean, lambda row: row.cap_mean),
    )
    shown = [
        (kind, name or rows[0].name.partition(" (")[0])
        for kind, name in CAUSES
        if (rows := _cases(spread, kind))
    ]
    tall = 1.35 + 0.62 * len(shown)
    figure = Figure(figsize=(7.6, tall), facecolor=PAPER)
    bottom, high = 0.80 / tall, (tall - 1.35) / tall
    for number, (title, limit, figure_of) in enumerate(columns):
        axes = figure.add_axes((0.195 + 0.203 * number, bottom, 0.17, high))
        base = figure_of(spread.base)
        cases = [[figure_of(row) for row in _cases(spread, kind)] for kind, _ in shown]
        _column(axes, base, cases, limit)
        axes.set_title(title, fontsize=8.8, color=INK, linespacing=1.25)
        axes.set_yticks(range(len(shown)), [name for _, name in shown] if number == 0 else [])
        axes.tick_params(axis="y", length=0, labelsize=8.8, labelcolor=INK)
    _legend(figure, tall)
    return figure


def _cases(spread: Spread, kind: str) -> list[SpreadRow]:
    return [row for row in spread.rows if kind in row.name]


def _girth(row: SpreadRow) -> float:
    return abs(row.girth_percent)


def _column(axes: Axes, base: float, cases: Sequence[Sequence[float]], limit: float) -> None:
    """Draw one figure's column; further to the right is further off."""
    most = max(limit, base, *(value for values in cases for value in values))
    axes.set_facecolor(PAPER)
    axes.axvspan(0.0, limit, color=WANTED, lw=0)
    axes.axvline(base, color=AFTER, lw=0.8, ls=(0, (2, 2)))
    for row, values in enumerate(cases):
        ends = min(base, *values), max(base, *values)
        axes.plot(ends, [row, row], color=AFTER, lw=3.2, alpha=0.45, solid_capstyle="round")
        axes.plot(values, [row] * len(values), "o", ms=5.0, mfc=PAPER, mec=AFTER, mew=1.2)
        axes.plot([base], [row], "o", ms=5.2, color=INK)
    axes.set_xlim(0.0, 1.12 * most)
    axes.set_ylim(len(cases) - 0.5, -0.5)
    axes.locator_params(axis="x", nbins=4)
    axes.tick_params(axis="x", labelsize=8.2, labelcolor=INK, color=FAINT)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(FAINT)


def _legend(figure: Figure, tall: float) -> None:
    """Say what tint, dot, ring and bar mean."""
    axes = figure.add_axes((0.0, 0.0, 1.0, 0.40 / tall))
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(-1.0, 1.0)
    axes.fill_between([0.03, 0.055], -0.35, 0.35, color=WANTED, lw=0)
    axes.plot([0.20], [0.0], "o", ms=5.2, color=INK)
    axes.plot([0.485, 0.525], [0.0, 0.0], color=AFTER, lw=3.2, alpha=0.45, solid_capstyle="round")
    axes.plot([0.485, 0.525], [0.0, 0.0], "o", ms=5.0, mfc=PAPER, mec=AFTER, mew=1.2)
    for across, words in (
        (0.065, "what is wanted"),
        (0.215, "as assumed: the report's figure"),
        (0.54, "what it comes to otherwise (right: further off)"),
    ):
        axes.text(across, 0.0, words, fontsize=8.6, color=INK, va="center")


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
