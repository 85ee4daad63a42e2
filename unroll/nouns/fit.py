"""How far a sewn and filled arm is from the arm that was wanted; what is let pass, and verdicts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np

from unroll.maths.arrays import FloatArray, IntArray, own


@dataclass(frozen=True)
class SewnGirth:
    """A girth of the sewn and filled arm.

    Attributes
    ----------
    name : str
        Station: "upper_arm", "elbow", "forearm", "wrist".
    asked_mm : float
        Girth asked for.
    sewn_mm : float
        What a tape finds on the filled shape.
    line : (k, 3) float or None
        Where the tape lies on it, mm; it ends where it begins.
    """

    name: str
    asked_mm: float
    sewn_mm: float
    line: FloatArray | None = field(default=None, compare=False, repr=False)

    @property
    def off_percent(self) -> float:
        """Sewn less asked, percent of asked."""
        return 100 * (self.sewn_mm / self.asked_mm - 1)


@dataclass(frozen=True, eq=False)
class Fit:
    """How far the sewn and filled arm stands off the arm that was measured.

    Attributes
    ----------
    source, arm : str
        As the pieces say.
    swing_deg, wrist_mm, elbow_mm : float
        Angle by which the whole arm is turned about the armhole, degrees, and how far the centres
        of its wrist and its elbow lie from where they should, mm. The cap is measured with this
        turn taken out.
    outward_deg, forward_deg, twist_deg : float
        The turn's parts: away from the body, to the front, about the arm's own axis.
    bulge_max, bulge_mean : float
        Over the cap: farthest outside the measured arm, and the mean over the cap of the distance
        outside (0 where it lies inside), mm.
    bulge_below_seam : float
        Distance of the farthest place below the cap seam, mm.
    bulge_forward : float
        Where it lies front to back: −1 at the back seam, 1 at the front seam.
    bulge_breadth : float
        Diameter of a disc as large as the area that stands more than half as far, mm.
    hollow_max, hollow_mean : float
        The same inside the measured arm, mm, positive.
    cap_mean, cap_p95 : float
        Mean and 95th percentile by area of the unsigned distance over the cap, mm.
    girths : tuple of SewnGirth
    length_asked, length_sewn : float
        Shoulder point to elbow centre to wrist centre, mm.
    bend_asked_deg, bend_sewn_deg : float
        Bend of the centre line at the elbow, degrees (NaN where a level is missing).
    volume_asked, volume_sewn : float
        mm³.
    faces : (k,) int
        Faces of the sewn mesh that make up the cap.
    distances : (n,) float
        Signed distance of every sewn vertex, mm, positive outside; NaN away from the cap.
    turned : (n, 3) float
        The sewn vertices with the swing taken out, mm.
    profile_asked, profile_sewn, profile_swung : (k, 2) float
        Outer line through the middle of the cap from the shoulder down: outward and up, mm, of the
        measured arm, of the sewn one with the swing taken out, and of the sewn one as it hangs.
    limits : tuple of str
        What the figures do not say, one plain line each.
    elbow_off, wrist_off : (3,) float
        Where their centres lie from where they should, mm; its length is `elbow_mm`, `wrist_mm`.
    """

    source: str
    arm: str
    swing_deg: float
    wrist_mm: float
    elbow_mm: float
    outward_deg: float
    forward_deg: float
    twist_deg: float
    bulge_max: float
    bulge_mean: float
    bulge_below_seam: float
    bulge_forward: float
    bulge_breadth: float
    hollow_max: float
    hollow_mean: float
    cap_mean: float
    cap_p95: float
    girths: tuple[SewnGirth, ...]
    length_asked: float
    length_sewn: float
    bend_asked_deg: float
    bend_sewn_deg: float
    volume_asked: float
    volume_sewn: float
    faces: IntArray
    distances: FloatArray
    turned: FloatArray
    profile_asked: FloatArray
    profile_sewn: FloatArray
    profile_swung: FloatArray
    limits: tuple[str, ...] = field(default=())
    elbow_off: FloatArray = field(default_factory=lambda: np.zeros(3))
    wrist_off: FloatArray = field(default_factory=lambda: np.zeros(3))

    def __post_init__(self) -> None:
        """Copy, check and seal the arrays."""
        object.__setattr__(self, "elbow_off", own(self.elbow_off, float, 3))
        object.__setattr__(self, "wrist_off", own(self.wrist_off, float, 3))
        object.__setattr__(self, "faces", own(self.faces, int, None))
        object.__setattr__(self, "distances", own(self.distances, float, None))
        object.__setattr__(self, "turned", own(self.turned, float, len(self.distances), 3))
        for name in ("profile_asked", "profile_sewn", "profile_swung"):
            object.__setattr__(self, name, own(getattr(self, name), float, None, 2))

    @property
    def worst_girth_percent(self) -> float:
        """Largest girth error without sign, percent."""
        return max((abs(girth.off_percent) for girth in self.girths), default=0.0)


class Judged(Protocol):
    """What the figures of `FIGURES` are read from: a `Fit`, or what a correction sees of one."""

    @property
    def worst_girth_percent(self) -> float:
        """Largest girth error without sign, percent."""

    @property
    def swing_deg(self) -> float:
        """Angle by which the whole arm is turned, degrees."""

    @property
    def wrist_mm(self) -> float:
        """Distance of the wrist's centre from its place, mm."""

    @property
    def elbow_mm(self) -> float:
        """Distance of the elbow's centre from its place, mm."""

    @property
    def cap_mean(self) -> float:
        """Mean distance over the cap, mm."""

    @property
    def cap_p95(self) -> float:
        """Distance over the cap that 95 % of it lie within, mm."""


