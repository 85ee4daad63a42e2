"""Card inserts for the end plates: the base's outline, smaller by the turn of cloth."""

from __future__ import annotations

from dataclasses import replace

from unroll.errors import UnrollError
from unroll.piecing.allowance import cutting_line
from unroll.piecing.notches import notch_marks
from unroll.types import FinishedPiece, Notch

BASES = ("armhole base", "wrist base")
TURN_OF_CLOTH = 1.5  # mm; two thicknesses of canvas and the stitches: common practice, no source


def card_insert(piece: FinishedPiece, *, turn: float = TURN_OF_CLOTH) -> FinishedPiece:
    """Return the card that lies inside an end plate.

    Parameters
    ----------
    piece : FinishedPiece
        The cloth piece.
    turn : float
        How far the card stays inside the stitching line, mm.

    Raises
    ------
    UnrollError
        When the turn is negative.
    """
    if turn < 0:
        raise UnrollError(f"turn of cloth is {turn:g} mm; expected 0 or more")
    sides = tuple(replace(side, allowance=-turn) for side in piece.sides)
    cutting = cutting_line(sides, corners="mitred", what=f"{piece.name} card")
    notches = [
        Notch(mark.name, mark.side_index, mark.along, len(mark.slits)) for mark in piece.notches
    ]
    marks = notch_marks(sides, cutting, notches)
    return replace(
        piece, material="card", sides=sides, cutting=cutting, notches=marks, darts=(), eases=()
    )
