"""Photographs of paper pieces, by a synthetic camera: how near they come, and what is refused.

No real photograph could be taken for these tests; `tests/camera.py` says what the synthetic one
does and leaves out.
"""

from __future__ import annotations

import io
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from tests.camera import Camera, around, jpeg, on_floor
from unroll.arms.lofting import mesh_arm, shape_arm
from unroll.disk.drawings import pieces_svg
from unroll.disk.own_pieces import outlines_in, read_pieces
from unroll.disk.photographs import grey_picture
from unroll.disk.sheets import load_sheet
from unroll.drafts.bases import armhole_base, wrist_base
from unroll.drafts.own_lines import with_levels
from unroll.drafts.taping import tape_draft
from unroll.errors import UnrollError
from unroll.flat.cutting import cut, outline
from unroll.flat.flattening import flatten
from unroll.nouns import Piece
from unroll.nouns.own import DraftTable
from unroll.photos.cards import floor_of
from unroll.photos.edges import linear

SHEET = load_sheet(Path("meshes/demo.toml"))
MEASURES = SHEET.arms[0]
SMALL = Camera(size=(1600, 1200), height=520.0, tilt_deg=8.0, turn_deg=4.0)
BLOB = 60 * np.array([[np.cos(a) + 0.2 * np.cos(2 * a), np.sin(a)]
                      for a in np.linspace(0, 2 * np.pi, 200)[:-1]])


@lru_cache
def cut_pieces() -> dict[str, Piece]:
    """Pieces laid flat from a coarse arm, no darts: corners as paper has them."""
    arm = mesh_arm(shape_arm(MEASURES.rounded()), edge=14.0)
    flat = [outline(flatten(panel), arm="left", source="unrolled") for panel in cut(arm)]
    return {p.name: p for p in (*flat, armhole_base(MEASURES), wrist_base(MEASURES, 1 / 3))}


