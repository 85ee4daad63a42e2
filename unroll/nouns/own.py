"""What is read of a maker's own draft: drawn lines, outlines, pieces, and how they were found."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray, own
from unroll.nouns.piece import Piece


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """A line of a drawing.

    Attributes
    ----------
    points : (k, 2) float
        Polyline, mm, y up; a closed one repeats its start.
    style : str
        What tells one kind of line from another: its class, pen or layer.
    """

    points: FloatArray
    style: str = ""

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "points", own(self.points, float, None, 2))


@dataclass(frozen=True, eq=False)
class OwnOutline:
    """The outline of a paper piece.

    Attributes
    ----------
    file : str
        Where it comes from.
    points : (k, 2) float
        Anticlockwise, the first point not repeated, mm; the piece may lie any way round.
    joints : (j,) int
        Points where one drawn line ends and another begins, or where a line across ends.
    marks : tuple of (k, 2) float
        Lines that are drawn inside, or at its edge.
    notches : (n, 2) float
        Middles of those among them that are notches.
    cutting : bool or None
        Whether it is a cutting line; None where nothing tells.
    is_photo : bool
    number : int
        As it is told to the maker, from 1.
    """

    file: str
    points: FloatArray
    joints: IntArray
    marks: tuple[FloatArray, ...] = ()
    cutting: bool | None = None
    is_photo: bool = False
    number: int = 0
    notches: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "notches", own(self.notches, float, None, 2))
        object.__setattr__(self, "points", own(self.points, float, None, 2))
        object.__setattr__(self, "joints", own(self.joints, int, None))
        object.__setattr__(self, "marks", tuple(own(m, float, None, 2) for m in self.marks))


@dataclass(frozen=True, eq=False)
class Shot:
    """A photograph, with what was found in it.

    Attributes
    ----------
    file : str
    grey : (h, w) uint8
        The picture, turned upright.
    outlines : tuple of (k, 2) float
        Outlines of the pieces and of the cards, pixels.
    cards : tuple of (4, 2) float
    off_mm : float
        How well the cards fit each other, root mean square.
    """

    file: str
    grey: IntArray
    outlines: tuple[FloatArray, ...]
    cards: tuple[FloatArray, ...]
    off_mm: float


@dataclass(frozen=True)
class DraftTable:
    """What the sheet says of drawings and photographs of a maker's own draft; None leaves it open.

    Attributes
    ----------
    drawn : {"stitching", "cutting"} or None
        Which line the outlines are.
    arm : {"left", "right"}
        The arm that they are for, right side up.
    turned_over : bool
        Whether they show the back of the pieces.
    square : float or None
        True side of the square in the drawing, mm.
    card : float or None
        Measured side of the black square of a printed corner card, mm.
    outer_length : float or None
        Length of the outer piece from the top of its cap to the wrist, mm.
    closes_within : float
        How far the ends of two lines may lie apart and still meet, mm.
    pieces : dict of str to int
        Numbers of the outlines, by piece.
    corners : dict of str to tuple of int
        Numbers of the corners, by piece.
    """

    drawn: Literal["stitching", "cutting"] | None = None
    arm: Literal["left", "right"] = "left"
    turned_over: bool = False
    square: float | None = None
    card: float | None = None
    outer_length: float | None = None
    closes_within: float = 1.0
    pieces: dict[str, int] = field(default_factory=dict)
    corners: dict[str, tuple[int, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class OwnDraft:
    """A maker's own draft as it was read.

    Attributes
    ----------
    pieces : tuple of Piece
        "outer", "inner", "armhole base" and "wrist base" of source "own".
    found : tuple of str
        What was taken for what, one plain line each.
    outlines : tuple of OwnOutline
        Numbered; the two long ones stood upright, the rest as they lie.
    corners : mapping of int to (c, 2) float
        Corners of the long pieces' outlines as they are numbered, by the outline's number.
    shots : tuple of Shot
    """

    pieces: tuple[Piece, ...]
    found: tuple[str, ...]
    outlines: tuple[OwnOutline, ...] = ()
    corners: dict[int, FloatArray] = field(default_factory=dict)
    shots: tuple[Shot, ...] = ()