Unit = Literal["%", "°", "mm"]


@dataclass(frozen=True)
class Figure:
    """A figure that is promised and shown; one entry of `FIGURES` is all that a new one takes.

    Attributes
    ----------
    key : str
        In report.json.
    attribute : str
        Of whatever is judged.
    unit : {"%", "°", "mm"}
    limit : float
        What is let pass.
    finest : float
        Its own error: nothing smaller is read out of it or printed.
    name : str
        As it stands in a sentence: "the wrist".
    heading : str
        As it heads a row: "wrist off its place".
    """

    key: str
    attribute: str
    unit: Unit
    limit: float
    finest: float
    name: str
    heading: str

    def of(self, seen: Judged) -> float:
        """Return the figure of what is judged."""
        return float(getattr(seen, self.attribute))

    def share(self, seen: Judged) -> float:
        """Return the figure over what is let pass."""
        return self.of(seen) / self.limit


FIGURES = (
    Figure("worst_girth_percent", "worst_girth_percent", "%", 0.3, 0.1,
           "girths", "worst girth off by"),
    Figure("swing_deg", "swing_deg", "°", 0.5, 0.1, "the hanging arm", "whole arm turned by"),
    Figure("elbow_mm", "elbow_mm", "mm", 4.0, 1.0, "the elbow", "elbow off its place by"),
    Figure("wrist_mm", "wrist_mm", "mm", 3.0, 1.0, "the wrist", "wrist off its place by"),
    Figure("cap_mean_mm", "cap_mean", "mm", 1.5, 0.5,
           "the shoulder on average", "shoulder off on average by"),
    Figure("cap_p95_mm", "cap_p95", "mm", 4.0, 0.5,
           "95 % of the shoulder", "95 % of the shoulder within"),
)  # fmt: skip


@dataclass(frozen=True)
class Verdict:
    """A figure against what is let pass.

    Attributes
    ----------
    figure : Figure
    value : float
    help : str
        What would bring it within its limit, in plain words; "" where it is.
    """

    figure: Figure
    value: float
    help: str = ""

    @property
    def limit(self) -> float:
        """What is let pass."""
        return self.figure.limit

    @property
    def is_met(self) -> bool:
        """Whether the figure is within its limit."""
        return self.value <= self.limit


def verdicts_of(seen: Judged, help_: str = "") -> tuple[Verdict, ...]:
    """Return every figure of what is judged against its limit.

    Parameters
    ----------
    seen : Judged
    help_ : str
        What would help where a limit is not kept.
    """
    values = [(figure, figure.of(seen)) for figure in FIGURES]
    return tuple(
        Verdict(figure, value, help_ if value > figure.limit else "") for figure, value in values
    )


def shortfall(seen: Judged) -> float:
    """Return the sum of squares of the figures, each over its limit."""
    return sum(figure.share(seen) ** 2 for figure in FIGURES)


def worst_share(seen: Judged) -> float:
    """Return the largest figure over its limit; 1 or less where all are kept."""
    return max(figure.share(seen) for figure in FIGURES)
