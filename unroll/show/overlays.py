"""Pieces before and after correction, laid over each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray
from unroll.maths.placing import fit_motion
from unroll.nouns import Fit, Piece
from unroll.nouns.corrected import Closing, DraftClosing
from unroll.show.colours import AFTER, BEFORE, CLOTH, DASHES, FAINT, INK, PAPER, bare

GAP_MM = 35.0
PIECES = ("outer", "inner")


def corrected_overlay_figure(closing: Closing) -> Figure:
    """Return the pieces before and after correction, laid over each other.

    Each corrected piece is drawn filled, the uncorrected one as a dashed line; both lie so that
    they agree as well as they can.
    """
    lines = ["On paper:", *(f"· {change}" for change in closing.changes), ""]
    return _overlaid(
        (closing.uncorrected, closing.pieces),
        _laid_over,
        "What the correction changes on paper",
        ("corrected: cut these", "laid flat as it is"),
        [*lines, *_gained(closing.before, closing.after)],
    )


def redrawn_figure(found: DraftClosing, told: Sequence[str]) -> Figure:
    """Return a draft from the measured numbers and from corrected ones, laid over each other.

    They lie as they are drawn: on the same armhole.

    Parameters
    ----------
    told : sequence of str
        Each number, as measured and as it is to be drawn with.
    """
    lines = ["Draw it with:", *(f"· {line}" for line in told), ""]
    return _overlaid(
        (found.uncorrected, found.pieces),
        lambda before, _after: before.outline,
        "What the corrected numbers change on paper",
        ("from corrected numbers", "as measured"),
        [*lines, *_gained(found.before, found.after)],
    )


def _overlaid(
    pairs: tuple[Sequence[Piece], Sequence[Piece]],
    lay: Callable[[Piece, Piece], FloatArray],
    title: str,
    names: tuple[str, str],
    lines: Sequence[str],
) -> Figure:
    """Draw outer and inner piece before and after, and write the lines beside them."""
    figure = Figure(figsize=(7.6, 6.2), facecolor=PAPER)
    axes = figure.add_axes((0.01, 0.10, 0.56, 0.80))
    bare(axes)
    left = 0.0
    was, now = ({piece.name: piece for piece in pieces} for pieces in pairs)
    for name in PIECES:
        moved = lay(was[name], now[name])
        left = _one_over_the_other(axes, moved, now[name], left) + GAP_MM
    _legend(figure, names)
    wrapped = [part for line in lines for part in _wrapped(line, 50)]
    figure.text(0.59, 0.89, "\n".join(wrapped), va="top", color=INK, fontsize=8.3, linespacing=1.45)
    figure.text(0.02, 0.95, title, color=INK, fontsize=13)
    return figure


def _one_over_the_other(axes: Axes, moved: FloatArray, after: Piece, left: float) -> float:
    """Draw one piece over another's outline and return how far they reach to the right."""
    shift = np.array([left - min(after.outline[:, 0].min(), moved[:, 0].min()), 0.0])
    _filled_piece(axes, after, shift)
    closed = np.vstack([moved, moved[:1]]) + shift
    axes.plot(*closed.T, color=BEFORE, lw=1.1, ls=DASHES)
    both = np.vstack([after.outline, moved])
    middle = 0.5 * (both[:, 0].min() + both[:, 0].max()) + shift[0]
    low = both[:, 1].min() - 22.0
    axes.text(middle, low, after.name, ha="center", va="top", color=INK, fontsize=10)
    return left + float(np.ptp(both[:, 0]))


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


def _legend(figure: Figure, names: tuple[str, str]) -> None:
    for across, colour, style, words in zip(
        (0.03, 0.36), (AFTER, BEFORE), ("solid", DASHES), names, strict=True
    ):
        line = figure.add_axes((across, 0.03, 0.05, 0.02))
        bare(line)
        line.set_aspect("auto")
        line.plot([0, 1], [0, 0], color=colour, lw=1.5, ls=style)
        figure.text(across + 0.06, 0.04, words, va="center", color=INK, fontsize=9)


def _gained(was: Fit, off: Fit) -> list[str]:
    """Return what the change does to the filled arm."""
    worst = [max((abs(g.off_percent) for g in one.girths), default=0.0) for one in (was, off)]
    return [
        "Sewn and filled:",
        f"· hangs {was.swing_deg:.1f}° off before, {off.swing_deg:.1f}° after",
        f"· wrist {was.wrist_mm:.0f} mm off before, {off.wrist_mm:.0f} mm after",
        f"· girths {worst[0]:.1f} % off before, {worst[1]:.1f} % after",
        f"· shoulder {was.cap_mean:.1f} mm off before, {off.cap_mean:.1f} mm after",
    ]


def _wrapped(line: str, most: int) -> list[str]:
    out, here = [], ""
    for word in line.split(" "):
        if here and len(here) + 1 + len(word) > most:
            out.append(here)
            here = "   " + word
        else:
            here = f"{here} {word}" if here else word
    return [*out, here]
