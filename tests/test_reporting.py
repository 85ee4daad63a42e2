"""The report: numbers as they were measured, and a page that stands alone."""

from __future__ import annotations

import base64
import dataclasses
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
from lxml import html
from PIL import Image

from tests.made_arms import made_arm_result, made_filled, made_result
from unroll import distortion as distortion_stage
from unroll.files.drawings import page_drawing
from unroll.files.outputs import job_files
from unroll.picturing import arm_model, heat_figure, heat_top, png_bytes
from unroll.reporting import (
    closing_sections,
    opening_sections,
    report_dict,
    report_html,
    report_json,
)
from unroll.reporting.darts import dart_rows
from unroll.reporting.html import data_uri, table
from unroll.reporting.viewing import turner
from unroll.types import DartLine, Estimate, Filled, MakeResult, Piece, PieceSide
from unroll.types.shown import Figure, Section

RESULT = made_result(rings=12)
BOTH = made_result("left", "right", rings=12)
FILES = job_files(RESULT)
PAGE = str(FILES["report.html"])
TREE = html.fromstring(PAGE)


def _png(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


DOT = _png(Image.new("RGB", (1, 1)))
KEYS = Path(__file__).parent.parent / "docs" / "report_keys.md"


def _with_extra(**extra: object) -> MakeResult:
    arm = dataclasses.replace(made_arm_result(rings=12), extra=extra)
    return dataclasses.replace(RESULT, arms=(arm,))


def _page(result: MakeResult) -> str:
    """The page with stand-ins for its pictures, which take the time."""
    dot = Figure("A dot", DOT)
    arms = {arm.measures.side: arm for arm in result.arms}
    opening = opening_sections(
        result,
        [arm_model(arm.arm, arm.distortions) for arm in arms.values()],
        {f"{side} {name}": dot for side in arms for name in ("arm", "heat outer", "heat inner")},
        [page_drawing(arm.pieces["unrolled"]) for arm in arms.values()],
    )
    return report_html(result, [*opening, *closing_sections(result)], style="", script="")


def _text(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())


# ---- report.json


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
    page = _page(BOTH)
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
    result = _with_extra(trials=trials)
    rows = report_dict(result)["trials"]
    assert [row["asked_percent"] for row in rows] == [18.4, 9.0, 7.5]
    assert rows[2]["darts"] == [{"at_mm": 12.0, "length_mm": 80.0}]
    assert rows[2]["intakes_mm"] == [52.0]
    assert _all_keys(rows) <= set(re.findall(r"`([a-z_0-9]+)`", KEYS.read_text(encoding="utf-8")))
    tree = html.fromstring(_page(result))
    table = tree.xpath("//section[@id='darts']//table")[1]
    shown = [[_text(cell) for cell in row] for row in table.xpath("tbody/tr")]
    assert shown == [["0", "18.4 %", "0 mm"], ["1", "7.5 %", "52 mm"]]


def test_sections_with_nothing_to_say_are_left_out() -> None:
    arm = made_arm_result(rings=12)
    pieces = {"unrolled": arm.pieces["unrolled"][1:]}
    bare = dataclasses.replace(arm, seams=(), pieces=pieces)
    tree = html.fromstring(_page(dataclasses.replace(RESULT, arms=(bare,))))
    names = tree.xpath("//main/section/@id")
    assert "seams" not in names and "darts" not in names and "tape" in names


def test_later_stages_add_their_rows() -> None:
    @dataclasses.dataclass(frozen=True)
    class Girth:
        name: str
        asked_mm: float

    result = _with_extra(
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
    (row,) = json.loads(report_json(_with_extra(standoff=(found,))))["standoff"]
    assert row == {"arm": "left", "bend_deg": None, "gaps_mm": [1.0, None]}


def test_estimates_are_marked_on_the_measures_they_stand_for() -> None:
    estimates = (Estimate("cap_arcs", 200.0, "from cap_height"), Estimate("armhole width", 9.0, ""))
    measures = dataclasses.replace(RESULT.arms[0].measures, estimated=estimates)
    result = dataclasses.replace(
        RESULT, arms=(dataclasses.replace(RESULT.arms[0], measures=measures),)
    )
    marked = {row["name"]: row["estimated"] for row in report_dict(result)["tape"]}
    assert marked == {"upper_arm_girth": False, "forearm_girth": False, "cap_arc 1": True}


def _all_keys(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value) | {key for item in value.values() for key in _all_keys(item)}
    if isinstance(value, list):
        return {key for item in value for key in _all_keys(item)}
    return set()


def test_every_key_is_documented() -> None:
    documented = set(re.findall(r"`([a-z_0-9]+)`", KEYS.read_text(encoding="utf-8")))
    assert _all_keys(report_dict(BOTH)) <= documented


# ---- report.html


def test_the_page_asks_nothing_of_the_network() -> None:
    assert "http://" not in PAGE and "https://" not in PAGE and "//cdn" not in PAGE
    for attribute in ("src", "href", "action", "data", "poster", "srcset"):
        for value in TREE.xpath(f"//@{attribute}"):
            assert value.startswith(("data:", "#")), value
    assert not TREE.xpath("//link | //iframe | //object | //embed | //base | //script[@src]")
    (policy,) = TREE.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert "default-src 'none'" in policy
    assert "url(" not in PAGE and "@import" not in PAGE


def test_advice_comes_first_and_cautions_come_last() -> None:
    heads = [_text(head) for head in TREE.xpath("//main/section/h2")]
    assert heads[0] == "In short" and heads[-2] == "Take care"
    advice = [_text(item) for item in TREE.xpath("//ul[@class='advice']/li")]
    assert advice == list(RESULT.arms[0].advice.values())


def _from_uri(uri: str) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(uri.split(",")[1])))


