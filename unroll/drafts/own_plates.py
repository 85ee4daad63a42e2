"""End plates of a maker's own draft: as they were drawn, else made from the measures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from unroll.drafts.bases import armhole_base, wrist_base
from unroll.drafts.own_corners import run, with_point
from unroll.drafts.own_lying import Taken
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import cut_by_line, lengths_along
from unroll.nouns import ArmMeasures, Notch, Piece, PieceSide

JOINT_SHARE = 0.03  # of a plate's girth: how far from its usual place two lines may meet
LEVEL_SHARE = 0.002  # of the height: what counts as level with the top


def plate_of(
    name: str, taken: Taken | None, measures: ArmMeasures, *, share: float = 0.0
) -> tuple[Piece, str]:
    """Return an end plate of the left arm, and where it comes from.

    Parameters
    ----------
    name : {"armhole base", "wrist base"}
    taken : Taken or None
        Its outline; made from the measures where there is none.
    measures : ArmMeasures
        Of the left arm.
    share : float
        Of the wrist's edge that is the inner's.
    """
    is_armhole = name == "armhole base"
    usual = (
        armhole_base(measures, source="own") if is_armhole
        else wrist_base(measures, share, source="own")
    )  # fmt: skip
    if taken is None:
        return usual, f"{name}: not drawn, made from the sheet's measures"
    points = taken.points - shapely.get_coordinates(shapely.Polygon(taken.points).centroid)[0]
    if taken.outline.is_photo:
        points = _as_it_lies(points, usual)
    cuts = _at_mid_height(points) if is_armhole else _around_the_lowest(points, share)
    if not taken.outline.is_photo:
        cuts = _at_joints(points, taken.joints.tolist(), cuts)
    sides = _cut(points, cuts, (usual.sides[0].seam, usual.sides[1].seam))
    piece = Piece(name, "own", "left", sides, notches=usual.notches)
    dressed = _as_armhole(piece) if is_armhole else _as_wrist(piece)
    return dressed, f"{name}: {taken.called}"


def _as_it_lies(points: FloatArray, usual: Piece) -> FloatArray:
    """Return a plate's outline the way up in which it lies nearer to the measured one.

    A photograph shows its axes, but not which end is up.
    """
    middle = shapely.get_coordinates(shapely.Polygon(usual.outline).centroid)[0]
    edge = shapely.LinearRing(usual.outline - middle)
    ways = (points, -points)
    offs = [float(shapely.distance(shapely.points(way), edge).mean()) for way in ways]
    return ways[int(offs[1] < offs[0] - 0.05)]


def _around(points: FloatArray) -> FloatArray:
    return lengths_along(np.vstack([points, points[:1]]))


def _at_mid_height(points: FloatArray) -> tuple[float, float]:
    """Return where the outline passes its mid-height on the right and on the left, mm along it."""
    level = 0.5 * (points[:, 1].min() + points[:, 1].max())
    closed = np.vstack([points, points[:1]])
    across = cut_by_line(closed, np.array([0.0, level]), np.array([1.0, 0.0]))
    ring = shapely.LineString(closed)
    right, left = (float(ring.project(shapely.Point(x, level))) for x in (across[-1], across[0]))
    return right, left


def _around_the_lowest(points: FloatArray, share: float) -> tuple[float, float]:
    """Return the ends of a share of the outline about its lowest place, right and left."""
    at = _around(points)
    lowest = at[int(np.argmin(np.where(points[:, 1] < 0, np.abs(points[:, 0]), np.inf)))]
    half = 0.5 * share * at[-1]
    return float((lowest + half) % at[-1]), float((lowest - half) % at[-1])


def _at_joints(
    points: FloatArray, joints: list[int], cuts: tuple[float, float]
) -> tuple[float, float]:
    """Return the cuts, each where two drawn lines meet if they meet near it."""
    at = _around(points)
    whole, out = float(at[-1]), []
    for cut in cuts:
        offs = [(min(abs(at[k] - cut), whole - abs(at[k] - cut)), float(at[k])) for k in joints]
        best = min(offs, default=(whole, cut))
        out.append(best[1] if best[0] < JOINT_SHARE * whole else cut)
    return out[0], out[1]


def _cut(
    points: FloatArray, cuts: tuple[float, float], seams: tuple[str, str]
) -> tuple[PieceSide, PieceSide]:
    """Return the two sides: over the top from right to left, and back underneath."""
    points, right, _ = with_point(points, 0, cuts[0])
    points, left, moved = with_point(points, 0, cuts[1])
    right = int(moved[right])
    return PieceSide(seams[0], run(points, right, left)), PieceSide(
        seams[1], run(points, left, right)
    )


def _as_armhole(piece: Piece) -> Piece:
    """Return an armhole base with the shoulder at its top, the underarm at its lowest place."""
    over, under = (side.points for side in piece.sides)
    height = over[:, 1].max() - under[:, 1].min()
    top = _level_middle(over, over[:, 1] >= over[:, 1].max() - LEVEL_SHARE * height)
    low = _level_middle(under, under[:, 1] <= under[:, 1].min() + LEVEL_SHARE * height)
    places = {"front": 0.0, "shoulder": top, "back": piece.sides[0].length, "underarm": low}
    notches = tuple(replace(notch, along=places[notch.name]) for notch in piece.notches)
    x = float(np.interp(top, lengths_along(over), over[:, 0]))
    lines = {
        "grain": np.array([[x, over[:, 1].max()], [x, under[:, 1].min()]]),
        "mid-height line": np.array([over[-1], over[0]]),
    }
    return replace(piece, notches=notches, lines=lines)


def _level_middle(points: FloatArray, is_level: FloatArray) -> float:
    at = lengths_along(points)[is_level]
    return float(0.5 * (at.min() + at.max()))


def _as_wrist(piece: Piece) -> Piece:
    over, under = piece.sides
    places = {"back": 0.0, "outer middle": 0.5 * over.length, "front": over.length,
              "inner middle": 0.5 * under.length}  # fmt: skip
    notches: tuple[Notch, ...] = tuple(replace(n, along=places[n.name]) for n in piece.notches)
    tall = over.points[:, 1].max(), under.points[:, 1].min()
    return replace(
        piece, notches=notches, lines={"grain": np.array([[0.0, tall[0]], [0.0, tall[1]]])}
    )
