"""Notches and darts that a maker drew within the lines of her own pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import svgwrite

from tests.test_own_drawings import DRAFTS, SEWN, SHEET, named, written
from unroll.disk.own_pieces import read_pieces
from unroll.disk.pattern_files import svg_text
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.maths.polylines import direction_at, point_at
from unroll.nouns.own import DraftTable
from unroll.nouns.seam import is_dart


def test_notches_on_the_cutting_line_come_back_where_they_are_drawn(tmp_path) -> None:
    finished = finish(DRAFTS["darts"], SHEET, version="")
    path = written(tmp_path, "cut.svg", svg_text(finished))
    own = read_pieces(SHEET, [path])
    assert "notches drawn: " in " ".join(own.found)
    sides = {piece.name: piece for piece in finished if piece.material == "cloth"}
    for piece in place_notches(own.pieces)[:2]:
        wanted = {(n.name, n.side_index): n.along for n in sides[piece.name].notches}
        for notch in piece.notches:  # a slit's middle lies off a line that curves: a quarter mm
            assert notch.along == pytest.approx(wanted[notch.name, notch.side_index], abs=0.25)


def test_notches_that_lie_elsewhere_than_usual_are_taken_as_drawn(tmp_path) -> None:
    given = place_notches(tuple(named(DRAFTS["ease"])[name] for name in SEWN))
    moved = tuple(
        replace(piece, notches=tuple(
            replace(n, along=n.along + (8.0 if piece.name == "outer" else -8.0))
            if n.name == "elbow" and piece.sides[n.side_index].seam == "front seam" else n
            for n in piece.notches))
        for piece in given
    )  # fmt: skip
    drawing = svgwrite.Drawing(size=("1800mm", "1800mm"), viewBox="-500 -500 1800 1800")
    for k, piece in enumerate(moved[:2]):
        group = drawing.add(drawing.g(transform=f"translate({500 * k} 0)"))
        for side in piece.sides:
            group.add(drawing.polyline(side.points * [1, -1], fill="none", stroke="black"))
        for notch in piece.notches:
            side = piece.sides[notch.side_index].points
            at, way = point_at(side, notch.along), direction_at(side, notch.along)
            across = 4.0 * np.array([-way[1], way[0]])
            group.add(drawing.line((at * [1, -1]).tolist(), ((at + across) * [1, -1]).tolist()))
    path = written(tmp_path, "notched.svg", drawing.tostring())
    found = place_notches(read_pieces(SHEET, [path]).pieces)
    for piece, other in zip(found[:2], moved[:2], strict=True):
        here = {(n.name, n.side_index): n.along for n in piece.notches}
        there = {(n.name, n.side_index): n.along for n in other.notches}
        assert here.keys() == there.keys()
        for key, along in there.items():
            assert here[key] == pytest.approx(along, abs=0.1)


@pytest.mark.parametrize("drawn", ["cutting", "stitching"])
def test_darts_whose_legs_are_drawn_within_a_line_across_their_mouths_are_read(tmp_path, drawn):
    """The outline runs across the mouths; the legs are lines of their own."""
    given = named(DRAFTS["darts"])
    width = SHEET.make.seam_allowance if drawn == "cutting" else 0.0
    drawing = svgwrite.Drawing(size=("1800mm", "1800mm"), viewBox="-500 -500 1800 1800")
    for k, name in enumerate(("outer", "inner")):
        group = drawing.add(drawing.g(transform=f"translate({500 * k} 0)"))
        bare = np.concatenate([s.points for s in given[name].sides if not is_dart(s.seam)])
        whole = shapely.Polygon(bare).buffer(width, join_style="mitre", mitre_limit=20.0)
        ring = shapely.get_coordinates(whole.exterior) * [1, -1]
        group.add(drawing.polygon(ring.tolist(), fill="none", stroke="black"))
        for side in given[name].sides:
            if is_dart(side.seam):
                group.add(drawing.polyline((side.points * [1, -1]).tolist(), fill="none"))
    sheet = replace(SHEET, draft=DraftTable(drawn=drawn))
    path = written(tmp_path, "darted.svg", drawing.tostring())
    found = named(read_pieces(sheet, [path]).pieces)["outer"]
    wanted = given["outer"]
    assert [s.seam for s in found.sides] == [s.seam for s in wanted.sides]
    assert found.area == pytest.approx(wanted.area, rel=2e-4)
    within = [k for k, side in enumerate(wanted.sides) if is_dart(side.seam)]
    for k in range(within[0], within[-1] + 1):  # the legs, and the cap between the darts
        # an offset mitred at the mouths' kinks and taken back costs a few hundredths
        assert found.sides[k].length == pytest.approx(wanted.sides[k].length, abs=0.1)
