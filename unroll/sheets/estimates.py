"""What the maker left out, estimated from the rest and the survey tables; each with its source."""

from __future__ import annotations

import math
from statistics import fmean

from unroll.maths.ellipses import ellipse_half_depth, ellipse_perimeter, superellipse_perimeter
from unroll.nouns import Armhole, CapArc, Estimate, Notice
from unroll.sheets.armholes import WIDTH_OVER_HEIGHT, diameter_of, other_diameter
from unroll.sheets.completing import FINEST, Completing
from unroll.sheets.plausibility import (
    LONGEST_CAP,
    SHALLOWEST_ARMHOLE,
    ArmValues,
    arm_depth,
    back_over_front,
    bend_deg,
    chord_at,
    elbow_width,
)
from unroll.sheets.survey import girth_factor, mean_over_both, share_of

DEFAULT_BEND_DEG = 15.5  # upright CT of 158 arms at rest, 2022, doi 10.1186/s13018-022-03113-5
WRIST_RATIO = 1.45  # carpal-tunnel anthropometry: width over depth 1.42 to 1.53
RELAXED_FOREARM = 0.96  # of the flexed girth that the survey took; house value, low confidence
UPPER_ARM_SHARE = 0.6  # of the way from inner elbow to underarm; house value
FOREARM_SHARE = 0.26  # of the way from inner elbow to wrist; house value
BELOW_AXILLA = 15.0  # mm that an armhole's lowest point lies below the axilla; common practice
PLATE_OVER_ARM = 1.03  # armhole width over the arm's width, front to back; house value
# Cap profile over the straight line from shoulder point to underarm level: 1 would be the line
# itself, 1.11 an ellipse's quarter; house value between them, low confidence.
CAP_ROUNDING = 1.06
DEFAULT_SLOPE_DEG = 20.0
# A cap's profile over the straight way, beyond which lofted caps turn in and out again by more than
# 10 degrees; the lower where the plate leans.
FULLEST_CAP, FLATTEST_LEANING_CAP = 1.16, 1.03

# What estimates keep to, and unusual readings are taken as; house values.
GREATEST_BEND = 0.72  # back less front length over the elbow's width: 72 degrees
USUAL_DEPTH = 0.52  # of the upper arm's length: an armhole estimated is no deeper
MOST_DEPTH = 0.79  # of the same: a measured one is taken as no deeper
SLIMMEST, WIDEST = 0.45, 1.5  # an armhole's width over its height
OVER_THE_CAP = 0.36  # of the upper arm's depth; see `_over_the_cap`
MOST_LEAN = 0.42  # of the armhole's height or width: about 25 degrees
MOST_SWING = 0.5  # of the upper arm's length: how far the elbow hangs off plumb, 30 degrees
LEAST_SWUNG = 0.75  # of the elbow's width: how far it lies below the underarm to tell of the hang
MOST_REACH = 0.7  # of the forearm's: how far the wrist hangs off the elbow's plumb
LONGEST_OVAL = 2.5  # a wrist's one diameter over the other
SOFTEST, SQUAREST = 1.5, 8.0  # exponents of the ovals between a rhombus and a rectangle


def complete(arm: ArmValues, arcs: tuple[CapArc, ...]) -> Completing:
    """Return the arm's measures with what was missing estimated.

    Parameters
    ----------
    arm : ArmValues
        Sound readings, of which none fights another past what an arm can have.
    arcs : tuple of CapArc
        As measured.

    Notes
    -----
    The order is fixed: wrist, girths, lengths, armhole, levels, cap. Each step knows all readings
    and the steps before it, and keeps its estimates within what those leave open; where readings
    among themselves leave nothing open, the later one in that order is taken at the nearest value
    that goes. So the outcome is in harmony whatever was left out.

    Girths scale as the geometric mean of upper arm and wrist girth, which tracks both the bone
    and the flesh: over women's and men's survey means the factor differs by about 1 %. Levels
    and plate sizes that no survey gives are house values, and their source says so.
    """
    done = Completing(arm)
    _wrist(done)
    _girths(done)
    _lengths(done, arcs)
    if not arm.is_traced:
        _armhole(done, arcs)
    _stance(done)
    _levels(done)
    _cap_height(done)
    share = share_of("shoulderlength", "shoulderelbowlength")
    done.fill("shoulder_length", share * done["shoulder_to_elbow"],
              f"{share:.3f} of shoulder_to_elbow (survey 2012)")
    return done


