"""Plausible bodies for property tests: a few latent numbers, from them every measure in harmony.

A body is a point between the survey's average woman and average man, a little longer or shorter,
fuller or leaner, with its own armhole, bend and shoulder slope. Cap height and cap arcs are not
drawn at random: they are measured on one smooth shoulder profile, so that they fit each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import ellipse_half_depth, ellipse_perimeter, truncated_arc
from unroll.nouns import Armhole, ArmMeasures, CapArc
from unroll.sheets.survey import survey_row
from unroll.units import Unit, format_length


@dataclass(frozen=True)
class Body:
    """What a body is drawn from; deviations count in the survey's standard deviations."""

    manliness: float  # 0 the survey's women, 1 its men
    length: float  # deviations
    fullness: float  # deviations
    wrist: float  # deviations, beside what fullness brings
    lower: float  # forearm's length against the upper arm's, deviations
    bend_deg: float
    armhole: float  # factor on the plate's size
    slope: float  # how far the shoulder's profile falls short of an ellipse's quarter
    elbow: float  # factor on the girth
    forearm: float  # factor on the girth
    ratio: float  # upper arm's width over depth
    arcs: int  # how many cap arcs were measured
    size: float = 1.0  # factor on lengths: 0.58 is a child of five
    stoutness: float = 1.0  # factor on the upper arm beside size; the wrist follows a little


RANGES: dict[str, tuple[float, float]] = {
    "manliness": (0.0, 1.0), "length": (-2.3, 2.3), "fullness": (-2.0, 2.3), "wrist": (-1.0, 1.0),
    "lower": (-1.0, 1.0), "bend_deg": (4.0, 28.0), "armhole": (0.94, 1.08),
    "slope": (0.02, 0.4), "elbow": (0.97, 1.03), "forearm": (0.96, 1.04),
    "ratio": (1.0, 1.1),
}


def bodies() -> st.SearchStrategy[Body]:
    """Draw a body."""
    return st.builds(
        Body,
        **{name: st.floats(low, high).map(lambda x: round(x, 4))
           for name, (low, high) in RANGES.items()},
        arcs=st.sampled_from([0, 3, 3, 4]),
    )


def wide_arm_measures() -> st.SearchStrategy[ArmMeasures]:
    """Draw the arm of anybody: a child of five to the very largest, round or flat."""
    ranges = {**RANGES, "ratio": (0.9, 1.35), "bend_deg": (0.0, 28.0), "size": (0.58, 1.05),
              "stoutness": (0.85, 1.6)}
    return st.builds(
        Body,
        **{name: st.floats(low, high).map(lambda x: round(x, 4))
           for name, (low, high) in ranges.items()},
        arcs=st.sampled_from([0, 3, 4]),
    ).map(measures_of)


def arm_measures() -> st.SearchStrategy[ArmMeasures]:
    """Draw a left arm's measures, plausible and in harmony with one another."""
    return bodies().map(measures_of)


def random_measures(seed: int) -> ArmMeasures:
    """Return the measures of body number `seed`; the same seed gives the same body."""
    random = np.random.default_rng(seed)
    values = {name: round(float(random.uniform(low, high)), 4)
              for name, (low, high) in RANGES.items()}
    return measures_of(Body(**values, arcs=int(random.choice([0, 3, 3, 4]))))


def _survey(year: int, measure: str, body: Body, deviations: float) -> float:
    women, men = (survey_row(year, measure, sex) for sex in "fm")
    mean = women.mean + body.manliness * (men.mean - women.mean)
    return mean + deviations * (
        women.deviation + body.manliness * (men.deviation - women.deviation))


