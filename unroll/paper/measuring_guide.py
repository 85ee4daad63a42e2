"""The measuring guide: where each tape goes, pages to write on, a page to trace the armhole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from unroll.maths.arrays import FloatArray
from unroll.paper import guide_drawing as drawn
from unroll.paper.board import wrapped
from unroll.paper.guide_drawing import FONT, GREY, MONO, View, badge
from unroll.paper.layouts import SIZES, paper_called
from unroll.paper.plumb_drawing import READINGS, from_above, from_the_front, from_the_side
from unroll.units import Unit


@dataclass(frozen=True)
class Tape:
    """One numbered tape.

    Attributes
    ----------
    number : int
        As on the drawing.
    key : str
        What to write in the sheet.
    text : str
        What the tape does; one or two short lines.
    is_must : bool
        Whether the arm cannot be made without it.
    """

    number: int
    key: str
    text: str
    is_must: bool = False


TAPES: tuple[Tape, ...] = (
    Tape(1, "shoulder_to_elbow", "shoulder point to elbow point,\ndown the back of the arm", True),
    Tape(2, "shoulder_to_inner_elbow", "shoulder point to the crease of the\nelbow, down the front "
         "(1 or 2 is needed)"),
    Tape(3, "inner_elbow_to_wrist", "crease of the elbow to the wrist line", True),
    Tape(4, "upper_arm_girth", "level round the fullest upper arm", True),
    Tape(5, "upper_arm_up", "straight from the crease up to tape 4"),
    Tape(6, "elbow_girth", "round elbow point and crease, so\nthat it slants"),
    Tape(7, "forearm_girth", "round the fullest forearm"),
    Tape(8, "forearm_down", "straight from the crease down to tape 7"),
    Tape(9, "wrist_girth", "round the wrist bone", True),
    Tape(10, "wrist_width", "thumb side to little-finger side,\nbetween two books that just touch"),
    Tape(11, "wrist_depth", "palm side to back of the hand, likewise"),
    Tape(12, "cap_height", "over the outside, shoulder point\nto the level of the underarm"),
    Tape(13, "cap_arcs", "level, over the outside, armhole edge\nto armhole edge; three of them. "
         "up: how\nfar straight above the underarm"),
    Tape(14, "armhole", "the double's armhole: width and\nheight, or the girth along its "
         "edge;\nor trace it on page 4"),
    Tape(15, "shoulder_length", "neck point to shoulder point; and the\nslope of that line, front "
         "and back, degrees"),
)

CAUTIONS: tuple[str, ...] = (
    "Let the arm hang as the double's arm shall hang, the same for every tape: a bent elbow "
    "measures thicker and longer.",
    "The tape lies on the skin and does not press it in. Keep girths level all round.",
    "Mark shoulder point, elbow crease, underarm level and wrist line on the skin first; measure "
    "to the marks.",
    "Page 3 asks how the armhole stands and the arm hangs: it decides most of all.",
)

# Where the points lie: common practice, no source
POINTS: tuple[tuple[str, str], ...] = (
    ("Shoulder point", "lift the arm sideways: a small hollow shows at the end of the shoulder "
     "bone. Mark its middle, lower the arm."),
    ("Neck point", "hang a thin chain round the neck: where it crosses the top of the shoulder."),
    ("Elbow", "bend it once: the point is the bony tip behind, the crease the fold in front. Mark "
     "both, let the arm hang."),
    ("Level of the underarm", "hold a ruler level and slide it up under the arm until it just "
     "touches; mark its upper edge in front, outside and behind."),
    ("Wrist line", "level round the arm through the bone that stands out on the little-finger "
     "side."),
)

ROWS: tuple[tuple[str, str], ...] = (
    *((f"{tape.number}", tape.key) for tape in TAPES[:8]),
    ("", "girths: half-way from 7 to the wrist line, down"),
    ("", "its girth"),
    ("", "girths: level with the underarm, up"),
    ("", "its girth"),
    *((f"{tape.number}", tape.key) for tape in TAPES[8:12]),
    *((number, f"cap_arcs {row}") for number, row in
      (("13", "1: up"), ("", "1: length"), ("", "2: up"), ("", "2: length"), ("", "3: up"),
       ("", "3: length"))),
    ("14", "armhole: width"), ("", "armhole: height"), ("", "armhole: girth"),
    ("15", "shoulder_length"), ("", "shoulder_slope_front, degrees"),
    ("", "shoulder_slope_back, degrees"),
)  # fmt: skip

A4 = SIZES["a4"]
SCALE = 0.205
TRACED = 75.0  # mm; half the height of the cross on the tracing page


def guide_pages(paper: str = "a4", unit: Unit = "cm") -> tuple[Figure, ...]:
    """Return the guide: where each tape goes, two pages to write on, and one to trace the armhole.

    Parameters
    ----------
    paper : str
        Name of the paper; text pages of large sheets come on A4.
    unit : {"in", "cm", "mm"}
        What the readings are written in.

    Raises
    ------
    UnrollError
        When the paper is unknown.

    Examples
    --------
    >>> pages = guide_pages("letter")
    >>> [round(25.4 * float(side), 1) for side in pages[0].get_size_inches()], len(pages)
    ([215.9, 279.4], 4)
    """
    pages = _record_page(paper, unit), _plumb_page(paper, unit), _tracing_page(paper)
    return guide_figure(paper), *pages


def _page(paper: str) -> tuple[Figure, Axes]:
    """Return an empty page in mm; its upper edge is at 297, and its middle at 105 across."""
    found = paper_called(paper)
    width, height = A4 if found.is_one_sheet or found.width > 230 else (found.width, found.height)
    figure = Figure(figsize=(width / 25.4, height / 25.4), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim((A4[0] - width) / 2, (A4[0] + width) / 2)
    axes.set_ylim(A4[1] - height, A4[1])
    axes.set_axis_off()
    return figure, axes


def guide_figure(paper: str = "a4") -> Figure:
    """Return the guide's first page: every tape of the sheet drawn and numbered, black on white."""
    figure, axes = _page(paper)
    _heading(axes, "Where each tape goes",
             "Numbers as in the blank sheet. Full line: the tape on the near side. Dotted: on the "
             "far side. Thin line: a straight distance. Not drawn to scale.")  # fmt: skip
    front_view(View(axes, (52.0, 245.5), SCALE))
    outside_view(View(axes, (122.0, 245.5), SCALE))
    plate(View(axes, (176.0, 245.5), 0.26))
    wrist(View(axes, (176.0, 162.0), 0.42))
    _legend(axes)
    return figure


