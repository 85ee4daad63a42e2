"""End plates of a maker's own draft: as they were drawn, else made from the measures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from unroll.drafts.bases import armhole_base, wrist_base
from unroll.drafts.own_corners import run, with_point
from unroll.drafts.own_lines import drawn_notches
from unroll.drafts.own_lying import Taken
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import cut_by_line, lengths_along
from unroll.nouns import ArmMeasures, Notch, Piece, PieceSide

JOINT_SHARE = 0.03  # of a plate's girth: how far from its usual place two lines may meet
AS_DRAWN_MM = 20.0  # that a notch may lie off its usual place
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
    middle = shapely.get_coordinates(shapely.Polygon(taken.points).centroid)[0]
    points, drawn = taken.points - middle, taken.notches - middle
    if taken.outline.is_photo and _lies_upside_down(points, usual):
        points, drawn = -points, -drawn
    cuts = _at_mid_height(points) if is_armhole else _around_the_lowest(points, share)
    ring = shapely.LinearRing(points)
    marks = [float(ring.project(shapely.Point(one))) for one in drawn]
    if not taken.outline.is_photo:
        marks += _around(points)[taken.joints].tolist()
    cuts = _at_marks(float(ring.length), marks, cuts)
    sides = _cut(points, cuts, (usual.sides[0].seam, usual.sides[1].seam))
    piece = Piece(name, "own", "left", sides, notches=usual.notches)
    dressed = _as_armhole(piece) if is_armhole else _as_wrist(piece)
    dressed, read = _as_marked(dressed, drawn)
    told = f", its notches taken as drawn: {', '.join(read)}" if read else ""
    return dressed, f"{name}: {taken.called}{told}"


def _as_marked(piece: Piece, drawn: FloatArray) -> tuple[Piece, list[str]]:
    """Return a plate whose notches between its seams' ends are where they are drawn, and which."""
    there = [(n.side_index, n.along) for n in drawn_notches(piece, drawn).notches]
    notches, read = [], []
    for notch in piece.notches:
        length = piece.sides[notch.side_index].length
        near = [at for index, at in there if index == notch.side_index
                and abs(at - notch.along) < AS_DRAWN_MM and 1.0 < at < length - 1.0]  # fmt: skip
        if near and 1.0 < notch.along < length - 1.0:
            read.append(notch.name)
            notch = replace(notch, along=min(near, key=lambda at: abs(at - notch.along)))
        notches.append(notch)
    return replace(piece, notches=tuple(notches)), read


def _lies_upside_down(points: FloatArray, usual: Piece) -> bool:
    """Tell whether a plate's outline lies nearer to the measured one once turned by half.

    A photograph shows its axes, but not which end is up.
    """
    middle = shapely.get_coordinates(shapely.Polygon(usual.outline).centroid)[0]
    edge = shapely.LinearRing(usual.outline - middle)
    ways = (points, -points)
    offs = [float(shapely.distance(shapely.points(way), edge).mean()) for way in ways]
    return offs[1] < offs[0] - 0.05


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


def _at_marks(
    whole: float, marks: list[float], cuts: tuple[float, float]
) -> tuple[float, float]:
    """Return the cuts, each at the notch or the meeting of two drawn lines that is near it."""
    out = []
    for cut in cuts:
        offs = [(min(abs(at - cut), whole - abs(at - cut)), at) for at in marks]
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
