"""Measures that fight each other so far that no arm can have both: the sheet is refused."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from unroll.maths.ellipses import (
    MAX_EXPONENT,
    ellipse_half_depth,
    ellipse_perimeter,
    superellipse_perimeter,
)
from unroll.nouns.measures import USUAL_RATIOS
from unroll.sheets.faults import Fault, Lines, Path, line_of, path_name
from unroll.sheets.fields import Reading
from unroll.sheets.limits import show, show_about, show_least, show_most, show_range
from unroll.sheets.schema import ArmTable
from unroll.units import Unit

REQUIRED = {
    "inner_elbow_to_wrist": "crease of the elbow to the wrist line",
    "upper_arm_girth": "fullest girth of the upper arm",
    "wrist_girth": "girth at the wrist",
}
LARGEST_BEND_DEG = 150.0  # beyond it, lines were mixed up; less is taken as bent as an arm goes
SHALLOWEST_ARMHOLE = 0.2  # of the upper arm's length: at least this lies above the underarm
DEEPEST_ARMHOLE = 0.8  # of the same: at most this, or no upper arm is left
WIDEST_ARMHOLE = 1.6  # of its height
ARC_OVER_GIRTH = 1.3  # an arc over the cap is never longer than a girth of the arm and a bit
CAP_SHORTFALL = 0.93  # of the armhole's height; the slack is what two tapes err
LONGEST_CAP = 1.3  # of the way straight down and straight out
OVAL_SLACK = 0.1  # how far a girth may lie off what its two diameters carry; beyond it, a slip


class ArmValues:
    """One arm's sound measures by name, mm, with the words for a fault about them.

    Parameters
    ----------
    table : ArmTable
        The arm as the sheet gives it.
    at : path
        `("arm",)`, `("left_arm",)` or `("right_arm",)`.
    unit : {"in", "cm", "mm"}
        Unit to show lengths in.
    lines : mapping of path to int
        Where each entry stands.
    faulty : set of str
        Names already found faulty (`"armhole width"` for a nested one); they count as missing.
    traced : mapping of str to float
        The armhole's sizes as its tracing has them, mm; they go before the tape's.
    """

    def __init__(
        self, table: ArmTable, at: Path, unit: Unit, lines: Lines, *,
        faulty: frozenset[str] = frozenset(), traced: Mapping[str, float] | None = None,
    ) -> None:
        """Take the sound values."""
        self.table, self.at, self.unit, self.lines, self.faulty = table, at, unit, lines, faulty
        self.values: dict[str, float] = {}
        for name in ArmTable.model_fields:
            self._take(name, getattr(table, name), faulty)
        for name in ("width", "height", "girth"):
            self._take(f"armhole {name}", getattr(table.armhole, name), faulty)
        self.values |= traced or {}
        self.is_traced = bool(traced)

    def _take(self, name: str, value: object, faulty: frozenset[str]) -> None:
        mm = value.mm if isinstance(value, Reading) else value
        if isinstance(mm, float) and name not in faulty:
            self.values[name] = mm

    def __contains__(self, name: str) -> bool:
        """Tell whether the measure is there."""
        return name in self.values

    def __getitem__(self, name: str) -> float:
        """Return the value, mm."""
        return self.values[name]

    def get(self, name: str) -> float | None:
        """Return the value, or None where it was not measured."""
        return self.values.get(name)

    def ratio(self, name: str) -> float:
        """Return the section's width over depth, as given or by default."""
        return self.values.get(name, USUAL_RATIOS[name])

    def show(self, name: str) -> str:
        """Return "name value" for the wording of a fault."""
        return f"{name} {show(self.values[name], self.unit)}"

    def say_about(self, mm: float) -> str:
        """Return a length that is only about so long, in the sheet's unit."""
        return show_about(mm, self.unit)

    def say(self, mm: float) -> str:
        """Return a length in the sheet's unit."""
        return show(mm, self.unit)

    def at_least(self, name: str, least: float) -> str:
        """Return "is value; expected at least limit", the two never looking alike."""
        value = self.values[name]
        return f"is {self.say(value)}; expected at least {show_least(least, value, self.unit)}"

    def at_most(self, name: str, most: float) -> str:
        """Return "is value; expected at most limit", the two never looking alike."""
        value = self.values[name]
        return f"is {self.say(value)}; expected at most {show_most(most, value, self.unit)}"

    def fault(self, name: str, text: str) -> Fault:
        """Return a fault on the line of `name`."""
        path: Path = (*self.at, *name.split(" "))
        return Fault(line_of(path, self.lines), f"{path_name(path)} {text}", path)


