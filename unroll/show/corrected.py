"""Pictures of a correction: pieces over each other, layouts to choose from, how sure it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray
from unroll.maths.placing import fit_motion
from unroll.nouns import Certainty, LayoutTrial, Piece
from unroll.nouns.fit import FIGURES
from unroll.show.colours import (
    AFTER,
    BEFORE,
    CLOTH,
    DASHES,
    FAINT,
    INK,
    PAPER,
    WANTED,
    bare,
    inch_ticks,
)
from unroll.show.phrases import listed, small
from unroll.show.sewn import WIDE
from unroll.units import Unit

GAP_MM = 35.0
PIECES = ("outer", "inner")
CAUSES = {"stiffness": "cloth", "filling": "filling", "cutting": "cutting", "mesh": "finer mesh"}


def overlay_figure(
    before: Sequence[Piece], after: Sequence[Piece], names: tuple[str, str], *,
    lay: Callable[[Piece, Piece], FloatArray],
) -> Figure:  # fmt: skip
    """Return outer and inner piece before and after correction, laid over each other.

    Parameters
    ----------
    before, after : sequence of Piece
    names : (str, str)
        Words for the two.
    lay : callable
        Returns the outline of a piece of `before` where it is to lie on that of `after`.
    """
    figure = Figure(figsize=(WIDE, 5.6), facecolor=PAPER)
    axes = figure.add_axes((0.02, 0.08, 0.96, 0.90))
    bare(axes)
    left = 0.0
    was, now = ({piece.name: piece for piece in pieces} for pieces in (before, after))
    for name in PIECES:
        moved = lay(was[name], now[name])
        left = _one_over_the_other(axes, moved, now[name], left) + GAP_MM
    for line, label in zip((axes.patches[0], axes.lines[-1]), names[::-1], strict=True):
        line.set_label(label)
    figure.legend(loc="lower center", ncols=2, frameon=False, fontsize=9, labelcolor=INK)
    return figure


def _one_over_the_other(axes: Axes, moved: FloatArray, after: Piece, left: float) -> float:
    """Draw one piece over another's outline and return how far they reach to the right."""
    shift = np.array([left - min(after.outline[:, 0].min(), moved[:, 0].min()), 0.0])
    axes.fill(*(after.outline + shift).T, facecolor=CLOTH, edgecolor=AFTER, lw=1.6)
    for name, line in after.lines.items():
        if name != "grain":
            axes.plot(*(line + shift).T, color=FAINT, lw=0.6)
    closed = np.vstack([moved, moved[:1]]) + shift
    axes.plot(*closed.T, color=BEFORE, lw=1.1, ls=DASHES)
    both = np.vstack([after.outline, moved])
    middle = 0.5 * (both[:, 0].min() + both[:, 0].max()) + shift[0]
    axes.text(middle, both[:, 1].min() - 14.0, after.name, ha="center", va="top", color=INK,
              fontsize=9)  # fmt: skip
    return left + float(np.ptp(both[:, 0]))


def as_drawn(before: Piece, _after: Piece) -> FloatArray:
    """Return a piece's outline where it was drawn: both were drawn from one armhole."""
    return before.outline


def laid_over(before: Piece, after: Piece) -> FloatArray:
    """Return the outline of a piece moved stiffly onto another, corner by corner."""
    names = {side.seam for side in after.sides if not side.seam.startswith("dart ")}
    marks = [
        np.array(
            [s.points[0] for s in piece.sides if s.seam in names]
            + [s.points[-1] for s in piece.sides if s.seam in names]
        )
        for piece in (before, after)
    ]
    flat = [np.column_stack([m, np.zeros(len(m))]) for m in marks]
    turn, shift = fit_motion(flat[0], flat[1])
    moved = np.column_stack([before.outline, np.zeros(len(before.outline))]) @ turn.T + shift
    return np.asarray(moved[:, :2])


