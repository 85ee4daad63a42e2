"""Sizes of one sheet: one dart layout, nested true to scale, read back by other libraries."""

from __future__ import annotations

import csv
import io
from types import SimpleNamespace

import ezdxf
import numpy as np
import pdfplumber
import pytest
import shapely
from svgelements import SVG, Path

from unroll.batch.orders import Order, sharing_darts, size_orders
from unroll.disk.cut_shapes import shapes_json, shapes_of
from unroll.disk.pattern_dxf import page_dxf
from unroll.disk.pattern_svg import page_svg
from unroll.disk.print_files import pdf_bytes
from unroll.drafts.drafting import draft
from unroll.errors import UnrollError
from unroll.finish.cut_plan import BUNDLE, GAP, cloth_plans, cut_plan
from unroll.finish.finishing import finish
from unroll.finish.grading import graded, nests_of
from unroll.finish.notching import place_notches
from unroll.nouns import DartLine, GradedMeasure
from unroll.paper.board import SIZE_STYLES, STYLES
from unroll.paper.cloth_pages import cloth_page, lay_pages, share_used
from unroll.paper.nest_page import nest_page, styles_of
from unroll.show.overview import grading_cells, grading_csv

SHEET = """
unit = "cm"
[arm]
shoulder_to_elbow = 33.6
shoulder_to_inner_elbow = 31.8
inner_elbow_to_wrist = 23.4
upper_arm_girth = 28.6
wrist_girth = 15.8
cap_height = 16
armhole = { width = 9.8, height = 11.6 }
[sizes]
S = { upper_arm_girth = 27, wrist_girth = 15.2, cap_height = 15.3 }
M = {}
"X,L" = { upper_arm_girth = 30.4, wrist_girth = 16.5, armhole = { width = 10.2, height = 12.1 } }
"""
NAMES = ("S", "M", "X-L")
MM = 25.4 / 72  # a point in mm


@pytest.fixture(scope="module")
def orders(tmp_path_factory):
    path = tmp_path_factory.mktemp("sizes") / "base.toml"
    path.write_text(SHEET, "utf8")
    return size_orders(path)


@pytest.fixture(scope="module")
def sets(orders):
    """The flat draft of each size, ready to cut."""
    return {
        order.name: finish(
            place_notches(draft(order.sheet.arms[0], order.sheet.make, manner="darts")),
            order.sheet, arm="both",
        )
        for order in orders
    }  # fmt: skip


@pytest.fixture(scope="module")
def nests(sets):
    return nests_of(sets)


@pytest.fixture(scope="module")
def outer(nests):
    nest = next(nest for nest in nests if nest.title == "outer")
    styles = styles_of(NAMES)
    return nest, nest_page(nest, styles), styles


def loops_of(nest):
    """The cutting lines of a nest, by size, from the lower left corner of them all."""
    loops = [laid.place(laid.piece.cutting) for laid in nest.laid]
    low = np.min([loop.min(axis=0) for loop in loops], axis=0)
    return dict(zip(nest.sizes, (loop - low for loop in loops), strict=True))


def assert_true_to_scale(found, nest, within):
    """Hold lines that were read, by size, in mm, y up, to the cutting lines of the pieces."""
    low = np.min([np.min(line, axis=0) for line in found.values()], axis=0)
    for size, loop in loops_of(nest).items():
        ring, read = shapely.LinearRing(loop), shapely.LineString(found[size] - low)
        assert ring.hausdorff_distance(read) < within
        assert read.length == pytest.approx(ring.length, abs=20 * within)


# ---- one layout


def test_all_sizes_share_the_darts_of_the_sheet_itself_in_proportion(orders):
    base = orders[1].sheet
    job = SimpleNamespace(
        sheet=base,
        arms=[SimpleNamespace(measures=base.arms[0], layouts=[
            SimpleNamespace(darts=(DartLine(60.0, 110.0, 0.75), DartLine(-60.0, 110.0, 0.75)))
        ])],
    )  # fmt: skip
    failed = Order("none", "", None, ("no",))
    small, same, large, none = sharing_darts((*orders, failed), job)
    assert [dart.at for dart in same.sheet.make.darts] == [60.0, -60.0]
    arm, other = large.sheet.arms[0], base.arms[0]
    for dart, place in zip(large.sheet.make.darts, (60.0, -60.0), strict=True):
        assert dart.at == pytest.approx(place * arm.armhole.girth / other.armhole.girth)
        assert dart.length == pytest.approx(110.0 * arm.cap_height / other.cap_height)
    assert small.sheet.make.darts[0].length == pytest.approx(110.0 * 15.3 / 16.0)
    assert {order.sheet.make.dart_count for order in (small, same, large)} == {2}
    assert none is failed


