"""Walking seams: hand-made lines whose lengths are known, then drafts of any plausible sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.own_pieces import made_arm
from tests.strategies import arm_measures
from unroll.drafts.drafting import draft
from unroll.finish.notching import place_notches
from unroll.finish.walking import closed_cap, judge, kinks_deg, walk
from unroll.maths.arrays import FloatArray
from unroll.nouns import Cloth, Make, Notch, Piece, PieceSide, WalkedSeam, WalkedStretch
from unroll.nouns.seam import chain_of, seams_of, sewing_order

COTTON = Cloth()
WOOL = Cloth(name="wool", eases_percent=(8.0, 10.0))


def strip(name: str, length: float, *, top: str, side: str, bottom: str, back: str) -> Piece:
    """A strip 100 mm wide; its sides, anticlockwise from the top right corner."""
    corners = np.array([[100.0, 0.0], [0.0, 0.0], [0.0, -length], [100.0, -length], [100.0, 0.0]])
    sides = tuple(
        PieceSide(seam, corners[k : k + 2]) for k, seam in enumerate((top, side, bottom, back))
    )
    return Piece(name, "unrolled", "left", sides)


def two_strips(outer: float, inner: float) -> tuple[Piece, ...]:
    """An outer and an inner strip, joined along front and back."""
    return (
        strip("outer", outer, top="cap seam", side="front seam", bottom="outer wrist",
              back="back seam"),
        strip("inner", inner, top="underarm seam", side="back seam", bottom="inner wrist",
              back="front seam"),
    )


def cap_on_armhole(cap: float, armhole: float) -> tuple[Piece, ...]:
    """An outer and an armhole base that share nothing but a straight cap seam."""
    outer = Piece("outer", "drafted-ease", "left", (
        PieceSide("cap seam", np.array([[cap, 0.0], [0.0, 0.0]])),
        PieceSide("rest", np.array([[0.0, 0.0], [0.0, -9.0], [cap, -9.0], [cap, 0.0]])),
    ))
    base = Piece("armhole base", "drafted-ease", "left", (
        PieceSide("cap seam", np.array([[armhole, 0.0], [0.0, 0.0]])),
        PieceSide("underarm seam", np.array([[0.0, 0.0], [0.0, -9.0], [armhole, -9.0],
                                             [armhole, 0.0]])),
    ), notches=(Notch("shoulder", 0, 0.4 * armhole),))
    return outer, base


def by_name(seams: tuple[WalkedSeam, ...]) -> dict[str, WalkedSeam]:
    return {seam.name: seam for seam in seams}


@pytest.mark.parametrize(
    ("difference", "verdict"),
    # common practice, no source: within 1/16 in (1.5 mm) good, within 1/8 in (3 mm) usable
    [(0.0, "good"), (1.4, "good"), (-1.4, "good"), (1.6, "usable"), (-2.9, "usable"),
     (3.1, "wrong"), (-5.0, "wrong")],
)
def test_a_front_seam_is_good_usable_or_wrong(difference: float, verdict: str) -> None:
    seam = by_name(walk(two_strips(400.0 + difference, 400.0), cloth=COTTON))["front seam"]
    assert seam.lengths_mm == pytest.approx((400.0 + difference, 400.0))
    assert seam.difference_mm == pytest.approx(difference)
    assert seam.verdict == verdict
    if verdict == "wrong":
        longer = "outer" if difference > 0 else "inner"
        assert f"the {longer}'s line is {abs(difference):.1f} mm longer" in seam.text


@pytest.mark.parametrize(
    ("percent", "cloth", "verdict"),
    # common practice, no source: plain cotton eases in 3 to 5 %, wool 8 to 10 %
    [(4.0, COTTON, "ease in"), (6.0, COTTON, "wrong"), (6.0, WOOL, "ease in"),
     (13.7, COTTON, "wrong"), (13.7, WOOL, "wrong"), (-4.0, COTTON, "wrong")],
)
def test_cap_ease_is_judged_by_what_the_cloth_eases_in(
    percent: float, cloth: Cloth, verdict: str
) -> None:
    pieces = cap_on_armhole(185.65 * (1 + percent / 100), 185.65)
    seam = by_name(walk(pieces, cloth=cloth))["cap seam"]
    assert seam.ease_percent == pytest.approx(percent)
    assert seam.verdict == verdict


def test_a_cap_too_long_is_told_how_much_darts_would_take_in() -> None:
    # a 25.4 mm ease on half of 371.3 mm: 13.7 %; cotton eases 5 % of 185.65, 9.3 mm; 16 are left
    seam = by_name(walk(cap_on_armhole(185.65 + 25.4, 185.65), cloth=COTTON))["cap seam"]
    assert "13.7 %" in seam.text and "(9 mm)" in seam.text
    assert "take in 16 mm with darts" in seam.text


def test_the_shoulder_notch_shares_the_ease_as_the_two_halves_do() -> None:
    pieces = place_notches(cap_on_armhole(210.0, 200.0))
    outer = pieces[0]
    assert [n.name for n in outer.notches] == ["shoulder"]
    # the base's notch lies 80 mm from its start, 120 from the seam's other end; 5 % on each
    stretches = by_name(walk(pieces, cloth=COTTON))["cap seam"].stretches
    assert [s.lengths_mm for s in stretches] == [
        pytest.approx((126.0, 120.0)), pytest.approx((84.0, 80.0))
    ]


def with_lines(piece: Piece, length: float) -> Piece:
    """Mark upper arm, elbow and forearm lines across a strip."""
    return Piece(piece.name, piece.source, piece.arm, piece.sides, {
        f"{name} line": np.array([[0.0, -at * length], [100.0, -at * length]])
        for name, at in (("upper arm", 0.25), ("elbow", 0.5), ("forearm", 0.625))
    })


def test_back_seam_ease_lies_between_upper_arm_and_forearm_notches() -> None:
    pieces = tuple(with_lines(p, 400.0) for p in two_strips(406.0, 400.0))
    seams = by_name(walk(place_notches(pieces), cloth=COTTON))
    for name in ("front seam", "back seam"):
        rows = {frozenset((s.start, s.end)): s for s in seams[name].stretches}
        assert len(rows) == 4
        by_length = sorted(rows.values(), key=lambda s: s.lengths_mm[1])
        # 50, 100 (above the upper arm), 100, 150 (below the forearm) on the inner
        outside = [s for s in by_length if "start" in (s.start, s.end) or "end" in (s.start, s.end)]
        assert all(abs(s.difference_mm) < 1e-9 for s in outside)
        assert sum(s.difference_mm for s in by_length) == pytest.approx(6.0)
    assert seams["back seam"].verdict == "ease in"
    # 6 mm in the 150 mm between the notches
    assert "ease in 6.0 mm (4.0 %)" in seams["back seam"].text
    assert seams["front seam"].verdict == "wrong"
    marks = {n.marks for p in place_notches(pieces) for n in p.notches
             if p.sides[n.side_index].seam == "back seam"}
    assert marks == {2}


@pytest.mark.parametrize(("off", "longer"), [(6.0, "outer"), (-6.0, "inner")])
def test_a_difference_is_told_between_the_notches_where_it_lies(off, longer) -> None:
    stretches = (
        WalkedStretch("start", "elbow", (200.0, 200.0)),
        WalkedStretch("elbow", "forearm", (50.0 + off, 50.0)),
        WalkedStretch("forearm", "end", (150.0, 150.0)),
    )
    verdict, text = judge(
        "front seam", ("outer", "inner"), (400.0 + off, 400.0), stretches, COTTON
    )
    assert verdict == "wrong" and f"the {longer}'s line is 6.0 mm longer" in text
    assert " between elbow and forearm; shorten it there" in text


def test_too_much_back_ease_asks_for_a_dart_at_the_elbow() -> None:
    pieces = tuple(with_lines(p, 400.0) for p in two_strips(420.0, 400.0))
    seam = by_name(walk(place_notches(pieces), cloth=COTTON))["back seam"]
    assert seam.verdict == "wrong"
    assert "take in 12 mm with a dart at the elbow" in seam.text  # 20 less 5 % of 150


def test_square_corners_meet_and_a_slanting_wrist_is_called_a_peak() -> None:
    pieces = two_strips(400.0, 400.0)
    kinks = kinks_deg(walk(pieces, cloth=COTTON))
    assert len(kinks) == 4 and np.allclose(list(kinks.values()), 0.0)
    slanted = np.array([[0.0, 0.0], [0.0, -400.0], [100.0, -400.0 + 100 * np.tan(np.radians(12))]])
    outer = pieces[0]
    sides = (
        outer.sides[0],
        PieceSide("front seam", slanted[:2]),
        PieceSide("outer wrist", slanted[1:]),
        PieceSide("back seam", np.array([slanted[2], [100.0, 0.0]])),
    )
    seams = walk((Piece("outer", "unrolled", "left", sides), pieces[1]), cloth=COTTON)
    kinks = kinks_deg(seams)
    assert kinks["front seam, wrist end"] == pytest.approx(12.0, abs=1e-6)
    front = by_name(seams)["front seam"]
    assert front.verdict == "usable" and "true the 12° peak at the wrist end" in front.text


def darted_cap(intake: float, length: float, *, is_trued: bool) -> Piece:
    """A straight cap with one straight dart; trued, both parts meet its legs squarely."""
    half = np.arcsin(0.5 * intake / length)
    left = np.array([-0.5 * intake, 0.0])
    right = left * np.array([-1.0, 1.0])
    point = np.array([0.0, -np.sqrt(length**2 - (0.5 * intake) ** 2)])
    lean = half if is_trued else 0.0
    far = right + 60.0 * np.array([np.cos(lean), -np.sin(lean)])
    near = far * np.array([-1.0, 1.0])
    lower = np.array([[near[0], -200.0], [far[0], -200.0]])
    runs = (
        ("cap seam", [far, right]), ("dart 1", [right, point]), ("dart 1", [point, left]),
        ("cap seam", [left, near]), ("front seam", [near, lower[0]]),
        ("outer wrist", [lower[0], lower[1]]), ("back seam", [lower[1], far]),
    )
    return Piece("outer", "drafted-darts", "left",
                 tuple(PieceSide(seam, np.array(points)) for seam, points in runs))


def turn_between(line: FloatArray) -> float:
    step = np.diff(line, axis=0)
    angle = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    return float(np.degrees(angle[-1] - angle[0]))


def test_closing_a_dart_turns_the_cap_by_the_darts_angle() -> None:
    # 2 asin(w / 2l): 12.7 over 63.5 takes 11.48 degrees out (elementary)
    line = closed_cap(darted_cap(12.7, 63.5, is_trued=False))
    assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() == pytest.approx(120.0)
    assert abs(turn_between(line)) == pytest.approx(11.48, abs=0.005)


def test_a_trued_dart_closes_to_a_smooth_cap() -> None:
    piece = darted_cap(12.7, 63.5, is_trued=True)
    assert turn_between(closed_cap(piece)) == pytest.approx(0.0, abs=1e-9)
    kink = kinks_deg(walk((piece,), cloth=COTTON))
    assert kink["dart 1, cap seam"] == pytest.approx(0.0, abs=1e-9)


def test_legs_of_unequal_length_are_wrong() -> None:
    piece = darted_cap(12.7, 63.5, is_trued=False)
    sides = list(piece.sides)
    point = sides[1].points[1] + np.array([5.0, 0.0])
    sides[1] = PieceSide("dart 1", np.array([sides[1].points[0], point]))
    sides[2] = PieceSide("dart 1", np.array([point, sides[2].points[1]]))
    # 5 mm sideways of a 63.5 mm dart 12.7 wide: legs differ by about 2 * 5 * 6.35 / 63.5 = 1 mm
    bent = Piece("outer", "drafted-darts", "left", tuple(sides))
    walked = by_name(walk((bent,), cloth=COTTON))["dart 1"]
    assert walked.difference_mm == pytest.approx(-1.0, abs=0.02)
    far = np.array([40.0, point[1]])
    sides[1] = PieceSide("dart 1", np.array([sides[1].points[0], far]))
    sides[2] = PieceSide("dart 1", np.array([far, sides[2].points[1]]))
    wrong = by_name(walk((Piece("outer", "drafted-darts", "left", tuple(sides)),), cloth=COTTON))
    assert wrong["dart 1"].verdict == "wrong" and "move the dart point" in wrong["dart 1"].text


def test_a_seam_without_a_partner_is_left_out() -> None:
    outer, _ = two_strips(400.0, 400.0)
    assert walk((outer,), cloth=COTTON) == ()


def test_a_row_for_the_report_carries_lengths_and_verdict() -> None:
    seam = by_name(walk(two_strips(404.0, 400.0), cloth=COTTON))["front seam"]
    assert seam.row.mismatch_mm == pytest.approx(4.0)
    assert seam.row.ease_percent == pytest.approx(1.0)
    assert seam.row.verdict == seam.text and seam.row.source == "unrolled"


@settings(max_examples=8)
@given(arm_measures(), st.sampled_from(["ease", "darts"]), st.sampled_from(["left", "right"]))
def test_seams_of_any_plausible_sheet_walk_or_are_called_out(
    measures: object, manner: str, side: str
) -> None:
    measures = replace(measures, side=side)  # type: ignore[type-var]
    pieces = place_notches(draft(measures, Make(), manner=manner))  # type: ignore[arg-type]
    seams = by_name(walk(pieces, cloth=COTTON))
    assert {"cap seam", "underarm seam", "front seam", "back seam", "outer wrist", "inner wrist",
            "shoulder extension seam"} <= set(seams)
    for seam in seams.values():
        assert (seam.verdict == "good") == (abs(seam.difference_mm) <= 1.5)  # no kinks below
        one = sum(s.lengths_mm[0] for s in seam.stretches)
        assert one == pytest.approx(seam.lengths_mm[0], abs=1e-6)
        for end in seam.ends:
            # tangents by a parabola through 8 mm of a curve of 30 mm radius: 2 degrees
            assert abs(end.kink_deg) < 2.5
    for name in ("underarm seam", "outer wrist", "inner wrist", "shoulder extension seam"):
        assert abs(seams[name].difference_mm) < 0.05
    if manner == "darts":
        assert abs(seams["cap seam"].difference_mm) < 0.05
        line = closed_cap(next(p for p in pieces if p.name == "outer"))
        step = np.diff(line, axis=0)
        turn = np.degrees(np.abs(np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))))
        assert turn.max() < 4.0
    else:
        assert "wrong" in seams["cap seam"].text or seams["cap seam"].verdict == "ease in"
    for seam in ("front seam", "back seam"):
        for stretch in seams[seam].stretches:
            if {stretch.start, stretch.end} & {"start", "end"}:
                assert abs(stretch.difference_mm) < 1e-6  # no ease outside the notches


def test_seams_are_sewn_in_an_order_in_which_they_can_be() -> None:
    order = sewing_order(seams_of(made_arm()))
    place = {name: index for index, name in enumerate(order)}
    # common practice, no source: darts while it lies flat, long seams, then what crosses them
    assert max(place["dart 1"], place["dart 2"]) < place["front seam"] < place["back seam"]
    assert place["back seam"] < min(place["outer wrist"], place["inner wrist"])
    assert max(place["outer wrist"], place["inner wrist"]) < place["cap seam"]
    assert sorted(order) == sorted({s.seam for p in made_arm() for s in p.sides})


def test_a_chain_that_wraps_round_the_first_side_is_walked_from_its_own_start() -> None:
    ring = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 20.0], [0.0, 20.0], [0.0, 0.0]])
    names = ("top", "right", "rest", "top")
    piece = Piece("outer", "unrolled", "left", tuple(
        PieceSide(name, ring[k : k + 2]) for k, name in enumerate(names)
    ), notches=(Notch("here", 0, 4.0),))
    chain = chain_of(piece, "top")
    assert chain.sides == (3, 0) and chain.length == pytest.approx(30.0)
    assert chain.marks == {"here": pytest.approx(24.0)}
    assert chain.reversed().marks == {"here": pytest.approx(6.0)}
    assert chain.runs(15.0, 25.0) == ((3, 15.0, 20.0), (0, 0.0, 5.0))
    assert chain.nearest(np.array([6.0, -3.0])) == pytest.approx((26.0, 3.0))
    back = chain.notch("there", 22.0)
    assert (back.side_index, back.along) == (0, pytest.approx(2.0))
