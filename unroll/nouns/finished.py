"""Finished things: pieces ready to cut, what truing found, and the plan on the cloth."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely

from unroll.maths import polylines
from unroll.maths.arrays import FloatArray, own
from unroll.maths.polylines import signed_area
from unroll.units import Unit

Material = Literal["cloth", "card"]
LARGEST_LOOP = 25.0  # mm² of an outline that crosses itself and can be cut all the same


@dataclass(frozen=True, eq=False)
class StitchingSide:
    """One smooth side of a stitching line.

    Attributes
    ----------
    seam : str
        Name of the seam, as on the piece.
    cubics : (m, 4, 2) float
        Bézier control points of each cubic segment, mm, end to end.
    points, tangents : (k, 2) float
        Points along the cubics, close enough that no chord strays 0.01 mm, and unit tangents.
    allowance : float
        Seam allowance outside it, mm.
    """

    seam: str
    cubics: FloatArray
    points: FloatArray
    tangents: FloatArray
    allowance: float

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "cubics", own(self.cubics, float, None, 4, 2))
        object.__setattr__(self, "points", own(self.points, float, None, 2))
        object.__setattr__(self, "tangents", own(self.tangents, float, len(self.points), 2))

    @property
    def length(self) -> float:
        """Length of the side, mm."""
        return polylines.length(self.points)

    def tangent_at(self, along: float) -> FloatArray:
        """Return the unit tangent, (2,), at a distance from the start, mm.

        Between points it turns as the curve does: a chord's direction would leap at each point.
        """
        found = polylines.at_length(self.points, self.tangents, along)
        return np.asarray(found / np.linalg.norm(found))


@dataclass(frozen=True, eq=False)
class NotchMark:
    """A notch as it is cut: one slit or two, from the cutting line inwards.

    Attributes
    ----------
    name : str
        "front", "back", "shoulder", ...; "dart 1" where a dart leg leaves the piece.
    side_index : int
        Side of the stitching line it belongs to.
    along : float
        Distance from that side's start, mm.
    at : (2,) float
        The place on the stitching line, mm.
    slits : (m, 2, 2) float
        Outer and inner end of each slit, mm.
    """

    name: str
    side_index: int
    along: float
    at: FloatArray
    slits: FloatArray

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "at", own(self.at, float, 2))
        object.__setattr__(self, "slits", own(self.slits, float, None, 2, 2))


@dataclass(frozen=True, eq=False)
class DartMark:
    """A dart as it is marked on cloth.

    Attributes
    ----------
    name : str
        "dart 1", "dart 2", ...
    side_indices : (int, int)
        The sides that are its legs, in outline order.
    point : (2,) float
        Where the stitching ends, mm.
    mouth : (2, 2) float
        Where the legs meet the seam, mm.
    fold : (2, 2) float or None
        Fold line, from the point to the cutting line at the mouth, mm; None where the dart is cut
        out.
    pressed : str
        "towards the back" or "towards the front"; "open" where the dart is cut out.
    """

    name: str
    side_indices: tuple[int, int]
    point: FloatArray
    mouth: FloatArray
    fold: FloatArray | None
    pressed: str

    @property
    def intake(self) -> float:
        """What the dart takes out of its seam, straight across, mm."""
        return float(np.linalg.norm(self.mouth[1] - self.mouth[0]))

    @property
    def length(self) -> float:
        """Straight from its point to the middle of its opening, mm."""
        return float(np.linalg.norm(self.mouth.mean(axis=0) - self.point))

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "point", own(self.point, float, 2))
        object.__setattr__(self, "mouth", own(self.mouth, float, 2, 2))
        if self.fold is not None:
            object.__setattr__(self, "fold", own(self.fold, float, 2, 2))


@dataclass(frozen=True)
class EaseSpan:
    """A stretch of a seam whose surplus is eased in, from notch to notch.

    Attributes
    ----------
    seam : str
    start, end : str
        Names of the notches it runs between ("end of seam" at a corner).
    runs : tuple of (side_index, from, to)
        Its parts on the piece, mm along each side, in outline order.
    surplus : float
        What is eased in, mm.
    percent : float
        Surplus in percent of the other seam.
    """

    seam: str
    start: str
    end: str
    runs: tuple[tuple[int, float, float], ...]
    surplus: float
    percent: float


@dataclass(frozen=True, eq=False)
class FinishedPiece:
    """A piece ready to cut, right side of the material up, grain along y.

    Attributes
    ----------
    name, source, arm : str
        As on the piece it was finished from; arm is "left", "right" or "both" (drawn for the left).
    material : {"cloth", "card"}
    sides : tuple of StitchingSide
        The stitching line, anticlockwise, closed.
    cutting : (k, 2) float
        The cutting line, anticlockwise, first point not repeated, mm.
    notches : tuple of NotchMark
    darts : tuple of DartMark
    eases : tuple of EaseSpan
    lines : mapping of str to (k, 2) float
        "grain" and the reference lines, mm.
    cut_as_drawn, cut_turned_over : int
        How many to cut with the drawn side up, and how many with the paper turned over.
    label : tuple of str
        Lines of the label, the piece's name first.
    remarks : tuple of str
        What was done to it that the maker should know, a line each.
    girths : mapping of str to float
        The arm's girths at the reference lines, as it is made to them, mm; by the line's name.
    unit : {"in", "cm", "mm"}
        Unit of the maker, for the words on the piece.
    """

    name: str
    source: str
    arm: str
    material: Material
    sides: tuple[StitchingSide, ...]
    cutting: FloatArray
    notches: tuple[NotchMark, ...] = ()
    darts: tuple[DartMark, ...] = ()
    eases: tuple[EaseSpan, ...] = ()
    lines: Mapping[str, FloatArray] = field(default_factory=dict)
    cut_as_drawn: int = 1
    cut_turned_over: int = 0
    label: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    girths: Mapping[str, float] = field(default_factory=dict)
    unit: Unit = "mm"

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "cutting", own(self.cutting, float, None, 2))
        object.__setattr__(
            self, "lines", {k: own(v, float, None, 2) for k, v in self.lines.items()}
        )

    @property
    def stitching(self) -> FloatArray:
        """Stitching line, (k, 2), anticlockwise, the first point not repeated."""
        return np.concatenate([side.points[:-1] for side in self.sides])

    @property
    def crossing(self) -> FloatArray | None:
        """Where the stitching line crosses itself so widely that it cannot be cut, (2,), or None.

        Loops of a few square millimetres, as where legs touch at a dart's point, do not count.
        """
        outline = shapely.Polygon(self.stitching)
        parts = shapely.get_parts(shapely.make_valid(outline))
        areas = np.sort(shapely.area(parts))
        lost = max(areas[:-1].sum(), abs(abs(signed_area(self.stitching)) - areas[-1]))
        if outline.is_valid or lost <= LARGEST_LOOP:
            return None
        at = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(outline))
        return np.array(at.groups(), dtype=float) if at else self.stitching[0]

    @property
    def title(self) -> str:
        """Name of the piece, with its material when it is not cloth."""
        return self.name if self.material == "cloth" else f"{self.name}, {self.material}"


@dataclass(frozen=True)
class SeamCheck:
    """One stretch of a seam, walked on the finished pieces.

    Attributes
    ----------
    seam : str
    start, end : str
        Notches (or "end of seam") that the stretch runs between.
    pieces : (str, str)
        The two pieces.
    lengths : (float, float)
        The two lengths, mm.
    is_ease : bool
        Whether a surplus of the first piece is eased in here.
    """

    seam: str
    start: str
    end: str
    pieces: tuple[str, str]
    lengths: tuple[float, float]
    is_ease: bool = False

    @property
    def difference(self) -> float:
        """First length less the second, mm."""
        return self.lengths[0] - self.lengths[1]


@dataclass(frozen=True)
class Truing:
    """What the truing checks found.

    Attributes
    ----------
    seams : tuple of SeamCheck
    faults : tuple of str
        Pieces that cannot be cut, one line each; the others are printed.
    cautions : tuple of str
        What the maker should know.
    verdicts : tuple of str
        What is outside limits, each with what would help.
    """

    seams: tuple[SeamCheck, ...]
    faults: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    verdicts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class LaidPiece:
    """A piece on cloth or paper: turned over or not, turned by an angle, then moved.

    Attributes
    ----------
    piece : FinishedPiece
    move : (2,) float
        Where the piece's origin comes to lie, mm.
    turn_deg : float
        Anticlockwise turn.
    is_turned_over : bool
        Mirrored in the grain before it is turned.
    arm : str
        The arm that this copy is for.
    """

    piece: FinishedPiece
    move: FloatArray
    turn_deg: float = 0.0
    is_turned_over: bool = False
    arm: str = ""

    def __post_init__(self) -> None:
        """Seal the array."""
        object.__setattr__(self, "move", own(self.move, float, 2))

    def place(self, points: FloatArray) -> FloatArray:
        """Return `points` (..., 2) of the piece where they lie on the cloth or paper, mm."""
        angle = np.deg2rad(self.turn_deg)
        # quarter turns must be exact, or a straight line would lean by a rounding error
        cos, sin = np.round([np.cos(angle), np.sin(angle)], 15)
        flip = np.array([-1.0, 1.0]) if self.is_turned_over else np.ones(2)
        out: FloatArray = (points * flip) @ np.array([[cos, sin], [-sin, cos]]) + self.move
        return out


@dataclass(frozen=True, eq=False)
class CutPlan:
    """Pieces laid on cloth of one width, grain along y.

    Attributes
    ----------
    width : float
        Width of the cloth, selvedge to selvedge, mm.
    length : float
        Length of cloth needed, mm.
    bound : float
        What no plan can go below: the longest piece, or all area over the width, mm.
    laid : tuple of LaidPiece
    """

    width: float
    length: float
    bound: float
    laid: tuple[LaidPiece, ...]