def plate_of(done: Completing) -> Armhole:
    """Return the oval plate of a completed arm."""
    width, height, girth = (done[f"armhole {kind}"] for kind in ("width", "height", "girth"))
    return Armhole(width, height, girth)


def _wrist(done: Completing) -> None:
    girth = done["wrist_girth"]
    thin, wide = _diameters(girth, LONGEST_OVAL)
    for name, other in (("wrist_width", "wrist_depth"), ("wrist_depth", "wrist_width")):
        if name in done and other not in done:
            done.weigh(name, thin, wide, f"leaves too little of {done.arm.show('wrist_girth')} "
                                         "for its other way (lines mixed up?)")
            done.fill(other, other_diameter(done[name], girth),
                      f"from wrist_girth and {name}, as an oval")
    if "wrist_width" in done:
        _fit_wrist(done, girth)
        return
    depth = arm_depth(girth, WRIST_RATIO)
    source = f"from wrist_girth, width {WRIST_RATIO} of the depth (carpal-tunnel papers)"
    done.fill("wrist_width", WRIST_RATIO * depth, source)
    done.fill("wrist_depth", depth, source)


def _fit_wrist(done: Completing, girth: float) -> None:
    """Scale a wrist's width and depth where no smooth oval of them has the girth."""
    width, depth = done["wrist_width"], done["wrist_depth"]
    shortest, longest = _oval_range(width, depth)
    factor = max(girth / longest, min(girth / shortest, 1.0))
    say = done.arm.say
    done.values |= {"wrist_width": factor * width, "wrist_depth": factor * depth}
    if abs(factor - 1.0) * width < FINEST or say(factor * width) == say(width):
        return
    done.notices.append(Notice(
        "wrist_width", f"wrist_width {say(width)} and wrist_depth {say(depth)} do not go with "
                       f"wrist_girth {say(girth)}; {say(factor * width)} and "
                       f"{say(factor * depth)} are taken instead"))


def _oval_range(width: float, depth: float) -> tuple[float, float]:
    soft, square = (superellipse_perimeter(0.5 * width, 0.5 * depth, exponent)
                    for exponent in (SOFTEST, SQUAREST))
    return soft, square


def _diameters(girth: float, ratio: float) -> tuple[float, float]:
    """Return the smaller and the larger diameter of an ellipse of this girth, mm."""
    small = 2.0 * float(ellipse_half_depth(girth, ratio))
    return small, ratio * small


def _girths(done: Completing) -> None:
    upper, wrist = done["upper_arm_girth"], done["wrist_girth"]
    middle = math.sqrt(upper * wrist)
    elbow = girth_factor(1988, "ELBOW_CIRC-EXTENDED")
    forearm = RELAXED_FOREARM * girth_factor(1988, "FOREARM_CIRC-FLEXED")
    beside = done.values.get("forearm_girth")
    low, high = (wrist, upper) if beside is None else (beside / 1.25, beside / 0.85)
    done.fill("elbow_girth", elbow * middle,
              f"{elbow:.3f} of the mean of upper_arm_girth and wrist_girth (survey 1988)",
              least=low, most=high)
    done.fill("forearm_girth", forearm * middle,
              f"{forearm:.3f} of the mean of upper_arm_girth and wrist_girth (survey 1988, less "
              "4 % for a relaxed arm)",
              least=0.85 * done["elbow_girth"], most=1.25 * done["elbow_girth"])


