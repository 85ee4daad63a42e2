"""A scanned arm: what the sheet says of it, and what was found on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from unroll.maths.arrays import FloatArray, own
from unroll.nouns.arm import LimbScan, Mesh
from unroll.nouns.measures import CapArc, GirthLevel, Side
from unroll.units import MM_PER_UNIT

# Of a file's units: mm, and how many decimals a place is written with.
MM_PER: dict[str, float] = {"m": 1000.0} | {str(u): float(mm) for u, mm in MM_PER_UNIT.items()}
PLACE_DECIMALS = {"m": 3, "cm": 1, "mm": 0, "in": 2}
LANDMARKS = ("shoulder", "underarm", "elbow_point", "elbow_crease", "wrist")


def place_in_words(point: FloatArray, unit: str) -> str:
    """Return a place, (3,) mm, as the sheet's table [scan] takes it: in the file's own unit.

    Examples
    --------
    >>> import numpy as np
    >>> place_in_words(np.array([143.2, 501.0, -5.0]), "m")
    '0.143, 0.501, -0.005'
    """
    decimals = PLACE_DECIMALS[unit]
    return ", ".join(f"{x / MM_PER[unit]:.{decimals}f}" for x in point)


@dataclass(frozen=True)
class ScanHints:
    """What the sheet's table [scan] says; what it leaves out is found or guessed.

    Attributes
    ----------
    unit : str or None
        Of the file: "m", "cm", "mm" or "in".
    side : {"left", "right"} or None
    landmarks : mapping of str to (x, y, z)
        Any of `LANDMARKS`, in the file's own numbers.
    axis : tuple of (x, y, z)
        The arm's middle line from shoulder to wrist, likewise; empty where it is to be found.
    bend_deg : float or None
        The elbow's bend that the made arm shall have; None keeps the scan's own.
    """

    unit: str | None = None
    side: Side | None = None
    landmarks: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    axis: tuple[tuple[float, float, float], ...] = ()
    bend_deg: float | None = None

    def __hash__(self) -> int:
        """Return a number that equal hints share, so that what they lead to can be kept."""
        return hash((self.unit, self.side, tuple(sorted(self.landmarks.items())), self.axis,
                     self.bend_deg))  # fmt: skip


@dataclass(frozen=True, eq=False)
class Section:
    """The scan's outline at one level, in the scan's own pose.

    Attributes
    ----------
    along : float
        Below the underarm's level, mm.
    girth : float
        As a tape finds it, bridging hollows, mm.
    centre : (3,) float
        A point of the arm's axis, mm.
    frame : (3, 3) float
        Rows: forward, outward and up the arm.
    outline : (k, 2) float
        Forward and outward from the centre, from the innermost point over the front, mm.
    """

    along: float
    girth: float
    centre: FloatArray
    frame: FloatArray
    outline: FloatArray

    def __post_init__(self) -> None:
        """Seal the arrays."""
        object.__setattr__(self, "centre", own(self.centre, float, 3))
        object.__setattr__(self, "frame", own(self.frame, float, 3, 3))
        object.__setattr__(self, "outline", own(self.outline, float, None, 2))

    def placed(self, flat: FloatArray) -> FloatArray:
        """Return points of the section's plane, (k, 2), where they lie on the scan, (k, 3) mm."""
        return self.centre + flat @ self.frame[:2]


@dataclass(frozen=True, eq=False)
class ScannedArm:
    """Everything that was found on a scan. A right arm is held as the left one that mirrors it.

    Attributes
    ----------
    name : str
        Of the file.
    side : {"left", "right"}
        Of the arm that was scanned.
    mesh : Mesh
        Mended, mm, x turned about where the arm is a right one.
    landmarks : mapping of str to (3,) float
        "shoulder" and "underarm" where the scan reaches so far, "elbow_point", "elbow_crease",
        "wrist", on that mesh.
    axis : (k, 3) float
        The arm's middle line there, from the underarm's level to the wrist.
    sections : tuple of Section
        A level every few millimetres, from below the underarm to the wrist.
    values : mapping of str to float
        The sheet's measures by tape, mm; "armhole width" and so on where its edge is there.
    cap_arcs : tuple of CapArc
    girths : tuple of GirthLevel
        Further girths.
    armhole : (k, 2) float or None
        The edge of the arm's armhole: x forward, y up, mm.
    limb : LimbScan
        The levels, the upper arm hanging straight down from the underarm's level at the origin.
    bend_deg, away_deg : float
        Turn of the forearm; how far the upper arm stands away from where an arm hangs.
    told : tuple of str
        What was found, guessed and mended, one plain line each.
    unit : str
        Of the file: "m", "cm", "mm" or "in".
    whole : Mesh or None
        What the arm was cut from, mended: as the file has it, mm, not turned about.
    """

    name: str
    side: Side
    mesh: Mesh
    landmarks: Mapping[str, FloatArray]
    axis: FloatArray
    sections: tuple[Section, ...]
    values: Mapping[str, float]
    cap_arcs: tuple[CapArc, ...]
    girths: tuple[GirthLevel, ...]
    armhole: FloatArray | None
    limb: LimbScan
    bend_deg: float
    away_deg: float
    told: tuple[str, ...] = ()
    unit: str = "mm"
    whole: Mesh | None = None

    def in_file(self, point: FloatArray) -> FloatArray:
        """Return a point of the mesh where it lies in the file, mm."""
        return point * [1.0 if self.side == "left" else -1.0, 1.0, 1.0]


@dataclass(frozen=True)
class LevelGap:
    """How far a loft's outline lies from the scan's at one level, mm.

    Attributes
    ----------
    along : float
        Below the underarm's level.
    mean, p95, worst : float
    """

    along: float
    mean: float
    p95: float
    worst: float


@dataclass(frozen=True, eq=False)
class ScanFit:
    """How near lofts come to the scan, level by level.

    Attributes
    ----------
    scan : ScannedArm
    sections : tuple of Section
        Those that the loft keeps: where the arm was lowered, it is led over from the cap above.
    gaps : mapping of str to tuple of LevelGap
        "taped": the loft of the sheet's usual girths; "levels": the loft of every level.
    whole : mapping of str to LevelGap
        The same over the whole limb.
    outlines : mapping of str to (n, k, 2) float
        What those lofts have at each section, in its own coordinates.
    """

    scan: ScannedArm
    sections: tuple[Section, ...]
    gaps: Mapping[str, tuple[LevelGap, ...]]
    whole: Mapping[str, LevelGap]
    outlines: Mapping[str, FloatArray]
