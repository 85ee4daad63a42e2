"""The cutting line: each side's parallel at its allowance, joined at corners and dart mouths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.finish.darts import Closing, Dart, closing, find_darts, is_cut_out
from unroll.finish.smoothing import is_dart
from unroll.maths.arrays import FloatArray
from unroll.maths.offsets import parallel_right, right_normals, tightest_hollow
from unroll.maths.polylines import crossings, extended, lengths_along, part, turn_between
from unroll.nouns import StitchingSide


def mouth_joint(
    sides: Sequence[StitchingSide],
    dart: Dart,
    before: FloatArray,
    after: FloatArray,
    reach: float,
) -> tuple[float, float, FloatArray]:
    """Return where the cutting line leaves `before` and enters `after`, and the points between.

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
    if not dart.is_pressed_back:
        return _mirrored_joint(sides, dart, before, after, reach)
    return _joint_pressed_back(closing(sides, dart), before, after, reach)


def _joint_pressed_back(
    close: Closing, before: FloatArray, after: FloatArray, reach: float
) -> tuple[float, float, FloatArray]:
    shut = close.close(after)
    ends = lengths_along(before)[-1] - reach, reach
    cross = _nearest_crossing(before, shut, ends)
    leg = np.stack([close.near, close.near + 200 * close.near_out])
    line = np.vstack([part(before, 0.0, cross[0]), part(shut, cross[1], lengths_along(shut)[-1])])
    along = crossings(line, leg)[:, 0]
    at = along[np.argmin(np.abs(along - cross[0]))]
    wedge = _opened_wedge(close, part(line, 0.0, at))
    leave, enter = min(at, cross[0]), cross[1] + max(0.0, at - cross[0])
    lead = part(line, leave, at) if at > cross[0] + 1e-9 else np.empty((0, 2))
    tail = close.open(part(line, at, cross[0])) if at < cross[0] - 1e-9 else np.empty((0, 2))
    return float(leave), float(enter), np.vstack([lead, wedge, tail])


def _opened_wedge(close: Closing, line: FloatArray) -> FloatArray:
    """Open out the cutting line of the folded surplus; `line` ends on the near leg.

    The surplus lies twice under the near side: mirrored in the near leg up to the fold line, and
    from there turned back to the far leg.
    """
    back = line[::-1]
    fold = 0.5 * (close.near + close.far)
    out = close.near_out + close.far_out
    out = out / np.linalg.norm(out)
    near_half, far_half = close.fold(back), close.open(back)
    ray = np.stack([fold - 300 * out, fold + 300 * out])
    one = crossings(near_half, ray)
    two = crossings(far_half, ray)
    if len(one) == 0 or len(two) == 0:
        raise UnrollError(
            f"a dart's mouth is {np.linalg.norm(close.far - close.near):.0f} mm wide, wider than "
            "the cloth beside it can cover when it is folded; use two smaller darts"
        )
    one_at, two_at = one[:, 0].min(), two[:, 0].min()
    near_part, far_part = part(near_half, 0.0, one_at), part(far_half, 0.0, two_at)
    # legs of unequal shape leave a hair's step on the fold: both ends take its middle
    peak = 0.5 * (near_part[-1] + far_part[-1])
    return np.vstack([near_part[:-1], peak[None], far_part[:-1][::-1]])


def _mirrored_joint(
    sides: Sequence[StitchingSide],
    dart: Dart,
    before: FloatArray,
    after: FloatArray,
    reach: float,
) -> tuple[float, float, FloatArray]:
    """Press forwards: the same construction in the mirror, read backwards."""
    flip = np.array([-1.0, 1.0])
    forward = closing(sides, dart)
    close = Closing(
        forward.far * flip,
        forward.near * flip,
        forward.far_out * flip,
        forward.near_out * flip,
        forward.angle_rad,
    )
    ends = lengths_along(before)[-1], lengths_along(after)[-1]
    leave, enter, between = _joint_pressed_back(
        close, after[::-1] * flip, before[::-1] * flip, reach
    )
    return ends[0] - enter, ends[1] - leave, between[::-1] * flip


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

