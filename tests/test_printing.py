"""Printed pages, read back by other libraries: true to scale, joined without a gap, complete."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from tests.own_pieces import made_arm, own_sheet, square
from tests.strategies import arm_measures
from unroll.disk.print_files import pdf_bytes, png_bytes
from unroll.drafts.drafting import draft
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.nouns import Lettering, PieceSide, PrintFacts, mirrored
from unroll.paper.board import STYLES
from unroll.paper.layouts import lay_out, paper_called
from unroll.paper.pages import pages
from unroll.paper.plan_page import plan_page
from unroll.paper.tiling import pattern_pages, word_box
from unroll.paper.wording import printing_lines

MM = 25.4 / 72  # a point in mm
# ISO 216; ANSI/ASME Y14.1 sizes A and B (8.5 x 11 in and 11 x 17 in)
PAPERS = {
    "a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8), "a0": (841.0, 1189.0),
}


@pytest.fixture(scope="module")
def both_arms():
    return finish(made_arm(), own_sheet(), arm="both", version="9.9")


@pytest.fixture(scope="module")
def book_of(both_arms):
    """The pages of a paper, each laid out once."""
    return cache(lambda paper: printed(both_arms, paper))


@pytest.fixture(scope="module")
def pdf_of(book_of):
    """Their PDFs, each written once."""
    return cache(lambda paper: pdf_bytes(book_of(paper)))


@pytest.fixture(scope="module")
def a4_book(book_of):
    return book_of("a4")


@pytest.fixture(scope="module")
def a4_layout(both_arms):
    return lay_out(both_arms, paper_called("a4"))


@pytest.fixture(scope="module")
def a4_pages(a4_layout):
    """Each page of the pattern by its tile."""
    return dict(zip(a4_layout.tiles, pattern_pages(a4_layout, PrintFacts()), strict=True))


def printed(finished, paper, **facts):
    sheet = own_sheet()
    plan = cut_plan(finished, sheet.cloth.width)
    facts = PrintFacts("9.9", 2.3, **facts)
    return pages(finished, plan, sheet, paper=paper, facts=facts)


def strokes_of_pdf(data, page_index):
    """Return every drawn line of a PDF page: (width in mm, points in mm, y up)."""
    with pdfplumber.open(io.BytesIO(data)) as book:
        page = book.pages[page_index]
        height = float(page.height)
        return [
            (o["linewidth"] * MM, np.array([(x * MM, (height - y) * MM) for x, y in o["pts"]]))
            for o in page.curves + page.lines + page.rects
        ]


# -- sizes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_pattern_page_has_exactly_the_size_of_its_paper(book_of, pdf_of, paper):
    book = book_of(paper)
    reader = pypdf.PdfReader(io.BytesIO(pdf_of(paper)))
    assert len(reader.pages) == len(book)
    for page, value in zip(reader.pages, book, strict=True):
        size = [float(v) * MM for v in page.mediabox[2:]]
        want = PAPERS[paper] if value.tile else (value.width, value.height)
        assert size == pytest.approx(want, abs=1e-6)
        assert page.mediabox == page.cropbox


def thin_lines(data, index):
    thin = STYLES["square"].width
    return [p for width, p in strokes_of_pdf(data, index) if abs(width - thin) < 1e-3]


@pytest.mark.parametrize("paper", list(PAPERS))
def test_the_test_squares_are_true_in_both_directions_and_stand_on_one_page(pdf_of, paper):
    """On the cover, or where the pattern is one large sheet, on that sheet."""
    data = pdf_of(paper)
    where = 2 if paper == "a0" else 0
    spans = sorted(tuple(np.ptp(p, axis=0)) for p in thin_lines(data, where))
    assert len(spans) == 2
    assert spans[0] == pytest.approx((100.0, 100.0), abs=1e-3)
    assert spans[1] == pytest.approx((101.6, 101.6), abs=1e-3)  # 4 in


def test_a_rasterised_cover_shows_the_test_square_at_a_hundred_millimetres(a4_book):
    page = a4_book[0]
    document = pypdfium2.PdfDocument(pdf_bytes([replace(page, letterings=(), strokes=tuple(
        s for s in page.strokes if s.style == "square"))]))
    dots = 600 / 25.4
    grey = np.asarray(document[0].render(scale=600 / 72).to_pil().convert("L")) < 200
    columns, rows = np.nonzero(grey.mean(axis=0) > 0.2)[0], np.nonzero(grey.mean(axis=1) > 0.2)[0]
    for where in (columns, rows):
        # both squares share one side; the far sides are 1.6 mm apart
        groups = np.split(where, np.nonzero(np.diff(where) > 3)[0] + 1)
        middles = sorted(group.mean() for group in groups)
        spans = sorted({round(abs(a - b) / dots, 3) for a in middles for b in middles})
        assert min(abs(s - 100.0) for s in spans) < 0.05  # a dot is 0.04 mm
        assert min(abs(s - 101.6) for s in spans) < 0.05


def test_rulers_on_the_pages_are_50_mm_and_2_in(a4_book, pdf_of):
    data, seen = pdf_of("a4"), 0
    for index in range(2, len(a4_book)):
        lines = thin_lines(data, index)
        if not lines:
            continue
        base = max(lines, key=lambda p: np.ptp(p, axis=0).max())
        axis = int(np.argmax(np.ptp(base, axis=0)))
        assert np.ptp(base[:, axis]) == pytest.approx(50.8, abs=1e-3)  # 2 in
        start = base[:, axis].min()
        ticks = np.array([p[0, axis] for p in lines if np.ptp(p[:, axis]) < 1e-3]) - start
        for want in (0.0, 10.0, 50.0, 25.4, 50.8):
            assert np.abs(ticks - want).min() < 1e-3 or np.abs(50.8 - ticks - want).min() < 1e-3
        seen += 1
    assert seen >= 3


@pytest.mark.parametrize("paper", ["a4", "letter", "a0", "roll"])
def test_pieces_put_together_from_the_pages_are_the_pieces(both_arms, paper):
    layout = lay_out(both_arms, paper_called(paper))
    book = pattern_pages(layout, PrintFacts())
    data = pdf_bytes(book)
    drawn = []
    for index, tile in enumerate(layout.tiles):
        drawn += [
            points - origin_of(layout, tile)
            for width, points in strokes_of_pdf(data, index)
            if abs(width - 0.5) < 1e-3 and len(points) >= 2
        ]
    lines = shapely.union_all([shapely.LineString(points) for points in drawn])
    for laid in layout.laid:
        loop = laid.place(laid.piece.cutting)
        # every stretch of the cutting line is on some page, and where it belongs
        fine = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(loop), 1.0))
        assert shapely.distance(shapely.points(fine), lines).max() < 0.02
    edges = shapely.union_all([shapely.LinearRing(one.place(one.piece.cutting))
                               for one in layout.laid] +
                              [shapely.LineString(one.place(slit)) for one in layout.laid
                               for mark in one.piece.notches for slit in mark.slits])
    away = [shapely.distance(shapely.points(points), edges).max() for points in drawn]
    assert max(away) < 0.02


def test_neighbouring_pages_show_the_same_half_circles_on_their_joint(a4_layout, a4_pages):
    layout, book, joints = a4_layout, a4_pages, 0
    for tile, page in book.items():
        for step in ((0, 1), (1, 0)):
            other = (tile[0] + step[0], tile[1] + step[1])
            if other in book:
                one, two = (circles(layout, t, p) for t, p in ((tile, page), (other, book[other])))
                shared = [c for c in one if min(np.linalg.norm(c - d) for d in two) < 1e-6]
                low, high = layout.box(tile)
                line = high[0] if step == (0, 1) else low[1]
                axis = 0 if step == (0, 1) else 1
                assert sum(abs(c[axis] - line) < 1e-6 for c in shared) == 2
                joints += 1
    assert joints >= 4


def origin_of(layout, tile):
    """Return where the layout's origin lies on a page."""
    low, _ = layout.box(tile)
    return [layout.paper.margin, layout.paper.foot] - (low - layout.paper.overlap / 2)


