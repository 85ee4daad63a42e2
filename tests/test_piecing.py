"""Pieces made ready to cut: fitted lines, allowance, corners, notches, labels, card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.own_pieces import arc, disk, fan, made_arm, own_sheet, square, turned
from unroll.errors import UnrollError
from unroll.finish.allowance import cutting_line
from unroll.finish.finishing import best_pieces, card_insert, finish
from unroll.maths.cubic_fitting import distance_to_cubics, fit_cubics, sample_cubics
from unroll.maths.offsets import offset_right, parallel_right, tightest_hollow
from unroll.maths.polylines import signed_area, turn_between
from unroll.nouns import Notch, Piece, PieceSide, StitchingSide, mirrored


def finished(piece, **make):
    sheet = own_sheet(**make)
    return finish([piece], sheet)[0]


def boundary_distance(points, loop):
    return shapely.distance(shapely.points(points), shapely.LinearRing(loop))


# -- smooth lines -----------------------------------------------------------------------------


def test_an_arc_is_fitted_within_a_tenth_of_a_millimetre_by_a_few_segments():
    points = arc((0, 0), 60.0, 0.0, 180.0, 39)
    cubics = fit_cubics(points)
    assert distance_to_cubics(points, cubics).max() <= 0.1
    assert len(cubics) <= 4


def test_the_fitted_curve_keeps_both_ends_and_its_tangent_and_curvature_run_on():
    points = np.c_[np.linspace(0, 400, 90), 25 * np.sin(np.linspace(0, 5, 90))]
    cubics = fit_cubics(points)
    assert np.array_equal(cubics[0, 0], points[0])
    assert np.array_equal(cubics[-1, 3], points[-1])
    for one, two in zip(cubics[:-1], cubics[1:], strict=True):
        out, into = one[3] - one[2], two[1] - two[0]
        unit = out / np.linalg.norm(out), into / np.linalg.norm(into)
        assert np.allclose(unit[0], unit[1], atol=1e-9)
        bends = [
            6 * (one[1] - 2 * one[2] + one[3]) / np.linalg.norm(3 * out) ** 2,
            6 * (two[0] - 2 * two[1] + two[2]) / np.linalg.norm(3 * into) ** 2,
        ]
        bent = [c[0] * unit[0][1] - c[1] * unit[0][0] for c in bends]
        # 1/mm; a curvature jump of 1e-3 would turn a 10 mm stretch by half a degree
        assert abs(bent[0] - bent[1]) < 1e-3


def test_corners_are_kept_exactly():
    points = np.array([[0, 0], [50, 2], [100, 0], [100, 80], [98, 120], [100, 160]], dtype=float)
    cubics = fit_cubics(points)
    corner = np.array([100.0, 0.0])
    assert min(np.linalg.norm(c[0] - corner) for c in cubics) == 0.0


def test_a_straight_line_beside_an_arc_stays_straight():
    line = np.vstack([[[0.0, 0.0]], arc((100, 30), 30.0, -90.0, 0.0, 20), [[130.0, 200.0]]])
    points, _ = sample_cubics(fit_cubics(line))
    start = points[points[:, 0] < 90]
    assert np.abs(start[:, 1]).max() < 0.1


def test_samples_of_a_curve_stray_less_than_a_hundredth_of_a_millimetre():
    cubics = fit_cubics(arc((0, 0), 60.0, 0.0, 90.0, 30), tolerance=0.02)
    coarse, _ = sample_cubics(cubics)
    fine, _ = sample_cubics(cubics, sagitta=1e-5)
    away = shapely.distance(shapely.points(fine), shapely.LineString(coarse))
    assert away.max() <= 0.01


@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_a_smoothed_side_has_the_length_of_the_line_it_smooths(noise):
    rng = np.random.default_rng(4)
    points = np.c_[np.linspace(0, 480, 110), 18 * np.sin(np.linspace(0, 4, 110))]
    clean = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    points[1:-1] += rng.normal(0, noise, (108, 2))
    fitted, _ = sample_cubics(fit_cubics(points))
    # a third of what notches may miss each other by, so that both mates may err
    assert abs(np.linalg.norm(np.diff(fitted, axis=0), axis=1).sum() - clean) < 0.1


# -- allowance --------------------------------------------------------------------------------


def test_the_parallel_of_a_straight_line_and_of_an_arc_is_exact():
    angle = np.linspace(0, np.pi / 2, 50)
    points = 60 * np.c_[np.cos(angle), np.sin(angle)]
    tangents = np.c_[-np.sin(angle), np.cos(angle)]
    moved = offset_right(points, tangents, 9.525)
    assert np.abs(np.hypot(*moved.T) - 69.525).max() < 1e-12
    line = offset_right(np.array([[0.0, 0], [7, 0]]), np.array([[1.0, 0], [1, 0]]), 3.0)
    assert np.array_equal(line, [[0, -3], [7, -3]])


def test_a_disk_grows_to_the_area_of_the_larger_disk():
    angle = np.linspace(0, np.pi, 200)
    halves = []
    for start in (0.0, np.pi):
        points = 50 * np.c_[np.cos(angle + start), np.sin(angle + start)]
        tangents = np.c_[-np.sin(angle + start), np.cos(angle + start)]
        halves.append(StitchingSide("rim", np.zeros((1, 4, 2)), points, tangents, 10.0))
    line = cutting_line(halves).line
    # a 398-gon in a circle: sin(x) / x of its area, x = 2 pi / 398
    assert signed_area(line) == pytest.approx(np.pi * 60.0**2, rel=5e-5)
    assert np.abs(np.hypot(*line.T) - 60.0).max() < 1e-7


def test_a_disk_drawn_as_a_polyline_and_smoothed_grows_to_within_a_tenth_of_a_millimetre():
    piece = finished(disk(50.0))
    assert np.abs(np.hypot(*piece.cutting.T) - 60.0).max() < 0.1
    assert signed_area(piece.cutting) == pytest.approx(np.pi * 60.0**2, rel=2 * 0.1 / 60)


def test_a_square_with_mitred_corners_grows_to_the_larger_square_exactly():
    piece = finished(square(100.0))
    assert signed_area(piece.cutting) == pytest.approx(120.0**2, abs=1e-6)
    assert len(piece.cutting) == 4


def test_every_seam_takes_its_own_allowance():
    piece = finished(square(100.0), seam_allowances={"edge 1": 20.0, "edge 3": 0.0})
    assert np.allclose(np.sort(piece.cutting[:, 0]), [0, 0, 120, 120], atol=1e-6)
    assert np.allclose(np.sort(piece.cutting[:, 1]), [-10, -10, 110, 110], atol=1e-6)
    assert signed_area(piece.cutting) == pytest.approx(120.0 * 120.0, abs=1e-6)


@pytest.mark.parametrize("turn_deg", [0.0, 50.0])
def test_a_sharp_corner_is_cut_blunt_at_the_longest_mitre(turn_deg):
    corners = turned(np.array([[0, 0], [200, 0], [0, 20.0], [0, 0]]), turn_deg, np.zeros(2))
    piece = Piece(
        "wedge", "drafted-darts", "left",
        tuple(PieceSide(f"edge {i}", corners[i : i + 2]) for i in range(3)),
    )
    line = turned(finished(piece).cutting, -turn_deg, np.zeros(2))
    tip = np.linalg.norm(line - [200, 0], axis=1)
    # unblunted the mitre of a 5.7 degree corner would reach 200 mm; it is cut 25 mm out
    assert 25 <= tip.min() < 27 and line[:, 0].max() < 226


def supplementary_pair(angle_deg):
    """Two pieces whose front seams are sewn together, their upper corners adding up to 180."""
    rise = 150 / np.tan(np.deg2rad(angle_deg))
    one = np.array([[0, 0], [0, -300], [150, -300], [150, -rise], [0, 0]], dtype=float)
    two = np.array([[0, 0], [-150, rise], [-150, -300], [0, -300], [0, 0]], dtype=float)
    names_one = ("front seam", "wrist", "back", "top")
    names_two = ("top", "back", "wrist", "front seam")
    return [
        Piece(name, "drafted-darts", "left",
              tuple(PieceSide(s, line[i : i + 2]) for i, s in enumerate(names)))
        for name, line, names in (("one", one, names_one), ("two", two, names_two))
    ]


def test_squared_ends_of_a_seam_match_when_the_pieces_are_laid_together():
    one, two = finish(supplementary_pair(60.0), own_sheet())
    tops = []
    for piece in (one, two):
        beside = piece.cutting[np.abs(np.abs(piece.cutting[:, 0]) - 10.0) < 1e-6]
        tops.append(beside[:, 1].max())
    assert tops[0] == pytest.approx(tops[1], abs=1e-6)
    # square to the seam at the level where its line leaves the other allowance: a / sin(angle)
    assert tops[0] == pytest.approx(10.0 / np.sin(np.deg2rad(60.0)), abs=1e-6)
    mitred = finish(supplementary_pair(60.0), own_sheet(), corners="mitred")
    uneven = [
        p.cutting[np.abs(np.abs(p.cutting[:, 0]) - 10.0) < 1e-6][:, 1].max() for p in mitred
    ]
    assert abs(uneven[0] - uneven[1]) > 5.0


def test_a_seams_end_that_hardly_turns_is_mitred():
    one = finish(supplementary_pair(165.0), own_sheet())[0]
    # where parallels of a 165 degree corner meet; squared off, the line would run out 39 mm
    assert np.linalg.norm(one.cutting, axis=1).min() == pytest.approx(
        10.0 / np.cos(np.deg2rad(7.5)), abs=1e-6)


# -- darts ------------------------------------------------------------------------------------


def test_a_dart_folded_shut_gives_a_cutting_line_without_a_step():
    """The fan's cap is a circle about one centre once its darts are closed, so the cutting line
    folded shut must be the larger circle, through every layer."""
    piece = finished(fan(dart_deg=14.0))
    for dart in piece.darts:
        near, far = dart.mouth
        tip = dart.point
        turn = -2 * np.arcsin(np.linalg.norm(far - near) / (2 * np.linalg.norm(near - tip)))
        radial = (near - tip) / np.linalg.norm(near - tip)
        centre = near - 60.0 * radial
        mouth = piece.cutting[np.linalg.norm(piece.cutting - near, axis=1) < 30.0]
        closed = [folded(p, near, far, tip, turn, dart.pressed) for p in mouth]
        if dart.pressed == "towards the front":
            centre = far - 60.0 * (far - tip) / np.linalg.norm(far - tip)
        radii = np.linalg.norm(np.array(closed) - centre, axis=1)
        assert len(closed) > 20
        middle, peak = 0.5 * (near + far) - tip, dart.fold[1] - tip
        assert peak @ [-middle[1], middle[0]] == pytest.approx(0.0, abs=0.1 * np.hypot(*middle))
        assert np.abs(radii - 70.0).max() < 0.1  # what the fit may stray


def folded(point, near, far, tip, turn, pressed):
    """Fold a point of the opened mouth as the maker does, onto the side the dart is pressed to."""
    side = near if pressed == "towards the back" else far
    turn = turn if pressed == "towards the back" else -turn
    cross = lambda a, b: a[0] * b[1] - a[1] * b[0]  # noqa: E731
    middle = 0.5 * (near + far) - tip
    sign = np.sign(cross(side - tip, middle))
    at = point - tip
    if sign * cross(side - tip, at) < 0:
        return point
    if sign * cross(middle, at) < 0:  # first half of the surplus: mirrored in the leg
        unit = (side - tip) / np.linalg.norm(side - tip)
        return tip + 2 * (at @ unit) * unit - at
    # second half, and the cloth beyond: turned about the point until the legs meet
    c, s = np.cos(turn), np.sin(turn)
    return tip + np.array([[c, -s], [s, c]]) @ at


def test_darts_are_pressed_towards_the_middle_of_the_cap():
    piece = finished(fan(dart_deg=14.0))
    pressed = {dart.name: dart.pressed for dart in piece.darts}
    # dart 2 of the hand-made cap lies towards the back, on the right of a left outer arm
    xs = {dart.name: dart.point[0] for dart in piece.darts}
    back = max(xs, key=xs.get)
    front = min(xs, key=xs.get)
    assert pressed == {back: "towards the front", front: "towards the back"}


def test_wide_darts_are_cut_out_along_their_legs():
    piece = finished(fan(dart_deg=60.0))
    for dart in piece.darts:
        assert dart.pressed == "open" and dart.fold is None
        leg = piece.sides[dart.side_indices[0]]
        middle = leg.points.mean(axis=0)
        assert boundary_distance(middle[None], piece.cutting)[0] == pytest.approx(10.0, abs=0.01)


def test_a_wide_dart_without_allowance_is_cut_out_along_its_legs():
    piece = finished(fan(dart_deg=40.0, dart_length=58.0), seam_allowance=0.0)
    assert [dart.pressed for dart in piece.darts] == ["open", "open"]
    # nothing is left of the wedge: the cutting line is the stitching line
    cutting, stitching = shapely.Polygon(piece.cutting), shapely.Polygon(piece.stitching)
    assert cutting.symmetric_difference(stitching).area < 5.0


# -- notches ----------------------------------------------------------------------------------


@pytest.mark.parametrize("allowance", [4.0, 10.0, 20.0])
def test_notches_lie_on_the_stitching_line_and_slits_end_inside_the_allowance(allowance):
    for piece in finish(made_arm(), own_sheet(seam_allowance=allowance)):
        if piece.material == "card":
            continue
        loop = piece.stitching
        for mark in piece.notches:
            side = piece.sides[mark.side_index]
            line = shapely.LineString(side.points)
            assert shapely.distance(shapely.Point(mark.at), line) < 0.01
            for outer, inner in mark.slits:
                assert boundary_distance(outer[None], piece.cutting)[0] < 1e-6
                depth = np.linalg.norm(outer - inner)
                assert depth == pytest.approx(min(5.0, allowance / 2))
                assert boundary_distance(inner[None], loop)[0] >= 0.4 * side.allowance


def test_single_notches_have_one_slit_and_double_ones_two_slits_6_mm_apart():
    outer = finish(made_arm(), own_sheet())[0]
    by_seam = {}
    for mark in outer.notches:
        by_seam.setdefault(outer.sides[mark.side_index].seam, set()).add(len(mark.slits))
        if len(mark.slits) == 2:
            gap = np.linalg.norm(mark.slits[0, 0] - mark.slits[1, 0])
            assert 5.0 < gap < 7.5  # on a curve the cutting line is a little longer or shorter
    assert by_seam["front seam"] == {1} and by_seam["back seam"] == {2}


def test_a_double_notch_at_the_end_of_a_seam_moves_inwards_as_a_pair():
    piece = replace(square(100.0), notches=(Notch("back", 0, 0.0, 2),))
    mark = finished(piece).notches[0]
    assert np.allclose(np.sort(mark.slits[:, 0, 0]), [0.0, 6.0])


@pytest.mark.parametrize("along", np.linspace(1.0, 150.0, 30))
def test_a_notch_points_to_the_middle_of_a_round_piece_wherever_it_lies(along):
    """Not as the chord beside it, whose direction leaps where two chords meet."""
    cloth = finished(replace(disk(50.0, "wrist base"), notches=(Notch("front", 0, along),)))
    for made in (cloth, card_insert(cloth)):
        outer, inner = made.notches[0].slits[0]
        off = turn_between(outer - inner, outer)  # the middle lies at 0, 0
        assert abs(np.degrees(off)) < 0.5  # the line is fitted within a tenth of a millimetre
        assert boundary_distance(outer[None], made.cutting)[0] < 0.02


# -- labels, copies, card ---------------------------------------------------------------------


def test_a_label_says_what_the_maker_must_know():
    sheet = own_sheet()
    outer = finish(made_arm(), sheet, arm="both", version="1.2.3")[0]
    text = "\n".join(outer.label)
    for part in ("OUTER", "cut 2, one of them mirrored", "both arms", sheet.cloth.name,
                 "seam allowance 10 mm", sheet.owner, sheet.date, "unroll 1.2.3"):
        assert part in text


def test_an_allowance_in_inches_is_said_in_inches_first():
    sheet = replace(own_sheet(seam_allowance=9.525, seam_allowances={"cap seam": 12.7}), unit="in")
    label = finish(made_arm(), sheet)[0].label
    assert "seam allowance 3/8 in (9.5 mm); cap seam 1/2 in (12.7 mm)" in label


def test_two_arms_double_the_copies_and_the_shoulder_extension_is_cut_twice():
    pieces = [*made_arm(), disk(40.0, "shoulder extension", "free edge")]
    one = {p.title: (p.cut_as_drawn, p.cut_turned_over) for p in finish(pieces, own_sheet())}
    two = {
        p.title: (p.cut_as_drawn, p.cut_turned_over)
        for p in finish(pieces, own_sheet(), arm="both")
    }
    assert one["outer"] == (1, 0) and one["shoulder extension"] == (1, 1)
    assert two["outer"] == (1, 1) and two["shoulder extension"] == (2, 2)
    assert two["armhole base, card"] == (1, 1)


def test_a_card_insert_is_smaller_by_the_turn_of_cloth_all_round():
    piece = finished(disk(50.0, "wrist base"))
    card = card_insert(piece, turn=2.0)
    assert signed_area(card.cutting) == pytest.approx(np.pi * 48.0**2, rel=4e-3)
    assert card.material == "card"
    with pytest.raises(UnrollError, match="turn of cloth is -1 mm"):
        card_insert(piece, turn=-1.0)


def test_ends_of_cloth_need_no_card():
    sheet = own_sheet()
    soft = replace(sheet, cloth=replace(sheet.cloth, ends="cloth"))
    assert all(p.material == "cloth" for p in finish(made_arm(), soft))


def test_the_best_pieces_are_the_corrected_ones_completed_from_the_draft():
    outer, inner, base, *rest = made_arm()
    by_source = {
        "unrolled": (replace(outer, source="unrolled"),),
        "corrected": (replace(outer, source="corrected"),),
        "drafted-darts": (outer, inner, base, *rest),
    }
    chosen = {p.name: p.source for p in best_pieces(by_source, cap="darts")}
    assert chosen["outer"] == "corrected" and chosen["inner"] == "drafted-darts"
    asked = best_pieces(by_source, cap="darts", source="unrolled")
    assert asked[0].source == "unrolled"
    with pytest.raises(UnrollError, match="no pieces of source drafted-ease; made here: unrolled"):
        best_pieces(by_source, cap="darts", source="drafted-ease")


# -- bad input --------------------------------------------------------------------------------


def hollow(radius):
    """A block with a half-round hollow in its upper edge."""
    outline = [
        ("bottom", np.array([[0, 0], [200, 0]])), ("right", np.array([[200, 0], [200, 100]])),
        ("cap seam", np.array([[200, 100], [100 + radius, 100]])),
        ("hollow", arc((100, 100), radius, 0, -180)),
        ("cap seam", np.array([[100 - radius, 100], [0, 100]])),
        ("left", np.array([[0, 100], [0, 0]])),
    ]
    return Piece("block", "drafted-darts", "left",
                 tuple(PieceSide(n, np.asarray(p, dtype=float)) for n, p in outline))


def within(piece, allowance):
    """The cutting line is simple, holds the stitching line, and is nowhere nearer than asked."""
    cutting, stitching = shapely.Polygon(piece.cutting), shapely.Polygon(piece.stitching)
    assert cutting.is_valid and cutting.buffer(1e-3).contains(stitching)
    # a tenth of a millimetre is what the fitted line may stray
    assert shapely.distance(cutting.exterior, stitching.exterior) > allowance - 0.11
    return cutting


def test_an_allowance_wider_than_a_hollow_is_cut_short_there_and_said():
    piece = finished(hollow(30.0), seam_allowance=40.0)
    cutting = within(piece, 40.0)
    # the hollow is filled but for what lies more than 40 mm from its edge: nothing
    assert cutting.contains(shapely.Point(100.0, 139.0))
    assert cutting.bounds == pytest.approx((-40.0, -40.0, 240.0, 140.0), abs=0.01)
    assert [r for r in piece.remarks if "hollow: there is no room for 40 mm" in r]
    assert finished(hollow(60.0), seam_allowance=40.0).remarks == ()


def test_a_tight_nick_of_few_degrees_is_cut_as_a_corner():
    points = np.vstack([arc((-5, 0), 200.0, 100.0, 90.0, 40), arc((5, 0), 200.0, 90.0, 80.0, 40)])
    points = points[:, [0, 1]] * [1, -1] + [0, 400]  # now it bends to the left, with one nick
    piece = Piece(
        "nicked", "drafted-darts", "left",
        (PieceSide("nicked", points), PieceSide("right", np.array([points[-1], [60.0, 300]])),
         PieceSide("top", np.array([[60.0, 300], [-60, 300]])),
         PieceSide("left", np.array([[-60.0, 300], points[0]]))),
    )
    line = finished(piece).cutting
    assert shapely.Polygon(line).is_valid


def test_the_parallel_of_a_tight_bend_loses_its_loop():
    points, tangents = sample_cubics(fit_cubics(arc((0, 0), 5.0, 150.0, 30.0, 40)))
    before = points[0] - np.outer(np.linspace(60, 1, 60), tangents[0])
    after = points[-1] + np.outer(np.linspace(1, 60, 60), tangents[-1])
    line = np.vstack([before, points, after])
    ahead = np.vstack([np.tile(tangents[0], (60, 1)), tangents, np.tile(tangents[-1], (60, 1))])
    radius, turn = tightest_hollow(line, ahead)
    assert radius == pytest.approx(5.0, abs=0.5) and np.rad2deg(turn) == pytest.approx(120, abs=3)
    moved = parallel_right(line, ahead, 12.0)
    assert shapely.LineString(moved).is_simple
    away = shapely.distance(shapely.points(moved), shapely.LineString(line))
    assert away.min() > 12.0 - 5e-3


@pytest.mark.parametrize(
    ("piece", "allowance"),
    [(fan(dart_deg=14.0), 10.0), (fan(dart_deg=60.0), 10.0), (hollow(30.0), 40.0)],
    ids=["darts folded", "darts cut out", "no room in a hollow"],
)  # fmt: skip
def test_a_piece_lying_askew_is_cut_along_the_same_line(piece, allowance):
    sides, angle_deg = finished(piece, seam_allowance=allowance).sides, 130.0
    origin = np.zeros(2)
    askew = [replace(side, points=turned(side.points, angle_deg, origin),
                     tangents=turned(side.tangents, angle_deg, origin)) for side in sides]
    found, wanted = cutting_line(askew), cutting_line(sides)
    assert found.clipped == wanted.clipped
    back = shapely.LinearRing(turned(found.line, -angle_deg, origin))
    # round tips are drawn as polygons: 16 chords to a quarter of 40 mm lose 0.05 mm
    assert back.hausdorff_distance(shapely.LinearRing(wanted.line)) < 0.06


def test_a_slot_too_narrow_for_its_allowances_is_not_cut_open():
    outline = np.array(
        [[0, 0], [200, 0], [200, 100], [104, 100], [104, 60], [96, 60], [96, 100], [0, 100],
         [0, 0]],
        dtype=float,
    )
    piece = Piece("slotted", "drafted-darts", "left",
                  tuple(PieceSide(f"edge {i}", outline[i : i + 2]) for i in range(8)))
    piece = finished(piece, seam_allowance=10.0)
    # the slot is 8 mm wide and 40 mm deep: its allowances cover it
    assert within(piece, 10.0).contains(shapely.Point(100.0, 62.0))
    assert any("edge 4: there is no room for 10 mm" in remark for remark in piece.remarks)


def test_a_cutting_line_that_would_cross_itself_runs_round_the_whole():
    ring = np.vstack([arc((0, 0), 60.0, 10.0, 350.0), arc((0, 0), 40.0, 350.0, 10.0)])
    loop = np.vstack([ring, ring[:1]])
    piece = Piece("ring", "drafted-darts", "left",
                  (PieceSide("outside", loop[:60]), PieceSide("cut", loop[59:61]),
                   PieceSide("inside", loop[60:120]), PieceSide("cut", loop[119:121])))
    cutting = within(finished(piece, seam_allowance=12.0), 12.0)
    # the gap of the ring is 14 mm wide inside, 21 mm outside: closed by its allowances
    assert cutting.area == pytest.approx(np.pi * 72.0**2, rel=0.01)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        ({"seam_allowance": -3.0}, "seam allowance on every seam is -3 mm; expected 0 to 100"),
        ({"seam_allowances": {"cap seam": 300.0}}, "allowance on cap seam is 300 mm"),
        ({"seam_allowances": {"hem": 10.0}}, 'seam_allowances names "hem"; the seams are cap seam'),
    ],
)
def test_an_allowance_that_cannot_be_meant_is_refused(make, message):
    with pytest.raises(UnrollError, match=message):
        finish(made_arm(), own_sheet(**make))


def test_the_right_arm_is_the_left_one_in_the_mirror():
    left = finish(made_arm(), own_sheet())
    right = finish([mirrored(piece, "right") for piece in made_arm()], own_sheet())
    for one, two in zip(left, right, strict=True):
        image = shapely.Polygon(two.cutting * [-1, 1])
        # fits start at the other end; each may stray by 0.1 mm from the line, so two by 0.2
        assert image.hausdorff_distance(shapely.Polygon(one.cutting)) < 0.2
        assert two.arm == "right" and "right arm" in two.label[2]
    # in the mirror a dart that was pressed to the front still is
    pressed = [{d.name: d.pressed for d in arm[0].darts} for arm in (left, right)]
    assert pressed[0] == pressed[1]
