"""Flat things: pieces with their sides, darts, notches and reference lines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, own


@dataclass(frozen=True, eq=False)
class PieceSide:
    """A run of a piece's stitching line that is sewn as one.

    Attributes
    ----------
    seam : str
        Name of the seam; two sides (or chains of sides) of the same name are sewn together.
        Usual names: "front seam", "back seam" (outer to inner), "cap seam" (outer to armhole
        base), "underarm seam" (inner to armhole base), "outer wrist", "inner wrist" (to the wrist
        base), "dart 1", "dart 2", ... (front to back; the two legs are two sides of one piece).
    points : (k, 2) float
        Polyline, mm, both corners included, in outline order (anticlockwise).
    """

    seam: str
    points: FloatArray

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "points", own(self.points, float, None, 2))

    @property
    def length(self) -> float:
        """Length of the side, mm."""
        return polylines.length(self.points)


DRAWN = "drawn "  # begins the name of a notch that a maker drew, until it is known which it is


@dataclass(frozen=True)
class Notch:
    """A mark at the stitching line that meets another piece's mark.

    Attributes
    ----------
    name : str
        "front", "back", "shoulder", "underarm", "elbow", "forearm", "ease start", "ease end", ...
    side_index : int
        Which side of the piece it lies on.
    along : float
        Distance from the side's start, mm.
    marks : int
        1 for a single notch (front), 2 for a double one (back).
    """

    name: str
    side_index: int
    along: float
    marks: int = 1


@dataclass(frozen=True, eq=False)
class Piece:
    """A flat part of the pattern: right side of the cloth up, grain along y, shoulder end up.

    Attributes
    ----------
    name : str
        "outer", "inner", "armhole base", "wrist base" or "shoulder extension".
    source : str
        "drafted-ease", "drafted-darts", "unrolled" or "corrected".
    arm : {"left", "right"}
        The arm it is for; a right piece is the mirror image of the left one.
    sides : tuple of PieceSide
        The stitching line, anticlockwise, closed: each side starts where the last one ended.
        Outer piece of the left arm: "cap seam" from back to front (broken by the legs of each
        dart: two sides named "dart k", the point between them), "front seam" down, "outer wrist"
        front to back, "back seam" up. Inner piece: "underarm seam" front to back, "back seam"
        down, "inner wrist" back to front, "front seam" up.
    lines : mapping of str to (k, 2) float
        Reference lines, mm: "grain", "underarm line", "upper arm line", "elbow line",
        "forearm line".
    notches : tuple of Notch
    """

    name: str
    source: str
    arm: str
    sides: tuple[PieceSide, ...]
    lines: Mapping[str, FloatArray] = field(default_factory=dict)
    notches: tuple[Notch, ...] = ()

    def __post_init__(self) -> None:
        """Seal the lines."""
        object.__setattr__(
            self, "lines", {k: own(v, float, None, 2) for k, v in self.lines.items()}
        )

    @property
    def outline(self) -> FloatArray:
        """Stitching line, (k, 2), anticlockwise, the first point not repeated."""
        return np.concatenate([side.points[:-1] for side in self.sides])

    @property
    def area(self) -> float:
        """Area within the stitching line, mm²."""
        x, y = self.outline.T
        return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))

    def seam_length(self, seam: str) -> float:
        """Total length of the sides called `seam`, mm (both legs, for a dart)."""
        return sum(side.length for side in self.sides if side.seam == seam)

    def notch_point(self, notch: Notch) -> FloatArray:
        """Position of a notch on the stitching line, (2,), mm."""
        points = self.sides[notch.side_index].points
        steps = polylines.chords(points)
        at = np.concatenate([[0.0], np.cumsum(steps)])
        return np.array(
            [np.interp(notch.along, at, points[:, 0]), np.interp(notch.along, at, points[:, 1])]
        )


def mirrored(piece: Piece, arm: str) -> Piece:
    """Return the mirror image of `piece` in the y axis, for the other arm.

    Sides run the other way round, so that the outline stays anticlockwise.
    """
    flip = np.array([-1.0, 1.0])
    count = len(piece.sides)
    sides = tuple(PieceSide(s.seam, s.points[::-1] * flip) for s in reversed(piece.sides))
    notches = tuple(
        Notch(n.name, count - 1 - n.side_index, piece.sides[n.side_index].length - n.along, n.marks)
        for n in piece.notches
    )
    lines = {name: points * flip for name, points in piece.lines.items()}
    return Piece(piece.name, piece.source, arm, sides, lines, notches)
