"""Pictures of the flat draft: over the pieces laid flat, its cap by level, its seams walked."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure
from scipy.optimize import brentq

from unroll.maths.arrays import FloatArray
from unroll.nouns import Comparison, LevelSurplus, Piece, PieceComparison, WalkedSeam, source_called
from unroll.show.colours import DASHES, FAINT, INK, OTHER_PIECE, PAPER, PIECE_COLOURS, bare
from unroll.show.pictures import bar_of, scale_bar
from unroll.show.sewn import WIDE
from unroll.units import Unit, format_length, format_small

UNROLLED = "#1d7a8c"
VERDICTS = {"good": "#4d8a57", "usable": "#9a8a2f", "ease in": "#c77b30", "wrong": "#a3362b"}
SIGNED = LinearSegmentedColormap.from_list(
    "short to much", ["#8c2b1e", "#e6b08a", "#f4f1ea", "#8fb4d6", "#1f3f86"]
)
SHORT, MUCH = "#a3362b", "#1f3f86"
GAP = 70.0  # mm between pieces, room for the words between them
SHARED_LINES = ("grain", "upper arm line", "elbow line", "forearm line", "underarm line")


def over_unrolled_figure(
    comparison: Comparison,
    drafted: tuple[Piece, ...],
    unrolled: tuple[Piece, ...],
    *,
    unit: Unit = "mm",
) -> Figure:
    """Return the draft over the pieces laid flat, aligned on grain and upper-arm line.

    The draft's outline is coloured by how far it lies outside the other.
    """
    limit = _limit(comparison)
    columns, x = [], 0.0
    for row in comparison.pieces:
        pair = tuple(_named(pieces, row.piece) for pieces in (drafted, unrolled))
        both = np.vstack([pair[0].outline, pair[1].outline + row.shift])
        columns.append((row, pair, np.array([x - both[:, 0].min(), 0.0]), both))
        x += float(np.ptp(both[:, 0])) + GAP
    corners = np.vstack([both + shift for _, _, shift, both in columns])
    size = np.ptp(corners, axis=0) + 80.0
    width = WIDE
    height = width * size[1] / size[0] + 1.6
    figure = Figure(figsize=(width, height), facecolor=PAPER)
    axes = figure.add_axes((0.0, 1.0 / height, 1.0, 1.0 - 1.6 / height))
    bare(axes)
    for row, (draft, other), shift, _ in columns:
        _overlay(axes, row, draft, other, shift, limit)
        _name_row(axes, row, (draft, other), shift, unit)
    low, high = corners.min(axis=0) - 36.0, corners.max(axis=0) + 36.0
    scale_bar(axes, low, high, unit)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    _legend(figure, comparison, limit, height, unit)
    return figure


def _signed(mm: float, unit: Unit) -> str:
    """Return a difference with its sign: inches in sixteenths, else tenths of a millimetre."""
    if unit != "in":
        return f"{mm:+.1f}"
    return f"{'+' if mm > 0 else chr(0x2212)}{format_length(abs(mm), 'in').removesuffix(' in')}"


def _named(pieces: tuple[Piece, ...], name: str) -> Piece:
    return next(piece for piece in pieces if piece.name == name)


def _limit(comparison: Comparison) -> float:
    """Return the distance at which the colours end: a round figure, mm."""
    worst = max(p.outline_distance_max_mm for p in comparison.pieces)
    return float(next((r for r in (2.0, 5.0, 10.0, 20.0, 30.0, 40.0) if r >= worst), 50.0))


def _overlay(
    axes: Axes, row: PieceComparison, draft: Piece, other: Piece, shift: FloatArray, limit: float
) -> None:
    """Draw one piece twice."""
    theirs = np.concatenate([other.outline, other.outline[:1]]) + row.shift + shift
    axes.fill(*theirs.T, color=PIECE_COLOURS.get(row.piece, OTHER_PIECE), alpha=0.5, linewidth=0)
    axes.plot(*theirs.T, color=UNROLLED, linewidth=1.0, linestyle=DASHES, zorder=3)
    ours = np.concatenate([draft.outline, draft.outline[:1]]) + shift
    axes.plot(*ours.T, color=INK, linewidth=0.7, zorder=4)
    points = row.points + shift
    steps = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
    is_step = np.linalg.norm(steps[:, 1] - steps[:, 0], axis=1) < 10.0
    coloured = LineCollection(list(steps[is_step]), cmap=SIGNED, norm=Normalize(-limit, limit),
                              linewidths=3.2, zorder=2, capstyle="round")  # fmt: skip
    coloured.set_array(row.distances[is_step])
    axes.add_collection(coloured)
    for name in SHARED_LINES:
        if name in draft.lines:
            axes.plot(*(draft.lines[name] + shift).T, color=FAINT, linewidth=0.6)
            if name in other.lines:
                axes.plot(*(other.lines[name] + row.shift + shift).T, color=UNROLLED,
                          linewidth=0.6, linestyle=DASHES)  # fmt: skip


def _name_row(
    axes: Axes, row: PieceComparison, both: tuple[Piece, Piece], shift: FloatArray, unit: Unit
) -> None:
    """Write above two outlines how far they are off each other."""
    ours, theirs = both[0].outline + shift, both[1].outline + row.shift + shift
    axes.text(
        0.5 * (ours[:, 0].min() + ours[:, 0].max()),
        max(float(ours[:, 1].max()), float(theirs[:, 1].max())) + 8.0,
        f"{row.piece}: area {row.area_difference_percent:+.1f} %\n"
        f"{format_small(row.outline_distance_mean_mm, unit)} off on average",
        ha="center", fontsize=9, color=INK,
    )  # fmt: skip


def _legend(
    figure: Figure, comparison: Comparison, limit: float, height: float, unit: Unit
) -> None:
    """Draw the colour scale and name the two lines."""
    axes = figure.add_axes((0.05, 0.42 / height, 0.42, 0.12 / height))
    span = limit / (25.4 if unit == "in" else 1.0)
    bar = figure.colorbar(ScalarMappable(Normalize(-span, span), SIGNED), cax=axes,
                          orientation="horizontal")  # fmt: skip
    words = "inches" if unit == "in" else "mm"
    bar.set_label(f"draft inside (−), outside (+), {words}", fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=9, colors=INK)
    bar.outline.set_linewidth(0.5)
    labels = (source_called(name).label for name in (comparison.drafted, comparison.unrolled))
    names = axes.figure.add_axes((0.52, 0.1 / height, 0.46, 0.55 / height))
    names.set_axis_off()
    for y, label, style, colour in zip(
        (0.75, 0.25), labels, ("solid", DASHES), (INK, UNROLLED), strict=True
    ):
        names.plot([0.0, 0.14], [y, y], color=colour, linewidth=1.2, linestyle=style)
        names.text(0.18, y, label, fontsize=9, va="center", color=INK)
    names.set_xlim(0.0, 1.0)
    names.set_ylim(0.0, 1.0)


HEADS = ("level", "above\nunderarm", "arm\nneeds", "cloth\ndrafted", "too much (+)\ntoo little (−)",
         "bulges\nabout")  # fmt: skip
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
    figure = Figure(figsize=(9.0, height), facecolor=PAPER)
    figure.text(0.02, 1.0 - 0.25 / height, title, fontsize=12, color=INK, va="center")
    for head, x in zip(HEADS, PLACES, strict=True):
        figure.text(x, 1.0 - 0.72 / height, head, fontsize=8, color=FAINT, va="center")
    longest = max(max(x.cloth_mm, x.arm_mm) for x in levels)
    for index, level in enumerate(reversed(levels)):
        base = 1.0 - (0.95 + row * (index + 0.85)) / height
        _words(figure, level, base)
        axes = figure.add_axes((0.70, base - 0.10 * row / height, 0.28, 0.96 * row / height))
        bare(axes)
        _arc(axes, level, longest)
    return figure


def _words(figure: Figure, level: LevelSurplus, y: float) -> None:
    """Write one row of the table."""
    surplus = level.surplus_mm
    colour = INK if abs(surplus) < 3.0 else MUCH if surplus > 0 else SHORT
    words = (
        level.name, f"{level.up_mm:.0f} mm", f"{level.arm_mm:.1f}", f"{level.cloth_mm:.1f}",
        f"{round(surplus, 1) + 0.0:+.1f} mm", level_words(level),
    )  # fmt: skip
    for index, (word, x) in enumerate(zip(words, PLACES, strict=True)):
        figure.text(x, y, word, fontsize=9.5, va="center", color=colour if index > 3 else INK)


def level_words(level: LevelSurplus) -> str:
    """Return what the cloth does on a level: bulge, pull or lie."""
    if level.surplus_mm > 0.5:
        return f"{level.standoff_mm:.0f} mm"
    return "pulls" if level.surplus_mm < -0.5 else "lies"


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


# Inches, so that the words can be read where the picture is as narrow as a telephone.
WALK_WIDE, LEFT, BESIDE = 4.6, 0.08, 1.2
UPPER, LOWER, BAR, NAMES, NAME_ROW = 0.32, 0.54, 0.15, 0.63, 0.11
TEXT_ROW, ROW_GAP, NAME_WIDE, LETTER = 0.14, 0.22, 0.44, 0.066


def walked_figure(
    seams: tuple[WalkedSeam, ...], *, title: str = "", unit: Unit = "mm"
) -> Figure:
    """Return walked seams: two bars each at one scale, notches joined, and the verdict.

    Parameters
    ----------
    seams : tuple of WalkedSeam
    title : str
    unit : {"in", "cm", "mm"}
    """
    per_mm = (WALK_WIDE - LEFT - BESIDE) / max(max(seam.lengths_mm) for seam in seams)
    rows = [_Row(seam, per_mm, unit) for seam in seams]
    height = 0.8 + sum(row.height for row in rows)
    figure = Figure(figsize=(WALK_WIDE, height), facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WALK_WIDE)
    axes.set_ylim(height, 0.0)
    axes.axis("off")
    axes.text(LEFT, 0.2, title, fontsize=10, color=INK, va="center")
    top = 0.4
    for row in rows:
        row.draw(axes, top)
        top += row.height
    size, words = bar_of(unit, fifties=2)
    axes.plot([LEFT, LEFT + per_mm * size], [top + 0.1] * 2, color=INK, linewidth=2)
    axes.text(LEFT + per_mm * size + 0.05, top + 0.1, words, fontsize=8, color=INK, va="center")
    return figure


@dataclass(frozen=True, eq=False)
class _Row:
    """One seam: its name, first line, second line, notches, and the verdict below."""

    seam: WalkedSeam
    per_mm: float
    unit: Unit

    @property
    def stops(self) -> tuple[FloatArray, FloatArray]:
        """Where notches lie along either line, its ends too, inches."""
        lengths = np.array([stretch.lengths_mm for stretch in self.seam.stretches])
        at = np.concatenate([np.zeros((1, 2)), np.cumsum(lengths, axis=0)])
        return LEFT + self.per_mm * at[:, 0], LEFT + self.per_mm * at[:, 1]

    @property
    def names(self) -> list[tuple[float, int, str]]:
        """Where the notches' names stand along the second line, on which row, and what they say."""
        out: list[tuple[float, int, str]] = []
        for x, stretch in zip(self.stops[1][1:-1], self.seam.stretches[1:], strict=True):
            is_near = bool(out) and x - out[-1][0] < NAME_WIDE and out[-1][1] == 0
            least = LEFT + LETTER * len(stretch.start) / 2
            out.append((max(float(x), least), int(is_near), stretch.start))
        return out

    @property
    def text(self) -> list[str]:
        """The verdict, in lines."""
        return wrap(self.seam.text, 66)

    @property
    def below(self) -> float:
        """Where the verdict begins, inches below the row's top."""
        return NAMES + NAME_ROW * (max((row for _, row, _ in self.names), default=-1) + 1) + 0.04

    @property
    def height(self) -> float:
        """Inches."""
        return self.below + TEXT_ROW * len(self.text) + ROW_GAP

    def draw(self, axes: Axes, top: float) -> None:
        """Draw it so many inches below the picture's top."""
        seam, (one, two) = self.seam, self.stops
        upper, lower, colour = top + UPPER, top + LOWER, VERDICTS[seam.verdict]
        axes.text(LEFT, top + 0.12, seam.name, va="center", fontsize=9, color=INK)
        for k, stretch in enumerate(seam.stretches):
            is_off = abs(stretch.difference_mm) > 1.5
            fill = colour if is_off else "#e3ded4"
            axes.barh(upper, one[k + 1] - one[k], BAR, one[k], color=fill, edgecolor=INK, lw=0.6)
            axes.barh(lower, two[k + 1] - two[k], BAR, two[k], color="#e3ded4", edgecolor=INK,
                      lw=0.6)  # fmt: skip
            if is_off:
                axes.text(0.5 * (one[k] + one[k + 1]), upper + 0.01,
                          _signed(stretch.difference_mm, self.unit), ha="center", va="center",
                          fontsize=7.5, color="white")  # fmt: skip
        for a, b in zip(one[1:-1], two[1:-1], strict=True):
            axes.plot([a, b], [upper + BAR / 2, lower - BAR / 2], color=FAINT, linewidth=0.8)
        for x, row, name in self.names:
            axes.text(x, top + NAMES + NAME_ROW * row, name, ha="center", va="top", fontsize=7.5,
                      color=INK)  # fmt: skip
        for line, at, name, length in zip(
            (upper, lower), (one[-1], two[-1]), seam.pieces, seam.lengths_mm, strict=True
        ):
            said = format_length(length, "in") if self.unit == "in" else f"{length:.1f}"
            axes.text(at + 0.05, line, f"{said}  {name}", va="center", fontsize=8, color=INK)
        axes.text(LEFT, top + self.below, "\n".join(self.text), va="top", fontsize=8,
                  color=colour if seam.verdict == "wrong" else INK)  # fmt: skip
