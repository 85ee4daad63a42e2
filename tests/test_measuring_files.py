"""Sheets and traced armholes on the disk."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.test_bad_sheets import GOOD
from unroll.disk.outlines import load_outline, shape_loops
from unroll.disk.sheets import load_sheet
from unroll.disk.svg_shapes import read_drawing
from unroll.errors import SheetFaults, UnrollError
from unroll.maths.arrays import FloatArray
from unroll.sheets.armholes import traced_armhole

DEMO = Path(__file__).parent.parent / "meshes" / "demo.toml"
PLATE = "{width = 9.8, height = 11.6}"


def test_the_demo_sheet_loads() -> None:
    assert load_sheet(DEMO).owner == "Rosa Lindqvist"
    assert load_sheet(str(DEMO)).arms[0].side == "left"


@pytest.mark.parametrize(("name", "content", "message"), [
    ("none.toml", None, "none.toml is not there (mistyped?)"),
    ("", None, "is a folder; expected a file"),
    ("a.toml", b"\xff\xfe\x00u", "a.toml is not UTF-8 text; save it as UTF-8 (a spreadsheet or a "
                                 "word-processor file?)"),
    ("a.toml", b"unit\0", "a.toml is not a text file; expected a sheet (another kind of file?)"),
    ("a.toml", b" " * 1_500_000, "a.toml holds 1.5 MB; expected at most 0.1 MB (another kind of "
                                 "file?)"),
])
def test_what_is_no_sheet_is_refused(
    tmp_path: Path, name: str, content: bytes | None, message: str
) -> None:
    path = tmp_path / name if name else tmp_path
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(UnrollError) as refusal:
        load_sheet(path)
    assert str(refusal.value).endswith(message)


def test_a_file_that_the_system_refuses_is_told_plainly(tmp_path: Path) -> None:
    looped = tmp_path / "a.toml"
    looped.symlink_to(looped)
    with pytest.raises(UnrollError, match=r"a\.toml cannot be opened: "):
        load_sheet(looped)


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_sheet(path).owner == "Ada Brandt"
    path.write_bytes(GOOD.replace("15.8", "158").replace("\n", "\r\n").encode())
    with pytest.raises(SheetFaults, match="^line 12: wrist_girth is 158"):
        load_sheet(path)


# --- drawings ---------------------------------------------------------------------------------


def drawn(tmp_path: Path, body: str, *, page: str = 'width="200mm" viewBox="0 0 200 200"') -> Path:
    """Write a drawing and return its path."""
    path = tmp_path / "plate.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>', "utf-8")
    return path


def path_loops(data: str) -> list[FloatArray]:
    """Return the lines of path data in its own units."""
    shapes = read_drawing(f'<svg><path d="{data}"/></svg>'.encode()).shapes
    return shape_loops(shapes[0], [0.0, 0.0, 100.0, 100.0])


def size(points: FloatArray) -> tuple[float, float, float]:
    """Return width, height and length of edge."""
    closed = np.vstack([points, points[:1]])
    length = float(np.linalg.norm(np.diff(closed, axis=0), axis=1).sum())
    return float(np.ptp(points[:, 0])), float(np.ptp(points[:, 1])), length


# 98 by 116: perimeter 4a E(m) = 336.74 (Abramowitz & Stegun 17.3). Chords of 64 to a curve fall
# short of it by less than 0.05 %; four cubic curves with handles of 0.5523 stand in for an
# ellipse within 0.03 % (common practice in drawing programs).
OVALS = {
    "ellipse": '<ellipse cx="100" cy="100" rx="49" ry="58"/>',
    "arcs": '<path d="M51 100 A49 58 0 0 1 149 100 A49 58 0 0 1 51 100 Z"/>',
    "arcs with packed flags": '<path d="M51 100a49,58,0,01,98,0a49,58,0,01-98,0z"/>',
    "large arc": '<path d="M 100 42 A 49 58 0 1 1 51 100 A 49 58 0 0 1 100 42"/>',
    "turned arc": '<path d="M51 100 A58 49 90 0 1 149 100 A58 49 90 0 1 51 100 Z"/>',
    "cubics": '<path d="M51 100 c0-32.033 21.937-58 49-58 s49 25.967 49 58 s-21.937 58-49 58 '
              'S51 132.033 51 100 z"/>',
    "moved": '<g transform="translate(30,-7)"><ellipse cx="70" cy="107" rx="49" ry="58"/></g>',
    "scaled": '<g transform="scale(0.5)"><ellipse cx="200" cy="200" rx="98" ry="116"/></g>',
    "scaled by matrix": '<ellipse cx="10" cy="10" rx="4.9" ry="5.8" '
                        'transform="matrix(10 0 0 10 0 0)"/>',
    "turned": '<ellipse cx="100" cy="100" rx="58" ry="49" transform="rotate(90 100 100)"/>',
    "skewed by nothing": '<ellipse cx="99" cy="100" rx="49" ry="58" transform="skewX(0)'
                         ' skewY(0) translate(1)"/>',
    "another line beside it": '<path id="note" d="M0 0h9"/><ellipse id="armhole" cx="100" '
                              'cy="100" rx="49" ry="58"/>',
    "one in the definitions": '<defs><circle r="9"/></defs><ellipse cx="100" cy="100" rx="49" '
                              'ry="58"/>',
}


@pytest.mark.parametrize("kind", OVALS)
def test_an_oval_is_read_at_true_scale_however_it_is_drawn(tmp_path: Path, kind: str) -> None:
    width, height, girth = size(load_outline(drawn(tmp_path, OVALS[kind])))
    assert (width, height) == pytest.approx((98.0, 116.0), abs=0.05)
    assert girth == pytest.approx(336.74, rel=6e-4)


@pytest.mark.parametrize(("page", "mm"), [
    ('width="200mm" viewBox="0 0 200 200"', 1.0), ('width="20cm" viewBox="0 0 200 200"', 1.0),
    ('height="2in" viewBox="0 0 200 200"', 0.254), ('width="100pt" viewBox="0 0 100 100"',
                                                    25.4 / 72),
    ('width="20pc" viewBox="0 0 100 100"', 25.4 / 30), ("", 25.4 / 96),
    ('width="100" viewBox="0 0 100 100"', 25.4 / 96),
    ('width="300mm" height="200mm" viewBox="0 0 200 200"', 1.0),  # "meet": the smaller ratio
])
def test_the_page_sets_the_scale(tmp_path: Path, page: str, mm: float) -> None:
    # CSS: 96 px, 72 pt and 6 pc to the inch
    path = drawn(tmp_path, '<polygon points="0,0 90,0 90,80 0,80"/>', page=page)
    assert size(load_outline(path)) == pytest.approx((90 * mm, 80 * mm, 340 * mm))


def test_the_shoulder_is_up_and_the_front_to_the_right(tmp_path: Path) -> None:
    points = load_outline(drawn(tmp_path, '<polygon points="0,0 90,10 40,80"/>'))
    assert points.tolist() == [[0.0, -0.0], [90.0, -10.0], [40.0, -80.0]]


def test_quadratic_curves_keep_their_handles() -> None:
    # a parabola's vertex: B(1/2) = (P0 + 2 P1 + P2) / 4; T mirrors the handle
    loop = path_loops("M0 0 Q 10 20 20 0 T 40 0")[0]
    assert loop[32] == pytest.approx([10.0, 10.0])
    assert loop[96] == pytest.approx([30.0, -10.0])
    # without a curve before it, T is a straight line, and S starts straight
    assert np.ptp(path_loops("M0 0 T 40 0")[0][:, 1]) == 0.0
    assert path_loops("M0 0 S 10 10 20 0")[0][1, 0] > 0.0


def test_the_pen_goes_on_from_where_a_loop_was_closed() -> None:
    loops = path_loops("M1 1 H3 V4 L1 4 Z l 2 0 m5 5 1 1")
    assert loops[0].tolist() == [[1, 1], [3, 1], [3, 4], [1, 4], [1, 1]]
    assert loops[1].tolist() == [[1, 1], [3, 1]]
    assert loops[2].tolist() == [[8, 6], [9, 7]]


@pytest.mark.parametrize(("flags", "middle", "turns"), [
    # W3C SVG 1.1, 8.3.8: of the four arcs between two points, "sweep" takes the one of growing
    # angle (clockwise on the page), "large" the longer one; centres (0, 10) and (10, 0)
    ("0 1", (7.0711, 2.9289), 0.25), ("0 0", (2.9289, 7.0711), 0.25),
    ("1 1", (17.0711, -7.0711), 0.75), ("1 0", (-7.0711, 17.0711), 0.75),
])
def test_an_arc_s_flags_choose_among_four(
    flags: str, middle: tuple[float, float], turns: float
) -> None:
    arc = path_loops(f"M0 0 A 10 10 0 {flags} 10 10")[0]
    assert arc[32] == pytest.approx(middle, abs=1e-4)
    length = float(np.linalg.norm(np.diff(arc, axis=0), axis=1).sum())
    assert length == pytest.approx(turns * 2 * math.pi * 10, rel=1e-3)


def test_drawings_are_placed_as_their_groups_say(tmp_path: Path) -> None:
    # W3C SVG 1.1, 7.6: transforms nest, the rightmost acts first; rotate is clockwise on the page
    body = ('<g transform="translate(3 4) rotate(90)"><polygon transform="scale(2,1) skewX(45)" '
            'points="0,0 10,0 10,5"/></g>')
    # (10, 0) to (20, 0), turned (0, 20), moved (3, 24); (10, 5) to (15, 5), (30, 5), (-5, 30)
    assert load_outline(drawn(tmp_path, body)) == pytest.approx(
        np.array([[3.0, -4.0], [3.0, -24.0], [-2.0, -34.0]]))
    off = '<polygon transform="rotate(90 10 10) skewY(45)" points="10,0 20,0 20,5"/>'
    # (10, 0) to (10, 10), the centre; (20, 0) to (20, 20), (0, 20); (20, 5) to (20, 25), (-5, 20)
    assert load_outline(drawn(tmp_path, off)) == pytest.approx(
        np.array([[10.0, -10.0], [0.0, -20.0], [-5.0, -20.0]]))


def test_an_arc_without_room_grows_and_without_radius_is_straight() -> None:
    # W3C SVG 1.1, F.6.6: radii too small are scaled up; a radius of zero is a straight line
    grown = path_loops("M0 0 A 1 1 0 0 1 20 0")[0]
    assert float(np.abs(grown[:, 1]).max()) == pytest.approx(10.0, rel=1e-3)
    assert path_loops("M0 0 A 0 5 0 0 1 20 0")[0].tolist() == [[0, 0], [20, 0]]
    assert path_loops("M0 0 A 5 5 0 0 1 0 0 L 1 1")[0].tolist() == [[0, 0], [0, 0], [1, 1]]


BAD_DRAWINGS = [
    ('<text>no line</text>', '"plate.svg" has no line; expected one closed path'),
    ('<circle r="9"/><circle r="8"/>', '"plate.svg" has 2 lines; expected one closed path, or one '
                                       'whose id is "armhole"'),
    ('<path d="M0 0h90v90h-80v-60"/>', '"plate.svg" has a line that is open by 31.6 mm; expected a '
                                       "closed path"),
    ('<path d="M0 0 L 5"/>', '"plate.svg" has a path with 1 numbers after "L"; expected a '
                             'multiple of 2 (a broken drawing?)'),
    ('<path d="L 5 5"/>', '"plate.svg" has a path that does not start with "M" (a broken '
                             "drawing?)"),
    ('<path d="5 5 L 5 5"/>', '"plate.svg" has a path that does not start with "M" (a broken '
                             "drawing?)"),
]


@pytest.mark.parametrize(("body", "message"), BAD_DRAWINGS)
def test_a_drawing_without_one_closed_line_is_refused(
    tmp_path: Path, body: str, message: str
) -> None:
    with pytest.raises(UnrollError) as refusal:
        load_outline(drawn(tmp_path, body))
    assert str(refusal.value) == message


def test_what_is_no_drawing_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "plate.svg"
    for content in ("not a drawing", "<html/>", "<svg"):
        path.write_text(content)
        with pytest.raises(UnrollError, match='^"plate.svg" is no SVG drawing$'):
            load_outline(path)
    path.unlink()
    with pytest.raises(UnrollError, match=r'^"plate.svg" is not there \(mistyped\?\)$'):
        load_outline(path)
    with pytest.raises(UnrollError, match="is a folder; expected a file"):
        load_outline(tmp_path)


def test_a_drawing_without_a_size_is_refused(tmp_path: Path) -> None:
    page = 'width="100%" viewBox="0 0 200 200"'
    with pytest.raises(UnrollError, match='^"plate.svg" has a viewBox but no page size in mm'):
        load_outline(drawn(tmp_path, OVALS["ellipse"], page=page))


# --- traced armholes in the sheet -------------------------------------------------------------


def traced_sheet(tmp_path: Path, plate: str) -> Path:
    """Write a sheet whose armhole is `plate`, and return its path."""
    path = tmp_path / "sheet.toml"
    path.write_text(GOOD.replace(PLATE, plate), "utf-8")
    return path


def test_a_traced_armhole_replaces_the_oval(tmp_path: Path) -> None:
    drawn(tmp_path, OVALS["cubics"])
    arm = load_sheet(traced_sheet(tmp_path, '{outline = "plate.svg"}')).arms[0]
    plate = arm.armhole
    assert plate.outline is not None and not plate.outline.flags.writeable
    assert (plate.width, plate.height) == pytest.approx((98.0, 116.0), abs=0.05)
    assert plate.girth == pytest.approx(336.74, rel=6e-4)
    assert [e.name for e in arm.estimated] == ["girth_142_below_elbow"]


def test_faults_of_tracing_and_sheet_come_together(tmp_path: Path) -> None:
    drawn(tmp_path, BAD_DRAWINGS[0][0])
    path = traced_sheet(tmp_path, '{outline = "plate.svg"}')
    path.write_text(path.read_text().replace("wrist_girth = 15.8", "wrist_girth = 158"))
    with pytest.raises(SheetFaults) as refusal:
        load_sheet(path)
    assert list(refusal.value.lines) == [
        "line 12: wrist_girth is 158.0 cm; expected 4.0 to 60.0 cm (mm written as cm?)",
        'line 21: armhole outline "plate.svg" has no line; expected one closed path']


def test_a_tracing_at_another_scale_than_the_tape_is_refused(tmp_path: Path) -> None:
    drawn(tmp_path, OVALS["ellipse"])
    load_sheet(traced_sheet(tmp_path, '{outline = "plate.svg", girth = 34}'))
    with pytest.raises(SheetFaults) as refusal:
        load_sheet(traced_sheet(tmp_path, '{outline = "plate.svg", height = 10.9}'))
    assert list(refusal.value.lines) == [
        "line 21: armhole outline has a height of 11.6 cm; expected armhole height 10.9 cm (drawn "
        "or scanned at another scale?)"]


def test_a_tracing_must_agree_with_the_other_measures(tmp_path: Path) -> None:
    drawn(tmp_path, OVALS["ellipse"])
    path = traced_sheet(tmp_path, '{outline = "plate.svg"}')
    path.write_text(path.read_text().replace("cap_height = 16.0", "cap_height = 10"))
    with pytest.raises(SheetFaults, match="cap_height is 10.0 cm; .* with armhole height 11.6 cm"):
        load_sheet(path)


def oval_points(count: int, *, turn: float = 0.0) -> FloatArray:
    """Return points of the 98 by 116 oval about a far-off centre."""
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False) + turn
    return np.column_stack([700 + 49 * np.cos(angle), -300 + 58 * np.sin(angle)])


@pytest.mark.parametrize("points", [
    oval_points(36), oval_points(36)[::-1], np.roll(oval_points(36), 11, axis=0),
    np.vstack([oval_points(36), oval_points(36)[:1]]), np.repeat(oval_points(36), 2, axis=0),
])
def test_a_tracing_comes_out_alike_whichever_way_it_was_drawn(points: FloatArray) -> None:
    plate = traced_armhole(points)
    assert plate.outline is not None
    assert plate.outline[0].tolist() == [0.0, 0.0]  # the shoulder point, its top
    assert plate.outline[1, 0] < 0 < plate.outline[-1, 0]  # anticlockwise, x to the right
    # a curve through points 9 mm apart: within 0.1 mm of the oval, where its chords are 0.2 mm off
    assert plate.outline[:, 1].min() == pytest.approx(-116.0, abs=0.15)
    assert plate.width == pytest.approx(98.0, abs=0.15)
    assert plate.girth == pytest.approx(336.74, rel=1e-3)


@pytest.mark.parametrize(("count", "error"), [(200, 1e-4), (36, 2e-3), (24, 2e-3), (8, 8e-3)])
def test_a_coarse_tracing_has_the_oval_s_own_girth(count: int, error: float) -> None:
    # within what the girth of a plate matters (0.2 %) from two dozen points; the girth of an
    # ellipse 98 by 116 is 336.74 (A&S 17.3), a 24-gon's own is 0.29 % less
    for turn in (0.0, 0.1, 0.2):
        assert traced_armhole(oval_points(count, turn=turn)).girth == pytest.approx(
            336.74, rel=error)


def skewed_egg(count: int) -> FloatArray:
    """Return points of an egg, fuller below and leaning to the front."""
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    y = 60 * np.sin(angle)
    x = 47 * np.cos(angle) * (1 - 0.18 * np.sin(angle)) + 0.25 * y + 4 * np.sin(2 * angle)
    return np.column_stack([x, y])


@pytest.mark.parametrize("count", [24, 36])
def test_a_skewed_egg_keeps_its_lean_and_girth(count: int) -> None:
    fine = skewed_egg(20_000)
    girth = float(np.linalg.norm(fine - np.roll(fine, 1, axis=0), axis=1).sum())
    plate = traced_armhole(skewed_egg(count))
    assert plate.outline is not None
    assert plate.girth == pytest.approx(girth, rel=2e-3)
    # its top lies before its lowest point, which is 30 mm behind as it was drawn
    lowest = plate.outline[int(np.argmin(plate.outline[:, 1]))]
    assert lowest == pytest.approx([fine[15_000, 0] - fine[5_000, 0], -120.0], abs=1.0)


def test_a_square_plate_has_its_shoulder_point_in_the_middle() -> None:
    square = [[0, 0], [40, 0], [90, 0], [90, 50], [90, 99], [60, 99], [20, 99], [0, 99], [0, 60]]
    plate = traced_armhole(square)
    assert plate.outline is not None
    assert plate.outline[0].tolist() == [0.0, 0.0]
    # corners come out round, and sides of two points a little bowed
    assert plate.outline[:, 0].min() == pytest.approx(-45.0, abs=1.0)
    assert plate.outline[:, 0].max() == pytest.approx(45.0, abs=1.0)
    assert (plate.width, plate.height) == pytest.approx((90.0, 99.0), rel=0.01)
    assert 366.0 < plate.girth < 378.0


def test_a_hand_s_tremble_is_taken_out() -> None:
    random = np.random.default_rng(3)
    shaky = oval_points(200) + random.normal(0.0, 0.4, (200, 2))  # its chords are 14 % too long
    plate = traced_armhole(shaky)
    assert plate.girth == pytest.approx(336.74, rel=2e-3)
    assert plate.outline is not None
    bottom = int(np.argmin(plate.outline[:, 1]))
    assert np.all(np.diff(plate.outline[: bottom + 1, 1]) <= 0)
    assert np.all(np.diff(plate.outline[bottom:, 1]) >= 0)


def bean() -> FloatArray:
    """Return an oval bent so that a level cuts it four times."""
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    x, y = 49 * np.cos(angle), 30 * np.sin(angle)
    return np.column_stack([x, y - 0.02 * x**2])


@pytest.mark.parametrize(("points", "message"), [
    (oval_points(7), "has 7 points; expected at least 8"),
    (np.zeros((0, 2)), "has 0 points; expected at least 8"),
    (0.1 * oval_points(36), "is 9.8 mm wide; expected 20 to 500 mm (drawn at another scale?)"),
    (oval_points(36) * [1, 5], "is 580.0 mm high; expected 20 to 500 mm (drawn at another scale?)"),
    (oval_points(36)[np.arange(36) * 5 % 36], "crosses itself; expected one smooth loop"),
])
def test_a_tracing_that_is_no_armhole_is_refused(points: FloatArray, message: str) -> None:
    with pytest.raises(UnrollError) as refusal:
        traced_armhole(points)
    assert str(refusal.value) == message


def test_a_tracing_that_folds_back_is_refused() -> None:
    with pytest.raises(UnrollError, match=r"^folds back by \d+\.\d mm; expected each side to run "
                                          r"down from the shoulder to the underarm"):
        traced_armhole(bean())