def layouts_figure(layouts: Sequence[LayoutTrial], *, unit: Unit = "mm") -> Figure:
    """Return dart layouts two to a row, with what each takes in.

    Each is sketched as the cap seen from the side, its darts as wide as they are.
    """
    rows = max((len(layouts) + 1) // 2, 1)
    figure = Figure(figsize=(WIDE, 2.9 * rows), facecolor=PAPER)
    for number, trial in enumerate(layouts):
        low, left = 1.0 - (number // 2 + 1) / rows, 0.5 * (number % 2)
        axes = figure.add_axes((left + 0.01, low + 0.16 / rows, 0.48, 0.72 / rows))
        bare(axes)
        _sketch(axes, trial)
        axes.set_title(trial.name + (" (taken)" if trial.chosen else ""), color=INK, fontsize=9.5)
        each = [small(intake.width, unit) for intake in trial.intakes]
        bare_ones = [width.rpartition(" ")[0] for width in each[:-1]]  # the last says the unit
        widths = listed([*bare_ones, *each[-1:]]) or "nothing"
        figure.text(left + 0.25, low + 0.12 / rows, f"takes in\n{widths}", ha="center", va="top",
                    color=INK, fontsize=9)  # fmt: skip
    return figure


def _sketch(axes: Axes, trial: LayoutTrial) -> None:
    """Draw the cap's edge as an arch and each dart where it starts."""
    half, drop = 90.0, 55.0
    across = np.linspace(-half, half, 61)
    edge = np.column_stack([across, -drop * (across / half) ** 2])
    below = np.array([[half, -230.0], [-half, -230.0]])
    axes.fill(*np.vstack([edge, below]).T, facecolor=CLOTH, edgecolor=INK, lw=1.2)
    for dart, intake in zip(trial.darts, trial.intakes, strict=True):
        # the front lies to the right, as on a left arm seen from its side
        wide = 0.16 * intake.width  # drawn at a third of its true width, so that all find room
        places = dart.at + np.array([wide, -wide])
        ends = np.column_stack([places, 1.0 - drop * (places / half) ** 2])
        point = [dart.at * dart.lean, ends[:, 1].mean() - min(dart.length, 205.0)]
        cut = np.vstack([ends[:1], [point], ends[1:]])
        axes.fill(*cut.T, facecolor=PAPER, edgecolor=BEFORE, lw=1.3)
    axes.text(-half, 8.0, "back", color=FAINT, fontsize=9, ha="left")
    axes.text(half, 8.0, "front", color=FAINT, fontsize=9, ha="right")
    axes.set_xlim(-105, 105)
    axes.set_ylim(-240, 30)


def certainty_figure(certainty: Certainty, unit: Unit = "mm") -> Figure:
    """Return a picture of what each figure may come to when one thing is not as assumed.

    A panel a figure, a row a cause. The dot is the figure as assumed, the rings what the cases of
    the cause come to, the bar reaches over all of them, and what is wanted is tinted.
    """
    rows = (len(FIGURES) + 1) // 2
    causes = certainty.causes
    panel, head, foot = 0.24 * len(causes) + 0.28, 0.30, 0.62  # inches
    tall = rows * (panel + head) + foot
    figure = Figure(figsize=(WIDE, tall), facecolor=PAPER)
    for number, wanted in enumerate(FIGURES):
        row, column = divmod(number, 2)
        low = tall - (row + 1) * (panel + head) + 0.28
        axes = figure.add_axes((0.17 + 0.42 * column, low / tall, 0.37, (panel - 0.28) / tall))
        is_inches = wanted.unit == "mm" and unit == "in"
        per = 25.4 if is_inches else 1.0
        cases = [[wanted.of(case.fit) / per for case in certainty.of(cause)] for cause in causes]
        _column(axes, wanted.of(certainty.base.fit) / per, cases, wanted.limit / per)
        if is_inches:
            inch_ticks(axes.xaxis, axes.get_xlim()[1])
        title = f"{wanted.name.removeprefix('the ')}, {'in' if is_inches else wanted.unit}"
        axes.set_title(title, fontsize=9, color=INK, pad=3)
        axes.set_yticks(range(len(causes)),
                        [CAUSES.get(c, c) for c in causes] if column == 0 else [])  # fmt: skip
        axes.tick_params(axis="y", length=0, labelsize=9, labelcolor=INK)
    _key(figure, tall)
    return figure


def _column(axes: Axes, base: float, cases: Sequence[Sequence[float]], limit: float) -> None:
    """Draw one figure's panel; further to the right is further off."""
    most = max(limit, base, *(value for values in cases for value in values))
    axes.set_facecolor(PAPER)
    axes.axvspan(0.0, limit, color=WANTED, lw=0)
    for row, values in enumerate(cases):
        ends = min(base, *values), max(base, *values)
        axes.plot(ends, [row, row], color=AFTER, lw=3.2, alpha=0.45, solid_capstyle="round")
        axes.plot(values, [row] * len(values), "o", ms=5.0, mfc=PAPER, mec=AFTER, mew=1.2)
        axes.plot([base], [row], "o", ms=5.0, color=INK)
    axes.set_xlim(0.0, 1.12 * most)
    axes.set_ylim(len(cases) - 0.5, -0.5)
    axes.locator_params(axis="x", nbins=4)
    axes.tick_params(axis="x", labelsize=9, labelcolor=INK, color=FAINT, pad=1)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(FAINT)


def _key(figure: Figure, tall: float) -> None:
    """Say what tint, dot and ring mean."""
    axes = figure.add_axes((0.0, 0.0, 1.0, 0.44 / tall))
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(-1.0, 1.0)
    axes.fill_between([0.04, 0.08], 0.2, 0.8, color=WANTED, lw=0)
    axes.plot([0.52], [0.5], "o", ms=5.0, color=INK)
    axes.plot([0.06], [-0.5], "o", ms=5.0, mfc=PAPER, mec=AFTER, mew=1.2)
    for across, up, words in (
        (0.10, 0.5, "wanted"), (0.55, 0.5, "as assumed"),
        (0.10, -0.5, "what it comes to otherwise; right is further off"),
    ):  # fmt: skip
        axes.text(across, up, words, fontsize=9, color=INK, va="center")
