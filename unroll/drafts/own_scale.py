"""The scale of a drawing: its unit and its size, told by the square that is drawn in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from unroll.drafts.own_outlines import outlines_of
from unroll.errors import UnrollError
from unroll.nouns.own import DrawnLine

SQUARES_MM = (100.0, 101.6)  # test squares: 100 mm and 4 in
SQUARE_RIGHT = 0.003  # of its side; printers and drawing programs keep to it
SQUARE_SHARE = 0.12  # a square that is off by less was meant to be one of them


def unit_of(lines: Sequence[DrawnLine], *, said: float | None, closes_within: float) -> float:
    """Return the millimetres of a drawing's unit that it does not say, told by its square.

    Raises
    ------
    UnrollError
        When nothing tells it. The text goes on after the file's name.
    """
    wanted, offs = (said,) if said else SQUARES_MM, []
    for unit in (1.0, 10.0, 25.4):
        scaled = [DrawnLine(unit * line.points, line.style) for line in lines]
        try:
            squares = outlines_of(scaled, file="", closes_within=closes_within).squares
        except UnrollError:
            continue
        offs += [(abs(side / true - 1.0), unit) for side in squares for true in wanted]
    off, unit = min(offs, default=(np.inf, 1.0))
    if off > (SQUARE_SHARE if said else SQUARE_RIGHT):
        raise UnrollError("says no unit and has no test square; give [draft] the side of a square "
                          "that is drawn in it (square = ...), or save it in millimetres")
    return unit


def scale_of(squares: Sequence[float], *, said: float | None) -> tuple[float, str]:
    """Return the factor that brings a drawing to true scale, and how that is known.

    Parameters
    ----------
    squares : sequence of float
        Sides of the squares that are drawn, mm.
    said : float or None
        Side of its test square, as the sheet says.

    Raises
    ------
    UnrollError
        When a test square has another size than it should, or one that is said is not there. The
        text goes on after the file's name.
    """
    wanted = (said,) if said else SQUARES_MM
    near = [(abs(side / true - 1.0), side, true) for side in squares for true in wanted]
    off, side, true = min(near, default=(np.inf, 0.0, 0.0))
    if said and near:  # the maker measured it: the drawing is scaled by it
        return true / side, f"its square is {true:.1f} mm by the sheet"
    if said:
        raise UnrollError("has no square; [draft] says that it has one of "
                          f"{said:.1f} mm (drawn as four loose lines?)")
    if off < SQUARE_RIGHT:
        return 1.0, f"its test square is {side:.1f} mm"
    if off < SQUARE_SHARE:
        raise UnrollError(
            f"has a test square of {side:.1f} mm; expected 100 mm or 4 in (drawn at "
            "another scale? give its true side in [draft]: square = ...)"
        )
    return 1.0, "by the drawing's own unit"
