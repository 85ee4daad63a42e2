"""Drawings of a maker's own draft: what comes back, to scale and each piece known."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
import svgwrite
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from unroll.disk.drawings import pieces_svg
from unroll.disk.own_drawings import dxf_lines, svg_lines
from unroll.disk.own_pieces import read_pieces, traced_outline
from unroll.disk.pattern_dxf import dxf_text
from unroll.disk.pattern_svg import svg_text
from unroll.disk.sheets import load_sheet
from unroll.drafts.drafting import draft
from unroll.drafts.own_outlines import outlines_of
from unroll.drafts.taping import tape_draft
from unroll.errors import SheetFaults, UnrollError
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.walking import walk
from unroll.nouns.own import DraftTable, DrawnLine
from unroll.sheets.reading import read_sheet

SHEET = load_sheet(Path("meshes/demo.toml"))
MEASURES, MAKE = SHEET.arms[0], SHEET.make
DRAFTS = {m: place_notches(draft(MEASURES, MAKE, manner=m)) for m in ("ease", "darts")}
SEWN = ("outer", "inner", "armhole base", "wrist base")


def written(tmp_path: Path, name: str, content: str | bytes) -> Path:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def named(pieces):
    return {piece.name: piece for piece in pieces}


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """Hausdorff distance of two closed outlines, each moved to its own middle."""
    rings = [shapely.LinearRing(o - 0.5 * (o.min(axis=0) + o.max(axis=0))) for o in (one, other)]
    return float(shapely.hausdorff_distance(*rings, densify=0.34))  # the outlines are dense already


def smooth(side) -> np.ndarray:
    """A finished side's cubics, densely: its own points stray a hundredth from them."""
    t = np.linspace(0, 1, 200)[:, None]
    a, b, c, d = side.cubics.transpose(1, 0, 2)[:, :, None]
    curves = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
    return np.vstack([*(curve[:-1] for curve in curves), curves[-1][-1:]])


# ---- round trips


@pytest.mark.parametrize("manner", ["ease", "darts"])
def test_a_draft_comes_back_from_its_svg_within_a_hundredth(tmp_path, manner) -> None:
    given = named(DRAFTS[manner])
    path = written(tmp_path, "draft.svg", pieces_svg(tuple(given.values())))
    found = named(read_pieces(SHEET, [path]).pieces)
    assert set(found) == set(SEWN)
    for name, piece in found.items():
        assert [side.seam for side in piece.sides] == [side.seam for side in given[name].sides]
        assert apart(piece.outline, given[name].outline) < 0.01
        for one, other in zip(piece.sides, given[name].sides):
            assert one.length == pytest.approx(other.length, abs=0.01)
        for line in ("upper arm line", "elbow line", "forearm line"):
            if name in ("outer", "inner"):
                there, here = given[name].lines[line], piece.lines[line]
                assert abs(np.ptp(there[:, 0]) - np.ptp(here[:, 0])) < 0.01


@pytest.mark.parametrize("manner", ["ease", "darts"])
def test_a_draft_read_back_is_walked_and_taped_to_the_same_verdict(tmp_path, manner) -> None:
    given = tuple(p for p in DRAFTS[manner] if p.name in SEWN)
    path = written(tmp_path, "draft.svg", pieces_svg(given))
    found = place_notches(read_pieces(SHEET, [path]).pieces)
    before = {seam.name: seam for seam in walk(given, cloth=SHEET.cloth)}
    for seam in walk(found, cloth=SHEET.cloth):
        assert (seam.verdict, seam.text) == (before[seam.name].verdict, before[seam.name].text)
    for one, other in zip(tape_draft(found, MEASURES), tape_draft(given, MEASURES)):
        assert one.got_mm == pytest.approx(other.got_mm, abs=0.02)


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_pieces_ready_to_cut_come_back_from_the_stitching_line(tmp_path, kind) -> None:
    finished = finish(DRAFTS["darts"], SHEET, version="")
    text = (svg_text if kind == "svg" else dxf_text)(finished)
    found = read_pieces(SHEET, [written(tmp_path, f"cut.{kind}", text)])
    sides = {piece.name: piece.sides for piece in finished if piece.material == "cloth"}
    for piece in found.pieces:
        outline = np.concatenate([smooth(side)[:-1] for side in sides[piece.name]])
        # a DXF has no cubics: its chords stray a hundredth at most, as the pieces' own do
        assert apart(piece.outline, outline) < (0.01 if kind == "svg" else 0.02)
        for one, other in zip(piece.sides, sides[piece.name]):
            assert one.seam == other.seam
            assert one.length == pytest.approx(other.length, abs=0.02)


