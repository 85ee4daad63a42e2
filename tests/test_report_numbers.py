"""The report's numbers: as they were measured, each under a documented key."""

from __future__ import annotations

import dataclasses
import json
import re

import numpy as np
import pytest
from lxml import html

from tests.made_arms import made_arm_result, made_fit, made_result
from tests.report_pages import (
    BOTH,
    BOTH_CORRECTED,
    CORRECTED,
    KEYS,
    RESULT,
    page,
    page_of,
    text_of,
)
from unroll.flat import distortion as distortion_stage
from unroll.nouns import Estimate, Piece, PieceSide, verdicts_of
from unroll.nouns.fit import FIGURES
from unroll.show.numbers import dart_rows, plain, report_dict, report_json


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
    arm = RESULT.arms[0]
    arm = dataclasses.replace(arm, pieces={"drafted-ease": (piece,), **arm.pieces})
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
    assert "cut one set as drawn and one mirrored" in page()
    assert "Both arms, from tape to pieces" in page() and "its mirror image" in page()
    both = page_of(BOTH)
    assert "Left and right arm, from tape to pieces" in both and "one mirrored" not in both


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


def test_darts_and_stretch_are_those_of_the_pieces_to_cut() -> None:
    report = report_dict(CORRECTED)
    (arm,) = report["arms"]
    assert arm["to_cut"] == "corrected"
    outer = next(p for p in CORRECTED.arms[0].to_cut if p.name == "outer")
    assert report["darts"][0]["legs_mm"][0] == dart_rows(outer)[0]["legs_mm"][0]
    stretched = {row["variant"] for row in report["pieces"] if row["stretch_max"] is not None}
    assert stretched == {"corrected"}


def test_the_layouts_tried_are_listed_with_what_each_is_foretold_to_miss() -> None:
    rows = report_dict(RESULT)["trials"]
    assert [(row["name"], row["taken"]) for row in rows] == [("1 dart", True), ("2 darts", False)]
    assert rows[1]["intakes_mm"] == [44.0, 46.0]
    assert rows[0]["darts"] == [{"at_mm": 0.0, "length_mm": 112.0}]
    assert rows[1]["cap_mean_mm"] == 1.9
    section = html.fromstring(page_of(RESULT)).xpath("//section[@id='darts']")[0]
    assert [text_of(item).split(":")[0] for item in section.xpath(".//li")] == [
        "1 dart, taken", "2 darts",
    ]  # fmt: skip
    assert "2 layouts were tried" in text_of(section)


def test_sections_with_nothing_to_say_are_left_out() -> None:
    arm = made_arm_result(rings=12)
    pieces = {"unrolled": arm.pieces["unrolled"][1:]}
    bare = dataclasses.replace(arm, seams=(), layouts=(), intakes=(), pieces=pieces)
    tree = html.fromstring(page_of(dataclasses.replace(RESULT, arms=(bare,))))
    names = tree.xpath("//main/section/@id")
    assert "seams" not in names and "darts" not in names and "tape" in names


def test_every_set_of_pieces_that_was_sewn_has_its_row() -> None:
    rows = {row["source"]: row for row in report_dict(CORRECTED)["standoff"]}
    assert list(rows) == ["corrected", "unrolled", "drafted-darts"]
    for source, fit in CORRECTED.arms[0].fits.items():
        for figure in FIGURES:
            assert rows[source][figure.key] == figure.of(fit)
        assert rows[source]["converged"] is True
    assert report_dict(RESULT)["standoff"] == [] == report_dict(RESULT)["comparison"]


def test_each_figure_is_judged_against_its_limit() -> None:
    arm = CORRECTED.arms[0]
    fit = made_fit(arm.arm, "corrected", wrist_mm=5.0)
    judged = dataclasses.replace(arm, verdicts=verdicts_of(fit, "tape the cap again"))
    rows = report_dict(dataclasses.replace(CORRECTED, arms=(judged,)))["verdicts"]
    assert [row["figure"] for row in rows] == [figure.key for figure in FIGURES]
    missed = [row for row in rows if not row["met"]]
    assert missed == [
        {"arm": "left", "figure": "wrist_mm", "value": 5.0, "limit": 3.0, "met": False,
         "help": "tape the cap again"},
    ]  # fmt: skip


def test_what_could_not_be_measured_is_null() -> None:
    found = {"bend_deg": float("nan"), "gaps_mm": np.array([1.0, np.inf])}
    assert plain(found) == {"bend_deg": None, "gaps_mm": [1.0, None]}


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
    assert all_keys(report_dict(BOTH_CORRECTED)) <= documented
    assert all_keys(report_dict(BOTH)) <= documented


def test_the_documented_figures_are_those_that_are_judged() -> None:
    page = KEYS.read_text(encoding="utf-8").split("## Figures\n")[1].split("\n## ")[0]
    rows = [re.split(r" *\| *", line)[1:-1] for line in page.splitlines() if line.startswith("| `")]
    assert rows == [
        [f"`{f.key}`", f.heading, f"{f.limit:g} {f.unit}", f"{f.finest:g} {f.unit}"]
        for f in FIGURES
    ]
