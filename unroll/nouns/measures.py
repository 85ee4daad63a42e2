"""What the maker measured and chose: one arm's measures, the cloth, the make."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from unroll.maths.arrays import FloatArray

Side = Literal["left", "right"]


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
    upper_arm_ratio: float = 1.05
    elbow_ratio: float = 1.05
    forearm_ratio: float = 1.15
    estimated: tuple[Estimate, ...] = ()

    def is_estimated(self, name: str) -> bool:
        """Tell whether the measure called `name` was estimated."""
        return any(estimate.name == name for estimate in self.estimated)


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
    """

    name: str
    text: str


@dataclass(frozen=True)
class TrialMeasures:
    """What was measured on a trial that was sewn and filled; what was not measured is left out.

    Attributes
    ----------
    girths : tuple of (name, mm)
        At "upper_arm", "elbow", "forearm".
    cap_arcs : tuple of (up, mm)
        Arcs over the cap with their levels above the underarm, as on the sheet.
    outward_deg, forward_deg : float or None
        How far the arm hangs away from the body, and to the front, of where it should.
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
        What was measured on a sewn trial of the corrected pieces.
    """

    arms: tuple[ArmMeasures, ...]
    cloth: Cloth
    make: Make
    unit: Literal["in", "cm", "mm"] = "cm"
    owner: str = ""
    date: str = ""
    notices: tuple[Notice, ...] = ()
    trial: TrialMeasures | None = None