def _heading(axes: Axes, title: str, text: str) -> None:
    axes.text(14.0, 283.0, title, fontsize=17, family=FONT, weight="bold", va="center")
    axes.text(14.0, 276.5, text, fontsize=7.0, family=FONT, va="center", color=GREY)


def _record_page(paper: str, unit: Unit) -> Figure:
    """Return the page with the points to mark, and three blanks a measure."""
    figure, axes = _page(paper)
    _heading(axes, "Mark the points, then measure three times",
             "Write all three readings down and copy them into the sheet. What you leave out is "
             "estimated.")  # fmt: skip
    top = 270.0
    for name, text in POINTS:
        axes.text(14.0, top, name, fontsize=7.0, family=FONT, weight="bold", va="center")
        for line in wrapped(text, 145.0, 2.5):
            axes.text(51.0, top, line, fontsize=7.0, family=FONT, va="center")
            top -= 3.5
        top -= 1.0
    for text in CAUTIONS:
        axes.text(14.0, top, "•", fontsize=8, family=FONT, va="center")
        for line in wrapped(text, 178.0, 2.5):
            axes.text(17.5, top, line, fontsize=7.0, family=FONT, va="center")
            top -= 3.5
    _blanks(axes, ROWS, top - 3.0, unit)
    return figure


def _plumb_page(paper: str, unit: Unit) -> Figure:
    """Return the page that shows what is read against a plumb line, with three blanks a reading."""
    figure, axes = _page(paper)
    _heading(axes, "Hang a plumb line",
             "From the double's shoulder point, then from the arm's own, the arm hanging. Read "
             "level, with a ruler; a minus sign is the other way.")  # fmt: skip
    from_the_front(View(axes, (50.0, 249.0), 0.24))
    from_the_side(View(axes, (113.0, 249.0), 0.24))
    from_above(View(axes, (157.0, 212.0), 0.2))
    for row, text in enumerate(wrapped(
        "Nothing moves the finished arm as much as how armhole and arm hang: 1/2 in (12 mm) at the "
        "underarm carries the wrist by 3 in (75 mm).", 52.0, 2.5)):  # fmt: skip
        axes.text(146.0, 168.0 - 3.5 * row, text, fontsize=7.0, family=FONT, va="center")
    rows = [("", f"{key}  ({text})") for key, text in READINGS]
    _blanks(axes, rows, axes.get_ylim()[0] + 76.0, unit)
    return figure


