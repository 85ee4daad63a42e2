"""What the maker should look at again, though the arm can be made: notices, never refusals."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Mapping

from scipy.optimize import brentq

from unroll.maths.ellipses import truncated_arc
from unroll.nouns import ArmMeasures, CapArc, Notice
from unroll.sheets.fields import SPREAD_WARNING_PERCENT, Reading
from unroll.sheets.limits import STANCE_LIMITS, likely_slip, show, show_about, show_range
from unroll.sheets.plausibility import ArmValues, arm_depth, bend_deg, chord_at, elbow_width
from unroll.sheets.schema import ArmTable
from unroll.sheets.survey import STANDS_FOR, survey_range
from unroll.units import Unit

USUAL_BEND_DEG = 45.0
MOST_TOLD = 3  # notices of one kind; more are told in one
USUAL_TAPER: Mapping[tuple[str, str], tuple[float, float]] = {
    # smaller over larger girth; wide of what the survey's means give (0.82, 1.06, 0.60)
    ("elbow_girth", "upper_arm_girth"): (0.62, 1.02),
    ("forearm_girth", "elbow_girth"): (0.85, 1.25),
    ("wrist_girth", "forearm_girth"): (0.45, 0.80),
}
SIDES_DIFFER_PERCENT = 8.0
# An arm's girth under the cap over the upper arm's; usual by the means of the 1988 survey, women.
USUAL_UNDERARM, WIDER_UNDERARM = 1.03, 1.15


def spread_notices(arm: ArmTable, prefix: str, unit: Unit) -> Iterator[Notice]:
    """Yield a notice for each measure that was read more than once; one for many that agree."""
    readings: dict[str, object] = {name: getattr(arm, name) for name in ArmTable.model_fields}
    for name in ("width", "height", "girth"):
        readings[f"armhole {name}"] = getattr(arm.armhole, name)
    for place, arc in enumerate(arm.cap_arcs, 1):
        readings[f"cap_arcs {place} length"] = arc.length
    several = {name: reading for name, reading in readings.items()
               if isinstance(reading, Reading) and len(reading.readings) > 1}  # fmt: skip
    agree = [name for name, reading in several.items() if not _lie_apart(name, reading)]
    for name, reading in several.items():
        if name not in agree or len(agree) <= MOST_TOLD:
            yield Notice(name, prefix + _spread_text(name, reading, unit))
    if len(agree) > MOST_TOLD:
        lengths = [several[name].spread_percent for name in agree if name not in STANCE_LIMITS]
        within = f" within {max(lengths):.1f} %" if lengths else ""
        yield Notice("", f"{prefix}{len(agree)} measures were read more than once and agree"
                         f"{within}; the middle reading of each is used: {', '.join(agree)}")


def _lie_apart(name: str, reading: Reading) -> bool:
    """Tell whether readings differ by more than careful ones do."""
    return name not in STANCE_LIMITS and reading.spread_percent > SPREAD_WARNING_PERCENT


def _spread_text(name: str, reading: Reading, unit: Unit) -> str:
    low, high = min(reading.readings), max(reading.readings)
    text = (f"{name}: {len(reading.readings)} readings from "
            f"{show_range((low, high), unit, denominator=16)}")
    used = f"; {show(reading.mm, unit)} is used"
    if name in STANCE_LIMITS:  # about nought, no share of it means anything
        return text + used
    text += f" (spread {reading.spread_percent:.1f} %){used}"
    if _lie_apart(name, reading):
        text += (f". Warning: they lie more than {SPREAD_WARNING_PERCENT:.0f} % apart; "
                 "measure it again (was the tape at the same level, as tight?)")
    return text


def survey_notices(arm: ArmValues, prefix: str) -> Iterator[Notice]:
    """Yield a notice for each measure outside the survey's range, with the likely slip of unit.

    Many at once are told in one, and no slip is looked for in them: the arm is a child's, or very
    full, and a whole sheet in another unit is refused before.
    """
    outside: list[str] = []
    for name in STANDS_FOR:
        value, seen = arm.get(name), survey_range(name)
        if value is not None and seen is not None and not seen[0] <= value <= seen[1]:
            outside.append(name)
    if len(outside) > MOST_TOLD:
        yield Notice("", f"{prefix}{len(outside)} measures are outside what the surveys of 1988 "
                         f"and 2012 saw of grown people: {', '.join(map(arm.show, outside))} (fine "
                         "if the arm is so, a child's for instance; else look at the unit)")
        return
    for name in outside:
        slip, seen = likely_slip(name, arm[name], arm.unit), survey_range(name) or (0.0, 0.0)
        hint = f" ({slip}?)" if slip else " (fine if the arm is so; else measure it again)"
        yield Notice(name, f"{prefix}{arm.show(name)} is outside what the surveys of 1988 and 2012 "
                           f"saw, {show_range(seen, arm.unit)}{hint}")


def harmony_notices(
    arm: ArmMeasures, prefix: str, unit: Unit, weighed: Container[str] = ()
) -> Iterator[Notice]:
    """Yield a notice for each group of measures that an arm seldom has together.

    Parameters
    ----------
    arm : ArmMeasures
    prefix : str
        Which arm, to begin each notice with.
    unit : {"in", "cm", "mm"}
    weighed : container of str
        Measures of which it is told already that another value is taken.
    """
    yield from _cap_notices(arm, prefix, unit)
    yield from _taper_notices(arm, prefix, unit)
    if "shoulder_to_elbow" not in weighed:
        yield from _bend_notices(arm, prefix)
    yield from _wrist_notices(arm, prefix, unit)


def _taper_notices(arm: ArmMeasures, prefix: str, unit: Unit) -> Iterator[Notice]:
    for (name, other), (low, high) in USUAL_TAPER.items():
        value, whole = getattr(arm, name), getattr(arm, other)
        if arm.is_estimated(name) or low <= value / whole <= high:
            continue
        yield Notice(name, f"{prefix}{name} {show(value, unit)} is {100 * value / whole:.0f} % of "
                           f"{other} {show(whole, unit)}; usual is {100 * low:.0f} to "
                           f"{100 * high:.0f} % (lines mixed up, or the tape at another level?)")


def _bend_notices(arm: ArmMeasures, prefix: str) -> Iterator[Notice]:
    width = elbow_width(arm.elbow_girth, arm.elbow_ratio)
    bend = bend_deg(arm.shoulder_to_elbow, arm.shoulder_to_inner_elbow, width)
    if bend > USUAL_BEND_DEG:
        yield Notice("shoulder_to_elbow", f"{prefix}the lengths down back and front bend the elbow "
                                          f"by {bend:.0f} degrees; a hanging arm has 0 to "
                                          f"{USUAL_BEND_DEG:.0f} (was the elbow bent?)")


def _wrist_notices(arm: ArmMeasures, prefix: str, unit: Unit) -> Iterator[Notice]:
    if arm.wrist_depth > arm.wrist_width:
        yield Notice("wrist_depth", f"{prefix}wrist_depth {show(arm.wrist_depth, unit)} is more "
                                    f"than wrist_width {show(arm.wrist_width, unit)}; the width "
                                    "is across, thumb side to little-finger side (swapped?)")


def _cap_notices(arm: ArmMeasures, prefix: str, unit: Unit) -> Iterator[Notice]:
    yield from _wide_arc_notices(arm, prefix, unit)
    arcs = arm.cap_arcs
    for lower, upper in zip(arcs, arcs[1:], strict=False):
        if upper.length > lower.length:
            yield Notice("cap_arcs", f"{prefix}the cap arc at {show(upper.up, unit)} is longer "
                                     f"than the one below it at {show(lower.up, unit)} "
                                     "(lines mixed up?)")


def _wide_arc_notices(arm: ArmMeasures, prefix: str, unit: Unit) -> Iterator[Notice]:
    """Yield a notice where arcs ask for a wider underarm than the upper arm's girth gives."""
    asked = [(girth_under(arc, arm), arc) for arc in arm.cap_arcs]
    if not asked:
        return
    girth, arc = max(asked, key=lambda pair: pair[0])
    if girth > WIDER_UNDERARM * arm.upper_arm_girth:
        fits = arc.length * USUAL_UNDERARM * arm.upper_arm_girth / girth
        yield Notice("cap_arcs", f"{prefix}the cap arc {show(arc.length, unit)} long at "
                                 f"{show(arc.up, unit)} asks for an arm about "
                                 f"{show_about(girth, unit)} round under it; upper_arm_girth is "
                                 f"{show(arm.upper_arm_girth, unit)}, with which an arc of about "
                                 f"{show_about(fits, unit)} would fit (one of the two mistaken?)",
                     fights=True)


