"""The side lines of inner and outer arm: smooth curves through the ends of the widths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.drafts.bases import STEP, ArmholeEdge, armhole_edge
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import joined
from unroll.maths.smooth_curves import SmoothCurve, fair_curve_through
from unroll.nouns import ArmMeasures, Make

GIRTH_LINES = ("upper arm line", "elbow line", "forearm line", "wrist line")


@dataclass(frozen=True, eq=False)
class GirthLine:
    """A line across the arm with the widths that the two pieces take on it.

    Attributes
    ----------
    name : str
    centre : (2,) float
        Middle of both widths, mm.
    forward : (2,) float
        Unit vector along the line, from back to front.
    inner, outer : float
        Widths, mm; together the girth.
    """

    name: str
    centre: FloatArray
    forward: FloatArray
    inner: float
    outer: float

    def end(self, piece: str, side: int) -> FloatArray:
        """Return the front (side 1) or back (side −1) end of a piece's width, (2,)."""
        width = self.inner if piece == "inner" else self.outer
        return self.centre + 0.5 * side * width * self.forward


@dataclass(frozen=True, eq=False)
class Layout:
    """Everything that is ruled before a curve is drawn.

    Attributes
    ----------
    edge : ArmholeEdge
    lines : tuple of GirthLine
        Upper arm, elbow, forearm, wrist.
    down : (2,) float
        Unit vector down the lower arm, square to the elbow line.
    mid_height, underarm : float
        Heights of the two armhole lines, mm.
    """

    edge: ArmholeEdge
    lines: tuple[GirthLine, ...]
    down: FloatArray
    mid_height: float
    underarm: float


def inner_width(girth: float, make: Make) -> float:
    """Return the inner piece's share of a girth, rounded as the sheet asks; the outer is the rest.

    Examples
    --------
    >>> inner_width(12.25 * 25.4, Make(round_to=25.4 / 8)) / 25.4
    4.125
    """
    share = float(make.inner_share) * girth
    if make.round_to is None:
        return share
    return float(np.floor(share / make.round_to + 0.5)) * make.round_to


def lay_out(measures: ArmMeasures, make: Make) -> Layout:
    """Rule the lines of one arm.

    Raises
    ------
    UnrollError
        When the upper-arm line would lie above the underarm, the forearm line beyond the wrist,
        or the armhole cannot be drawn.
    """
    edge = armhole_edge(measures)
    height = measures.armhole.height
    level = measures.upper_arm_up - measures.shoulder_to_inner_elbow
    if level > -height - 10.0:
        raise UnrollError(
            f"upper_arm_up is {measures.upper_arm_up:.0f} mm, which puts the upper-arm line "
            f"{abs(level + height):.0f} mm {'above' if level > -height else 'below'} the underarm; "
            "expected at least 10 mm below it (measured from the wrist, or armhole too high?)"
        )
    if measures.forearm_down >= measures.inner_elbow_to_wrist:
        raise UnrollError(
            f"forearm_down is {measures.forearm_down:.0f} mm; expected less than "
            f"inner_elbow_to_wrist, {measures.inner_elbow_to_wrist:.0f} mm (mixed up?)"
        )
    back = np.array([edge.lower[:, 0].min(), -measures.shoulder_to_elbow])
    front = np.array([edge.lower[:, 0].max(), -measures.shoulder_to_inner_elbow])
    slant = (front - back) / np.linalg.norm(front - back)
    down = np.array([slant[1], -slant[0]])
    elbow = 0.5 * (front + back)
    across = np.array([1.0, 0.0])
    rows = (
        ("upper arm line", np.array([elbow[0], level]), across, measures.upper_arm_girth),
        ("elbow line", elbow, slant, measures.elbow_girth),
        ("forearm line", elbow + measures.forearm_down * down, slant, measures.forearm_girth),
        ("wrist line", elbow + measures.inner_elbow_to_wrist * down, slant, measures.wrist_girth),
    )
    lines = tuple(
        GirthLine(name, centre, forward, inner_width(girth, make), girth - inner_width(girth, make))
        for name, centre, forward, girth in rows
    )
    return Layout(edge, lines, down, -0.5 * height, -height)


CLEAR = 0.5  # mm by which a side passes a traced armhole that is widest below its middle


