"""The five pieces of one arm, put together from what was drawn."""

from __future__ import annotations

from typing import Literal

import numpy as np

from unroll.drafts.bases import STEP, ArmholeEdge, armhole_base, wrist_base
from unroll.drafts.caps import Cap, dart_cap, ease_cap
from unroll.drafts.layout import Layout, inner_side, lay_out, outer_bottom
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.polylines import crosses_itself, cut_by_line, joined, lengths_along, spaced
from unroll.maths.smooth_curves import curve_through
from unroll.nouns import ArmMeasures, Make, Notch, Piece, PieceSide, mirrored

SEAM = "shoulder extension seam"


def shoulder_extension(measures: ArmMeasures, edge: ArmholeEdge, source: str) -> Piece:
    """Return the piece that reaches from the cap seam half way along the shoulder; cut two.

    The front and back halves of the double's shoulder are laid together along the shoulder line,
    which is the grain (y, the neck end up). Each half of the armhole's upper edge, from the
    shoulder notch to its mid-height notch, leaves the shoulder line square and bends up into an
    arc whose chord falls from the square by that half's shoulder slope. The free edge runs from
    notch to notch over the point half way to the neck.
    """
    lengths = (edge.upper_length - edge.shoulder, edge.shoulder)
    slopes = (measures.shoulder_slope_front_deg, measures.shoulder_slope_back_deg)
    front, back = (_half(reach, slope) for reach, slope in zip(lengths, slopes, strict=True))
    seam = joined([front[::-1] * np.array([-1.0, 1.0]), back])
    peak = np.array([0.0, 0.5 * measures.shoulder_length])
    free = joined([
        _free_half(peak, back[-1], 1)[::-1],
        _free_half(peak, front[-1] * np.array([-1.0, 1.0]), -1),
    ])
    sides = (PieceSide(SEAM, seam), PieceSide("shoulder extension edge", free))
    notches = (
        Notch("front", 0, 0.0, 1),
        Notch("shoulder", 0, float(lengths_along(seam)[len(front) - 1]), 1),
        Notch("back", 0, sides[0].length, 2),
    )
    lines = {"grain": np.array([peak, [0.0, 0.0]])}
    piece = Piece("shoulder extension", source, "left", sides, lines, notches)
    return piece if measures.side == "left" else mirrored(piece, "right")


def _half(reach: float, slope_deg: float) -> FloatArray:
    """Return an arc of length `reach` from the origin along +x, its chord falling by the slope."""
    count = max(int(np.ceil(reach / STEP)), 4)
    along = np.linspace(0.0, reach, count + 1)
    turn = 2.0 * np.radians(slope_deg)
    if abs(turn) < 1e-9:
        return np.column_stack([along, np.zeros_like(along)])
    radius = reach / turn
    angle = along / radius
    return np.column_stack([radius * np.sin(angle), -radius * (1.0 - np.cos(angle))])


def _free_half(peak: FloatArray, corner: FloatArray, side: int) -> FloatArray:
    """Return the free edge from its peak, square to the grain, to a notch, (k, 2)."""
    return curve_through([peak, corner], start=(side, 0)).sampled(STEP)


FLIP = np.array([-1.0, 1.0])


def draft(
    measures: ArmMeasures,
    make: Make,
    *,
    manner: Literal["ease", "darts"],
    eased_in: float = 0.0,
) -> tuple[Piece, ...]:
    """Draft one arm by the flat rules.

    Parameters
    ----------
    measures : ArmMeasures
    make : Make
        Inner share, rounding, cap ease, darts.
    manner : {"ease", "darts"}
        How the cap is fitted: raised by the ease, or darted to the measured height and arcs.
    eased_in : float
        What the darts leave in the cap seam to be eased in, mm; less is taken in for it.

    Returns
    -------
    tuple of Piece
        "inner", "outer", "armhole base", "wrist base", "shoulder extension"; for the right arm
        the mirror images of what the same measures give on the left.

    Raises
    ------
    UnrollError
        When measures contradict each other so far that no outline can be drawn.

    Examples
    --------
    >>> from tests.samples import sample_measures
    >>> [piece.name for piece in draft(sample_measures(), Make(), manner="ease")]
    ['inner', 'outer', 'armhole base', 'wrist base', 'shoulder extension']
    """
    source = f"drafted-{manner}"
    layout = lay_out(measures, make)
    if manner == "ease":
        cap = ease_cap(layout, make)
    else:
        cap = dart_cap(layout, measures, make, eased_in=eased_in)
    wrist = layout.lines[-1]
    arm_pieces = (_inner(layout, source), _outer(layout, measures, cap, source))
    for piece in arm_pieces:
        if crosses_itself(piece.outline):
            raise UnrollError(
                f"the drafted {piece.name} arm's outline crosses itself "
                "(do the cap arcs, the cap height and the armhole belong together?)"
            )
    if measures.side == "right":
        arm_pieces = (mirrored(arm_pieces[0], "right"), mirrored(arm_pieces[1], "right"))
    return (
        *arm_pieces,
        armhole_base(measures, source=source),
        wrist_base(measures, wrist.inner / (wrist.inner + wrist.outer), source=source),
        shoulder_extension(measures, layout.edge, source),
    )