def laid(piece: Piece, x: float, y: float, deg: float) -> np.ndarray:
    a = np.radians(deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return piece.outline @ turn + [x, y]


def written(tmp_path: Path, content: bytes, name: str = "a.jpg") -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


@pytest.fixture(scope="module")
def photographed(tmp_path_factory):
    """The four pieces in two pictures of 12 million pixels, and what is read from them."""
    folder, pieces = tmp_path_factory.mktemp("photos"), cut_pieces()
    sets = [
        [laid(pieces["outer"], 0, 0, 3)],
        [laid(pieces["inner"], 0, 0, -5), laid(pieces["armhole base"], 190, -80, 25),
         laid(pieces["wrist base"], 190, -250, -40)],
    ]
    cameras = (Camera(tilt_deg=14, seed=1), Camera(tilt_deg=22, radial=(0.04, -0.01), seed=2))
    files = [
        written(folder, jpeg(camera.picture(some, around(some))), f"{k}.jpg")
        for k, (camera, some) in enumerate(zip(cameras, sets))
    ]
    return pieces, read_pieces(SHEET, files)


def moved_onto(points: np.ndarray, ring: shapely.LinearRing) -> np.ndarray:
    """Points moved stiffly onto a ring, from where they lie nearly right."""
    points = points[::8]
    for _ in range(20):
        at = ring.project(shapely.points(points))
        there = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
        middle = points.mean(axis=0)
        u, _, v = np.linalg.svd((points - middle).T @ (there - there.mean(axis=0)))
        points = (points - middle) @ (u @ v) + there.mean(axis=0)
    return points


@pytest.mark.parametrize("name", ["outer", "inner", "armhole base", "wrist base"])
def test_outlines_come_back_within_a_third_of_a_millimetre(photographed, name) -> None:
    pieces, found = photographed
    ring = shapely.LinearRing(pieces[name].outline)
    piece = next(p for p in found.pieces if p.name == name)
    shift = np.array(ring.centroid.coords[0]) - np.array(
        shapely.LinearRing(piece.outline).centroid.coords[0])
    away = shapely.distance(shapely.points(moved_onto(piece.outline + shift, ring)), ring)
    assert away.mean() < 0.3 and np.quantile(away, 0.95) < 0.7


def test_girths_come_back_within_a_third_of_a_percent(photographed) -> None:
    pieces, found = photographed
    own = {p.name: p for p in found.pieces}
    given = {n: replace(p, lines={"grain": p.lines["grain"]}) for n, p in pieces.items()}
    none = {"outer": (), "inner": ()}
    outer, inner, _ = with_levels(given["outer"], given["inner"], none, MEASURES)
    wanted = {r.name: r.got_mm for r in tape_draft(
        (outer, inner, pieces["armhole base"], pieces["wrist base"]), MEASURES)}
    for row in tape_draft(tuple(own.values()), MEASURES):
        if "girth" in row.name:
            assert row.got_mm == pytest.approx(wanted[row.name], rel=3e-3), row.name


def test_what_a_photograph_cannot_show_is_told(photographed) -> None:
    _, found = photographed
    told = " ".join(found.found)
    assert "not drawn, placed by the measures and by walking: upper arm line" in told
    assert len(found.shots) == 2 and len(found.shots[1].outlines) == 3


def test_a_picture_turned_by_its_tag_is_the_same(tmp_path) -> None:
    grey = SMALL.picture([BLOB], around([BLOB]))
    plain, _, _ = outlines_in(written(tmp_path, jpeg(grey)), DraftTable())
    turned = written(tmp_path, jpeg(np.rot90(grey), turn=6), "b.jpg")
    again, _, shots = outlines_in(turned, DraftTable())
    assert shots[0].grey.shape == grey.shape
    areas = [shapely.Polygon(one[0].points).area for one in (plain, again)]
    assert areas[1] == pytest.approx(areas[0], rel=1e-3)
    assert areas[0] == pytest.approx(shapely.Polygon(BLOB).area, rel=3e-3)


def test_cards_printed_smaller_are_allowed_for(tmp_path) -> None:
    path = written(tmp_path, jpeg(SMALL.picture([BLOB], around([BLOB]))))
    full, _, _ = outlines_in(path, DraftTable())
    small, _, _ = outlines_in(path, DraftTable(card=57.0))
    ratio = shapely.Polygon(small[0].points).area / shapely.Polygon(full[0].points).area
    assert ratio == pytest.approx((57 / 60) ** 2, rel=1e-6)


def test_dark_paper_on_a_light_floor_is_found_too(tmp_path) -> None:
    camera = replace(SMALL, paper=0.15, floor=0.75)
    # the cards stay white: their rims lie on the light floor as plain paper would
    grey = camera.picture([BLOB], around([BLOB]), card_paper=0.85)
    found, _, _ = outlines_in(written(tmp_path, jpeg(grey)), DraftTable())
    assert shapely.Polygon(found[0].points).area == pytest.approx(
        shapely.Polygon(BLOB).area, rel=1e-2)


CARDS = around([BLOB])


def folded(tmp_path) -> bytes:
    return jpeg(SMALL.picture([BLOB], CARDS, squeezed=2))


def shaded(columns: float, rows: float, share: float) -> bytes:
    """A picture with a hard shadow over its left upper part, in linear light."""
    grey = SMALL.picture([BLOB], CARDS)
    high, wide = int(rows * grey.shape[0]), int(columns * grey.shape[1])
    dark = linear(grey)[:high, :wide] * share
    grey[:high, :wide] = np.round(255 * np.where(
        dark <= 0.0031308, 12.92 * dark, 1.055 * dark ** (1 / 2.4) - 0.055))
    return jpeg(grey)


def cut_off(_tmp_path) -> bytes:
    far = BLOB + [0, 290.0]
    return jpeg(replace(SMALL, height=500.0).picture([BLOB, far], CARDS, middle_of=[BLOB]))


BAD = {
    "a card is missing": (lambda t: jpeg(SMALL.picture([BLOB], CARDS[:3])),
                          r"shows 3 of the 4 corner cards \(missing: 3\)"),
    "no card at all": (lambda t: jpeg(np.full((400, 400), 90, np.uint8)),
                       "shows 0 of the 4 corner cards"),
    "a card lies there twice": (lambda t: jpeg(SMALL.picture(
        [BLOB], [*CARDS, (-60.0, -260.0, 0.0)], numbers=(0, 1, 2, 3, 1))), "twice"),
    "from too far": (lambda t: jpeg(replace(SMALL, height=2900.0, noise=0.002, blur=0.4).picture(
        [BLOB], CARDS)), "a corner card .* pixels wide"),
    "a card is folded": (folded, "do not fit each other: card"),
    "a card is curled": (lambda t: jpeg(SMALL.picture([BLOB], CARDS, curled=2)),
                         "do not fit each other: card 2"),
    "a shadow across a card": (lambda t: shaded(0.32, 1.0, 0.1), "in shadow, curled or folded"),
    "a shadow across a piece": (lambda t: shaded(0.5, 1.0, 0.25), "the edge of a shadow"),
    "a card covered by a piece": (lambda t: jpeg(SMALL.picture(
        [BLOB], CARDS, on_top=[0.4 * BLOB + np.array(CARDS[1][:2]) + 30.0])), "shows 3 of the 4"),
    "paper and floor alike": (lambda t: jpeg(replace(SMALL, paper=0.80, floor=0.74).picture(
        [BLOB], CARDS)), "too alike"),
    "blurred": (lambda t: jpeg(replace(SMALL, blur=1.7).picture([BLOB], CARDS)), "is blurred"),
    "cut off": (cut_off, "cut off by the picture's edge"),
    "no piece": (lambda t: jpeg(SMALL.picture([], CARDS)), "shows no piece of paper"),
    "cut short": (lambda t: jpeg(SMALL.picture([BLOB], CARDS))[:9000], "cannot be read to its end"),
    "no picture": (lambda t: b"hello", "is no JPEG or PNG picture"),
}


@pytest.mark.parametrize("kind", BAD)
def test_what_goes_wrong_gets_one_clear_line(tmp_path, kind) -> None:
    make, why = BAD[kind]
    with pytest.raises(UnrollError, match=why) as caught:
        outlines_in(written(tmp_path, make(tmp_path)), DraftTable())
    assert "\n" not in str(caught.value) and len(str(caught.value)) < 260


def test_a_picture_that_swells_is_refused() -> None:
    stream = io.BytesIO()
    Image.new("1", (14_000, 13_000)).save(stream, "PNG")
    with pytest.raises(UnrollError, match="million"):
        grey_picture(stream.getvalue())
    stream = io.BytesIO()
    Image.new("1", (13_000, 10_000)).save(stream, "PNG")
    with pytest.raises(UnrollError, match="million"):
        grey_picture(stream.getvalue())


def test_the_floor_is_found_through_tilt_and_distortion() -> None:
    """Exact corners: what is left is only that the camera's distortion is of another form."""
    camera, cards = Camera(tilt_deg=25.0, radial=(-0.06, 0.015)), around([BLOB])
    square = 60.0 * np.array([[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])
    quads = np.array([camera.seen(on_floor(square, card), np.zeros(2)) for card in cards])
    floor = floor_of(quads, camera.size)
    spots = np.array([[x, y] for x in (-60.0, 0.0, 80.0) for y in (-90.0, 10.0, 90.0)])
    seen = floor.on_floor(camera.seen(spots, np.zeros(2)))
    apart = np.linalg.norm(seen[:, None] - seen[None], axis=2)
    wanted = np.linalg.norm(spots[:, None] - spots[None], axis=2)
    assert np.abs(apart - wanted).max() < 0.05


def test_a_traced_armhole_is_read_from_a_photograph(tmp_path) -> None:
    plate = cut_pieces()["armhole base"].outline
    written(tmp_path, jpeg(replace(SMALL, turn_deg=0.0).picture([plate], around([plate]))),
            "plate.jpg")
    text = Path("meshes/demo.toml").read_text().replace(
        'armhole = { width = "3 7/8", height = "4 9/16" }', 'armhole = { outline = "plate.jpg" }')
    path = tmp_path / "sheet.toml"
    path.write_text(text)
    armhole = load_sheet(path).arms[0].armhole
    assert armhole.width == pytest.approx(MEASURES.armhole.width, abs=0.3)
    assert armhole.height == pytest.approx(MEASURES.armhole.height, abs=0.3)


def test_drawings_and_photographs_go_together(tmp_path) -> None:
    pieces = cut_pieces()
    long = pieces_svg([pieces["outer"], pieces["inner"]])
    (tmp_path / "long.svg").write_text(long)
    plate = pieces["wrist base"].outline
    grey = replace(SMALL, height=400.0).picture([plate], around([plate], gap=5.0))
    found = read_pieces(SHEET, [tmp_path / "long.svg", written(tmp_path, jpeg(grey))])
    assert any(line.startswith("wrist base: outline") for line in found.found)
    base = next(p for p in found.pieces if p.name == "wrist base")
    assert base.area == pytest.approx(pieces["wrist base"].area, rel=1e-2)
