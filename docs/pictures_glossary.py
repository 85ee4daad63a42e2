"""Draw the words of the trade for docs/glossary.md: python docs/pictures_glossary.py"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.interpolate import PchipInterpolator

from unroll.show.colours import AFTER, BEFORE, CLOTH, bare, png_bytes

HERE = Path(__file__).parent / "pictures"
INK, FAINT = "#2b2b2b", "#8a8478"
SIZE = (2.7, 2.0)  # inches


def main() -> None:
    HERE.mkdir(exist_ok=True)
    for name, draw in WORDS.items():
        figure = Figure(figsize=SIZE, facecolor="white")
        axes = figure.add_axes((0.02, 0.02, 0.96, 0.96))
        bare(axes)
        draw(axes)
        axes.set_xlim(0, 135)
        axes.set_ylim(0, 100)
        (HERE / f"glossary_{name}.png").write_bytes(png_bytes(figure))


def cloth(axes: Axes, points: list[tuple[float, float]] | np.ndarray) -> None:
    axes.fill(*np.asarray(points, dtype=float).T, facecolor=CLOTH, edgecolor=INK, lw=1.4)


def line(axes: Axes, points: list[tuple[float, float]] | np.ndarray, colour: str = INK,
         style: str = "-", width: float = 1.4) -> None:  # fmt: skip
    axes.plot(*np.asarray(points, dtype=float).T, color=colour, ls=style, lw=width)


def word(axes: Axes, x: float, y: float, text: str, colour: str = INK, across: str = "left") -> None:
    axes.text(x, y, text, color=colour, fontsize=8.5, ha=across, va="center")


def arrow(axes: Axes, start: tuple[float, float], end: tuple[float, float], colour: str = AFTER,
          style: str = "->") -> None:  # fmt: skip
    axes.annotate("", end, start, arrowprops={"arrowstyle": style, "color": colour, "lw": 1.4})


def curve(x0: float, x1: float, low: float, high: float, count: int = 60) -> np.ndarray:
    """A cap's edge: an arch from one corner to the other."""
    share = np.linspace(0.0, 1.0, count)
    return np.column_stack([x0 + share * (x1 - x0), low + (high - low) * np.sin(np.pi * share) ** 0.8])


def side(points: list[tuple[float, float]]) -> np.ndarray:
    """A smooth line through an arm's points, from the top down."""
    x, y = np.array(points, dtype=float).T
    rows = np.linspace(y[0], y[-1], 60)
    return np.column_stack([PchipInterpolator(y[::-1], x[::-1])(rows), rows])


ARM_BACK = [(47, 92), (38, 86), (32, 66), (34, 40), (38, 8)]
ARM_FRONT = [(49, 92), (60, 86), (68, 66), (64, 40), (58, 8)]


def arm(axes: Axes) -> None:
    """A left arm seen from its side, hanging from a shoulder."""
    cloth(axes, np.vstack([side(ARM_BACK), side(ARM_FRONT)[::-1]]))


def cap(axes: Axes) -> None:
    arm(axes)
    back, front = (line[line[:, 1] >= 68] for line in (side(ARM_BACK), side(ARM_FRONT)))
    axes.fill(*np.vstack([back, front[::-1]]).T, facecolor=AFTER, alpha=0.35, lw=0)
    line(axes, [(24, 68), (78, 68)], AFTER, "--")
    word(axes, 80, 68, "level of the\nunderarm", AFTER)
    word(axes, 72, 86, "the cap")


def armhole(axes: Axes) -> None:
    angle = np.linspace(0, 2 * np.pi, 90)
    cloth(axes, np.column_stack([48 + 26 * np.cos(angle), 50 + 34 * np.sin(angle)]))
    for y, text in ((84, "shoulder point"), (16, "underarm")):
        axes.plot([48], [y], "o", color=BEFORE, ms=5)
        word(axes, 80, y, text, BEFORE)
        line(axes, [(52, y), (78, y)], BEFORE, ":")
    arrow(axes, (14, 16), (14, 84), style="<->")
    word(axes, 80, 50, "armhole of\nthe double")


def ease(axes: Axes) -> None:
    cloth(axes, [*curve(14, 84, 34, 78), (84, 14), (14, 14)])
    line(axes, curve(14, 84, 34, 78), BEFORE, width=3)
    line(axes, curve(98, 128, 34, 60), AFTER, width=3)
    word(axes, 49, 88, "longer line", BEFORE, "center")
    word(axes, 113, 70, "shorter", AFTER, "center")
    word(axes, 113, 22, "the surplus\nis the ease", across="center")


def dart(axes: Axes) -> None:
    cloth(axes, [(14, 78), (40, 82), (49, 34), (58, 82), (84, 78), (84, 12), (14, 12)])
    arrow(axes, (40, 90), (58, 90), BEFORE, "<->")
    word(axes, 62, 92, "intake", BEFORE)
    word(axes, 88, 60, "legs")
    line(axes, [(56, 62), (87, 60)], FAINT, ":")
    axes.plot([49], [34], "o", color=AFTER, ms=5)
    word(axes, 88, 34, "point", AFTER)
    line(axes, [(52, 34), (87, 34)], FAINT, ":")


