"""The SVG of the pieces, measured as a cutter would measure it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from lxml import etree

from tests.made_arms import made_arm_result
from unroll.disk.drawings import page_drawing, pieces_svg
from unroll.nouns import Notch, Piece, PieceSide

PIECES = made_arm_result(rings=16).pieces["unrolled"]
SPACE = "{http://www.w3.org/2000/svg}"
ROOT = etree.fromstring(pieces_svg(PIECES).encode())


def _points(path: etree._Element) -> np.ndarray:
    numbers = re.findall(r"-?\d+(?:\.\d+)?", path.get("d"))
    return np.array(numbers, dtype=float).reshape(-1, 2)


def _length(points: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _group(name: str, root: etree._Element = ROOT) -> etree._Element:
    (group,) = root.xpath(f"//*[@id='{name}']")
    return group


def _square(size: float = 100.0, **changes: object) -> Piece:
    corners = np.array([[0, 0], [size, 0], [size, size], [0, size], [0, 0]], dtype=float)
    sides = tuple(PieceSide(f"side {k}", corners[k : k + 2]) for k in range(4))
    values = dict(name="wrist base", source="unrolled", arm="left", sides=sides)
    return Piece(**{**values, **changes})


def test_one_user_unit_is_one_millimetre() -> None:
    width, height = float(ROOT.get("width")[:-2]), float(ROOT.get("height")[:-2])
    assert ROOT.get("width").endswith("mm") and ROOT.get("height").endswith("mm")
    assert [float(x) for x in ROOT.get("viewBox").split()] == [0.0, 0.0, width, height]
    assert not ROOT.xpath("//*[@transform]")


def test_every_side_has_its_true_length() -> None:
    for piece in PIECES:
        drawn = _group(f"left-{piece.name}").xpath(".//*[@class='stitching-line' or @class='dart']")
        assert [path.get("data-name") for path in drawn] == [side.seam for side in piece.sides]
        for path, side in zip(drawn, piece.sides, strict=True):
            # Coordinates are written to 1/10 000 mm.
            assert _length(_points(path)) == pytest.approx(side.length, abs=1e-2)


def test_a_square_of_100_mm_is_drawn_as_one() -> None:
    root = etree.fromstring(pieces_svg([_square()]).encode())
    points = np.concatenate(
        [_points(p) for p in _group("left-wrist-base", root).xpath(".//*[@class='stitching-line']")]
    )
    assert np.allclose(np.ptp(points, axis=0), [100.0, 100.0])


def test_the_drawing_is_not_mirrored() -> None:
    # Anticlockwise with y up is clockwise on a screen whose y points down.
    for piece in PIECES:
        (path,) = _group(f"left-{piece.name}").xpath(".//*[@class='piece-area']")
        x, y = _points(path).T
        signed = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
        assert signed == pytest.approx(-piece.area, rel=1e-6)


def test_line_classes_tell_grain_reference_lines_and_darts_apart() -> None:
    outer = _group("left-outer")
    assert [p.get("data-name") for p in outer.xpath(".//*[@class='grain']")] == ["grain"]
    names = [p.get("data-name") for p in outer.xpath(".//*[@class='reference-line']")]
    assert names == ["elbow line"]
    assert len(outer.xpath(".//*[@class='dart']")) == 2


def test_pieces_lie_apart_and_within_the_drawing() -> None:
    boxes = []
    for piece in PIECES:
        points = np.concatenate(
            [_points(p) for p in _group(f"left-{piece.name}").iter(f"{SPACE}path")]
        )
        boxes.append((points.min(axis=0), points.max(axis=0)))
    size = np.array([float(x) for x in ROOT.get("viewBox").split()[2:]])
    assert all(np.all(low > 0) and np.all(high < size) for low, high in boxes)
    assert boxes[0][1][0] < boxes[1][0][0]


def test_many_pieces_go_on_new_rows_and_still_lie_apart() -> None:
    pieces = [_square(400.0, source=f"drafted-{k}") for k in range(7)]
    root = etree.fromstring(pieces_svg(pieces).encode())
    corners = [
        np.concatenate([_points(p) for p in g.iter(f"{SPACE}path")])
        for g in root.xpath("//*[@class='piece']")
    ]
    boxes = [(c.min(axis=0), c.max(axis=0)) for c in corners]
    for k, (low, high) in enumerate(boxes):
        for other_low, other_high in boxes[k + 1 :]:
            assert np.any(high < other_low) or np.any(other_high < low)
    assert float(root.get("width")[:-2]) < 1500


def test_notches_stand_on_the_stitching_line_and_point_outward() -> None:
    piece = _square(notches=(Notch("front", 1, 30.0, 1), Notch("back", 3, 60.0, 2)))
    root = etree.fromstring(pieces_svg([piece]).encode())
    single, double = root.xpath("//*[@class='notch']")
    (area,) = root.xpath("//*[@class='piece-area']")
    low, high = _points(area).min(axis=0), _points(area).max(axis=0)
    start, end = _points(single)
    # Side 1 runs up the right edge from the lower corner.
    assert np.allclose(start, [high[0], high[1] - 30.0]) and np.allclose(end - start, [5.0, 0.0])
    ticks = _points(double).reshape(2, 2, 2)
    assert np.allclose(ticks[:, 0, 0], low[0]) and np.allclose(ticks[:, 1, 0], low[0] - 5.0)
    assert np.ptp(ticks[:, 0, 1]) == pytest.approx(3.0)
    assert double.get("data-marks") == "2"


def test_test_squares_measure_100_mm_and_4_inches() -> None:
    sizes = [(float(r.get("width")), float(r.get("height"))) for r in ROOT.iter(f"{SPACE}rect")]
    assert sizes == [(100.0, 100.0), (101.6, 101.6)]


def test_words_lie_in_the_piece_where_they_fit_and_beneath_it_where_not() -> None:
    root = etree.fromstring(pieces_svg([_square(300.0), _square(30.0, arm="right")]).encode())
    height = float(root.get("viewBox").split()[3])
    for name, is_inside in (("left-wrist-base", True), ("right-wrist-base", False)):
        group = _group(name, root)
        (area,) = group.xpath(".//*[@class='piece-area']")
        (text,) = group.xpath(".//*[@class='label']")
        low, high = _points(area).min(axis=0), _points(area).max(axis=0)
        x, y = float(text.get("x")), float(text.get("y"))
        assert low[0] < x < high[0]
        assert (low[1] < y < high[1]) == is_inside
        assert y < height - 100.0  # above the test squares


def test_ids_stay_apart_when_names_repeat() -> None:
    pieces = [
        _square(), _square(arm="right"), _square(source="corrected"), _square(source="corrected"),
    ]  # fmt: skip
    root = etree.fromstring(pieces_svg(pieces).encode())
    ids = [g.get("id") for g in root.xpath("//*[@class='piece']")]
    assert ids == [
        "left-wrist-base-unrolled", "right-wrist-base", "left-wrist-base-corrected",
        "left-wrist-base-corrected--2",
    ]  # fmt: skip


def test_odd_names_do_not_break_the_drawing() -> None:
    root = etree.fromstring(pieces_svg([_square(name='a <b> & "c"')]).encode())
    (group,) = root.xpath("//*[@class='piece']")
    assert group.get("data-name") == 'a <b> & "c"' and group.get("id") == "left-a-b-c"


def test_the_drawing_for_the_page_asks_nothing_of_the_network() -> None:
    drawing = page_drawing(PIECES)
    assert "http" not in drawing and "mm" not in drawing.split(">", 1)[0]
    assert drawing.count('class="piece"') == len(PIECES)