def test_a_piece_that_lies_turned_on_the_page_is_stood_up(tmp_path) -> None:
    given = named(DRAFTS["darts"])
    drawing = svgwrite.Drawing(size=("900mm", "900mm"), viewBox="0 0 900 900")
    for name, turn, at in (("outer", 30, (300, 300)), ("inner", 200, (700, 500))):
        group = drawing.add(drawing.g(transform=f"translate({at[0]} {at[1]}) rotate({turn})"))
        for side in given[name].sides:
            group.add(drawing.polyline(side.points * [1, -1], fill="none", stroke="black"))
    found = read_pieces(SHEET, [written(tmp_path, "turned.svg", drawing.tostring())])
    for piece in found.pieces[:2]:
        for one, other in zip(piece.sides, given[piece.name].sides):
            assert one.seam == other.seam
            assert one.length == pytest.approx(other.length, abs=0.01)
    assert "not drawn" in " ".join(found.found)


def test_a_cutting_line_has_its_allowance_taken_off(tmp_path) -> None:
    pieces = named(DRAFTS["ease"])
    cut = [shapely.Polygon(pieces[n].outline).buffer(MAKE.seam_allowance, join_style="mitre",
                                                     mitre_limit=20) for n in ("outer", "inner")]
    lines = "".join(
        f'<polygon points="{" ".join(f"{x + 400 * k:.4f},{-y:.4f}" for x, y in ring)}"/>'
        for k, ring in enumerate(shapely.get_coordinates(p.exterior) for p in cut)
    )
    text = f'<svg width="900mm" height="900mm" viewBox="-200 -200 900 900">{lines}</svg>'
    sheet = replace(SHEET, draft=DraftTable(drawn="cutting"))
    found = named(read_pieces(sheet, [written(tmp_path, "cut.svg", text)]).pieces)
    assert found["outer"].area == pytest.approx(pieces["outer"].area, rel=2e-4)
    assert found["inner"].area == pytest.approx(pieces["inner"].area, rel=2e-3)
    wide = replace(sheet, make=replace(MAKE, seam_allowance=60.0))
    with pytest.raises(UnrollError, match=r"no room for an allowance of 2 3/8 in \(60 mm\)"):
        read_pieces(wide, [tmp_path / "cut.svg"])


# ---- drawings made by other programs, shapes of known area


def box_points(wide: float, high: float) -> list[tuple[float, float]]:
    """A hexagon of area wide x high: a box whose short sides bend out and in."""
    return [(0, 0), (wide, 0), (wide + 5, high / 2), (wide, high), (0, high), (5, high / 2)]


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("in", 25.4),
                                          ("pt", 25.4 / 72), ("pc", 25.4 / 6)])
def test_a_known_area_comes_back_in_every_svg_unit(unit, mm) -> None:
    points = " ".join(f"{x},{y}" for x, y in box_points(90, 60))
    text = (f'<svg width="{200 / mm}{unit}" height="{200 / mm}{unit}" viewBox="0 0 200 200">'
            f'<g transform="translate(10 20)"><g transform="rotate(30)">'
            f'<polygon points="{points}"/></g></g></svg>')
    found = outlines_of(svg_lines(text.encode()), file="a", closes_within=1.0)
    assert shapely.Polygon(found.outlines[0].points).area == pytest.approx(5400.0, rel=1e-6)


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_a_known_shape_comes_back_in_every_dxf_unit(code, mm) -> None:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = code
    block = document.blocks.new("PIECE")
    block.add_line((0, 0), (100 / mm, 0))
    block.add_arc((100 / mm, 50 / mm), 50 / mm, -90, 90)
    block.add_line((100 / mm, 100 / mm), (0, 100 / mm))
    block.add_arc((0, 50 / mm), 50 / mm, 90, 270)
    document.modelspace().add_blockref("PIECE", (300 / mm, 0), dxfattribs={"rotation": 37})
    stream = io.StringIO()
    document.write(stream)
    lines, has_unit = dxf_lines(stream.getvalue().encode())
    assert has_unit
    found = outlines_of(lines, file="a", closes_within=0.5).outlines[0]
    # chords that stray 0.003 mm from an arc leave out two thirds of that along it
    assert shapely.Polygon(found.points).area == pytest.approx(1e4 + 2500 * np.pi, abs=0.7)
    around = shapely.LinearRing(found.points).length
    assert around == pytest.approx(200 + 100 * np.pi, rel=2e-5)
    assert len(found.joints) == 4


