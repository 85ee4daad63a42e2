"""The levels of a limb, from the maker's tape or from a scan, and where they lie along its axis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from itertools import pairwise

import numpy as np

from unroll.arms.axis import Bend, Layout, Polyline
from unroll.arms.cap import UNDERARM_GIRTH_ERROR_MM, UNDERARM_TO_UPPER_ARM, Cap
from unroll.arms.limb import Limb, monotone_girths
from unroll.arms.plate import lean_of
from unroll.errors import UnrollError
from unroll.maths.arrays import FloatArray
from unroll.maths.ellipses import ellipse_half_depth, superellipse_exponent
from unroll.nouns import ArmMeasures, Level, LimbScan, tapered

# A girth taken so near the underarm's level is the underarm's.
NEAR_UNDERARM_MM = 8.0
# What lies higher above the inner elbow than the front length less the armhole's height, and this,
# lies above the underarm; up to there, readings along different lines may only seem to.
ABOVE_UNDERARM_MM = 10.0
# Of the upper arm's depth: how much longer than straight down a tape's way over the cap is, where
# the search begins. What is estimated leaves more room.
FIRST_OVER_CAP = 0.33
MEASURED_UNDERARM_ERROR_MM = 0.05  # girths do not give way to arcs
CLOSEST_LEVELS_MM = 2.0
HUNG = ("elbow_forward", "elbow_outward", "wrist_forward", "wrist_outward")
HANG_ROUNDS, HANG_TOLERANCE_MM, MOST_TURN_RAD = 40, 0.02, 1.2


def lay_out_limb(measures: ArmMeasures, elbow: float, bend_rad: float, lower: float) -> Layout:
    """Return where the tape's levels lie along the axis.

    Parameters
    ----------
    measures : ArmMeasures
    elbow : float
        From the underarm's level to the elbow, mm.
    bend_rad : float
        Of the elbow, forward.
    lower : float
        From the elbow to the wrist, mm.

    Raises
    ------
    UnrollError
        When a level lies where no girth can be taken.
    """
    half_width = elbow_half_width(measures)
    turned = 0.5 * bend_rad * half_width  # by so much its inner side is short of the axis
    upper_arm = elbow - measures.upper_arm_up - turned
    if elbow < 2.0 * NEAR_UNDERARM_MM or measures.upper_arm_up > _highest(measures):
        raise UnrollError(
            f"upper_arm_up is {measures.upper_arm_up:.0f} mm, which puts the upper-arm girth "
            f"{upper_arm:.0f} mm below the underarm; expected between 0 and "
            f"{elbow:.0f} mm (measured from the shoulder instead of the elbow?)"
        )
    if not 0.0 < measures.forearm_down < lower:
        raise UnrollError(
            f"forearm_down is {measures.forearm_down:.0f} mm; expected between 0 and "
            f"{lower:.0f} mm, the length of the forearm (measured from the wrist?)"
        )
    layout = Layout(
        max(upper_arm, NEAR_UNDERARM_MM),
        elbow,
        elbow + measures.forearm_down,
        elbow + lower,
        bend_rad,
        min(2.0 * half_width, 1.4 * measures.upper_arm_up, 0.9 * elbow, 0.9 * lower),
    )
    forearm = _along(measures.forearm_down, layout, half_width)
    layout = replace(layout, forearm=min(forearm, layout.wrist - CLOSEST_LEVELS_MM))
    return replace(layout, others=_others(measures, layout, half_width))


def elbow_half_width(measures: ArmMeasures) -> float:
    """Return half the elbow's width, front to back, mm."""
    ratio = measures.elbow_ratio
    return ratio * float(ellipse_half_depth(measures.elbow_girth, ratio))


def _highest(measures: ArmMeasures) -> float:
    """Return how far above the inner elbow a girth may seem to lie, mm."""
    front, height = measures.shoulder_to_inner_elbow, measures.armhole.height
    return front - height + ABOVE_UNDERARM_MM


def _others(measures: ArmMeasures, layout: Layout, half_width: float) -> dict[str, float]:
    """Return where the further girths lie.

    Raises
    ------
    UnrollError
        When one lies off the limb, or two at one level.
    """
    others: dict[str, float] = {}
    for level in measures.girths:
        along = _along(level.down, layout, half_width)
        if -level.down > _highest(measures) or along > layout.wrist:
            raise UnrollError(
                f"{level.name} lies {along:.0f} mm below the underarm; expected between 0 and "
                f"{layout.wrist:.0f} mm, the wrist (a cap arc, or measured from the other end?)"
            )
        if -level.down < measures.upper_arm_up - CLOSEST_LEVELS_MM:
            # The upper arm's level may have been moved down, below the underarm's.
            along = max(along, layout.upper_arm + CLOSEST_LEVELS_MM)
        others[level.name] = 0.0 if along < NEAR_UNDERARM_MM else along
    usual = {name: s for name, s in layout.stations.items() if name != "underarm"}
    placed = sorted((s, name) for name, s in {**usual, **others}.items())
    for (upper, name), (lower, other) in pairwise(placed):
        if lower - upper < CLOSEST_LEVELS_MM:
            raise UnrollError(
                f"{name} and {other} lie {lower - upper:.1f} mm apart; expected at least "
                f"{CLOSEST_LEVELS_MM:.0f} mm (one level measured twice?)"
            )
    return others