def notch(axes: Axes) -> None:
    for x, flip in ((12, 1), (84, -1)):
        side = 58 if flip == 1 else 84
        cloth(axes, [(x, 14), (x + 46 if flip == 1 else 130, 14), (x + 46 if flip == 1 else 130, 86),
                     (x, 86)])  # fmt: skip
        for y in (44, 60):
            axes.fill([side, side + flip * -6, side], [y - 3, y, y + 3], color=BEFORE)
    arrow(axes, (60, 44), (82, 44), style="<->")
    arrow(axes, (60, 60), (82, 60), style="<->")
    word(axes, 71, 92, "these meet", AFTER, "center")


def grain(axes: Axes) -> None:
    for x in range(6, 67, 6):
        line(axes, [(x, 12), (x, 90)], FAINT, width=0.5)
    for y in range(12, 92, 6):
        line(axes, [(6, y), (66, y)], FAINT, width=0.5)
    arrow(axes, (18, 20), (18, 82), AFTER, "<->")
    word(axes, 71, 68, "straight grain:\nalong the selvedge", AFTER)
    arrow(axes, (27, 22), (60, 55), BEFORE, "<->")
    word(axes, 71, 32, "bias: half-way\nbetween the threads", BEFORE)


def allowance(axes: Axes) -> None:
    cloth(axes, [(14, 14), (84, 14), (84, 84), (14, 84)])
    line(axes, [(24, 24), (74, 24), (74, 74), (24, 74), (24, 24)], AFTER, "--")
    word(axes, 88, 84, "cutting line")
    word(axes, 88, 66, "stitching line", AFTER)
    line(axes, [(75, 66), (87, 66)], FAINT, ":")
    arrow(axes, (74, 40), (84, 40), BEFORE, "<->")
    word(axes, 88, 40, "seam\nallowance", BEFORE)


def walking(axes: Axes) -> None:
    cloth(axes, [(10, 14), (60, 14), (56, 50), (60, 88), (10, 88)])
    turn = np.radians(-14)
    other = np.array([[0, 0], [44, 0], [44, 74], [0, 74], [-3, 36]]) @ np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    )
    cloth(axes, other + [68, 24])
    axes.add_patch(matplotlib.patches.FancyArrowPatch(
        (66, 32), (62, 66), connectionstyle="arc3,rad=0.35", arrowstyle="->", color=BEFORE,
        mutation_scale=12, lw=1.6))  # fmt: skip
    word(axes, 80, 6, "one line rolled along the other", BEFORE, "center")


def truing(axes: Axes) -> None:
    cloth(axes, [(6, 60), (42, 76), (58, 70), (94, 60), (94, 14), (6, 14)])
    line(axes, [(6, 60), (42, 76), (58, 70), (94, 60)], BEFORE, width=2)
    share = np.linspace(0, 1, 40)
    line(axes, np.column_stack([6 + 88 * share, 60 + 13.5 * np.sin(np.pi * share) ** 0.9]), AFTER, "--", 2)
    word(axes, 42, 88, "corner", BEFORE, "center")
    word(axes, 92, 84, "trued: it\nruns smooth", AFTER)


def girth(axes: Axes) -> None:
    arm(axes)
    angle = np.linspace(0, 2 * np.pi, 60)
    for y, half in ((58, 17.5), (24, 12.5)):
        line(axes, np.column_stack([50 + half * np.cos(angle), y + 4 * np.sin(angle)]), AFTER, width=2)
    word(axes, 76, 58, "girth: a tape\nall round, level", AFTER)


def base(axes: Axes) -> None:
    arm(axes)
    angle = np.linspace(0, 2 * np.pi, 60)
    axes.fill(48 + 11 * np.cos(angle), 88 + 4 * np.sin(angle), facecolor=AFTER, edgecolor=INK, lw=1)
    axes.fill(48 + 10 * np.cos(angle), 8 + 3 * np.sin(angle), facecolor=AFTER, edgecolor=INK, lw=1)
    word(axes, 74, 88, "armhole base", AFTER)
    word(axes, 74, 8, "wrist base", AFTER)


def trial(axes: Axes) -> None:
    arm(axes)
    for y in range(14, 90, 9):
        line(axes, [(51, y), (51, y + 5)], BEFORE, width=1.6)
    word(axes, 76, 58, "sewn in cheap\ncloth with long\nstitches first", BEFORE)


def plumb(axes: Axes) -> None:
    arm(axes)
    line(axes, [(48, 92), (48, 10)], BEFORE)
    axes.fill([45, 51, 48], [12, 12, 4], color=BEFORE)
    arrow(axes, (48, 30), (58, 30), AFTER, "<->")
    word(axes, 76, 84, "string with a\nweight, from the\nshoulder point", BEFORE)
    word(axes, 76, 30, "read level,\nwith a ruler", AFTER)


WORDS: dict[str, Callable[[Axes], None]] = {
    "cap": cap, "armhole": armhole, "ease": ease, "dart": dart, "notch": notch, "grain": grain,
    "allowance": allowance, "walking": walking, "truing": truing, "girth": girth, "base": base,
    "trial": trial, "plumb": plumb,
}  # fmt: skip

if __name__ == "__main__":
    main()