SEWN_FIRST = ("front seam", "back seam")  # their ends are squared, so that they can be matched
SHARPEST_NICK_RAD = np.deg2rad(40.0)  # a tight spot that turns less is a nick, cut as a corner
LONGEST_MITRE = 2.5  # times the wider allowance; a sharper corner is cut blunt
REACH = 60.0  # mm by which parallels are prolonged to find where they meet


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


def cutting_line(
    sides: Sequence[StitchingSide], *, corners: Corners = "squared", what: str = "piece"
) -> FloatArray:
    """Return the cutting line, (k, 2), around a stitching line, anticlockwise.

    Parameters
    ----------
    sides : sequence of StitchingSide
        Closed, anticlockwise, each with its allowance; negative allowances lie inside.
    corners : {"squared", "mitred"}
        How the ends of the long seams, which are sewn first, are cut where they meet another
        seam: squared off at the seam's end, so that two pieces match when they are laid together
        and the allowance folds flat; or mitred like every other corner.
    what : str
        Name of the piece, for messages.

    Raises
    ------
    UnrollError
        When an allowance is wider than a hollow curve, or than a short side, allows.
    """
    for side in sides:
        _check_hollow(side, what)
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
    parts = []
    for position, i in enumerate(edge):
        enter, leave = joints[edge[position - 1]].enter, joints[i].leave
        if enter >= leave:
            raise UnrollError(
                f"seam allowance of {sides[i].allowance:g} mm is too wide for the {what}'s "
                f"{sides[i].seam}: the cutting line would cross itself; try a narrower one"
            )
        parts += [part(lines[i], enter, leave), joints[i].between]
    return _checked(_tidy(np.vstack(parts)), sides, what)


def prolonged(side: StitchingSide, reach: float) -> FloatArray:
    """Return a side's parallel at its allowance, prolonged straight at both ends."""
    line = parallel_right(side.points, side.tangents, side.allowance)
    return extended(line, side.tangents[0], side.tangents[-1], reach)


def _check_hollow(side: StitchingSide, what: str) -> None:
    radius, turn = tightest_hollow(side.points, side.tangents)
    if side.allowance > radius and turn > SHARPEST_NICK_RAD:
        raise UnrollError(
            f"seam allowance on the {what}'s {side.seam} is {side.allowance:g} mm; its tightest "
            f"hollow takes at most {radius:.1f} mm"
        )


def _joint(
    sides: Sequence[StitchingSide],
    lines: dict[int, FloatArray],
    before: int,
    after: int,
    dart: Dart | None,
    reach: float,
    corners: Corners,
) -> Joint:
    """Choose how the cutting line passes from one side to the next."""
    if dart is not None:
        return Joint(*mouth_joint(sides, dart, lines[before], lines[after], reach))
    one, two = sides[before], sides[after]
    turn = turn_between(one.tangents[-1], two.tangents[0])
    ends = (lengths_along(lines[before])[-1] - reach, reach)
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
) -> Joint:
    """Run the first-sewn stitching line on to the other cutting line, and square off there."""
    corner = one.points[-1]
    out = one.tangents[-1] if is_before_first else -two.tangents[0]
    other, mine = (after, before) if is_before_first else (before, after)
    ray = np.stack([corner, corner + 200 * out])
    hit = crossings(other, ray)
    hit = hit[np.argmin(hit[:, 1])]
    meet = corner + hit[1] * out
    normal = right_normals(out[None])[0] * (1 if is_before_first else -1)
    square = crossings(mine, np.stack([meet, meet + 200 * normal]))
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


def _checked(line: FloatArray, sides: Sequence[StitchingSide], what: str) -> FloatArray:
    """Refuse a cutting line that crosses itself or the stitching line."""
    widest = max(sides, key=lambda side: side.allowance)
    if not shapely.Polygon(line).is_valid:
        raise UnrollError(
            f"seam allowance of {widest.allowance:g} mm makes the {what}'s cutting line cross "
            "itself; try a narrower one"
        )
    return line