def test_the_number_on_either_side_of_a_joint_is_that_pages_own(a4_layout, a4_pages):
    counts = Counter()
    for tile, page in a4_pages.items():
        low, high = a4_layout.box(tile)
        for text, box in boxes(page):
            if text.text.isdigit():
                middle = np.array(box.centroid.coords[0]) - origin_of(a4_layout, tile)
                is_mine = bool(((low < middle) & (middle < high)).all())
                assert is_mine == (text.text == str(a4_layout.number(tile))), (page.name, text.text)
                counts[is_mine] += 1
    assert counts[True] == counts[False] >= 16


def circles(layout, tile, page):
    """Return the middles of the joint circles on a page, in the layout's coordinates."""
    origin = origin_of(layout, tile)
    round_ones = [
        s.points for s in page.strokes
        if s.style == "mark" and len(s.points) == 37 and np.allclose(s.points[0], s.points[-1])
    ]
    return [p[:-1].mean(axis=0) - origin for p in round_ones]


def test_blank_pages_are_left_out_and_pages_are_numbered_with_row_and_column(a4_layout, a4_pages):
    layout = a4_layout
    areas = shapely.union_all([shapely.Polygon(o.place(o.piece.cutting)) for o in layout.laid])
    for row in range(layout.rows):
        for column in range(layout.columns):
            low, high = layout.box((row, column))
            is_used = shapely.box(*low, *high).intersection(areas).area > 0
            assert is_used <= ((row, column) in layout.tiles)
    assert layout.rows * layout.columns > len(layout.tiles)
    for number, page in enumerate(a4_pages.values(), start=1):
        words = [t.text for t in page.letterings]
        row, column = page.tile
        where = f"page {number} of {len(layout.tiles)}   row {row}, column {column}"
        assert where in words


