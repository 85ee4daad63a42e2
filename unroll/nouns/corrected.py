"""Corrected things: what is changed on the flat pieces, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from unroll.maths.arrays import FloatArray, own
from unroll.nouns.arm import ArmMesh, DartLine, Flattening
from unroll.nouns.draft import WalkedSeam
from unroll.nouns.fit import Fit, Verdict
from unroll.nouns.piece import Piece
from unroll.nouns.sewn import Sewn
from unroll.nouns.sheet import Cloth

GIRTH_LEVELS = 7


@dataclass(frozen=True, eq=False)
class Miss:
    """By how much a filled shape misses the arm that is wanted.

    Attributes
    ----------
    girths : (7,) float
        Relative surplus of girth, 0.01 being 1 %: midway to the upper arm, at it, midway to the
        elbow, at it, midway to the forearm, at it, and midway to the wrist.
    outward_rad, forward_rad : float
        Turn of the arm below the cap, radians.
    twist_rad : float
        Its turn about its own length, front seam outward, radians.
    elbow, wrist : (3,) float
        Offset of the section's centre, mm.
    cap_mean, cap_p95 : float
        Mean and 95th percentile by area of the distance over the cap, mm, with the swing taken
        out.
    """

    girths: FloatArray
    outward_rad: float
    forward_rad: float
    twist_rad: float
    elbow: FloatArray
    wrist: FloatArray
    cap_mean: float
    cap_p95: float

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "girths", own(self.girths, float, GIRTH_LEVELS))
        object.__setattr__(self, "elbow", own(self.elbow, float, 3))
        object.__setattr__(self, "wrist", own(self.wrist, float, 3))

    @property
    def worst_girth_percent(self) -> float:
        """Largest girth error without sign, percent."""
        return 100.0 * float(abs(self.girths).max())

    @property
    def swing_deg(self) -> float:
        """Angle by which the arm below the cap is turned, degrees."""
        return 57.29577951308232 * float((self.outward_rad**2 + self.forward_rad**2) ** 0.5)

    @property
    def wrist_mm(self) -> float:
        """Distance of the wrist's centre from its place, mm."""
        return float((self.wrist @ self.wrist) ** 0.5)

    @property
    def elbow_mm(self) -> float:
        """Distance of the elbow's centre from its place, mm."""
        return float((self.elbow @ self.elbow) ** 0.5)


@dataclass(frozen=True, eq=False)
class Round:
    """One round of the loop.

    Attributes
    ----------
    edge : float
        Edge length of the mesh it was worked on, mm.
    is_sewn : bool
        Whether its pieces were cut, meshed and sewn; else the mesh itself was filled.
    miss : Miss
    cost : float
        Sum of squares of the promised figures, each over its limit.
    """

    edge: float
    is_sewn: bool
    miss: Miss
    cost: float


@dataclass(frozen=True)
class PaperChange:
    """A measure of the flat pieces before and after correction.

    Attributes
    ----------
    name : str
        "cap height", "outer middle", "inner middle", "front seam", "back seam", "upper arm width",
        "elbow width", "forearm width" (outer and inner piece together), "dart 1 intake", ...
    before, after : float
        mm.
    """

    name: str
    before: float
    after: float


@dataclass(frozen=True)
class Intake:
    """One dart of corrected pieces.

    Attributes
    ----------
    name : str
        "dart 1", "dart 2", ... (front to back).
    at, length : float
        Its mouth along the cap seam from the shoulder point, positive to the front, and how far it
        runs down the arm, mm. (Paper says how long it is drawn, straight; see `DartMark`.)
    width : float
        Cloth taken in at its mouth, mm.
    point_deg : float
        Angle between its legs.
    is_seam : bool
        Whether it runs on below the cap: it is sewn as a seam, which may take in any width.
    """

    name: str
    at: float
    length: float
    width: float
    point_deg: float
    is_seam: bool = False


@dataclass(frozen=True)
class LayoutLimits:
    """What a maker can sew.

    Attributes
    ----------
    intake : float
        Widest mouth of a dart, mm.
    tongue : float
        Narrowest cloth between two mouths, mm.
    point_deg : float
        Widest angle between a dart's legs.
    most_darts : int
    outer_seam : bool
        Whether a seam from the shoulder down the outside may be offered instead of darts.

    Notes
    -----
    Common practice, no source: a dart wider than a hand is sewn as a seam, a tongue under 25 mm
    frays, and legs that meet at more than 60 degrees cannot be pressed to a smooth point.
    """

    intake: float = 110.0
    tongue: float = 25.0
    point_deg: float = 60.0
    most_darts: int = 4
    outer_seam: bool = True


@dataclass(frozen=True, eq=False)
class LayoutTrial:
    """A dart layout that was flattened and filled.

    Attributes
    ----------
    name : str
        "2 darts", "outer seam", ...
    darts : tuple of DartLine
    ease : float
        Of the cap seam, with what fixed mouths leave over, mm.
    intakes : tuple of Intake
    miss : Miss
        As it is foretold for the corrected pieces, on a coarse mesh.
    faults : tuple of str
        Why it cannot be sewn, one plain line each; empty where it can.
    excess : float
        By how much it is beyond what can be sewn, or near it, mm and degrees added up.
    offered, chosen : bool
        Whether it is one of the layouts to choose from, and the one that is proposed.
    """

    name: str
    darts: tuple[DartLine, ...]
    ease: float
    intakes: tuple[Intake, ...]
    miss: Miss
    faults: tuple[str, ...] = ()
    excess: float = 0.0
    offered: bool = False
    chosen: bool = False

    @property
    def score(self) -> float:
        """By what layouts are compared, mm; smaller is better.

        The distance over the cap; a degree of hang left over counts as a millimetre, and so do
        5 mm at the wrist.
        """
        cap = 0.5 * (self.miss.cap_p95 + 2.5 * self.miss.cap_mean)
        return cap + self.miss.swing_deg + 0.2 * self.miss.wrist_mm