def test_splines_ellipses_and_polylines_of_a_dxf_close() -> None:
    document = ezdxf.new("R2000", units=4)
    space = document.modelspace()
    space.add_ellipse((0, 0), major_axis=(60, 0), ratio=0.5)
    space.add_lwpolyline([(200, 0, 0, 0, 1), (300, 0, 0, 0, 1)], close=True)  # two half circles
    angle = np.linspace(0, 2 * np.pi, 40)[:-1]
    ring = [(500 + 80 * np.cos(a), 80 * np.sin(a)) for a in angle]
    space.add_spline(fit_points=[*ring, ring[0]])
    stream = io.StringIO()
    document.write(stream)
    found = outlines_of(dxf_lines(stream.getvalue().encode())[0], file="a", closes_within=1.0)
    areas = sorted(shapely.Polygon(one.points).area for one in found.outlines)
    wanted = sorted([np.pi * 1800, np.pi * 2500, np.pi * 6400])
    assert areas == pytest.approx(wanted, rel=2e-3)


def test_a_figure_saved_by_matplotlib_comes_back_to_scale() -> None:
    figure = Figure(figsize=(10, 10))
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 254), ylim=(0, 254))
    axes.set_axis_off()
    axes.add_patch(Polygon(np.array(box_points(120, 80)) + 30, closed=True))
    stream = io.BytesIO()
    figure.savefig(stream, format="svg")
    found = outlines_of(svg_lines(stream.getvalue()), file="a", closes_within=1.0)
    assert [round(shapely.Polygon(o.points).area) for o in found.outlines] == [9600]


def test_every_path_command_of_svgwrite_is_followed() -> None:
    drawing = svgwrite.Drawing(size=("200mm", "200mm"), viewBox="0 0 200 200")
    path = drawing.add(drawing.path(d="M 50 50", fill="none"))
    path.push("h 60", "v 40", "a 30 30 0 0 1 -60 0", "L 50 70", "Q 45 60 50 50", "Z")
    found = outlines_of(svg_lines(drawing.tostring().encode()), file="a", closes_within=1.0)
    # a box of 60 x 40, half a circle below, and a parabola's 2/3 of its triangle at the side
    area = 60 * 40 + np.pi * 30**2 / 2 + 2 / 3 * (0.5 * 20 * 5)
    assert shapely.Polygon(found.outlines[0].points).area == pytest.approx(area, rel=1e-4)


def test_gaps_are_closed_and_told_only_within_the_tolerance() -> None:
    corners = np.array([[0, 0], [100, 10], [120, 90], [10, 80.0]])
    lines = [DrawnLine(np.stack([a, a + 0.995 * (b - a)]))
             for a, b in zip(corners, np.roll(corners, -1, axis=0))]
    found = outlines_of(lines, file="a", closes_within=1.0)
    assert 0.3 < found.gap < 0.7
    with pytest.raises(UnrollError, match="no closed outline of a piece"):
        outlines_of(lines, file="a", closes_within=0.2)


# ---- scale


SQUARE = '<rect x="5" y="5" width="{0}" height="{0}"/>'


