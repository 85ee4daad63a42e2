"""Notches and darts that a maker drew within the lines of her own pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import svgwrite

from tests.test_own_drawings import DRAFTS, SEWN, SHEET, named, written
from unroll.disk.own_pieces import read_pieces
from unroll.disk.pattern_svg import svg_text
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


def nicked(piece, depth: float, half: float, bottom: float) -> np.ndarray:
    """An outline with a notch cut into it, or out of it, at each of its notches."""
    rings = []
    for index, side in enumerate(piece.sides):
        points, length = side.points, side.length
        at = [n.along + 6.0 * k for n in piece.notches if n.side_index == index
              for k in range(n.marks) if 10.0 < n.along < length - 20.0]  # fmt: skip
        here = np.linspace(0.0, length, max(2, int(length / 2.0)))
        far = np.min([np.abs(here - a) for a in at], axis=0) if at else here + 99.0
        inside = [(-bottom, depth), (bottom, depth)] if bottom else [(0.0, depth)]
        marks = [(a + step, level) for a in at
                 for step, level in ((-half, 0.0), *inside, (half, 0.0))]
        runs = sorted([(float(s), 0.0) for s in here[far > half + 0.5]] + marks)
        for s, level in runs:
            way = direction_at(points, s)
            rings.append(point_at(points, s) + level * np.array([-way[1], way[0]]))
    return np.array(rings)


@pytest.mark.parametrize(
    ("depth", "half", "bottom"),
    [(4.0, 2.0, 0.0), (5.0, 0.05, 0.0), (-4.0, 2.5, 0.0), (5.0, 1.5, 1.4), (3.0, 1.0, 0.6)],
)
def test_notches_cut_into_the_outline_are_read_as_notches(tmp_path, depth, half, bottom) -> None:
    """A V, a slit, a point that juts out, two U of a notcher; the outline is as if without."""
    given = place_notches(tuple(named(DRAFTS["ease"])[name] for name in SEWN))
    drawing = svgwrite.Drawing(size=("1800mm", "1800mm"), viewBox="-500 -500 1800 1800")
    for k, piece in enumerate(given[:2]):
        ring = nicked(piece, depth, half, bottom) * [1, -1] + [500.0 * k, 0.0]
        drawing.add(drawing.polygon(ring.tolist(), fill="none", stroke="black"))
    path = written(tmp_path, "nicked.svg", drawing.tostring())
    own = read_pieces(SHEET, [path])
    assert "notches drawn: " in " ".join(own.found)
    for piece, other in zip(own.pieces[:2], given[:2], strict=True):
        assert piece.area == pytest.approx(other.area, rel=1e-3)
        count = sum(1 for n in other.notches
                    if 10.0 < n.along < other.sides[n.side_index].length - 20.0)
        assert len(piece.notches) == count


def test_notches_of_the_bases_are_taken_where_they_are_drawn(tmp_path) -> None:
    given = named(DRAFTS["ease"])
    base = replace(given["armhole base"], notches=tuple(
        replace(n, along=n.along + 7.0) if n.name in ("shoulder", "underarm") else n
        for n in given["armhole base"].notches))  # fmt: skip
    drawing = svgwrite.Drawing(size=("1800mm", "1800mm"), viewBox="-500 -500 1800 1800")
    for k, piece in enumerate((given["outer"], given["inner"])):
        group = drawing.add(drawing.g(transform=f"translate({500 * k} 0)"))
        for side in piece.sides:
            group.add(drawing.polyline(side.points * [1, -1], fill="none", stroke="black"))
    ring = np.concatenate([side.points[:-1] for side in base.sides]) * [1, -1] + [0.0, 700.0]
    drawing.add(drawing.polygon(ring.tolist(), fill="none", stroke="black"))
    for notch in base.notches:
        side = base.sides[notch.side_index].points
        at, way = point_at(side, notch.along), direction_at(side, notch.along)
        ends = [(at + far * np.array([-way[1], way[0]])) * [1, -1] + [0.0, 700.0]
                for far in (0.0, 5.0)]  # fmt: skip
        drawing.add(drawing.line(*(end.tolist() for end in ends)))
    own = read_pieces(SHEET, [written(tmp_path, "base.svg", drawing.tostring())])
    assert any("its notches taken as drawn: shoulder, underarm" in line for line in own.found)
    found = named(own.pieces)["armhole base"]
    for one, other in zip(found.notches, base.notches, strict=True):
        assert one.name == other.name and one.along == pytest.approx(other.along, abs=0.5)
