"""A sheet's measures carry a scan: posed as the sheet asks, its girths those of the sheet."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.spatial.transform import Rotation

from unroll.arms.lofting import with_own_lengths
from unroll.arms.plate import Plate, plate_of
from unroll.nouns import ArmMeasures, Estimate, LimbScan, Notice, Sheet
from unroll.nouns.scan import ScanHints, ScannedArm
from unroll.scans.measuring import CAP_AWAY_DEG
from unroll.sheets.estimates import CAP_ROUNDING
from unroll.sheets.harmony import untold_wrist
from unroll.sheets.scanned import filled_sheet
from unroll.units import format_length, inches_first

OVERRULED_MM = 0.5  # a measure that differs by more was given in the sheet
LENGTHS = ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist")
BEND_TOLERANCE_DEG = 0.5
LED_OVER = 0.35  # of the armhole's height: so far below it a lowered arm is led over from the cap
NEAREST_MM = 1.0  # a station nearer to another tells nothing of its own


def with_scan(
    sheet: Sheet, found: ScannedArm, hints: ScanHints, data: Mapping[str, Any]
) -> Sheet:
    """Return a sheet whose arm is the scanned one, and which tells what was found.

    Parameters
    ----------
    sheet : Sheet
        Read with the scan's measures in place of those it leaves out.
    found : ScannedArm
    hints : ScanHints
        Of the sheet.
    data : mapping
        The sheet, parsed, to be written out again with the measures in it.
    """
    index = 1 if len(sheet.arms) == 2 and found.side == "right" else 0
    arms, told = list(sheet.arms), [*found.told]
    of_tape = tuple(untold_wrist(arms[index], sheet.unit))  # which says nothing of a scan
    table = data.get(("left_arm", "right_arm")[index] if len(arms) == 2 else "arm", {})
    given = frozenset(name for name in LENGTHS if table.get(name, "") not in ("", []))
    arms[index], more = scanned_measures(arms[index], found, hints, given)
    notices = [Notice("scan", "the scan: " + inches_first(line, sheet.unit))
               for line in (*told, *more)]
    notices += [*_differences(arms[index], found, sheet)]
    return replace(
        sheet, arms=tuple(arms),
        notices=(*notices, *(n for n in sheet.notices if not n.text.endswith(of_tape))),
        scanned=found, filled_in=filled_sheet(data, arms, sheet.unit),
    )  # fmt: skip


def scanned_measures(
    measures: ArmMeasures, found: ScannedArm, hints: ScanHints, given: Collection[str] = ()
) -> tuple[ArmMeasures, tuple[str, ...]]:
    """Return an arm's measures with the scan's levels, hung on its armhole, and what was changed.

    Parameters
    ----------
    measures : ArmMeasures
    found : ScannedArm
    hints : ScanHints
    given : collection of str
        Which of `LENGTHS` the maker taped; upper arm or forearm are stretched to them.

    Notes
    -----
    The upper arm hangs plumb below the armhole unless the sheet tells where elbow and wrist hang;
    the elbow keeps the scan's bend unless the sheet tells another. Between stations whose girth
    the sheet gives, levels are scaled by what lies between.
    """
    posed, told = _posed(measures, found.limb, found, hints)
    if given:
        own = with_own_lengths(posed)
        changes = {name: getattr(measures, name) - getattr(own, name) for name in given}
        if max(map(abs, changes.values())) > OVERRULED_MM:
            posed, told = _posed(measures, _stretched(found.limb, changes), found, hints)
            told.append("its upper arm or forearm is stretched to the lengths in the sheet")
    if found.away_deg > CAP_AWAY_DEG or hints.bend_deg is not None or (
        "shoulder_to_elbow" not in found.values
    ):  # the lengths are the made arm's, not those of the scan's own pose
        posed = with_own_lengths(posed)
        kept = tuple(e for e in posed.estimated if e.name not in LENGTHS)
        posed = replace(posed, estimated=kept)
    return posed, tuple(told)


def _posed(
    measures: ArmMeasures, limb: LimbScan, found: ScannedArm, hints: ScanHints
) -> tuple[ArmMeasures, list[str]]:
    """Return the measures with the levels posed as the sheet asks, and what is told of it."""
    limb, told, bend = _girthed(limb, measures), [], hints.bend_deg
    if bend is not None and abs(bend - found.bend_deg) > BEND_TOLERANCE_DEG:
        limb = _rebent(limb, np.radians(bend - found.bend_deg))
        told.append(f"its elbow bends by {found.bend_deg:.0f} degrees; it is made with {bend:g}, "
                    "as [scan] bend says")
    else:
        told.append(f"its elbow's bend of {found.bend_deg:.0f} degrees is kept ([scan] bend "
                    "changes it)")
    if found.away_deg > CAP_AWAY_DEG:
        limb = _led_over(limb, LED_OVER * measures.armhole.height)
        kept = (g for g in measures.girths if limb.along(g.down) >= limb.levels[0].along)
        measures = replace(measures, girths=tuple(kept))
        told.append(f"its upper arm stands {found.away_deg:.0f} degrees away from hanging; here it "
                    "hangs, so the cap over the shoulder is the sheet's or estimated, not the "
                    "scan's (elbow_outward and elbow_forward tell where it hangs)")
    plate = plate_of(measures.armhole, measures.stance)
    return replace(_with_cap(measures, limb), scan=_hung(limb, plate, measures)), told


def _led_over(limb: LimbScan, above: float) -> LimbScan:
    """Return the levels without the uppermost: lowered, an arm's flesh lies otherwise there."""
    kept = [level for level in limb.levels if level.along >= min(above, 0.5 * limb.straight)]
    return replace(limb, levels=tuple(kept))