def _lengths(done: Completing, arcs: tuple[CapArc, ...]) -> None:
    width = elbow_width(done["elbow_girth"], done["elbow_ratio"])
    extra = back_over_front(DEFAULT_BEND_DEG, width)
    bend = f"at a resting bend of {DEFAULT_BEND_DEG} degrees (upright CT of 158 arms, 2022)"
    if "wrist_forward" in done:
        ahead = (done["wrist_forward"] - _elbow_forward(done)) / done["inner_elbow_to_wrist"]
        turn = math.degrees(math.asin(max(-MOST_REACH, min(ahead, MOST_REACH))))
        extra = back_over_front(turn, width)
        bend = "by how far forward the wrist hangs"
    back, front = (done.values.get(f"shoulder_to_{end}") for end in ("elbow", "inner_elbow"))
    if back is not None and front is not None:
        if "wrist_forward" not in done:  # else the two only tell how long the upper arm is
            _weigh_bend(done, back, front, width)
    elif back is not None:
        # as long as the readings below the shoulder ask for, and no longer than the back
        taken = done.values.get("armhole height", _least_height(done, arcs, back))
        taken += done.values.get("upper_arm_up", 0.0)
        done.fill("shoulder_to_inner_elbow", back - extra, f"from shoulder_to_elbow {bend}",
                  least=min(back, max(0.7 * back, 1.05 * (taken + _over_the_cap(done)))))
    elif front is not None:
        done.fill("shoulder_to_elbow", front + extra, f"from shoulder_to_inner_elbow {bend}")


def _elbow_forward(done: Completing) -> float:
    """Return how far the elbow hangs forward of the plumb line: below the underarm if not told."""
    return done.values.get("elbow_forward", -done.values.get("underarm_behind", 0.0))


def _plumb_forward(done: Completing, depth: float) -> float:
    """Return how far forward the middle of the upper arm begins, where it leaves the plate, mm."""
    turned = done.values.get("front_inside", 0.0) / done["armhole width"]
    return 0.5 * depth * turned - done.values.get("underarm_behind", 0.0)


def _stance(done: Completing) -> None:
    """Keep how the armhole stands and the arm hangs within what they can."""
    for name, kind in (("underarm_inside", "height"), ("underarm_behind", "height"),
                       ("front_inside", "width")):
        most = MOST_LEAN * done[f"armhole {kind}"]
        done.weigh(name, -most, most, "would turn the armhole by more than "
                                      f"{math.degrees(math.asin(MOST_LEAN)):.0f} degrees "
                                      "(wrong unit, or measured from elsewhere?)")
    depth = arm_depth(done["upper_arm_girth"], done["upper_arm_ratio"])
    _leave_out_elbow(done)
    plumb = {"forward": _plumb_forward(done, depth),
             "outward": 0.5 * depth - done.values.get("underarm_inside", 0.0)}
    upper = MOST_SWING * (done["shoulder_to_inner_elbow"] - done["armhole height"])
    lower = MOST_REACH * done["inner_elbow_to_wrist"]
    for way, middle in plumb.items():
        why = "is farther than the arm reaches while it hangs (wrong unit, or mistyped?)"
        done.weigh(f"elbow_{way}", middle - upper, middle + upper, why)
        middle = done.values.get(f"elbow_{way}", middle)
        done.weigh(f"wrist_{way}", middle - lower, middle + lower, why)


def _leave_out_elbow(done: Completing) -> None:
    """Leave out where the elbow hangs on an arm that is rounder than it is long above it.

    There it tells nothing of how the arm hangs: a slip of a few mm would turn it by many degrees.
    """
    below = done["shoulder_to_inner_elbow"] - done["armhole height"] - _over_the_cap(done)
    if below >= LEAST_SWUNG * elbow_width(done["elbow_girth"], done["elbow_ratio"]):
        return
    for name in ("elbow_outward", "elbow_forward"):
        if name in done.arm:
            del done.values[name]
            done.notices.append(Notice(
                name, f"{done.arm.show(name)} is left out: the elbow lies so near the underarm "
                      "that it does not tell how the arm hangs"))


