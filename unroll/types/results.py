"""What the stages found, gathered for one arm and ready to be shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from unroll.types.flat import Piece
from unroll.types.measures import ArmMeasures, Sheet
from unroll.types.surfaces import ArmMesh, Distortion


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
    extra : mapping of str to Any
        Findings of the later stages by stage name ("comparison", "sewn", "standoff", ...).
    """

    measures: ArmMeasures
    arm: ArmMesh
    tape: tuple[TapeRow, ...]
    distortions: Mapping[str, Distortion]
    undarted: Distortion | None
    pieces: Mapping[str, tuple[Piece, ...]]
    seams: tuple[SeamRow, ...]
    advice: Mapping[str, str]
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