def _blanks(axes: Axes, rows: Sequence[tuple[str, str]], top: float, unit: Unit) -> None:
    """Draw a line for each row's number and name, with room for three readings."""
    for place, title in ((14.0, f"measure, {unit}"), (104.0, "first"), (136.0, "second"),
                         (168.0, "third")):  # fmt: skip
        axes.text(place, top, title, fontsize=7.0, family=FONT, weight="bold", va="center")
    step = (top - (axes.get_ylim()[0] + 13.0)) / len(rows)
    for row, (number, text) in enumerate(rows, start=1):
        base = top - row * step
        if number:
            badge(axes, np.array([16.4, base + 1.6]), int(number))
        axes.text(21.0, base + 1.6, text, fontsize=7.0, family=MONO, va="center")
        for left in (104.0, 136.0, 168.0):
            axes.plot([left, left + 28.0], [base, base], color="black", linewidth=0.4)


def _tracing_page(paper: str) -> Figure:
    """Return the page to trace the armhole on: a cross, and squares to check the printer by."""
    figure, axes = _page(paper)
    _heading(axes, "Trace the double's armhole here",
             "Lay the armhole's stitched edge on the page, shoulder on the upper mark, front to "
             "the right, and draw round it.")  # fmt: skip
    middle = np.array([105.0, 180.0])
    for way in ([0.0, TRACED], [TRACED, 0.0]):
        axes.plot(*np.array([middle - way, middle + way]).T, color="black", linewidth=0.5)
    for text, spot, align in (
        ("shoulder", [0.0, TRACED + 4], "center"), ("underarm", [0.0, -TRACED - 4], "center"),
        ("front", [TRACED + 3, 0.0], "left"), ("back", [-TRACED - 3, 0.0], "right"),
    ):  # fmt: skip
        x, y = middle + np.array(spot)
        axes.text(x, y, text, fontsize=8, family=FONT, ha=align, va="center")
    corner = np.array([20.0, 32.0])
    for side in (50.0, 50.8):
        ring = corner + side * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])
        axes.plot(*ring.T, color="black", linewidth=0.4)
    lines = (
        "Test squares: small 50 mm, large 2 in. Print at 100 % and measure them first.",
        "Then measure the trace, width, height and along its edge, and write it in the sheet:",
        'armhole = { width = "", height = "", girth = "" }',
        "or scan it true to scale, draw it as one closed line in an SVG file, and write:",
        'armhole = { outline = "armhole.svg" }',
    )
    for row, text in enumerate(lines):
        family = MONO if text.startswith("armhole") else FONT
        axes.text(76.0, 78.0 - 6.0 * row, text, fontsize=7.0, family=family, va="center")
    return figure


def front_view(view: View) -> None:
    """Draw the arm from the front, with the tapes that are seen there."""
    outer, inner = drawn.smooth(drawn.FRONT_OUTER), drawn.smooth(drawn.FRONT_INNER)
    hand = drawn.smooth(drawn.FRONT_HAND)
    view.fill(np.vstack([outer, hand[::-1], inner[::-1]]))
    for points in drawn.FRONT_BODY:
        view.contour(drawn.smooth(points), pale=True)
    view.contour(hand, pale=True)
    view.contour(drawn.smooth(drawn.FRONT_THUMB), pale=True)
    view.contour(outer)
    view.contour(inner)
    view.hidden(np.array([(0.0, 0.0), (2.0, drawn.UNDERARM)]))
    view.note((-60.0, 119.0), "FRONT", align="center", size=8.5)
    view.note((-60.0, 103.0), "the wearer's left arm", align="center")
    _front_lengths(view)
    _front_girths(view, (inner, outer))
    _shoulder(view)