def missing_faults(arm: ArmValues, unread: frozenset[str]) -> Iterator[Fault]:
    """Yield a fault for each required measure that is not there; `unread` were there in vain."""
    unread = unread | arm.faulty
    for name, what in REQUIRED.items():
        if getattr(arm.table, name) is None and name not in unread:
            yield arm.fault(name, f"is missing; it must be measured ({what})")
    either = ("shoulder_to_elbow", "shoulder_to_inner_elbow")
    if not any(getattr(arm.table, name) is not None or name in unread for name in either):
        yield arm.fault(either[0], f"is missing; it or {either[1]} must be measured "
                                   "(shoulder point to elbow, down the back or the front)")


def plausibility_faults(arm: ArmValues) -> Iterator[Fault]:
    """Yield a fault for each pair or group of measures that no arm can have together."""
    yield from _length_faults(arm)
    yield from _level_faults(arm)
    yield from _wrist_faults(arm)
    yield from _armhole_faults(arm)
    yield from _cap_faults(arm)
    yield from _arc_faults(arm)


def elbow_width(girth: float, ratio: float) -> float:
    """Return the elbow's width, front to back, mm, from its girth and width over depth."""
    return 2.0 * ratio * float(ellipse_half_depth(girth, ratio))


def arm_depth(girth: float, ratio: float) -> float:
    """Return a section's depth, side to side, mm, from its girth and width over depth."""
    return 2.0 * float(ellipse_half_depth(girth, ratio))


def chord_at(up: float, width: float, height: float) -> float:
    """Return an oval armhole's own width at a level `up` above the underarm, mm.

    Examples
    --------
    >>> chord_at(58.0, 98.0, 116.0)
    98.0
    """
    return width * math.sqrt(max(0.0, 1.0 - (2.0 * up / height - 1.0) ** 2))


def bend_deg(back: float, front: float, width: float) -> float:
    """Return the elbow's bend from the lengths down back and front, degrees.

    The elbow's section, from crease to elbow point, halves the bend, as a mitre does.

    Examples
    --------
    >>> round(bend_deg(340.0, 329.5, 76.0), 1)
    15.7
    """
    return 2.0 * math.degrees(math.atan((back - front) / width))


def back_over_front(bend_deg: float, width: float) -> float:
    """Return how much longer the back is than the front down to a bent elbow, mm.

    Examples
    --------
    >>> round(back_over_front(15.5, 76.0), 1)
    10.3
    """
    return width * math.tan(0.5 * math.radians(bend_deg))


def _length_faults(arm: ArmValues) -> Iterator[Fault]:
    back, front = arm.get("shoulder_to_elbow"), arm.get("shoulder_to_inner_elbow")
    girth = arm.get("elbow_girth") or arm.get("upper_arm_girth")
    if back is None or front is None or girth is None:
        return
    width = elbow_width(girth, arm.ratio("elbow_ratio"))
    bend = bend_deg(back, front, width)
    slack = back_over_front(LARGEST_BEND_DEG, width)
    if bend > LARGEST_BEND_DEG:
        yield arm.fault(
            "shoulder_to_elbow",
            f"{arm.at_most('shoulder_to_elbow', front + slack)} with "
            f"{arm.show('shoulder_to_inner_elbow')}: that bends the elbow by {bend:.0f} degrees "
            "(measured round a bent elbow, or lines mixed up?)")
    if front - back > width:
        yield arm.fault(
            "shoulder_to_elbow",
            f"{arm.at_least('shoulder_to_elbow', front - width)} with "
            f"{arm.show('shoulder_to_inner_elbow')}, for the back of the arm is the longer way "
            "(lines mixed up, or the arm turned?)")


