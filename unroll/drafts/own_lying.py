"""How a paper piece lies: right side up, its grain upright, the shoulder's end up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, IntArray
from unroll.nouns import Make
from unroll.nouns.own import DraftTable, OwnOutline

LONG = ("outer", "inner")
GRAIN_MM, GRAIN_DEG = 40.0, 15.0
AT_EDGE_MM, LEAST_DART_MM, SAME_MM = 1.5, 15.0, 1e-6
MOST_LEGS = 60  # of darts on one piece; more lines are a drawing of something else
SCALE_SHARE = 0.003  # by which a length may be off before everything is scaled


@dataclass(frozen=True, eq=False)
class Taken:
    """An outline taken for a piece, its allowance off, right side up, the shoulder's end up."""

    name: str
    outline: OwnOutline
    points: FloatArray
    joints: IntArray
    marks: tuple[FloatArray, ...]
    notches: FloatArray
    has_grain: bool

    @property
    def called(self) -> str:
        """How it is called to the maker."""
        return f"outline {self.outline.number} ({self.outline.file})"

    def moved(self, turn: FloatArray, shift: FloatArray) -> Taken:
        """Return it with every point times `turn` (2, 2), then shifted."""
        marks = tuple(mark @ turn.T + shift for mark in self.marks)
        points, notches = (at @ turn.T + shift for at in (self.points, self.notches))
        return replace(self, points=points, marks=marks, notches=notches)


def stitched(outline: OwnOutline, make: Make, table: DraftTable) -> OwnOutline:
    """Return the line that is stitched: allowance off, darts cut out whose legs lie within."""
    if table.drawn == "cutting" and outline.cutting is not False:
        width = make.seam_allowance
        bare = _without_allowance(outline, width)
    else:
        width, bare = 0.0, outline
    wedges = _wedges(outline, width + AT_EDGE_MM)
    if not wedges:
        return bare
    left = shapely.Polygon(bare.points).difference(shapely.union_all(wedges))
    if left.geom_type != "Polygon":
        return bare
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(left).exterior)[:-1]
    at, off = _nearest(points, bare.points[bare.joints])
    return replace(bare, points=points, joints=np.unique(at[off < SAME_MM]))


def _nearest(points: FloatArray, places: FloatArray) -> tuple[IntArray, FloatArray]:
    away = np.linalg.norm(points[:, None] - places[None], axis=2)
    return away.argmin(axis=0), away.min(axis=0)


def _wedges(outline: OwnOutline, reach: float) -> list[shapely.Polygon]:
    """Return the darts whose two legs are drawn from the edge to one point within, run on outwards.

    A dart is two lines that end in one place, or one line that turns back there.
    """
    edge = shapely.LinearRing(outline.points)
    area = shapely.Polygon(outline.points)
    legs = []
    for mark in outline.marks:
        for leg in _turned_back(mark):
            ends = shapely.distance(edge, shapely.points(leg[[0, -1]]))
            if ends.min() < reach and ends.max() > LEAST_DART_MM:
                leg = leg if ends[1] < ends[0] else leg[::-1]
                legs += [leg] if area.contains(shapely.Point(leg[0])) else []
    found = []
    for k, one in enumerate(legs[:MOST_LEGS]):
        for other in legs[k + 1 : MOST_LEGS]:
            wide = float(np.linalg.norm(one[-1] - other[-1]))
            is_one_tip = np.linalg.norm(one[0] - other[0]) < AT_EDGE_MM
            if is_one_tip and AT_EDGE_MM < wide < polylines.length(one):
                ends = [leg[-1] + 2.0 * reach * _way_out(leg) for leg in (one, other)]
                wedge = shapely.Polygon([*one, ends[0], ends[1], *other[:0:-1]])
                found += [wedge] if wedge.is_valid else []
    return found


def _turned_back(mark: FloatArray) -> list[FloatArray]:
    """Return the two halves of a line that turns back at a point, else the line itself."""
    ways = np.diff(mark, axis=0)
    sharp = np.flatnonzero(np.sum(ways[1:] * ways[:-1], axis=1) < 0.0) + 1
    return [mark[: sharp[0] + 1], mark[sharp[0] :]] if len(sharp) == 1 else [mark]


def _way_out(leg: FloatArray) -> FloatArray:
    way = leg[-1] - leg[-2]
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-9))


def _without_allowance(outline: OwnOutline, width: float) -> OwnOutline:
    """Return an outline with its allowance off."""
    inside = shapely.Polygon(outline.points).buffer(-width, join_style="mitre", mitre_limit=20.0)
    if inside.geom_type != "Polygon" or inside.is_empty:
        raise UnrollError(f"outline {outline.number} ({outline.file}) has no room for an allowance "
                          f"of {width:g} mm to take off (is it a stitching line?)")
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(inside).exterior)[:-1]
    return replace(outline, points=points, joints=np.zeros(0, dtype=int), cutting=True)


