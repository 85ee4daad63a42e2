"""Sheets that are good: what is read, what is estimated, what is noted."""

from __future__ import annotations

import doctest
import math
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import arm_measures, random_measures, sheet_text, sheet_texts
from tests.test_bad_sheets import GOOD
from unroll.errors import SheetFaults
from unroll.maths.ellipses import ellipse_perimeter
from unroll.nouns import ArmMeasures, Sheet
from unroll.sheets.reading import outline_names, read_sheet
from unroll.sheets.survey import survey_range, survey_row
from unroll.sheets.toml_text import parse_text

DEMO = (Path(__file__).parent.parent / "meshes" / "demo.toml").read_text("utf-8")
LEAST = """\
unit = "mm"
[arm]
shoulder_to_elbow = {back}
inner_elbow_to_wrist = {lower}
upper_arm_girth = {upper}
wrist_girth = {wrist}
"""
LENGTHS = (
    "shoulder_to_elbow", "shoulder_to_inner_elbow", "inner_elbow_to_wrist", "upper_arm_girth",
    "upper_arm_up", "elbow_girth", "forearm_girth", "forearm_down", "wrist_girth", "wrist_width",
    "wrist_depth", "cap_height", "shoulder_length",
)


def least(back: float, lower: float, upper: float, wrist: float) -> ArmMeasures:
    """Return the arm of a sheet that gives only what it must."""
    return read_sheet(LEAST.format(back=back, lower=lower, upper=upper, wrist=wrist)).arms[0]


def estimated(arm: ArmMeasures) -> set[str]:
    """Return what was estimated; the girth half-way down the forearm under one name."""
    return {re.sub(r"^girth_\d+_below_elbow$", "half-way girth", e.name) for e in arm.estimated}


# --- outside checks ---------------------------------------------------------------------------


@pytest.mark.parametrize(("year", "measure", "mean", "deviation"), [
    # NATICK/TR-89/044 (1988 survey of US Army personnel), women, n = 2208, mm
    (1988, "ARM_CIRC-AXILLARY", 291.6, 24.4), (1988, "ELBOW_CIRC-EXTENDED", 238.3, 13.4),
    (1988, "WRIST_CIRC-STYLION", 151.2, 6.9), (1988, "SCYE_CIRC_OVER_ACROMION", 371.3, 23.1),
    (1988, "ACR-RADL_LNTH", 311.9, 16.7), (1988, "RADIALE-STYLION_LNTH", 243.4, 15.5),
    # the 2012 survey, women, n = 1986
    (2012, "bicepscircumferenceflexed", 305.6, 30.8), (2012, "wristcircumference", 154.8, 7.8),
])
def test_the_shipped_tables_hold_the_published_values(
    year: int, measure: str, mean: float, deviation: float
) -> None:
    row = survey_row(year, measure, "f")
    assert (row.mean, row.deviation) == (mean, deviation)


@pytest.mark.parametrize("sex", ["f", "m"])
def test_the_survey_s_average_arm_is_estimated_from_its_own_four_measures(sex: str) -> None:
    def mean(year: int, measure: str) -> float:
        return survey_row(year, measure, sex).mean

    arm = least(mean(1988, "SHOULDER_ELBOW_LNTH"), mean(1988, "RADIALE-STYLION_LNTH"),
                mean(1988, "ARM_CIRC-AXILLARY"), mean(1988, "WRIST_CIRC-STYLION"))
    # one factor serves women and men: each lies within 1 % of its own mean (forearm 2 %)
    assert arm.elbow_girth == pytest.approx(mean(1988, "ELBOW_CIRC-EXTENDED"), rel=0.01)
    flexed = mean(1988, "FOREARM_CIRC-FLEXED")
    assert arm.forearm_girth == pytest.approx(0.96 * flexed, rel=0.025)
    # shoulder length comes from the 2012 survey, whose means differ from 1988's by 0.5 to 6 %
    assert arm.shoulder_length == pytest.approx(mean(2012, "shoulderlength"), rel=0.03)
    # plate: acromion above axilla, and 15 mm below it
    drop = mean(1988, "ACROMION_HT") - mean(1988, "AXILLA_HT")
    assert arm.armhole.height == pytest.approx(drop + 15.0, rel=0.04)


