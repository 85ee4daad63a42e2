"""One half of a darted cap, from the middle of the arm outward (x outward, y up)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from unroll.drafts.darts import DartLegs, draw_legs
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import cut_by_line, length, point_at
from unroll.maths.smooth_curves import SmoothCurve, curve_through

_RUN = 64  # points of a run: a fixed count, so that lengths change smoothly while they are solved
LEAN_RANGE = (0.35, 0.75)  # a dart point's offset from the middle, as a share of its mouth's
SHORTEST = 45.0  # mm from mouth to point: a shorter dart of this intake cannot be sewn smooth


@dataclass(frozen=True)
class Level:
    """A cap level as this half of the draft has to meet it.

    Attributes
    ----------
    height : float
        y of the level, mm.
    half_width : float
        Cloth wanted there once the darts are closed, mm.
    is_outline : bool
        Whether the outline is moved to meet it; else the darts take in what is too much.
    """

    height: float
    half_width: float
    is_outline: bool


@dataclass(frozen=True)
class DartTask:
    """One dart as this half has to draw it.

    Attributes
    ----------
    number : int
        Index over the whole cap, front to back.
    at : float
        Net distance along the cap seam from the middle to the dart, mm; 0 is on the middle.
    intake : float
        Cloth taken in at the cap seam, mm.
    length : float or None
        From the mouth to the point, mm; None leaves it to the draft.
    """

    number: int
    at: float
    intake: float
    length: float | None


@dataclass(frozen=True, eq=False)
class HalfTask:
    """What one half of the cap has to reach.

    Attributes
    ----------
    base : (k, 2) float
        The cap without levels or darts, from its top outward to the mid-height point, mm.
    side : (k, 2) float
        The outer's side from the mid-height point down to the upper-arm line.
    slope, bend : (2,) float
        Direction and second derivative of the side at the upper-arm line, going down.
    levels : tuple of Level
        Highest first.
    """

    base: FloatArray
    side: FloatArray
    slope: FloatArray
    bend: FloatArray
    levels: tuple[Level, ...]

    @property
    def corner(self) -> FloatArray:
        """The mid-height point, (2,)."""
        return np.asarray(self.base[-1])

    @property
    def is_flared(self) -> bool:
        """Whether a level on the side asks for more cloth than the ruled side gives."""
        return any(x.is_outline and x.height <= self.corner[1] for x in self.levels)


@dataclass(frozen=True, eq=False)
class HalfCap:
    """One half of a cap as drawn.

    Attributes
    ----------
    runs : tuple of (k, 2) float
        Parts of the cap seam from the middle outward, a dart between each two.
    darts : tuple of DartLegs
        In the same order; the first lies on the middle where the cap has a dart there.
    side : (k, 2) float
        From the mid-height point down to the upper-arm line.
    gaps : (levels,) float
        Width of the darts on each level, mm, on this half.
    """

    runs: tuple[FloatArray, ...]
    darts: tuple[DartLegs, ...]
    side: FloatArray
    gaps: FloatArray

    @property
    def net_length(self) -> float:
        """Length of the half's cap seam with the darts closed, mm."""
        return sum(length(run) for run in self.runs)


def half_width_at(line: FloatArray, height: float) -> float:
    """Return x where a line from the cap's top outward and down meets a height."""
    cuts = cut_by_line(line, np.array([0.0, height]), np.array([1.0, 0.0]))
    return float(cuts[-1]) if len(cuts) else 0.0


def draw_half(
    task: HalfTask, darts: tuple[DartTask, ...], widths: FloatArray, pinches: FloatArray
) -> HalfCap:
    """Draw one half of the cap.

    Parameters
    ----------
    task : HalfTask
    darts : tuple of DartTask
        From the middle outward.
    widths : (levels,) float
        Half width of the open outline on each level, mm (used where the level is an outline).
    pinches : (levels,) float
        Half width of each dart on each level, mm (used where the level is not an outline).
    """
    envelope = _envelope(task, widths)
    drawn: list[DartLegs] = []
    runs: list[FloatArray] = []
    taken, start, heading = 0.0, envelope[0], 0.0
    for dart in darts:
        if dart.at == 0:
            legs = _middle_dart(task, envelope, dart, pinches)
            taken += 0.5 * dart.intake
        else:
            legs = _seat(task, envelope, dart, dart.at + taken, pinches)
            taken += dart.intake
            turn = _arc_end(start, legs.near[-1], heading)
            if dart is darts[-1]:  # share what the two neighbouring runs would not like
                wanted = _side_heading(task, widths, legs.far[-1])
                turn = 0.5 * (turn + wanted) + _flare(legs)
            runs.append(_run([start, legs.near[-1]], heading, turn))
            heading = turn - _flare(legs)
        start, heading = legs.far[-1], heading - _flare(legs)
        drawn.append(legs)
    last, side = _last_run(task, widths, start, heading)
    runs.append(last)
    share = [0.5 if dart.at == 0 else 1.0 for dart in darts]
    gaps = np.array([
        sum(s * legs.width_at(x.height) for s, legs in zip(share, drawn, strict=True))
        for x in task.levels
    ])
    return HalfCap(tuple(runs), tuple(drawn), side, gaps)