def test_drawings_are_packed_as_they_are_and_shading_nearly_so() -> None:
    drawn = Image.new("RGB", (300, 200), "#fbf8f2")
    drawn.paste("#26323a", (20, 20, 280, 22))
    uri = data_uri(_png(drawn))
    assert uri.startswith("data:image/webp") and _from_uri(uri).tobytes() == drawn.tobytes()
    x, y = np.meshgrid(np.arange(300), np.arange(200))
    waves = [np.sin(x / 31 + y / 47), np.cos(x / 53 - y / 29), np.sin(x * y / 9000)]
    shade = (128 + 100 * np.stack(waves, axis=2)).astype(np.uint8)
    uri = data_uri(_png(Image.fromarray(shade)))
    gap = np.abs(np.asarray(_from_uri(uri).convert("RGB")).astype(int) - shade)
    assert uri.startswith("data:image/webp") and gap.mean() < 3  # of 255: below what is seen


def test_a_picture_that_cannot_shrink_or_has_holes_is_kept() -> None:
    assert _from_uri(data_uri(DOT)).size == (1, 1)
    clear = Image.new("RGBA", (50, 50), (200, 30, 30, 90))
    assert _from_uri(data_uri(_png(clear))).convert("RGBA").getpixel((9, 9)) == (200, 30, 30, 90)
    assert data_uri(b"<svg/>") == "data:image/svg+xml;base64,PHN2Zy8+"


def test_every_link_on_the_page_leads_somewhere() -> None:
    ids = TREE.xpath("//@id")
    assert len(ids) == len(set(ids))
    for target in TREE.xpath("//a/@href"):
        assert target[1:] in ids


def test_estimated_values_are_marked_and_explained() -> None:
    rows = {_text(row.xpath("th")[0]): row for row in TREE.xpath("//section[@id='tape']//tbody/tr")}
    assert set(rows) == {"upper arm girth", "forearm girth estimated", "cap arc 1"}
    (row,) = TREE.xpath("//section[@id='estimated']//tbody/tr")
    assert "from wrist_girth and elbow_girth" in _text(row)
    assert "1 measure was estimated" in _text(TREE.xpath("//section[@id='in-short']")[0])


