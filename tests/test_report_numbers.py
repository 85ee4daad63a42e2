"""The report's numbers: as they were measured, each under a documented key."""

from __future__ import annotations

import dataclasses
import json
import re

import numpy as np
import pytest
from lxml import html

from tests.made_arms import made_arm_result, made_result
from tests.report_pages import (
    BOTH,
    KEYS,
    PAGE,
    RESULT,
    page_of,
    text_of,
    with_extra,
)
from unroll.flat import distortion as distortion_stage
from unroll.nouns import DartLine, Estimate, Piece, PieceSide
from unroll.show.darts import dart_rows
from unroll.show.numbers import report_dict, report_json


def test_json_is_the_dictionary_unrounded() -> None:
    assert json.loads(report_json(RESULT)) == report_dict(RESULT)


def test_tape_rows_are_what_the_tape_found() -> None:
    for row, taped in zip(report_dict(RESULT)["tape"], RESULT.arms[0].tape, strict=True):
        assert row["arm"] == "left" and row["name"] == taped.name
        assert row["asked_mm"] == taped.asked_mm and row["got_mm"] == taped.got_mm
        assert row["difference_mm"] == taped.got_mm - taped.asked_mm
        assert row["note"] == taped.note


def test_piece_rows_are_measured_on_the_pieces_and_their_distortion() -> None:
    outer = report_dict(RESULT)["pieces"][0]
    distortion = RESULT.arms[0].distortions["outer"]
    x, y = np.array(outer["outline_mm"]).T
    area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
    assert outer["area_mm2"] == pytest.approx(area, rel=1e-12)
    assert (outer["source"], outer["variant"]) == ("flattened", "unrolled")
    assert outer["stretch_max"] == distortion.stretch_max.max()
    assert outer["stretch_min"] == distortion.stretch_min.min()
    assert outer["area_ratio_max"] == distortion.area_ratio.max()
    assert outer["flips"] == 0
    # At most a hundredth of the curved area is stretched more than the 99th percentile.
    over = distortion.stretch_max > outer["stretch_p99"]
    under = distortion.stretch_min < outer["stretch_p01"]
    assert distortion.weights[over].sum() <= 0.01 and distortion.weights[under].sum() <= 0.01
    give = distortion_stage.thread_give_percent(distortion)
    assert outer["give_p99_percent"] == pytest.approx(
        float(distortion_stage.percentiles_by_area(give, distortion.weights, 99)), rel=1e-12
    )
    lengths = {row["seam"]: (row["curved_mm"], row["flat_mm"]) for row in outer["seam_lengths"]}
    assert lengths == dict(distortion.seam_lengths_mm)


def test_a_flipped_face_is_counted() -> None:
    arm = RESULT.arms[0]
    outer = arm.distortions["outer"]
    turned = outer.area_ratio.copy()
    turned[3] *= -1
    bad = dataclasses.replace(outer, area_ratio=turned)
    result = dataclasses.replace(
        RESULT, arms=(dataclasses.replace(arm, distortions={**arm.distortions, "outer": bad}),)
    )
    row = report_dict(result)["pieces"][0]
    assert row["flips"] == 1 and row["area_ratio_min"] < 0


def test_drafted_pieces_have_no_stretch_to_report() -> None:
    corners = np.array([[0.0, 0], [10, 0], [0, 10], [0, 0]])
    piece = Piece("outer", "drafted-ease", "left", (PieceSide("cap seam", corners),))
    arm = dataclasses.replace(RESULT.arms[0], pieces={"drafted-ease": (piece,)})
    row = report_dict(dataclasses.replace(RESULT, arms=(arm,)))["pieces"][0]
    assert (row["source"], row["variant"]) == ("drafted", "drafted-ease")
    assert row["stretch_max"] is None and row["flips"] is None and row["area_mm2"] == 50.0


def test_seam_rows_carry_both_lengths() -> None:
    row = report_dict(RESULT)["seams"][1]
    assert row["lengths_mm"] == [224.1, 211.0]
    assert row["mismatch_mm"] == 224.1 - 211.0
    assert row["ease_percent"] == 6.21


def test_every_row_says_which_arm_it_is_about() -> None:
    report = report_dict(BOTH)
    for name in ("arms", "tape", "pieces", "seams", "estimated", "without_darts", "advice"):
        assert {row["arm"] for row in report[name]} == {"left", "right"}, name


def test_one_arm_that_serves_both_says_so() -> None:
    assert report_dict(RESULT)["arms"][0]["mirrored_for"] == ["right"]
    assert report_dict(BOTH)["arms"][0]["mirrored_for"] == []
    assert "cut one set as drawn and one turned over" in PAGE
    assert "Both arms, from tape to pieces" in PAGE and "its mirror image" in PAGE
    page = page_of(BOTH)
    assert "Left and right arm, from tape to pieces" in page and "turned over." not in page