def _weigh_bend(done: Completing, back: float, front: float, width: float) -> None:
    """Take a resting elbow where the back is the shorter way, and at most as bent as it goes.

    A back shorter than the front says nothing of the bend: the reading is then off by 8 to 27
    degrees (modelled arms, tests.study_measures); half of all people at rest lie within 13 to 18.
    """
    resting, most = back_over_front(DEFAULT_BEND_DEG, width), GREATEST_BEND * width
    apart = resting if back < front else min(back - front, most)
    if abs(back - front) < FINEST or abs(apart - (back - front)) < FINEST:
        return
    middle, arm = 0.5 * (back + front), done.arm
    taken = {"shoulder_to_elbow": middle + 0.5 * apart,
             "shoulder_to_inner_elbow": middle - 0.5 * apart}
    done.values |= taken
    longer, shorter = (arm.say(mm) for mm in taken.values())
    if back < front:
        text = (f"shoulder_to_elbow {arm.say(back)} is less than "
                f"{arm.show('shoulder_to_inner_elbow')}, though the back is the longer way; "
                f"{longer} and {shorter} are taken instead, for an elbow bent by "
                f"{DEFAULT_BEND_DEG} degrees as at rest (measure both again, or tell how far "
                "forward the wrist hangs)")
    else:
        text = (f"the lengths down back and front, {arm.say(back)} and {arm.say(front)}, bend the "
                f"elbow by {bend_deg(back, front, width):.0f} degrees; {longer} and {shorter} are "
                "taken instead (was the elbow bent?)")
    done.notices.append(Notice("shoulder_to_elbow", text))


def _over_the_cap(done: Completing) -> float:
    """Return how much longer the tape's way down the front is than straight down, mm.

    It runs out over the cap before it comes down: on arms of all sizes that were lofted, 0.29 to
    0.38 of the upper arm's depth.
    """
    return OVER_THE_CAP * arm_depth(done["upper_arm_girth"], done["upper_arm_ratio"])


def _deepest(done: Completing) -> float:
    """Return how high an armhole may be so that some upper arm is left below it, mm."""
    front = done["shoulder_to_inner_elbow"]
    return max(0.5 * front, min(MOST_DEPTH * front, 0.92 * front - _over_the_cap(done)))


def _armhole(done: Completing, arcs: tuple[CapArc, ...]) -> None:
    """Fill height, then width, then girth of a plate that was not traced."""
    front = done["shoulder_to_inner_elbow"]
    done.weigh("armhole height", 0.0, _deepest(done),
               f"leaves no upper arm above the elbow, {done.arm.say(front)} down")
    _weigh_plate_girth(done)
    _armhole_height(done, arcs)
    _armhole_width(done, arcs)
    width, height = done["armhole width"], done["armhole height"]
    done.fill("armhole girth", float(ellipse_perimeter(0.5 * width, 0.5 * height)),
              "from armhole width and height, as an oval")
    done.weigh("armhole girth", *_oval_range(width, height),
               f"does not go with armhole width {done.arm.say(width)} and height "
               f"{done.arm.say(height)} (lines mixed up?)")


def _weigh_plate_girth(done: Completing) -> None:
    """Keep a plate's girth within what the one diameter that was measured with it carries."""
    there = [name for name in ("armhole width", "armhole height") if name in done]
    if "armhole girth" not in done or len(there) != 1:
        return
    name, known = there[0], done[there[0]]
    shares = (SLIMMEST, WIDEST) if name == "armhole height" else (1 / WIDEST, 1 / SLIMMEST)
    low, high = (float(ellipse_perimeter(0.5 * share * known, 0.5 * known)) for share in shares)
    done.weigh("armhole girth", low, high, f"does not go with {name} {done.arm.say(known)} "
                                           "(lines mixed up?)")