def girth_under(arc: CapArc, arm: ArmMeasures) -> float:
    """Return the least girth of an arm whose cap carries an arc, mm.

    Notes
    -----
    The fullest cap that shoulders have is about an ellipse's quarter from the shoulder point to
    the arm's depth at the underarm; the arc is a piece of the arm's section cut by the armhole.
    """
    plate = arm.armhole
    level = arc.up / plate.height
    chord = 0.5 * chord_at(arc.up, plate.width, plate.height)

    def too_long(girth: float) -> float:
        reach = arm_depth(girth, arm.upper_arm_ratio) * math.sqrt(1.0 - level**2)
        share = (chord / (arm.upper_arm_ratio * reach)) ** 2
        cosine = (1.0 - share) / (1.0 + share)
        half_depth = reach / (1.0 + cosine)
        return half_depth * float(
            truncated_arc(math.acos(cosine), arm.upper_arm_ratio)) - arc.length

    return float(brentq(too_long, 1e-3 * arc.length, 1e3 * arc.length))


SLIP_MM, OFF_MM = 3.0, 10.0  # of a tape, and of an armhole; what each does is told


def untold_stance(arm: ArmMeasures, unit: Unit) -> Iterator[str]:
    """Yield what is taken for how the armhole stands and the arm hangs where nothing is told of it.

    Each with how much it matters.
    """
    yield from untold_plate(arm, unit)
    yield from untold_wrist(arm, unit)


