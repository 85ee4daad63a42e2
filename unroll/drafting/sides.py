"""The side lines of inner and outer arm: smooth curves through the ends of the widths."""

from __future__ import annotations

import numpy as np

from unroll.drafting.layout import Layout
from unroll.drafting.plates import STEP
from unroll.geometry.fair_curves import fair_curve_through
from unroll.geometry.outlines import joined
from unroll.geometry.smooth_curves import SmoothCurve
from unroll.types import FloatArray

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
