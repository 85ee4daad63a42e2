"""Corners, darts and sides of a paper piece's outline, found from its shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import PieceSide

CORNER_DEG = 25.0
POINT_DEG = 100.0  # a turn inwards by more is the point of a dart
LEGS_ALIKE = 0.7  # the shorter leg of a dart over the longer one
SAME_MM = 1e-4  # points that lie nearer are one
NEAR_SHARE = 0.06  # of a seam: how far from where it walks to a corner is looked for
WRIST_SHARE, TOP_SHARE = 0.25, 0.45  # of a piece's height, where its corners are looked for


@dataclass(frozen=True, eq=False)
class Corners:
    """Where an outline turns sharply.

    Attributes
    ----------
    at : (c,) int
        Points of the outline, in its order.
    turn_deg : (c,) float
        Positive where it juts out.
    """

    at: IntArray
    turn_deg: FloatArray


def corners_of(points: FloatArray, *, reach: float) -> Corners:
    """Return the sharp corners of an anticlockwise outline.

    Parameters
    ----------
    points : (k, 2) float
        First point not repeated.
    reach : float
        Length before and after a point over which its turn is measured, mm.
    """
    closed = np.vstack([points, points[:1]])
    steps = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    whole = float(along[-1])

    def place(at: FloatArray) -> FloatArray:
        return np.stack([np.interp(at % whole, along, closed[:, k]) for k in range(2)], axis=1)

    here = along[:-1]
    before, after = points - place(here - reach), place(here + reach) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.arctan2(cross, np.einsum("ij,ij->i", before, after)))
    kept: list[int] = []
    for k in np.argsort(-np.abs(turn), kind="stable"):
        if abs(turn[k]) < CORNER_DEG:
            break
        apart = np.abs(here[k] - here[kept])
        if np.minimum(apart, whole - apart).min(initial=reach) >= reach:
            kept.append(int(k))
    order = np.array(sorted(kept), dtype=int)
    return Corners(order, _inwards(points, order, turn[order], reach))


def at_joints(
    corners: Corners, points: FloatArray, joints: IntArray, reach: float
) -> Corners:
    """Return corners, each at the place where two drawn lines meet, if one lies within reach."""
    if not len(joints):
        return corners
    at = []
    for corner in corners.at:
        away = np.linalg.norm(points[joints] - points[corner], axis=1)
        at.append(int(joints[np.argmin(away)]) if away.min() < reach else int(corner))
    return Corners(np.array(at, dtype=int), corners.turn_deg)


def _inwards(points: FloatArray, at: IntArray, turn: FloatArray, reach: float) -> FloatArray:
    """Return turns with those near a half turn given the sign that the shape has there.

    A horn that ends in a hair and the point of a dart both turn by half a circle: rounding alone
    would say which way. Cloth lies between the two runs of a horn, none between those of a dart.
    """
    out = turn.copy()
    around = np.vstack([points] * 3)
    for index, (k, value) in enumerate(zip(at, turn, strict=True)):
        if abs(value) < 150.0:
            continue
        there, back = (_on_the_way(around, int(k) + len(points), sign * 4.0 * reach)
                       for sign in (1.0, -1.0))  # fmt: skip
        one, other = there - points[k], back - points[k]
        side = one[0] * other[1] - one[1] * other[0]
        out[index] = abs(value) if side > 0 else -abs(value)
    return out


def _on_the_way(around: FloatArray, start: int, far: float) -> FloatArray:
    step, gone, here = (1 if far > 0 else -1), 0.0, start
    while gone < abs(far) and 0 < here < len(around) - 1:
        gone += float(np.linalg.norm(around[here + step] - around[here]))
        here += step
    return np.asarray(around[here])


@dataclass(frozen=True)
class Dart:
    """A dart as points of an outline, in its order: mouth, point, mouth."""

    start: int
    tip: int
    end: int


def darts_of(points: FloatArray, corners: Corners) -> tuple[Dart, ...]:
    """Return the darts of an outline.

    A dart's legs run from its point to the next corner that juts out on either side, and are about
    equally long.
    """
    found, count = [], len(corners.at)
    for index in np.flatnonzero(corners.turn_deg < -POINT_DEG):
        out = [
            next((int(corners.at[(index + sign * k) % count]) for k in range(1, count)
                  if corners.turn_deg[(index + sign * k) % count] > 0), None)
            for sign in (-1, 1)
        ]  # fmt: skip
        tip = int(corners.at[index])
        if out[0] is None or out[1] is None:
            continue
        legs = sorted((run_length(points, out[0], tip), run_length(points, tip, out[1])))
        if legs[0] > LEGS_ALIKE * legs[1]:
            found.append(Dart(out[0], tip, out[1]))
    return tuple(found)


def without_darts(points: FloatArray, darts: tuple[Dart, ...]) -> FloatArray:
    """Return an outline with straight lines across the mouths of its darts."""
    gone = set[int]()
    for dart in darts:
        span = (dart.end - dart.start) % len(points)
        gone |= {(dart.start + k) % len(points) for k in range(1, span)}
    return np.asarray(points[[k not in gone for k in range(len(points))]])


def run(points: FloatArray, start: int, end: int) -> FloatArray:
    """Return the outline from one point on to another, both included; all round for the same."""
    count = (end - start) % len(points) or len(points)
    return np.asarray(points[(start + np.arange(count + 1)) % len(points)])


def run_length(points: FloatArray, start: int, end: int) -> float:
    """Return the length of the outline from one point on to another, mm."""
    return float(np.linalg.norm(np.diff(run(points, start, end), axis=0), axis=1).sum())


def is_convex_top(points: FloatArray) -> bool:
    """Tell whether an upright long piece ends above in a cap, not in a hollow between two horns."""
    low, high = points.min(axis=0), points.max(axis=0)
    middle = 0.5 * (low[0] + high[0])
    levels = high[1] - np.array([0.02, 0.05, 0.08]) * (high[1] - low[1])
    closed = np.vstack([points, points[:1]])
    hollow = 0
    for level in levels:
        above = closed[:, 1] >= level
        at = np.flatnonzero(above[1:] != above[:-1])
        share = (level - closed[at, 1]) / (closed[at + 1, 1] - closed[at, 1])
        x = np.sort(closed[at, 0] + share * (closed[at + 1, 0] - closed[at, 0]))
        inside = np.count_nonzero(x < middle) % 2
        hollow += inside == 0 and len(x) >= 4
    return hollow < 2


def wrist_corners(points: FloatArray, corners: Corners, *, what: str) -> tuple[int, int]:
    """Return the wrist's corners on an upright long piece: left and right.

    Raises
    ------
    UnrollError
        When there are no two corners at its lower end.
    """
    low, high = points[:, 1].min(), points[:, 1].max()
    is_low = (points[corners.at, 1] < low + WRIST_SHARE * (high - low)) & (corners.turn_deg > 0)
    candidates = corners.at[is_low]
    if len(candidates) < 2:
        raise UnrollError(
            f"{what}: {len(candidates)} corners were found at its wrist end; expected 2 (rounded "
            f"off? name them in [draft])"
        )
    x = points[candidates, 0]
    return int(candidates[np.argmin(x)]), int(candidates[np.argmax(x)])


def horns(points: FloatArray, corners: Corners, *, what: str) -> tuple[int, int]:
    """Return the tips beside the hollow of an upright inner piece: left and right.

    Raises
    ------
    UnrollError
        When there are none.
    """
    low, high = points[:, 1].min(), points[:, 1].max()
    is_high = (points[corners.at, 1] > high - TOP_SHARE * (high - low)) & (corners.turn_deg > 0)
    candidates = corners.at[is_high]
    middle = 0.5 * (points[:, 0].min() + points[:, 0].max())
    sides = [candidates[points[candidates, 0] < middle], candidates[points[candidates, 0] > middle]]
    if not all(len(side) for side in sides):
        raise UnrollError(
            f"{what}: no corner was found at either end of its hollow (rounded off? name them in "
            "[draft])"
        )
    return tuple(int(side[np.argmax(points[side, 1])]) for side in sides)  # type: ignore[return-value]


def with_point(points: FloatArray, start: int, along: float) -> tuple[FloatArray, int, IntArray]:
    """Return an outline with a point put in, its index, and where each old point went.

    Where there is a point already, that one is returned.

    Parameters
    ----------
    start : int
    along : float
        mm on from `start`; negative against the outline.
    """
    closed = np.vstack([points, points[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    place = float((at[start] + along) % at[-1])
    near = int(np.argmin(np.abs(at - place)))
    if abs(at[near] - place) < SAME_MM:
        return points, near % len(points), np.arange(len(points))
    after = int(np.searchsorted(at, place))
    new = np.array([np.interp(place, at, closed[:, k]) for k in range(2)])
    moved = np.arange(len(points)) + (np.arange(len(points)) >= after)
    return np.insert(points, after, new, axis=0), after, moved


def sides_of(
    points: FloatArray, corners: tuple[int, int, int, int], darts: tuple[Dart, ...],
    names: tuple[str, str, str, str], *, darts_from_front: bool,
) -> tuple[PieceSide, ...]:
    """Return the sides of a long piece.

    Parameters
    ----------
    points : (k, 2) float
    corners : tuple of int
        Where the sides begin, in outline order: top, left, wrist, right.
    darts : tuple of Dart
        Those on the first side count.
    names : tuple of str
        Seams in that order.
    darts_from_front : bool
        Whether the first side runs from front to back.
    """
    top, end = corners[0], corners[1]
    span = (end - top) % len(points)
    inside = sorted(
        (d for d in darts if (d.start - top) % len(points) <= span
         and (d.end - top) % len(points) <= span),
        key=lambda d: (d.start - top) % len(points),
    )  # fmt: skip
    sides, here = [], top
    for number, dart in enumerate(inside, start=1):
        called = f"dart {number if darts_from_front else len(inside) + 1 - number}"
        if dart.start != here:
            sides.append(PieceSide(names[0], run(points, here, dart.start)))
        sides += [PieceSide(called, run(points, dart.start, dart.tip)),
                  PieceSide(called, run(points, dart.tip, dart.end))]
        here = dart.end
    if here != end:
        sides.append(PieceSide(names[0], run(points, here, end)))
    for name, start, stop in zip(names[1:], corners[1:], (*corners[2:], top), strict=True):
        sides.append(PieceSide(name, run(points, start, stop)))
    return tuple(sides)