def _front_lengths(view: View) -> None:
    down = drawn.smooth([(0, 0), (22, -36), (36, -100), (44, -200), (47, drawn.CREASE)])
    view.about("shoulder_to_inner_elbow")
    view.tape(down[4:-4])
    view.badge((39.0, -132.0), 2)
    view.about("inner_elbow_to_wrist")
    view.tape(np.linspace((47.0, drawn.CREASE - 5.0), (46.0, drawn.WRIST + 5.0), 40))
    view.badge((47.0, -462.0), 3)
    view.about("cap_height")
    over = drawn.smooth([(point[0] + 7.0, point[1] + 6.0) for point in drawn.FRONT_OUTER[:5]])
    view.tape(over)
    view.leader((76.0, -44.0), (104.0, -32.0))
    view.badge((110.0, -30.0), 12)
    view.about()
    view.level((-22.0, drawn.UNDERARM), (128.0, drawn.UNDERARM))
    view.note((-26.0, drawn.UNDERARM), "level of the\nunderarm\n(girths)", align="right")
    for at in ((0.0, 0.0), (47.0, drawn.CREASE), (46.0, drawn.WRIST)):
        view.dot(at)


def _front_girths(view: View, edges: tuple[FloatArray, FloatArray]) -> None:
    for field, number, level in (
        ("upper_arm_girth", 4, drawn.UPPER_ARM), ("forearm_girth", 7, drawn.FOREARM),
        ("wrist_girth", 9, drawn.WRIST),
    ):  # fmt: skip
        view.about(field)
        left, right = drawn.across_at(level, edges)
        view.girth(drawn.ring((left, level), (right, level), 8.0))
        view.leader((right, level), (114.0, level))
        view.badge((120.0, level), number)
    view.about()
    view.level((60.0, drawn.CREASE), (160.0, drawn.CREASE))
    view.note((-2.0, drawn.CREASE), "crease", align="right")
    for field, number, level in (
        ("upper_arm_up", 5, drawn.UPPER_ARM), ("forearm_down", 8, drawn.FOREARM),
    ):  # fmt: skip
        view.about(field)
        view.level((128.0, level), (160.0, level))
        view.distance((150.0, drawn.CREASE), (150.0, level))
        view.badge((150.0, 0.5 * (drawn.CREASE + level)), number)
    view.about()
    view.note((16.0, drawn.WRIST - 2.0), "wrist line", align="right")
    view.about("girths")
    level = 0.5 * (drawn.FOREARM + drawn.WRIST)
    left, right = drawn.across_at(level, edges)
    view.girth(drawn.ring((left, level), (right, level), 8.0))
    view.note((left - 8.0, level), "half-way: girths", align="right")
    view.about()


def _shoulder(view: View) -> None:
    neck = (-120.0, 42.0)
    view.about("shoulder_length")
    view.tape(np.linspace((neck[0] + 2.5, neck[1] + 7.0), (-3.0, 8.0), 40))
    view.leader((-54.0, 27.0), (-44.0, 46.0))
    view.badge((-41.0, 52.0), 15)
    view.about()
    view.dot(neck)
    view.note((-128.0, 42.0), "neck\npoint", align="right")
    view.note((8.0, 22.0), "shoulder point", align="left")
    view.about("shoulder_slope_front", "shoulder_slope_back")
    view.level((-120.0, 0.0), (-4.0, 0.0))
    slope = np.arctan2(42.0, -120.0)
    angle = np.linspace(slope, np.pi, 20)
    arc = 84.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    view.curve(arc)
    view.note((-90.0, 12.0), "slope", align="right")
    view.about()


def outside_view(view: View) -> None:
    """Draw the arm from outside, with the tapes that are seen there."""
    front, back, hand = drawn.outside_contours()
    view.fill(np.vstack([front, hand, back[::-1]]))
    view.contour(hand, pale=True)
    view.contour(front)
    view.contour(back)
    view.hidden(drawn.oval(*drawn.PLATE, centre=(0.0, 0.5 * drawn.UNDERARM)))
    view.note((0.0, 119.0), "OUTSIDE", align="center", size=8.5)
    view.note((0.0, 103.0), "front on the left, back on the right", align="center")
    view.note((0.0, 22.0), "shoulder point", align="center")
    _down_the_back(view, back)
    _cap_arcs(view, (front, back))
    view.about("elbow_girth")
    view.girth(drawn.ring((-44.0, drawn.CREASE), (40.0, -334.0), 8.0))
    view.leader((-44.0, drawn.CREASE), (-82.0, drawn.CREASE + 4.0))
    view.badge((-88.0, drawn.CREASE + 5.0), 6)
    view.about()
    for at in ((0.0, 0.0), (40.0, -334.0), (-44.0, drawn.CREASE)):
        view.dot(at)
    view.note((52.0, -338.0), "elbow point")
    view.note((-54.0, drawn.CREASE - 16.0), "crease", align="right")


