"""The correction in the report: numbers, sections and pictures."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import html

from tests.made_arms import made_arm, made_distortion, made_panel, made_result
from tests.samples import sample_measures
from unroll.job import Scope, make_result
from unroll.nouns import Cloth, Make, MakeResult, Sheet
from unroll.nouns.corrected import Closing, Spread, SpreadRow
from unroll.show.corrected_pictures import Wanted, certainty_figure, hang_figure, silhouette
from unroll.show.numbers import report_dict, report_json
from unroll.show.stage_sections import stage_sections

KEYS = Path(__file__).parent.parent / "docs" / "report_keys.md"
BASE = SpreadRow("as assumed", -0.04, 0.3, 0.4, 0.5, 2.0, 1.2, 3.5, (0.1, -0.04))
ROWS = (
    replace(BASE, name="cloth half as stiff", girth_percent=0.4, swing_deg=0.9),
    replace(BASE, name="cut 0.7 mm astray (1)", wrist_mm=7.8),
    replace(BASE, name="cut 0.7 mm astray (2)", wrist_mm=1.5),
)
SPREAD = Spread(BASE, ROWS, ("Cutting < cloth.",), "How sure that is: fairly.")


def shown(closing: Closing, **changes: object) -> MakeResult:
    """A made result whose arm was corrected."""
    result = made_result(rings=12)
    arm = replace(result.arms[0], closing=closing, **changes)
    pieces = {**arm.pieces, "corrected": closing.pieces}
    return replace(result, arms=(replace(arm, pieces=pieces),))


def section(result: MakeResult, name: str) -> html.HtmlElement | None:
    found = [s for s in stage_sections(result) if s.name == name]
    return html.fromstring(f"<div>{found[0].body}</div>") if found else None


def text(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())


# ---- numbers


def test_the_correction_is_one_row_with_units(quick_closing) -> None:
    (row,) = report_dict(shown(quick_closing))["corrections"]
    assert row["arm"] == "left"
    assert row["on_paper"] == [
        {"name": c.name, "before_mm": c.before, "after_mm": c.after}
        for c in quick_closing.on_paper
    ]
    assert row["ease_mm"] == quick_closing.ease
    assert [dart["intake_mm"] for dart in row["darts"]] == [
        intake.width for intake in quick_closing.intakes
    ]
    assert row["before"]["swing_deg"] == quick_closing.before.swing_deg
    assert row["after"]["wrist_mm"] == quick_closing.after.wrist_mm
    assert row["changes"] == list(quick_closing.changes) and row["caution"] is None


def test_every_round_is_told_and_one_is_kept(quick_closing) -> None:
    rows = report_dict(shown(quick_closing))["rounds"]
    assert [row["round"] for row in rows] == list(range(len(quick_closing.rounds)))
    (kept,) = [row for row in rows if row["kept"]]
    assert kept["sewn"] and kept["cost"] == min(row["cost"] for row in rows if row["sewn"])


def test_a_caution_stands_beside_the_correction(quick_closing) -> None:
    result = shown(quick_closing, advice={"dart layout": "This cap takes in too little."})
    assert report_dict(result)["corrections"][0]["caution"] == "This cap takes in too little."
    caution = section(result, "corrected").xpath("//p[@class='caution']")[0]
    assert text(caution) == "This cap takes in too little."
    assert not section(shown(quick_closing), "corrected").xpath("//p[@class='caution']")


def test_certainty_is_a_row_a_case_after_the_one_as_assumed(quick_closing) -> None:
    report = report_dict(shown(quick_closing, certainty=SPREAD))
    assert [row["name"] for row in report["certainty"]] == [row.name for row in (BASE, *ROWS)]
    assert report["certainty"][2]["wrist_mm"] == 7.8
    assert report["certainty_words"] == [{"arm": "left", "text": "Cutting < cloth."}]


def test_without_a_correction_the_lists_are_empty() -> None:
    report = report_dict(made_result(rings=12))
    for name in ("corrections", "rounds", "layouts", "certainty", "certainty_words"):
        assert report[name] == [], name


def test_every_key_of_a_correction_is_documented(quick_closing) -> None:
    documented = set(re.findall(r"`([a-z_0-9]+)`", KEYS.read_text(encoding="utf-8")))
    report = json.loads(report_json(shown(quick_closing, certainty=SPREAD)))

    def keys(value: object) -> set[str]:
        if isinstance(value, dict):
            return set(value).union(*map(keys, value.values()))
        return set().union(*map(keys, value)) if isinstance(value, list) else set()

    assert keys(report) <= documented


def test_corrected_pieces_carry_the_distortion_of_their_flattening(quick_closing) -> None:
    flattening = made_distortion(made_panel(made_arm(rings=12), "outer")).flattening
    sheet = Sheet((sample_measures(),), Cloth(), Make())
    scope = Scope(14.0, draft=False, fill=False, certain=False)
    for flattenings in ((), (flattening,)):
        closing = replace(quick_closing, flattenings=flattenings)
        result = make_result(sheet, scope=scope, closings=(closing,))
        row = next(
            row
            for row in report_dict(result)["pieces"]
            if (row["variant"], row["name"]) == ("corrected", "outer")
        )
        assert (row["stretch_max"] is not None) is bool(flattenings)
        body = text(section(result, "corrected"))
        assert ("What they ask of the cloth" in body) is bool(flattenings)
    distortion = result.arms[0].corrected["outer"]
    assert row["stretch_max"] == distortion.stretch_max.max() and row["flips"] == distortion.flips


# ---- the page


def test_figures_stand_before_and_after_with_what_is_wanted(quick_closing) -> None:
    table = section(shown(quick_closing), "corrected").xpath("//table")[0]
    rows = [[text(cell) for cell in row] for row in table.xpath("tbody/tr")]
    assert rows[0] == [
        "hangs off by",
        f"{quick_closing.before.swing_deg:.1f}°",
        f"{quick_closing.after.swing_deg:.1f}°",
        "0.5°",
    ]
    assert rows[2][-1] == "0.3 %"


def test_where_the_arms_differ_each_is_named(quick_closing) -> None:
    two = made_result("left", "right", rings=12)
    arms = tuple(
        replace(arm, closing=quick_closing, certainty=SPREAD, corrected={}) for arm in two.arms
    )
    for name in ("corrected", "certainty"):
        body = section(replace(two, arms=arms), name)
        heads = [text(head) for head in body.xpath("//h3")]
        assert [head for head in heads if head.endswith(" arm")] == ["Left arm", "Right arm"]


def test_what_is_missed_can_stand_in_one_sentence(quick_closing) -> None:
    missed = (
        "hang 2 ° off; wanted 0.5: add darts",
        "wrist 9 mm off; wanted 3: add darts",
        "girths 1 % off; wanted 0.3: measure again",
    )
    sheet = Sheet((sample_measures(),), Cloth(), Make())
    scope = Scope(14.0, draft=False, fill=False, certain=False)
    closing = replace(quick_closing, reached=("shoulder within 1 mm",), missed=missed)
    (arm,) = make_result(sheet, scope=scope, closings=(closing,)).arms
    assert arm.advice["corrected pieces"] == (
        "The corrected pieces, sewn and filled: shoulder within 1 mm. Not reached: hang 2 ° off "
        "(wanted 0.5); wrist 9 mm off (wanted 3). For that, add darts. Not reached: girths 1 % off "
        "(wanted 0.3). For that, measure again."
    )


def test_certainty_has_a_picture_sentences_and_a_table(quick_closing) -> None:
    body = section(shown(quick_closing, certainty=SPREAD), "certainty")
    assert len(body.xpath("//figure")) == 1
    assert [text(item) for item in body.xpath("//li")] == ["Cutting < cloth."]
    rows = [[text(cell) for cell in row] for row in body.xpath("//table/tbody/tr")]
    assert len(rows) == 4
    assert rows[0][:2] == ["as assumed", "0.0 %"]  # -0.04: what rounds to nothing has no sign
    assert rows[1][:3] == ["cloth half as stiff", "+0.4 %", "0.9°"]
    assert section(shown(quick_closing), "certainty") is None


# ---- pictures


def test_the_picture_of_certainty_shows_each_case_and_what_is_wanted() -> None:
    figure = certainty_figure(SPREAD, Wanted(0.3, 0.5, 3.0, 1.5))
    girth, hang, wrist, _ = figure.axes[:4]
    assert [tick.get_text() for tick in girth.get_yticklabels()] == [
        "cloth half to twice\nas stiff as assumed",
        "cut 0.7 mm astray",
    ]  # causes without a case have no row
    for axes, limit in ((girth, 0.3), (hang, 0.5), (wrist, 3.0)):
        (band,) = axes.patches
        assert band.get_x() == 0.0 and band.get_width() == pytest.approx(limit)
    lines = [tuple(np.round(line.get_xdata(), 3)) for line in wrist.lines]
    assert (7.8, 1.5) in lines  # the two cuttings
    assert (1.5, 7.8) in lines  # the bar over them
    assert wrist.get_xlim()[1] > 7.8
    # a girth is off by its size, whatever its sign
    assert all(min(line.get_xdata()) >= 0.0 for line in girth.lines)


def box(low: tuple[float, ...], high: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    faces = np.array([
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ])  # fmt: skip
    return np.array(low) + corners * (np.array(high) - np.array(low)), faces


def test_the_silhouette_of_a_box_is_its_side() -> None:
    points, faces = box((-20.0, 5.0, -100.0), (30.0, 45.0, 0.0))
    front = silhouette(points, faces, np.array([0.0, 1.0, 0.0]))
    side = silhouette(points, faces, np.array([-1.0, 0.0, 0.0]))
    assert (front[:, 0].min(), front[:, 0].max()) == pytest.approx((5.0, 45.0))
    assert (side[:, 0].min(), side[:, 0].max()) == pytest.approx((-30.0, 20.0))
    x, y = front[:-1].T
    area = 0.5 * abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    assert area == pytest.approx(40.0 * 100.0, rel=0.002)


def test_a_right_arm_hangs_as_its_mirror_image_does(quick_closing) -> None:
    flip = np.array([1.0, -1.0, 1.0])

    def mirrored(sewn):
        mesh = replace(sewn.mesh, vertices=sewn.mesh.vertices * flip)
        return replace(sewn, mesh=mesh, arm="right")

    names = ("before", "after")
    left = hang_figure(
        quick_closing.rounded, quick_closing.sewn_before, quick_closing.sewn_after, names=names
    )
    right = hang_figure(
        quick_closing.rounded,
        mirrored(quick_closing.sewn_before),
        mirrored(quick_closing.sewn_after),
        names=names,
    )
    for one, other in zip(left.axes, right.axes):
        for a, b in zip(one.lines, other.lines):
            assert np.allclose(a.get_xydata(), b.get_xydata())
    after = left.axes[0].lines[1].get_xydata()
    assert after[:, 0].min() > -2.0  # the arm hangs beside the body, not through it