@pytest.mark.parametrize("width", [900.0, 1400.0, 1520.0, 1620.0])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_number_on_the_cut_plan_lies_on_its_piece(both_arms, paper, width):
    """Beside a small piece it would be taken for its neighbour's."""
    plan = cut_plan(both_arms, width)
    page = plan_page(both_arms, plan, own_sheet(), paper_called(paper))
    names = {f"{number}{arm}" for number in "1234" for arm in "LR"}
    boxes = [word_box(word) for word in page.letterings if word.text in names]
    pieces = [shapely.Polygon(patch.points) for patch in page.patches]
    assert len(pieces) == len(boxes) == 8
    for piece in pieces:
        assert sum(piece.contains(box) for box in boxes) == 1


def test_no_page_is_printed_that_would_be_blank():
    corners = np.array([[0, -500], [500, 0], [0, 500], [-500, 0], [0, -500]], dtype=float)
    sides = tuple(PieceSide(f"edge {i}", corners[i : i + 2]) for i in range(4))
    layout = lay_out(finish([replace(square(), sides=sides)], own_sheet()), paper_called("a4"))
    area = shapely.Polygon(layout.laid[0].place(layout.laid[0].piece.cutting))
    rim = layout.paper.overlap / 2
    for tile in layout.tiles:
        low, high = layout.box(tile)
        assert shapely.box(*(low - rim), *(high + rim)).intersects(area)
    # a square on its corner leaves the four corners of its pages free
    corner = [(row, column) for row in (0, layout.rows - 1) for column in (0, layout.columns - 1)]
    assert not set(corner) & set(layout.tiles)


def test_pages_are_few(both_arms, a4_layout):
    layout = a4_layout
    area = sum(shapely.Polygon(p.cutting).area for p in both_arms)
    width, height = layout.paper.tile
    # pieces longer than a page cannot fill pages; twice the area is what hand-laying needs
    assert len(layout.tiles) <= np.ceil(2 * area / (width * height))


# -- legible ----------------------------------------------------------------------------------


