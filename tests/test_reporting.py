"""The report's page stands alone, and all files come together."""

from __future__ import annotations

import base64
import dataclasses
import io
import json
from functools import cache

import numpy as np
import pytest
from lxml import html
from PIL import Image

from tests.made_arms import made_result
from tests.report_pages import (
    BOTH,
    BOTH_CORRECTED,
    CORRECTED,
    DOT,
    RESULT,
    files,
    page,
    page_of,
    png_of,
    text_of,
    tree,
)
from unroll.disk.outputs import job_files, page_files
from unroll.show.colours import data_uri, heat_top, png_bytes
from unroll.show.figures import models_of
from unroll.show.models import arm_model, packed_models
from unroll.show.pictures import heat_figure
from unroll.show.report import rendered


@cache
def corrected_tree() -> html.HtmlElement:
    """The report of corrected pieces."""
    return html.fromstring(page_of(CORRECTED))


# ---- report.html


def test_the_page_asks_nothing_of_the_network() -> None:
    assert "http://" not in page() and "https://" not in page() and "//cdn" not in page()
    for attribute in ("src", "href", "action", "data", "poster", "srcset"):
        for value in tree().xpath(f"//@{attribute}"):
            assert value.startswith(("data:", "#")), value
    assert not tree().xpath("//link | //iframe | //object | //embed | //base | //script[@src]")
    (policy,) = tree().xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert "default-src 'none'" in policy
    assert "url(" not in page() and "@import" not in page()


def test_the_verdict_comes_first_and_methods_last() -> None:
    (verdict, *_) = corrected_tree().xpath("//main//p")
    assert text_of(verdict).replace("\u00a0", " ") == (
        "Sewn and filled, this arm will match your tape within 1/16 in and hang within half a "
        "degree."
    )
    assert corrected_tree().xpath("//main/section/@id") == [
        "in-short", "pieces", "arm", "corrected", "certainty", "darts", "distortion", "seams",
        "tape", "estimated", "sewn", "cautions", "limits",
    ]  # fmt: skip


def test_every_section_but_the_first_two_is_a_folded_question() -> None:
    sections = corrected_tree().xpath("//main/section")
    for section in sections[2:]:
        (folded,) = section.xpath("./details")
        assert folded.get("open") is None
        (title,) = folded.xpath("./summary/h2")
        assert section.get("aria-labelledby") == title.get("id")
    assert not any(section.xpath("./details/summary/h2") for section in sections[:2])


def test_advice_stands_with_the_pieces_it_is_about() -> None:
    items = tree().xpath("//section[@id='distortion']//ul[@class='advice']/li")
    advice = [text_of(item) for item in items]
    assert len(advice) == 2
    assert advice[0].startswith("The outer arm asks") and "use darts" not in " ".join(advice)


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
    ids = tree().xpath("//@id")
    assert len(ids) == len(set(ids))
    for target in tree().xpath("//a/@href"):
        assert target[1:] in ids


def test_estimated_values_are_marked_and_explained() -> None:
    found = tree().xpath("//section[@id='tape']//tbody/tr")
    rows = {text_of(row.xpath("th")[0]): row for row in found}
    assert set(rows) == {"upper arm girth", "forearm girth (estimated)", "cap arc 1"}
    (row,) = tree().xpath("//section[@id='estimated']//tbody/tr")
    assert "from wrist_girth and elbow_girth" in text_of(row)
    (caution,) = tree().xpath("//section[@id='pieces']//p[@class='caution']")
    assert text_of(caution).startswith("One of your measures is a guess: forearm girth.")


def test_no_section_on_estimates_where_everything_was_taped() -> None:
    measures = dataclasses.replace(RESULT.arms[0].measures, estimated=())
    arm = dataclasses.replace(RESULT.arms[0], measures=measures)
    page = page_of(dataclasses.replace(RESULT, arms=(arm,)))
    assert 'id="estimated"' not in page and "is a guess" not in page


@pytest.mark.parametrize(
    ("unit", "asked", "difference"),
    [("in", "11 1/4 in", "\u22121/8 in"), ("cm", "28.6 cm", "\u22123.6 mm"),
     ("mm", "286 mm", "\u22123.6 mm")],
)  # fmt: skip
def test_the_tape_table_is_in_the_makers_own_unit(unit: str, asked: str, difference: str) -> None:
    tree = html.fromstring(page_of(made_result(rings=12, unit=unit)))
    rows = [
        [text_of(cell) for cell in row.xpath("td")]
        for row in tree.xpath("//section[@id='tape']//tbody/tr")
    ]
    assert rows[0][0] == asked
    assert rows[0][2] in ("0 in", "0 mm")  # what rounds to nothing has no sign
    assert rows[2][2] == difference


def test_notices_are_shown() -> None:
    assert "three readings spread by 3.4 %" in text_of(tree().xpath("//section[@id='pieces']")[0])


def test_what_the_maker_typed_cannot_become_markup() -> None:
    (label,) = tree().xpath("//p[@class='label']")
    assert text_of(label) == "A <maker> & co"
    assert not tree().xpath("//maker")


def test_no_name_can_end_the_views_data_or_become_markup() -> None:
    arm = RESULT.arms[0]
    model = dataclasses.replace(arm_model(arm.arm, {}), name="</script><b>left</b>")
    packed = str(packed_models([model]))
    assert "</script>" not in packed and json.loads(packed)[0]["name"] == model.name
    files = {**page_files(), "x.j2": "{{ text }}"}
    assert rendered(files, "x.j2", sheet=RESULT.sheet, text="<i>x</i>") == "&lt;i&gt;x&lt;/i&gt;"