def untold_plate(arm: ArmMeasures, unit: Unit) -> Iterator[str]:
    """Yield what is taken for how the armhole stands where that is not told.

    A plate that leans or rolls swings the whole arm about the shoulder point, one that is turned
    takes the wrist round the plumb line.
    """
    front, lower = arm.shoulder_to_inner_elbow, arm.inner_elbow_to_wrist
    bend = bend_deg(arm.shoulder_to_elbow, front, elbow_width(arm.elbow_girth, arm.elbow_ratio))
    aside = math.hypot(0.5 * arm_depth(arm.upper_arm_girth, arm.upper_arm_ratio),
                       lower * math.sin(math.radians(bend)))
    swing, hole = (front + lower) / arm.armhole.height, arm.armhole
    moves = {"underarm_inside": swing, "underarm_behind": swing, "front_inside": aside / hole.width}
    untold = [name for name in moves if getattr(arm.stance, name) is None]
    if untold:
        wrist = _listed([show_about(OFF_MM * moves[name], unit) for name in untold])
        yield (f"{_listed(untold)} not given, so the armhole is taken as upright and facing "
               f"straight out; each {show(OFF_MM, unit)} of it moves the wrist by about {wrist}")


def untold_wrist(arm: ArmMeasures, unit: Unit) -> Iterator[str]:
    """Yield what is taken for how a taped arm hangs where that is not told."""
    width = elbow_width(arm.elbow_girth, arm.elbow_ratio)
    means = {
        "wrist_outward": "the arm is taken to hang straight down",
        "wrist_forward": "the elbow's bend is taken from the lengths down back and front: each "
                         f"{show(SLIP_MM, unit)} that one of them is off moves the wrist by about "
                         f"{show_about(2.0 * SLIP_MM * arm.inner_elbow_to_wrist / width, unit)}",
    }
    untold = [name for name in means if getattr(arm.stance, name) is None]
    if untold:
        yield f"{_listed(untold)} not given, so {_listed([means[name] for name in untold])}"


def _listed(parts: list[str]) -> str:
    """Return "one, two and three"."""
    return " and ".join([", ".join(parts[:-1])] * (len(parts) > 1) + parts[-1:])


def sides_notices(left: ArmMeasures, right: ArmMeasures, unit: Unit) -> Iterator[Notice]:
    """Yield a notice for each measure that differs much between the two arms."""
    for name in STANDS_FOR:
        if " " in name:
            continue
        a, b = getattr(left, name), getattr(right, name)
        percent = 200.0 * abs(a - b) / (a + b)
        if percent > SIDES_DIFFER_PERCENT:
            yield Notice(name, f"{name} is {show(a, unit)} on the left and {show(b, unit)} on the "
                               f"right, {percent:.0f} % apart (fine if so; else measure again)")