def _with_cap(measures: ArmMeasures, limb: LimbScan) -> ArmMeasures:
    """Return the measures with a cap height that goes with the scan's depth at the underarm.

    The sheet's own guess goes by the girth a hand lower, where the arm may be much slimmer.
    """
    first = limb.levels[0].outline
    if first is None or not measures.is_estimated("cap_height"):
        return measures
    depth = float(np.ptp(first[:, 1])) - (measures.stance.underarm_inside or 0.0)
    height = CAP_ROUNDING * float(np.hypot(measures.armhole.height, depth))
    source = f"{CAP_ROUNDING} of the straight line over armhole height and the scan's depth there"
    kept = [e for e in measures.estimated if e.name != "cap_height"]
    estimate = Estimate("cap_height", height, f"{source} (usual value, no source)")
    return replace(measures, cap_height=height, estimated=(*kept, estimate))


def _differences(measures: ArmMeasures, found: ScannedArm, sheet: Sheet) -> Iterator[Notice]:
    """Yield a notice for each girth that the sheet gives otherwise than the scan has it."""
    for name in ("upper_arm_girth", "elbow_girth", "forearm_girth", "wrist_girth"):
        given, scanned = getattr(measures, name), found.values[name]
        level = {"upper_arm_girth": "upper_arm_up", "forearm_girth": "forearm_down"}.get(name)
        moved = level is not None and abs(getattr(measures, level) - found.values[level]) > 1.0
        if abs(given - scanned) > OVERRULED_MM and not moved:
            yield Notice(name, f"{name} is {format_length(given, sheet.unit)} in the sheet and "
                               f"{format_length(scanned, sheet.unit)} on the scan; the sheet's is "
                               "taken")  # fmt: skip


def _stretched(limb: LimbScan, changes: Mapping[str, float]) -> LimbScan:
    """Return the levels with upper arm and forearm longer by what is missing of lengths, mm."""
    more = [change for name, change in changes.items() if name != "inner_elbow_to_wrist"]
    upper = 1.0 + (float(np.mean(more)) if more else 0.0) / limb.elbow
    fore = limb.levels[-1].along - limb.elbow
    lower = 1.0 + changes.get("inner_elbow_to_wrist", 0.0) / fore

    def moved(along: float) -> float:
        return float(upper * min(along, limb.elbow) + lower * max(along - limb.elbow, 0.0))

    steps = np.diff(limb.axis, axis=0)
    walked = np.append(0.0, np.cumsum(np.linalg.norm(steps, axis=1)))
    scale = np.where(0.5 * (walked[1:] + walked[:-1]) < limb.elbow, upper, lower)[:, None]
    axis = limb.axis[0] + np.concatenate([np.zeros((1, 3)), np.cumsum(scale * steps, axis=0)])
    levels = tuple(replace(level, along=moved(level.along)) for level in limb.levels)
    return LimbScan(levels, axis, moved(limb.elbow), moved(limb.straight), limb.inside)