def measures_of(body: Body) -> ArmMeasures:
    """Return a body's measures, mm, rounded to 0.1 as a tape would be at its best."""
    upper = _survey(1988, "ARM_CIRC-AXILLARY", body, body.fullness)
    wrist = _survey(1988, "WRIST_CIRC-STYLION", body, 0.55 * body.fullness + 0.8 * body.wrist)
    upper *= body.size * body.stoutness
    wrist *= (body.size * body.stoutness) ** 0.4  # bones grow less than flesh
    middle = math.sqrt(upper * wrist)
    elbow, forearm = 1.141 * middle * body.elbow, 1.16 * middle * body.forearm
    back = body.size * _survey(1988, "SHOULDER_ELBOW_LNTH", body, body.length)
    elbow_width = 2.0 * 1.05 * float(ellipse_half_depth(elbow, 1.05))
    front = back - elbow_width * math.tan(0.5 * math.radians(body.bend_deg))
    lower = body.size * _survey(
        1988, "RADIALE-STYLION_LNTH", body, body.length + 0.6 * body.lower)
    height = min(body.armhole * (0.353 * upper + 15.0 * body.size), 0.5 * front)
    depth = 2.0 * float(ellipse_half_depth(upper, body.ratio))
    width = body.armhole * 1.05 * body.ratio * depth
    cap_height, arcs = _cap(upper, width, height, body)
    wrist_depth = 2.0 * float(ellipse_half_depth(wrist, 1.45))
    return ArmMeasures(
        side="left",
        shoulder_to_elbow=_tenth(back), shoulder_to_inner_elbow=_tenth(front),
        inner_elbow_to_wrist=_tenth(lower), upper_arm_girth=_tenth(upper),
        upper_arm_up=_tenth(min(0.58 * (front - height), 0.85 * (front - height - 0.4 * depth))),
        elbow_girth=_tenth(elbow),
        forearm_girth=_tenth(forearm), forearm_down=_tenth(0.26 * lower),
        wrist_girth=_tenth(wrist), wrist_width=_tenth(1.45 * wrist_depth),
        wrist_depth=_tenth(wrist_depth), cap_height=_tenth(cap_height), cap_arcs=arcs,
        armhole=Armhole(_tenth(width), _tenth(height),
                        float(ellipse_perimeter(0.5 * _tenth(width), 0.5 * _tenth(height)))),
        shoulder_length=_tenth(0.41 * back),
        shoulder_slope_front_deg=20.0, shoulder_slope_back_deg=20.0,
        upper_arm_ratio=round(body.ratio, 2),
    )


def _tenth(mm: float) -> float:
    return round(mm, 1)


def _cap(
    girth: float, width: float, height: float, body: Body
) -> tuple[float, tuple[CapArc, ...]]:
    """Return the length of the shoulder's profile, and the arcs over the cap that it carries."""
    # at the axilla an arm is about 3 % larger than at its fullest below (survey 1988, women)
    ratio = round(body.ratio, 2)
    depth = 2.0 * float(ellipse_half_depth(1.03 * girth, ratio))
    level = np.sin(np.linspace(0.0, 0.5 * np.pi, 2001))
    profile = np.column_stack([_reach(level, depth, body.slope), height * level])
    length = float(np.linalg.norm(np.diff(profile, axis=0), axis=1).sum())
    levels = {0: [], 3: [0.5, 0.5 - 25.0 / height, 0.5 + 25.0 / height],
              4: [0.25, 0.45, 0.65, 0.8]}[body.arcs]
    arcs = [
        CapArc(_tenth(level * height), _tenth(_arc(level, width, depth, body.slope, ratio)))
        for level in sorted(levels)
    ]
    return length, tuple(arcs)


def _reach(level: FloatArray, depth: float, slope: float) -> FloatArray:
    """Return how far out the cap reaches at a level, a share of the armhole's height."""
    return np.asarray(depth * np.sqrt(1.0 - level**2) * (1.0 - slope * level**2))


def _arc(level: float, width: float, depth: float, slope: float, ratio: float) -> float:
    """Return the arc of the ellipse that reaches `depth`'s profile out from the plate's chord."""
    chord = width * math.sqrt(level * (1.0 - level))  # half of it, on an oval plate
    reach = float(_reach(np.array(level), depth, slope))
    q = (chord / (ratio * reach)) ** 2
    t = (1.0 - q) / (1.0 + q)
    return reach / (1.0 + t) * float(truncated_arc(math.acos(t), ratio))


def sheet_text(arm: ArmMeasures, unit: Unit = "mm", *, heading: str = "arm") -> str:
    """Return a sheet that gives every measure of `arm`, as a maker would write it in `unit`."""
    def say(mm: float) -> str:
        return f'"{format_length(mm, unit)}"'

    arcs = ", ".join(f"{{ up = {say(a.up)}, length = {say(a.length)} }}" for a in arm.cap_arcs)
    lengths = "\n".join(f"{name} = {say(getattr(arm, name))}" for name in (
        "shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist", "upper_arm_girth",
        "upper_arm_up", "elbow_girth", "forearm_girth", "forearm_down", "wrist_girth",
        "wrist_width", "wrist_depth", "cap_height", "shoulder_length"))
    plate = arm.armhole
    return (f'unit = "{unit}"\n[{heading}]\n{lengths}\ncap_arcs = [{arcs}]\n'
            f"armhole = {{ width = {say(plate.width)}, height = {say(plate.height)} }}\n"
            f"upper_arm_ratio = {arm.upper_arm_ratio}\n")


def sheet_texts() -> st.SearchStrategy[str]:
    """Draw the text of a valid sheet, in any unit."""
    return st.builds(sheet_text, arm_measures(), st.sampled_from(["in", "cm", "mm"]))
