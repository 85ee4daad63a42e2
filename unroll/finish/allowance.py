"""The cutting line: each side's parallel at its allowance, joined at corners and dart mouths.

Where parallels cannot be joined so (a hollow tighter than the allowance, a slit narrower than two
of them) the line goes round all the cloth that the allowances cover, as any cutter would.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from unroll.finish.darts import Closing, Dart, closing, find_darts, is_cut_out
from unroll.maths.arrays import FloatArray
from unroll.maths.offsets import parallel_right, right_normals
from unroll.maths.polylines import (
    crossings,
    extended,
    length,
    part,
    point_at,
    turn_between,
)
from unroll.nouns import StitchingSide
from unroll.nouns.seam import SEWN_FIRST, is_dart


@dataclass(frozen=True, eq=False)
class Joint:
    """Where the cutting line leaves one parallel and enters the next.

    Attributes
    ----------
    leave, enter : float
        Distances along the prolonged parallels, mm.
    between : (k, 2) float
        Points in between.
    """

    leave: float
    enter: float
    between: FloatArray


@dataclass(frozen=True, eq=False)
class Cutting:
    """A cutting line, and where the allowance has no room.

    Attributes
    ----------
    line : (k, 2) float
        Anticlockwise, first point not repeated, mm.
    clipped : tuple of str
        Seams beside which it does not run parallel all along: cut short in a hollow or a slit.
    """

    line: FloatArray
    clipped: tuple[str, ...] = ()


def _mouth_joint(
    sides: Sequence[StitchingSide], dart: Dart, before: FloatArray, after: FloatArray, reach: float
) -> Joint | None:
    """Return how the cutting line passes a folded dart's mouth; None where the cloth is too narrow.

    Parameters
    ----------
    sides : sequence of StitchingSide
    dart : Dart
    before, after : (k, 2) float
        Parallels of the sides beside the mouth, prolonged by `reach` mm at both ends.

    Notes
    -----
    The dart is closed and its surplus folded under the side that it is pressed to. The cutting
    line of the closed seam then runs across all layers; mirrored in the leg and turned back, it
    is the line that the opened mouth must have for the raw edges to lie true once folded.
    """
    close = closing(sides, dart)
    if dart.is_pressed_back:
        return _joint_pressed_back(close, before, after, reach)
    # pressed forwards: the same construction in the mirror, read backwards
    flip = np.array([-1.0, 1.0])
    mirror = Closing(
        close.far * flip, close.near * flip, close.far_out * flip, close.near_out * flip,
        close.angle_rad,
    )  # fmt: skip
    joint = _joint_pressed_back(mirror, after[::-1] * flip, before[::-1] * flip, reach)
    if joint is None:
        return None
    ends = length(before), length(after)
    return Joint(ends[0] - joint.enter, ends[1] - joint.leave, joint.between[::-1] * flip)


def _joint_pressed_back(
    close: Closing, before: FloatArray, after: FloatArray, reach: float
) -> Joint | None:
    shut = close.close(after)
    cross = _nearest_crossing(before, shut, (length(before) - reach, reach))
    leg = np.stack([close.near, close.near + 200 * close.near_out])
    line = np.vstack([part(before, 0.0, cross[0]), part(shut, cross[1], length(shut))])
    along = crossings(line, leg)[:, 0]
    if len(along) == 0:
        return None
    at = along[np.argmin(np.abs(along - cross[0]))]
    wedge = _opened_wedge(close, part(line, 0.0, at))
    if wedge is None:
        return None
    leave, enter = min(at, cross[0]), cross[1] + max(0.0, at - cross[0])
    lead = part(line, leave, at) if at > cross[0] + 1e-9 else np.empty((0, 2))
    tail = close.open(part(line, at, cross[0])) if at < cross[0] - 1e-9 else np.empty((0, 2))
    return Joint(float(leave), float(enter), np.vstack([lead, wedge, tail]))


def _opened_wedge(close: Closing, line: FloatArray) -> FloatArray | None:
    """Open out the cutting line of the folded surplus; `line` ends on the near leg.

    The surplus lies twice under the near side: mirrored in the near leg up to the fold line, and
    from there turned back to the far leg. None where the cloth beside it ends before the fold.
    """
    back = line[::-1]
    fold = 0.5 * (close.near + close.far)
    out = close.near_out + close.far_out
    out = out / np.linalg.norm(out)
    near_half, far_half = close.fold(back), close.open(back)
    ray = np.stack([fold - 300 * out, fold + 300 * out])
    one, two = crossings(near_half, ray), crossings(far_half, ray)
    if len(one) == 0 or len(two) == 0:
        return None
    one_at, two_at = one[:, 0].min(), two[:, 0].min()
    near_part, far_part = part(near_half, 0.0, one_at), part(far_half, 0.0, two_at)
    # legs of unequal shape leave a hair's step on the fold: both ends take its middle
    peak = 0.5 * (near_part[-1] + far_part[-1])
    return np.vstack([near_part[:-1], peak[None], far_part[:-1][::-1]])


def _nearest_crossing(
    before: FloatArray, shut: FloatArray, ends: tuple[float, float]
) -> tuple[float, float]:
    """Return where the parallels of the closed seam meet; side by side if they run in line."""
    hits = crossings(before, shut)
    near = hits[np.abs(hits - ends).sum(axis=1) < 40.0] if len(hits) else hits
    if len(near) == 0:
        return ends
    best = near[np.argmin(np.abs(near - ends).sum(axis=1))]
    return float(best[0]), float(best[1])


Corners = Literal["squared", "mitred"]

NEAREST = 0.1  # mm by which the line may lie nearer than the allowance: what fitted lines stray
BURIED = 0.5  # mm inside the cutting line beyond which a parallel counts as cut short
LONGEST_MITRE = 2.5  # times the wider allowance; a sharper corner is cut blunt
REACH = 60.0  # mm by which parallels are prolonged to find where they meet


def cutting_line(sides: Sequence[StitchingSide], *, corners: Corners = "squared") -> Cutting:
    """Return the cutting line around a stitching line.

    Parameters
    ----------
    sides : sequence of StitchingSide
        Closed, anticlockwise, each with its allowance; negative allowances lie inside.
    corners : {"squared", "mitred"}
        How the ends of the long seams, which are sewn first, are cut where they meet another
        seam: squared off at the seam's end, so that two pieces match when they are laid together
        and the allowance folds flat; or mitred like every other corner.

    Notes
    -----
    Parallels are joined corner by corner. Where that gives no line (the allowance is wider than a
    hollow's radius, a slit or a side is too narrow for it) the line goes round the stitched piece
    and all the cloth within the allowance of its sides, corners included: it never comes nearer
    to a seam than its allowance, but is shorter than its parallel there, so it has to be snipped.
    """
    folded = [dart for dart in find_darts(sides) if not is_cut_out(sides, dart)]
    inside = {leg for dart in folded for leg in dart.legs}
    edge = [i for i in range(len(sides)) if i not in inside]
    reach = REACH + 4 * max(abs(side.allowance) for side in sides)
    lines = {i: prolonged(sides[i], reach) for i in edge}
    darts = {dart.before: dart for dart in folded}
    joints = {
        i: _joint(sides, lines, i, edge[(position + 1) % len(edge)], darts.get(i), reach, corners)
        for position, i in enumerate(edge)
    }
    line = _joined(edge, lines, joints)
    if line is not None and _is_right(line, sides):
        return Cutting(line)
    if any(side.allowance < 0 for side in sides):
        return Cutting(_drawn_in(sides))
    cloth = _covered(sides, edge, lines, joints, folded)
    round_it = _tidy(_ring(cloth))
    return Cutting(round_it, _clipped(sides, edge, folded))


def _joined(
    edge: Sequence[int], lines: Mapping[int, FloatArray], joints: Mapping[int, Joint | None]
) -> FloatArray | None:
    """Return parallels and joints as one line; None where a joint or a parallel has no room."""
    parts = []
    for position, i in enumerate(edge):
        start, end = joints[edge[position - 1]], joints[i]
        if start is None or end is None or start.enter >= end.leave:
            return None
        parts += [part(lines[i], start.enter, end.leave), end.between]
    return _tidy(np.vstack(parts))


def _is_right(line: FloatArray, sides: Sequence[StitchingSide]) -> bool:
    """Tell whether a cutting line is simple, round the stitching line, and nowhere too near."""
    around, stitched = shapely.Polygon(line), shapely.Polygon(_stitching(sides))
    least = min(side.allowance for side in sides if not is_dart(side.seam))
    if not (around.is_valid and stitched.is_valid) or least < 0:
        return bool(around.is_valid and stitched.is_valid and stitched.contains(around))
    off = shapely.distance(around.exterior, stitched.exterior)
    return bool(around.buffer(NEAREST).contains(stitched) and off > least - NEAREST)


def _stitching(sides: Sequence[StitchingSide]) -> FloatArray:
    return np.concatenate([side.points[:-1] for side in sides])


def _covered(
    sides: Sequence[StitchingSide],
    edge: Sequence[int],
    lines: Mapping[int, FloatArray],
    joints: Mapping[int, Joint | None],
    folded: Sequence[Dart],
) -> shapely.Polygon:
    """Return the stitched piece with all the cloth that allowances, corners and darts cover."""
    base = _with_darts_filled(sides, folded)
    least = min(sides[i].allowance for i in edge)
    # of use where a side has a corner of its own, which its strips leave open
    parts = [base, base.buffer(least, join_style="mitre", mitre_limit=LONGEST_MITRE)]
    for position, i in enumerate(edge):
        side, after = sides[i], sides[edge[(position + 1) % len(edge)]]
        moved = side.points + side.allowance * right_normals(side.tangents)
        quads = np.stack([side.points[:-1], side.points[1:], moved[1:], moved[:-1]], axis=1)
        parts += list(shapely.convex_hull(shapely.linestrings(quads)))
        parts.append(_corner_cloth(side, after, lines, edge, position, joints[i]))
    return _largest(shapely.union_all(parts))


def _with_darts_filled(
    sides: Sequence[StitchingSide], folded: Sequence[Dart]
) -> shapely.Polygon:
    """Return the stitched piece with the wedges of its folded darts."""
    parts = [shapely.make_valid(shapely.Polygon(_stitching(sides)))]
    for dart in folded:
        wedge = np.vstack([sides[leg].points for leg in dart.legs])
        parts.append(shapely.make_valid(shapely.Polygon(wedge)))
    return _largest(shapely.union_all(parts))


def _corner_cloth(
    one: StitchingSide,
    two: StitchingSide,
    lines: Mapping[int, FloatArray],
    edge: Sequence[int],
    position: int,
    joint: Joint | None,
) -> shapely.Geometry:
    """Return the cloth outside a corner or a dart's mouth, between the ends of two strips."""
    ends = [
        one.points[-1] + one.allowance * right_normals(one.tangents[-1:])[0],
        two.points[0] + two.allowance * right_normals(two.tangents[:1])[0],
    ]
    is_hollow = turn_between(one.tangents[-1], two.tangents[0]) < 0
    far = LONGEST_MITRE * max(one.allowance, two.allowance) + 1.0
    corners = [one.points[-1], ends[0], ends[1], two.points[0]]
    if joint is not None and not is_hollow:
        after = edge[(position + 1) % len(edge)]
        between = [point_at(lines[edge[position]], joint.leave), *joint.between,
                   point_at(lines[after], joint.enter)]  # fmt: skip
        off = [min(np.linalg.norm(p - c) for c in (corners[0], corners[3])) for p in between]
        if max(off) <= far:
            corners = [*corners[:2], *between, *corners[2:]]
    least = min(one.allowance, two.allowance)
    round_tip = shapely.points(np.stack([corners[0], corners[-1]]))
    return shapely.union_all([
        shapely.convex_hull(shapely.multipoints(np.array(corners))),
        *shapely.buffer(round_tip, least, quad_segs=16),
    ])


def _largest(shape: shapely.Geometry) -> shapely.Polygon:
    """Return the largest polygon of a shape."""
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return max(polygons, key=lambda part: part.area)


def _ring(polygon: shapely.Polygon) -> FloatArray:
    """Return a polygon's outer line, anticlockwise, the first point not repeated."""
    return np.array(shapely.geometry.polygon.orient(polygon).exterior.coords[:-1])


def _drawn_in(sides: Sequence[StitchingSide]) -> FloatArray:
    """Return the line at the widest negative allowance inside a stitching line."""
    stitched = shapely.make_valid(shapely.Polygon(_stitching(sides)))
    inside = stitched.buffer(min(side.allowance for side in sides), join_style="mitre")
    return _tidy(_ring(_largest(stitched if inside.is_empty else inside)))


def _clipped(
    sides: Sequence[StitchingSide], edge: Sequence[int], folded: Sequence[Dart]
) -> tuple[str, ...]:
    """Return the seams whose parallels come too near to another place of the outline."""
    base = _with_darts_filled(sides, folded)
    names: dict[str, None] = {}
    for side in (sides[i] for i in edge):
        moved = side.points + side.allowance * right_normals(side.tangents)
        if (shapely.distance(shapely.points(moved), base) < side.allowance - BURIED).any():
            names[side.seam] = None
    return tuple(names)


def prolonged(side: StitchingSide, reach: float) -> FloatArray:
    """Return a side's parallel at its allowance, prolonged straight at both ends."""
    line = parallel_right(side.points, side.tangents, side.allowance)
    return extended(line, side.tangents[0], side.tangents[-1], reach)


def _joint(
    sides: Sequence[StitchingSide],
    lines: Mapping[int, FloatArray],
    before: int,
    after: int,
    dart: Dart | None,
    reach: float,
    corners: Corners,
) -> Joint | None:
    """Choose how the cutting line passes from one side to the next."""
    if dart is not None:
        return _mouth_joint(sides, dart, lines[before], lines[after], reach)
    one, two = sides[before], sides[after]
    turn = turn_between(one.tangents[-1], two.tangents[0])
    ends = (length(lines[before]) - reach, reach)
    if abs(np.rad2deg(turn)) < 2 and one.allowance == two.allowance:
        return _smooth_joint(one, turn, ends)
    if abs(np.rad2deg(turn)) < 25 and one.allowance != two.allowance:
        return Joint(*ends, np.empty((0, 2)))
    is_first = _is_sewn_first(one), _is_sewn_first(two)
    if corners == "squared" and is_first[0] != is_first[1] and np.sin(turn) > 0.5:
        return _squared(one, two, lines[before], lines[after], is_first[0])
    return _mitred(one, two, lines[before], lines[after], ends)


def _is_sewn_first(side: StitchingSide) -> bool:
    """Tell whether a side is sewn before the seams at its ends: the long seams, and darts."""
    return side.seam in SEWN_FIRST or is_dart(side.seam)


def _smooth_joint(one: StitchingSide, turn: float, ends: tuple[float, float]) -> Joint:
    """Pass a joint that hardly turns: the mitre point replaces both ends."""
    back = abs(one.allowance * np.tan(turn / 2)) + 1e-6
    normal = right_normals(one.tangents[-1:])[0]
    half = np.cos(turn / 2) * normal + np.sin(turn / 2) * one.tangents[-1]
    middle = one.points[-1] + one.allowance / np.cos(turn / 2) * half
    return Joint(ends[0] - back, ends[1] + back, middle[None])


def _mitred(
    one: StitchingSide,
    two: StitchingSide,
    before: FloatArray,
    after: FloatArray,
    ends: tuple[float, float],
) -> Joint:
    """Prolong both parallels until they meet; blunt a corner that would reach too far."""
    hits = crossings(before, after)
    hits = hits[np.argsort(np.abs(hits - ends).sum(axis=1), kind="stable")]
    corner = one.points[-1]
    # Curved legs may touch at a dart's point, so that the turn there tells nothing.
    is_point = one.seam == two.seam and is_dart(one.seam)
    if len(hits) and (is_point or turn_between(one.tangents[-1], two.tangents[0]) < 0):
        return Joint(hits[0, 0], hits[0, 1], np.empty((0, 2)))
    limit = LONGEST_MITRE * max(abs(one.allowance), abs(two.allowance))
    if len(hits):
        at = part(before, hits[0, 0], hits[0, 0] + 1)[0]
        if np.linalg.norm(at - corner) <= max(limit, 1e-6):
            return Joint(hits[0, 0], hits[0, 1], np.empty((0, 2)))
    outward = one.tangents[-1] - two.tangents[0]
    outward = outward / np.linalg.norm(outward)
    across = np.array([-outward[1], outward[0]]) * 10 * max(limit, 1.0)
    cut = corner + limit * outward + np.stack([-across, across])
    leave = _nearest(crossings(before, cut)[:, 0], ends[0])
    enter = _nearest(crossings(after, cut)[:, 0], ends[1])
    return Joint(leave, enter, np.empty((0, 2)))


def _squared(
    one: StitchingSide,
    two: StitchingSide,
    before: FloatArray,
    after: FloatArray,
    is_before_first: bool,
) -> Joint | None:
    """Run the first-sewn stitching line on to the other cutting line, and square off there."""
    corner = one.points[-1]
    out = one.tangents[-1] if is_before_first else -two.tangents[0]
    other, mine = (after, before) if is_before_first else (before, after)
    ray = np.stack([corner, corner + 200 * out])
    hits = crossings(other, ray)
    if len(hits) == 0:
        return None
    hit = hits[np.argmin(hits[:, 1])]
    meet = corner + hit[1] * out
    normal = right_normals(out[None])[0] * (1 if is_before_first else -1)
    square = crossings(mine, np.stack([meet, meet + 200 * normal]))
    if len(square) == 0:
        return None
    own = square[np.argmin(square[:, 1]), 0]
    return Joint(own, hit[0], meet[None]) if is_before_first else Joint(hit[0], own, meet[None])


def _nearest(values: FloatArray, target: float) -> float:
    if len(values) == 0:
        return target
    return float(values[np.argmin(np.abs(values - target))])


def _tidy(line: FloatArray) -> FloatArray:
    """Drop points that repeat the one before, and points in the middle of a straight line."""
    step = np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1)
    line = line[step > 1e-6]
    before, after = line - np.roll(line, 1, axis=0), np.roll(line, -1, axis=0) - line
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    is_ahead = np.einsum("ij,ij->i", before, after) > 0
    off = np.abs(cross) / np.linalg.norm(before + after, axis=1).clip(1e-12)
    return np.asarray(line[~(is_ahead & (off < 1e-7))])