def test_no_section_on_estimates_where_everything_was_taped() -> None:
    measures = dataclasses.replace(RESULT.arms[0].measures, estimated=())
    arm = dataclasses.replace(RESULT.arms[0], measures=measures)
    page = _page(dataclasses.replace(RESULT, arms=(arm,)))
    assert 'id="estimated"' not in page and "estimated, not taken" not in page


def test_the_tape_table_shows_the_makers_own_unit() -> None:
    row = _text(TREE.xpath("//section[@id='tape']//tbody/tr")[0])
    assert "286.0 mm" in row and "11 1/4 in" in row
    metric = html.fromstring(_page(made_result(rings=12, unit="cm")))
    assert "28.6 cm" in _text(metric.xpath("//section[@id='tape']//tbody/tr")[0])
    plain = _page(made_result(rings=12, unit="mm"))
    assert 'class="own"' not in plain


def test_differences_carry_their_sign_and_zero_has_none() -> None:
    cells = [_text(row.xpath("td")[2]) for row in TREE.xpath("//section[@id='tape']//tbody/tr")]
    assert cells == ["0.0 mm", "0.0 mm", "\u22123.6 mm"]


def test_notices_are_shown() -> None:
    assert "three readings spread by 3.4 %" in _text(TREE.xpath("//section[@id='in-short']")[0])


def test_what_the_maker_typed_cannot_become_markup() -> None:
    (label,) = TREE.xpath("//p[@class='label']")
    assert _text(label) == "A <maker> & co"
    assert not TREE.xpath("//maker")


def test_no_name_can_end_the_views_data_or_a_tables_caption() -> None:
    arm = RESULT.arms[0]
    model = dataclasses.replace(arm_model(arm.arm, {}), name="</script><b>left</b>")
    body = turner([model], [Figure("<i>The arm</i>", DOT)])
    assert body.count("</script>") == 1 and "<b>" not in body and "<i>" not in body
    assert json.loads(html.fromstring(body).xpath("//script")[0].text)[0]["name"] == model.name
    assert "<b>" not in table("<b>left</b>", ["<b>"], [])


def test_cautions_name_what_hurts_burns_and_tips() -> None:
    words = _text(TREE.xpath("//section[@id='cautions']")[0]).lower()
    for word in ("blade", "pins", "flame", "tips", "local rules", "label"):
        assert word in words


def test_darts_are_set_beside_the_same_piece_without_them() -> None:
    rows = TREE.xpath("//section[@id='distortion']//tbody/tr/th")
    assert _text(rows[-1]) == "outer piece, were it cut without darts"
    assert len(rows) == 3


def test_both_arms_have_their_own_tables() -> None:
    tree = html.fromstring(_page(BOTH))
    captions = [_text(caption) for caption in tree.xpath("//section[@id='tape']//caption")]
    assert captions == ["Left arm: tape measures", "Right arm: tape measures"]
    assert len(json.loads(tree.xpath("//script[@class='models']")[0].text)) == 2


def test_a_page_without_webgl_still_shows_the_arm() -> None:
    (still,) = TREE.xpath("//div[@class='still']/img")
    assert still.get("src").startswith("data:image/webp;base64,")
    original = Image.open(io.BytesIO(bytes(FILES["pictures/arm.png"])))
    assert _from_uri(still.get("src")).size == original.size
    assert still.get("alt") == "The left arm from four sides"
    assert TREE.xpath("//div[@class='live'][@hidden]")


def test_the_view_holds_the_arm_to_a_hundredth_of_a_millimetre() -> None:
    (packed,) = json.loads(TREE.xpath("//script[@class='models']")[0].text)
    arm = RESULT.arms[0]
    model = arm_model(arm.arm, arm.distortions)

    def numbers(text: str, kind: str) -> np.ndarray:
        return np.frombuffer(base64.b64decode(text), kind)

    low, high = np.array(packed["low"]), np.array(packed["high"])
    places = numbers(packed["positions"], "<u2").reshape(-1, 3) / 65535 * (high - low) + low
    assert np.abs(places - model.vertices).max() < 0.01
    assert np.array_equal(numbers(packed["faces"], "<u2").reshape(-1, 3), model.faces)
    assert not packed["wide"] and packed["side"] == "left"
    assert [look["name"] for look in packed["looks"]] == ["pieces and seams", "heat map"]
    colours = numbers(packed["looks"][1]["colours"], "u1").reshape(-1, 3) / 255
    assert np.abs(colours - model.looks[1].colours).max() < 0.5 / 255 + 1e-9
    assert {line["kind"] for line in packed["lines"]} == {"seam", "dart", "reference"}


