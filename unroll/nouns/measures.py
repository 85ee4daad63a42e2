"""What the maker measured: one arm, its armhole, how it stands and hangs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns.arm import Level, LimbScan

if TYPE_CHECKING:
    pass

Side = Literal["left", "right"]

# Width (front to back) over depth (side to side): means of the eleven modelled arms of meshes/,
# 1.13, 1.04 and 0.95 with standard deviations of 0.07, 0.06 and 0.03 (`python -m
# tests.study_taper`), no finer than their spread.
USUAL_RATIOS = {"upper_arm_ratio": 1.1, "elbow_ratio": 1.05, "forearm_ratio": 0.95}


@dataclass(frozen=True)
class CapArc:
    """A tape from armhole edge to armhole edge, front to back over the outside of the arm.

    Attributes
    ----------
    up : float
        Level of the tape above the underarm, measured straight up, mm.
    length : float
        Length of the arc, mm.
    """

    up: float
    length: float


@dataclass(frozen=True)
class GirthLevel:
    """A girth beside the usual ones, at a level of the maker's choice.

    Attributes
    ----------
    down : float
        How far below the inner elbow it lies, along the arm, mm; negative above it.
    girth : float
        mm.
    ratio : float or None
        Width : depth of the section; None lets it run between its neighbours'.
    """

    down: float
    girth: float
    ratio: float | None = None

    @property
    def name(self) -> str:
        """Return the name of its row: "girth_100_below_elbow", in whole millimetres."""
        return f"girth_{abs(self.down):.0f}_{'above' if self.down < 0 else 'below'}_elbow"


# How much of the fall from the fullest forearm to the wrist is left at a share of the way from
# inner elbow to wrist. Mean of the arms in meshes/ that are marked there as fitted to; modelled
# bodies, not scans; `python -m tests.study_taper` fits it again and tries it on the others.
USUAL_TAPER: tuple[tuple[float, float], ...] = (
    (0.20, 1.0), (0.26, 0.981), (0.32, 0.937), (0.40, 0.827), (0.50, 0.685), (0.60, 0.537),
    (0.70, 0.362), (0.80, 0.213), (0.88, 0.089), (0.94, 0.011), (1.0, 0.0),
)  # fmt: skip
LEAST_FALL = 0.02  # of a girth: an arm that falls by less has no taper
TAPER_POWERS = (0.4, 2.5)  # how far a measured girth may bend the usual taper


def tapered(known: Sequence[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """Return girths between known ones of the forearm, as the usual arm has them.

    Parameters
    ----------
    known : sequence of (down, girth)
        From the fullest forearm to the wrist, downwards, mm.
    length : float
        From inner elbow to wrist, mm.

    Notes
    -----
    What is left of the fall is raised to the power that leads it through the girths between; each
    girth then stays within its two neighbours'.

    Examples
    --------
    >>> [(round(down), round(girth)) for down, girth in tapered([(62, 243), (236, 158)], 236)][2:4]
    [(118, 217), (142, 205)]
    """
    downs, girths = np.array(known, dtype=float).T
    share, left = np.array(USUAL_TAPER).T
    fall = girths[0] - girths[-1]
    if fall < LEAST_FALL * girths[0]:
        return []
    top = np.interp(downs[0] / length, share, left)
    usual, found = np.interp(downs / length, share, left) / top, (girths - girths[-1]) / fall
    tells = (np.minimum(usual, found) > LEAST_FALL) & (np.maximum(usual, found) < 1.0 - LEAST_FALL)
    powers = np.log(found[tells]) / np.log(usual[tells])
    room = LEAST_FALL * length  # else two levels all but coincide
    at = [s * length for s in share if np.abs(downs - s * length).min() > room]
    at = [down for down in at if downs[0] < down < downs[-1]]
    rest = np.minimum(np.interp(np.array(at) / length, share, left) / top, 1.0)
    if tells.any():
        rest = rest ** np.clip(np.interp(at, downs[tells], powers), *TAPER_POWERS)
    place = np.searchsorted(downs, at)
    ends = np.sort([girths[place - 1], girths[place]], axis=0)
    return list(zip(at, np.clip(girths[-1] + fall * rest, *ends).tolist(), strict=True))


@dataclass(frozen=True, eq=False)
class Armhole:
    """The body double's armhole plate.

    Attributes
    ----------
    width, height : float
        Full width (front to back, at its widest level) and height (underarm to shoulder), mm.
    girth : float
        Length of its edge, mm.
    outline : (k, 2) float or None
        Traced outline: x forward, z up, mm; the shoulder point (its top) at (0, 0), the underarm
        (its lowest point) at z = -height; anticlockwise seen with x to the right; None for an oval.
    """

    width: float
    height: float
    girth: float
    outline: FloatArray | None = None


@dataclass(frozen=True)
class Stance:
    """How the armhole stands and the arm hangs against a plumb line from the shoulder point.

    Attributes
    ----------
    underarm_inside, underarm_behind : float or None (not measured)
        How far the underarm point lies from the line towards the body, and to the back, mm.
    front_inside : float or None
        How much nearer to the middle the armhole's front edge stands than its back edge, mm.
    elbow_outward, elbow_forward, wrist_outward, wrist_forward : float or None
        How far the middle of elbow and wrist lies from the line, mm.
    """

    underarm_inside: float | None = None
    underarm_behind: float | None = None
    front_inside: float | None = None
    elbow_outward: float | None = None
    elbow_forward: float | None = None
    wrist_outward: float | None = None
    wrist_forward: float | None = None


@dataclass(frozen=True)
class Estimate:
    """A measure the maker left out, or whose reading cannot be met, and where its value comes from.

    Attributes
    ----------
    name : str
        Field name of the sheet.
    value_mm : float
        The value used.
    source : str
        Plain words: "from wrist_girth, width:depth 1.45 (carpal-tunnel papers)".
    reading_mm : float or None
        What was measured, where that is not used.
    """

    name: str
    value_mm: float
    source: str
    reading_mm: float | None = None


@dataclass(frozen=True, eq=False)
class ArmMeasures:
    """One arm's measures, complete (what was missing is estimated), all in mm.

    Attributes
    ----------
    side : {"left", "right"}
        Which arm.
    shoulder_to_elbow : float
        Shoulder point to elbow point, down the back of the arm.
    shoulder_to_inner_elbow : float
        Shoulder point to the crease of the elbow, down the front.
    inner_elbow_to_wrist : float
        Crease of the elbow to the wrist line.
    upper_arm_girth, upper_arm_up : float
        Fullest girth of the upper arm, and how far above the inner elbow it lies.
    elbow_girth : float
        Around elbow point and crease.
    forearm_girth, forearm_down : float
        Fullest girth of the forearm, and how far below the inner elbow it lies.
    wrist_girth, wrist_width, wrist_depth : float
        At the wrist; width across (thumb side to little-finger side), depth through.
    cap_height : float
        Over the outside of the arm, shoulder point to the level of the underarm.
    cap_arcs : tuple of CapArc
        Arcs over the cap, lowest first; empty when none was measured.
    armhole : Armhole
        The double's armhole plate.
    shoulder_length : float
        Neck point to shoulder point.
    shoulder_slope_front_deg, shoulder_slope_back_deg : float
        Slope of front and back shoulder lines below the level, degrees.
    upper_arm_ratio, elbow_ratio, forearm_ratio : float
        Width (front to back) : depth (side to side) of the section at that station.
    girths : tuple of GirthLevel
        Girths at further levels, from the shoulder down.
    scan : LimbScan or None
        Levels of the limb that overrule its girths, lengths and ratios.
    stance : Stance
    estimated : tuple of Estimate
        Which of the above the maker did not give.
    """

    side: Side
    shoulder_to_elbow: float
    shoulder_to_inner_elbow: float
    inner_elbow_to_wrist: float
    upper_arm_girth: float
    upper_arm_up: float
    elbow_girth: float
    forearm_girth: float
    forearm_down: float
    wrist_girth: float
    wrist_width: float
    wrist_depth: float
    cap_height: float
    cap_arcs: tuple[CapArc, ...]
    armhole: Armhole
    shoulder_length: float
    shoulder_slope_front_deg: float = 20.0
    shoulder_slope_back_deg: float = 20.0
    upper_arm_ratio: float = USUAL_RATIOS["upper_arm_ratio"]
    elbow_ratio: float = USUAL_RATIOS["elbow_ratio"]
    forearm_ratio: float = USUAL_RATIOS["forearm_ratio"]
    estimated: tuple[Estimate, ...] = ()
    girths: tuple[GirthLevel, ...] = ()
    scan: LimbScan | None = None
    stance: Stance = Stance()

    def is_estimated(self, name: str) -> bool:
        """Tell whether the measure called `name` was estimated."""
        return any(estimate.name == name for estimate in self.estimated)

    @property
    def forearm_girths(self) -> tuple[tuple[float, float], ...]:
        """Return (down, girth) of every measured level from the fullest forearm to the wrist."""
        between = (
            (level.down, level.girth)
            for level in self.girths
            if self.forearm_down < level.down < self.inner_elbow_to_wrist
        )
        ends = (self.forearm_down, self.forearm_girth), (
            self.inner_elbow_to_wrist,
            self.wrist_girth,
        )
        return (ends[0], *sorted(between), ends[1])

    def rounded(self) -> ArmMeasures:
        """Return the same measures with round sections down to the wrist."""
        scan = self.scan
        if scan is not None:
            *upper, wrist = scan.levels
            forearm = scan.elbow + self.forearm_down
            levels = [
                Level(level.along, level.girth, 1.0 if level.along <= forearm else None)
                for level in upper
            ]
            scan = replace(scan, levels=(*levels, replace(wrist, outline=None)))
        return replace(
            self,
            upper_arm_ratio=1.0,
            elbow_ratio=1.0,
            forearm_ratio=1.0,
            girths=tuple(replace(level, ratio=None) for level in self.girths),
            scan=scan,
        )
