"""What was left out is estimated in harmony with what was measured, on every body."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import sheet_text, wide_arm_measures
from tests.test_bad_sheets import GOOD
from tests.test_measuring import LENGTHS, two_arms
from tests.test_measuring_files import oval_points, skewed_egg
from unroll.arms.cap import fit_cap
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.arms.plate import plate_of
from unroll.arms.taping import tape
from unroll.maths.arrays import FloatArray
from unroll.nouns import ArmMeasures, Sheet
from unroll.sheets.reading import read_sheet

MUSCULAR = """\
unit = "cm"
[arm]
shoulder_to_elbow = 37.5
inner_elbow_to_wrist = 27
upper_arm_girth = 41
forearm_girth = 32
wrist_girth = 18.5
armhole = {width = 12.5, height = 14.5}
cap_height = 17
cap_arcs = [{up = 4, length = 33}, {up = 8, length = 27.5}]
"""
CHILD = """\
unit = "cm"
[arm]
shoulder_to_elbow = 20.5
inner_elbow_to_wrist = 15.5
upper_arm_girth = 17.2
elbow_girth = 16.4
wrist_girth = 11.9
armhole = {width = 6.4, height = 7.6}
cap_height = 9.8
"""
FULL = """\
unit = "in"
[arm]
shoulder_to_elbow = "13 1/2"
inner_elbow_to_wrist = 9.5
upper_arm_girth = "19 3/4"
elbow_girth = 14.5
wrist_girth = 7
armhole = {girth = "19 1/2"}
[make]
cap = "ease"
"""
REQUIRED = {"inner_elbow_to_wrist", "upper_arm_girth", "wrist_girth"}
FOUR = """\
unit = "mm"
[arm]
shoulder_to_elbow = {}
inner_elbow_to_wrist = {}
upper_arm_girth = {}
wrist_girth = {}
"""


def written_whole(arm: ArmMeasures) -> str:
    """Return the sheet, in hundredths of a millimetre, that gives every measure of a read arm."""
    lengths = [f"{name} = {getattr(arm, name):.2f}" for name in LENGTHS]
    arcs = ", ".join(f"{{up = {arc.up:.2f}, length = {arc.length:.2f}}}" for arc in arm.cap_arcs)
    plate = arm.armhole
    return "\n".join([
        'unit = "mm"', "[arm]", *lengths, f"cap_arcs = [{arcs}]",
        f"armhole = {{width = {plate.width:.2f}, height = {plate.height:.2f}, "
        f"girth = {plate.girth:.2f}}}",
        f"upper_arm_ratio = {arm.upper_arm_ratio}"])


def fights(sheet: Sheet) -> list[str]:
    """Return the notices of readings that were not taken as they stand."""
    return [n.text for n in sheet.notices if "taken instead" in n.text or "left out" in n.text]


@settings(max_examples=300)
@given(wide_arm_measures(), st.data())
def test_whatever_of_a_body_is_measured_the_rest_is_estimated_to_go_with_it(
    arm: ArmMeasures, data: st.DataObject
) -> None:
    kept = data.draw(st.sets(st.sampled_from([
        "shoulder_to_elbow", "shoulder_to_inner_elbow", "upper_arm_up", "elbow_girth",
        "forearm_girth", "forearm_down", "wrist_width", "wrist_depth", "cap_height", "cap_arcs",
        "shoulder_length", "upper_arm_ratio", "width", "height", "girth"])))
    if not kept & {"shoulder_to_elbow", "shoulder_to_inner_elbow"}:
        kept.add("shoulder_to_elbow")
    plate = ", ".join(f"{kind} = {getattr(arm.armhole, kind):.1f}"
                      for kind in ("width", "height", "girth") if kind in kept)
    lines = [line for line in sheet_text(arm).splitlines() if " = " not in line
             or line.split(" = ")[0] in kept | REQUIRED | {"unit"}]
    sheet = read_sheet("\n".join([*lines, f"armhole = {{{plate}}}"]))
    read = sheet.arms[0]
    assert fights(sheet) == []
    for name in kept - {"cap_arcs", "width", "height", "girth"}:
        assert getattr(read, name) == pytest.approx(getattr(arm, name), abs=0.051)
    assert len(read.cap_arcs) == ("cap_arcs" in kept) * len(arm.cap_arcs)
    # written out whole, the arm has no fault, and nothing of it is taken otherwise
    again = read_sheet(written_whole(read))
    assert fights(again) == []
    # but for the girth half-way down the forearm, which no field of its own holds
    assert all(row.name.startswith("girth_") for row in again.arms[0].estimated)


@pytest.mark.parametrize("measures", [
    (340, 240, 440, 175), (340, 240, 500, 185), (340, 240, 600, 200),  # refused before, unread
    (205, 155, 170, 122), (175, 133, 160, 115), (390, 300, 460, 200),
])
def test_four_measures_alone_make_an_arm_from_a_child_s_to_a_very_full_one(
    measures: tuple[int, ...]
) -> None:
    arm = read_sheet(FOUR.format(*measures)).arms[0]
    shape_arm(arm)  # it raises where the lengths are not met
    assert arm.armhole.height < 0.75 * arm.shoulder_to_inner_elbow


def outlined(points: FloatArray) -> str:
    """Return the good sheet with a plate of these points, in cm."""
    rows = ", ".join(f"[{x / 10:.2f}, {y / 10:.2f}]" for x, y in points)
    return GOOD.replace("{width = 9.8, height = 11.6}", f"{{outline = [{rows}]}}")


SHEETS: dict[str, Callable[[], Sheet]] = {
    "a child's": lambda: read_sheet(CHILD),
    "a muscular man's with a short cap height": lambda: read_sheet(MUSCULAR),
    "a very full arm's with an eased cap": lambda: read_sheet(FULL),
    "two unlike arms": lambda: two_arms(
        GOOD, GOOD.replace("shoulder_to_inner_elbow = 31.9", "").replace("33.8", "36").replace(
            "elbow_girth = 24.6\n", "")),
    "a plate of 24 points": lambda: read_sheet(outlined(oval_points(24))),
    "a plate as a skewed egg": lambda: read_sheet(outlined(skewed_egg(36))),
    "a back no longer than the front": lambda: read_sheet(
        GOOD.replace("shoulder_to_elbow = 33.8", "shoulder_to_elbow = 31.5")),
    "an upper arm girth close to the underarm": lambda: read_sheet(
        GOOD.replace("upper_arm_up = 12.5", "upper_arm_up = 17.8")),
}


@pytest.mark.parametrize("kind", SHEETS)
def test_ordinary_and_unusual_sheets_are_read_and_lofted(kind: str) -> None:
    for arm in SHEETS[kind]().arms:
        mesh = mesh_arm(shape_arm(arm), edge=8.0)
        edge = sum(
            float(np.linalg.norm(np.diff(mesh.mesh.vertices[mesh.paths[seam]], axis=0),
                                 axis=1).sum())
            for seam in ("cap seam", "underarm seam"))
        # chords 8 mm long in an edge 240 mm round are (8π/240)²/6 = 0.2 % short; twice that for
        # what the plate's table of chords adds
        assert edge == pytest.approx(arm.armhole.girth, rel=5e-3)


def test_a_short_cap_height_is_told_first_with_what_would_fit() -> None:
    sheet = read_sheet(MUSCULAR)
    assert sheet.notices[0].text.startswith(
        "cap_height 17.0 cm is less than the straight way over armhole height 14.5 cm and the "
        "depth of upper_arm_girth 41.0 cm, 19.1 cm, and would make a cone; about 20.2 cm would fit")
    assert sheet.arms[0].is_estimated("cap_height")


def test_an_arc_that_no_cap_on_the_plate_can_have_is_left_out_and_told_first() -> None:
    # the plate's width is estimated from its height; the shortest arc goes over none so narrow
    text = GOOD.replace("{width = 9.8, height = 11.6}", "{height = 11.6}").replace(
        "length = 21.8", "length = 4")
    sheet = read_sheet(text)
    assert sheet.notices[0].text == (
        "the cap arc 4.0 cm long at 5.8 cm does not go over an armhole 11.6 cm high; it is left "
        "out (measured up the arm's slope, or lines mixed up?)")
    assert len(sheet.arms[0].cap_arcs) == 2


@pytest.mark.parametrize(("reading", "kept"), [
    ("upper_arm_up = 150", "armhole height"), ("cap_height = 150", "armhole height"),
    ("forearm_girth = 390", "elbow_girth"),
])
def test_an_estimate_says_when_readings_moved_it(reading: str, kept: str) -> None:
    arm = read_sheet(FOUR.format(340, 240, 360, 175) + reading).arms[0]
    source = next(estimate.source for estimate in arm.estimated if estimate.name == kept)
    assert source.endswith("; kept within what the readings leave open")


@pytest.mark.parametrize(("cap", "lean", "words"), [
    ("6 5/16", "1", "is long for underarm_inside 1 in, armhole height 4 9/16 in, upper_arm_girth "),
    ("7 1/4", "", "is long for armhole height 4 9/16 in, upper_arm_girth 11 1/4 in, and makes a "),
    ("6 1/4", "-5/8", "is short for underarm_inside -5/8 in, armhole height 4 9/16 in, "),
])
def test_a_cap_height_that_makes_a_wavy_cap_is_told_first_with_what_would_fit(
    cap: str, lean: str, words: str
) -> None:
    text = demo().replace('cap_height = "6 5/16"', f'cap_height = "{cap}"\n'
                          f'underarm_inside = "{lean}"')
    notice = read_sheet(text).notices[0]
    assert notice.fights and notice.text.startswith(f"cap_height {cap} in {words}")
    fits = re.search(r"about (.*) in would fit", notice.text)
    assert fits is not None
    mended = read_sheet(text.replace(f'cap_height = "{cap}"', f'cap_height = "{fits[1]}"'))
    assert not any(n.fights for n in mended.notices)
    # lofted, the profile that fits goes in by far less than the one that is told of
    assert wave_deg(mended) < 0.6 * wave_deg(read_sheet(text))


def demo() -> str:
    """Return the demo's sheet without its cap arcs, which shape a cap as well."""
    text = (Path(__file__).parents[1] / "meshes" / "demo.toml").read_text("utf-8")
    return re.sub(r"cap_arcs = \[.*?\n\]\n", "", text, flags=re.DOTALL)