def test_sewn_shapes_can_be_turned_beside_the_arm() -> None:
    arm = RESULT.arms[0]
    sewn, off = made_filled(arm.arm)
    filled = Filled({"drafted-ease": sewn}, {"drafted-ease": off}, "It stands proud.")
    result = dataclasses.replace(RESULT, arms=(dataclasses.replace(arm, filled=filled),))
    page = str(job_files(result)["report.html"])
    models = json.loads(html.fromstring(page).xpath("//script[@class='models']")[0].text)
    assert [model["name"] for model in models] == ["left arm", "sewn: flat draft with ease"]
    assert [look["name"] for look in models[1]["looks"]] == ["pieces and seams", "stand-off"]
    assert "once it is sewn and filled" in page and "once it is sewn and filled" not in PAGE


def test_other_stages_can_add_sections() -> None:
    extra = Section("sewn", "Sewn and filled", "<p>It swings 4 degrees.</p>")
    tree = html.fromstring(str(job_files(RESULT, sections=[extra])["report.html"]))
    names = tree.xpath("//main/section/@id")
    assert names.index("sewn") == names.index("cautions") - 1
    assert _text(tree.xpath("//section[@id='sewn']/p")[0]) == "It swings 4 degrees."
    assert "#sewn" in tree.xpath("//nav//a/@href")


@pytest.mark.parametrize("name", ["Sewn", "sewn & filled", "", "9lives"])
def test_a_section_name_that_is_no_anchor_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="is no anchor"):
        report_html(RESULT, [Section(name, "x", "")], style="", script="")


def test_two_sections_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match="two sections are called 'sewn'"):
        report_html(RESULT, [Section("sewn", "x", "")] * 2, style="", script="")


def test_sections_can_be_had_apart_from_the_page() -> None:
    arm = RESULT.arms[0]
    figures = {"left arm": Figure("The arm", DOT)}
    drawings = [page_drawing(arm.pieces["unrolled"])]
    opening = opening_sections(RESULT, [arm_model(arm.arm, {})], figures, drawings)
    assert [section.name for section in opening][:2] == ["in-short", "arm"]
    assert [section.name for section in closing_sections(RESULT)] == ["cautions", "limits"]


# ---- all files together


def test_one_arm_gets_plain_names_and_two_get_their_sides() -> None:
    assert set(FILES) == {
        "arm.obj", "arm.glb", "pieces.svg", "report.html", "report.json", "pictures/arm.png",
        "pictures/pieces.png", "pictures/heat_outer.png", "pictures/heat_inner.png",
    }  # fmt: skip
    names = set(job_files(BOTH))
    assert {"left_arm.obj", "right_arm.glb", "pictures/right_heat_outer.png", "pieces.svg"} <= names
    assert "arm.obj" not in names


def test_the_heat_maps_of_one_arm_share_their_scale() -> None:
    distortions = RESULT.arms[0].distortions
    top = heat_top(distortions.values(), RESULT.sheet.cloth.gives_percent)
    expected = png_bytes(heat_figure(distortions["inner"], gives_percent=3.0, top=top))
    assert FILES["pictures/heat_inner.png"] == expected
    assert expected != png_bytes(heat_figure(distortions["inner"], gives_percent=3.0))


def test_everything_repeats_byte_for_byte() -> None:
    assert job_files(made_result(rings=12)) == FILES


def test_the_report_stays_small_at_the_usual_fineness() -> None:
    # 150 rings make 14 500 triangles an arm; the promise is 4 MB for one arm and for two.
    page = str(job_files(made_result("left", "right", rings=150))["report.html"])
    assert len(page.encode()) < 4_000_000
