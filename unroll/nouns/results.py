"""What the stages found, gathered for one arm and ready to be shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from unroll.nouns.arm import ArmMesh, Distortion
from unroll.nouns.corrected import Closing, Spread
from unroll.nouns.draft import Comparison, WalkedSeam
from unroll.nouns.finished import CutPlan, FinishedPiece
from unroll.nouns.measures import ArmMeasures, Notice, Sheet
from unroll.nouns.pages import PrintFacts, SheetPage
from unroll.nouns.piece import Piece
from unroll.nouns.sewn import Sewn, StandOff


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
    """

    name: str
    asked_mm: float
    got_mm: float
    note: str = ""


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
class Filled:
    """What each set of pieces becomes once sewn and filled.

    Attributes
    ----------
    sewn : mapping of str to Sewn
        By source.
    standoffs : mapping of str to StandOff
        By source, against the lofted arm.
    words : str
        The finding in plain words.
    """

    sewn: Mapping[str, Sewn]
    standoffs: Mapping[str, StandOff]
    words: str


@dataclass(frozen=True, eq=False)
class ArmResult:
    """Everything that was made for one arm.

    Attributes
    ----------
    measures : ArmMeasures
    arm : ArmMesh
    tape : tuple of TapeRow
    distortions : mapping of str to Distortion
        By panel name; the pieces that are to be cut.
    undarted : Distortion or None
        The outer panel flattened without darts, to show what the darts gain.
    pieces : mapping of str to tuple of Piece
        By source: "unrolled", "drafted-ease", "drafted-darts", "corrected".
    seams : tuple of SeamRow
    advice : mapping of str to str
        One plain sentence a piece.
    drafted : Drafted or None
    compared : mapping of str to Comparison
        Each manner of the draft against the unrolled pieces, by the draft's source.
    filled : Filled or None
    closing : Closing or None
        The correction, and how it got there.
    certainty : Spread or None
        How far the correction's figures can be trusted.
    corrected : mapping of str to Distortion
        By panel name; the corrected pieces against the measured arm with round sections.
    extra : mapping of str to Any
        Rows for the report by key ("trials", "comparison", "standoff", ...).
    """

    measures: ArmMeasures
    arm: ArmMesh
    tape: tuple[TapeRow, ...]
    distortions: Mapping[str, Distortion]
    undarted: Distortion | None
    pieces: Mapping[str, tuple[Piece, ...]]
    seams: tuple[SeamRow, ...]
    advice: Mapping[str, str]
    drafted: Drafted | None = None
    compared: Mapping[str, Comparison] = field(default_factory=dict)
    filled: Filled | None = None
    closing: Closing | None = None
    certainty: Spread | None = None
    corrected: Mapping[str, Distortion] = field(default_factory=dict)
    extra: Mapping[str, Any] = field(default_factory=dict)


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
        What the truing checks found; empty unless printing was forced.
    """

    finished: tuple[FinishedPiece, ...]
    plan: CutPlan
    pattern: tuple[SheetPage, ...]
    guide: tuple[SheetPage, ...]
    facts: PrintFacts
    faults: tuple[str, ...]
