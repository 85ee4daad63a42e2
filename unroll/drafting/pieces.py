"""The five pieces of one arm, put together from what was drawn."""

from __future__ import annotations

from typing import Literal

import numpy as np

from unroll.drafting.caps import Cap, dart_cap, ease_cap
from unroll.drafting.extension import shoulder_extension
from unroll.drafting.layout import Layout, lay_out
from unroll.drafting.plates import STEP, armhole_base, wrist_base
from unroll.drafting.sides import inner_side, outer_bottom
from unroll.errors import UnrollError
from unroll.geometry.outlines import crosses_itself, cut_by_line, joined, spaced
from unroll.types import ArmMeasures, FloatArray, Make, Piece, PieceSide, mirrored

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
    lines |= _level_line(piece, "underarm line", layout.underarm)
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
    lines |= _level_line(piece, "mid-height line", layout.mid_height)
    lines |= _level_line(piece, "underarm line", layout.underarm)
    for number, arc in enumerate(sorted(measures.cap_arcs, key=lambda a: a.up), start=1):
        lines |= _level_line(piece, f"cap level {number}", layout.underarm + arc.up)
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


def _level_line(piece: Piece, name: str, height: float) -> dict[str, FloatArray]:
    """Return a level across a piece from edge to edge, or nothing where it misses the piece."""
    outline = piece.outline
    closed = np.concatenate([outline, outline[:1]])
    cuts = cut_by_line(closed, np.array([0.0, height]), np.array([1.0, 0.0]))
    if len(cuts) < 2:
        return {}
    return {name: np.array([[cuts[0], height], [cuts[-1], height]])}
