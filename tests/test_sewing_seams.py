"""Which sides are sewn together, and what cannot be sewn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.sewn_shapes import circle, even_cloth, piece, tube, two_discs, two_squares
from unroll.errors import UnrollError
from unroll.maths.polylines import sharp_corners
from unroll.nouns import Cloth, Notch, Piece, Run, Seam
from unroll.sewn.joining import check_closed, match_seam
from unroll.sewn.seams import usual_seams
from unroll.sewn.sewing import sew

CLOTH = even_cloth()


def refused(*pieces: Piece, seams: tuple[Seam, ...] | None = None, cloth: Cloth = CLOTH) -> str:
    with pytest.raises(UnrollError) as caught:
        sew(pieces, cloth=cloth, seams=seams, spacing=20.0)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_an_open_seam_is_refused() -> None:
    body, armhole, _ = tube(250.0, 400.0)
    assert "seam 'bottom' of body is open" in refused(body, armhole)


def test_a_side_that_no_seam_names_is_refused() -> None:
    pieces = tube(250.0, 400.0)
    seams = tuple(seam for seam in usual_seams(pieces) if seam.name != "top")
    assert "side 2 ('top', 250 mm) of body is sewn to nothing" in refused(*pieces, seams=seams)


def test_a_side_in_two_seams_is_refused() -> None:
    front, back = two_discs()
    seams = usual_seams((front, back))
    assert "side 0 ('rim') of front is in 2 seams" in refused(front, back, seams=seams * 2)


def test_a_seam_of_a_piece_that_is_not_there_is_refused() -> None:
    front, back = two_discs()
    seams = (Seam("rim", (Run("front", 0),), (Run("sleeve", 0),)),)
    assert "names the piece 'sleeve'; there are front, back" in refused(front, back, seams=seams)


def test_a_seam_of_a_side_that_is_not_there_is_refused() -> None:
    front, back = two_discs()
    seams = (Seam("rim", (Run("front", 0),), (Run("back", 3),)),)
    assert "names side 3 of back; its sides are 0 to 0" in refused(front, back, seams=seams)


def test_a_name_on_three_pieces_is_refused() -> None:
    front, back = two_discs()
    third = piece("third", ("rim", circle(100.0)))
    assert "seam 'rim' is on 3 pieces (front, back, third)" in refused(front, back, third)


def test_a_name_on_three_sides_of_one_piece_is_refused() -> None:
    body = two_squares()[0]
    sides = tuple(replace(side, seam="hem") for side in body.sides[:3])
    odd = replace(body, sides=(*sides, body.sides[3]))
    assert "seam 'hem' is 3 sides of front" in refused(odd)


def test_two_pieces_of_one_name_are_refused() -> None:
    front, back = two_discs()
    message = refused(front, replace(back, name="front"), seams=())
    assert "'front' names more than one piece" in message


def test_a_piece_that_overlaps_itself_is_refused() -> None:
    bow = np.array([[0, 0], [100, 100], [100, 0], [0, 100], [0, 0.0]])
    front = piece("front", ("rim", bow))
    message = refused(front, piece("back", ("rim", circle(77.0))))
    assert "front: the outline crosses itself near 50 mm across, 50 mm up" in message


def test_a_piece_that_runs_clockwise_is_refused() -> None:
    front, back = two_discs()
    turned = piece("front", ("rim", circle(100.0)[::-1]))
    assert "front: the outline's area is -314.2 cm²" in refused(turned, back)


def test_an_outline_with_a_gap_is_refused() -> None:
    front, back = two_squares()
    moved = replace(front.sides[1], points=front.sides[1].points + [3.0, 0.0])
    gapped = replace(front, sides=(front.sides[0], moved, *front.sides[2:]))
    assert "the outline is open by 3.0 mm after 'south'" in refused(gapped, back)


def test_ends_that_do_not_fit_are_refused() -> None:
    body, armhole, _ = tube(250.0, 400.0)
    wide = piece("wrist base", ("bottom", circle(1.2 * 250.0 / (2 * np.pi))))
    message = refused(body, armhole, wide)
    assert "seam 'bottom': body is 250 mm long and wrist base 300 mm, 20 % apart" in message


@pytest.mark.parametrize("name", ["pressure_kpa", "stretch_percent", "bias_stretch_percent"])
def test_without_pressure_or_give_there_is_no_shape(name: str) -> None:
    message = refused(*two_discs(), cloth=replace(CLOTH, **{name: 0.0}))
    assert f"{name} is 0; expected more than 0" in message


def test_a_piece_smaller_than_the_mesh_is_refused() -> None:
    corner = 4 * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0.0]])
    patch = piece("patch", ("x", corner[:3]), ("x", corner[2:]))
    assert "patch is too small or too thin for a mesh of 20 mm" in refused(patch)
    assert sew([patch], cloth=CLOTH, spacing=2.0).converged


def test_a_pointed_cone_can_be_sewn() -> None:
    """A quarter of a disc sewn to a cone, its tip a corner of a few triangles."""
    turn = np.linspace(0, np.pi / 2, 50)[:, None]
    arc = 120.0 * np.concatenate([np.cos(turn), np.sin(turn)], axis=1)
    tip = np.zeros(2)
    cone = piece(
        "cone", ("side", np.array([tip, arc[0]])), ("rim", arc), ("side", np.array([arc[-1], tip]))
    )
    base = piece("wrist base", ("rim", circle(30.0)))
    sewn = sew([cone, base], cloth=CLOTH, spacing=9.0)
    # A quarter of a disc of 120 mm makes a cone of radius 30 mm and slant 120 mm.
    height = np.sqrt(120.0**2 - 30.0**2)
    assert sewn.volume == pytest.approx(np.pi * 30.0**2 * height / 3, rel=0.02)


def test_faces_that_do_not_close_are_refused() -> None:
    for faces in ([[0, 1, 2]], [[0, 1, 2], [0, 1, 3]]):
        with pytest.raises(UnrollError, match="do not close to one surface"):
            check_closed(np.array(faces))


def test_a_cap_seam_broken_by_darts_is_one_chain_in_outline_order() -> None:
    """The chain begins after the last side that is sewn elsewhere, wherever the outline starts."""
    corner = np.array(
        [[100, 0], [100, 100], [60, 100], [50, 60], [40, 100], [0, 100], [0, 0], [100, 0.0]]
    )
    names = ["right", "cap seam", "dart 1", "dart 1", "cap seam", "left", "hem"]
    for first in range(7):
        order = [(first + k) % 7 for k in range(7)]
        outer = piece("outer", *((names[k], corner[k : k + 2]) for k in order))
        base = piece("base", ("cap seam", np.array([[0, 0], [80, 0.0]])))
        (seam,) = (s for s in usual_seams((outer, base, *_rest())) if s.name == "cap seam")
        assert [outer.sides[run.side_index].points[0, 0] for run in seam.first] == [100.0, 40.0]
        assert seam.second == (Run("base", 0),)


def _rest() -> tuple[Piece, ...]:
    line = np.array([[0, 0], [100, 0.0]])
    return (piece("rest", ("right", line), ("left", line), ("hem", line)),)


def test_ease_spreads_between_notches() -> None:
    """Stitches lie at equal shares of length from notch to notch on both sides."""
    long = piece("long", ("s", np.array([[0, 0], [120, 0.0]])), notches=(Notch("front", 0, 70.0),))
    short = piece(
        "short", ("s", np.array([[0, 0], [100, 0.0]])), notches=(Notch("front", 0, 50.0),)
    )
    seam = Seam("s", (Run("long", 0),), (Run("short", 0),))
    match = match_seam(seam, {"long": long, "short": short}, 10.0)
    steps = np.stack([np.diff(match.first), -np.diff(match.second)], axis=1)
    assert match.second[np.isclose(match.first, 70.0)] == pytest.approx([50.0])
    assert np.allclose(steps[:7], [10.0, 50 / 7]) and np.allclose(steps[7:], [10.0, 10.0])


def test_a_corner_of_one_side_is_stitched_to_the_same_share_of_the_other() -> None:
    chain = piece(
        "chain", ("s", np.array([[0, 0], [30, 0.0]])), ("s", np.array([[30, 0], [90, 0.0]]))
    )
    plain = piece("plain", ("s", np.array([[0, 0], [60, 0.0]])))
    seam = Seam("s", (Run("chain", 0), Run("chain", 1)), (Run("plain", 0),))
    match = match_seam(seam, {"chain": chain, "plain": plain}, 25.0)
    assert match.second[np.isclose(match.first, 30.0)] == pytest.approx([40.0])


def bent(step: float, turn_deg: float = 41.0) -> np.ndarray:
    """50 mm, a corner, 70 mm: sampled every `step` mm."""
    turn = np.radians(turn_deg)
    corner, end = np.array([50.0, 0.0]), 70.0 * np.array([np.cos(turn), np.sin(turn)])
    one, two = (np.arange(0.0, length, step)[:, None] for length in (50.0, 70.0))
    return np.concatenate([one * [1.0, 0.0], corner + two / 70.0 * end, [corner + end]])


def matched(first: np.ndarray, second: np.ndarray, spacing: float) -> np.ndarray:
    """Stitches of two sides, (k, 2): distances along the first and, from its end, the second."""
    by_name = {"one": piece("one", ("s", first)), "two": piece("two", ("s", second))}
    match = match_seam(Seam("s", (Run("one", 0),), (Run("two", 0),)), by_name, spacing)
    return np.stack([match.first, by_name["two"].sides[0].length - match.second], axis=1)


@pytest.mark.parametrize("spacing", [6.0, 9.0, 11.0, 12.0, 13.0, 40.0])
@pytest.mark.parametrize("step", [0.25, 4.0, 14.0, 70.0])
def test_a_sharp_corner_within_a_side_has_a_stitch_on_both_sides(
    step: float, spacing: float
) -> None:
    """However the side is sampled, on whichever side it is, and however many stitches there are."""
    straight = np.array([[0, 0], [60, 0.0]])
    for pairs in (
        matched(bent(step), straight, spacing),
        matched(straight, bent(step)[::-1], spacing)[:, ::-1],
    ):
        at = np.abs(pairs[:, 0] - 50.0).argmin()
        assert pairs[at] == pytest.approx([50.0, 25.0], abs=1e-9)


def test_two_sharp_corners_that_almost_meet_are_stitched_to_each_other() -> None:
    later = bent(1.0) * 1.03
    pairs = matched(bent(1.0), later[::-1], 12.0)
    # Turned over, the other side's corner lies 72.1 mm from its start, 51.5 mm from its end.
    assert pairs[np.isclose(pairs[:, 0], 50.0), 1] == pytest.approx([51.5])
    apart = matched(bent(1.0), np.concatenate([bent(1.0) + [3.0, 0.0], [[0.0, 0.0]]])[::-1], 13.0)
    assert apart.shape[0] > 2 and (np.diff(apart, axis=0) > 0).all()


def test_an_even_bend_has_no_more_stitches_than_a_straight_side() -> None:
    for radius, count in ((30.0, 720), (30.0, 60), (12.0, 720)):
        bend = circle(radius, count)[: count // 2 + 1]
        length = np.linalg.norm(np.diff(bend, axis=0), axis=1).sum()
        straight = np.array([[0, 0], [length, 0.0]])
        assert matched(bend, straight, 11.0) == pytest.approx(matched(straight, straight, 11.0))


def test_a_sharp_corner_is_found_in_rough_lines_and_rounded_ones_and_nowhere_else() -> None:
    rng = np.random.default_rng(5)
    rough = bent(0.1, turn_deg=35.0)
    rough += 0.02 * rng.normal(size=rough.shape)  # single edges turn by tens of degrees
    at, turn = sharp_corners(rough)
    # The line's own length is that of its zigzag.
    there = np.interp(at, np.cumsum(np.hypot(*np.diff(rough, axis=0).T)), rough[1:, 0])
    assert there == pytest.approx([50.0], abs=0.5) and turn == pytest.approx([35.0], abs=4.0)
    angle = np.radians(np.arange(0.0, 61.0, 2.0))[:, None]
    arc = 1.5 * np.concatenate([np.sin(angle), 1 - np.cos(angle)], axis=1)
    on = arc[-1] + 40 * np.array([0.5, np.sqrt(0.75)])
    at, turn = sharp_corners(np.concatenate([[[-40.0, 0.0]], arc, [on]]))
    assert at == pytest.approx([40.0 + 0.5 * 1.5 * np.pi / 3], abs=0.05) and 35.0 < turn[0] < 60.0


def test_every_end_of_a_side_has_a_stitch_whatever_corners_lie_about_it() -> None:
    """Chains of random zigzag sides, sewn together: nothing runs backwards, no end is lost."""
    rng = np.random.default_rng(4)
    for spacing in (4.0, 9.0, 30.0) * 20:
        pieces = [zigzag(name, rng) for name in ("one", "two")]
        runs = [tuple(Run(p.name, k) for k in range(len(p.sides))) for p in pieces]
        match = match_seam(Seam("s", *runs), {p.name: p for p in pieces}, spacing)
        for one, stops in zip(pieces, (match.first, match.second[::-1])):
            assert (np.diff(stops) > 0).all()
            ends = np.cumsum([0.0, *(side.length for side in one.sides)])
            assert np.abs(stops[:, None] - ends).min(axis=0).max() < 1e-9


def zigzag(name: str, rng: np.random.Generator) -> Piece:
    """A piece of three sides of random corners."""
    points = np.cumsum(rng.random((13, 2)) * [20.0, 16.0] - [0.0, 8.0], axis=0)
    return piece(name, *(("s", points[k : k + 5]) for k in (0, 4, 8)))


@pytest.mark.parametrize("spacing", [22.0, 29.0])
def test_corners_within_a_side_are_sewn_as_corners_between_sides_are(spacing: float) -> None:
    """Two squares whose rim is one side each, of three inner corners, give the squares' cushion."""
    corner = 100 * np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0.0]])
    one_side = piece("front", ("rim", corner)), piece("back", ("rim", corner))
    cushion = sew(one_side, cloth=CLOTH, spacing=spacing)
    assert cushion.volume == pytest.approx(
        # Meshes of one outline that begin at another corner differ by 0.25 %; a cut one by 0.8 %.
        sew(two_squares(), cloth=CLOTH, spacing=spacing).volume,
        rel=4e-3,
    )


def test_gathers_are_reported_where_a_long_side_meets_a_short_one() -> None:
    front, back = two_discs(100.0)
    wide = piece("front", ("rim", circle(112.0)))
    seams = {s.name: s for s in sew((wide, back), cloth=CLOTH, spacing=12.0).seams}
    assert seams["rim"].ease_percent == pytest.approx(12.0, abs=0.1)
    assert seams["rim"].gathered_percent > 10.0 and seams["rim"].puckers
    body = {s.name: s for s in sew(tube(250.0, 400.0), cloth=CLOTH, spacing=16.0).seams}
    assert body["side"].gathered_percent < 0.5 and not body["side"].puckers