def wave_deg(sheet: Sheet) -> float:
    """Return how far the cap's profile turns the wrong way, degrees."""
    arm = sheet.arms[0]
    profile = fit_cap(arm, plate_of(arm.armhole, arm.stance)).profile(np.linspace(0.02, 3.12, 60))
    way = np.diff(profile, axis=0)
    turns = np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0])))
    return float(np.rad2deg(np.clip(turns, 0.0, None).sum()))


VERY_FULL = """\
unit = "in"
[arm]
shoulder_to_inner_elbow = "9 7/16"
inner_elbow_to_wrist = 9
upper_arm_girth = "24 13/16"
wrist_girth = "8 9/16"
armhole = { width = "4 1/16", height = "5 3/16" }
"""


def test_lengths_down_an_arm_that_is_rounder_than_long_are_met_as_near_as_they_go() -> None:
    # its tape jumps over the elbow's fold: whole steps went to and fro, 4 mm apart, and gave up
    arm = read_sheet(VERY_FULL).arms[0]
    rows = {row.name: row for row in tape(mesh_arm(shape_arm(arm)), arm)}
    for name in ("shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist"):
        assert rows[name].got_mm == pytest.approx(rows[name].asked_mm, abs=6.0)


def test_an_elbow_close_under_the_armhole_does_not_tell_how_the_arm_hangs() -> None:
    # taken at its word, the loft turned the upper arm by 60 degrees to bring it 3 mm forward
    sheet = read_sheet(VERY_FULL + "elbow_forward = [\"1/2\"]\nwrist_forward = 2\n")
    assert sheet.notices[0].text == (
        "elbow_forward 1/2 in is left out: the elbow lies so near the underarm that it does not "
        "tell how the arm hangs")
    stance = sheet.arms[0].stance
    assert (stance.elbow_forward, stance.wrist_forward) == (None, 50.8)
    shape_arm(sheet.arms[0])


def test_an_elbow_bent_as_far_as_goes_is_lofted_straighter() -> None:
    text = FOUR.format(360, 240, 300, 160) + "shoulder_to_inner_elbow = 210\n"
    sheet = read_sheet(text)
    assert "are taken instead (was the elbow bent?)" in sheet.notices[0].text
    shape_arm(sheet.arms[0])