def test_a_wrist_is_estimated_as_the_published_ellipse() -> None:
    arm = least(336, 243, 292, 151.2)
    # girth 151.2 at 1.45: 56.491 x 38.959, from P = 4a E(m) (Abramowitz & Stegun 17.3)
    assert (arm.wrist_width, arm.wrist_depth) == pytest.approx((56.491, 38.959), abs=5e-4)


def test_a_missing_length_comes_from_the_resting_bend() -> None:
    arm = least(336, 243, 292, 151.2)
    difference = arm.shoulder_to_elbow - arm.shoulder_to_inner_elbow
    # a mitred cylinder of the same girth: back minus front = 2R tan(φ/2) down to the mitre, bent by
    # φ = 15.5 degrees (upright CT of 158 arms, 2022, doi 10.1186/s13018-022-03113-5); the section
    # is 2.5 % wider than round
    mitred = 2 * arm.elbow_girth / (2 * math.pi) * math.tan(math.radians(15.5 / 2))
    assert difference == pytest.approx(mitred, rel=0.05)
    text = LEAST.replace("shoulder_to_elbow", "shoulder_to_inner_elbow")
    front = read_sheet(text.format(
        back=arm.shoulder_to_inner_elbow, lower=243, upper=292, wrist=151.2)).arms[0]
    assert front.shoulder_to_elbow == pytest.approx(arm.shoulder_to_elbow, abs=1e-9)
    assert front.is_estimated("shoulder_to_elbow")


def test_house_values_give_a_typical_woman_s_shoulder() -> None:
    # common practice, no source: an upper arm of 286 mm goes with a plate of about 98 by 116 mm
    arm = least(338, 236, 286, 158)
    assert (arm.armhole.width, arm.armhole.height) == pytest.approx((98, 116), rel=0.015)
    depth = 286 / math.pi / 1.025  # of an ellipse 1.05 wide to 1 deep, within 0.1 %
    straight = math.hypot(arm.armhole.height, depth)
    quarter = ellipse_perimeter(arm.armhole.height, depth) / 4
    assert 1.02 * straight < arm.cap_height < 0.98 * quarter


def test_the_page_tells_the_factors_in_use() -> None:
    page = (Path(__file__).parent.parent / "docs" / "measuring.md").read_text("utf-8")
    arm = least(338, 236, 286, 158)
    middle = math.sqrt(286 * 158)
    room = arm.shoulder_to_inner_elbow - arm.armhole.height
    assert f"{arm.elbow_girth / middle:.3f} × √" in page
    assert f"{arm.forearm_girth / middle:.3f} × √" in page
    assert f"{arm.shoulder_length / 338:.3f} × shoulder to elbow" in page
    assert f"{(arm.armhole.height - 15) / 286:.3f} × upper arm girth" in page
    assert f"{arm.upper_arm_up / room:.1f} of the way up to the underarm; " \
           f"{arm.forearm_down / 236:.2f} of the way down" in page
    assert f"{arm.wrist_width / arm.wrist_depth:.2f} wide to 1 deep" in page


def test_ranges_run_from_the_leanest_women_to_the_largest_men() -> None:
    # mean (SD), the surveys' summaries: women 1988 151.2 (6.9), men 2012 175.9 (9.0)
    assert survey_range("wrist_girth") == pytest.approx((151.2 - 3.3 * 6.9, 175.9 + 3.3 * 9.0))
    assert survey_range("cap_height") is None


# --- two arms ---------------------------------------------------------------------------------


