"""The measuring guide: one page, every tape on it, nothing over its edge."""

from __future__ import annotations

import re
from pathlib import Path

import pdfplumber
import pypdf
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from unroll.disk.atomic import guide_pdf, write_blank
from unroll.errors import UnrollError
from unroll.paper.measuring_guide import ROWS, TAPES, guide_figure, guide_pages
from unroll.paper.plumb_drawing import READINGS
from unroll.sheets.blank import blank_sheet
from unroll.sheets.schema import ArmTable


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("guide") / "guide.pdf"
    path.write_bytes(guide_pdf(guide_figure()))
    return path


def test_the_first_page_is_one_a4_page(pdf: Path) -> None:
    pages = pypdf.PdfReader(pdf).pages
    assert len(pages) == 1
    # ISO 216: A4 is 210 by 297 mm
    box = pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(
        (210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.01)


# ISO 216; ANSI/ASME Y14.1 size A
@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_guide_comes_on_her_paper_with_blanks_and_true_squares(
    paper: str, size: tuple[float, float], tmp_path: Path
) -> None:
    path = tmp_path / "guide.pdf"
    path.write_bytes(guide_pdf(guide_pages(paper, "in")))
    with pdfplumber.open(path) as book:
        for page in book.pages:
            found = float(page.width) / 72 * 25.4, float(page.height) / 72 * 25.4
            assert found == pytest.approx(size, abs=0.01)
        blanks = [line for line in book.pages[1].lines if 27 < line["width"] / 72 * 25.4 < 29]
        assert len(blanks) == 3 * len(ROWS)
        text = book.pages[1].extract_text()
        for tape in TAPES:
            assert tape.key in text
        for part in ("Shoulder point", "Level of the underarm", "Wrist line", "half-way from 7"):
            assert part in text
        plumb = book.pages[2].extract_text()
        assert all(plumb.count(key) == 2 for key, _ in READINGS[:2] + READINGS[3:])
        shapes = book.pages[3].rects + book.pages[3].curves
        squares = [r for r in shapes if r["width"] < 200]  # the page's ground is wider
        sides = sorted(r[k] / 72 * 25.4 for r in squares for k in ("width", "height"))
    assert sides == pytest.approx([50.0, 50.0, 50.8, 50.8], abs=1e-3)  # 2 in


def test_its_fonts_are_embedded(pdf: Path) -> None:
    fonts = pypdf.PdfReader(pdf).pages[0]["/Resources"]["/Font"]  # type: ignore[index]
    assert fonts
    assert all("/CharProcs" in font.get_object() for font in fonts.values())


def test_the_same_guide_gives_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    assert guide_pdf(guide_figure()) == guide_pdf(guide_figure())


def test_every_tape_is_drawn_and_told(pdf: Path) -> None:
    with pdfplumber.open(pdf) as book:
        text = book.pages[0].extract_text()
    drawn = [item.get_text() for item in guide_figure().axes[0].texts]
    for tape in TAPES:
        assert tape.key in text
        assert drawn.count(str(tape.number)) == 2  # once on the drawing, once in the legend


def test_numbers_and_keys_are_those_of_the_blank_sheet() -> None:
    arm = blank_sheet("cm").split("[arm]")[1].split("[cloth]")[0]
    numbered = re.findall(r"(?m)^(\w+) = .*# +(\d\d?)(?: |$)", arm)
    assert [(tape.key, str(tape.number)) for tape in TAPES] == numbered
    assert {tape.key for tape in TAPES} <= set(ArmTable.model_fields)
    must = re.findall(r"(?m)^(\w+) = .*# +\d+ required", blank_sheet("cm"))
    assert [tape.key for tape in TAPES if tape.is_must] == must


@pytest.mark.parametrize("place", [0, 1, 2, 3])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_words_lie_over_other_words_or_over_the_edge(paper: str, place: int) -> None:
    figure = guide_pages(paper, "in")[place]
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [(text.get_text(), text.get_window_extent(canvas.get_renderer()))
             for text in figure.axes[0].texts if text.get_text() != "•"]
    page = figure.bbox
    margin = 10.0 / 25.4 * figure.dpi  # what home printers leave white
    for place, (words, box) in enumerate(boxes):
        assert box.x0 >= margin and box.x1 <= page.x1 - margin, words
        assert box.y0 >= margin and box.y1 <= page.y1 - margin, words
        for other, beside in boxes[place + 1:]:
            assert not box.padded(-0.5).overlaps(beside.padded(-0.5)), (words, other)


def test_a_blank_sheet_and_its_guide_are_written_once(tmp_path: Path) -> None:
    sheet, guide = write_blank(tmp_path / "rosa", blank_sheet("in"), guide_figure())
    assert (sheet.name, guide.name) == ("rosa.toml", "rosa-guide.pdf")
    assert sheet.read_text("utf-8") == blank_sheet("in")
    assert guide.read_bytes().startswith(b"%PDF")
    sheet.write_text("filled in")
    with pytest.raises(UnrollError, match=r"rosa\.toml is there already; choose another name, so "
                                          r"that no measures are lost$"):
        write_blank(tmp_path / "rosa.toml", blank_sheet("in"), guide_figure())
    assert sheet.read_text() == "filled in"


def test_a_guide_that_is_there_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "rosa-guide.pdf").write_text("mine")
    with pytest.raises(UnrollError, match=r"rosa-guide\.pdf is there already"):
        write_blank(tmp_path / "rosa.toml", "", guide_figure())
    assert not (tmp_path / "rosa.toml").exists()


def test_a_folder_that_is_not_there_is_told_plainly(tmp_path: Path) -> None:
    with pytest.raises(UnrollError, match="cannot be written"):
        write_blank(tmp_path / "no" / "rosa.toml", "", guide_figure())