def with_square(side: float, unit: str = "mm") -> str:
    shapes = pieces_svg(tuple(DRAFTS["ease"]))
    body = shapes[shapes.index("<g id"):shapes.index('<g id="test-squares">')]
    return (f'<svg width="1400{unit}" height="1400{unit}" viewBox="0 0 1400 1400">{body}'
            f'<rect x="900" y="1100" width="{side}" height="{side}"/></svg>')


def test_a_drawing_at_another_scale_is_told_by_its_square(tmp_path) -> None:
    path = written(tmp_path, "small.svg", with_square(97.0))
    said = r"test square of 3 13/16 in \(97\.0 mm\); expected 3 15/16"
    with pytest.raises(UnrollError, match=said):
        read_pieces(SHEET, [path])
    sheet = replace(SHEET, draft=DraftTable(square=100.0))
    found = named(read_pieces(sheet, [path]).pieces)
    plain = named(DRAFTS["ease"])["outer"].area
    assert found["outer"].area == pytest.approx(plain * (100 / 97) ** 2, rel=1e-4)
    bare = written(tmp_path, "bare.svg", pieces_svg(DRAFTS["ease"]).replace("test-square", "x")
                   .replace("<rect", "<desc").replace("/>\n  <text x", "></desc>\n  <text x"))
    with pytest.raises(UnrollError, match="has no square"):
        read_pieces(sheet, [bare])


def test_a_stated_length_scales_everything(tmp_path) -> None:
    path = written(tmp_path, "draft.svg", pieces_svg(DRAFTS["ease"]))
    plain = named(read_pieces(SHEET, [path]).pieces)["outer"]
    wanted = 1.02 * float(np.ptp(plain.outline[:, 1]))
    sheet = replace(SHEET, draft=DraftTable(outer_length=wanted))
    found = read_pieces(sheet, [path])
    assert named(found.pieces)["outer"].area == pytest.approx(1.02**2 * plain.area, rel=1e-6)
    assert any("1.0200 times as large" in line for line in found.found)


def test_a_dxf_without_unit_wants_a_square(tmp_path) -> None:
    document = ezdxf.new("R2000", units=0)
    space = document.modelspace()
    for name, at in (("outer", 0), ("inner", 16)):
        ring = named(DRAFTS["ease"])[name].outline / 25.4 + [at, 0]
        space.add_lwpolyline([tuple(p) for p in ring], close=True)
    document.saveas(tmp_path / "bare.dxf")
    with pytest.raises(UnrollError, match="says no unit and has no test square"):
        read_pieces(SHEET, [tmp_path / "bare.dxf"])
    space.add_lwpolyline([(40, 0), (44, 0), (44, 4), (40, 4)], close=True)  # 4 in
    document.saveas(tmp_path / "inches.dxf")
    found = named(read_pieces(SHEET, [tmp_path / "inches.dxf"]).pieces)
    assert found["inner"].area == pytest.approx(named(DRAFTS["ease"])["inner"].area, rel=1e-4)
    document.header["$INSUNITS"] = 3
    document.saveas(tmp_path / "miles.dxf")
    with pytest.raises(UnrollError, match=r"unit \(\$INSUNITS\) of 3"):
        read_pieces(SHEET, [tmp_path / "miles.dxf"])


# ---- which is which


def test_the_sheet_has_the_last_word(tmp_path) -> None:
    path = written(tmp_path, "draft.svg", pieces_svg(DRAFTS["darts"]))
    usual = read_pieces(SHEET, [path])
    number = {line.split(":")[0]: int(line.split("outline ")[1].split()[0])
              for line in usual.found if ": outline" in line}
    listed = usual.corners[number["inner"]]
    low, high = np.argsort(listed[:, 1])[:2], np.argsort(listed[:, 1])[-2:]
    four = tuple(int(k) + 1 for k in (*low, *high))
    table = DraftTable(pieces={"outer": number["outer"]}, corners={"inner": four})
    found = read_pieces(replace(SHEET, draft=table), [path])
    for one, other in zip(found.pieces, usual.pieces):
        assert [s.length for s in one.sides] == pytest.approx([s.length for s in other.sides])
    for wrong, text in (
        (DraftTable(pieces={"outer": 99}), "is outline 99; expected 1 to"),
        (DraftTable(corners={"inner": (1, 1, 2, 3)}), "expected four of 1 to"),
    ):
        with pytest.raises(UnrollError, match=text):
            read_pieces(replace(SHEET, draft=wrong), [path])