def inner_side(layout: Layout, side: int) -> FloatArray:
    """Return the inner arm's side line from the mid-height point to the wrist, (k, 2).

    Parameters
    ----------
    side : {1, -1}
        Front or back.

    Notes
    -----
    One smooth curve that leaves the armhole's widest point straight down, so that the armhole
    runs on smoothly from the outer's cap, and ends square to the wrist line. Where it would cut
    into the armhole it first follows the vertical dropped from that point.
    """
    top, curve = _inner_curve(layout, side)
    return joined([top, curve.sampled(STEP)])


def _inner_curve(layout: Layout, side: int) -> tuple[FloatArray, SmoothCurve]:
    """Return the vertical at the top (a single point where there is none) and the curve below."""
    corner = layout.edge.front if side > 0 else layout.edge.back
    ends = [line.end("inner", side) for line in layout.lines]
    curve = fair_curve_through(
        [corner, *ends], start=(0, -1), start_bend=(0, 0), end=layout.down
    )
    if _is_clear(layout, side, curve.sampled(STEP)):
        return corner[None], curve
    top = _vertical(layout, side)
    return top, fair_curve_through(
        [top[-1], *ends], start=(0, -1), start_bend=(0, 0), end=layout.down
    )


def _is_clear(layout: Layout, side: int, line: FloatArray) -> bool:
    """Tell whether a side line stays outside the armhole's lower half."""
    lower = layout.edge.lower if side > 0 else layout.edge.lower[::-1]
    until = int(np.argmin(lower[:, 1]))
    edge = lower[1 : until + 1]
    beside = np.interp(-edge[:, 1], -line[:, 1], line[:, 0])
    return bool(np.all(side * (beside - edge[:, 0]) > 0))


def _vertical(layout: Layout, side: int) -> FloatArray:
    """Return the line straight down beside the armhole from its widest point."""
    corner = layout.edge.front if side > 0 else layout.edge.back
    lower = layout.edge.lower if side > 0 else layout.edge.lower[::-1]
    widest = int(np.argmax(side * lower[:, 0]))
    swing = lower[: widest + 1].copy()
    if widest > 0:  # a traced armhole that is widest below its middle: pass around it
        swing[:, 0] += side * CLEAR * np.linspace(0.0, 1.0, widest + 1)
    level = layout.lines[0].centre[1]
    end = max(layout.underarm, level + 0.4 * (corner[1] - level))
    foot = np.array([swing[-1, 0], min(end, swing[-1, 1] - 1.0)])
    count = max(int(np.ceil((swing[-1, 1] - foot[1]) / STEP)), 1)
    straight = swing[-1] + np.linspace(0, 1, count + 1)[:, None] * (foot - swing[-1])
    return joined([swing, straight])


def outer_distance(layout: Layout) -> float:
    """Return how far outside the inner's side the outer's lies at the upper-arm line, mm."""
    line = layout.lines[0]
    return 0.5 * (line.outer - line.inner)


def outer_top(layout: Layout, side: int) -> FloatArray:
    """Return the outer's side from the mid-height line to the upper-arm line, (k, 2).

    It keeps its distance from the inner's side all the way.
    """
    top, curve = _inner_curve(layout, side)
    parameters = curve.parameters(STEP)
    run = joined([top, curve.at(parameters[parameters <= curve.sites[1] + 1e-9])])
    return np.asarray(run + np.array([side * outer_distance(layout), 0.0]))


def outer_bottom(layout: Layout, side: int) -> FloatArray:
    """Return the outer's side from the upper-arm line to the wrist, (k, 2)."""
    slope, bend = at_upper_arm(layout, side)
    points = [line.end("outer", side) for line in layout.lines]
    return fair_curve_through(
        points, start=slope, start_bend=bend, end=layout.down
    ).sampled(STEP)


def at_upper_arm(layout: Layout, side: int) -> tuple[FloatArray, FloatArray]:
    """Return the side's direction and second derivative at the upper-arm line, going down."""
    _, curve = _inner_curve(layout, side)
    slope, bend = curve.slope(curve.sites[1]), curve.slope(curve.sites[1], 2)
    speed = float(np.linalg.norm(slope))
    along = slope / speed
    return along, np.asarray((bend - (bend @ along) * along) / speed**2)