def _envelope(task: HalfTask, widths: FloatArray) -> FloatArray:
    """Return the cap line with the darts open and not yet trued, top to mid-height, (k, 2)."""
    above = _points_above(task, widths)
    if not len(above) and not task.is_flared:
        return task.base
    curve = _outer_curve(task, widths, [task.base[0], *above], np.array([1.0, 0.0]))
    return _split_at_middle(task, curve)[0]


def _points_above(task: HalfTask, widths: FloatArray, below: float = np.inf) -> list[FloatArray]:
    """Return the outline's points on the levels above the mid-height line, highest first."""
    return [
        np.array([w, x.height]) for x, w in zip(task.levels, widths, strict=True)
        if x.is_outline and task.corner[1] < x.height < below
    ]


def _outer_curve(
    task: HalfTask, widths: FloatArray, points: list[FloatArray], start: FloatArray
) -> SmoothCurve:
    """Return the smooth line on from `points` to the mid-height point, or on to the upper arm."""
    if not task.is_flared:
        return curve_through([*points, task.corner], start=start, end=(0, -1))
    on_side = [
        np.array([w, x.height]) for x, w in zip(task.levels, widths, strict=True)
        if x.is_outline and x.height <= task.corner[1]
    ]
    return curve_through(
        [*points, *on_side, task.side[-1]], start=start, end=task.slope, end_bend=task.bend
    )


def _split_at_middle(task: HalfTask, curve: SmoothCurve) -> tuple[FloatArray, FloatArray]:
    """Return a curve above and below the mid-height line."""
    if not task.is_flared:
        return _sampled(curve, curve.sites[0], curve.sites[-1]), task.side
    t = curve.parameters(4.0)
    height = curve.at(t)[:, 1] - task.corner[1]
    below = np.flatnonzero(height <= 0)
    if len(below) == 0 or below[0] == 0:
        raise UnrollError(
            "the cap's edge beside the outermost dart does not cross the armhole's mid-height line "
            "(a dart too near to the cap's end, or too wide for it?)"
        )
    after = int(below[0])
    cut = float(brentq(lambda u: curve.at(u)[1] - task.corner[1], t[after - 1], t[after]))
    return _sampled(curve, curve.sites[0], cut), _sampled(curve, cut, curve.sites[-1])


def _sampled(curve: SmoothCurve, start: float, end: float) -> FloatArray:
    """Return the part of a curve between two parameters; given points are among its points."""
    inner = curve.sites[(curve.sites > start + 1e-6) & (curve.sites < end - 1e-6)]
    stops = np.concatenate([[start], inner, [end]])
    pairs = zip(stops, stops[1:], strict=False)
    parts = [np.linspace(a, b, _RUN, endpoint=False) for a, b in pairs]
    return curve.at(np.concatenate([*parts, [end]]))


def _run(points: list[FloatArray], start_rad: float, end_rad: float) -> FloatArray:
    """Return a smooth run between two darts with its end directions."""
    curve = curve_through(points, start=_unit(start_rad), end=_unit(end_rad))
    return _sampled(curve, curve.sites[0], curve.sites[-1])


def _unit(angle_rad: float) -> FloatArray:
    return np.array([np.cos(angle_rad), np.sin(angle_rad)])


def _flare(legs: DartLegs) -> float:
    """Return the angle between a leg at the cap seam and the dart's axis, radians."""
    return 0.5 * (legs.near_turn - legs.far_turn)


def _last_run(
    task: HalfTask, widths: FloatArray, start: FloatArray, heading_rad: float
) -> tuple[FloatArray, FloatArray]:
    """Return the cap line from the outermost dart to the mid-height point, and the side."""
    points = [start, *_points_above(task, widths, below=float(start[1]) - 3.0)]
    return _split_at_middle(task, _outer_curve(task, widths, points, _unit(heading_rad)))