@dataclass(frozen=True, eq=False)
class Laid:
    """One dart layout laid flat, cut, sewn and filled, of the left arm.

    Attributes
    ----------
    source : str
        "unrolled" as it was laid flat, "corrected" after its points were moved.
    pieces : tuple of Piece
        Outer, inner, armhole base, wrist base.
    flattenings : tuple of Flattening
        Outer and inner panel, grain upright.
    darts : tuple of DartLine
    intakes : tuple of Intake
    ease : float
        Of the cap seam, mm.
    sewn : Sewn
    fit : Fit
        Against `wanted`.
    wanted : ArmMesh
        The measured arm with round sections, as filling makes them.
    """

    source: str
    pieces: tuple[Piece, ...]
    flattenings: tuple[Flattening, ...]
    darts: tuple[DartLine, ...]
    intakes: tuple[Intake, ...]
    ease: float
    sewn: Sewn
    fit: Fit
    wanted: ArmMesh

    def called(self, source: str) -> Laid:
        """Return the same with another source."""
        return replace(
            self,
            source=source,
            pieces=tuple(replace(piece, source=source) for piece in self.pieces),
            sewn=replace(self.sewn, source=source),
            fit=replace(self.fit, source=source),
        )


@dataclass(frozen=True, eq=False)
class Correction:
    """Pieces whose sewn and filled arm is the arm that was measured, as near as it goes.

    Attributes
    ----------
    before, after : Laid
        The same layout as it was laid flat, and corrected.
    rounds : tuple of Round
        All rounds in order.
    on_paper : tuple of PaperChange
        What was changed, in numbers.
    round_mean, round_p95 : float
        Distance over the cap between the measured arm and the same with round sections: what no
        pattern can remove, mm.
    """

    before: Laid
    after: Laid
    rounds: tuple[Round, ...]
    on_paper: tuple[PaperChange, ...]
    round_mean: float
    round_p95: float


@dataclass(frozen=True)
class RefitRow:
    """One measure of a trial.

    Attributes
    ----------
    name : str
    trial : float
        As measured on the trial, mm or degrees.
    expected, explained : float
        What the pieces were expected to give, and what they give with what was found.
    is_odd : bool
        Whether it contradicts the others: no likely cause explains it.
    """

    name: str
    trial: float
    expected: float
    explained: float
    is_odd: bool


@dataclass(frozen=True, eq=False)
class Refit:
    """What explains a trial, and pieces corrected for it.

    Attributes
    ----------
    give_factor, give_error : float
        Cloth stretch times filling pressure as a multiple of what the sheet says, and its standard
        error.
    cut_mm, cut_error : float
        How far outside the stitching lines the trial was sewn all round, mm; and standard error.
    correlation : float
        Of the two errors; near -1 or 1 the trial cannot tell the two apart.
    rows : tuple of RefitRow
    lines : tuple of str
        The finding in plain sentences.
    cloth : Cloth
        The sheet's cloth with the stretch that was found.
    correction : Correction
        Corrected for it; its pieces are drawn smaller by `cut_mm`.
    """

    give_factor: float
    give_error: float
    cut_mm: float
    cut_error: float
    correlation: float
    rows: tuple[RefitRow, ...]
    lines: tuple[str, ...]
    cloth: Cloth
    correction: Correction


@dataclass(frozen=True)
class DraftChange:
    """A number that a hand draft starts from.

    Attributes
    ----------
    name : str
        Field of the sheet; or "dart 1 intake" (front to back), "elbow_wedge" (the length down the
        back less the one down the front).
    measured, drawn : float
        As measured or chosen, and as it is to be drawn with, mm.
    """

    name: str
    measured: float
    drawn: float


@dataclass(frozen=True, eq=False)
class DraftCorrection:
    """A flat draft from changed numbers.

    Attributes
    ----------
    manner : {"ease", "darts"}
    pieces : tuple of Piece
        All five, drawn with the changed numbers.
    changes : tuple of DraftChange
    before, after : Fit
        Against the arm with round sections; of the left arm, as both are worked out on it.
    uncorrected : tuple of Piece
        Drawn with the numbers as they were measured.
    wanted : ArmMesh
        The left arm that is aimed at, with round sections.
    sewn_before, sewn_after : Sewn
        Of the left arm.
    surplus : (float, float)
        Cap seam less armhole, before and after, mm.
    verdicts : tuple of Verdict
        Its figures against their limits.
    helps : tuple of str
        What would help where it falls short, in plain words.
    walked : tuple of WalkedSeam
        Seams of the corrected draft, where they were walked.
    """

    manner: str
    pieces: tuple[Piece, ...]
    changes: tuple[DraftChange, ...]
    before: Fit
    after: Fit
    uncorrected: tuple[Piece, ...]
    wanted: ArmMesh
    sewn_before: Sewn
    sewn_after: Sewn
    surplus: tuple[float, float]
    verdicts: tuple[Verdict, ...] = ()
    helps: tuple[str, ...] = ()
    walked: tuple[WalkedSeam, ...] = ()
