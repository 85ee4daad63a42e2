"""How far the figures of corrected pieces can be trusted, as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.picturing_corrected.inks import AFTER, FAINT, INK, PAPER, WANTED
from unroll.types.corrected import Spread, SpreadRow

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