def _inner(layout: Layout, source: str) -> Piece:
    """Put the inner arm together."""
    front, back = inner_side(layout, 1), inner_side(layout, -1)
    sides = _meeting((
        PieceSide("underarm seam", layout.edge.lower),
        PieceSide("back seam", back),
        PieceSide("inner wrist", _straight(back[-1], front[-1])),
        PieceSide("front seam", front[::-1]),
    ))
    lines = {line.name: np.array([line.end("inner", -1), line.end("inner", 1)])
             for line in layout.lines[:-1]}
    piece = Piece("inner", source, "left", sides)
    lines |= level_line(piece, "underarm line", layout.underarm)
    lines["grain"] = np.array([[0.0, layout.underarm], [0.0, layout.lines[1].centre[1]]])
    return Piece("inner", source, "left", sides, lines)


def _outer(layout: Layout, measures: ArmMeasures, cap: Cap, source: str) -> Piece:
    """Put the outer arm together: drawn as the inner lies, then turned over."""
    front = joined([cap.front_side, outer_bottom(layout, 1)])
    back = joined([cap.back_side, outer_bottom(layout, -1)])
    sides = []
    count = len(cap.legs)
    for index, run in enumerate(cap.runs):
        sides.append(PieceSide("cap seam", run * FLIP))
        if index < count:
            name = f"dart {count - index}"
            sides.extend(PieceSide(name, leg * FLIP) for leg in cap.legs[index])
    sides.append(PieceSide("front seam", front * FLIP))
    sides.append(PieceSide("outer wrist", _straight(front[-1], back[-1]) * FLIP))
    sides.append(PieceSide("back seam", back[::-1] * FLIP))
    met = _meeting(tuple(sides))
    piece = Piece("outer", source, "left", met)
    lines = {line.name: np.array([line.end("outer", 1), line.end("outer", -1)]) * FLIP
             for line in layout.lines[:-1]}
    lines |= level_line(piece, "mid-height line", layout.mid_height)
    lines |= level_line(piece, "underarm line", layout.underarm)
    for number, arc in enumerate(sorted(measures.cap_arcs, key=lambda a: a.up), start=1):
        lines |= level_line(piece, f"cap level {number}", layout.underarm + arc.up)
    top = max(float(run[:, 1].max()) for run in cap.runs)
    lines["grain"] = np.array([[0.0, min(0.0, top - 10.0)], [0.0, layout.lines[1].centre[1]]])
    return Piece("outer", source, "left", met, lines)


def _meeting(sides: tuple[PieceSide, ...]) -> tuple[PieceSide, ...]:
    """Return the sides with each start set to the end before it, free of rounding."""
    out = []
    for before, side in zip((sides[-1], *sides[:-1]), sides, strict=True):
        points = side.points.copy()
        points[0] = before.points[-1]
        out.append(PieceSide(side.seam, points))
    return tuple(out)


def _straight(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return a straight side with points along it."""
    return spaced(np.array([start, end]), STEP)


def level_line(piece: Piece, name: str, height: float) -> dict[str, FloatArray]:
    """Return a level across a piece from edge to edge, or nothing where it misses the piece."""
    outline = piece.outline
    closed = np.concatenate([outline, outline[:1]])
    cuts = cut_by_line(closed, np.array([0.0, height]), np.array([1.0, 0.0]))
    if len(cuts) < 2:
        return {}
    return {name: np.array([[cuts[0], height], [cuts[-1], height]])}