def _level_faults(arm: ArmValues) -> Iterator[Fault]:
    front_name = "shoulder_to_inner_elbow" if "shoulder_to_inner_elbow" in arm else (
        "shoulder_to_elbow")
    front, height = arm.get(front_name), arm.get("armhole height")
    name, share = _plate_height(arm)
    if front is not None and name and share * arm[name] > DEEPEST_ARMHOLE * front:
        yield arm.fault(
            name,
            f"{arm.at_most(name, DEEPEST_ARMHOLE * front / share)} with "
            f"{arm.show(front_name)}, for the underarm lies well above the elbow "
            "(lines mixed up?)")
    elif front is not None and "upper_arm_up" in arm:
        most = front - 0.5 * (height or SHALLOWEST_ARMHOLE * front)
        if arm["upper_arm_up"] > most:
            yield arm.fault(
                "upper_arm_up",
                f"{arm.at_most('upper_arm_up', most)} above the inner elbow with "
                f"{arm.show(front_name)}, for higher up no tape goes round the arm "
                "(measured from the wrong end?)")
    length = arm.get("inner_elbow_to_wrist")
    if length is not None and "forearm_down" in arm and arm["forearm_down"] >= length:
        yield arm.fault(
            "forearm_down",
            f"{arm.at_most('forearm_down', length)}, for the level lies above the wrist, "
            f"{arm.show('inner_elbow_to_wrist')} (measured from the wrong end?)")


def _plate_height(arm: ArmValues) -> tuple[str, float]:
    """Return which measure tells the armhole's least height, and as what share of it."""
    of_girth = 1.0 / float(ellipse_perimeter(0.5 * WIDEST_ARMHOLE, 0.5))
    shares = {"armhole height": 1.0, "armhole width": 1.0 / WIDEST_ARMHOLE,
              "armhole girth": of_girth}
    return next(((name, share) for name, share in shares.items() if name in arm), ("", 0.0))


def _wrist_faults(arm: ArmValues) -> Iterator[Fault]:
    names = ("wrist_girth", "wrist_width", "wrist_depth")
    girth, upper = arm.get("wrist_girth"), arm.get("upper_arm_girth")
    if girth is not None and upper is not None and girth >= upper:
        yield arm.fault(
            "wrist_girth",
            f"{arm.at_most('wrist_girth', upper)}, for it is slimmer than "
            f"{arm.show('upper_arm_girth')} (lines mixed up?)")
    yield from _oval_faults(arm, names)


def _oval_faults(arm: ArmValues, names: tuple[str, str, str]) -> Iterator[Fault]:
    """Yield a fault where a width and a depth, or one of them, cannot carry a girth."""
    girth, width, depth = (arm.get(name) for name in names)
    if girth is None:
        return
    if width is not None and depth is not None:
        shortest, longest = girth_bounds(width, depth)
        low, high = (1.0 - OVAL_SLACK) * shortest, (1.0 + OVAL_SLACK) * longest
        if not low <= girth <= high:
            cause = "lines mixed up?" if girth < low else (
                "lines mixed up, or measured over cloth?")
            yield arm.fault(
                names[0],
                f"is {arm.say(girth)}; expected {show_range((low, high), arm.unit)} around "
                f"{arm.show(names[1])} and {arm.show(names[2])} ({cause})")
        return
    for name in names[1:]:
        if name in arm and 2.0 * arm[name] >= girth:
            yield arm.fault(
                name,
                f"{arm.at_most(name, 0.5 * girth)}, half of {arm.show(names[0])} "
                "(lines mixed up, or taken with calipers?)")


