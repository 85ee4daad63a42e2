"""The end plates: armhole base and wrist base, and the armhole's edge in two halves."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from unroll.errors import UnrollError
from unroll.maths import polylines
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import oval_part
from unroll.maths.polylines import cut_by_line, joined, length, lengths_along, spaced
from unroll.nouns import ArmMeasures, Notch, Piece, PieceSide, mirrored

STEP = 1.0  # mm between points of a drawn line: a chord then misses its arc by 0.003 mm
EDGE_STEP = 0.5  # mm on the plates, whose girth has to come out within 0.01 mm


@dataclass(frozen=True, eq=False)
class ArmholeEdge:
    """The armhole's edge in the drafting frame: x forward, y up, shoulder point at the origin.

    Attributes
    ----------
    upper : (k, 2) float
        From the back mid-height point over the shoulder to the front one, mm.
    lower : (k, 2) float
        From the front mid-height point under the arm to the back one, mm.
    shoulder, underarm : float
        Distance of the shoulder point along `upper`, of the underarm point along `lower`, mm.
    """

    upper: FloatArray
    lower: FloatArray
    shoulder: float
    underarm: float

    @property
    def back(self) -> FloatArray:
        """Back mid-height point, (2,)."""
        return np.asarray(self.upper[0])

    @property
    def front(self) -> FloatArray:
        """Front mid-height point, (2,)."""
        return np.asarray(self.upper[-1])

    @property
    def upper_length(self) -> float:
        """Length of the upper half, mm."""
        return length(self.upper)


def armhole_edge(measures: ArmMeasures) -> ArmholeEdge:
    """Return the armhole's edge: the traced outline, or the oval of its width, height and girth.

    Raises
    ------
    UnrollError
        When no oval has the three measures, or a traced outline crosses its mid-height line more
        than twice.
    """
    hole = measures.armhole
    if hole.outline is not None:
        return _traced_edge(np.asarray(hole.outline), hole.height)
    down = np.array([0.0, -0.5 * hole.height])
    upper = oval_part(hole.width, hole.height, hole.girth, 0.75, 0.25, step=EDGE_STEP) + down
    lower = oval_part(hole.width, hole.height, hole.girth, 0.25, -0.25, step=EDGE_STEP) + down
    return ArmholeEdge(upper, lower, _reach(upper, np.argmax(upper[:, 1])),
                       _reach(lower, np.argmin(lower[:, 1])))


def _reach(points: FloatArray, index: int | np.intp) -> float:
    """Return the distance along a polyline to one of its points, mm."""
    return float(lengths_along(points)[index])


def _traced_edge(outline: FloatArray, height: float) -> ArmholeEdge:
    """Split a traced outline at its mid-height line."""
    closed = np.concatenate([outline, outline[:1]])
    middle = np.array([0.0, -0.5 * height])
    cuts = cut_by_line(closed, middle, np.array([1.0, 0.0]))
    if len(cuts) != 2:
        raise UnrollError(
            f"armhole.outline crosses its mid-height line {len(cuts)} times; expected 2 "
            "(is it one closed line, traced once around?)"
        )
    back, front = (middle + np.array([x, 0.0]) for x in cuts)
    lower = _run_between(outline, back, front, is_above=False)[::-1]
    upper = _run_between(outline, front, back, is_above=True)[::-1]
    top = int(np.argmin(np.hypot(*upper.T)))
    lowest = int(np.argmin(lower[:, 1]))
    return ArmholeEdge(upper, lower, _reach(upper, top), _reach(lower, lowest))


def _run_between(
    outline: FloatArray, start: FloatArray, end: FloatArray, *, is_above: bool
) -> FloatArray:
    """Return the anticlockwise run of an outline on one side of the line through two points."""
    keep = outline[:, 1] > start[1] if is_above else outline[:, 1] < start[1]
    first = int(np.nonzero(keep & ~np.roll(keep, 1))[0][0])
    run = np.roll(outline, -first, axis=0)[np.roll(keep, -first)]
    points = np.vstack([start, run, end])
    is_new = polylines.chords(points) > 1e-9
    return spaced(points[np.concatenate([[True], is_new])], STEP)


def armhole_base(measures: ArmMeasures, *, source: str = "unrolled") -> Piece:
    """Return the plate that closes the arm at the double's armhole.

    Right side up it is seen from the body, looking outward along the arm: for the left arm x is
    forward and y is up, the shoulder point at (0, 0). Its sides run anticlockwise, "cap seam"
    from the front mid-height point over the shoulder to the back one, "underarm seam" on from
    there, so that each runs against the side it is sewn to, as on any closed surface.

    Raises
    ------
    UnrollError
        As `armhole_edge`.
    """
    edge = armhole_edge(measures)
    sides = (PieceSide("cap seam", edge.upper[::-1]), PieceSide("underarm seam", edge.lower[::-1]))
    notches = (
        Notch("front", 0, 0.0, 1),
        Notch("shoulder", 0, sides[0].length - edge.shoulder, 1),
        Notch("back", 0, sides[0].length, 2),
        Notch("underarm", 1, sides[1].length - edge.underarm, 1),
    )
    lines = {
        "grain": np.array([[0.0, 0.0], [0.0, -measures.armhole.height]]),
        "mid-height line": np.array([edge.back, edge.front]),
    }
    piece = Piece("armhole base", source, "left", sides, lines, notches)
    return piece if measures.side == "left" else mirrored(piece, "right")


def wrist_base(
    measures: ArmMeasures, inner_share: float | Fraction, *, source: str = "unrolled"
) -> Piece:
    """Return the plate that closes the arm at the wrist.

    Right side up it is seen from the hand, looking up the arm: for the left arm forward is to the
    left (−x) and the outer side of the arm is up (y). "outer wrist" runs from back to front over
    the outer side, "inner wrist" from front to back; the inner's share of the girth is centred on
    the innermost point.

    Parameters
    ----------
    measures : ArmMeasures
    inner_share : float or Fraction
        The inner piece's wrist edge over the girth, between 0 and 1.

    Raises
    ------
    UnrollError
        When no oval has the wrist's width, depth and girth.
    """
    width, depth, girth = measures.wrist_width, measures.wrist_depth, measures.wrist_girth
    half = 0.5 * float(inner_share)
    outer = joined([
        oval_part(width, depth, girth, half, 0.5, step=EDGE_STEP),
        oval_part(width, depth, girth, 0.5, 1.0 - half, step=EDGE_STEP),
    ])
    inner = joined([
        oval_part(width, depth, girth, 1.0 - half, 1.0, step=EDGE_STEP),
        oval_part(width, depth, girth, 0.0, half, step=EDGE_STEP),
    ])
    inner[-1], inner[0] = outer[0], outer[-1]
    sides = (PieceSide("outer wrist", outer), PieceSide("inner wrist", inner))
    notches = (
        Notch("back", 0, 0.0, 2),
        Notch("outer middle", 0, 0.5 * sides[0].length, 1),
        Notch("front", 0, sides[0].length, 1),
        Notch("inner middle", 1, 0.5 * sides[1].length, 1),
    )
    lines = {"grain": np.array([[0.0, 0.5 * depth], [0.0, -0.5 * depth]])}
    piece = Piece("wrist base", source, "left", sides, lines, notches)
    return piece if measures.side == "left" else mirrored(piece, "right")