@pytest.mark.parametrize("side", ["left", "right"])
def test_darts_are_measured_on_the_flat_piece(side: str) -> None:
    result = made_result(side, rings=12)
    (row,) = report_dict(result)["darts"]
    outer = result.arms[0].pieces["unrolled"][0]
    # The made arm opens its dart by 9 mm to each side; its point lies 8 of 12 rings down.
    assert row["name"] == "dart 1" and row["intake_mm"] == pytest.approx(18.0)
    assert row["legs_mm"][0] == pytest.approx(row["legs_mm"][1])
    assert sum(row["legs_mm"]) == pytest.approx(outer.seam_length("dart 1"))
    both_ways = row["from_front_mm"] + row["from_back_mm"]
    assert both_ways == pytest.approx(outer.seam_length("cap seam"))


def test_a_darts_place_is_told_from_the_front_on_either_arm() -> None:
    # A cap seam of 30 mm to the front of the dart and of 70 mm to its back.
    corners = {
        "left": [[70, 0], [0, 0], [2, -9], [4, 0], [-26, 0]],
        "right": [[30, 0], [0, 0], [-2, -9], [-4, 0], [-74, 0]],
    }
    for side, points in corners.items():
        line = np.array(points, dtype=float)
        seams = ("cap seam", "dart 1", "dart 1", "cap seam")
        sides = tuple(PieceSide(s, line[k : k + 2]) for k, s in enumerate(seams))
        (row,) = dart_rows(Piece("outer", "unrolled", side, sides))
        assert (row["from_front_mm"], row["from_back_mm"]) == (30.0, 70.0)
        assert row["intake_mm"] == 4.0


def test_the_layouts_tried_are_listed_and_the_best_of_each_number_shown() -> None:
    @dataclasses.dataclass(frozen=True)
    class Tried:
        darts: tuple[DartLine, ...]
        asked_percent: float
        intakes: tuple[float, ...]

    dart = DartLine(12.0, 80.0)
    trials = (Tried((), 18.4, ()), Tried((dart,), 9.0, (40.0,)), Tried((dart,), 7.5, (52.0,)))
    result = with_extra(trials=trials)
    rows = report_dict(result)["trials"]
    assert [row["asked_percent"] for row in rows] == [18.4, 9.0, 7.5]
    assert rows[2]["darts"] == [{"at_mm": 12.0, "length_mm": 80.0}]
    assert rows[2]["intakes_mm"] == [52.0]
    assert all_keys(rows) <= set(re.findall(r"`([a-z_0-9]+)`", KEYS.read_text(encoding="utf-8")))
    tree = html.fromstring(page_of(result))
    table = tree.xpath("//section[@id='darts']//table")[1]
    shown = [[text_of(cell) for cell in row] for row in table.xpath("tbody/tr")]
    assert shown == [["0", "18.4 %", "0 mm"], ["1", "7.5 %", "52 mm"]]


def test_sections_with_nothing_to_say_are_left_out() -> None:
    arm = made_arm_result(rings=12)
    pieces = {"unrolled": arm.pieces["unrolled"][1:]}
    bare = dataclasses.replace(arm, seams=(), pieces=pieces)
    tree = html.fromstring(page_of(dataclasses.replace(RESULT, arms=(bare,))))
    names = tree.xpath("//main/section/@id")
    assert "seams" not in names and "darts" not in names and "tape" in names


def test_later_stages_add_their_rows() -> None:
    @dataclasses.dataclass(frozen=True)
    class Girth:
        name: str
        asked_mm: float

    result = with_extra(
        standoff=({"source": "unrolled", "swing_deg": np.float64(4.5),
                   "girths": (Girth("elbow_girth", 246.0),)},),
        comparison=[{"piece": "outer", "area_difference_percent": 1.5}],
    )  # fmt: skip
    report = json.loads(report_json(result))
    assert report["standoff"] == [
        {"arm": "left", "source": "unrolled", "swing_deg": 4.5,
         "girths": [{"name": "elbow_girth", "asked_mm": 246.0}]},
    ]  # fmt: skip
    assert report["comparison"][0]["arm"] == "left"
    assert report_dict(RESULT)["standoff"] == [] == report_dict(RESULT)["comparison"]


def test_what_could_not_be_measured_is_null() -> None:
    found = {"bend_deg": float("nan"), "gaps_mm": np.array([1.0, np.inf])}
    (row,) = json.loads(report_json(with_extra(standoff=(found,))))["standoff"]
    assert row == {"arm": "left", "bend_deg": None, "gaps_mm": [1.0, None]}


def test_estimates_are_marked_on_the_measures_they_stand_for() -> None:
    estimates = (Estimate("cap_arcs", 200.0, "from cap_height"), Estimate("armhole width", 9.0, ""))
    measures = dataclasses.replace(RESULT.arms[0].measures, estimated=estimates)
    result = dataclasses.replace(
        RESULT, arms=(dataclasses.replace(RESULT.arms[0], measures=measures),)
    )
    marked = {row["name"]: row["estimated"] for row in report_dict(result)["tape"]}
    assert marked == {"upper_arm_girth": False, "forearm_girth": False, "cap_arc 1": True}


def all_keys(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value) | {key for item in value.values() for key in all_keys(item)}
    if isinstance(value, list):
        return {key for item in value for key in all_keys(item)}
    return set()


def test_every_key_is_documented() -> None:
    documented = set(re.findall(r"`([a-z_0-9]+)`", KEYS.read_text(encoding="utf-8")))
    assert all_keys(report_dict(BOTH)) <= documented