def test_what_is_missing_or_too_many_is_told(tmp_path) -> None:
    pieces = named(DRAFTS["ease"])
    alone = written(tmp_path, "alone.svg", pieces_svg([pieces["armhole base"]]))
    with pytest.raises(UnrollError, match="no outline looks like the outer piece"):
        read_pieces(SHEET, [alone])
    both = written(tmp_path, "both.svg", pieces_svg([pieces["outer"], pieces["inner"]]))
    with pytest.raises(UnrollError, match="4 outlines are as long as an arm"):
        read_pieces(SHEET, [both, both])
    assert "made from the sheet's measures" in " ".join(read_pieces(SHEET, [both]).found)


def test_rounded_corners_are_told(tmp_path) -> None:
    pieces = named(DRAFTS["ease"])
    for end, text in (("wrist", "corners were found at its wrist end"),
                      ("horns", "no corner was found at either end of its hollow")):
        inner = shapely.Polygon(pieces["inner"].outline)
        low = inner.bounds[1] + 120
        soft = inner.buffer(-12).buffer(12, quad_segs=64)
        clip = shapely.box(-999, -999, 999, low) if end == "wrist" else shapely.box(
            -999, low, 999, 999)
        mixed = soft.intersection(clip).union(inner.difference(clip).buffer(0.01))
        largest = max(shapely.get_parts(mixed), key=lambda p: p.area)
        ring = shapely.get_coordinates(largest.exterior)
        rings = [ring + [300, 0], pieces["outer"].outline]
        texts = [" ".join(f"{x},{-y}" for x, y in ring) for ring in rings]
        shapes = "".join(f'<polygon points="{text}"/>' for text in texts)
        path = written(tmp_path, "soft.svg", f'<svg width="900mm" height="900mm" '
                       f'viewBox="-300 -100 900 900">{shapes}</svg>')
        with pytest.raises(UnrollError, match=text):
            read_pieces(replace(SHEET, draft=DraftTable(pieces={"inner": 2, "outer": 1})), [path])


def test_the_table_is_read_from_the_sheet() -> None:
    text = Path("meshes/demo.toml").read_text()
    found = read_sheet(text + '\n[draft]\ndrawn = "cutting"\nturned_over = true\nouter = 2\n'
                       'square = 4\nouter_corners = [1, 2, 5, 9]\n').draft
    assert (found.drawn, found.turned_over, found.pieces) == ("cutting", True, {"outer": 2})
    assert found.square == pytest.approx(101.6) and found.corners == {"outer": (1, 2, 5, 9)}
    for line, why in (("outer_corners = [1]", "expected four whole numbers"),
                      ('turned_over = "yes"', "expected true or false"),
                      ('card = "4 in"', "expected"), ("outer = 1.5", "expected a whole number"),
                      ('drawn = "ink"', "expected 'stitching' or 'cutting'")):
        with pytest.raises(SheetFaults, match=why):
            read_sheet(f"{text}\n[draft]\n{line}\n")


# ---- a traced armhole


def test_an_armhole_is_read_from_a_dxf(tmp_path) -> None:
    document = ezdxf.new("R2000", units=4)
    document.modelspace().add_ellipse((50, 60), major_axis=(0, 58), ratio=49 / 58)
    document.saveas(tmp_path / "plate.dxf")
    text = Path("meshes/demo.toml").read_text().replace(
        'armhole = { width = "3 7/8", height = "4 9/16" }', 'armhole = { outline = "plate.dxf" }')
    sheet = load_sheet(written(tmp_path, "a.toml", text))
    assert sheet.arms[0].armhole.width == pytest.approx(98.0, abs=0.1)
    document.modelspace().add_circle((300, 0), 60)
    document.saveas(tmp_path / "plate.dxf")
    with pytest.raises(UnrollError, match="has 2 outlines; expected the armhole's alone"):
        traced_outline(tmp_path / "plate.dxf")
