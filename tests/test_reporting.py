"""The report's page stands alone, and all files come together."""

from __future__ import annotations

import base64
import dataclasses
import io
import json

import numpy as np
import pytest
from lxml import html
from PIL import Image

from tests.made_arms import made_filled, made_result
from tests.report_pages import (
    BOTH,
    DOT,
    FILES,
    PAGE,
    RESULT,
    TREE,
    page_of,
    png_of,
    text_of,
)
from unroll.disk.drawings import page_drawing
from unroll.disk.outputs import job_files
from unroll.nouns import Filled
from unroll.nouns.shown import Figure, Section
from unroll.show.colours import heat_top, png_bytes
from unroll.show.flat import heat_figure
from unroll.show.html import data_uri, table
from unroll.show.models import arm_model
from unroll.show.page import closing_sections, opening_sections, report_html
from unroll.show.sections import turner

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
    heads = [text_of(head) for head in TREE.xpath("//main/section/h2")]
    assert heads[0] == "In short" and heads[-2] == "Take care"
    advice = [text_of(item) for item in TREE.xpath("//ul[@class='advice']/li")]
    assert advice == list(RESULT.arms[0].advice.values())


def _from_uri(uri: str) -> Image.Image:
    return Image.open(io.BytesIO(base64.b64decode(uri.split(",")[1])))


def test_drawings_are_packed_as_they_are_and_shading_nearly_so() -> None:
    drawn = Image.new("RGB", (300, 200), "#fbf8f2")
    drawn.paste("#26323a", (20, 20, 280, 22))
    uri = data_uri(png_of(drawn))
    assert uri.startswith("data:image/webp") and _from_uri(uri).tobytes() == drawn.tobytes()
    x, y = np.meshgrid(np.arange(300), np.arange(200))
    waves = [np.sin(x / 31 + y / 47), np.cos(x / 53 - y / 29), np.sin(x * y / 9000)]
    shade = (128 + 100 * np.stack(waves, axis=2)).astype(np.uint8)
    uri = data_uri(png_of(Image.fromarray(shade)))
    gap = np.abs(np.asarray(_from_uri(uri).convert("RGB")).astype(int) - shade)
    assert uri.startswith("data:image/webp") and gap.mean() < 3  # of 255: below what is seen


def test_a_picture_that_cannot_shrink_or_has_holes_is_kept() -> None:
    assert _from_uri(data_uri(DOT)).size == (1, 1)
    clear = Image.new("RGBA", (50, 50), (200, 30, 30, 90))
    assert _from_uri(data_uri(png_of(clear))).convert("RGBA").getpixel((9, 9)) == (200, 30, 30, 90)
    assert data_uri(b"<svg/>") == "data:image/svg+xml;base64,PHN2Zy8+"


def test_every_link_on_the_page_leads_somewhere() -> None:
    ids = TREE.xpath("//@id")
    assert len(ids) == len(set(ids))
    for target in TREE.xpath("//a/@href"):
        assert target[1:] in ids


def test_estimated_values_are_marked_and_explained() -> None:
    found = TREE.xpath("//section[@id='tape']//tbody/tr")
    rows = {text_of(row.xpath("th")[0]): row for row in found}
    assert set(rows) == {"upper arm girth", "forearm girth estimated", "cap arc 1"}
    (row,) = TREE.xpath("//section[@id='estimated']//tbody/tr")
    assert "from wrist_girth and elbow_girth" in text_of(row)
    assert "1 measure was estimated" in text_of(TREE.xpath("//section[@id='in-short']")[0])


def test_no_section_on_estimates_where_everything_was_taped() -> None:
    measures = dataclasses.replace(RESULT.arms[0].measures, estimated=())
    arm = dataclasses.replace(RESULT.arms[0], measures=measures)
    page = page_of(dataclasses.replace(RESULT, arms=(arm,)))
    assert 'id="estimated"' not in page and "estimated, not taken" not in page


def test_the_tape_table_shows_the_makers_own_unit() -> None:
    row = text_of(TREE.xpath("//section[@id='tape']//tbody/tr")[0])
    assert "286.0 mm" in row and "11 1/4 in" in row
    metric = html.fromstring(page_of(made_result(rings=12, unit="cm")))
    assert "28.6 cm" in text_of(metric.xpath("//section[@id='tape']//tbody/tr")[0])
    plain = page_of(made_result(rings=12, unit="mm"))
    assert 'class="own"' not in plain


def test_differences_carry_their_sign_and_zero_has_none() -> None:
    cells = [text_of(row.xpath("td")[2]) for row in TREE.xpath("//section[@id='tape']//tbody/tr")]
    assert cells == ["0.0 mm", "0.0 mm", "\u22123.6 mm"]


def test_notices_are_shown() -> None:
    assert "three readings spread by 3.4 %" in text_of(TREE.xpath("//section[@id='in-short']")[0])


def test_what_the_maker_typed_cannot_become_markup() -> None:
    (label,) = TREE.xpath("//p[@class='label']")
    assert text_of(label) == "A <maker> & co"
    assert not TREE.xpath("//maker")


def test_no_name_can_end_the_views_data_or_a_tables_caption() -> None:
    arm = RESULT.arms[0]
    model = dataclasses.replace(arm_model(arm.arm, {}), name="</script><b>left</b>")
    body = turner([model], [Figure("<i>The arm</i>", DOT)])
    assert body.count("</script>") == 1 and "<b>" not in body and "<i>" not in body
    assert json.loads(html.fromstring(body).xpath("//script")[0].text)[0]["name"] == model.name
    assert "<b>" not in table("<b>left</b>", ["<b>"], [])


def test_cautions_name_what_hurts_burns_and_tips() -> None:
    words = text_of(TREE.xpath("//section[@id='cautions']")[0]).lower()
    for word in ("blade", "pins", "flame", "tips", "local rules", "label"):
        assert word in words


def test_darts_are_set_beside_the_same_piece_without_them() -> None:
    rows = TREE.xpath("//section[@id='distortion']//tbody/tr/th")
    assert text_of(rows[-1]) == "outer piece, were it cut without darts"
    assert len(rows) == 3


def test_both_arms_have_their_own_tables() -> None:
    tree = html.fromstring(page_of(BOTH))
    captions = [text_of(caption) for caption in tree.xpath("//section[@id='tape']//caption")]
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
    assert text_of(tree.xpath("//section[@id='sewn']/p")[0]) == "It swings 4 degrees."
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