def test_cautions_name_what_hurts_burns_and_tips() -> None:
    words = text_of(tree().xpath("//section[@id='cautions']")[0]).lower()
    for word in ("blade", "pins", "flame", "tips", "local rules", "label"):
        assert word in words


def test_each_piece_to_cut_has_its_row_of_what_it_asks() -> None:
    rows = tree().xpath("//section[@id='distortion']//tbody/tr/th")
    assert [text_of(row) for row in rows] == ["outer piece", "inner piece"]
    captions = [text_of(one.xpath("//section[@id='distortion']//caption")[0])
                for one in (tree(), corrected_tree())]  # fmt: skip
    assert captions == ["Flat against curved", "Flat against filled"]


def test_both_arms_have_their_own_tables() -> None:
    tree = html.fromstring(page_of(BOTH))
    captions = [text_of(caption) for caption in tree.xpath("//section[@id='tape']//caption")]
    assert captions == ["Left arm: tape measures", "Right arm: tape measures"]
    assert len(json.loads(tree.xpath("//script[@class='models']")[0].text)) == 4
    for name in ("corrected", "certainty", "sewn"):
        (section,) = html.fromstring(page_of(BOTH_CORRECTED)).xpath(f"//section[@id='{name}']")
        heads = [text_of(head) for head in section.xpath(".//h3")]
        assert [head for head in heads if head.endswith(" arm")] == ["Left arm", "Right arm"]


def test_a_page_without_webgl_still_shows_the_arm() -> None:
    (still,) = tree().xpath("//div[@class='still']/img")
    assert still.get("src").startswith("data:image/webp;base64,")
    original = Image.open(io.BytesIO(bytes(files()["pictures/arm.png"])))
    assert _from_uri(still.get("src")).size == original.size
    assert still.get("alt") == "The left arm from four sides"
    assert tree().xpath("//div[@class='live'][@hidden]")


def test_the_view_holds_the_arm_to_a_hundredth_of_a_millimetre() -> None:
    packed, taped = json.loads(tree().xpath("//script[@class='models']")[0].text)
    arm = RESULT.arms[0]
    model = arm_model(arm.wanted, arm.distortions)
    assert [look["name"] for look in taped["looks"]] == ["pieces and seams"]

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


def test_the_arm_the_pieces_are_for_comes_first_and_the_pieces_to_cut_before_others() -> None:
    models = json.loads(corrected_tree().xpath("//script[@class='models']")[0].text)
    assert [model["name"] for model in models] == [
        "wanted arm", "as taped", "sewn: corrected pieces", "sewn: pieces laid flat",
        "sewn: flat draft with darts",
    ]  # fmt: skip
    looks = [[look["name"] for look in model["looks"]] for model in models]
    assert looks[0] == looks[1] == ["pieces and seams"]
    assert looks[2] == ["pieces and seams", "heat map", "distance"]  # what the cloth does, sewn
    assert looks[3] == looks[4] == ["pieces and seams", "distance"]
    left_and_right = [model.name for arm in BOTH_CORRECTED.arms
                      for model in models_of(BOTH_CORRECTED, arm)]  # fmt: skip
    assert left_and_right[0] == "left, wanted arm" and "right, as taped" in left_and_right


def test_pieces_drawn_are_those_to_cut() -> None:
    sources = set(corrected_tree().xpath("//section[@id='pieces']//*[@data-source]/@data-source"))
    assert sources == {"corrected"}
    assert "The corrected pieces: cut these." in text_of(corrected_tree())
    assert "The pieces laid flat: cut these." in page()


def test_a_page_without_correction_has_no_section_on_it() -> None:
    names = tree().xpath("//main/section/@id")
    assert not {"corrected", "certainty", "sewn", "draft"} & set(names)
    caption = text_of(corrected_tree().xpath("//section[@id='corrected']//caption")[0])
    assert caption == "Once sewn and filled"


def test_a_new_value_can_be_shown_without_losing_the_view() -> None:
    script = page_files()["viewer.js"]
    assert "function createTurner(turner, follow" in script
    assert "return { update, light, redraw, choose };" in script
    # what is looked at is kept by name when models change
    assert "before.name : first" in script


# ---- all files together


def test_one_arm_gets_plain_names_and_two_get_their_sides() -> None:
    assert set(files()) == {
        "arm.obj", "arm.glb", "pieces.svg", "report.html", "report.json", "pictures/arm.png",
        "pictures/pieces.png", "pictures/heat_outer.png", "pictures/heat_inner.png",
    }  # fmt: skip
    names = set(job_files(BOTH))
    assert {"left_arm.obj", "right_arm.glb", "pictures/right_heat_outer.png", "pieces.svg"} <= names
    assert "arm.obj" not in names


def test_the_heat_maps_of_one_arm_share_their_scale() -> None:
    distortions = RESULT.arms[0].distortions
    inner = next(piece for piece in RESULT.arms[0].to_cut if piece.name == "inner")
    top = heat_top(distortions.values(), RESULT.sheet.cloth.gives_percent)
    shared, own = (
        png_bytes(heat_figure(distortions["inner"], inner, gives_percent=3.0, top=end,
                              unit=RESULT.sheet.unit))  # fmt: skip
        for end in (top, None)
    )
    assert files()["pictures/heat_inner.png"] == shared != own


def test_everything_repeats_byte_for_byte() -> None:
    assert job_files(made_result(rings=12)) == files()


def test_the_report_stays_small_at_the_usual_fineness() -> None:
    # 150 rings make 14 500 triangles an arm; the promise is 4 MB for one arm and for two.
    page = str(job_files(made_result("left", "right", rings=150))["report.html"])
    assert len(page.encode()) < 4_000_000
