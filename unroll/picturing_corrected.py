"""Pictures of corrected pieces: what was changed on paper, and the dart layouts to choose from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.geometry.placing import fit_motion
from unroll.types import FloatArray, Piece
from unroll.types.corrected import Closing, LayoutTrial

INK, PAPER, FAINT = "#26323a", "#fbf8f2", "#8b8f8c"
BEFORE, AFTER, CLOTH = "#a3362b", "#2f6f8f", "#e9e4da"
GAP_MM = 35.0


def overlay_figure(closing: Closing) -> Figure:
    """Return the pieces before and after correction, laid over each other.

    Each corrected piece is drawn filled, the uncorrected one as a dashed line; both lie so that
    they agree as well as they can.
    """
    figure = Figure(figsize=(7.6, 6.2), facecolor=PAPER)
    axes = figure.add_axes((0.01, 0.10, 0.56, 0.80))
    _bare(axes)
    left = 0.0
    for before, after in zip(closing.uncorrected[:2], closing.pieces[:2], strict=True):
        moved = _laid_over(before, after)
        shift = np.array([left - min(after.outline[:, 0].min(), moved[:, 0].min()), 0.0])
        _filled_piece(axes, after, shift)
        closed = np.vstack([moved, moved[:1]]) + shift
        axes.plot(*closed.T, color=BEFORE, lw=1.1, ls=(0, (5, 2)))
        both = np.vstack([after.outline, moved])
        middle = 0.5 * (both[:, 0].min() + both[:, 0].max()) + shift[0]
        axes.text(
            middle,
            both[:, 1].min() - 22.0,
            after.name,
            ha="center",
            va="top",
            color=INK,
            fontsize=10,
        )
        left += float(np.ptp(both[:, 0])) + GAP_MM
    _legend(figure)
    _list(figure, closing)
    figure.text(0.02, 0.95, "What the correction changes on paper", color=INK, fontsize=13)
    return figure


def layouts_figure(layouts: Sequence[LayoutTrial]) -> Figure:
    """Return the offered dart layouts side by side, with what each takes in and gives.

    Each is sketched as the cap seen from the side, its darts as wedges as wide as they are.
    """
    count = max(len(layouts), 1)
    figure = Figure(figsize=(2.7 * count, 3.9), facecolor=PAPER)
    for number, trial in enumerate(layouts):
        axes = figure.add_axes((number / count + 0.02 / count, 0.36, 0.96 / count, 0.52))
        _bare(axes)
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


def _bare(axes: Axes) -> None:
    axes.set_axis_off()
    axes.set_aspect("equal")


def _laid_over(before: Piece, after: Piece) -> FloatArray:
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


def _filled_piece(axes: Axes, piece: Piece, shift: FloatArray) -> None:
    outline = piece.outline + shift
    axes.fill(*outline.T, facecolor=CLOTH, edgecolor=AFTER, lw=1.6)
    for name, line in piece.lines.items():
        if name != "grain":
            axes.plot(*(line + shift).T, color=FAINT, lw=0.6)


def _legend(figure: Figure) -> None:
    for row, (colour, style, words) in enumerate(
        ((AFTER, "solid", "corrected: cut these"), (BEFORE, (0, (5, 2)), "laid flat as it is"))
    ):
        across = 0.03 + 0.30 * row
        line = figure.add_axes((across, 0.03, 0.05, 0.02))
        _bare(line)
        line.set_aspect("auto")
        line.plot([0, 1], [0, 0], color=colour, lw=1.5, ls=style)
        figure.text(across + 0.06, 0.04, words, va="center", color=INK, fontsize=9)


def _list(figure: Figure, closing: Closing) -> None:
    """Write the changes beside the pieces, and what they do to the filled arm."""
    off, was = closing.after, closing.before
    lines = ["On paper:", *(f"· {change}" for change in closing.changes), "", "Sewn and filled:"]
    worst = [max((abs(g.off_percent) for g in one.girths), default=0.0) for one in (was, off)]
    lines += [
        f"· hangs {was.swing_deg:.1f}° off before, {off.swing_deg:.1f}° after",
        f"· wrist {was.wrist_mm:.0f} mm off before, {off.wrist_mm:.0f} mm after",
        f"· girths {worst[0]:.1f} % off before, {worst[1]:.1f} % after",
        f"· shoulder {was.cap_mean:.1f} mm off before, {off.cap_mean:.1f} mm after",
    ]
    wrapped = [part for line in lines for part in _wrapped(line, 46)]
    figure.text(0.59, 0.89, "\n".join(wrapped), va="top", color=INK, fontsize=8.3, linespacing=1.45)


def _wrapped(line: str, most: int) -> list[str]:
    out, here = [], ""
    for word in line.split(" "):
        if here and len(here) + 1 + len(word) > most:
            out.append(here)
            here = "   " + word
        else:
            here = f"{here} {word}" if here else word
    return [*out, here]


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