def _down_the_back(view: View, back: FloatArray) -> None:
    view.about("shoulder_to_elbow")
    is_upper = (back[:, 1] > -326.0) & (back[:, 0] > 1.0)
    view.tape(back[is_upper] + np.array([6.0, 3.0]))
    view.leader((53.0, -225.0), (78.0, -225.0))
    view.badge((84.0, -225.0), 1)
    view.about()


def _cap_arcs(view: View, edges: tuple[FloatArray, FloatArray]) -> None:
    view.level((-84.0, drawn.UNDERARM), (104.0, drawn.UNDERARM))
    view.about("cap_arcs")
    for up in (33.0, 58.0, 83.0):
        level = drawn.UNDERARM + up
        left, right = drawn.across_at(level, edges)
        near, _ = drawn.ring((left, level), (right, level), 3.0)
        view.tape(near, arrows=False)
        view.leader((left, level), (-78.0, drawn.UNDERARM + 58.0))
    view.badge((-84.0, drawn.UNDERARM + 58.0), 13)
    view.level((54.0, drawn.UNDERARM + 58.0), (104.0, drawn.UNDERARM + 58.0))
    view.distance((96.0, drawn.UNDERARM), (96.0, drawn.UNDERARM + 58.0))
    view.note((102.0, drawn.UNDERARM + 29.0), "up")
    view.about()
    view.note((66.0, drawn.UNDERARM - 16.0), "level of the\nunderarm")


def plate(view: View) -> None:
    """Draw the double's armhole, with the tapes that measure it."""
    width, height = drawn.PLATE
    edge = drawn.oval(width, height, centre=(0.0, -0.5 * height))
    view.fill(edge)
    view.contour(edge)
    around = drawn.oval(width + 14.0, height + 14.0, centre=(0.0, -0.5 * height))
    view.about("armhole.girth", "armhole.outline")
    view.tape(around[:158], arrows=True)
    view.note((0.5 * width + 3.0, -0.8 * height), "girth")
    view.about("armhole.width")
    view.distance((-0.5 * width, -0.5 * height), (0.5 * width, -0.5 * height))
    view.note((26.0, -0.5 * height + 8.0), "width", align="center")
    view.about("armhole.height")
    view.distance((0.0, -height), (0.0, 0.0))
    view.note((-4.0, -0.25 * height), "height", align="right")
    view.about()
    view.note((0.0, 97.0), "ARMHOLE", align="center", size=8.5)
    view.note((0.0, 83.5), "of the double, front to the right", align="center")
    view.note((0.0, 17.0), "shoulder", align="center")
    view.note((0.0, -height - 19.0), "underarm", align="center")
    view.leader((-44.0, -96.0), (-62.0, -114.0))
    view.badge((-68.0, -119.0), 14)


def wrist(view: View) -> None:
    """Draw the wrist cut across, with its width and depth."""
    width, depth = drawn.WRIST_SECTION
    section = drawn.oval(width, depth)
    view.fill(section)
    view.contour(section)
    view.about("wrist_width")
    view.distance((-0.5 * width, 0.0), (0.5 * width, 0.0))
    view.badge((15.0, 0.0), 10)
    view.about("wrist_depth")
    view.distance((0.0, -0.5 * depth), (0.0, 0.5 * depth))
    view.badge((0.0, -9.5), 11)
    view.about()
    view.note((0.0, 51.0), "WRIST", align="center", size=8.5)
    view.note((0.0, 42.5), "cut across", align="center")
    view.note((0.0, 30.0), "back of the hand", align="center")
    view.note((0.0, -29.0), "palm side", align="center")
    view.note((0.5 * width + 4.0, 0.0), "thumb\nside")
    view.note((-0.5 * width - 4.0, 0.0), "little-\nfinger\nside", align="right")


def _legend(axes: Axes) -> None:
    columns = ((13.0, TAPES[:5]), (75.0, TAPES[5:11]), (138.0, TAPES[11:]))
    for left, tapes in columns:
        top = 103.0
        for tape in tapes:
            badge(axes, np.array([left + 2.4, top]), tape.number)
            must = "  required" if tape.is_must else ""
            axes.text(left + 6.5, top, tape.key + must, fontsize=7.2, family=MONO, weight="bold",
                      va="center")
            axes.text(left + 6.5, top - 2.4, tape.text, fontsize=7.0, family=FONT, va="top",
                      linespacing=1.2)
            top -= 8.4 + 3.1 * tape.text.count("\n")
