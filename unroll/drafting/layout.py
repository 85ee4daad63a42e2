"""The draft's frame of lines: verticals, girth lines, the slanting elbow line, the widths on them.

Drafting frame: x forward, y up along the grain, the shoulder point at the origin; it is the inner
arm seen right side up, and the outer arm seen from within.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.drafting.plates import ArmholeEdge, armhole_edge
from unroll.errors import UnrollError
from unroll.types import ArmMeasures, FloatArray, Make

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
            f"inner_elbow_to_wrist, {measures.inner_elbow_to_wrist:.0f} (mixed up?)"
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