def two_arms(left: str, right: str) -> Sheet:
    """Return the sheet of two arms, each given as in a sheet of one."""
    tables = [text.split("[arm]\n")[1].split("[cloth]")[0] for text in (left, right)]
    return read_sheet(f'unit = "cm"\n[left_arm]\n{tables[0]}[right_arm]\n{tables[1]}')


def test_two_arms_are_read_and_compared() -> None:
    sheet = two_arms(GOOD, GOOD.replace("upper_arm_girth = 28.6", "upper_arm_girth = 31.5"))
    assert [arm.side for arm in sheet.arms] == ["left", "right"]
    assert [arm.upper_arm_girth for arm in sheet.arms] == [286.0, 315.0]
    assert [n.text for n in sheet.notices if "apart" in n.text] == [
        "upper_arm_girth is 28.6 cm on the left and 31.5 cm on the right, 10 % apart (fine if so; "
        "else measure again)"]


def test_one_table_serves_both_arms() -> None:
    sheet = read_sheet(GOOD)
    assert [arm.side for arm in sheet.arms] == ["left"]
    left, right = two_arms(GOOD, GOOD).arms
    for name in LENGTHS:
        assert getattr(left, name) == getattr(right, name) == getattr(sheet.arms[0], name)


# --- what is read -----------------------------------------------------------------------------


def test_the_demo_sheet_reads_as_it_is_written() -> None:
    sheet = read_sheet(DEMO)
    arm = sheet.arms[0]
    assert (sheet.unit, sheet.owner, sheet.date) == ("in", "Rosa Lindqvist", "2024-05-14")
    assert arm.shoulder_to_elbow == pytest.approx((13 + 5 / 16) * 25.4)
    assert arm.upper_arm_girth == pytest.approx(11.25 * 25.4)
    assert [arc.up for arc in arm.cap_arcs] == pytest.approx([31.75, 57.15, 82.55])
    assert arm.shoulder_slope_front_deg == 21.0
    assert sheet.cloth.width == pytest.approx(54 * 25.4)
    assert (sheet.make.round_to, sheet.make.paper) == (pytest.approx(3.175), "letter")
    assert 3 * sheet.make.inner_share == 1
    assert [estimate.name for estimate in arm.estimated] == [
        "armhole girth", "girth_141_below_elbow"]


def test_every_entry_of_cloth_and_make_is_read() -> None:
    text = GOOD.split("[cloth]")[0] + """
[cloth]
name = "wool"
stretch_percent = "0,8"
bias_stretch_percent = "4 %"
gives_percent = 5
eases_percent = [8, 10]
ends = "cloth"
width = "60 in"
pressure_kpa = 1.5
filling_g_per_litre = 50
[make]
inner_share = 0.35
cap = "ease"
cap_ease = "1 in"
dart_count = 2
darts = [{at = 3, length = 8, intake = 2}, {at = "-1 in"}]
widest_dart = "3 in"
narrowest_tongue = 3
widest_point = 45
most_darts = 3
seam_allowance = 1.5
seam_allowances = {front_seam = 2, "outer wrist" = 3, cap_seam = ""}
round_to = "1/8 in"
paper = "A3"
weave = "even"
"""
    sheet = read_sheet(text)
    cloth, make = sheet.cloth, sheet.make
    assert (cloth.name, cloth.ends, cloth.eases_percent) == ("wool", "cloth", (8.0, 10.0))
    assert (cloth.stretch_percent, cloth.bias_stretch_percent, cloth.gives_percent) == (0.8, 4, 5)
    assert (cloth.width, cloth.pressure_kpa, cloth.filling_g_per_litre) == (1524.0, 1.5, 50.0)
    assert (float(make.inner_share), make.cap, make.cap_ease) == (0.35, "ease", 25.4)
    assert make.dart_count == 2
    assert [(d.at, d.length, d.intake) for d in make.darts] == [
        (30.0, 80.0, 20.0), (-25.4, None, None)]
    assert (make.widest_dart, make.narrowest_tongue) == (pytest.approx(76.2), 30.0)
    assert (make.widest_point_deg, make.most_darts) == (45.0, 3)
    assert make.seam_allowances == {"front seam": 20.0, "outer wrist": 30.0}
    assert (make.seam_allowance, make.round_to, make.paper, make.weave) == (
        15.0, 3.175, "a3", "even")


