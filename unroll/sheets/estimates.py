"""What the maker left out, estimated from the rest and the survey tables; each with its source."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import fmean

from unroll.maths.ellipses import ellipse_half_depth, ellipse_perimeter
from unroll.nouns import Armhole, Estimate
from unroll.sheets.armholes import other_diameter
from unroll.sheets.plausibility import DEFAULT_RATIOS, ArmValues, elbow_width
from unroll.sheets.survey import mean_over_both

DEFAULT_BEND_DEG = 15.5  # upright CT of 158 arms at rest, 2022, doi 10.1186/s13018-022-03113-5
WRIST_RATIO = 1.45  # carpal-tunnel anthropometry: width over depth 1.42 to 1.53
RELAXED_FOREARM = 0.96  # of the flexed girth that the survey took; house value, low confidence
UPPER_ARM_SHARE = 0.6  # of the way from inner elbow to underarm; house value
FOREARM_SHARE = 0.26  # of the way from inner elbow to wrist; house value
BELOW_AXILLA = 15.0  # mm that an armhole's lowest point lies below the axilla; common practice
PLATE_OVER_ARM = 1.05  # armhole width over the arm's width, front to back; house value
# Cap profile over the straight line from shoulder point to underarm level: 1 would be the line
# itself, 1.11 an ellipse's quarter; house value between them, low confidence.
CAP_ROUNDING = 1.06
DEFAULT_SLOPE_DEG = 20.0


class Completing:
    """The measures of one arm, filled in one by one.

    Parameters
    ----------
    values : mapping of str to float
        What was measured, mm.
    """

    def __init__(self, values: Mapping[str, float]) -> None:
        """Start from what was measured."""
        self.values = dict(values)
        self.estimates: list[Estimate] = []

    def __getitem__(self, name: str) -> float:
        """Return a value, measured or estimated."""
        return self.values[name]

    def fill(self, name: str, estimate: Callable[[], tuple[float, str]]) -> None:
        """Set `name` from `estimate` unless it was measured."""
        if name not in self.values:
            self.values[name], source = estimate()
            self.estimates.append(Estimate(name, self.values[name], source))


def complete(arm: ArmValues, armhole: Armhole | None) -> Completing:
    """Return the arm's measures with what was missing estimated.

    Parameters
    ----------
    arm : ArmValues
        Sound measures, of which none fights another past what an arm can have.
    armhole : Armhole or None
        The plate, where anything of it was measured.

    Notes
    -----
    Girths scale as the geometric mean of upper arm and wrist girth, which tracks both the bone
    and the flesh: over women's and men's survey means the factor differs by about 1 %. Levels
    and plate sizes that no survey gives are house values, and their source says so.
    """
    done = Completing({**DEFAULT_RATIOS, **arm.values})
    _fill_girths(done)
    _fill_lengths(done)
    _fill_wrist(done)
    height = armhole.height if armhole else _armhole_height(done)[0]
    _fill_levels(done, height)
    done.fill("cap_height", lambda: _cap_height(done, height))
    done.fill("shoulder_length", lambda: _shoulder_length(done))
    return done


def estimated_armhole(done: Completing) -> tuple[Armhole, tuple[Estimate, ...]]:
    """Return the plate for an arm whose armhole was not measured at all."""
    height, source = _armhole_height(done)
    width = PLATE_OVER_ARM * elbow_width(done["upper_arm_girth"], done["upper_arm_ratio"])
    girth = float(ellipse_perimeter(0.5 * width, 0.5 * height))
    return Armhole(width, height, girth), (
        Estimate("armhole width", width,
                 f"{PLATE_OVER_ARM} of the upper arm's width (house value; measure the plate)"),
        Estimate("armhole height", height, source),
        Estimate("armhole girth", girth, "from armhole width and height, as an oval"),
    )


def girth_factor(year: int, measure: str) -> float:
    """Return a girth over the geometric mean of upper arm and wrist girth, mean of both sexes.

    Examples
    --------
    >>> round(girth_factor(1988, "ELBOW_CIRC-EXTENDED"), 3)
    1.141
    """
    return fmean(
        girth / math.sqrt(arm * wrist)
        for girth, arm, wrist in zip(
            mean_over_both(year, measure),
            mean_over_both(1988, "ARM_CIRC-AXILLARY"),
            mean_over_both(1988, "WRIST_CIRC-STYLION"),
            strict=True,
        )
    )


def _fill_girths(done: Completing) -> None:
    middle = math.sqrt(done["upper_arm_girth"] * done["wrist_girth"])
    elbow = girth_factor(1988, "ELBOW_CIRC-EXTENDED")
    forearm = RELAXED_FOREARM * girth_factor(1988, "FOREARM_CIRC-FLEXED")
    done.fill("elbow_girth", lambda: (
        elbow * middle,
        f"{elbow:.3f} of the mean of upper_arm_girth and wrist_girth (survey 1988)"))
    done.fill("forearm_girth", lambda: (
        forearm * middle,
        f"{forearm:.3f} of the mean of upper_arm_girth and wrist_girth (survey 1988, less 4 % for "
        "a relaxed arm)"))


def _fill_lengths(done: Completing) -> None:
    width = elbow_width(done["elbow_girth"], done["elbow_ratio"])
    extra = width * math.tan(math.radians(DEFAULT_BEND_DEG))
    bend = f"at a resting bend of {DEFAULT_BEND_DEG} degrees (upright CT of 158 arms, 2022)"
    done.fill("shoulder_to_elbow", lambda: (
        done["shoulder_to_inner_elbow"] + extra, f"from shoulder_to_inner_elbow {bend}"))
    done.fill("shoulder_to_inner_elbow", lambda: (
        done["shoulder_to_elbow"] - extra, f"from shoulder_to_elbow {bend}"))


def _fill_wrist(done: Completing) -> None:
    girth = done["wrist_girth"]
    if "wrist_width" in done.values:
        done.fill("wrist_depth", lambda: (
            other_diameter(done["wrist_width"], girth),
            "from wrist_girth and wrist_width, as an oval"))
    elif "wrist_depth" in done.values:
        done.fill("wrist_width", lambda: (
            other_diameter(done["wrist_depth"], girth),
            "from wrist_girth and wrist_depth, as an oval"))
    else:
        depth = 2.0 * float(ellipse_half_depth(girth, WRIST_RATIO))
        source = f"from wrist_girth, width {WRIST_RATIO} of the depth (carpal-tunnel papers)"
        done.fill("wrist_width", lambda: (WRIST_RATIO * depth, source))
        done.fill("wrist_depth", lambda: (depth, source))


def _fill_levels(done: Completing, armhole_height: float) -> None:
    room = max(done["shoulder_to_inner_elbow"] - armhole_height,
               0.3 * done["shoulder_to_inner_elbow"])
    done.fill("upper_arm_up", lambda: (
        UPPER_ARM_SHARE * room,
        f"{UPPER_ARM_SHARE} of the way from inner elbow to underarm (house value)"))
    done.fill("forearm_down", lambda: (
        FOREARM_SHARE * done["inner_elbow_to_wrist"],
        f"{FOREARM_SHARE} of inner_elbow_to_wrist (house value)"))


def _armhole_height(done: Completing) -> tuple[float, str]:
    shares = (
        (acromion - axilla) / arm
        for acromion, axilla, arm in zip(
            mean_over_both(1988, "ACROMION_HT"), mean_over_both(1988, "AXILLA_HT"),
            mean_over_both(1988, "ARM_CIRC-AXILLARY"), strict=True)
    )
    share = fmean(shares)
    front = done["shoulder_to_inner_elbow"]
    # never so deep that no upper arm is left between underarm and elbow
    room = min(0.55 * front, front - 1.03 * done.values.get("upper_arm_up", 0.0))
    height = min(share * done["upper_arm_girth"] + BELOW_AXILLA, room)
    return height, (f"{share:.3f} of upper_arm_girth (survey 1988: acromion above axilla) plus "
                    f"{BELOW_AXILLA:.0f} mm (common practice; measure the plate)")


def _cap_height(done: Completing, armhole_height: float) -> tuple[float, str]:
    depth = 2.0 * float(ellipse_half_depth(done["upper_arm_girth"], done["upper_arm_ratio"]))
    return CAP_ROUNDING * math.hypot(armhole_height, depth), (
        f"{CAP_ROUNDING} of the straight line over armhole height and upper arm depth "
        "(house value)")


def _shoulder_length(done: Completing) -> tuple[float, str]:
    share = fmean(
        shoulder / arm for shoulder, arm in zip(
            mean_over_both(2012, "shoulderlength"), mean_over_both(2012, "shoulderelbowlength"),
            strict=True)
    )
    return share * done["shoulder_to_elbow"], f"{share:.3f} of shoulder_to_elbow (survey 2012)"