def _along(down: float, layout: Layout, half_width: float) -> float:
    """Return where lies what was taped so far below the inner elbow, whose side is the shorter."""
    turned = 0.5 * layout.bend_rad * half_width
    inner = max(0.5 * layout.bend_length - turned, 1.0)
    return layout.elbow + down + turned * float(np.clip(down / inner, -1.0, 1.0))


def underarm_girth(measures: ArmMeasures, layout: Layout) -> tuple[float, float] | None:
    """Return the girth at the underarm's level that the further girths tell, and its error, mm.

    None where none of them was taken above the upper arm's.
    """
    at = {level.name: level.girth for level in measures.girths}
    above = [(s, at[name]) for name, s in layout.others.items() if s < layout.upper_arm]
    if not above:
        return None
    along, girth = min(above)
    left = along / layout.upper_arm
    more = left * (UNDERARM_TO_UPPER_ARM - 1.0) * measures.upper_arm_girth
    return girth + more, max(MEASURED_UNDERARM_ERROR_MM, left * UNDERARM_GIRTH_ERROR_MM)


def taped_limb(measures: ArmMeasures, cap: Cap, layout: Layout) -> Limb:
    """Return the limb whose girths the maker's tape finds, with the usual taper between them."""
    m = measures
    scale = (layout.wrist - layout.forearm) / max(m.inner_elbow_to_wrist - m.forearm_down, 1.0)
    wrist = superellipse_exponent(0.5 * m.wrist_width, 0.5 * m.wrist_depth, m.wrist_girth)
    levels = [
        Level(0.0, float(cap.underarm_girth), m.upper_arm_ratio, 2.0),
        Level(layout.upper_arm, m.upper_arm_girth, m.upper_arm_ratio),
        Level(layout.elbow, m.elbow_girth, m.elbow_ratio),
        Level(layout.forearm, m.forearm_girth, m.forearm_ratio, 2.0),
        Level(layout.wrist, m.wrist_girth, m.wrist_width / m.wrist_depth, wrist),
        *(
            Level(layout.others[level.name], level.girth, level.ratio)
            for level in m.girths
            if layout.others[level.name] > 0.0
        ),
        *(
            Level(layout.forearm + scale * (down - m.forearm_down), girth)
            for down, girth in tapered(m.forearm_girths, m.inner_elbow_to_wrist)
        ),
    ]
    ordered = tuple(sorted(levels, key=lambda level: level.along))
    start = _start(cap)
    return Limb(ordered, cap, layout, Bend(layout, start, _drift(ordered, cap), cap.plate.stands))


def hung(measures: ArmMeasures, cap: Cap, layout: Layout) -> Layout:
    """Return the layout with the upper arm and the elbow turned as elbow and wrist shall hang.

    Notes
    -----
    What was not measured stays: the upper arm hangs straight down, the elbow bends by
    `layout.bend_rad`, and the wrist lies outward in line with the elbow.

    Raises
    ------
    UnrollError
        When the arm does not reach so far.
    """
    asked = {name: value for name, value in asdict(measures.stance).items() if name in HUNG}
    asked = {name: value for name, value in asked.items() if value is not None}
    for _ in range(HANG_ROUNDS):
        axis = taped_limb(measures, cap, layout).axis
        middles = axis.centre(np.array([layout.elbow, layout.wrist])) @ cap.plate.stands.T
        places = dict(zip(HUNG, middles[:, :2].ravel().tolist(), strict=True))
        missed = {name: value - places[name] for name, value in asked.items()}
        worst = max(missed, key=lambda name: abs(missed[name]), default="")
        if not worst or abs(missed[worst]) < HANG_TOLERANCE_MM:
            return layout
        layout = _hung_nearer(layout, missed)
    raise UnrollError(
        f"{worst} is {asked[worst]:.0f} mm; the arm comes to {places[worst]:.0f} mm at most "
        "(wrong unit, or taken on another arm?)"
    )