def test_one_figure_serves_as_least_and_most_ease() -> None:
    sheet = read_sheet(GOOD.replace("stretch_percent = 0.4", "eases_percent = 4"))
    assert sheet.cloth.eases_percent == (4.0, 4.0)


def test_a_date_may_stand_without_quotes() -> None:
    assert read_sheet('date = 2024-05-14\n' + GOOD).date == "2024-05-14"


def test_cap_arcs_come_lowest_first() -> None:
    rows = [line for line in GOOD.splitlines() if line.startswith("  {up")]
    text = GOOD.replace("\n".join(rows), "\n".join(reversed(rows)))
    assert read_sheet(text).arms[0].cap_arcs == read_sheet(GOOD).arms[0].cap_arcs


@settings(max_examples=40)
@given(arm_measures(), st.sampled_from(["in", "cm", "mm"]))
def test_a_plausible_body_s_sheet_is_read_without_a_fault(arm: ArmMeasures, unit: Any) -> None:
    read = read_sheet(sheet_text(arm, unit)).arms[0]
    step = {"in": 25.4 / 16, "cm": 1.0, "mm": 0.1}[unit]
    for name in LENGTHS:
        # half of the step that the sheet is written in
        assert abs(getattr(read, name) - getattr(arm, name)) <= 0.5 * step + 1e-9
    assert estimated(read) == {"armhole girth", "half-way girth"}


@settings(max_examples=40)
@given(arm_measures(), st.sets(st.sampled_from(LENGTHS)), st.booleans(), st.booleans())
def test_whatever_is_left_out_is_estimated_and_marked(
    arm: ArmMeasures, left_out: set[str], has_plate: bool, has_arcs: bool
) -> None:
    left_out -= {"inner_elbow_to_wrist", "upper_arm_girth", "wrist_girth", "shoulder_to_elbow"}
    lines = [
        line for line in sheet_text(arm).splitlines()
        if line.split(" =")[0] not in left_out
        and (has_plate or not line.startswith("armhole"))
        and (has_arcs or not line.startswith("cap_arcs"))
    ]
    read = read_sheet("\n".join(lines)).arms[0]
    plate = {"armhole girth"} if has_plate else {
        "armhole girth", "armhole width", "armhole height"}
    assert estimated(read) == left_out | plate | {"half-way girth"}
    for estimate in read.estimated:
        if estimate.name.startswith("armhole"):
            value = getattr(read.armhole, estimate.name.split()[1])
        elif estimate.name.startswith("girth_"):
            assert read.wrist_girth <= estimate.value_mm <= read.forearm_girth
            continue
        else:
            value = getattr(read, estimate.name)
        assert estimate.value_mm == value > 0.0
        assert estimate.source
    assert len(read.cap_arcs) == (len(arm.cap_arcs) if has_arcs else 0)


@settings(max_examples=40)
@given(st.floats(280, 420), st.floats(200, 310), st.floats(200, 480), st.floats(130, 195))
def test_four_measures_are_enough_for_any_body_of_the_survey(
    back: float, lower: float, upper: float, wrist: float
) -> None:
    arm = least(round(back, 1), round(lower, 1), round(upper, 1), round(wrist, 1))
    room = arm.shoulder_to_inner_elbow - arm.armhole.height
    assert 0 < arm.upper_arm_up < room
    assert 0 < arm.forearm_down < arm.inner_elbow_to_wrist
    assert arm.cap_height > arm.armhole.height
    assert arm.shoulder_to_elbow > arm.shoulder_to_inner_elbow