def _arc_end(start: FloatArray, end: FloatArray, heading_rad: float) -> float:
    """Return the direction in which a round arc that starts with a heading ends, radians."""
    chord = end - start
    return float(2.0 * np.arctan2(chord[1], chord[0]) - heading_rad)


def _side_heading(task: HalfTask, widths: FloatArray, start: FloatArray) -> float:
    """Return the direction in which the outermost run would start by itself, radians."""
    above = _points_above(task, widths, below=float(start[1]) - 3.0)
    chord = (above[0] if above else task.corner) - start
    angle = float(np.arctan2(chord[1], chord[0]))
    return angle if above or task.is_flared else 2.0 * angle + 0.5 * np.pi


def _seat(
    task: HalfTask, envelope: FloatArray, dart: DartTask, near: float, pinches: FloatArray
) -> DartLegs:
    """Place a dart on the envelope.

    Its legs are made equally long: the point lies on the square to the cap line, as far as
    `LEAN_RANGE` lets it, and what is left of the difference is shared by both ends.
    """
    room = length(envelope)
    far = min(near + dart.intake, 0.95 * room)
    near = min(near, far - min(dart.intake, 0.1 * room))
    ends = [point_at(envelope, near), point_at(envelope, far)]
    point = _dart_point(task, 0.5 * (ends[0] + ends[1]), ends[1] - ends[0], dart, pinches)
    rays = [end - point for end in ends]
    reach = 0.5 * (np.linalg.norm(rays[0]) + np.linalg.norm(rays[1]))
    ends = [point + reach * ray / np.linalg.norm(ray) for ray in rays]
    mouth = 0.5 * (ends[0] + ends[1])
    opening = 0.5 * float(np.linalg.norm(ends[1] - ends[0]))
    return draw_legs(point, mouth, opening, widths=_shares(task, point, mouth, pinches))


def _middle_dart(
    task: HalfTask, envelope: FloatArray, dart: DartTask, pinches: FloatArray
) -> DartLegs:
    """Place the dart on the middle of the arm."""
    top = envelope[0]
    point = np.array([0.0, _point_height(task, top[1], dart, pinches)])
    reach = top[1] - point[1]
    half = min(0.5 * dart.intake, 0.9 * reach)
    mouth = point + np.array([0.0, np.sqrt(max(reach**2 - half**2, 1.0))])
    return draw_legs(point, mouth, half, widths=_shares(task, point, mouth, pinches))


def _dart_point(
    task: HalfTask, mouth: FloatArray, opening: FloatArray, dart: DartTask, pinches: FloatArray
) -> FloatArray:
    """Return where a dart ends, (2,): square below its mouth, within the range of lean."""
    square = np.array([opening[1], -opening[0]]) / np.linalg.norm(opening)
    height = _point_height(task, mouth[1], dart, pinches)
    offset = mouth[0] + square[0] / min(square[1], -0.2) * (height - mouth[1])
    offset = float(np.clip(offset, LEAN_RANGE[0] * mouth[0], LEAN_RANGE[1] * mouth[0]))
    point = np.array([offset, height])
    if dart.length is not None:
        axis = (point - mouth) / np.linalg.norm(point - mouth)
        point = mouth + dart.length * axis
    return point


def _point_height(
    task: HalfTask, mouth: float, dart: DartTask, pinches: FloatArray
) -> float:
    """Return the height at which a dart ends.

    Below the lowest level that it must still pinch, by as much as straight legs would need (15 to
    45 mm); else on the lowest level, or on the mid-height line of a sheet without levels.
    """
    if dart.length is not None and dart.at == 0:
        return mouth - dart.length
    lowest = task.levels[-1] if task.levels else None
    height = lowest.height if lowest else float(task.corner[1])
    if lowest and not lowest.is_outline and pinches[-1] > 0:
        share = min(2.0 * pinches[-1] / max(dart.intake, 1e-6), 0.9)
        height -= float(np.clip((mouth - height) * share / (1.0 - share), 15.0, 45.0))
    return min(height, mouth - SHORTEST)


def _shares(
    task: HalfTask, point: FloatArray, mouth: FloatArray, pinches: FloatArray
) -> tuple[tuple[float, float], ...]:
    """Return the widths that a dart must pass through, as shares of its axis."""
    rows = [
        ((x.height - point[1]) / (mouth[1] - point[1]), pinch)
        for x, pinch in zip(task.levels, pinches, strict=True)
        if not x.is_outline and pinch > 0
    ]
    return tuple((s, p) for s, p in reversed(rows) if 0.02 < s < 0.9)