def _hung_nearer(layout: Layout, missed: Mapping[str, float]) -> Layout:
    """Return the layout turned by what brings elbow and wrist where they are missed, about."""
    upper, whole, fore = layout.elbow, layout.wrist, layout.wrist - layout.elbow
    forward = missed.get("elbow_forward", 0.0) / upper
    bend = (missed.get("wrist_forward", forward * whole) - forward * whole) / fore
    wrist = missed.get("wrist_outward")
    outward = 0.0 if wrist is None else wrist / whole
    aside = 0.0
    if "elbow_outward" in missed:
        outward = missed["elbow_outward"] / upper
        aside = 0.0 if wrist is None else (wrist - outward * whole) / fore
    old = np.array([layout.forward_rad, layout.bend_rad, layout.outward_rad, layout.aside_rad])
    new = np.clip(old + [forward, bend, outward, aside], -MOST_TURN_RAD, MOST_TURN_RAD).tolist()
    return replace(
        layout, forward_rad=new[0], bend_rad=new[1], outward_rad=new[2], aside_rad=new[3]
    )


def scanned_limb(scan: LimbScan, cap: Cap, layout: Layout) -> Limb:
    """Return the limb of a scan's levels, led over from the cap."""
    *upper, wrist = scan.levels
    wrist = replace(wrist, exponent=wrist.exponent or 2.0)
    levels = (Level(0.0, float(cap.underarm_girth), cap.underarm_ratio, 2.0), *upper, wrist)
    axis = Polyline(scan.axis, scan.straight, 0.5 * layout.bend_length, _start(cap))
    return Limb(levels, cap, layout, axis)


def scan_layout(measures: ArmMeasures, scan: LimbScan) -> Layout:
    """Return where the usual stations lie along a scan's axis.

    Raises
    ------
    UnrollError
        When they do not follow one another.
    """
    check_scan(scan)
    forearm, upper_arm = scan.along(measures.forearm_down), scan.along(-measures.upper_arm_up)
    wrist = scan.levels[-1].along
    if not 0.0 < upper_arm < scan.straight < scan.elbow < forearm < wrist:
        raise UnrollError(
            f"the scan's elbow lies {scan.elbow:.0f} mm below the underarm, its bend begins at "
            f"{scan.straight:.0f} mm; expected both between the upper arm at {upper_arm:.0f} mm "
            f"and the wrist at {wrist:.0f} mm (elbow and wrist mixed up?)"
        )
    others = {level.name: scan.along(level.down) for level in measures.girths}
    bend_length = 2.0 * (scan.elbow - scan.straight)
    return Layout(upper_arm, scan.elbow, forearm, wrist, 0.0, bend_length, others=others)


def check_scan(scan: LimbScan) -> None:
    """Refuse a scan whose levels make no limb.

    Raises
    ------
    UnrollError
        When they do not run down from the underarm, or the wrist has no width : depth.
    """
    along = np.array([level.along for level in scan.levels])
    if len(along) < 2 or along[0] <= 0.0 or (np.diff(along) <= 0.0).any():
        raise UnrollError(
            f"the scan's {len(along)} levels do not run down from the underarm; expected two or "
            "more, each below the last (levels not sorted?)"
        )
    if scan.levels[-1].ratio is None:
        raise UnrollError(
            "the scan's last level has no width : depth; expected one (is it the wrist?)"
        )


def _start(cap: Cap) -> tuple[float, float, float]:
    """Return the centre of the closed section at the underarm's level."""
    return float(cap.plate.middles[-1]), float(cap.underarm_half_depth), -cap.plate.height


def _drift(levels: tuple[Level, ...], cap: Cap) -> float:
    """Return the slope outward with which the axis carries on the cap's profile."""
    step = 1e-2
    profile = cap.profile(np.array([np.pi - 2 * step, np.pi - step]))
    cap_slope = float(np.diff(profile[:, 0])[0] / -np.diff(profile[:, 1])[0])
    girths = monotone_girths(levels)([0.0, 1.0])
    depths = ellipse_half_depth(girths, cap.underarm_ratio)
    lean = lean_of(cap.plate)
    return lean + float(np.clip(cap_slope - np.diff(depths)[0] - lean, -0.25, 0.25))


@dataclass(frozen=True)
class Start:
    """Where the search for a shape may begin: what solved a like one.

    Attributes
    ----------
    cap : tuple of float, optional
        Numbers of its cap; None where the cap is to be fitted from scratch, which finds the best of
        several caps that are each better than their neighbours.
    lengths : tuple of float
        Distance to the elbow, its bend, distance to the wrist, each over its first guess.
    """

    cap: tuple[float, ...] | None
    lengths: tuple[float, ...]


def guessed_lengths(measures: ArmMeasures) -> FloatArray:
    """Return distance to the elbow, its bend, and distance to the wrist, about."""
    back, front = measures.shoulder_to_elbow, measures.shoulder_to_inner_elbow
    over = FIRST_OVER_CAP * 2.0 * float(
        ellipse_half_depth(measures.upper_arm_girth, measures.upper_arm_ratio)
    )
    elbow = 0.5 * (back + front) - measures.armhole.height - over
    bend = (back - front) / elbow_half_width(measures)
    return np.array([elbow, bend, measures.inner_elbow_to_wrist + 0.5 * (back - front)])
