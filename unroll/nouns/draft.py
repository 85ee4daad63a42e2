"""What walking and comparing find: seams walked, pieces laid over each other, surplus by level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from unroll.maths.arrays import FloatArray, own

if TYPE_CHECKING:
    from unroll.nouns import SeamRow

WalkVerdict = Literal["good", "usable", "ease in", "wrong"]


@dataclass(frozen=True)
class WalkedStretch:
    """A stretch of a seam between two notches.

    Attributes
    ----------
    start, end : str
        Names of the notches; "start" and "end" are the seam's own ends.
    lengths_mm : tuple of float
        Length on the first piece and on the second.
    """

    start: str
    end: str
    lengths_mm: tuple[float, float]

    @property
    def difference_mm(self) -> float:
        """First length less the second, mm."""
        return self.lengths_mm[0] - self.lengths_mm[1]

    @property
    def ease_percent(self) -> float:
        """Surplus of the first over the second, percent of the second."""
        return 100.0 * self.difference_mm / self.lengths_mm[1] if self.lengths_mm[1] else 0.0


@dataclass(frozen=True)
class SeamEnd:
    """Where a seam ends and another line must run on smoothly across it.

    Attributes
    ----------
    name : str
        "armhole end", "wrist end" or "cap seam".
    angles_deg : tuple of float
        Angle inside the first piece, and inside the second.
    """

    name: str
    angles_deg: tuple[float, float]

    @property
    def kink_deg(self) -> float:
        """What the two angles fall short of 180 degrees; positive is a peak, negative a dent."""
        return 180.0 - sum(self.angles_deg)


@dataclass(frozen=True)
class WalkedSeam:
    """Two stitching lines that are sewn together, walked from notch to notch.

    Attributes
    ----------
    name : str
        Seam name ("dart 1" for the two legs of a dart).
    source : str
        Source of the pieces.
    pieces : tuple of str
        First and second piece.
    lengths_mm : tuple of float
        Their lengths, darts closed.
    stretches : tuple of WalkedStretch
        Between notches, in the first piece's direction.
    ends : tuple of SeamEnd
        Where lines must run on smoothly; empty where nothing has to.
    verdict : {"good", "usable", "ease in", "wrong"}
    text : str
        The verdict in a plain sentence, and what to change.
    """

    name: str
    source: str
    pieces: tuple[str, str]
    lengths_mm: tuple[float, float]
    stretches: tuple[WalkedStretch, ...]
    ends: tuple[SeamEnd, ...]
    verdict: WalkVerdict
    text: str

    @property
    def difference_mm(self) -> float:
        """First length less the second, mm."""
        return self.lengths_mm[0] - self.lengths_mm[1]

    @property
    def ease_percent(self) -> float:
        """Surplus of the first over the second, percent of the second."""
        return 100.0 * self.difference_mm / self.lengths_mm[1] if self.lengths_mm[1] else 0.0

    @property
    def row(self) -> SeamRow:
        """The seam as a row of the report."""
        from unroll.nouns import SeamRow

        return SeamRow(self.name, self.source, self.lengths_mm, self.ease_percent, self.text)


@dataclass(frozen=True)
class LineWidths:
    """A reference line as two patterns draw it.

    Attributes
    ----------
    name : str
    drafted_mm, unrolled_mm : float
        Width from edge to edge, along the line, darts closed.
    drafted_bow_mm, unrolled_bow_mm : float
        How far the line bows up from the straight line between its ends (the sagitta), mm;
        a girth line that is drawn straight has none, one that bows down a negative one.
    """

    name: str
    drafted_mm: float
    unrolled_mm: float
    drafted_bow_mm: float
    unrolled_bow_mm: float


@dataclass(frozen=True, eq=False)
class PieceComparison:
    """One piece of the flat draft laid over the unrolled one.

    Attributes
    ----------
    piece : str
    area_difference_percent : float
        Drafted less unrolled, percent of the unrolled.
    outline_distance_max_mm, outline_distance_mean_mm : float
        Of the drafted outline from the unrolled one, without sign.
    points : (n, 2) float
        Along the drafted outline, mm.
    distances : (n,) float
        How far each lies outside the unrolled outline, mm; negative inside.
    shift : (2,) float
        By which the unrolled piece was moved to lie on the draft, mm.
    lines : tuple of LineWidths
    seams_mm : tuple of (name, drafted, unrolled)
        Length of each seam, darts closed.
    """

    piece: str
    area_difference_percent: float
    outline_distance_max_mm: float
    outline_distance_mean_mm: float
    points: FloatArray
    distances: FloatArray
    shift: FloatArray
    lines: tuple[LineWidths, ...]
    seams_mm: tuple[tuple[str, float, float], ...]

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "points", own(self.points, float, None, 2))
        object.__setattr__(self, "distances", own(self.distances, float, len(self.points)))
        object.__setattr__(self, "shift", own(self.shift, float, 2))


@dataclass(frozen=True)
class LevelSurplus:
    """Cloth that a pattern has on one level of the cap, against what the arm needs there.

    Attributes
    ----------
    name : str
        "cap level 1", ... or "cap seam".
    source : str
        Source of the pattern.
    up_mm : float
        Level above the underarm, mm; for the cap seam the armhole's height.
    cloth_mm : float
        Width of the pattern there, darts closed, the inner's horns beside the armhole included.
    arm_mm : float
        The measured arc; for the cap seam the armhole's upper half.
    standoff_mm, standoff_about_mm : float
        How far the surplus stands off, exact and by √(3ec/8); 0 where the cloth is short.
    """

    name: str
    source: str
    up_mm: float
    cloth_mm: float
    arm_mm: float
    standoff_mm: float
    standoff_about_mm: float

    @property
    def surplus_mm(self) -> float:
        """Cloth less arm, mm; negative where the cloth is short."""
        return self.cloth_mm - self.arm_mm


@dataclass(frozen=True)
class CapFacts:
    """The cap of one pattern in three numbers.

    Attributes
    ----------
    source : str
    height_mm : float
        From the underarm line up to the top of the cap.
    seam_mm : float
        Cap seam, darts closed.
    armhole_mm : float
        The armhole's upper half that it is sewn to.
    """

    source: str
    height_mm: float
    seam_mm: float
    armhole_mm: float


@dataclass(frozen=True)
class Comparison:
    """The flat draft against the unrolled pieces.

    Attributes
    ----------
    drafted, unrolled : str
        Sources of the two patterns.
    pieces : tuple of PieceComparison
    levels : tuple of LevelSurplus
        Draft first, lowest level first, the cap seam last; then the unrolled pattern's.
    caps : tuple of CapFacts
        Draft, then unrolled.
    """

    drafted: str
    unrolled: str
    pieces: tuple[PieceComparison, ...]
    levels: tuple[LevelSurplus, ...]
    caps: tuple[CapFacts, ...]
