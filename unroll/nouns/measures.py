"""What the maker measured and chose: one arm's measures, the cloth, the make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

import numpy as np

from unroll.maths.arrays import FloatArray
from unroll.nouns.arm import Level, LimbScan
from unroll.nouns.own import DraftTable

if TYPE_CHECKING:
    from unroll.nouns.scan import ScannedArm

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
    """A measure the maker left out, and where its value comes from.

    Attributes
    ----------
    name : str
        Field name of the sheet.
    value_mm : float
        The value used.
    source : str
        Plain words: "from wrist_girth, width:depth 1.45 (carpal-tunnel papers)".
    """

    name: str
    value_mm: float
    source: str


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


@dataclass(frozen=True)
class Cloth:
    """The cloth and the filling.

    Attributes
    ----------
    name : str
        As the maker calls it.
    stretch_percent : float
        Stretch at 1 N/cm along the thread; 0.4 % is a stiffness of 25 N/mm.
    bias_stretch_percent : float
        Stretch at 1 N/cm on the bias.
    gives_percent : float
        How much the cloth gives in its own plane before it puckers or pulls, percent.
    eases_percent : tuple of float
        Lowest and highest share of a seam that the cloth eases in, percent.
    ends : {"card", "cloth"}
        Whether the end plates are backed with card.
    width : float
        Usable width of the cloth off the roll, mm.
    pressure_kpa : float
        Filling pressure.
    filling_g_per_litre : float
        Filling density.
    weighs_g_per_m2 : float
        Weight of the cloth.
    """

    name: str = "plain cotton"
    stretch_percent: float = 0.4
    bias_stretch_percent: float = 3.0
    gives_percent: float = 3.0
    eases_percent: tuple[float, float] = (3.0, 5.0)
    ends: Literal["card", "cloth"] = "card"
    width: float = 1400.0
    pressure_kpa: float = 2.0
    filling_g_per_litre: float = 60.0
    weighs_g_per_m2: float = 150.0


@dataclass(frozen=True)
class Double:
    """What the tape round double and arms needs to know of the double.

    Attributes
    ----------
    between_armholes : float
        From armhole to armhole, straight through the double, half-way down them, mm.
    depth : float or None
        Front to back of the double at that level, mm.
    round_both_arms : float or None
        What the tape shall read round both arms at that level, mm.
    """

    between_armholes: float
    depth: float | None = None
    round_both_arms: float | None = None


@dataclass(frozen=True)
class DartChoice:
    """One dart as the sheet fixes it; None leaves it to the program.

    Attributes
    ----------
    at : float or None
        Where its mouth lies on the cap seam: distance along the seam from the shoulder point,
        mm; positive towards the front.
    length : float or None
        From the cap seam to its point, mm.
    intake : float or None
        Cloth taken in at the mouth, mm.
    """

    at: float | None = None
    length: float | None = None
    intake: float | None = None


@dataclass(frozen=True)
class Make:
    """How the arm is to be made.

    Attributes
    ----------
    inner_share : Fraction
        Share of each girth that the inner arm takes.
    cap : {"ease", "darts"}
        Manner of the flat draft's cap, and whether the unrolled outer piece is darted.
    cap_ease : float
        Ease raised over the cap in the manner "ease", mm.
    dart_count : int or None
        Number of darts (0 to 3, or 4 where a layout asks for it); None lets the program propose.
    darts : tuple of DartChoice
        Darts that the sheet fixes, front to back.
    widest_dart, narrowest_tongue : float
        Widest mouth of a dart that she can sew, and least cloth between two mouths, mm.
    widest_point_deg : float
        Widest angle between a dart's legs.
    most_darts : int
        How many darts may be proposed, 2 to 4.
    seam_allowance : float
        Allowance on every seam, mm.
    seam_allowances : dict of str to float
        Allowance on the seam of that name, mm, where it differs.
    round_to : float or None
        Flat draft: round inner widths to this, mm (3.175 is an eighth of an inch); None: as is.
    paper : str
        Paper of the printer: "a4", "letter", ...
    weave : {"woven", "even"}
        Energy of the flattening.
    """

    inner_share: Fraction = Fraction(1, 3)
    cap: Literal["ease", "darts"] = "darts"
    cap_ease: float = 25.0
    dart_count: int | None = None
    darts: tuple[DartChoice, ...] = ()
    widest_dart: float = 110.0
    narrowest_tongue: float = 25.0
    widest_point_deg: float = 60.0
    most_darts: int = 4
    seam_allowance: float = 10.0
    seam_allowances: dict[str, float] = field(default_factory=dict)
    round_to: float | None = None
    paper: str = "a4"
    weave: Literal["woven", "even"] = "woven"


@dataclass(frozen=True)
class Notice:
    """Something the maker should know that does not stop the work.

    Attributes
    ----------
    name : str
        The field it is about, or "".
    text : str
        One plain line.
    fights : bool
        Whether measures contradict each other, so that one of them is not kept.
    """

    name: str
    text: str
    fights: bool = False


@dataclass(frozen=True)
class TrialMeasures:
    """What was measured on a trial that was sewn and filled; what was not measured is left out.

    Attributes
    ----------
    girths, cap_arcs : tuple of (name, mm), tuple of (up, mm)
        Girths at "upper_arm", "elbow", "forearm"; arcs as on the sheet.
    outward_deg, forward_deg : float or None
        How far it hangs away from the body, and to the front, of where it should.
    """

    girths: tuple[tuple[str, float], ...] = ()
    cap_arcs: tuple[tuple[float, float], ...] = ()
    outward_deg: float | None = None
    forward_deg: float | None = None


@dataclass(frozen=True, eq=False)
class Sheet:
    """A whole sheet, read and checked.

    Attributes
    ----------
    arms : tuple of ArmMeasures
        One or two arms: ([arm] serves both and gives two equal arms).
    cloth : Cloth
    make : Make
    unit : {"in", "cm", "mm"}
        Unit the maker writes in; outputs show it beside millimetres.
    owner, date : str
        As given, for the labels.
    notices : tuple of Notice
        Spreads of repeated readings, values outside the survey's range, ...
    trial : TrialMeasures or None
    draft : DraftTable
    double : Double or None
    scanned : ScannedArm or None
        The scan that an arm's levels come from.
    filled_in : str
        The sheet with what a scan gave written in, TOML; "" where there was no scan.
    """

    arms: tuple[ArmMeasures, ...]
    cloth: Cloth
    make: Make
    unit: Literal["in", "cm", "mm"] = "cm"
    owner: str = ""
    date: str = ""
    notices: tuple[Notice, ...] = ()
    trial: TrialMeasures | None = None
    draft: DraftTable = DraftTable()
    double: Double | None = None
    scanned: ScannedArm | None = None
    filled_in: str = ""