# ---- nested


def test_every_piece_is_nested_with_its_underarm_line_held(nests, sets):
    assert {nest.title for nest in nests} == {piece.title for piece in sets["M"]}
    for nest in nests:
        assert nest.sizes == NAMES
        for laid in nest.laid:
            line = laid.place(laid.piece.lines.get("underarm line", laid.piece.stitching))
            middle = 0.5 * (line.min(axis=0) + line.max(axis=0))
            assert middle == pytest.approx([0.0, 0.0], abs=1e-9)


def test_one_size_alone_is_not_nested(sets):
    with pytest.raises(UnrollError, match="1 size was made; expected two or more"):
        nests_of({"S": sets["S"]})


def test_the_svg_is_read_back_true_to_scale(outer):
    nest, page, styles = outer
    read = SVG.parse(io.StringIO(page_svg(page)), ppi=25.4)
    assert (read.width, read.height) == pytest.approx((page.width, page.height), abs=1e-3)
    found = {}
    for size, style in styles.items():
        kind = style.replace(" ", "_")
        paths = [e for e in read.elements() if isinstance(e, Path) and e.values["class"] == kind]
        longest = max(paths, key=len)
        found[size] = np.array([[p.x, -p.y] for p in longest.as_points()])
    assert_true_to_scale(found, nest, 0.001)


def test_the_dxf_is_read_back_true_to_scale_with_a_layer_for_each_size(outer):
    nest, page, styles = outer
    text = page_dxf(page, layers={style: size for size, style in styles.items()})
    document = ezdxf.read(io.StringIO(text))
    assert document.audit().errors == [] and document.units == ezdxf.units.MM
    found = {}
    for size in NAMES:
        lines = document.modelspace().query(f'POLYLINE[layer=="{size}"]')
        longest = max(lines, key=lambda line: len(line.vertices))
        found[size] = np.array([[*v.dxf.location][:2] for v in longest.vertices])
    assert_true_to_scale(found, nest, 1e-6)
    kinds = {document.layers.get(size).dxf.linetype for size in NAMES}
    assert len(kinds) == 3
    for size, style in styles.items():  # a dash, then a gap below nought, as DXF has it
        if dashes := STYLES[style].dashes:
            line = document.linetypes.get(document.layers.get(size).dxf.linetype)
            parts = [tag.value for tag in line.pattern_tags.tags if tag.code == 49]
            assert parts == [d * (-1) ** k for k, d in enumerate(dashes)]
    assert page_dxf(page, layers={"size 1": "a,b;c"}).count("a_b_c") > 1


def test_the_pdf_is_read_back_true_to_scale(outer):
    nest, page, styles = outer
    with pdfplumber.open(io.BytesIO(pdf_bytes([page]))) as book:
        (read,) = book.pages
        size = (float(read.width) * MM, float(read.height) * MM)
        lines = [*read.curves, *read.lines]
    assert size == pytest.approx((page.width, page.height), abs=0.01)
    found = {}
    for name, style in styles.items():
        own = [line for line in lines if _hex(line["stroking_color"]) == STYLES[style].colour]
        longest = max(own, key=lambda line: len(line["pts"]))
        found[name] = np.array(longest["pts"]) * [MM, -MM]
    assert_true_to_scale(found, nest, 0.02)


def _hex(colour) -> str:
    parts = colour if isinstance(colour, tuple | list) else [colour] * 3
    return "#" + "".join(f"{round(255 * part):02x}" for part in parts)


def test_sizes_are_told_apart_without_colour():
    looks = [(style.width, style.dashes) for style in SIZE_STYLES.values()]
    assert len(set(looks)) == len(looks) == 16