@cache  # the same words stand on many pages
def extent(text, size, is_bold):
    """Return the lower left and the upper right corner of words, from the font's own outlines."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if is_bold else "normal")
    shape = TextPath((0, 0), text, size=size, prop=font, usetex=False)
    return shape.vertices.min(axis=0), shape.vertices.max(axis=0)


def boxes(page):
    """Return the box of every lettering on a page."""
    out = []
    for text in page.letterings:
        low, high = extent(text.text, text.size, text.is_bold)
        shift = {"left": 0.0, "middle": -high[0] / 2, "right": -high[0]}[text.align]
        box = shapely.box(*(low + [shift, 0.0]), *(high + [shift, 0.0]))
        turned = shapely.affinity.rotate(box, text.turn_deg, origin=(0.0, 0.0))
        out.append((text, shapely.affinity.translate(turned, *text.at)))
    return out


@pytest.mark.parametrize("align", ["left", "middle", "right"])
@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 30.0])
def test_the_room_kept_for_a_word_is_where_its_letters_are_drawn(align, turn_deg):
    text = Lettering("[jgpqy]", np.array([30.0, 40.0]), 4.0, align, False, turn_deg)
    ((_, drawn),) = boxes(SimpleNamespace(letterings=[text]))
    room = word_box(text)
    assert room.buffer(1e-6).contains(drawn)
    assert room.area < 1.1 * drawn.area  # these letters reach nearly as far as any


def assert_legible(page):
    found = boxes(page)
    frame = shapely.box(4.0, 4.0, page.width - 4.0, page.height - 4.0)
    lines = page.strokes
    tree = shapely.STRtree([shapely.LineString(s.points) for s in lines])
    for index, (text, box) in enumerate(found):
        assert text.size >= 2.4, text.text  # 7 point
        assert frame.contains(box), (page.name, text.text)
        hit = [lines[i].style for i in tree.query(box, predicate="intersects")]
        assert not hit, (page.name, text.text, hit)
        for other, second in found[:index]:
            assert not box.intersects(second), (page.name, text.text, other.text)


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_no_word_lies_over_a_line_or_another_word_and_nothing_is_clipped(book_of, paper):
    for page in book_of(paper):
        assert_legible(page)


def test_every_line_lies_within_the_margins(a4_book):
    for page in a4_book:
        for stroke in page.strokes:
            assert stroke.points.min() >= 4.0, (page.name, stroke.style)
            assert (stroke.points.max(axis=0) <= np.array([page.width, page.height]) - 4.0).all()


def test_pages_print_in_black_and_white(pdf_of):
    """Every line is told by its width and dashes, not by a colour or a grey alone."""
    looks = {(s.width, s.dashes) for name, s in STYLES.items() if name not in ("faint", "thin")}
    by_name = {n: (s.width, s.dashes) for n, s in STYLES.items()}
    told_apart = ["cutting", "stitching", "fold", "ease", "reference", "grain", "joint", "square"]
    assert len({by_name[name] for name in told_apart}) == len(told_apart)
    assert all(0.0 <= s.grey <= 0.6 for s in STYLES.values())
    assert looks
    image = pypdfium2.PdfDocument(pdf_of("a4"))[2].render(scale=1).to_pil()
    red, green, blue = np.moveaxis(np.asarray(image.convert("RGB")).astype(int), 2, 0)
    assert np.abs(red - green).max() == 0 and np.abs(green - blue).max() == 0


# -- what the pages say -----------------------------------------------------------------------


def words(page):
    return " ".join(t.text for t in page.letterings)


def test_the_cover_tells_what_to_print_cut_buy_and_sew(a4_book):
    text = words(a4_book[0])
    for part in ("A. Maker", "2024-05-01", "9.9", "100 %", "Page map", "Cut list", "outer",
                 "The finished arm is to measure: upper arm", "cut 2, one of them mirrored",
                 "plain cotton, 140 cm wide:", "about 280 g (4.6 litres", "stiff card",
                 "Take care", "Blades and pins", "flame", "tips under weight", "Local rules"):
        assert part in text


def test_a_cover_without_a_computed_filling_does_not_invent_one(both_arms):
    sheet = own_sheet()
    cover = pages(both_arms, cut_plan(both_arms, 1400.0), sheet, paper="a4")[0]
    assert "litres" not in words(cover)


def test_pages_of_pieces_outside_limits_all_point_to_the_cover(both_arms):
    book = printed(both_arms, "a4", faults=("front seam: 12 mm too long",))
    assert "front seam: 12 mm too long" in words(book[0])
    assert "Outside limits" in words(book[0])
    for page in book[2:]:
        assert "OUTSIDE LIMITS" in words(page)
        assert_legible(page)


def test_many_faults_are_counted_and_the_cover_still_fits(both_arms):
    lines = tuple(f"seam {i}: a stretch is {i} mm longer than the other" for i in range(1, 12))
    cover = printed(both_arms, "letter", faults=lines)[0]
    assert "and 7 more" in words(cover)
    assert_legible(cover)


def test_every_piece_carries_its_name_on_the_pages(a4_book):
    text = " ".join(words(page) for page in a4_book[2:])
    for name in ("OUTER", "INNER", "ARMHOLE BASE", "WRIST BASE", "ARMHOLE BASE, CARD",
                 "shoulder", "underarm", "elbow line", "press towards the back"):
        assert name in text


def test_text_is_kept_as_text_in_embedded_fonts(pdf_of):
    reader = pypdf.PdfReader(io.BytesIO(pdf_of("a4")))
    assert "Cut list" in reader.pages[0].extract_text()
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # each letter drawn, its name kept
            assert "/CharProcs" in font.get_object() and "/ToUnicode" in font.get_object()


def test_a_dollar_sign_in_a_name_is_printed_as_it_is(both_arms):
    sheet = replace(own_sheet(), owner="A $ B $")
    finished = finish([square()], sheet)
    book = pattern_pages(lay_out(finished, paper_called("a4")), PrintFacts())
    assert "A $ B $" in pypdf.PdfReader(io.BytesIO(pdf_bytes(book))).pages[0].extract_text()


def test_a_thumbnail_is_a_png_of_the_page(a4_book):
    data = png_bytes(a4_book[0], dots_per_inch=50.0)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = (int.from_bytes(data[i : i + 4], "big") for i in (16, 20))
    assert (width, height) == pytest.approx((210 / 25.4 * 50, 297 / 25.4 * 50), abs=1)


REPEAT = """
import hashlib
from tests.own_pieces import made_arm, own_sheet
from unroll.disk.pattern_dxf import dxf_text
from unroll.disk.pattern_svg import svg_text
from unroll.disk.print_files import pdf_bytes, png_bytes
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.paper.pages import pages
sheet = own_sheet()
pieces = finish(made_arm(), sheet, arm="both")
book = pages(pieces, cut_plan(pieces, 1400.0), sheet, paper="a4")
all = [pdf_bytes(book), png_bytes(book[0]), svg_text(pieces).encode(), dxf_text(pieces).encode()]
print(*(hashlib.sha256(data).hexdigest() for data in all))
"""


def test_the_same_pieces_give_the_same_bytes_in_another_process():
    prints = set()
    for seed in ("1", "2"):
        environment = {**os.environ, "SOURCE_DATE_EPOCH": "1700000000", "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", REPEAT], env=environment, capture_output=True, text=True,
            check=True, cwd=Path(__file__).parents[1],
        )
        prints.add(done.stdout)
    assert len(prints) == 1 and len(prints.pop().split()) == 4


# -- bad input, and any arm -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "how", "message"),
    [
        ("a5", {}, 'paper is "a5"; expected one of a4, a3, letter, tabloid, a0, roll'),
        ("a4", {"margin": -1.0}, "margin is -1 mm; expected 0 to 30 mm"),
        ("a4", {"overlap": 40.0}, "overlap is 40 mm; expected 0 to 30 mm"),
        ("roll", {"roll_width": 50.0}, "roll is 50 mm wide; expected 150 to 3000 mm"),
    ],
)
def test_a_paper_that_cannot_be_meant_is_refused(name, how, message):
    with pytest.raises(UnrollError, match=message):
        paper_called(name, **how)


def test_a_roll_narrower_than_a_piece_is_refused():
    pieces = finish([square(400.0)], own_sheet())
    with pytest.raises(UnrollError, match=r"roll is 300 mm wide; the widest piece needs 436 mm"):
        lay_out(pieces, paper_called("roll", roll_width=300.0))


def test_pieces_larger_than_one_large_sheet_go_on_a_roll_of_its_width_and_the_cover_says_so():
    pieces = finish([square(600.0), replace(square(700.0), name="other")], own_sheet())
    laid = lay_out(pieces, paper_called("a0"))
    assert laid.paper.name == "roll" and laid.paper.width == 841.0
    assert laid.paper.height > 2 * 636.0 and len(laid.laid) == 2
    first, _ = printing_lines(laid.paper, "cm")
    assert "from a roll, 84.1 cm wide and 13" in first


def test_a_piece_wider_than_the_large_sheet_is_refused():
    with pytest.raises(UnrollError, match=r"roll is 841 mm wide; the widest piece needs 936 mm"):
        lay_out(finish([square(900.0)], own_sheet()), paper_called("a0"))


def test_nothing_to_print_is_refused():
    with pytest.raises(UnrollError, match="there is no piece to print"):
        lay_out((), paper_called("a4"))


@settings(max_examples=2)
@given(arm_measures())
def test_any_plausible_arm_fits_its_pages_and_stays_legible(measures):
    sheet = replace(own_sheet(), arms=(measures,))
    finished = finish(place_notches(draft(measures, sheet.make, manner="darts")), sheet, arm="both")
    layout = lay_out(finished, paper_called("a4"))
    tiles = shapely.union_all([
        shapely.box(*(low - 5), *(high + 5)) for low, high in map(layout.box, layout.tiles)
    ])
    for laid in layout.laid:
        assert tiles.buffer(1e-6).contains(shapely.Polygon(laid.place(laid.piece.cutting)))
    book = pattern_pages(layout, PrintFacts())
    text = " ".join(words(page) for page in book)
    for piece in finished:
        assert all(word in text for word in piece.label[0].split())
    assert text.count("BASE") == 4  # two plates, and the card for each
    for page in book:
        assert_legible(page)


def test_two_arms_of_their_own_measures_are_printed_together(both_arms):
    left = finish(made_arm(), own_sheet())
    right = finish([mirrored(piece, "right") for piece in made_arm()], own_sheet())
    book = printed((*left, *right), "a4")
    assert words(book[0]).startswith("Pattern for the left arm and the right arm")
    assert "each arm: cut 1" in words(book[0])
    assert "outer (right)" in " ".join(words(page) for page in book[2:])
    assert all(one.arm == one.piece.arm for one in cut_plan((*left, *right), 1400.0).laid)
    for page in book:
        assert_legible(page)
