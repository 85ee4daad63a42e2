"""Truing checks: seams walked after smoothing, notches, darts, angles; and whole plausible arms."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from tests.own_pieces import arc, fan, made_arm, own_sheet, turned
from tests.strategies import arm_measures
from unroll.drafts.drafting import draft
from unroll.finish.cut_plan import cut_plan
from unroll.finish.darts import closing, find_darts
from unroll.finish.finishing import finish
from unroll.finish.notching import place_notches
from unroll.finish.truing import check_truing
from unroll.maths.polylines import turn_between
from unroll.nouns import Notch, Piece, PieceSide


def truing(pieces, **make):
    sheet = own_sheet(**make)
    return check_truing(finish(pieces, sheet), sheet)


def test_a_made_arm_whose_seams_agree_has_no_fault_and_no_caution():
    found = truing(made_arm())
    assert found.faults == found.verdicts == found.cautions == ()
    assert {check.seam for check in found.seams} == {
        "cap seam", "underarm seam", "front seam", "back seam", "outer wrist", "inner wrist",
    }


def test_notches_of_agreeing_seams_meet_within_three_tenths_of_a_millimetre():
    for check in truing(made_arm()).seams:
        # lengths are exact before smoothing, so this is what smoothing costs
        assert abs(check.difference) < 0.1


def test_darts_are_closed_when_a_cap_is_walked():
    cap = [check for check in truing(made_arm()).seams if check.seam == "cap seam"]
    assert sum(check.lengths[0] for check in cap) == pytest.approx(np.pi * 60.0, abs=0.1)
    assert [(check.start, check.end) for check in cap] == [
        ("end of seam", "shoulder"), ("shoulder", "end of seam"),
    ]


def longer_inner(extra):
    """The made arm with an inner piece whose front seam is longer at its lower end."""
    outer, inner, base, wrist = made_arm()
    sides = list(inner.sides)
    low = sides[3].points[0] - [0.0, extra]
    sides[3] = PieceSide("front seam", np.vstack([low, sides[3].points]))
    sides[2] = PieceSide("inner wrist", np.stack([sides[2].points[0], low]))
    notches = tuple(
        replace(n, along=n.along + extra) if n.side_index == 3 else n for n in inner.notches
    )
    return outer, replace(inner, sides=tuple(sides), notches=notches), base, wrist


def test_a_seam_longer_on_one_piece_is_told_with_piece_stretch_excess_and_remedy():
    found = truing(longer_inner(2.0))
    assert found.faults == () and len(found.verdicts) == 1
    assert "front seam, elbow to end of seam: the inner is 2.0 mm longer" in found.verdicts[0]
    assert "lengthen the outer by as much, or shorten the inner" in found.verdicts[0]
    assert any("0.8 mm longer than the outer; ease it in" in line
               for line in truing(longer_inner(0.8)).cautions)
    small = truing(longer_inner(0.2))
    assert small.verdicts == () and not any("front seam, elbow" in c for c in small.cautions)


def test_a_notch_moved_by_two_millimetres_is_told_on_both_of_its_sides():
    outer, inner, base, wrist = made_arm()
    moved = tuple(
        replace(n, along=n.along + 2.0) if n.side_index == 1 else n for n in inner.notches
    )
    lines = truing((outer, replace(inner, notches=moved), base, wrist)).verdicts
    assert len(lines) == 2 and all(line.startswith("back seam") for line in lines)


def eased(extra):
    """The made arm whose outer cap is longer between the darts by `extra` mm, and undarted."""
    outer, inner, base, wrist = made_arm(dart_deg=0.5)
    wide = 60.0 + extra / np.pi
    cap = arc((0, 0), wide, 0.0, 180.0)
    front = outer.sides[7].points - outer.sides[7].points[0] + cap[-1]
    back = outer.sides[9].points - outer.sides[9].points[-1] + cap[0]
    sides = (
        PieceSide("cap seam", cap), PieceSide("front seam", front),
        PieceSide("outer wrist", np.stack([front[-1], back[0]])), PieceSide("back seam", back),
    )
    length = sides[0].length
    notches = (
        Notch("shoulder", 0, length / 2, 1), Notch("elbow", 1, 200.0, 1),
        Notch("elbow", 3, sides[3].length - 200.0, 2),
    )
    return replace(outer, sides=sides, notches=notches), inner, base, wrist


def test_surplus_over_the_cap_is_marked_as_ease_from_notch_to_notch():
    sheet = own_sheet()
    outer = finish(eased(8.0), sheet)[0]
    spans = [span for span in outer.eases if span.seam == "cap seam"]
    assert [(span.start, span.end) for span in spans] == [
        ("end of seam", "shoulder"), ("shoulder", "end of seam"),
    ]
    assert sum(span.surplus for span in spans) == pytest.approx(8.0, abs=0.1)
    assert spans[0].percent == pytest.approx(100 * 8.0 / (np.pi * 60.0), abs=0.1)


def test_more_ease_than_the_cloth_takes_is_a_caution_and_pleats_are_a_verdict():
    few = truing(eased(8.0))
    assert [f for f in few.cautions + few.verdicts if "cap" in f] == []  # 4.2 %, cotton takes 5 %
    some = truing(eased(20.0))
    assert any("expect puckers; darts would take it in" in line for line in some.cautions)
    assert not any("cap seam" in line for line in some.verdicts)
    much = truing(eased(40.0))
    # 20 mm on each half of 94.2 mm, of which cotton takes 4.7
    line = "20 mm to ease into the outer; plain cotton takes 5 mm: will not sew flat, 15 mm too"
    assert any(line in v and v.endswith("darts would take it in") for v in much.verdicts)


def test_a_piece_that_has_darts_is_not_told_to_use_darts_and_an_inner_neither():
    outer, inner, base, wrist = made_arm()
    wide = [replace(s, points=1.25 * s.points) for s in outer.sides]
    lines = truing((replace(outer, sides=tuple(wide)), inner, base, wrist)).verdicts
    assert any("wider or more darts would take it in" in line for line in lines)
    assert not any("; darts would" in line for line in lines)


def test_an_end_plate_takes_the_girth_of_the_edges_that_are_sewn_to_it():
    outer, inner, base, wrist = made_arm()
    large = replace(
        base, sides=tuple(replace(s, points=1.05 * s.points) for s in base.sides),
        notches=tuple(replace(n, along=1.05 * n.along) for n in base.notches),
    )
    found = truing((outer, inner, large, wrist))
    assert found.verdicts == () and found.faults == ()
    assert all(abs(check.difference) < 0.1 for check in found.seams)
    assert any("armhole base: its edge was drawn" in line and "shorter (4.8 %)" in line
               for line in found.cautions)


def test_a_cap_shorter_than_its_armhole_draws_the_armhole_base_smaller():
    found = truing(eased(-6.0))
    assert not any("cap seam" in line for line in found.verdicts)
    # smoothing takes some hundredths off the two edges it is sewn to
    assert any(re.search(r"armhole base: its edge was drawn 6\.[01] mm shorter", c)
               for c in found.cautions)  # fmt: skip


def with_leg(extra):
    """The made arm, one leg of dart 2 longer because the middle of the cap is moved outwards."""
    outer, *rest = made_arm()
    sides = list(outer.sides)
    tip, mouth = sides[2].points
    middle = sides[3].points + extra * (mouth - tip) / np.linalg.norm(mouth - tip)
    sides[2] = PieceSide("dart 2", np.stack([tip, middle[0]]))
    sides[3] = PieceSide("cap seam", middle)
    sides[4] = PieceSide("dart 1", np.stack([middle[-1], sides[4].points[1]]))
    return replace(outer, sides=tuple(sides)), *rest


def test_dart_legs_of_unequal_length_are_drawn_equal_with_the_dart_folded():
    found = truing(with_leg(1.5))
    assert any("dart 2: the edge stepped 1.5 mm across it and was drawn" in c
               for c in found.cautions)
    assert not any("dart 2: one leg" in line for line in found.verdicts + found.cautions)


@pytest.mark.parametrize(
    ("extra", "cautions", "verdicts"), [(0.2, 0, 0), (0.6, 1, 0), (1.6, 0, 1)]
)
def test_a_leg_that_is_left_longer_is_eased_or_told(extra, cautions, verdicts):
    sheet = own_sheet()
    outer, *rest = finish(made_arm(), sheet)
    dart = next(d for d in find_darts(outer.sides) if d.name == "dart 2")
    there, back = (outer.sides[k] for k in dart.legs)
    share = 1.0 + (extra + there.length - back.length) / back.length
    longer = replace(back, points=back.points[0] + share * (back.points - back.points[0]))
    sides = [longer if side is back else side for side in outer.sides]
    found = check_truing((replace(outer, sides=tuple(sides)), *rest), sheet)
    told = [[line for line in lines if "dart 2: one leg is" in line]
            for lines in (found.cautions, found.verdicts)]  # fmt: skip
    assert [len(lines) for lines in told] == [cautions, verdicts]
    assert all(f"one leg is {extra} mm longer" in line for line in [*told[0], *told[1]])
    assert all(line.endswith("ease it in") for line in told[0])
    assert all(line.endswith("until both are equally long") for line in told[1])


def leant(kink):
    """The made arm, all that comes after dart 2 leant about its mouth by `kink` degrees."""
    outer, *rest = made_arm()
    sides = list(outer.sides)
    about = sides[3].points[0]
    for index in (3, 4, 5, 6):
        sides[index] = PieceSide(sides[index].seam, turned(sides[index].points, kink, about))
    low = sides[7].points[-1]
    sides[7] = PieceSide("front seam", np.stack([sides[6].points[-1], low]))
    return replace(outer, sides=tuple(sides)), *rest


def test_a_cap_that_turns_across_a_closed_dart_is_drawn_smooth():
    found = truing(leant(16.0))
    assert any("dart 2: the edge turned 16° across it" in line or "turned 15°" in line
               for line in found.cautions)
    assert not any("degrees across the closed" in line for line in found.verdicts)


def test_notches_meet_on_a_cap_that_was_drawn_anew():
    cap = [check for check in truing(leant(16.0)).seams if check.seam == "cap seam"]
    front, back = (check.difference for check in cap)
    # both halves take the same share of what is left; smoothing costs some hundredths
    assert front == pytest.approx(back, abs=0.03)


def test_a_cap_that_turns_little_across_a_closed_dart_is_smoothed_as_one_line():
    outer = next(p for p in finish(leant(8.0), own_sheet()) if p.name == "outer")
    dart = next(d for d in find_darts(outer.sides) if d.name == "dart 2")
    fold = closing(outer.sides, dart)
    leaving = fold.close(fold.far + outer.sides[dart.after].tangents[0]) - fold.near
    # the legs are smoothed on their own, which turns the fold by a little
    assert abs(np.rad2deg(turn_between(outer.sides[dart.before].tangents[-1], leaving))) < 1.0


def test_a_cap_that_turns_too_far_to_be_redrawn_is_told_with_a_remedy():
    lines = [v for v in truing(leant(85.0)).verdicts if "across the closed dart 2" in v]
    assert lines and lines[0].endswith("fold the dart and redraw the edge as a smooth curve")


def test_legs_that_meet_before_the_point_are_parted():
    outer, *rest = made_arm()
    sides = list(outer.sides)
    share = np.linspace(0.0, 1.0, 30)[:, None]
    for index in (1, 2):
        line = sides[index].points
        start, end = line[0], line[-1]
        across = np.array([-(end - start)[1], (end - start)[0]]) / np.linalg.norm(end - start)
        bow = 4.0 * np.sin(np.pi * share)  # towards the other leg and beyond it
        sides[index] = PieceSide("dart 2", start + share * (end - start) - bow * across)
    crossed = replace(outer, sides=tuple(sides))
    assert not shapely.Polygon(crossed.outline).is_valid
    finished = finish((crossed, *rest), own_sheet())
    assert finished[0].crossing is None
    assert any("dart 2: its legs met before the point" in r for r in finished[0].remarks)


def test_only_an_outline_that_crosses_itself_is_withheld_and_where_is_said():
    outer, inner, *rest = made_arm()
    flip = np.array([-1.0, 1.0])
    back, wrist, front = (side.points for side in inner.sides[1:])
    back, front = np.vstack([back[:-1], back[-1:] * flip]), np.vstack([front[:1] * flip, front[1:]])
    twisted = (
        inner.sides[0], PieceSide("back seam", back),
        PieceSide("inner wrist", np.stack([back[-1], front[0]])), PieceSide("front seam", front),
    )
    found = truing((outer, replace(inner, sides=twisted), *rest))
    assert len(found.faults) == 1
    assert "inner (left) is not printed: its outline crosses itself near" in found.faults[0]


def test_corners_that_do_not_add_up_to_180_degrees_are_called_out():
    outer, inner, base, wrist = made_arm()
    sides = list(inner.sides)
    # a flatter edge under the arm, sewn to a base that has the same one
    flat = np.stack([sides[0].points[0], sides[0].points[-1]])
    sides[0] = PieceSide("underarm seam", flat)
    found = truing((outer, replace(inner, sides=tuple(sides), notches=inner.notches[1:]),
                    base, wrist))
    lines = [f for f in found.verdicts if "add up to" in f]
    assert lines and "237 degrees, not 180" in lines[0]


def test_arms_that_differ_are_walked_apart():
    left = finish(made_arm(), own_sheet())
    right = tuple(replace(piece, arm="right") for piece in left)
    found = check_truing((*left, *right), own_sheet())
    assert found.faults == ()
    assert len(found.seams) == 2 * len(check_truing(left, own_sheet()).seams)


# An arm takes about a second to draft and finish
@settings(max_examples=5)
@given(arm_measures())
def test_any_plausible_draft_gives_pieces_that_can_be_cut_and_sewn(measures):
    sheet = replace(own_sheet(), arms=(measures,))
    pieces = place_notches(draft(measures, sheet.make, manner="darts"))
    finished = finish(pieces, sheet, arm="both")
    assert {p.title for p in finished} >= {"outer", "inner", "armhole base", "wrist base"}
    for piece in finished:
        assert_well_cut(piece)
    for check in check_truing(finished, sheet).seams:
        if not check.is_ease:
            assert abs(check.difference) < 0.3
    plan = cut_plan(finished, 1400.0)
    laid = [shapely.Polygon(one.place(one.piece.cutting)) for one in plan.laid]
    assert all(one.distance(two) >= 4 for i, one in enumerate(laid) for two in laid[:i])
    assert plan.length <= 1.05 * plan.bound


def assert_well_cut(piece):
    cutting, stitching = shapely.Polygon(piece.cutting), shapely.Polygon(piece.stitching)
    assert cutting.is_valid and stitching.is_valid
    if piece.material == "cloth":
        assert cutting.buffer(0.05).contains(stitching)
        gap = shapely.distance(shapely.points(piece.cutting), stitching.exterior)
        # the mitre of a corner may lie further out, nothing may lie nearer
        assert gap.min() > 9.9
    for mark in piece.notches:
        line = shapely.LineString(piece.sides[mark.side_index].points)
        assert shapely.distance(shapely.Point(mark.at), line) < 0.01
    fitted = {side.seam: len(side.cubics) for side in piece.sides}
    assert max(fitted.values()) <= 24, fitted


def test_a_fan_with_one_dart_presses_it_to_the_back():
    outer = fan()
    # close dart 1 for good: its two cap runs become one
    keep = [s for s in outer.sides if s.seam != "dart 1"]
    points = keep[3].points
    shift = turned(keep[4].points, -14.0, keep[4].points[0]) + points[-1] - keep[4].points[0]
    front = keep[5].points - keep[5].points[0] + shift[-1]
    sides = (
        *keep[:3], PieceSide("cap seam", np.vstack([points, shift[1:]])),
        PieceSide("front seam", front),
        PieceSide("outer wrist", np.stack([front[-1], keep[7].points[0]])), keep[7],
    )
    piece = finish([Piece("outer", "unrolled", "left", sides)], own_sheet())[0]
    assert piece.darts[0].pressed in {"towards the back", "towards the front"}
    assert len(piece.darts) == 1