def _armhole_height(done: Completing, arcs: tuple[CapArc, ...]) -> None:
    least, most = _height_range(done, arcs)
    width, girth = (done.values.get(f"armhole {kind}") for kind in ("width", "girth"))
    if width is not None and girth is not None:
        low, high = (diameter_of(width, girth, exponent) for exponent in (SQUAREST, SOFTEST))
        low, high = max(low, width / WIDEST), min(high, width / SLIMMEST)
        value, source = other_diameter(width, girth), "from armhole width and girth, as an oval"
    elif width is not None:
        low, high = width / WIDEST, width / SLIMMEST
        value = width / WIDTH_OVER_HEIGHT
        source = f"from armhole width, {WIDTH_OVER_HEIGHT} of the height (usual value, no source)"
    elif girth is not None:
        (_, high), (low, _) = _diameters(girth, 1.0 / SLIMMEST), _diameters(girth, WIDEST)
        value = 2.0 * float(ellipse_half_depth(girth, WIDTH_OVER_HEIGHT))
        source = (f"from armhole girth, a width of {WIDTH_OVER_HEIGHT} of the height (usual value, "
                  "no source)")
    else:
        low, high = 0.0, math.inf
        value, source = height_by_girth(done["upper_arm_girth"])
    low, high = (min(limit, 0.99 * _deepest(done)) for limit in (low, high))
    # the plate's own readings go first, then what hangs below it
    least, most = max(low, min(least, high)), min(high, max(most, low))
    done.fill("armhole height", value, source, least=least, most=most)


def height_by_girth(girth: float) -> tuple[float, str]:
    """Return a usual armhole's height for an upper-arm girth, mm, and where it comes from."""
    share = fmean(
        (acromion - axilla) / arm
        for acromion, axilla, arm in zip(
            mean_over_both(1988, "ACROMION_HT"), mean_over_both(1988, "AXILLA_HT"),
            mean_over_both(1988, "ARM_CIRC-AXILLARY"), strict=True)
    )
    return share * girth + BELOW_AXILLA, (
        f"{share:.3f} of upper_arm_girth (survey 1988: acromion above axilla) plus "
        f"{BELOW_AXILLA:.0f} mm (common practice; measure the plate)")


def _height_range(done: Completing, arcs: tuple[CapArc, ...]) -> tuple[float, float]:
    """Return how high the armhole may be for the other readings, mm."""
    front = done["shoulder_to_inner_elbow"]
    most = USUAL_DEPTH * front
    if "cap_height" in done:
        depth = _cap_depth(done)
        most = min(most, math.sqrt(max(0.0, (done["cap_height"] / CAP_ROUNDING) ** 2 - depth**2)))
    if "upper_arm_up" in done:
        most = min(most, 0.955 * front - done["upper_arm_up"] - _over_the_cap(done))
    return min(_least_height(done, arcs, front), 0.75 * front), most


def _least_height(done: Completing, arcs: tuple[CapArc, ...], front: float) -> float:
    """Return the least armhole height that arcs, taped some way below its top, and cap leave."""
    cap = done.values.get("cap_height", 0.0)
    depth = _cap_depth(done)
    return max([SHALLOWEST_ARMHOLE * front, cap / LONGEST_CAP - depth,
                *(1.05 * arc.up for arc in arcs)])


def _armhole_width(done: Completing, arcs: tuple[CapArc, ...]) -> None:
    height, girth = done["armhole height"], done.values.get("armhole girth")
    # no wider at any level than the arc that was taped over it
    chords = [(arc.length, chord_at(arc.up, 1.0, height)) for arc in arcs if arc.up < height]
    most = min([WIDEST * height, *(0.85 * length / max(chord, 0.05) for length, chord in chords)])
    if girth is not None:
        low, high = (diameter_of(height, girth, exponent) for exponent in (SQUAREST, SOFTEST))
        low = max(low, SLIMMEST * height)
        done.fill("armhole width", other_diameter(height, girth),
                  "from armhole girth and height, as an oval",
                  least=low, most=max(low, min(high, most)))
    elif any(e.name == "armhole height" for e in done.estimates):
        width = PLATE_OVER_ARM * elbow_width(done["upper_arm_girth"], done["upper_arm_ratio"])
        done.fill("armhole width", width, f"{PLATE_OVER_ARM} of the upper arm's width (usual "
                                          "value, no source; measure the armhole)",
                  least=SLIMMEST * height, most=most)
    else:
        done.fill("armhole width", WIDTH_OVER_HEIGHT * height,
                  f"from armhole height, {WIDTH_OVER_HEIGHT} of it (usual value, no source)",
                  least=SLIMMEST * height, most=most)


