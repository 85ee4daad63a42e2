"""What the maker chose: the cloth, the make, the double, a trial; and the sheet that holds all."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from unroll.nouns.measures import ArmMeasures
from unroll.nouns.own import DraftTable

if TYPE_CHECKING:
    from unroll.nouns.scan import ScannedArm


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
