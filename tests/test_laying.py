"""The cut plan: nothing overlaps, the grain is kept, and little cloth is needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.own_pieces import disk, made_arm, own_sheet, square
from unroll.errors import UnrollError
from unroll.finish.cut_plan import cut_plan
from unroll.finish.finishing import finish
from unroll.maths import packing
from unroll.maths.packing import pack_on_strip, pack_on_tiles, turned
from unroll.nouns import LaidPiece


def placed_polygons(plan):
    return [shapely.Polygon(one.place(one.piece.cutting)) for one in plan.laid]


def assert_apart(polygons, gap):
    for i, one in enumerate(polygons):
        for two in polygons[:i]:
            assert one.distance(two) >= gap


@pytest.fixture(scope="module")
def both_arms():
    return finish(made_arm(), own_sheet(), arm="both")


def test_every_copy_is_laid_once_and_half_of_them_turned_over(both_arms):
    plan = cut_plan(both_arms, 1400.0)
    names = sorted((one.piece.name, one.is_turned_over, one.arm) for one in plan.laid)
    assert names == sorted(
        (name, over, arm)
        for name in ("outer", "inner", "armhole base", "wrist base")
        for over, arm in ((False, "left"), (True, "right"))
    )


def test_of_a_piece_cut_twice_for_each_arm_each_takes_one_as_drawn_and_one_turned_over():
    pieces = finish([disk(40.0, "shoulder extension", "free edge")], own_sheet(), arm="both")
    laid = [(one.arm, one.is_turned_over) for one in cut_plan(pieces, 500.0).laid]
    assert sorted(laid) == [("left", False), ("left", True), ("right", False), ("right", True)]


@pytest.mark.parametrize("width", [300.0, 500.0, 900.0, 1400.0])
def test_no_piece_overlaps_another_or_the_selvedge(both_arms, width):
    plan = cut_plan(both_arms, width)
    polygons = placed_polygons(plan)
    assert_apart(polygons, 4.0)
    left, low, right, high = shapely.total_bounds(polygons)
    assert left >= 0 and right <= width and low >= 0 and high <= plan.length + 1e-9


def test_the_grain_of_every_piece_runs_along_the_cloth(both_arms):
    for one in cut_plan(both_arms, 700.0).laid:
        grain = np.diff(one.place(one.piece.lines["grain"]), axis=0)[0]
        assert abs(grain[0]) < 1e-9


def test_cloth_with_a_nap_keeps_every_piece_the_same_way_up(both_arms):
    plan = cut_plan(both_arms, 700.0, one_way=True)
    assert {one.turn_deg for one in plan.laid} == {0.0}
    assert plan.length >= cut_plan(both_arms, 700.0).length - 1e-9


@pytest.mark.parametrize("width", [900.0, 1120.0, 1400.0, 1500.0])
def test_on_cloth_as_it_is_sold_the_length_is_within_five_percent_of_the_bound(both_arms, width):
    plan = cut_plan(both_arms, width)
    # common widths of dress and furnishing cloth; common practice, no source
    assert plan.bound <= plan.length <= 1.05 * plan.bound


def test_the_bound_is_the_longest_piece_or_all_area_over_the_width():
    pieces = finish([square(100.0)], own_sheet(), arm="both")
    assert cut_plan(pieces, 400.0).bound == pytest.approx(120.0)
    assert cut_plan(pieces, 400.0).length == pytest.approx(120.0)
    assert cut_plan(pieces, 130.0).bound == pytest.approx(2 * 120.0**2 / 130)
    assert cut_plan(pieces, 130.0).length == pytest.approx(244, abs=8.1)  # the gap, and the grid


def test_a_turned_over_piece_is_the_mirror_image():
    piece = finish(made_arm(), own_sheet())[0]
    laid = LaidPiece(piece, np.array([10.0, 20.0]), 180.0, True)
    x, y = piece.cutting[7]
    assert np.allclose(laid.place(piece.cutting)[7], [x + 10.0, -y + 20.0])
    assert np.allclose(
        laid.place(laid.place(piece.cutting[:1]) - laid.move), piece.cutting[:1] + laid.move
    )


def test_card_is_laid_apart_from_cloth(both_arms):
    plan = cut_plan(both_arms, 500.0, material="card")
    assert {one.piece.material for one in plan.laid} == {"card"}


@pytest.mark.parametrize("width", [0.0, -5.0, float("nan")])
def test_cloth_of_no_width_is_refused(both_arms, width):
    with pytest.raises(UnrollError, match="mm wide; expected more than 0"):
        cut_plan(both_arms, width)


def test_cloth_narrower_than_a_piece_is_refused_with_what_it_needs(both_arms):
    with pytest.raises(UnrollError, match=r"cloth is 100 mm wide; the outer needs \d+ mm across"):
        cut_plan(both_arms, 100.0)


def test_nothing_to_cut_is_refused():
    soft = own_sheet()
    soft = replace(soft, cloth=replace(soft.cloth, ends="cloth"))
    with pytest.raises(UnrollError, match="there is no piece to cut from card"):
        cut_plan(finish([disk()], soft), 500.0, material="card")


rectangles = st.lists(
    st.tuples(st.floats(10, 200), st.floats(10, 400)), min_size=1, max_size=7
).map(lambda sizes: [np.array([[0, 0], [w, 0], [w, h], [0, h]]) for w, h in sizes])


@settings(max_examples=25)
@given(rectangles, st.floats(230, 800))
def test_any_shapes_are_packed_on_a_strip_without_overlap(outlines, width):
    placed, length = pack_on_strip(outlines, width, gap=3.0, cell=6.0)
    polygons = [
        shapely.Polygon(turned(line, p.turn_deg) + p.move)
        for line, p in zip(outlines, placed, strict=True)
    ]
    assert_apart(polygons, 3.0)
    left, low, right, high = shapely.total_bounds(polygons)
    assert left >= -1e-9 and right <= width + 1e-9
    assert low == pytest.approx(0.0) and high == pytest.approx(length)


@settings(max_examples=15)
@given(rectangles)
def test_any_shapes_are_packed_on_tiles_without_overlap(outlines):
    placed = pack_on_tiles(outlines, (190.0, 270.0), (5, 6), rim=5.0, gap=5.0, cell=6.0)
    polygons = [
        shapely.Polygon(turned(line, p.turn_deg) + p.move)
        for line, p in zip(outlines, placed, strict=True)
    ]
    assert_apart(polygons, 5.0)
    left, low, right, high = shapely.total_bounds(polygons)
    assert left >= -5 and low >= -5 and right <= 6 * 190 + 5 and high <= 5 * 270 + 5


def test_a_shape_that_fits_no_tile_grid_is_refused():
    with pytest.raises(ValueError, match="shape 0 does not fit"):
        pack_on_tiles([np.array([[0, 0], [500, 0], [500, 500.0]])], (100.0, 100.0), (2, 2))


def test_packing_nothing_is_refused():
    with pytest.raises(ValueError, match="nothing to pack"):
        pack_on_strip([], 100.0)


def test_a_tile_is_touched_where_any_cell_of_a_shape_lies_on_it() -> None:
    random = np.random.default_rng(5)
    mask, places, grid, tile = random.random((7, 5)) < 0.3, (20, 14), (4, 3), (6.0, 7.0)
    own = [np.clip(np.arange(40) // int(size), 0, count - 1)
           for size, count in zip(tile[::-1], grid, strict=True)]  # fmt: skip
    asked = np.zeros((*grid, *places), dtype=bool)
    for row, column, within, touched in packing._tiles_touched(
        mask, places, tile, grid, np.zeros(2), 1.0
    ):
        asked[row, column][within] = touched
    for up, right in np.ndindex(*places):
        rows, columns = np.nonzero(mask)
        hit = np.zeros(grid, dtype=bool)
        hit[own[0][rows + up], own[1][columns + right]] = True
        assert np.array_equal(asked[:, :, up, right], hit)