def _levels(done: Completing) -> None:
    front, lower = done["shoulder_to_inner_elbow"], done["inner_elbow_to_wrist"]
    above = front - done["armhole height"]
    underarm = max(above - _over_the_cap(done), 0.1 * front)  # straight up from the inner elbow
    highest = max(underarm - 0.04 * front, 0.08 * front)
    done.weigh("upper_arm_up", 0.0, highest,
               f"lies about as high as the underarm, {done.arm.say(underarm)} up (measured from "
               "the wrong end?)")
    done.fill("upper_arm_up", UPPER_ARM_SHARE * above,
              f"{UPPER_ARM_SHARE} of the way from inner elbow to underarm (usual value, no source)",
              most=min(0.8 * underarm, 0.99 * highest))
    done.weigh("forearm_down", 0.0, 0.9 * lower,
               f"lies at the wrist, {done.arm.say(lower)} down (measured from the wrong end?)")
    done.fill("forearm_down", FOREARM_SHARE * lower,
              f"{FOREARM_SHARE} of inner_elbow_to_wrist (usual value, no source)")


def _cap_depth(done: Completing) -> float:
    """Return how far the arm's outside lies from the plumb line at the underarm's level, mm."""
    depth = arm_depth(done["upper_arm_girth"], done["upper_arm_ratio"])
    return max(depth - done.values.get("underarm_inside", 0.0), 0.3 * depth)


def _cap_height(done: Completing) -> None:
    height = done["armhole height"]
    depth = _cap_depth(done)
    inside = done.values.get("underarm_inside", 0.0)
    straight = math.hypot(math.sqrt(height**2 - inside**2), depth)
    measured = done.values.get("cap_height")
    if measured is not None and measured < straight:
        _short_cap(done, measured, straight)
        return
    done.weigh("cap_height", straight, 0.98 * LONGEST_CAP * (height + depth),
               "is longer than any way over the cap (measured to the elbow?)")
    if measured is not None:
        _wavy_cap(done, done["cap_height"] / straight, straight)
    done.fill("cap_height", CAP_ROUNDING * straight,
              f"{CAP_ROUNDING} of the straight line over armhole height and upper arm depth "
              "(usual value, no source)")


def _wavy_cap(done: Completing, rounding: float, straight: float) -> None:
    """Say so where a cap height can only be met by a cap that goes in and out."""
    leans = abs(done.values.get("underarm_inside", 0.0)) > FINEST
    if rounding <= FULLEST_CAP and not (leans and rounding < FLATTEST_LEANING_CAP):
        return
    arm, way = done.arm, "long" if rounding > FULLEST_CAP else "short"
    beside = [arm.show("underarm_inside")] if leans else []
    beside += [f"{name} {arm.say(done[name])}" for name in ("armhole height", "upper_arm_girth")]
    done.notices.insert(0, Notice(
        "cap_height",
        f"cap_height {arm.say(done['cap_height'])} is {way} for {', '.join(beside)}, and makes a "
        f"cap that goes in and out; about {arm.say_about(CAP_ROUNDING * straight)} would fit "
        "(read one of them again)"))


def _short_cap(done: Completing, measured: float, straight: float) -> None:
    """Take a cap height that would make a cone as an estimate, and say what would fit."""
    arm, kept = done.arm, CAP_ROUNDING * straight
    done.values["cap_height"] = kept
    done.estimates.append(Estimate(
        "cap_height", kept, f"{arm.say(measured)} was measured, less than the straight way",
        measured))
    done.notices.insert(0, Notice(
        "cap_height",
        f"cap_height {arm.say(measured)} is less than the straight way over armhole height "
        f"{arm.say(done['armhole height'])} and the depth of upper_arm_girth "
        f"{arm.say(done['upper_arm_girth'])}, {arm.say(straight)}, and would make a cone; about "
        f"{arm.say_about(kept)} would fit and is taken instead (measured straight down, or the "
        "girth over a bent arm?)"))