def _girthed(limb: LimbScan, measures: ArmMeasures) -> LimbScan:
    """Return the levels with girths scaled so that every girth of the sheet is there."""
    end = limb.levels[-1].along
    along, girth = np.array([(level.along, level.girth) for level in limb.levels]).T
    asked = {
        limb.along(-measures.upper_arm_up): measures.upper_arm_girth,
        limb.elbow: measures.elbow_girth,
        limb.along(measures.forearm_down): measures.forearm_girth,
        end: measures.wrist_girth,
    }
    for further in measures.girths:
        place = limb.along(further.down)
        if min(abs(place - other) for other in asked) > NEAREST_MM:
            asked[place] = further.girth
    curve = PchipInterpolator(along, girth)
    places = np.array(sorted(place for place in asked if along[0] <= place <= end))
    factors = np.array([asked[place] for place in places]) / curve(places)
    scale = PchipInterpolator(places, factors)(np.clip(along, places[0], places[-1]))
    levels = [replace(level, girth=level.girth * float(by))
              for level, by in zip(limb.levels, scale, strict=True)]  # fmt: skip
    levels[-1] = replace(levels[-1], ratio=measures.wrist_width / measures.wrist_depth)
    return replace(limb, levels=tuple(levels))


def _rebent(limb: LimbScan, more_rad: float) -> LimbScan:
    """Return the levels along an axis whose elbow bends by so much more, in the same plane."""
    steps = np.diff(limb.axis, axis=0)
    middle = 0.5 * (limb.axis[1:] + limb.axis[:-1])
    walked = np.append(0.0, np.cumsum(np.linalg.norm(steps, axis=1)))
    half = limb.elbow - limb.straight
    share = np.clip((0.5 * (walked[1:] + walked[:-1]) - limb.straight) / (2.0 * half), 0.0, 1.0)
    way = middle[-1] - limb.axis[np.searchsorted(walked, limb.elbow)]
    flat = np.array([way[0], way[1], 0.0])
    # a straight arm bends forward
    ahead = flat / np.linalg.norm(flat) if np.linalg.norm(flat) > 5.0 else np.array([1.0, 0, 0])
    turns = Rotation.from_rotvec(np.outer(share * more_rad, np.cross(-np.eye(3)[2], ahead)))
    turned = turns.apply(steps)
    axis = limb.axis[0] + np.concatenate([np.zeros((1, 3)), np.cumsum(turned, axis=0)])
    return replace(limb, axis=axis)


def _hung(limb: LimbScan, plate: Plate, measures: ArmMeasures) -> LimbScan:
    """Return the levels below an armhole: plumb, or as the sheet says that elbow and wrist hang."""
    first = limb.levels[0].outline
    inner = 0.0 if first is None else -float(first[:, 1].min())
    start = np.array([plate.middles[-1], inner, -plate.height])
    points = plate.stands @ start + (limb.axis - limb.axis[0])  # of the room
    walked = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    end, elbow = walked[-1], limb.elbow
    at_elbow = np.clip(walked / elbow, 0.0, 1.0)
    at_wrist = np.clip((walked - elbow) / (end - elbow), 0.0, 1.0)
    for column, way in ((0, "forward"), (1, "outward")):
        asked = getattr(measures.stance, f"elbow_{way}")
        if asked is not None:
            here = float(np.interp(elbow, walked, points[:, column]))
            points[:, column] += (asked - here) * (at_elbow + at_wrist * (end - elbow) / elbow)
        asked = getattr(measures.stance, f"wrist_{way}")
        if asked is not None:
            points[:, column] += (asked - points[-1, column]) * at_wrist
    return replace(limb, axis=np.asarray(points @ plate.stands))
