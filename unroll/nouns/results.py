"""What the stages found, gathered for one arm and ready to be shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from unroll.maths.arrays import FloatArray
from unroll.nouns.arm import ArmMesh, Distortion
from unroll.nouns.certainty import Certainty, Slip
from unroll.nouns.corrected import Correction, DraftCorrection, Intake, LayoutTrial
from unroll.nouns.draft import Comparison, WalkedSeam
from unroll.nouns.finished import CutPlan, FinishedPiece
from unroll.nouns.fit import Fit, Verdict
from unroll.nouns.measures import ArmMeasures
from unroll.nouns.own import OwnDraft
from unroll.nouns.pages import PrintFacts, SheetPage
from unroll.nouns.piece import Piece
from unroll.nouns.scan import ScanFit
from unroll.nouns.sewn import Sewn
from unroll.nouns.sheet import Notice, Sheet


@dataclass(frozen=True)
class TapeRow:
    """One measure, asked and as the tape finds it on the finished mesh.

    Attributes
    ----------
    name : str
        Field name of the sheet ("cap_arc 1" for the first cap arc).
    asked_mm, got_mm : float
    note : str
        Why it gave, and which measure it fights; "" when it came back.
    line : (k, 3) float or None
        Where the tape lies on the arm, mm; a girth's ends where it begins.
    """

    name: str
    asked_mm: float
    got_mm: float
    note: str = ""
    line: FloatArray | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class SeamRow:
    """Two stitching lines that are sewn together, walked.

    Attributes
    ----------
    name : str
        Seam name.
    source : str
        Source of the pieces.
    lengths_mm : tuple of float
        The two lengths.
    ease_percent : float
        Surplus of the first over the second, percent of the second.
    verdict : str
        Plain words.
    """

    name: str
    source: str
    lengths_mm: tuple[float, float]
    ease_percent: float
    verdict: str = ""

    @property
    def mismatch_mm(self) -> float:
        """First length less the second, mm."""
        return self.lengths_mm[0] - self.lengths_mm[1]


@dataclass(frozen=True, eq=False)
class Drafted:
    """The flat draft of one arm in both manners.

    Attributes
    ----------
    advice : str or None
        Said before anything else: the ease asked for is beyond what the armhole takes in.
    notices : tuple of Notice
        Where the draft had to leave a rule or a measure.
    pieces : mapping of str to tuple of Piece
        "drafted-ease" and "drafted-darts", notches placed.
    walked : mapping of str to tuple of WalkedSeam
    tape : mapping of str to tuple of TapeRow
        What each girth comes to.
    """

    advice: str | None
    notices: tuple[Notice, ...]
    pieces: Mapping[str, tuple[Piece, ...]]
    walked: Mapping[str, tuple[WalkedSeam, ...]]
    tape: Mapping[str, tuple[TapeRow, ...]]


@dataclass(frozen=True, eq=False)
class OwnCheck:
    """A maker's own draft, judged.

    Attributes
    ----------
    draft : OwnDraft
        As it was read.
    walked : tuple of WalkedSeam
    tape : tuple of TapeRow
        What each measure comes to on paper.
    unsewn : str
        Why it cannot be sewn; "" where it can.
    change : DraftCorrection or None
        The least change that brings it nearest; None where it is within every limit as it is, or
        cannot be sewn.
    """

    draft: OwnDraft
    walked: tuple[WalkedSeam, ...]
    tape: tuple[TapeRow, ...]
    unsewn: str = ""
    change: DraftCorrection | None = None


@dataclass(frozen=True, eq=False)
class ArmResult:
    """Everything that was made for one arm; what a run did not ask for is empty or None.

    Attributes
    ----------
    measures : ArmMeasures
    arm : ArmMesh
        The measured arm, with the lines of the darts that its pieces have.
    wanted : ArmMesh
        The arm that every set of pieces is judged against: the same with round sections, as filling
        makes them; on the mesh that the printed pieces were laid flat from.
    tape : tuple of TapeRow
    source : str
        Of the pieces to cut: "corrected", or "unrolled" where nothing was corrected.
    distortions : mapping of str to Distortion
        By panel name; of the pieces to cut, against `wanted`.
    intakes : tuple of Intake
        Of the darts of the pieces to cut, front to back.
    ease : float
        Of their cap seam, mm.
    layouts : tuple of LayoutTrial
        The dart layouts that were tried, those to choose from first, the one that was taken
        foremost.
    undarted : Distortion or None
        The outer panel laid flat without darts, to show what the darts gain.
    pieces : mapping of str to tuple of Piece
        By source, notches placed; those to cut first.
    seams : tuple of SeamRow
    sewn : mapping of str to Sewn
        By source.
    fits : mapping of str to Fit
        By source, against `wanted`.
    drafted : Drafted or None
    compared : mapping of str to Comparison
        Each manner of the draft against the pieces laid flat, by the draft's source.
    correction : Correction or None
        How the corrected pieces came about.
    certainty : Certainty or None
        How far the figures of the pieces to cut can be trusted.
    slips : tuple of Slip
        What each reading moves when it is off, the worst first.
    round_both : mapping of str to float
        The tape round the double and both arms, mm: "measured", then by source.
    verdicts : tuple of Verdict
        The figures of the pieces to cut against their limits.
    faults : tuple of str
        What the layout asks beyond what the sheet says can be sewn, one plain line each.
    own : OwnCheck or None
        The maker's own draft, where one was given.
    scan : ScanFit or None
        How near lofts come to the scan that the arm was made from.
    true_surface : mapping of str to Distortion
        By panel name: the scan's own surface, laid flat.
    """

    measures: ArmMeasures
    arm: ArmMesh
    wanted: ArmMesh
    tape: tuple[TapeRow, ...]
    source: str
    distortions: Mapping[str, Distortion]
    intakes: tuple[Intake, ...]
    ease: float
    layouts: tuple[LayoutTrial, ...]
    undarted: Distortion | None
    pieces: Mapping[str, tuple[Piece, ...]]
    seams: tuple[SeamRow, ...]
    sewn: Mapping[str, Sewn] = field(default_factory=dict)
    fits: Mapping[str, Fit] = field(default_factory=dict)
    drafted: Drafted | None = None
    compared: Mapping[str, Comparison] = field(default_factory=dict)
    correction: Correction | None = None
    certainty: Certainty | None = None
    slips: tuple[Slip, ...] = ()
    round_both: Mapping[str, float] = field(default_factory=dict)
    verdicts: tuple[Verdict, ...] = ()
    faults: tuple[str, ...] = ()
    own: OwnCheck | None = None
    scan: ScanFit | None = None
    true_surface: Mapping[str, Distortion] = field(default_factory=dict)

    @property
    def to_cut(self) -> tuple[Piece, ...]:
        """The pieces to cut."""
        return self.pieces[self.source]

    @property
    def fit(self) -> Fit | None:
        """What the pieces to cut become, sewn and filled; None where they were not sewn."""
        return self.fits.get(self.source)


@dataclass(frozen=True, eq=False)
class MakeResult:
    """The main job's whole answer.

    Attributes
    ----------
    sheet : Sheet
    arms : tuple of ArmResult
        One, where both arms have the same measures; else left and right.
    version : str
        The tool's version.
    """

    sheet: Sheet
    arms: tuple[ArmResult, ...]
    version: str


@dataclass(frozen=True, eq=False)
class Ready:
    """What the maker prints.

    Attributes
    ----------
    finished : tuple of FinishedPiece
        Of every arm.
    plan : CutPlan
    pattern, guide : tuple of SheetPage
        Cover sheet, cut plan and tiled pieces; and the order of sewing.
    facts : PrintFacts
    faults : tuple of str
        What is outside limits or withheld, each with what would help.
    """

    finished: tuple[FinishedPiece, ...]
    plan: CutPlan
    pattern: tuple[SheetPage, ...]
    guide: tuple[SheetPage, ...]
    facts: PrintFacts
    faults: tuple[str, ...]