def upright(name: str, outline: OwnOutline, is_turned: bool) -> Taken:
    """Return an outline right side up, grain upright, the shoulder's end up."""
    flip = np.array([[-1.0 if is_turned else 1.0, 0.0], [0.0, 1.0]])
    points, joints = outline.points @ flip, outline.joints
    if is_turned:
        points, joints = points[::-1], np.sort(len(points) - 1 - joints)
    marks = tuple(mark @ flip for mark in outline.marks)
    taken = Taken(name, outline, points, joints, marks, outline.notches @ flip, False)
    grain = _grain(points, marks)
    if name in LONG:
        turn = _turn_up(points, grain)
    elif outline.is_photo:
        turn = _plate_turn(points, is_wide=name == "wrist base")
    else:
        turn = np.eye(2)
    return replace(taken.moved(turn, np.zeros(2)), has_grain=grain is not None)


def _grain(points: FloatArray, marks: Sequence[FloatArray]) -> FloatArray | None:
    """Return the direction of the longest straight line drawn along a piece; None without one."""
    axis = axis_of(points)
    best, direction = GRAIN_MM, None
    for mark in marks:
        way = mark[-1] - mark[0]
        reach = float(np.linalg.norm(way))
        is_along = reach > 0 and abs(way @ axis) > np.cos(np.radians(GRAIN_DEG)) * reach
        if is_along and reach > best and polylines.length(mark) < 1.001 * reach:
            best, direction = reach, way / reach
    return direction


def axis_of(points: FloatArray) -> FloatArray:
    """Return the direction of the longer side of the narrowest box round an outline."""
    box = shapely.get_coordinates(shapely.MultiPoint(points).minimum_rotated_rectangle)
    ways = np.diff(box[:3], axis=0)
    way = ways[int(np.argmax(np.linalg.norm(ways, axis=1)))]
    return np.asarray(way / np.linalg.norm(way))


def _turn_up(points: FloatArray, grain: FloatArray | None) -> FloatArray:
    """Return the turn that brings a long piece's grain upright, its wider end up.

    A direction that is given but does not lie along the piece is none.
    """
    axis = axis_of(points)
    if grain is None or abs(grain @ axis) < np.cos(np.radians(2.0 * GRAIN_DEG)):
        grain = axis
    turn = np.array([[grain[1], -grain[0]], [grain[0], grain[1]]])
    x, y = (points @ turn.T).T
    low, high = y.min(), y.max()
    slice_ = 0.12 * (high - low)
    at_top, at_bottom = np.ptp(x[y > high - slice_]), np.ptp(x[y < low + slice_])
    return turn if at_top > at_bottom else -turn


def stood_up(points: FloatArray) -> FloatArray:
    """Return a long outline turned upright, its wider end up."""
    return np.asarray(points @ _turn_up(points, None).T)


def _plate_turn(points: FloatArray, *, is_wide: bool) -> FloatArray:
    """Return the turn that brings a plate's longer axis upright, or level for the wrist.

    The axes are those of its area's second moments: every point of the edge has its say.
    """
    ring = points - shapely.get_coordinates(shapely.Polygon(points).centroid)[0]
    after = np.roll(ring, -1, axis=0)
    cross = ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]
    xx, yy = (np.sum(cross * (ring[:, k] ** 2 + ring[:, k] * after[:, k] + after[:, k] ** 2))
              for k in (0, 1))  # fmt: skip
    xy = np.sum(cross * (ring[:, 0] * after[:, 1] + 2 * ring[:, 0] * ring[:, 1]
                         + 2 * after[:, 0] * after[:, 1] + after[:, 0] * ring[:, 1])) / 2.0
    angle = 0.5 * np.arctan2(2.0 * xy, xx - yy)  # of the longer axis
    back = -angle if is_wide else 0.5 * np.pi - angle
    return np.array([[np.cos(back), -np.sin(back)], [np.sin(back), np.cos(back)]])


def to_length(
    taken: dict[str, Taken], table: DraftTable
) -> tuple[dict[str, Taken], tuple[str, ...]]:
    """Return everything scaled so that the outer piece is as long as the sheet says."""
    if table.outer_length is None:
        return taken, ()
    found = float(np.ptp(taken["outer"].points[:, 1]))
    scale = table.outer_length / found
    if abs(scale - 1.0) < SCALE_SHARE:
        return taken, ()
    scaled = {name: one.moved(scale * np.eye(2), np.zeros(2)) for name, one in taken.items()}
    line = (
        f"everything is taken {scale:.4f} times as large as it was read, so that the outer is "
        f"{table.outer_length:.1f} mm long instead of {found:.1f} mm"
    )
    return scaled, (line,)