def test_plausible_bodies_are_the_same_for_the_same_seed_and_vary_widely() -> None:
    def values(arm: ArmMeasures) -> list[float]:
        return [getattr(arm, name) for name in LENGTHS]

    assert values(random_measures(7)) == values(random_measures(7))
    girths = [random_measures(seed).upper_arm_girth for seed in range(60)]
    low, high = survey_range("upper_arm_girth") or (0.0, 0.0)
    assert low < min(girths) < 260 and 350 < max(girths) < high  # the survey's p5 and p95


# --- the armhole ------------------------------------------------------------------------------


def plate_of(entry: str) -> tuple[float, float, float, list[str]]:
    """Return width, height and girth for a plate's entry, and what of them was estimated."""
    arm = read_sheet(GOOD.replace("{width = 9.8, height = 11.6}", entry)).arms[0]
    names = [e.name.split()[1] for e in arm.estimated if e.name.startswith("armhole")]
    return arm.armhole.width, arm.armhole.height, arm.armhole.girth, names


def test_an_armhole_is_completed_from_any_of_its_measures() -> None:
    # an ellipse 98 by 116 has the perimeter 4a E(1 - b²/a²) = 336.74 (A&S 17.3)
    full = pytest.approx((98.0, 116.0, 336.7), abs=0.06)
    assert plate_of("{width = 9.8, height = 11.6}")[:3] == full
    assert plate_of('{width = 9.8, girth = "336.74 mm"}')[:3] == full
    assert plate_of('{height = 11.6, girth = "336.74 mm"}')[:3] == full
    assert plate_of('{girth = "336.74 mm"}')[:3] == pytest.approx((98.0, 116.0, 336.7), abs=0.1)
    assert plate_of("{width = 9.8, height = 11.6, girth = 34}") == (98.0, 116.0, 340.0, [])
    assert plate_of("{girth = 34}")[3] == ["width", "height"]
    assert plate_of("{width = 9.8}")[1:] == (
        pytest.approx(98 / 0.845), pytest.approx(336.8, abs=0.2), ["height", "girth"])
    assert plate_of("{height = 11.6}")[0] == pytest.approx(0.845 * 116)


@settings(max_examples=150)
@given(st.data())
def test_a_slip_of_the_keyboard_gives_a_sheet_or_plain_faults(data: st.DataObject) -> None:
    text = GOOD
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text) - 1))
        cut = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.text("\"'[]{}=,.#\n 0123é\x00ab", max_size=4)) + (
            text[at + cut:])
    try:
        assert read_sheet(text).arms
    except SheetFaults as refusal:
        last = text.count("\n") + 1
        for line in refusal.lines:
            assert len(line.splitlines()) == 1
            number = re.match(r"line (\d+): ", line)
            assert number is None or 1 <= int(number[1]) <= last


@settings(max_examples=20)
@given(sheet_texts())
def test_drawn_sheets_read(text: str) -> None:
    assert read_sheet(text).arms[0].side == "left"


def test_traced_armholes_are_found_by_name() -> None:
    arm = GOOD.split("[arm]\n")[1].split("[cloth]")[0]
    traced = arm.replace("{width = 9.8, height = 11.6}", '{outline = "plate.svg"}')
    text = f'unit = "cm"\n[left_arm]\n{traced}[right_arm]\n{traced}'
    assert outline_names(parse_text(text)) == ("plate.svg",)
    assert outline_names(parse_text(GOOD)) == () == outline_names(parse_text("[[["))
    assert outline_names(parse_text("arm = 3\n[left_arm]\narmhole = 5")) == ()


def test_the_page_on_measuring_runs_as_it_is_written() -> None:
    page = Path(__file__).parent.parent / "docs" / "measuring.md"
    result = doctest.testfile(str(page), module_relative=False)
    assert result.attempted >= 8 and result.failed == 0