def girth_bounds(width: float, depth: float) -> tuple[float, float]:
    """Return the least and the most girth that an oval of this width and depth can have, mm.

    Notes
    -----
    From the rhombus, 2√(w² + d²), to all but the rectangle, 2 (w + d).

    Examples
    --------
    >>> [round(bound) for bound in girth_bounds(30.0, 40.0)]
    [100, 139]
    """
    return (superellipse_perimeter(0.5 * width, 0.5 * depth, 1.0),
            superellipse_perimeter(0.5 * width, 0.5 * depth, MAX_EXPONENT))


def _armhole_faults(arm: ArmValues) -> Iterator[Fault]:
    if arm.is_traced:
        return  # a drawn line has its own sizes; they cannot contradict each other
    yield from _oval_faults(arm, ("armhole girth", "armhole width", "armhole height"))
    height, width = arm.get("armhole height"), arm.get("armhole width")
    if height is not None and width is not None and width > WIDEST_ARMHOLE * height:
        yield arm.fault(
            "armhole width",
            f"{arm.at_most('armhole width', WIDEST_ARMHOLE * height)}, {WIDEST_ARMHOLE} times "
            f"{arm.show('armhole height')} (width and height swapped?)")


def _cap_faults(arm: ArmValues) -> Iterator[Fault]:
    cap, height = arm.get("cap_height"), arm.get("armhole height")
    girth = arm.get("upper_arm_girth")
    if cap is None or height is None:
        return
    if cap < CAP_SHORTFALL * height:
        yield arm.fault(
            "cap_height",
            f"{arm.at_least('cap_height', CAP_SHORTFALL * height)} with "
            f"{arm.show('armhole height')}: the tape runs outward over the arm, not straight down "
            "(measured straight, or lines mixed up?)")
    if girth is None:
        return
    most = LONGEST_CAP * (height + arm_depth(girth, arm.ratio("upper_arm_ratio")))
    if cap > most:
        yield arm.fault(
            "cap_height",
            f"{arm.at_most('cap_height', most)} with {arm.show('armhole height')} and "
            f"{arm.show('upper_arm_girth')} (measured to the elbow, or lines mixed up?)")


def _arc_faults(arm: ArmValues) -> Iterator[Fault]:
    levels: dict[float, int] = {}
    for place, arc in enumerate(arm.table.cap_arcs):
        name = f"cap_arcs {place + 1}"
        if name in arm.faulty:
            continue
        at: Path = (*arm.at, "cap_arcs", place)
        here = line_of(at, arm.lines)
        if (arc.up is None) != (arc.length is None):
            lacking = "up" if arc.up is None else "length"
            yield Fault(here, f"{name} lacks {lacking}; each arc needs up (its level above the "
                              "underarm) and length", at)
        if arc.up is None or arc.length is None:
            continue
        twin = levels.setdefault(round(arc.up, 1), place)
        if twin != place:
            yield Fault(here, f"{name} is at the level {arm.say(arc.up)}, as is "
                              f"cap_arcs {twin + 1}; write repeated readings as a list: "
                              "length = [19.6, 19.8]", at)
        texts = _one_arc_faults(arm, arc.up, arc.length.mm)
        yield from (Fault(here, f"{name} {text}", at) for text in texts)


def _one_arc_faults(arm: ArmValues, up: float, length: float) -> Iterator[str]:
    height, width = arm.get("armhole height"), arm.get("armhole width")
    girth = arm.get("upper_arm_girth")
    if height is not None and up >= height:
        yield (f"up is {arm.say(up)}; expected at most {show_most(height, up, arm.unit)}, below "
               f"the top of {arm.show('armhole height')} (measured up the arm's slope?)")
        return
    if height is not None and width is not None:
        chord = chord_at(up, width, height)
        if length <= chord:
            yield (f"length is {arm.say(length)}; expected at least "
                   f"{show_least(chord, length, arm.unit)}, the armhole's own width at that level "
                   f"({arm.show('armhole width')}) (lines mixed up?)")
    if girth is not None and length > ARC_OVER_GIRTH * girth:
        most = show_most(ARC_OVER_GIRTH * girth, length, arm.unit)
        yield (f"length is {arm.say(length)}; expected at most {most} with "
               f"{arm.show('upper_arm_girth')} (went round under the arm?)")