def test_the_differences_between_sizes_are_those_of_the_pieces(nests, sets):
    rows = {(row.piece, row.name): row.values for row in graded(nests)}
    for place, size in enumerate(NAMES):
        piece = next(piece for piece in sets[size] if piece.title == "outer")
        seam = sum(side.length for side in piece.sides if side.seam == "front seam")
        assert rows["outer", "front seam"][place] == pytest.approx(seam)
        box = np.ptp(piece.stitching, axis=0)
        assert rows["outer", "height over all"][place] == pytest.approx(box[1])
        for dart in piece.darts:
            assert rows["outer", f"{dart.name} intake"][place] == pytest.approx(dart.intake)
    # a flat draft's width at the upper arm is its share of the girth
    widths = np.array(rows["outer", "width at upper arm line"])
    assert np.diff(widths) == pytest.approx(2 / 3 * np.array([16.0, 18.0]), abs=0.6)
    table = list(csv.DictReader(io.StringIO(grading_csv(graded(nests), NAMES))))
    row = next(r for r in table if (r["piece"], r["measure"]) == ("outer", "front seam"))
    step = float(row["M"]) - float(row["S"])
    made = GradedMeasure("outer", "front seam", (254.0, 247.65, None))
    assert grading_cells([made], "in")[0][2] == ["10 in", "9 3/4 in (-1/4 in)", ""]
    assert grading_cells([made])[0][2] == ["254.0", "247.7 (-6.3)", ""]
    assert float(row["S to M"]) == pytest.approx(step, abs=0.0011)


def test_pieces_are_kept_to_the_last_bit(sets):
    for before, after in zip(sets["M"], shapes_of(shapes_json(sets["M"])), strict=True):
        assert np.array_equal(before.cutting, after.cutting)
        assert np.allclose(before.stitching, after.stitching, atol=1e-12)
        assert [dart.intake for dart in before.darts] == [dart.intake for dart in after.darts]
        for one, two in zip(before.notches, after.notches, strict=True):
            assert np.array_equal(one.slits, two.slits) and one.name == two.name


# ---- on one length of cloth


@pytest.fixture(scope="module")
def plan(sets):
    given = [(f"{size} {k}", "canvas", 1400.0, pieces) for k in (1, 2)
             for size, pieces in sets.items()]  # fmt: skip
    (found,) = cloth_plans(given)
    return found


def test_the_pieces_of_many_lie_apart_within_the_cloth_and_all_of_them(plan, sets):
    page = cloth_page(plan)
    areas = [shapely.Polygon(patch.points) for patch in page.patches]
    copies = sum(p.cut_as_drawn + p.cut_turned_over for some in sets.values() for p in some
                 if p.material == "cloth")  # fmt: skip
    assert len(areas) == 2 * copies
    tree = shapely.STRtree(areas)
    pairs = tree.query(areas, predicate="dwithin", distance=GAP - 0.7)
    assert (pairs[0] == pairs[1]).all()
    low = np.min([area.bounds[:2] for area in areas], axis=0)
    high = np.max([area.bounds[2:] for area in areas], axis=0)
    assert (low > -0.5).all() and high[0] < plan.width + 0.5 and high[1] < plan.length + 0.5
    used = sum(area.area for area in areas) / (plan.width * plan.length)
    assert share_used(plan) == pytest.approx(used, abs=0.001)


def test_nobody_is_scattered_and_lays_are_small(plan):
    owners = [{plan.owners[id(one.piece)] for one in lay.laid} for lay in plan.lays]
    assert sorted(n for some in owners for n in some) == [1, 2, 3, 4, 5, 6]
    # of 12 copies a sheet, cloth alone: as many whole sheets as one lay may hold, then the rest
    assert [len(lay.laid) for lay in plan.lays] == [BUNDLE, BUNDLE // 2]


def test_together_they_need_less_cloth_than_one_by_one(plan, sets):
    alone = [cut_plan(pieces, 1400.0, cell=8.0).length for pieces in sets.values()]
    assert plan.length < 2 * sum(alone)


@pytest.mark.parametrize("width", [800.0, 900.0])
def test_on_narrow_cloth_each_sheet_has_a_lay_of_its_own_where_that_is_shorter(sets, width):
    (found,) = cloth_plans([(size, "canvas", width, pieces) for size, pieces in sets.items()])
    alone = [cut_plan(pieces, width).length for pieces in sets.values()]
    assert found.length <= sum(alone) + GAP * (len(sets) - 1)


def test_the_plan_is_printed_with_a_key_a_lay_a_page(plan):
    pages = lay_pages(plan)
    assert len(pages) == len(plan.lays)
    words = " ".join(text.text for page in pages for text in page.letterings)
    assert "1 S 1" in words and "6 X-L 2" in words
    assert f"{np.ceil(plan.length / 10):.0f} cm for all" in words
    read = SVG.parse(io.StringIO(page_svg(cloth_page(plan))), ppi=25.4)
    # the reader's millimetre is a rounded share of an inch
    assert float(read.width) == pytest.approx(1400.0, rel=1e-6)
    assert float(read.height) == pytest.approx(plan.length, rel=1e-6)
