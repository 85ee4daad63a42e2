"""The correction in the report: numbers, sections and pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from lxml import html

from tests.made_arms import corrected_result, made_arm, made_fit, made_sewn, result_of
from tests.report_pages import CORRECTED, RESULT, page_of, text_of
from unroll.nouns.fit import FIGURES
from unroll.show.corrected import certainty_figure, laid_over, layouts_figure, overlay_figure
from unroll.show.figures import corrected_figures, hang_picture
from unroll.show.numbers import report_dict
from unroll.show.sewn import Shape, hang_figure, profile_figure, silhouette, stand_off_figure

ARM = CORRECTED.arms[0]
CORRECTION, CERTAINTY = ARM.correction, ARM.certainty
assert CORRECTION is not None and CERTAINTY is not None


def section(name: str) -> html.HtmlElement:
    return html.fromstring(page_of(CORRECTED)).xpath(f"//section[@id='{name}']")[0]


# ---- numbers


def test_the_correction_is_one_row_with_units() -> None:
    (row,) = report_dict(CORRECTED)["corrections"]
    assert row["arm"] == "left" and row["ease_mm"] == 8.0 and row["caution"] is None
    assert row["on_paper"][0] == {"name": "cap height", "before_mm": 150.0, "after_mm": 153.2}
    assert [dart["intake_mm"] for dart in row["darts"]] == [18.0]
    assert row["before"]["swing_deg"] == 4.2 and row["after"]["wrist_mm"] == 2.2
    assert row["reached"][0] == "girths within 0.2 %" and row["missed"] == []
    assert row["oval_mean_mm"] == 2.1


def test_every_round_is_told_and_one_is_kept() -> None:
    rows = report_dict(CORRECTED)["rounds"]
    assert [row["round"] for row in rows] == [0, 1, 2]
    (kept,) = [row for row in rows if row["kept"]]
    assert kept["sewn"] and kept["cost"] == min(row["cost"] for row in rows if row["sewn"])


def test_certainty_is_a_row_for_each_case_after_the_one_as_assumed() -> None:
    report = report_dict(CORRECTED)
    names = [CERTAINTY.base.name, *(case.name for case in CERTAINTY.cases)]
    assert [row["name"] for row in report["certainty"]] == names
    assert report["certainty"][2]["wrist_mm"] == 7.8
    assert report["certainty"][0]["worst_girth_percent"] == pytest.approx(0.4 / 2.86)
    assert len(report["certainty_words"]) == len(CERTAINTY.causes) + 1


def test_without_a_correction_the_lists_are_empty() -> None:
    report = report_dict(RESULT)
    for name in ("corrections", "rounds", "certainty", "certainty_words", "verdicts"):
        assert report[name] == [], name


# ---- the page


def test_figures_stand_before_and_after_with_what_is_wanted() -> None:
    table = section("corrected").xpath(".//table")[0]
    assert [text_of(head) for head in table.xpath("thead//th")] == [
        "The filled arm", "Laid flat", "To cut", "Wanted",
    ]  # fmt: skip
    rows = [[text_of(cell) for cell in row] for row in table.xpath("tbody/tr")]
    assert [row[0].lower() for row in rows] == [figure.heading.lower() for figure in FIGURES]
    swing = next(row for row in rows if row[0].startswith("Whole arm"))
    assert swing[1:] == ["4.2°", "0.4°", "0.5°"]


def test_changes_are_told_in_the_makers_unit() -> None:
    lines = [text_of(item).replace("\u00a0", " ") for item in section("corrected").xpath(".//li")]
    assert "the cap is 3/16 in higher" in lines  # 3.2 mm, rounded up
    assert "the elbow is 1.2 % slimmer on paper, because filling rounds it out" in lines
    assert "dart 1 takes in 11/16 in (9/16 in before) and runs 4 7/16 in down the arm" in lines
    assert not any("front seam" in line for line in lines)  # 0.2 mm is not worth a line


def test_certainty_has_a_picture_and_a_sentence_for_each_cause() -> None:
    body = section("certainty")
    assert len(body.xpath(".//figure")) == 1
    lines = [text_of(item).replace("\u00a0", " ") for item in body.xpath(".//li")]
    assert lines[0].startswith("Cloth half or twice as stiff as assumed moves the hanging arm by")
    assert lines[1] == "Cutting 1/32 in (0.7 mm) off the line moves the wrist by up to 1/4 in."
    assert lines[2].startswith("A finer mesh in the calculation moves nothing by more than half")
    assert lines[3].startswith("Filled cloth goes round: 1/8 in over the shoulder on average")


# ---- pictures


def test_the_picture_of_certainty_has_a_panel_for_each_figure_and_a_row_for_each_cause() -> None:
    panels = certainty_figure(CERTAINTY).axes[: len(FIGURES)]
    assert [tick.get_text() for tick in panels[0].get_yticklabels()] == [
        "cloth", "cutting", "finer mesh",
    ]  # causes without a case have no row
    for axes, figure in zip(panels, FIGURES):
        (band,) = axes.patches
        assert band.get_x() == 0.0 and band.get_width() == pytest.approx(figure.limit)
    wrist = panels[[figure.key for figure in FIGURES].index("wrist_mm")]
    lines = [tuple(np.round(line.get_xdata(), 3)) for line in wrist.lines]
    assert (7.8, 1.5) in lines  # the two cuttings
    assert (1.5, 7.8) in lines  # the bar over them
    assert wrist.get_xlim()[1] > 7.8


def test_pictures_of_a_correction_name_what_they_show() -> None:
    assert set(corrected_figures(ARM, "in")) == {"pieces-changed", "layouts", "certainty"}
    assert hang_picture(ARM).title == (
        "Sewn and filled: corrected pieces and pieces laid flat, over the wanted arm"
    )
    figure = layouts_figure(ARM.layouts, unit="in")
    told = [text.get_text() for text in figure.texts]
    assert told == ["takes in\n11/16 in", "takes in\n1 3/4 and 1 13/16 in"]
    names = ("laid flat", "corrected")
    before, after = CORRECTION.before.pieces, CORRECTION.after.pieces
    over = overlay_figure(before, after, names, lay=laid_over)
    assert {text.get_text() for text in over.legends[0].get_texts()} == set(names)


def test_one_layout_is_no_choice() -> None:
    alone = replace(ARM, layouts=ARM.layouts[:1])
    for arm, several in ((ARM, True), (alone, False)):
        title = corrected_figures(arm, "in")["layouts"].title
        words = text_of(html.fromstring(page_of(replace(CORRECTED, arms=(arm,)))))
        assert ("to choose from" in title) == several == ("Layouts to choose from" in words)
        assert (f"{len(arm.layouts)} layouts were tried" in words) == several
        assert ("1 layout was tried" in words) != several


def test_every_picture_of_the_report_can_be_read_on_a_telephone() -> None:
    """At 360 px of width a point of type is 360 / (72 x inches) px; 9 px can just be read."""
    shapes = [Shape("a", "#000000", ARM.sewn[s], ARM.fits[s]) for s in ("corrected", "unrolled")]
    drawn = (
        certainty_figure(CERTAINTY), layouts_figure(ARM.layouts), hang_figure(ARM.wanted, shapes),
        profile_figure(shapes), stand_off_figure(shapes),
        overlay_figure(CORRECTION.before.pieces, ARM.to_cut, ("a", "b"), lay=laid_over),
    )  # fmt: skip
    for figure in drawn:
        texts = [*figure.texts, *(t for axes in figure.axes for t in axes.texts)]
        texts += [t for legend in figure.legends for t in legend.get_texts()]
        scale = 360.0 / (72.0 * figure.get_figwidth())
        assert texts and min(text.get_fontsize() for text in texts) * scale >= 9.0


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


def test_a_right_arm_hangs_as_its_mirror_image_does() -> None:
    pictures = []
    for side in ("left", "right"):
        arm = made_arm(side, rings=12)
        shape = Shape("sewn", "#000000", made_sewn(arm), made_fit(arm))
        pictures.append(hang_figure(arm, [shape]))
    for one, other in zip(*(picture.axes for picture in pictures)):
        for a, b in zip(one.lines, other.lines):
            assert np.allclose(a.get_xydata(), b.get_xydata())
    sewn = pictures[0].axes[0].lines[0].get_xydata()
    assert sewn[:, 0].min() > -2.0  # the arm hangs beside the body, not through it


def test_a_caution_stands_beside_the_darts() -> None:
    result = result_of(corrected_result(swing_deg=3.4))
    (row,) = report_dict(result)["corrections"]
    assert row["caution"].startswith("This cap takes in too little")
    (caution,) = html.fromstring(page_of(result)).xpath(
        "//section[@id='darts']//p[@class='caution']"
    )
    assert text_of(caution).replace("\u00a0", " ") == row["caution"]
    assert not section("darts").xpath(".//p[@class='caution']")
    named = replace(result.arms[0], faults=("dart 1 takes in 120 mm; the sheet says 110",))
    page = page_of(replace(result, arms=(named,)))
    assert "Dart 1 takes in 120\u00a0mm" in page
