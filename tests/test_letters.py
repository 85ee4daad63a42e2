"""Names in any script: drawn where the machine has letters for them, else spelt, and said."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from ezdxf.filemanagement import new
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from matplotlib import font_manager
from matplotlib.figure import Figure
from PIL import Image

from tests.test_bad_sheets import GOOD
from unroll.disk.pattern_dxf import _text_of
from unroll.disk.print_files import pdf_bytes, png_bytes
from unroll.disk.sheets import load_sheet
from unroll.nouns import Lettering, SheetPage
from unroll.paper.board import FONT, text_width, written
from unroll.show import colours

HAN = "林"
MIXED = ["林美玲", "김민지", "さくら", "🧵 Ada 🪡",
         "e\u0301 n\u0303 a\u0330", "עדה", "آدا", "अदा", "ა Ж ß"]


@pytest.fixture
def only_dejavu(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine that has no fonts but those that come with the drawing library."""
    manager = font_manager.fontManager
    own = [font for font in manager.ttflist if font.name.startswith("DejaVu")]
    monkeypatch.setattr(manager, "ttflist", own)
    for cached in (written, text_width):
        cached.cache_clear()
    yield
    for cached in (written, text_width):
        cached.cache_clear()


def han_font(path: Path) -> Path:
    """Write a font whose one letter is a square of half the type's size."""
    pen = TTGlyphPen(None)
    pen.moveTo((0, 0))
    for corner in ((0, 500), (500, 500), (500, 0)):
        pen.lineTo(corner)
    pen.closePath()
    square, empty = pen.glyph(), TTGlyphPen(None).glyph()
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder([".notdef", "han"])
    font.setupCharacterMap({ord(HAN): "han"})
    font.setupGlyf({".notdef": empty, "han": square})
    font.setupHorizontalMetrics({".notdef": (500, 0), "han": (1000, 0)})
    font.setupHorizontalHeader(ascent=800, descent=-200)
    font.setupNameTable({"familyName": "Square Han", "styleName": "Regular"})
    font.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200)
    font.setupPost()
    font.save(path)
    return path


def page(text: str) -> SheetPage:
    """Return a page of 100 by 50 mm with one line of type of 20 mm."""
    return SheetPage("letters", 100.0, 50.0, letterings=(
        Lettering(text, np.array([50.0, 10.0]), 20.0, align="middle"),))


def inked(png: bytes) -> tuple[float, float, float, float]:
    """Return left, right, bottom and top of what is inked, mm from the lower left corner."""
    dark = np.asarray(Image.open(io.BytesIO(png)).convert("L")) < 128
    rows, columns = np.nonzero(dark)
    mm = 50.0 / len(dark)
    return (columns.min() * mm, (columns.max() + 1) * mm, 50.0 - (rows.max() + 1) * mm,
            50.0 - rows.min() * mm)


@pytest.mark.usefixtures("only_dejavu")
def test_letters_that_no_font_has_are_spelt_in_latin() -> None:
    # Hanyu Pinyin: 林 lín, 美 měi, 玲 líng
    assert written("林美玲") == ("LinMeiLing", (FONT,))
    assert written("Åsa Žuková") == ("Åsa Žuková", (FONT,))
    assert text_width(HAN, 5.0) == text_width("Lin", 5.0)


@pytest.mark.usefixtures("only_dejavu")
def test_letters_come_from_another_font_where_one_has_them(tmp_path: Path) -> None:
    font_manager.fontManager.addfont(han_font(tmp_path / "han.ttf"))
    assert written(f"Ada {HAN}") == (f"Ada {HAN}", (FONT, "Square Han"))
    left, right, bottom, top = inked(png_bytes(page(HAN), dots_per_inch=254.0))
    # half of 20 mm each way, standing on its base line, 20 mm of advance in the page's middle
    assert (left, right, bottom, top) == pytest.approx((40.0, 50.0, 10.0, 20.0), abs=0.2)
    document = pypdfium2.PdfDocument(pdf_bytes([page(HAN)]))
    dark = np.asarray(document[0].render(scale=2.0).to_pil().convert("L")) < 128
    assert dark.mean() == pytest.approx(10.0 * 10.0 / (100.0 * 50.0), rel=0.05)


@pytest.mark.usefixtures("only_dejavu")
@pytest.mark.parametrize("text", MIXED)
def test_no_script_brings_a_warning_or_an_empty_page(text: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        png_of, pdf = png_bytes(page(text)), pdf_bytes([page(text)])
    left, right, _, _ = inked(png_of)
    assert right - left > 5.0 and pdf.startswith(b"%PDF")


@pytest.mark.usefixtures("only_dejavu")
def test_the_report_s_pictures_spell_a_cloth_s_name_too() -> None:
    figure = Figure()
    text = figure.text(0.1, 0.5, "綿布 – 5°\ncotton")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        colours.png_bytes(figure)
    assert text.get_text() == "MianBu – 5°\ncotton"  # Hanyu Pinyin: 綿 mián, 布 bù


@pytest.mark.usefixtures("only_dejavu")
def test_what_is_spelt_is_said_once_a_text(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(GOOD.replace("Ada Brandt", "林美玲"), "utf-8")
    sheet = load_sheet(path)
    assert sheet.owner == "林美玲"
    assert [notice.text for notice in sheet.notices if notice.name == "owner"] == [
        "owner is printed as LinMeiLing, for no font of this computer has the letters of "
        '"林美玲"']
    path.write_text(GOOD.replace("Ada Brandt", "Åsa Brandt"), "utf-8")
    assert not [notice for notice in load_sheet(path).notices if notice.name == "owner"]


def test_a_drawing_for_cutters_holds_other_letters_as_its_format_writes_them() -> None:
    document = new("R2000")
    document.modelspace().add_text("Åsa 林 🧵")
    text = _text_of(document)
    # "\\U+" and four digits: the notation that drawing programs read in a text of one code page
    assert text.isascii() and r"\U+00C5sa \U+6797 :thread:" in text


@pytest.mark.parametrize("mark", "\ufeff\u200e\u200f\u202a\u202c\u202e\u2066\u2069")
def test_marks_that_nobody_sees_are_left_out(tmp_path: Path, mark: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text(GOOD.replace("Ada", f"{mark}A{mark}da"), "utf-8")
    assert load_sheet(path).owner == "Ada Brandt"
